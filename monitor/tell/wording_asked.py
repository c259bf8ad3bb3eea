"""Wording, asked: one command as its answer speaks of it: who, what, and how the alarm stands now."""

from typing import NamedTuple

from monitor.scan.settings import CommandRules
from monitor.tell.wording_phrases import ASKED, STATE, one_line
from monitor.words import ABOUT_COLLECTOR, AlarmState, Command, CommandKind


class Asked(NamedTuple):
    """One command and how its alarm stands."""

    command: Command
    state: AlarmState | None
    rules: CommandRules

    @property
    def what(self) -> str:
        """What it is about."""
        return object_of(self.command.kind, self.command.collector or self.command.tag or self.command.person)

    @property
    def who(self) -> str:
        """Who asked."""
        return one_line(self.command.by, 60) or "a person"

    @property
    def cannot(self) -> str:
        """That it cannot be done."""
        return ASKED[self.command.kind][1].format(self.what)

    @property
    def deed(self) -> str:
        """What was asked for."""
        return ASKED[self.command.kind][0].format(self.what)

    @property
    def stands(self) -> str:
        """How the alarm stands."""
        return "nobody knows how it stands" if self.state is None else f"it is {STATE[self.state]}"

    @property
    def because(self) -> str:
        """The reason given."""
        return f", because: {one_line(self.command.reason)}" if self.command.reason.strip() else ""


def object_of(kind: CommandKind, name: str) -> str:
    """What a command of that kind is about: the alarm by its tag, the collector, or the horn."""
    if kind is CommandKind.SILENCE:
        return "the horn"
    if kind is CommandKind.TEST_MESSAGE:
        return one_line(name, 60) or "everybody who can be called"
    if kind in ABOUT_COLLECTOR:
        return one_line(name, 60) or "a collector without a name"
    return one_line(name, 60) or "an alarm without a name"
