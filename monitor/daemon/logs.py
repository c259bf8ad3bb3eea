"""Logs: events in plain words with their figures, one line each, to standard error.

The service manager adds the time where it keeps the log (``JOURNAL_STREAM`` is set); elsewhere we do.
"""

import logging
import sys
from collections.abc import Mapping


def begin(environ: Mapping[str, str], *, verbose: bool) -> None:
    """Send the house's log lines to standard error; libraries only speak when something is broken."""
    stamp = "" if "JOURNAL_STREAM" in environ else "%(asctime)s "
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(logging.Formatter(f"{stamp}%(levelname)s %(name)s: %(message)s"))
    root = logging.getLogger()
    root.handlers = [handler]
    root.setLevel(logging.WARNING)
    logging.getLogger("monitor").setLevel(logging.DEBUG if verbose else logging.INFO)
