"""Beginning: what a daemon has to say, and to end, about what happened while it was down."""

from monitor.daemon.core import Core
from monitor.daemon.reload import ended_meanwhile, link_strangers, links_ended_meanwhile, strangers
from monitor.daemon.snapshot import keys_unknown
from monitor.daemon.telling import Telling
from monitor.remember.store import Store
from monitor.words import Instant


def store_trouble(store: Store) -> str:
    """A sentence about a store that was found broken when it was opened; empty where it was sound."""
    if store.set_aside is None:
        return ""
    saved = (
        "what could be saved of it, remembered alarms too, is in the new one"
        if store.snapshots
        else "a new one was begun and remembered latches are lost"
    )
    return f"the store could not be read and was set aside as {store.set_aside.name}; {saved}"


def end_strangers(core: Core, store: Store, telling: Telling, now: Instant) -> None:
    """End the remembered alarms that the site file lost meanwhile, and take down what was told of them."""
    plan = core.plan
    remembered, of_links = core.remembered_alarms(), core.remembered_link_alarms()
    gone, gone_links = strangers(remembered, plan.collectors), link_strangers(of_links, plan.links)
    if gone or gone_links:
        ended = [
            *ended_meanwhile(remembered, plan.collectors, now),
            *links_ended_meanwhile(of_links, plan.links, now),
        ]
        core.end_alarms(ended, keys_unknown(store.snapshots, plan), now)
        telling.take_down(gone, gone_links)
