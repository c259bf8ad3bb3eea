"""Annunciating: the alarms on one side, the horn, beacon and heartbeat of the site file on the other.

A stop of the daemon writes nothing: the heartbeat stands still, horn and beacon stay as they are. A stop is no
answer to an alarm, so it may not end the noise; and so a stop, a kill and a power cut look the same from outside,
and the one thing to be engineered is what the annunciator does when the heartbeat stands still.
"""

from collections.abc import Callable, Iterable, Mapping

from monitor.acquire.settings import Output
from monitor.clock import Clock
from monitor.tell.annunciator import HEARTBEAT, Annunciator, Heartbeat
from monitor.tell.settings import AnnunciatorSettings
from monitor.words import AlarmState, Instant, Priority, Table

#: Takes the name of a link, and what its outputs shall show.
SetOutputs = Callable[[str, Mapping[str, int]], None]

#: An annunciator that does not take what is written for so long has failed, scan seconds.
PATIENCE_S = 15.0


class Annunciating:
    """Horn, beacon and heartbeat; without settings it follows the alarms and writes nothing.

    Args:
        settings: None where the site file names no annunciator.
        set_outputs: hands over what the outputs of a link shall show; must return at once.
        clock: stamps the tests.
        outputs: those of the plan of the link that ``settings`` name.
    """

    def __init__(
        self,
        settings: AnnunciatorSettings | None,
        set_outputs: SetOutputs,
        clock: Clock,
        outputs: Iterable[Output] = (),
    ) -> None:
        self._set_outputs = set_outputs
        self._clock = clock
        self._annunciator = Annunciator(Priority.ADVISORY)
        self._heartbeat = Heartbeat()
        self._failing_s: float | None = None
        self._is_told = False
        self.follow(settings, outputs)

    def follow(self, settings: AnnunciatorSettings | None, outputs: Iterable[Output] = ()) -> None:
        """Go by another site file. Alarms, silence and heartbeat go on.

        While the links themselves are on their way from one plan to the next, follow None: nothing is written,
        and the alarms are followed all the same.
        """
        self._settings = settings
        self._outputs = tuple(outputs)
        if settings is not None:
            self._annunciator.count_from(settings.least_priority)

    def darken(self) -> str:
        """Hand over that horn and beacon shall be off, before another site file takes them away.

        Returns:
            The link on which they are; empty where there are none.
        """
        if self._settings is None:
            return ""
        dark = {each.name: _switch(each, on=False) for each in self._outputs if each.name != HEARTBEAT}
        link, self._settings = self._settings.link, None
        self._set_outputs(link, dark)
        return link

    def see(self, tag: str, state: AlarmState, priority: Priority) -> None:
        """Take in what is told of an alarm: at the start once each, then after every change."""
        self._annunciator.see(tag, state, priority)

    def silence(self) -> None:
        """End the noise until the next alarm; nothing else changes."""
        self._annunciator.silence()

    def test(self) -> None:
        """Sound and light for ten seconds."""
        self._annunciator.test(self._clock.now().mono_s)

    def forget(self, tags: Iterable[str]) -> None:
        """Drop alarms that are no more."""
        self._annunciator.forget(tags)

    def trouble(self, unwritten: Iterable[str], now_s: float) -> tuple[str, str] | None:
        """What must be told of an annunciator that does not do as it is told, once, and once when it does again.

        Args:
            unwritten: its entries that do not show what they shall, at this moment.
            now_s: scan seconds.

        Returns:
            What happened, and a sentence; None where there is nothing new.
        """
        names = ", ".join(sorted(unwritten))
        if not names or self._settings is None:
            told, self._failing_s, self._is_told = self._is_told, None, False
            return ("annunciator_restored", "the annunciator does as it is told again") if told else None
        if self._failing_s is None:
            self._failing_s = now_s
        if self._is_told or now_s - self._failing_s < PATIENCE_S:
            return None
        self._is_told = True
        text = f"the annunciator on {self._settings.link} does not take its {names}: nobody is called by it"
        return "annunciator_lost", f"{text}; check its supply, its cable and its addresses"

    def beat(self, now: Instant, is_moving: bool) -> None:
        """Hand over what the outputs show at this moment; to be called about four times a second.

        Args:
            now: this moment.
            is_moving: everything that must move does (as the service manager is told); the heartbeat says so.
        """
        if self._settings is None:
            return
        count = self._heartbeat.beat(now.mono_s, self._settings.heartbeat_s, is_moving=is_moving)
        shown = self._annunciator.outputs(now.mono_s)
        self._set_outputs(
            self._settings.link,
            {
                each.name: _beat(each, count) if each.name == HEARTBEAT else _switch(each, shown[each.name])
                for each in self._outputs
            },
        )


def _switch(output: Output, on: bool) -> int:
    return output.on if on else output.off


def _beat(output: Output, count: int) -> int:
    return _switch(output, count % 2 == 1) if output.table is Table.COIL else count
