"""Refusals: what the sender of a command is told where the door itself refuses it, each with the way out."""

from monitor.tell.notation import duration
from monitor.words import Answer, AnswerCode, Command

#: What was asked, as far as it could be read; its id and tag go back to the sender.
Asked = Command | Answer


def retained(asked: Asked, at_utc_s: float, topic: str) -> Answer:
    """The broker keeps the command."""
    text = (
        "a retained command would be carried out again at each reconnect, because the broker hands it out anew, "
        f"so it is never obeyed; remove it by sending an empty retained message to {topic}, and send the command "
        "anew without the retain flag"
    )
    return _refusal(asked, AnswerCode.RETAINED, text, at_utc_s)


def wrong_place(asked: Asked, at_utc_s: float, fault: str) -> Answer:
    """The sender wants the answer where it cannot go; ``fault`` is the whole sentence."""
    return _refusal(asked, AnswerCode.MALFORMED, fault, at_utc_s)


def too_many(asked: Asked, at_utc_s: float) -> Answer:
    """More commands come in than can be carried out."""
    text = (
        "too many commands at once, so this one was not carried out, and others may have been refused without an "
        "answer; wait a few seconds and send it again"
    )
    return _refusal(asked, AnswerCode.TOO_MANY, text, at_utc_s)


def not_answered(asked: Asked, at_utc_s: float, limit_s: float) -> Answer:
    """The rulebook did not answer in time."""
    text = (
        f"the command was not answered within {duration(limit_s)}, so it is not known whether it was carried out; "
        "look how the alarm stands, or send it again under the same command_id: it is not carried out twice"
    )
    return _refusal(asked, AnswerCode.NOT_WRITTEN, text, at_utc_s)


def our_fault(asked: Asked, at_utc_s: float) -> Answer:
    """The rulebook failed."""
    text = (
        "the command failed because of a fault in cakewatch itself, which its log describes; "
        "look how the alarm stands to see whether it was carried out"
    )
    return _refusal(asked, AnswerCode.NOT_WRITTEN, text, at_utc_s)


def _refusal(asked: Asked, code: AnswerCode, text: str, at_utc_s: float) -> Answer:
    return Answer(command_id=asked.command_id, tag=asked.tag, code=code, text=text, at_utc_s=at_utc_s)
