"""``cakewatch advise``: advice, reasons and cautions in a pipe, as JSON and as a page; or why there is none."""

import asyncio
import json
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from click.testing import CliRunner

from monitor.cli.main import main
from tests.interpret.advice.against_plant import drawn
from tests.remember.making import DP_101, a_reading, opened

TRACES = Path(__file__).parents[2] / "fixtures" / "traces"
NOW, RECORDING = TRACES / "now.yaml", TRACES / "alder-mill.csv"
SITE = """
site: {name: Alder Mill}
links:
  mill-gateway: {protocol: modbus-tcp, host: 127.0.0.1}
collectors:
  DC-101:
    dp:
      tag: PDT-101
      link: mill-gateway
      unit_id: 1
      reference_number: 30001
      encoding: uint16
      loop:
        {counts_at_4_ma: 819, counts_at_20_ma: 4095, at_4_ma: 0 inH2O, at_20_ma: 10 inH2O, full_scale_counts: none}
    cleaning: {start: START inH2O, stop: STOP inH2O, rows: 8}
    compressed_air: {air_per_pulse: 1.5 ft3, cost: 0.30 EUR}
    bands:
      PDAH-101: {above: 4.9 inH2O, priority: high, deadband: 0.2 inH2O, on_delay: 5 s, auto_clear: 10 min}
"""


def ask(*arguments):
    return CliRunner().invoke(main, ["advise", *map(str, arguments)])


def told_json(*arguments):
    told = ask(*arguments, "--json")
    assert (told.exit_code, told.stderr) == (0, "")
    return json.loads(told.stdout)


@pytest.fixture(scope="module")
def close(tmp_path_factory):
    """A site whose start and stop lie too close, and eight hours of its DP."""
    from monitor.plant.trial import shown  # noqa: PLC0415  only here

    folder = tmp_path_factory.mktemp("close")
    trial = drawn(24, hours=8.0)
    cleaning = trial.build.cleaning
    lines = ["time,PDT-101 (inH2O)"]
    lines += [
        f"{one.sample.utc_s:.0f},{one.sample.dp_inh2o:.3f}"
        for one in shown(trial)
        if one.sample.dp_inh2o is not None and int(one.sample.at_s) % 2 == 0
    ]
    (folder / "day.csv").write_text("\n".join(dict.fromkeys(lines)) + "\n")
    text = SITE.replace("START", str(cleaning.start_inh2o)).replace("STOP", str(cleaning.stop_inh2o))
    (folder / "site.yaml").write_text(text)
    return folder


def test_bands_within_the_sawtooth_are_moved_out_of_it():
    told = ask(NOW, RECORDING)

    assert (told.exit_code, told.stderr) == (0, "")
    assert "DC-101: move PDAH-101." in told.stdout
    assert re.search(r"PDAH-101 .*4\.9 inH2O.* 6\.\d inH2O, deadband 1, after 15 s", told.stdout)
    assert "PDAL-102" in told.stdout


def test_the_true_trouble_is_still_called_and_the_false_ones_are_not():
    shown = told_json(NOW, RECORDING)["collectors"][0]
    row = next(one for one in shown["alarms"] if one["tag"] == "PDAH-101")

    assert row["recorded"]["raised"] > 10
    assert row["recorded_then"]["raised"] == row["replayed_then"]["raised"] == 1
    assert row["recorded_then"]["active_s"] > 300


def test_the_check_on_the_present_set_points_is_printed():
    told = " ".join(ask(NOW, RECORDING).stdout.split())

    assert re.search(
        r"Checked: replaying the present set points gives \d+ cleanings a day, \d+ were measured", told
    )


def test_the_cautions_stand_in_every_form(tmp_path):
    page = tmp_path / "advice.html"
    told = ask(NOW, RECORDING, "--html", page)

    for text in (" ".join(told.stdout.split()), page.read_text(), " ".join(told_json(NOW, RECORDING)["cautions"])):
        assert "Nothing was set" in text
        assert "lock-out" in text
        assert "permit" in text


def test_set_points_too_close_are_parted_and_what_comes_of_it_is_told(close):
    shown = told_json(close / "site.yaml", close / "day.csv")["collectors"][0]

    assert "too_close" in shown["why"]
    now, then = shown["now"], shown["advised"]
    assert then["start_inh2o"] - then["stop_inh2o"] == pytest.approx(1.0)
    assert then["cleanings_d"] < now["cleanings_d"]
    assert then["cleanings_d_low"] <= then["cleanings_d"] <= then["cleanings_d_high"]
    # 1.5 ft³ a pulse at 0.30 EUR for a thousand.
    assert then["air"]["air_ft3_d"] == pytest.approx(1.5 * then["pulses_d"], rel=1e-3)
    assert then["air"]["cost_d"] == pytest.approx(1.5 * then["pulses_d"] * 0.0003, rel=1e-3)
    assert abs(shown["check"]["error"]) < 0.15


def test_air_money_and_wear_stand_in_the_table(close):
    told = ask(close / "site.yaml", close / "day.csv").stdout

    for name in ("compressed air, ft3 a day", "compressed air, EUR a year", "life of a new diaphragm"):
        assert name in told


def test_one_collector_alone():
    assert [one["name"] for one in told_json(NOW, RECORDING, "--collector", "DC-102")["collectors"]] == ["DC-102"]


def test_the_last_hour_alone_counts_back_from_the_end():
    shown = told_json(NOW, RECORDING, "--last", "90 min")

    assert shown["ends_utc_s"] - shown["begins_utc_s"] == pytest.approx(5400, abs=4)


def test_too_little_is_said_to_be_too_little():
    shown = told_json(NOW, RECORDING, "--last", "20 min")["collectors"][0]

    assert shown["lack"] == "too_short"
    assert shown["told"].startswith("DC-101: no advice, for too few whole cleaning cycles")


class _Page(HTMLParser):
    def __init__(self):
        super().__init__()
        self.tags, self.addresses = [], []

    def handle_starttag(self, tag, attributes):
        self.tags.append(tag)
        self.addresses += [value for name, value in attributes if name in ("src", "href")]


def test_the_page_needs_nothing_from_anywhere(tmp_path):
    path = tmp_path / "advice.html"
    ask(NOW, RECORDING, "--html", path)
    page = _Page()
    page.feed(path.read_text())

    assert page.addresses == []
    assert "script" not in page.tags
    assert page.tags.count("svg") == 4


def record(folder, rows):
    async def story() -> None:
        async with opened(folder, keep_history_s=1e11, history_step_s=10.0) as store:
            for utc_s, value in rows:
                store.record(DP_101, a_reading(utc_s, value))
            await store.flush()

    asyncio.run(story())


def test_the_history_gives_the_same_advice_as_a_recording(close, tmp_path):
    site = tmp_path / "site.yaml"
    site.write_text((close / "site.yaml").read_text() + "store: {folder: store, history_step: 10 s}\n")
    lines = (close / "day.csv").read_text().splitlines()[1:]
    record(tmp_path / "store", [tuple(float(cell) for cell in line.split(",")) for line in lines])

    shown = told_json(site, "--history")["collectors"][0]
    recorded = told_json(close / "site.yaml", close / "day.csv")["collectors"][0]

    assert shown["why"] == recorded["why"]
    assert shown["advised"]["start_inh2o"] == pytest.approx(recorded["advised"]["start_inh2o"], abs=0.3)
    assert shown["advised"]["cleanings_d"] == pytest.approx(recorded["advised"]["cleanings_d"], rel=0.2)


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        ((NOW,), 2, "--history"),
        ((NOW, "none.csv"), 3, "none.csv"),
        ((NOW, RECORDING, "--collector", "DC-109"), 2, "DC-101, DC-102"),
        ((NOW, RECORDING, "--last", "soon"), 2, "--last"),
        ((NOW, RECORDING, "--last", "1 h", "--since", "2026-03-01"), 2, "one of them"),
        ((NOW, RECORDING, "--since", "2030-01-01"), 3, "2030"),
        (("none.yaml", RECORDING), 2, "none.yaml"),
    ],
)
def test_what_is_wrong_is_said_in_a_sentence(arguments, code, words):
    told = ask(*arguments)

    assert told.exit_code == code
    assert "Traceback" not in told.output
    assert words in told.output or code == 3
