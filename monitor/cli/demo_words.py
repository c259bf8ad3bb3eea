"""Demo words: the short phrases of the demonstration, the same on a terminal and in plain lines. Pure."""

import re

from monitor.cli.demo_view import Addresses, AlarmView, CollectorView
from monitor.tell.wording import reason_in_words, state_in_words
from monitor.words import UNIT_OF_ROLE, Event, Quality, Reading, Role

_DECIMALS = {Role.DP: 2, Role.HEADER_PRESSURE: 0, Role.AIR_FLOW: 0}
_YES_NO = {
    Role.FAN_RUNNING: ("fan running", "fan stopped", "fan unknown"),
    Role.CLEANING_ACTIVE: ("cleaning", "not cleaning", "cleaning unknown"),
}
_NAMED = {Role.HEADER_PRESSURE: "header", Role.AIR_FLOW: "flow"}


# The wall clock of a sped-up plant runs fast, and its stamps would only confuse beside the plant time.
_STAMP = re.compile(r",? \(?(?:since|(?:first )?raised) \d{4}-\d\d-\d\d [\d:]+ UTC\)?")


def happening(event: Event) -> str:
    """Return what happened in one sentence, without stamps of the wall clock."""
    return _STAMP.sub("", event.text)


def amount(role: Role, reading: Reading | None) -> str:
    """Return a reading with its unit, or three dashes where there is nothing to show."""
    unit = UNIT_OF_ROLE[role]
    if reading is None or reading.quality is Quality.BAD or reading.value is None:
        return f"--- {unit}"
    return f"{reading.value:,.{_DECIMALS[role]}f} {unit}"


def quality(reading: Reading | None) -> str:
    """Return the quality, with its reason where it is not good."""
    if reading is None:
        return "not read"
    if reading.quality is Quality.GOOD:
        return reading.quality.value
    return f"{reading.quality.value}: {reason_in_words(reading.reason)}"


def companion(role: Role, reading: Reading) -> str:
    """Return what a companion of the DP says, in two or three words."""
    if role in _NAMED:
        return f"{_NAMED[role]} {amount(role, reading)}"
    yes, no, unknown = _YES_NO[role]
    if reading.quality is Quality.BAD or reading.value is None:
        return unknown
    return yes if reading.value else no


def companions(view: CollectorView) -> str:
    """Return all companions the collector has, in one line."""
    order = (Role.FAN_RUNNING, Role.CLEANING_ACTIVE, Role.HEADER_PRESSURE, Role.AIR_FLOW)
    return " · ".join(companion(role, view.readings[role]) for role in order if role in view.readings)


def alarm(one: AlarmView) -> str:
    """Return an alarm and its state."""
    return f"{one.tag} {state_in_words(one.state)}"


def places(addresses: Addresses) -> list[tuple[str, str]]:
    """Return where to look in, each with its name."""
    host, port = addresses.mqtt_host, addresses.mqtt_port
    return [
        ("MQTT", f"{host}:{port}, topics below {addresses.base_topic}/ (3.1.1)"),
        ("", f"mosquitto_sub -h {host} -p {port} -t '{addresses.base_topic}/#' -v"),
        ("Page", f"{addresses.http_url}/  {addresses.http_url}/metrics"),
        ("Modbus", f"{addresses.modbus}, the simulated plant"),
    ]
