"""The command ``cakewatch``: its sub-commands, version and completion.

A sub-command is imported when it is asked for: ``run`` should not pay for the demonstration's screen.
"""

import importlib
from collections.abc import Mapping

import click

from monitor import __version__
from monitor.cli.early_signals import EarlySignals

_COMMANDS: Mapping[str, str] = {
    "demo": "monitor.cli.demo",
    "run": "monitor.cli.run",
    "check": "monitor.cli.check",
    "read": "monitor.cli.read",
    "alarms": "monitor.cli.alarms",
    "figures": "monitor.cli.figures",
    "export": "monitor.cli.export",
    "records": "monitor.cli.records",
    "rehearse": "monitor.cli.rehearse",
    "advise": "monitor.cli.advise",
    "ack": "monitor.cli.alarm_commands",
    "clear": "monitor.cli.alarm_commands",
    "shelve": "monitor.cli.alarm_commands",
    "unshelve": "monitor.cli.alarm_commands",
    "out-of-service": "monitor.cli.alarm_commands",
    "return-to-service": "monitor.cli.alarm_commands",
    "test-alarm": "monitor.cli.alarm_commands",
    "silence": "monitor.cli.alarm_commands",
    "filters-changed": "monitor.cli.alarm_commands",
    "record-action": "monitor.cli.alarm_commands",
    "test-message": "monitor.cli.test_message",
    "password": "monitor.cli.password",
    "completion": "monitor.cli.completion",
}


class _Group(click.Group):
    """Finds its commands by name, in the order in which a newcomer needs them."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The names, in our order."""
        del ctx
        return list(_COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of that name; None where there is none."""
        if cmd_name not in _COMMANDS:
            return None
        if cmd_name == "run" and ctx.obj is None:
            # Its imports take most of its start, and the service manager may have changed its mind by then.
            ctx.obj = EarlySignals.begin()
            ctx.call_on_close(ctx.obj.restore)
        command = getattr(importlib.import_module(_COMMANDS[cmd_name]), cmd_name.replace("-", "_"))
        assert isinstance(command, click.Command)  # noqa: S101  the table above says so
        return command


@click.command(cls=_Group, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, "-V", "--version", prog_name="cakewatch")
def main() -> None:
    """Watch the pressure drop across pulse-jet dust collector filters, and say when something is wrong.

    It only watches: it writes to no device but an annunciator that the site file names, and it is no safety
    system.
    """
