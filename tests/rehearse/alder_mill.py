"""Writes fixtures/traces/: two hours of the simulated plant as CSV. ``python -m tests.rehearse.alder_mill``."""

from datetime import UTC, datetime
from pathlib import Path

from monitor.plant.demo_plant import demo_plant

FOLDER = Path(__file__).parents[2] / "fixtures" / "traces"
BEGINS_UTC_S = 1_772_352_000.0  # 2026-03-01T08:00:00Z
HOURS, STEP_S, SEED = 2, 4, 1


def rows():
    """The heading, then a row each four seconds: DC-101 and DC-102, the broken wire as ``bad``."""
    plant = demo_plant(SEED)
    yield "time,PDT-101 (inH2O),PDT-102 (inH2O),YL-101,YL-102"
    for at_s in range(0, HOURS * 3600, STEP_S):
        plant.advance_to(float(at_s))
        first, second = plant.signals("DC-101"), plant.signals("DC-102")
        stamp = datetime.fromtimestamp(BEGINS_UTC_S + at_s, UTC)
        dp = "bad" if second.loop_broken else f"{second.dp_inh2o:.2f}"
        fans = f"{first.fan_running:d},{second.fan_running:d}"
        yield f"{stamp:%Y-%m-%dT%H:%M:%SZ},{first.dp_inh2o:.2f},{dp},{fans}"


def text():
    return "\n".join(rows()) + "\n"


if __name__ == "__main__":
    (FOLDER / "alder-mill.csv").write_text(text())
