"""The curve at the running daemon: read, told, warned of, spoken of by people, and kept over every restart."""

import subprocess

import pytest

from monitor.daemon.curve_keeping import EVERY_S
from tests.rig.asking import by_http, by_mqtt, by_shell, now
from tests.rig.curve_mill import NAME, CurveMill
from tests.rig.waiting import until

SPEED = 300.0
#: Enough to know what is usual, and from when on a step down is looked at (a first stretch of six hours is over).
LEARNT_H, LONG_LEARNT_H = 3.0, 7.0
WARNING = "PDT-101-HEADER"


def warned(rig):
    """Early warnings that were raised."""
    return [one["tag"] for one in rig.listener.events(happened="raised") if one["tag"] != "PDAH-101"]


def test_cycles_are_counted_told_and_scraped_as_they_really_happen(rig):
    mill = CurveMill(rig, SPEED)
    until(lambda: mill.cycles() >= 2, 20, lambda: f"{mill.told()} of {mill.plant.cycles} cycles")
    counts = [one.json["cycles"] for one in rig.listener.of(f"collectors/{NAME}/curve")]
    told, metrics, true = mill.told(), mill.watch.get("/metrics")[1], mill.plant.cycles

    assert counts == sorted(counts)
    assert true - 1 <= told["cycles"] <= true
    last = told["last_cycle"]
    assert (last["peak"], last["residual"]) == (pytest.approx(5.0, abs=0.1), pytest.approx(4.0, abs=0.1))
    assert (last["signalled"], last["pulses_counted"]) == (True, True)
    assert last["pulses"] in {6, 7}
    assert told["early_warnings"] == []
    assert 'cakewatch_cleaning_cycles_total{collector="DC-101"}' in metrics
    assert mill.watch.metric("cakewatch_cleaning_cycles_total", collector=NAME) >= told["cycles"]
    assert mill.watch.metric("cakewatch_cycle_residual_inh2o", collector=NAME) == pytest.approx(4.0, abs=0.1)
    judged = subprocess.run(
        ["promtool", "check", "metrics"], input=metrics, capture_output=True, text=True, timeout=30
    )
    assert (judged.returncode, judged.stdout + judged.stderr) == (0, "")
    rig.listener.hang_up()
    since = len(rig.listener.heard)
    rig.listener.connect()
    assert rig.listener.of(f"collectors/{NAME}/curve", since)[0].retained, "who comes later is told, too"
    assert warned(rig) == []
    rig.listener.check()


def test_lost_header_pressure_is_warned_of_and_named_first_and_the_warning_is_an_alarm_like_any(rig):
    mill = CurveMill(rig, SPEED, learnt_h=LEARNT_H)
    rig.listener.await_good(NAME, 8)
    mill.plant.supply_psi = 0.0
    warning = rig.listener.await_event(WARNING, "raised", 15)
    mill.watch.kill()
    mill.restart()
    high = rig.listener.await_event("PDAH-101", "raised", 15)

    for one in (warning, high):
        assert one["suspicions"][0]["trouble"] == "header_pressure_lost", one["suspicions"]
        assert "header pressure lost" in one["text"].lower()
    assert warning["facts"]["sign"] == "header_not_recovering"
    # What was warned of before the power cut stands after it: it is the same occurrence, and was not over between.
    assert [one["happened"] for one in rig.ledger().journal if one.get("tag") == WARNING] == ["raised"]
    assert "header_not_recovering" in {one["early_warning"] for one in mill.told()["early_warnings"]}
    assert mill.watch.metric("cakewatch_early_warning", early_warning="header_not_recovering") == 1.0
    code, text = by_shell(mill.site, "ack", WARNING, "--by", "anna")
    assert (code, f"{WARNING} acknowledged by anna" in text) == (0, True), text
    until(lambda: rig.listener.alarm(NAME, WARNING) == "acknowledged", 5, rig.listener.short)
    code, text = by_shell(mill.site, "shelve", WARNING, "--for", "2h", "--reason", "fitter called", "--by", "anna")
    assert code == 0, text
    until(lambda: rig.listener.alarm(NAME, WARNING) == "shelved", 5, rig.listener.short)
    rig.ledger().check()
    rig.listener.check()


def test_filters_and_actions_come_in_through_every_door_and_are_written_once(rig):
    mill = CurveMill(rig, 1.0, commands={"people": {"anna": {"may": "all"}}}, mqtt={"commands": "yes"})
    rig.listener.await_good(NAME, 8)
    changed = {"command": "filters_changed", "collector": NAME, "by": "anna", "at": "2026-03-01T06:00:00Z"}
    action = {"command": "record_action", "collector": NAME, "by": "anna", "reason": "wet", "action": "dried"}
    words = ("filters-changed", NAME, "--at", "2026-03-01T06:00", "--by", "anna", "--id", "c-1")
    shell = by_shell(mill.site, *words)
    again = by_http(rig.http_port, {**changed, "command_id": "c-1"})
    since = until(lambda: mill.told()["filters"]["since"], 5, mill.told)
    by_web = by_http(rig.http_port, {**action, "command_id": "c-2"})
    answers = [by_mqtt(rig.broker.port, {**action, "command_id": "c-3", "sent_at": now()}) for _ in range(2)]
    shell_action = by_shell(
        mill.site, "record-action", NAME, "--cause", "bag torn", "--action", "bag changed", "--by", "ben"
    )
    other = by_mqtt(rig.broker.port, {**changed, "command_id": "c-4", "collector": "DC-999", "sent_at": now()})

    assert (shell[0], again[0], again[1]["code"], again[1]["repeated"]) == (0, 200, "done", True), (shell, again)
    assert since == "2026-03-01T06:00:00.000Z"
    assert (by_web[0], by_web[1]["code"]) == (200, "done"), by_web
    assert [(one["code"], one["repeated"]) for one in answers] == [("done", False), ("done", True)]
    assert shell_action[0] == 0, shell_action
    assert other["code"] == "unknown_collector"
    rows = [one for one in rig.ledger().journal if one.get("collector") == NAME and one["kind"] == "system"]
    assert [one["happened"] for one in rows] == ["filters_changed", *["action_recorded"] * 3]
    assert [one["by"] for one in rows] == ["anna", "anna", "anna", "ben"]
    assert [one["facts"]["door"] for one in rows] == ["command_line", "http", "mqtt", "command_line"]
    mill.watch.kill()
    assert mill.kept()[0].ageing.since_utc_s == 1772344800.0, "what was answered as done is on the disk"


@pytest.mark.parametrize("end", ["kill", "stop"])
def test_a_restart_loses_ten_minutes_at_most_and_makes_up_neither_cycle_nor_warning(rig, end):
    """It ends near the top of the sawtooth and begins an hour later near its foot."""
    mill = CurveMill(rig, SPEED, learnt_h=LONG_LEARNT_H, rise_inh2o_min=0.07)
    until(lambda: mill.cycles() and mill.plant.now().dp_inh2o > 4.8, 15, mill.told)
    told = mill.cycles()
    getattr(mill.watch, end)()
    kept, scan_s = mill.kept()
    mill.skip(lambda shows: shows.dp_inh2o < 4.2 and not shows.cleaning, least_s=3600)
    since, true = len(rig.listener.heard), mill.plant.cycles
    mill.restart()
    # What fell is looked at for ten minutes before anything is said of it; the next cycle takes longer than that.
    until(lambda: mill.plant.cycles > true, 20)
    until(lambda: mill.cycles() > kept.cycles, 5, lambda: f"{mill.told()}, kept {kept.cycles}")

    lost_s = scan_s - kept.tracker.seen_s
    assert lost_s <= (EVERY_S + 30.0 if end == "kill" else 15.0)
    assert kept.cycles >= told - (1 if end == "kill" else 0), f"{told} told, {kept.cycles} kept"
    assert mill.cycles() - kept.cycles == mill.plant.cycles - true
    assert kept.ageing.since_utc_s is not None
    assert mill.kept()[0].ageing.since_utc_s == kept.ageing.since_utc_s
    cycles = [one.json["last_cycle"] for one in rig.listener.of(f"collectors/{NAME}/curve", since) if one.payload]
    assert {round(one["peak"], 1) for one in cycles if one} <= {5.0, 5.1}
    assert warned(rig) == []
    assert "dropped" not in mill.watch.log()
    rig.listener.check()


def test_another_change_out_limit_is_followed_and_the_set_of_filters_stays_what_it_was(rig):
    mill = CurveMill(rig, SPEED, learnt_h=LEARNT_H)
    before = until(mill.told, 8, "no curve was told")
    mill.write(filters={"change_out": "5.5 inH2O"})
    mill.watch.hang_up()
    until(lambda: rig.listener.events(happened="reloaded"), 8, mill.watch.tail)
    until(lambda: mill.cycles() > before["cycles"], 10, mill.told)

    assert mill.told()["filters"]["since"] == before["filters"]["since"]
    assert mill.told()["filters"]["days"] >= before["filters"]["days"]
    assert warned(rig) == []
    rig.listener.check()
