"""Kill -9 at random instants under load: nothing lost, nothing invented, no latch gone. Events in, events out.

The broker is killed, frozen and cut off on the way, too. The seed is printed; CAKEWATCH_SEED chooses another.
"""

import os
import random
import time

import pytest

from tests.rig.load import FlappingMill
from tests.rig.rig import Rig
from tests.rig.waiting import until

SEED = int(os.environ.get("CAKEWATCH_SEED", "20250611"))
#: From the start of the process to its kill, seconds: some fall into the start itself.
LIFE_S = (0.1, 2.4)
IS_LONG = bool(os.environ.get("CAKEWATCH_LONG"))
pytestmark = [pytest.mark.timeout(1800), *([pytest.mark.long] if IS_LONG else [])]


class Tormentor:
    """Kills the daemon so many times, and now and then does something to the broker in between."""

    def __init__(self, rig, watch, seed):
        self.rig = rig
        self.watch = watch
        self.done = {"cut": 0, "freeze": 0, "kill": 0, "none": 0}
        self._dice = random.Random(seed)

    def kill(self, times):
        for _ in range(times):
            life_s = self._dice.uniform(*LIFE_S)
            what = self._dice.choices(["none", "cut", "freeze", "kill"], [5, 2, 2, 1])[0]
            self.done[what] += 1
            self._live(life_s, what)
            self.watch.kill()
            self.watch.start(ready=False)

    def _live(self, life_s, what):
        end_s = time.monotonic() + life_s
        time.sleep(self._dice.uniform(0, life_s))
        if what == "cut":
            self.rig.gate.cut()
        elif what == "freeze":
            self.rig.broker.freeze()
            time.sleep(self._dice.uniform(0.1, 1.0))
            if self._dice.random() < 0.5:
                self.watch.kill()  # while the broker holds its breath
            self.rig.broker.thaw()
        elif what == "kill":
            self.rig.kill_broker()
            time.sleep(self._dice.uniform(0, 0.5))
            self.rig.start_broker()
        time.sleep(max(0.0, end_s - time.monotonic()))


def calm(rig, mill, watch):
    """Let the plant rest until every alarm that ends by itself has ended and everything is told."""
    mill.flapping = False
    until(watch.is_up, 20, watch.tail)
    for name in mill.names:
        rig.listener.await_good(name, 20)
    time.sleep(3.5)  # the longest auto-clear, and its tick
    return rig.ledger(60)


def check_retained(rig, ledger):
    """What the broker holds is what the journal says."""
    states = ledger.states()
    for tag, state in states.items():
        collector = f"DC-{tag.split('-')[1]}"
        until(lambda c=collector, t=tag, s=state: rig.listener.alarm(c, t) == s, 10, f"{tag} {state}")


@pytest.mark.parametrize("kills", [200 if IS_LONG else 10])
def test_kill_9_loses_no_event_invents_none_and_loses_no_latch(tmp_path, record_property, kills):
    with Rig(tmp_path) as rig:
        mill = FlappingMill(rig)
        watch = rig.daemon()
        mill.latch_the_keeper()
        tormentor = Tormentor(rig, watch, SEED)
        tormentor.kill(kills)
        ledger = calm(rig, mill, watch)
        record_property("counts", f"seed {SEED}, {kills} kills, broker {tormentor.done}; {ledger.counts}")
        ledger.check()
        mill.check_causes(ledger)
        mill.check_values()
        assert [one["happened"] for one in ledger.journal if one.get("tag") == "PDAH-100"] == ["raised", "latched"]
        assert rig.listener.alarm(mill.keeper, "PDAH-100") == "latched_unacknowledged"
        check_retained(rig, ledger)
        rig.listener.check()
        assert watch.health()[0] == 200
        assert "Traceback" not in watch.log()
