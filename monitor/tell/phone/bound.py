"""Bound: how late an alarm may reach the first person while any channel of any person of its route works.

With G the gathering (0 for an urgent alarm), T the tries on a channel, L the longest limit of a gateway, S the sum
of the pauses between T tries, R the longest pause and N other messages that wait for the same person:

    a channel that does not work costs    D = T (N + 1) L + S
    a step costs                          the most that any of its people costs: D for each channel
    the bound is                          B = G + the sum over the steps + R + (N + 2) L

Each try may wait for N others that go first. Steps whose people cannot be reached follow at once, so they add up,
whatever their hours. R is for a channel that was failing before and is left alone when the alarm comes. Quiet
hours and flood control, which never touch an urgent alarm, come on top. Kept by a test that tries to break it.
"""

from monitor.tell.phone.lanes import pause_s
from monitor.tell.phone.settings import Person, PhoneSettings, Route, Step
from monitor.words import Priority


def latest_s(settings: PhoneSettings, route: Route, priority: Priority, waiting: int = 0) -> float:
    """The bound, scan seconds from the raising to the first delivery.

    Args:
        settings: the relay is run by.
        route: of the alarm.
        priority: of the alarm.
        waiting: other messages that wait for one person of the route at most.
    """
    gather_s = 0.0 if priority is Priority.URGENT else settings.gather_s
    steps_s = sum(_step_s(settings, step, waiting) for step in route.steps)
    return gather_s + steps_s + _longest_pause_s(settings) + (waiting + 2) * _limit_s(settings)


def _step_s(settings: PhoneSettings, step: Step, waiting: int) -> float:
    people = [settings.people[name] for name in _anybody(settings, step) if name in settings.people]
    return max((_person_s(settings, one, waiting) for one in people), default=0.0)


def _person_s(settings: PhoneSettings, person: Person, waiting: int) -> float:
    pauses_s = sum(pause_s(settings, number) for number in range(1, settings.tries))
    return len(person.channels) * (settings.tries * (waiting + 1) * _limit_s(settings) + pauses_s)


def _anybody(settings: PhoneSettings, step: Step) -> tuple[str, ...]:
    """Everybody whom the step may mean at any time."""
    rotas = [settings.rotas[name] for name in step.rotas if name in settings.rotas]
    shifts = [one for rota in rotas for one in (*[shift.people for shift in rota.shifts], rota.otherwise)]
    return (*step.people, *[name for people in shifts for name in people])


def _limit_s(settings: PhoneSettings) -> float:
    return max((one.limit_s for person in settings.people.values() for one in person.channels), default=0.0)


def _longest_pause_s(settings: PhoneSettings) -> float:
    return max(settings.first_retry_s, settings.longest_retry_s)
