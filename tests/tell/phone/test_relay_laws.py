"""Laws of the relay, whatever happens in whatever order, however channels fail, and wherever it is killed."""

from collections import defaultdict

from hypothesis import given, note, settings
from hypothesis import strategies as st

from monitor.tell.phone import relay
from monitor.tell.phone.errand import CALLS
from monitor.tell.phone.message import Sent
from monitor.tell.phone.settings import Rota, Shift, Span
from monitor.words import Cause, Priority
from tests.tell.phone import relay_story
from tests.tell.phone.relay_story import Story, person, step

HOUR = 3600
TAGS = [
    (f"{kind}-{collector}", f"DC-{collector}") for collector in (101, 102, 201) for kind in ("PDAH", "PDAHH", "XA")
]
CHANNELS = [("anna", "push"), ("anna", "mail"), ("ben", "push"), ("carl", "push")]
PEOPLE = ("anna", "ben", "carl")

actions = st.one_of(
    st.tuples(st.just("raise"), st.sampled_from(TAGS), st.sampled_from(Priority)),
    st.tuples(st.just("end"), st.sampled_from(TAGS), st.sampled_from(["returned", "latched"])),
    st.tuples(
        st.just("answer"),
        st.sampled_from(TAGS),
        st.sampled_from(["acknowledged", "shelved", "taken_out_of_service", "removed", "suppressed"]),
        st.sampled_from([*PEOPLE, "dora"]),
    ),
    st.tuples(st.just("wait"), st.sampled_from([0.2, 3, 14, 16, 100, 600, 1000, 4000])),
    st.tuples(st.just("fail"), st.sampled_from(CHANNELS), st.sampled_from([0.1, 10.0])),
    st.tuples(st.just("heal"), st.sampled_from(CHANNELS)),
    st.tuples(st.just("kill"), st.just(True)),
)
scripts = st.lists(actions, max_size=40)

some_hours = st.tuples(st.integers(0, 23), st.integers(0, 24)).map(lambda two: (two[0] * HOUR, two[1] * HOUR))
owns = st.fixed_dictionaries(
    {
        "flood_messages": st.sampled_from([1, 2, 8, 1000]),
        "returns": st.booleans(),
        "repeat_s": st.sampled_from([None, 300.0, 900.0]),
        "quiet": st.sampled_from([(), ((12 * HOUR, 14 * HOUR),), ((0, 86400),)]),
        "second_s": st.sampled_from([0.0, 60.0, 600.0]),
        "duty": st.lists(st.tuples(some_hours, st.sampled_from(PEOPLE)), max_size=3),
    }
)


def made(own):
    quiet = tuple(Span(from_s=begin, until_s=end) for begin, end in own["quiet"])
    shifts = tuple(
        Shift(span=Span(from_s=begin, until_s=end), people=(name,)) for (begin, end), name in own["duty"]
    )
    return relay_story.settings(
        person("anna", "push", "mail"),
        person("ben", quiet=quiet),
        person("carl", returns=False),
        steps=(step(0, "anna"), step(own["second_s"], "ben", rotas=("duty",))),
        route={"returns": own["returns"], "repeat_s": own["repeat_s"]},
        flood_messages=own["flood_messages"],
        rotas={"duty": Rota(name="duty", shifts=shifts)},
    )


class Told(Story):
    """A story that keeps what became of every raising, and gateways that fail as they are told."""

    def __init__(self, own):
        super().__init__(own)
        self.slow, self.standing, self.answered, self.raisings = {}, {}, {}, {}
        self.gateway = self._gate

    def _gate(self, message, now_s):
        took_s = self.slow.get((message.person, message.channel))
        return Sent(True, 0.3) if took_s is None else Sent(False, took_s, "down")

    def act(self, what, *of):
        getattr(self, f"_{what}")(*of)

    def _raise(self, where, priority):
        tag, collector = where
        if self.standing.get(tag) in (None, "back"):
            event_id = self.raised(tag, collector, priority)
            self.standing[tag] = "up"
            self.raisings.setdefault(tag, []).append(event_id)

    def _end(self, where, how):
        if self.standing.get(where[0]) == "up":
            self.standing[where[0]] = "back"
            self.happened(how, where[0], collector=where[1], cause=Cause.PROCESS)

    def _answer(self, where, how, by):
        tag, collector = where
        if self.standing.pop(tag, None) is not None:
            for event_id in self.raisings[tag][-1:]:
                self.answered[event_id] = self.now_s
            self.happened(how, tag, collector=collector, by=by, cause=Cause.PERSON)

    def _wait(self, seconds):
        self.after(seconds)

    def _fail(self, channel, took_s):
        self.slow[channel] = took_s

    def _heal(self, channel):
        self.slow.pop(channel, None)

    def _kill(self, written):
        self.killed(written=written)


def played(own, script):
    note(f"{own}\n{script}")
    story = Told(made(own))
    for action in script:
        story.act(*action)
    return story


@given(owns, scripts)
@settings(max_examples=200, deadline=None)
def test_every_raising_is_delivered_or_answered(own, script):
    story = played(own, script)
    story.slow.clear()
    story.after(4 * HOUR)
    got = {alarm for _, message in story.got for alarm in told_by(story, message)}
    every = {event_id for raised in story.raisings.values() for event_id in raised}
    assert every - got - set(story.answered) == set()
    assert relay.unreached(story.state) == ""
    assert all(callout.entries for callout in story.state.callouts.values())


def told_by(story, message):
    """The events that count as told by a message: the journal has them all."""
    return next(
        event.facts["alarms"].split()
        for event in story.events
        if event.happened == "notified" and event.facts["ref"] == message.ref
    )


@given(owns, scripts)
@settings(max_examples=100, deadline=None)
def test_nobody_is_called_for_what_is_answered(own, script):
    story = played(own, script)
    story.after(2 * HOUR)
    for second, message in story.offered:
        if message.kind in CALLS:
            assert all(story.answered.get(one.event_id, second) >= second for one in message.alarms)


@given(owns, scripts)
@settings(max_examples=100, deadline=None)
def test_the_same_ref_is_the_same_message_and_the_same_message_has_one_ref(own, script):
    story = played(own, script)
    story.slow.clear()
    story.after(2 * HOUR)
    first = {}
    for _, message in story.offered:
        known = first.setdefault(message.ref, message)
        assert (known.person, known.kind) == (message.person, message.kind)
        assert {one.event_id for one in message.alarms} <= {
            one.event_id for one in known.alarms
        } or known.held_back
    delivered = [message.ref for _, message in story.got]
    assert len(delivered) == len(set(delivered))


@given(owns, scripts, st.integers(0, 39))
@settings(max_examples=100, deadline=None)
def test_a_message_made_again_from_the_journal_alone_has_the_ref_it_had(own, script, lost_from):
    script = [one for one in script if one[0] != "kill"]
    story = Told(made(own))
    for number, action in enumerate(script):
        if number == lost_from:
            story.killed(written=False)
        story.act(*action)
    refs = defaultdict(set)
    for _, message in story.offered:
        if not message.held_back and message.kind.value in ("alarm", "more", "escalation"):
            refs[message.ref].add((message.person, message.kind))
    assert all(len(whose) == 1 for whose in refs.values())
    begun = {}
    for _, message in story.offered:
        if message.kind.value == "alarm" and message.attempt == 1:
            told = (message.person, message.called_before, tuple(sorted(one.event_id for one in message.alarms)))
            assert begun.setdefault(told, message.ref) == message.ref


@given(owns, scripts)
@settings(max_examples=100, deadline=None)
def test_no_more_calls_than_the_flood_limit_but_urgent_ones(own, script):
    story = played(own, script)
    story.after(3 * HOUR)
    first = {}
    for second, message in story.offered:
        if message.kind in CALLS and all(alarm.priority is not Priority.URGENT for alarm in message.alarms):
            first.setdefault((message.person, message.ref), (second, message))
    window_s, most = story.settings.flood_window_s, story.settings.flood_messages
    for second, message in first.values():
        others = [one for one, other in first.values() if other.person == message.person and one < second]
        # The window ends to the millisecond: sums of decimal seconds are a little off.
        assert sum(one > second - window_s + 1e-3 for one in others) < most


@given(owns, scripts)
@settings(max_examples=100, deadline=None)
def test_only_who_is_named_or_on_duty_is_called(own, script):
    story = played(own, script)
    story.after(2 * HOUR)
    on_duty = {name for _, name in own["duty"]}
    assert {message.person for _, message in story.offered} <= {"anna", "ben"} | on_duty


@given(owns, scripts)
@settings(max_examples=50, deadline=None)
def test_with_gateways_that_work_an_urgent_alarm_is_told_at_once(own, script):
    story = Told(made(own))
    for action in script:
        if action[0] not in ("fail", "kill"):
            story.act(*action)
    story.after(60)
    urgent = {
        event.event_id: event.at_utc_s - story.utc_s
        for event in story.taken
        if event.happened == "raised" and event.priority is Priority.URGENT
    }
    got = {}
    for second, message in story.got:
        for alarm in message.alarms:
            got.setdefault(alarm.event_id, second)
    for event_id, raised_s in urgent.items():
        # Nine alarms there are, so nine messages at most are on their way before it.
        assert got.get(event_id, story.answered.get(event_id)) <= raised_s + 10 * 0.3 or event_id in story.answered


@given(owns, scripts)
@settings(max_examples=50, deadline=None)
def test_the_texts_of_a_state_make_the_same_state(own, script):
    story = played(own, script)
    again = relay.whole(relay.parts(story.state))
    assert relay.parts(again) == relay.parts(story.state)


@given(owns, scripts)
@settings(max_examples=50, deadline=None)
def test_the_changes_add_up_to_the_texts(own, script):
    story, written, before = Told(made(own)), relay.parts(relay.RelayState()), relay.RelayState()
    for action in script:
        story.act(*action)
        written |= relay.changes(before, story.state)
        before = story.state
    assert {key: text for key, text in written.items() if text is not None} == relay.parts(story.state)
