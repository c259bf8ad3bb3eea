"""Check: what would be watched, in plain words, and what in the site file is wrong or risky."""

import sys
from pathlib import Path

import click

from monitor.cli.site_file import load_or_exit
from monitor.site import describing, schema

#: With --strict: the file is valid, and somebody should look at it all the same.
RISKY_FILE = 1


def _print_schema(context: click.Context, _parameter: click.Parameter, is_wanted: bool) -> None:
    if is_wanted and not context.resilient_parsing:
        click.echo(schema.as_text(), nl=False)
        context.exit()


@click.command()
@click.argument("site", type=click.Path(path_type=Path))
@click.option("--strict", is_flag=True, help="End with exit code 1 if there is any warning.")
@click.option(
    "--schema",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_print_schema,
    help="Print the JSON Schema of the site file and end.",
)
def check(site: Path, strict: bool) -> None:
    """Say what the site file SITE would watch, and every problem in it.

    Exit codes: 0 the file is valid, 1 it is valid and has warnings (with --strict), 2 it is wrong.
    """
    plan = load_or_exit(site)
    for line in describing.describe(plan):
        is_heading = bool(line) and not line.startswith(" ")
        click.secho(line, bold=is_heading)
    for warning in plan.warnings:
        click.echo(click.style("warning: ", fg="yellow") + warning, err=True)
    count = len(plan.warnings)
    click.secho(_verdict(count), fg="yellow" if count else "green")
    if strict and count:
        sys.exit(RISKY_FILE)


def _verdict(warnings: int) -> str:
    if not warnings:
        return "the site file is valid"
    return f"the site file is valid, with {warnings} warning{'s' if warnings > 1 else ''}"
