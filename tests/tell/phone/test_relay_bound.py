"""No alarm is told later than the stated bound while any channel of any person of its route works."""

from hashlib import sha256

from hypothesis import example, given, settings
from hypothesis import strategies as st

from monitor.tell.phone.bound import latest_s
from monitor.tell.phone.message import Sent
from monitor.tell.phone.settings import Channel, Person, PhoneSettings, Route
from monitor.words import Priority
from tests.tell.phone.relay_story import Story, step

LIMIT_S = 10.0

plants = st.fixed_dictionaries(
    {
        "channels": st.lists(st.integers(1, 3), min_size=1, max_size=3),
        "in_one_step": st.booleans(),
        "tries": st.integers(1, 3),
        "longest_s": st.sampled_from([40.0, 300.0]),
        "works": st.integers(0, 8),
        "alarms": st.lists(
            st.tuples(st.sampled_from([0.0, 1.0, 20.0, 90.0]), st.sampled_from(Priority)), min_size=1, max_size=6
        ),
        "broken_before": st.booleans(),
        # How often the others fail: always, or now and then; how long they take for it.
        "fails": st.sampled_from([100, 70, 30]),
        "slow": st.booleans(),
        "seed": st.integers(0, 2**16),
    }
)


def made(plant):
    names = [f"p{number}" for number in range(len(plant["channels"]))]
    people = {
        name: Person(
            name=name,
            channels=tuple(Channel(name=f"c{one}", url="json://x", limit_s=LIMIT_S) for one in range(count)),
        )
        for name, count in zip(names, plant["channels"], strict=True)
    }
    # Later steps are so far away that only people who cannot be reached bring them about.
    steps = (
        (step(0, *names),) if plant["in_one_step"] else tuple(step(1e6 * at, one) for at, one in enumerate(names))
    )
    return PhoneSettings(
        people=people,
        routes=(Route(name="all", steps=steps, repeat_s=None),),
        tries=plant["tries"],
        longest_retry_s=plant["longest_s"],
        flood_messages=1000,
    )


def gateway(plant, own, story):
    ways = [(person.name, channel.name) for person in own.people.values() for channel in person.channels]
    works = ways[plant["works"] % len(ways)]

    def send(message, now_s):
        if (message.person, message.channel) == works and not story.broken:
            return Sent(True, LIMIT_S if plant["slow"] else 0.2)
        key = f"{plant['seed']} {message.ref} {message.channel} {message.attempt}"
        drawn = sha256(key.encode()).digest()
        failed = story.broken or drawn[0] % 100 < plant["fails"]
        return Sent(not failed, LIMIT_S if plant["slow"] else LIMIT_S * drawn[1] / 255, "down" if failed else "")

    return send


@given(plants)
@example(
    {
        "channels": [3, 3, 3],
        "in_one_step": False,
        "tries": 3,
        "longest_s": 300.0,
        "works": 8,
        "alarms": [(0.0, Priority.URGENT)] * 6,
        "broken_before": True,
        "fails": 100,
        "slow": True,
        "seed": 0,
    }
)
@settings(max_examples=100, deadline=None)
def test_none_is_later_than_the_bound(plant):
    own = made(plant)
    story = Story(own)
    story.broken = plant["broken_before"]
    story.gateway = gateway(plant, own, story)
    if story.broken:
        # An alarm long before for which nobody could be reached: every channel is left alone for the longest.
        story.raised("PDAH-0", "DC-0")
        story.until(2000.0).broken = False
    for number, (wait_s, priority) in enumerate(plant["alarms"], 1):
        story.after(wait_s)
        story.raised(f"PDAH-{number}", f"DC-{number}", priority)
    story.after(1.0 + latest_s(own, own.routes[0], Priority.LOW, waiting=len(story.taken)))
    got = {}
    for second, message in story.got:
        for alarm in message.alarms:
            got.setdefault(alarm.event_id, second)
    for event in story.taken[1 if plant["broken_before"] else 0 :]:
        assert event.event_id in got
        late_s = got[event.event_id] - (event.at_utc_s - story.utc_s)
        assert late_s <= latest_s(own, own.routes[0], event.priority, waiting=len(story.taken))


def test_the_bound_of_a_plain_plant_is_what_the_formula_says():
    own = made({"channels": [2, 1], "in_one_step": False, "tries": 3, "longest_s": 300.0})
    # G 15; two steps of 2 and 1 channels at 3 tries of 10 s and pauses of 5 s and 10 s; R 300; 2 L.
    assert latest_s(own, own.routes[0], Priority.HIGH) == 15 + 2 * 45 + 45 + 300 + 20
    assert latest_s(own, own.routes[0], Priority.URGENT) == 2 * 45 + 45 + 300 + 20
