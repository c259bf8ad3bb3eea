"""Reasons: what the notification library logs of a failure, as a short phrase in which no secret can be.

Its log bears addresses, passwords and the message itself. Nothing of it is passed on but numbers of three digits
that stand where a server's answer stands; everything else is recognised, and said in words of ours.
"""

import re
from collections.abc import Iterable

#: HTTP status (``error=500``), SMTP reply (``(550, b'…')``, ``was refused: 451 …``).
_ANSWER = re.compile(r"error=(\d{3})\b|\((\d{3}), b['\"]|was refused: (\d{3})\b")

#: What is sent, and where to: the words of a message must not pass for an answer.
_OURS = re.compile(r"\b(Payload|URL)\b")

#: Answers that blame the login: HTTP 401, 403 (RFC 9110), SMTP 530, 534, 535 (RFC 4954).
_LOGIN = frozenset({"401", "403", "530", "534", "535"})

_PHRASES = (
    ("certificate verify failed", "its certificate is not trusted"),
    ("hostname mismatch", "its certificate is not trusted"),
    ("wrong_version_number", "it does not speak TLS"),
    ("name or service not known", "its name cannot be resolved"),
    ("nameresolutionerror", "its name cannot be resolved"),
    ("name resolution", "its name cannot be resolved"),
    ("timed out", ""),
    ("timeout", ""),
    ("connection refused", "no connection"),
    ("failed to establish a new connection", "no connection"),
    ("unreachable", "no connection"),
    ("no route to host", "no connection"),
    ("connection reset", "connection lost"),
    ("connection aborted", "connection lost"),
    ("connection unexpectedly closed", "connection lost"),
    ("remote end closed", "connection lost"),
    ("broken pipe", "connection lost"),
)

UNKNOWN = "not accepted"


def reason(lines: Iterable[str], limit_s: float) -> str:
    """Why a message was not delivered.

    Args:
        lines: what the library logged of this attempt.
        limit_s: of the channel.
    """
    told = [line for line in lines if not _OURS.search(line)]
    for line in told:
        if found := _ANSWER.search(line):
            return _refused(next(code for code in found.groups() if code))
    failure = "\n".join(line.lower() for line in told if "exception" in line.lower())
    for mark, phrase in _PHRASES:
        if mark in failure:
            return phrase or timed_out(limit_s)
    return UNKNOWN


def timed_out(limit_s: float) -> str:
    """The phrase for what took longer than it may."""
    return f"timed out after {limit_s:g} s"


def _refused(code: str) -> str:
    return f"login refused: {code}" if code in _LOGIN else f"refused: {code}"
