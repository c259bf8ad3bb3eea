"""The demonstration's ports and site file."""

import socket
from pathlib import Path

import pytest
import yaml

from monitor.cli.demo_stage import Ports, free_port, site_text
from monitor.errors import CakewatchError
from monitor.plant.demo_plant import DEVICES, SITE_NAME


def test_free_ports_can_be_listened_on() -> None:
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", free_port()))


def test_a_taken_port_gets_a_sentence_with_the_way_out() -> None:
    with socket.socket() as holder:
        holder.bind(("127.0.0.1", 0))
        holder.listen()
        port = holder.getsockname()[1]
        with pytest.raises(
            CakewatchError, match=rf"port {port} on 127\.0\.0\.1 is taken; choose others with --port"
        ):
            free_port(port)


def test_fixed_ports_are_neighbours() -> None:
    assert Ports.from_first(9000) == Ports(http=9000, mqtt=9001, modbus=9002)
    assert Ports.from_first(None) == Ports()


def test_the_site_file_watches_exactly_the_simulated_plant() -> None:
    site = yaml.safe_load(site_text(Ports(1, 2, 3), Path("/tmp/with space/ü")))
    assert site["site"]["name"] == SITE_NAME
    assert site["store"]["folder"] == "/tmp/with space/ü"
    assert (site["http"]["port"], site["mqtt"]["port"], site["links"]["mill-gateway"]["port"]) == (1, 2, 3)
    assert list(site["collectors"]) == [device.collector.name for device in DEVICES]
    for device in DEVICES:
        told = site["collectors"][device.collector.name]
        assert told["dp"]["unit_id"] == device.unit_id
        assert told["dp"]["encoding"] == device.dp.format.encoding.value
        start, stop = told["cleaning"]["start"], told["cleaning"]["stop"]
        assert start == f"{device.collector.start_inh2o:g} inH2O"
        assert stop == f"{device.collector.stop_inh2o:g} inH2O"
