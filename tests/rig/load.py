"""Load: the plants that several tests put before the daemon."""

from pathlib import Path
from typing import Any

from tests.rig import sites
from tests.rig.field import FieldDevice
from tests.rig.rig import Rig


def one_collector(rig: Rig, **band: Any) -> tuple[FieldDevice, Path]:
    """DC-101 on unit 1, register 0, with PDAH-101 at 7 inH2O; the device reads 4 inH2O to begin with."""
    device = rig.field.device()
    device.values[1, 0] = 4000
    site = rig.site(
        {"gateway": sites.link(device.port)},
        {"DC-101": sites.collector(101, "gateway", 1, 0, bands={"PDAH-101": sites.band(**band)})},
    )
    return device, site
