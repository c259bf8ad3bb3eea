"""Darkening: horn and beacon are switched off before a changed site file takes them away.

A horn that is left behind would sound for ever: nobody may write to it any more.
"""

import asyncio
from collections.abc import Callable, Mapping

from monitor.daemon.annunciating import Annunciating
from monitor.figures import LinkFigures
from monitor.site.plan import SitePlan

#: So long it may take, real seconds; looked at each twentieth.
LIMIT_S = 2.0
_LOOK_S = 0.05


def entries(plan: SitePlan) -> tuple[object, ...] | None:
    """Where horn and beacon of a site file are; None where it has none."""
    if plan.annunciator is None:
        return None
    link = plan.links[plan.annunciator.link]
    return link.link.where, link.outputs


async def darken(annunciating: Annunciating, figures: Callable[[], Mapping[str, LinkFigures]]) -> str:
    """Switch them off, by the plan that still holds.

    Returns:
        A sentence where that could not be done; else empty.
    """
    link = annunciating.darken()
    for _ in range(round(LIMIT_S / _LOOK_S)):
        await asyncio.sleep(_LOOK_S)
        known = figures().get(link)
        if known is None or not known.unwritten:
            return ""
    return f"horn or beacon on {link} could not be switched off before the site file changed: look after them"
