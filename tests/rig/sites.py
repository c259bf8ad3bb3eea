"""Sites: site files of the tests, as the daemon reads them: an invented mill with small delays."""

from pathlib import Path
from typing import Any

import yaml

Block = dict[str, Any]


def link(port: int, protocol: str = "modbus-tcp", **changes: Any) -> Block:
    """A link to a device of the test, read ten times a second."""
    late = {} if protocol == "modbus-tcp" else {"late_answer": "400 ms"}
    return (
        {"protocol": protocol, "host": "127.0.0.1", "port": port, "timeout": "200 ms", "scan_period": "100 ms"}
        | late
        | changes
    )


def point(tag: str, link_name: str, unit_id: int, address: int, **changes: Any) -> Block:
    """An input register that holds thousandths of an inch of water."""
    return {
        "tag": tag,
        "link": link_name,
        "unit_id": unit_id,
        "table": "input register",
        "protocol_address": address,
        "encoding": "uint16",
        "engineering": {"unit": "inH2O", "scale": 0.001},
        "frozen_after": "never",
        "stale_after": "2 s",
    } | changes


def collector(
    number: int, link_name: str, unit_id: int, address: int, *, bands: Block | None = None, **changes: Any
) -> Block:
    """One collector; without bands only its signal is watched."""
    bad = {"on_delay": "300 ms", "off_delay": "200 ms"}
    return {
        "dp": point(f"PDT-{number}", link_name, unit_id, address),
        "bands": bands or {},
        "bad_signal": bad,
    } | changes  # fmt: skip


def band(above: str = "7 inH2O", **changes: Any) -> Block:
    """A high band without delays that latches for ever."""
    return {
        "above": above,
        "deadband": "0.5 inH2O",
        "on_delay": "0 s",
        "off_delay": "0 s",
        "auto_clear": "never",
    } | changes


def site(
    links: Block, collectors: Block, *, folder: Path, mqtt_port: int | None, http_port: int, **changes: Any
) -> Block:
    """The whole file. ``changes`` may replace a section or, as a mapping, add to it."""
    whole: Block = {
        "site": {"name": "Alder Mill"},
        "links": links,
        "collectors": collectors,
        "store": {"folder": str(folder), "flush": "1 s", "history_step": "1 s"},
        "http": {"host": "127.0.0.1", "port": http_port},
    }
    if mqtt_port is not None:
        whole["mqtt"] = {"host": "127.0.0.1", "port": mqtt_port, "state_period": "100 ms", "keepalive": "5 s"}
    for name, change in changes.items():
        whole[name] = {**whole.get(name, {}), **change}
    return whole


def write(path: Path, whole: Block) -> Path:
    path.write_text(yaml.safe_dump(whole, sort_keys=False))
    return path
