"""Reply to: on which topic a command is answered, and which topics we do not answer on.

A response topic makes us publish where the sender likes, under our own user name. So it may be no topic of ours
but the answers', nothing that brokers keep for themselves, and nothing that is not one plain topic.
"""

from typing import NamedTuple

from monitor.tell.topics import Topics

#: Longer ones are no use to anybody (our choice; MQTT allows 65,535 bytes).
MOST_TOPIC_BYTES = 256

#: The mark is carried in the answer; a running number or a UUID needs 36 bytes at most.
MOST_CORRELATION_BYTES = 256

_WAY_OUT = "so nothing was done; {} and send it again"


class ReplyTo(NamedTuple):
    """Where the answer goes; ``fault`` says in a sentence what was wrong with the place the sender named."""

    topic: str
    correlation: bytes | None = None
    fault: str = ""


def reply_to(topics: Topics, response_topic: str | None, correlation: bytes | None) -> ReplyTo:
    """Where to answer: on the response topic, or on the topic of answers where there is none or a wrong one."""
    if correlation is not None and len(correlation) > MOST_CORRELATION_BYTES:
        rule = f"the correlation data must be at most {MOST_CORRELATION_BYTES} bytes (found {len(correlation)})"
        return ReplyTo(topics.answers, None, f"{rule}, {_WAY_OUT.format('shorten them')}")
    if response_topic is None:
        return ReplyTo(topics.answers, correlation)
    rule = _broken_rule(topics, response_topic)
    if rule:
        way_out = _WAY_OUT.format(f"name another (or none, and be answered on {topics.answers})")
        return ReplyTo(topics.answers, correlation, f"the response topic must {rule}, {way_out}")
    return ReplyTo(response_topic, correlation)


def _broken_rule(topics: Topics, topic: str) -> str:
    """The rule that the topic breaks, as what it must do; empty where it breaks none."""
    if not topic or not topic.isprintable():
        return "have at least one character, and none that cannot be printed"
    if "+" in topic or "#" in topic:
        return "be one topic, without the wildcards + and #"
    if len(topic.encode("utf-8", "replace")) > MOST_TOPIC_BYTES:
        return f"be at most {MOST_TOPIC_BYTES} bytes long"
    if topic.startswith("$"):
        return "not begin with $: those are the broker's own"
    if topics.keeps_for_itself(topic):
        return f"not be one that cakewatch itself publishes on or listens to, below {topics.base}"
    return ""
