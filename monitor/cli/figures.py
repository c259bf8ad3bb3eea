"""``cakewatch figures``: how the alarm system did over a period, from its journal."""

import json
import math
import sys
from pathlib import Path

import click

from monitor.cli.period import length_from, moment
from monitor.cli.site_file import load_or_exit
from monitor.clock import Clock
from monitor.errors import StoreError
from monitor.judge.performance.figures import AlarmFigures
from monitor.judge.performance.measuring import measure
from monitor.judge.performance.span import Span
from monitor.remember.reading import JournalReader
from monitor.remember.settings import StoreSettings
from monitor.report import alarm_figures_json, alarm_figures_text

#: The journal is not there or cannot be read.
CANNOT_READ = 3
#: ISA-18.2-2016 asks for at least so many days of data.
USUAL_DAYS = 30
_SHORTEST_S = 600.0
#: The history is written in batches; a daemon that ran at a moment may have its last row so much before.
_BATCH_PATIENCE_S = 60.0


@click.command()
@click.argument("site", type=click.Path(path_type=Path))
@click.option(
    "--since",
    "since_utc_s",
    metavar="TIME",
    callback=moment,
    help="Start of the period; UTC unless it says otherwise.",
)
@click.option(
    "--until", "until_utc_s", metavar="TIME", callback=moment, help="End of the period; now if it is not given."
)
@click.option(
    "--last",
    "last_s",
    metavar="LENGTH",
    callback=length_from(_SHORTEST_S),
    help="Length of the period, such as 7d or 12h.",
)
@click.option("--operators", type=click.IntRange(1, 1000), default=1, help="How many share the alarms evenly.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of a table.")
def figures(
    site: Path,
    since_utc_s: float | None,
    until_utc_s: float | None,
    last_s: float | None,
    operators: int,
    as_json: bool,
) -> None:
    """Show how the alarm system of the SITE file did, against the published benchmarks.

    How many alarms an operator gets, floods, chattering, what stood for days, how long answers took, what the
    timer cleared and nobody saw. The last 30 days unless told otherwise. It only reads: the daemon may run.

    \b
    Exit codes: 0 told, 2 the site file or an option is wrong,
    3 the journal is not there or cannot be read.
    """  # noqa: D301  click wants the \b as it stands
    period = _period(since_utc_s, until_utc_s, last_s, Clock().now().utc_s)
    plan = load_or_exit(site, with_secrets=False)
    try:
        found = _measured(plan.store, period, operators)
    except StoreError as error:
        click.echo(f"cakewatch: {error}", err=True)
        sys.exit(CANNOT_READ)
    if as_json:
        shown = alarm_figures_json.as_json(found, plan.name)
        click.echo(json.dumps(shown, indent=2, ensure_ascii=False))
    else:
        click.echo(alarm_figures_text.text(found, plan.name), nl=False)


def _period(since_utc_s: float | None, until_utc_s: float | None, last_s: float | None, now_utc_s: float) -> Span:
    if since_utc_s is not None and last_s is not None:
        raise click.UsageError("--since and --last both say where the period begins: give one of them.")
    end_utc_s = now_utc_s if until_utc_s is None else min(until_utc_s, now_utc_s)
    if since_utc_s is None:
        since_utc_s = end_utc_s - (USUAL_DAYS * 86400.0 if last_s is None else last_s)
    if since_utc_s >= end_utc_s:
        raise click.UsageError("The period ends before it begins (what is still to come counts as its end now).")
    return Span(since_utc_s, end_utc_s)


def _measured(store: StoreSettings, period: Span, operators: int) -> AlarmFigures:
    with JournalReader(store.folder) as reader:
        return measure(
            reader.events(),
            period,
            operators=operators,
            last_trace=reader.last_trace,
            alive_until_utc_s=_alive_until(reader, store, period.end_utc_s),
        )


def _alive_until(reader: JournalReader, store: StoreSettings, end_utc_s: float) -> float | None:
    """Up to when a daemon that told no end has left traces; None where they reach the end, or none can be read."""
    if not reader.has_history:
        return None
    trace_utc_s = reader.last_trace(math.inf)
    if trace_utc_s is None:
        return 0.0  # until its last event, then
    reaches = trace_utc_s + store.history_step_s + store.flush_s + _BATCH_PATIENCE_S >= end_utc_s
    return None if reaches else trace_utc_s + store.history_step_s
