"""Gateway: hands a text to a channel through the notification library, and says in a phrase what became of it.

The library costs 23 MB and a fifth of a second, so it is loaded where people are called, and nowhere else. What it
is told to do and not to do:

- plain text, one attempt, everything bounded by the channel's limit; retrying and escalating are the relay's;
- no redirects: after a redirect it would repeat a message as an empty question and take the answer for success;
- nothing on disk, no pictures from outside;
- its log bears addresses and secrets: it stays inside, and only phrases of ours come out.
"""

import logging
from collections.abc import Iterable
from importlib.util import find_spec
from typing import TYPE_CHECKING, Any

from monitor.clock import real_s
from monitor.tell.phone.message import Sent
from monitor.tell.phone.reasons import reason
from monitor.tell.phone.settings import Channel
from monitor.tell.phone.wording_context import Text

if TYPE_CHECKING:
    import apprise

#: Who is silenced: the library and what it speaks HTTP with. Both log addresses, and so secrets.
_LOGGERS = ("apprise", "requests", "urllib3")

#: Of a channel's limit, for connecting and for each wait for an answer: what hangs ends by itself, with a reason.
_SHARE_OF_LIMIT = 0.95

MISSING = "The notification library is not installed: pip install 'cakewatch[phone]'."


def load() -> str:
    """Load the library with all it can speak; blocks for a fifth of a second or more.

    Returns:
        A sentence where it is not installed; else empty.
    """
    if problem := _missing():
        return problem
    _service("json://127.0.0.1/")
    return ""


def send(channel: Channel, text: Text) -> Sent:
    """Send a text through a channel; blocks up to about ``channel.limit_s``, and raises nothing."""
    began_s = real_s()
    try:
        why = _why_not(channel, text)
    except Exception as error:  # a fault of one of a hundred plugins; its text may bear the address
        why = f"not accepted: {type(error).__name__}"
    return Sent(delivered=not why, took_s=real_s() - began_s, why=why)


def channel_fault(url: str) -> str:
    """What is wrong with a channel's address, in a sentence that does not show it; empty where nothing is."""
    if problem := _missing():
        return problem
    scheme, mark, _ = url.partition("://")
    if not mark:
        return "It is no address: it must begin with the name of a service and ://, such as mailto:// or ntfy://."
    import apprise  # noqa: PLC0415, loaded only where people are called

    if scheme.lower() not in apprise.NotificationManager():  # type: ignore[no-untyped-call]  # its fault
        return "The notification library knows no service of that name; the name before :// is wrong."
    return "" if _service(url) is not None else _unfit(scheme.lower())


def _missing() -> str:
    """Why the library cannot be had; before it is used it is silenced."""
    if find_spec("apprise") is None:
        return MISSING
    _silence(_LOGGERS)
    return ""


def _unfit(scheme: str) -> str:
    return (
        f"What follows {scheme}:// is not what that service needs, or a package that it needs is missing; see "
        f"`apprise --details` and the library's page on {scheme}://."
    )


def _why_not(channel: Channel, text: Text) -> str:
    if problem := _missing():
        return problem
    import apprise  # noqa: PLC0415, loaded only where people are called

    service = _service(channel.url)
    if service is None:
        return "its address cannot be used"
    _bound(service, channel.limit_s)
    one = apprise.Apprise(asset=_asset())
    one.add(service)
    result = one.notify(
        title=text.title,
        body=text.body or text.title,  # an empty body is refused
        body_format=apprise.NotifyFormat.TEXT,
        log_level=logging.DEBUG,  # only there does it say why; nothing of it leaves ``reason``
    )
    return "" if result else reason((entry.message for entry in result.logs()), channel.limit_s)


def _service(url: str) -> "apprise.NotifyBase | None":
    # A new one for each message: no thread shares one, and none makes the next wait (they pace themselves).
    import apprise  # noqa: PLC0415, loaded only where people are called

    return apprise.Apprise.instantiate(url, asset=_asset())


def _asset() -> "apprise.AppriseAsset":
    import apprise  # noqa: PLC0415, loaded only where people are called

    plain: dict[str, Any] = {
        "app_id": "Cakewatch",
        "app_desc": "Cakewatch",
        "app_url": "",
        "image_url_mask": "",
        "image_url_logo": "",
        "storage_mode": apprise.PersistentStoreMode.MEMORY,
        "pgp_autogen": False,
        "pem_autogen": False,
        "http_redirects": False,
        "async_mode": False,
        # With a limit of its own it would use threads that hold up the end of the process; ours do not.
        "service_timeout": 0,
    }
    return apprise.AppriseAsset(**plain)


def _bound(service: "apprise.NotifyBase", limit_s: float) -> None:
    bound_s = limit_s * _SHARE_OF_LIMIT
    service.socket_connect_timeout = bound_s
    service.socket_read_timeout = bound_s


def _silence(names: Iterable[str]) -> None:
    for name in names:
        logger = logging.getLogger(name)
        logger.propagate = False
        if not logger.handlers:
            logger.addHandler(logging.NullHandler())
    logging.getLogger("apprise").setLevel(logging.DEBUG)
