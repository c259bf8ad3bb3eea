"""Kill -9 at random instants while alarms are told to phones through servers that fail in every way.

Real SMTP and HTTP servers on loopback; the receivers' books are compared with the commits that the sender reported
before it was killed. The seed is printed; CAKEWATCH_SEED chooses another.
"""

import os
import random
import threading
import time

import pytest

from tests.peers.http_receiver import HttpReceiver
from tests.peers.manners import Manner, Manners
from tests.peers.smtp_receiver import SmtpReceiver
from tests.rig.phone_proof import Proof

SEED = int(os.environ.get("CAKEWATCH_SEED", "20250611"))
IS_LONG = bool(os.environ.get("CAKEWATCH_LONG"))
pytestmark = [pytest.mark.timeout(1800), *([pytest.mark.long] if IS_LONG else [])]

PEOPLE = 12
A_SECOND = 50.0
ODDS = {
    Manner.TAKE: 0.70,
    Manner.REFUSE: 0.08,
    Manner.HANG: 0.04,
    Manner.DROP: 0.08,
    Manner.LOSE_ANSWER: 0.10,
}
WORKS = {Manner.TAKE: 1.0}
#: It has the message, and the sender waits for its answer in vain.
DEAF = {Manner.TAKE: 0.3, Manner.TAKE_AND_HANG: 0.7}
LIMIT_S, GATHER_S, TRIES, RETRY_S = 1.0, 0.2, 2, 0.1
SETTINGS = {
    "gather_s": GATHER_S,
    "flood_messages": 1_000_000,
    "tries": TRIES,
    "first_retry_s": RETRY_S,
    "longest_retry_s": 1.0,
}
#: All tries on a channel that fails, each as long as it may take, and the pauses between them.
ONE_CHANNEL_S = TRIES * LIMIT_S + (TRIES - 1) * RETRY_S
#: While one channel works: the gathering, a message that was ahead of it and itself on the failing channel, then
#: the working one; and two seconds for a busy machine. Each kill on the way may cost one attempt more.
BOUND_S = GATHER_S + 2 * ONE_CHANNEL_S + LIMIT_S + 2.0


class Mill:
    """Twelve people, each with an HTTP receiver of his own and then a mailbox."""

    def __init__(self, seed: int, http_odds: dict[Manner, float], mail_odds: dict[Manner, float]) -> None:
        self.dice = random.Random(seed)
        self.http = [HttpReceiver(Manners(http_odds, seed + at)) for at in range(PEOPLE)]
        self.smtp = SmtpReceiver(Manners(mail_odds, seed))
        for manners in self.manners:
            manners.hang_s = 3.0
        self._is_over = threading.Event()

    @property
    def manners(self) -> list[Manners]:
        return [*(one.manners for one in self.http), self.smtp.manners]

    @property
    def people(self) -> dict[str, list[str]]:
        return {f"p{at:02}": [one.url, self.smtp.url] for at, one in enumerate(self.http)}

    def _come_and_go(self) -> None:
        """Now and then one of the HTTP receivers refuses connections for a while."""
        dice = random.Random(self.dice.random())
        while not self._is_over.wait(dice.uniform(0.1, 0.5)):
            one = dice.choice(self.http)
            one.close()
            self._is_over.wait(dice.uniform(0.1, 3.0))
            one.open()

    def __enter__(self) -> "Mill":
        for one in (*self.http, self.smtp):
            one.open()
        threading.Thread(target=self._come_and_go, daemon=True).start()
        return self

    def __exit__(self, *_: object) -> None:
        self._is_over.set()
        for one in (*self.http, self.smtp):
            one.close()


def torment(folder, mill, alarms, kills, *, on_mail=False, **changes) -> Proof:
    """Raise so many alarms and kill the sender so often; returns the books when everything has arrived."""
    told = {"people": mill.people, "settings": SETTINGS, "limit_s": LIMIT_S, "last": alarms, "a_second": A_SECOND}
    told |= {"most_waiting": 100, "priorities": ["urgent", "high", "medium"]}
    with Proof(folder, told | changes, mill.manners) as proof:
        for _ in range(kills):
            if on_mail:
                proof.live_until_mail(mill.dice.uniform(0.0, 0.15))
            else:
                proof.live(mill.dice.uniform(0.6, 3.0))
            proof.kill()
            proof.start()
        proof.await_all(alarms / A_SECOND * 4 + 60)
        time.sleep(0.5)
        proof.read_mail()
    return proof


def check_every_alarm_came_under_one_reference(proof: Proof) -> None:
    raised = {one.event_id for one in proof.journaled() if one.happened == "raised"}
    assert proof.made.keys() <= raised
    assert raised <= proof.arrived.keys()
    assert {one: refs for one, refs in proof.refs.items() if len(refs) > 1} == {}


@pytest.mark.parametrize(("alarms", "kills"), [(6_000, 50) if IS_LONG else (120, 3)])
def test_every_alarm_arrives_in_time_while_one_channel_works(tmp_path, record_property, alarms, kills):
    with Mill(SEED, ODDS, WORKS) as mill:
        proof = torment(tmp_path, mill, alarms, kills)
    record_property("counts", f"seed {SEED}, one way works, bound {BOUND_S:.1f} s: {proof.counts()}")
    check_every_alarm_came_under_one_reference(proof)
    late = {one: proof.latency_s(one) - LIMIT_S * proof.kills_while(one) for one in proof.made}
    assert max(late.values()) <= BOUND_S


@pytest.mark.parametrize(("alarms", "kills"), [(4_000, 40) if IS_LONG else (80, 2)])
def test_every_alarm_arrives_though_every_channel_fails_at_random(tmp_path, record_property, alarms, kills):
    with Mill(SEED + 1, ODDS, ODDS) as mill:
        proof = torment(tmp_path, mill, alarms, kills)
    record_property("counts", f"seed {SEED}, no way is sure: {proof.counts()}")
    check_every_alarm_came_under_one_reference(proof)


@pytest.mark.parametrize(("alarms", "kills"), [(500, 40) if IS_LONG else (60, 4)])
def test_what_was_put_together_before_a_kill_is_not_put_together_otherwise_after_it(
    tmp_path, record_property, alarms, kills
):
    """Killed while the receiver has a message and the sender does not know; meanwhile more came of the cause."""
    with Mill(SEED + 3, DEAF, WORKS) as mill:
        proof = torment(tmp_path, mill, alarms, kills, on_mail=True)
    record_property("counts", f"seed {SEED}, killed on arrival: {proof.counts()}")
    check_every_alarm_came_under_one_reference(proof)


@pytest.mark.parametrize(("alarms", "kills"), [(1_500, 20) if IS_LONG else (200, 1)])
def test_what_flood_control_holds_back_is_counted_and_nothing_is_lost(tmp_path, record_property, alarms, kills):
    settings = {"gather_s": GATHER_S, "tries": TRIES, "first_retry_s": RETRY_S, "longest_retry_s": 1.0}
    flood = {"settings": settings | {"flood_messages": 1, "flood_window_s": 5.0}, "priorities": ["high", "medium"]}
    with Mill(SEED + 2, ODDS, WORKS) as mill:
        proof = torment(tmp_path, mill, alarms, kills, most_waiting=1_000_000, **flood)
    raised = {one.event_id for one in proof.journaled() if one.happened == "raised"}
    counted = sum(proof.held_back.values())
    sums = f"{len(raised)} raised, {len(raised & proof.arrived.keys())} told by name and {counted} by number"
    record_property("counts", f"seed {SEED}, flood: {sums}; {proof.counts()}")
    assert proof.held_back
    assert proof.made.keys() <= raised
    assert len(raised & proof.arrived.keys()) + counted == len(raised)
