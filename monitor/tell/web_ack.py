"""Web acknowledge: what a tap on the link in a message does.

Opening the link changes nothing, because mail scanners and previews open links too; the button does. What the
link acknowledges is what its message was about: an alarm that came up anew since is another alarm.
"""

import asyncio
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from monitor.tell.notation import figure
from monitor.tell.web_ack_page import ACK_POLICY, ask_page, outcome_page, sorry_page
from monitor.tell.web_asking import peer_of
from monitor.tell.web_commands import CommandDoor
from monitor.tell.web_guard import Clocks
from monitor.tell.web_links import AckLinks, Link, LinkState
from monitor.tell.web_places import Guesses, place
from monitor.tell.web_schemas import ACK_GET, ACK_POST
from monitor.tell.web_table import Address, Right, Visitor
from monitor.tell.web_told import Alarms
from monitor.words import Answer, AnswerCode, Command, CommandKind, Door

#: The occurrence in which the alarm with this tag stands; None where it does not stand, or is none.
Standing = Callable[[str], str | None]
#: A moment of the wall clock as the site's people read it, such as 02:14.
LocalTime = Callable[[float], str]

_UNKNOWN = "This link is not known here. It may be mistyped or very old: open the page, or call the control room."
_EXPIRED = "This link has expired. Open the page to see how the alarm stands now."
_SLOWLY = "Too many wrong links were tried from there. Wait a minute and try again."


@dataclass(frozen=True, slots=True, kw_only=True)
class Acks:
    """What links need.

    Attributes:
        links: made for the messages.
        standing: which occurrence stands now.
        local_time: a moment as the site's people read it.
    """

    links: AckLinks
    standing: Standing
    local_time: LocalTime


class AckDoor:
    """The address behind the links."""

    def __init__(
        self, acks: Acks, alarms: Alarms, door: CommandDoor, renderer: ThreadPoolExecutor, clocks: Clocks
    ) -> None:
        self._acks = acks
        self._alarms = alarms
        self._door = door
        self._renderer = renderer
        self._clocks = clocks
        self._guesses = Guesses()
        self._under_way: dict[str, asyncio.Task[tuple[Answer, ...]]] = {}

    def addresses(self) -> tuple[Address, ...]:
        """Where the links lead."""
        path = "/ack/{token}"
        return (
            Address(
                method="GET",
                path=path,
                right=Right.LINK,
                says="what the link in a message acknowledges, with a button; opening it changes nothing",
                handler=self._get,
                openapi=ACK_GET,
                is_page=True,
            ),
            Address(
                method="POST",
                path=path,
                right=Right.LINK,
                says="acknowledge by the link in a message, once, and nothing else",
                handler=self._post,
                openapi=ACK_POST,
                is_page=True,
            ),
        )

    async def _get(self, request: Request, _visitor: Visitor) -> Response:
        link = self._link(request)
        if isinstance(link, Response):
            return link
        if not any(self._acks.standing(tag) == was for tag, was in link.alarms):
            ended = all(self._acks.standing(tag) is None for tag, _ in link.alarms)
            return _page(sorry_page((_ENDED if ended else _ANEW).capitalize() + "."), 410)
        about = await self._about()
        return _page(ask_page(link.person, [(tag, self._stands(tag, was, about)) for tag, was in link.alarms]))

    async def _post(self, request: Request, _visitor: Visitor) -> Response:
        link = self._link(request)
        if isinstance(link, Response):
            return link
        # Two taps of one thumb are one: both get what became of the first.
        task = self._under_way.get(link.number)
        if task is None:
            task = self._under_way[link.number] = asyncio.ensure_future(self._use(link))
            task.add_done_callback(lambda _: self._under_way.pop(link.number, None))
        # Whoever goes away in the middle has tapped all the same.
        answers = await asyncio.shield(task)
        return _page(outcome_page([(one.tag, one.text) for one in answers]), _status(answers))

    async def _use(self, link: Link) -> tuple[Answer, ...]:
        answers = [await self._acknowledge(link, tag, was) for tag, was in link.alarms]
        # Used up only afterwards: killed in between, the same command ids do nothing a second time.
        if all(one.code is not AnswerCode.NOT_WRITTEN for one in answers):
            self._acks.links.use_up(link, self._clocks.utc_s())
        return tuple(answers)

    async def _acknowledge(self, link: Link, tag: str, was: str) -> Answer:
        command = Command(
            command_id=f"ack-{link.number}-{link.alarms.index((tag, was))}",
            kind=CommandKind.ACKNOWLEDGE,
            by=link.person,
            door=Door.HTTP,
            tag=tag,
            proven=True,
        )
        stands = self._acks.standing(tag)
        if stands == was:
            return await self._door.carry_out(command)
        text = _ENDED if stands is None else _ANEW
        return Answer(
            command_id=command.command_id,
            code=AnswerCode.NOT_IN_THAT_STATE,
            text=text,
            at_utc_s=self._clocks.utc_s(),
            tag=tag,
        )

    def _link(self, request: Request) -> Link | Response:
        """The link that is good; else the page that says why it is not."""
        link = self._acks.links.find(request.path_params["token"])
        if link is None:
            return self._unknown(request)
        match self._acks.links.state(link, self._clocks.utc_s()):
            case LinkState.GOOD:
                return link
            case LinkState.EXPIRED:
                return _page(sorry_page(_EXPIRED), 410)
            case LinkState.USED:
                at = self._acks.local_time(link.used_utc_s or 0.0)
                return _page(sorry_page(f"This link was used at {at} by {link.person}, and works only once."), 410)

    def _unknown(self, request: Request) -> Response:
        where, now_s = place(peer_of(request), request.headers.getlist), self._clocks.now_s()
        wait_s = self._guesses.wait_s(where, now_s)
        if wait_s > 0:
            return _page(sorry_page(_SLOWLY), 429, {"retry-after": str(round(wait_s) + 1)})
        self._guesses.note(where, now_s)
        return _page(sorry_page(_UNKNOWN), 404)

    def _stands(self, tag: str, was: str, about: Mapping[str, Mapping[str, Any]]) -> str:
        stands = self._acks.standing(tag)
        if stands != was:
            return _ENDED if stands is None else _ANEW
        told = about.get(tag, {})
        where = told.get("collector") or told.get("link") or ""
        return f"{where}: {_measured(told)}{told.get('text', '')}" if where else "stands"

    async def _about(self) -> Mapping[str, Mapping[str, Any]]:
        alarms = self._alarms()
        loop = asyncio.get_running_loop()
        return await loop.run_in_executor(self._renderer, lambda: {one["tag"]: one for one in alarms})


_ENDED = "it has ended meanwhile; there is nothing to acknowledge"
_ANEW = "it ended and came up anew since that message; look at it before you acknowledge it"


def _measured(told: Mapping[str, Any]) -> str:
    value, setpoint = told.get("value"), told.get("setpoint")
    if value is None or setpoint is None:
        return ""
    return f"{figure(value)} {told.get('unit')} ({told.get('side')} {figure(setpoint)}), "


def _status(answers: tuple[Answer, ...]) -> int:
    codes = {one.code for one in answers}
    if AnswerCode.NOT_WRITTEN in codes:
        return 503
    return 403 if codes <= {AnswerCode.NOT_ALLOWED, AnswerCode.UNKNOWN_PERSON} else 200


def _page(html: str, status: int = 200, headers: Mapping[str, str] | None = None) -> Response:
    return HTMLResponse(html, status, {"content-security-policy": ACK_POLICY, **(headers or {})})
