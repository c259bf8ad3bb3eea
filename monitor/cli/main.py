"""The command ``cakewatch``: its sub-commands, version and completion."""

import click

from monitor import __version__


@click.group()
@click.version_option(__version__, prog_name="cakewatch")
def main() -> None:
    """Watch the pressure drop across pulse-jet dust collector filters, and say when something is wrong."""
