"""Commands: who may do what, as the file says it; and the bounds of shelving and of lateness."""

from typing import Annotated

from pydantic import Field

from monitor.site.fields import duration, name, several
from monitor.site.shape.alarms import DAY_S
from monitor.site.shape.block import Block, defaulting, optional
from monitor.site.shape.outlets import FILE, RELATIVE, SECRET_ENV
from monitor.words import CommandKind, Door


class Person(Block):
    """One person who may ask for something."""

    may: Annotated[frozenset[CommandKind], several(CommandKind, may_be_none=True)] = Field(
        description="What the person may ask for. A list of acknowledge, clear, shelve, unshelve, out_of_service, "
        "return_to_service, test, silence, filters_changed, record_action, test_message; or all; or none, for who "
        "may only look. No default: nothing is open that was not written."
    )
    through: Annotated[frozenset[Door], several(Door)] = defaulting(
        "all", "The doors the person may use. A list of command_line, mqtt, http; default all."
    )
    token_env: Annotated[str | None, SECRET_ENV] = optional(
        "Environment variable that holds the person's token for HTTP. Such as CAKEWATCH_TOKEN_ANNA; the token has "
        "16 characters or more (our choice), letters, digits and signs of ASCII without blanks.",
    )
    token_file: Annotated[str | None, FILE] = optional(
        f"File that holds the person's token for HTTP and nothing else. {RELATIVE}",
    )
    password_hash_env: Annotated[str | None, SECRET_ENV] = optional(
        "Environment variable that holds the hash of the person's password for the page. As cakewatch password "
        "prints it.",
    )
    password_hash_file: Annotated[str | None, FILE] = optional(
        f"File that holds that hash and nothing else. {RELATIVE}",
    )


class Commands(Block):
    """Who may acknowledge, clear, shelve and so on."""

    longest_shelving: Annotated[float, duration(60, 7 * DAY_S)] = defaulting(
        "8 h",
        "No alarm is shelved for longer. 1 min to 7 d; default 8 h, one shift (our choice; ISA-18.2-2016 wants a "
        "bound and names none).",
    )
    late_after: Annotated[float, duration(1, 600)] = defaulting(
        "30 s",
        "A command that says when it was sent and is older is refused, as is one from the future. 1 s to 10 min; "
        "default 30 s (our choice): longer than a slow network, shorter than a change of mind.",
    )
    machine: Annotated[frozenset[CommandKind], several(CommandKind, may_be_none=True)] = defaulting(
        "all",
        "What anybody may ask for who is on this machine itself (command line, HTTP on loopback) without proof of "
        "who it is. A list as under may, all or none; default all.",
    )
    people: dict[Annotated[str, name("the name of a person")], Person] = Field(
        default_factory=dict,
        description="What each person may do, under the name that the journal will show. Through MQTT, and with a "
        "token, only these; default nobody.",
    )
