"""Site file at the shell: load it, or say every problem and end with exit code 2."""

import os
import sys
from pathlib import Path

import click

from monitor.site.load import load
from monitor.site.plan import SitePlan
from monitor.site.problems import SiteFileError

#: The site file (or the command line) is wrong: nothing was started.
WRONG_FILE = 2


def load_or_exit(path: Path, *, with_secrets: bool = True) -> SitePlan:
    """The plan of this site file; wrong files end the command. Without secrets: for who only looks at records."""
    try:
        return load(path, os.environ, with_secrets=with_secrets)
    except SiteFileError as error:
        click.echo(str(error), err=True)
        sys.exit(WRONG_FILE)
