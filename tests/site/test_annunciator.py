"""What may be written: horn, beacon and heartbeat, and nothing else."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.acquire.settings import Output
from monitor.site.load import load
from monitor.site.problems import SiteFileError
from monitor.tell.settings import AnnunciatorSettings
from monitor.words import Priority, Table

ROOT = Path(__file__).parents[2]
GOOD = ROOT / "fixtures" / "site" / "good"
FIRST = (GOOD / "first.yaml").read_text(encoding="utf-8")


def load_text(text: str, folder: Path, environ=None):
    path = folder / "site.yaml"
    path.write_text(text, encoding="utf-8")
    return load(path, environ or {})


def managed():
    return load(GOOD / "alarm_management.yaml", {})


def test_without_an_annunciator_nothing_is_ever_written(tmp_path):
    plan = load_text(FIRST, tmp_path)

    assert plan.annunciator is None
    assert all(link.outputs == () for link in plan.links.values())


@pytest.mark.parametrize("word", ["none", "off"])
def test_the_annunciator_is_switched_off_by_a_word(tmp_path, word):
    assert load_text(f"{FIRST}annunciator: {word}\n", tmp_path).annunciator is None


def test_outputs_come_out_as_written_on_their_link_alone():
    plan = managed()

    assert plan.annunciator == AnnunciatorSettings(
        link="horn-gateway", least_priority=Priority.MEDIUM, heartbeat_s=2.0
    )
    assert plan.links["mill-gateway"].outputs == ()
    assert plan.links["horn-gateway"].outputs == (
        Output(name="horn", unit_id=9, table=Table.COIL, address=0, on=1, off=0),
        Output(name="beacon", unit_id=9, table=Table.COIL, address=1, on=0, off=1),
        Output(name="heartbeat", unit_id=9, table=Table.HOLDING_REGISTER, address=10, on=170, off=85),
    )


@pytest.mark.parametrize(
    ("horn", "on", "off"),
    [
        ("{reference_number: 00001}", 1, 0),
        ("{reference_number: 00001, energised_when: alarm}", 1, 0),
        ("{reference_number: 00001, energised_when: healthy}", 0, 1),
        ("{reference_number: 40001}", 1, 0),
        ("{reference_number: 40001, on_word: 65280, off_word: 255}", 65280, 255),
        ("{reference_number: 40001, on_word: 65280, off_word: 255, energised_when: healthy}", 255, 65280),
        ("{reference_number: 40001, on_word: 0, off_word: 1}", 0, 1),
    ],
)
def test_fail_safe_wiring_turns_on_and_off_round(tmp_path, horn, on, off):
    text = f"{FIRST}annunciator: {{link: mill-gateway, unit_id: 9, horn: {horn}}}\n"
    output = load_text(text, tmp_path).links["mill-gateway"].outputs[0]

    assert (output.on, output.off) == (on, off)


DOUBLE = "encoding: float32\n      word_order: high-first\n"


@pytest.mark.parametrize(
    ("unit_id", "number", "is_read"),
    [(1, 40001, True), (1, 40002, True), (1, 40003, False), (2, 40001, False), (1, "00001", False)],
)
def test_no_word_of_a_point_is_ever_written(tmp_path, unit_id, number, is_read):
    text = FIRST.replace("table: input register", "table: holding register").replace("encoding: int16\n", DOUBLE)
    text += f"annunciator: {{link: mill-gateway, unit_id: {unit_id}, beacon: {{reference_number: {number}}}}}\n"
    if not is_read:
        assert load_text(text, tmp_path).links["mill-gateway"].outputs
        return
    with pytest.raises(SiteFileError, match=r"annunciator\.beacon: must not be an entry that is read"):
        load_text(text, tmp_path)


@given(
    table=st.sampled_from([*Table]),
    address=st.integers(-1, 65536),
    unit_id=st.integers(-1, 256),
    number=st.sampled_from(["", "00001", "10001", "30001", "40001", "465536", "465537", "40000"]),
)
def test_what_a_valid_file_may_write_is_a_coil_or_a_holding_register_of_one_device(
    tmp_path_factory, table, address, unit_id, number
):
    place = f"reference_number: {number}" if number else f"table: {table}, protocol_address: {address}"
    text = f"{FIRST}annunciator: {{link: mill-gateway, unit_id: {unit_id}, horn: {{{place}}}}}\n"
    try:
        plan = load_text(text, tmp_path_factory.getbasetemp())
    except SiteFileError as error:
        faults = error.problems
    else:
        faults = ()
    assert all(problem.key.startswith("annunciator") for problem in faults)
    if faults:
        return
    (output,) = plan.links["mill-gateway"].outputs
    assert output.table in (Table.COIL, Table.HOLDING_REGISTER)
    assert 0 <= output.address <= 65535
    assert 1 <= output.unit_id <= 247 or output.unit_id == 255
