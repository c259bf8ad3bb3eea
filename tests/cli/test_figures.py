"""``cakewatch figures`` on a real store: at rest, and while another process writes into it."""

import asyncio
import json
import subprocess
import sys
import time
from datetime import UTC, datetime, timedelta

import pytest
from click.testing import CliRunner

from monitor.cli.main import main
from monitor.judge.performance.span import DAY_S, HOUR_S
from monitor.words import Priority
from tests.judge.story import T0, Story
from tests.remember.making import DP_101, a_reading, opened

SITE = """\
site: {name: Alder Mill}
store: {folder: store}
links:
  mill-gateway: {protocol: modbus-tcp, host: 127.0.0.1}
collectors:
  DC-101:
    dp:
      tag: PDT-101
      link: mill-gateway
      unit_id: 1
      reference_number: 30003
      encoding: uint16
      loop: {counts_at_4_ma: 819, counts_at_20_ma: 4095, at_4_ma: 0 inH2O, at_20_ma: 10 inH2O}
"""


@pytest.fixture
def site(tmp_path):
    path = tmp_path / "site.yaml"
    path.write_text(SITE)
    return path


def ask(site, *options):
    return CliRunner().invoke(main, ["figures", str(site), *options])


def fill(site, events, readings=()):
    async def story() -> None:
        async with opened(site.parent / "store", keep_history_s=1e11) as store:
            store.append(events, {}, 1.0)
            for at_utc_s in readings:
                store.record(DP_101, a_reading(at_utc_s))
            await store.flush()

    asyncio.run(story())


def lately(hours_ago):
    """Seconds from ``T0`` to so long ago by the real clock, which is the one the command asks."""
    return time.time() - T0 - hours_ago * HOUR_S


def a_week():
    story = Story()
    story.started(0)
    for n in range(14):
        story.pulse(n * DAY_S / 2 + 600, priority=Priority.LOW)
    story.stopped(7 * DAY_S)
    return story


def test_a_period_is_told_as_a_table(site):
    fill(site, a_week().events)
    told = ask(site, "--since", "2025-06-15T15:06:40", "--until", "2025-06-22T15:06:40Z")
    assert (told.exit_code, told.stderr) == (0, "")
    assert "2025-06-15 15:06:40 UTC to 2025-06-22 15:06:40 UTC (7 d)" in told.stdout
    assert "alarms raised, all operators             14" in told.stdout
    # 14 alarms in 7 days.
    assert "average in a day                          2  150, at most 300 [2] within" in told.stdout
    assert max(map(len, told.stdout.splitlines())) <= 80


def test_the_json_has_the_same(site):
    fill(site, a_week().events)
    told = ask(site, "--until", "2025-06-22T10:06:40-05:00", "--last", "7d", "--operators", "2", "--json")
    shown = json.loads(told.stdout)
    assert (shown["site"], shown["operators"], shown["period_s"]) == ("Alder Mill", 2, 7 * DAY_S)
    assert shown["figures"]["average_per_day"]["value"] == 1.0
    assert shown["figures"]["raised"]["value"] == 14


def test_the_last_thirty_days_are_asked_for_unless_told_otherwise(site):
    fill(site, a_week().events)
    shown = json.loads(ask(site, "--json").stdout)
    assert shown["period_s"] == pytest.approx(30 * DAY_S)
    assert shown["watched_s"] == 0  # it stopped long ago


def test_a_daemon_that_died_is_not_taken_to_watch_still(site):
    story = Story()
    shift_s = lately(48)
    story.started(shift_s)
    story.pulse(shift_s + HOUR_S)
    fill(site, story.events, [T0 + shift_s + 6 * HOUR_S])
    shown = json.loads(ask(site, "--last", "2d", "--json").stdout)
    assert shown["watched_s"] == pytest.approx(6 * HOUR_S, abs=60)


def test_a_daemon_that_recorded_nothing_watched_until_its_last_event(site):
    story = Story()
    shift_s = lately(48)
    story.started(shift_s)
    story.pulse(shift_s + HOUR_S, length_s=60.0)
    fill(site, story.events)
    assert json.loads(ask(site, "--last", "3d", "--json").stdout)["watched_s"] == pytest.approx(HOUR_S + 60)


def test_without_a_history_a_daemon_that_told_no_end_is_taken_to_watch(site):
    story = Story()
    story.started(lately(3))
    fill(site, story.events)
    (site.parent / "store" / "history.db").unlink()
    assert json.loads(ask(site, "--last", "2h", "--json").stdout)["watched_s"] == pytest.approx(2 * HOUR_S)


def test_a_history_that_goes_on_after_the_period_proves_that_it_was_watched(site):
    story = Story()
    shift_s = lately(200 * 24)
    story.started(shift_s)
    fill(site, story.events, [time.time() - 5])  # older rows are long gone
    until = (datetime.fromtimestamp(T0 + shift_s, UTC) + timedelta(days=20)).isoformat()
    shown = json.loads(ask(site, "--last", "7d", "--until", until, "--json").stdout)
    assert shown["watched_s"] == pytest.approx(7 * DAY_S)


def test_a_daemon_whose_history_reaches_now_watches(site):
    story = Story()
    shift_s = lately(3)
    story.started(shift_s)
    fill(site, story.events, [time.time() - 5])
    shown = json.loads(ask(site, "--last", "2h", "--json").stdout)
    assert shown["watched_s"] == pytest.approx(2 * HOUR_S)


def test_it_can_be_asked_while_the_daemon_writes(site):
    async def story() -> None:
        async with opened(site.parent / "store") as store:
            store.append(a_week().events, {}, 1.0)
            await store.flush()
            asked = await asyncio.create_subprocess_exec(
                *(sys.executable, "-m", "monitor", "figures", str(site), "--json", "--since", "2025-06-15"),
                stdout=subprocess.PIPE,
            )
            answer, _ = await asked.communicate()
            assert asked.returncode == 0
            assert json.loads(answer)["figures"]["raised"]["value"] == 14
            assert store.figures().healthy

    asyncio.run(story())


def test_a_store_that_is_not_there_is_a_sentence(site):
    told = ask(site)
    assert told.exit_code == 3
    assert "no daemon has run with this site file yet" in told.stderr
    assert not (site.parent / "store").exists()


def test_a_wrong_site_file_is_a_sentence(site):
    site.write_text("site: {}\n")
    assert ask(site).exit_code == 2


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        (["--since", "yesterday"], "must be a date or a time such as 2026-03-01"),
        (["--last", "7"], "must be a duration from 10 min to 7300 d, such as 7d or 12h, not '7'"),
        (["--last", "1s"], "must be a duration"),
        (["--since", "2025-06-15", "--last", "7d"], "give one of them"),
        (["--since", "2025-06-15", "--until", "2025-06-14"], "ends before it begins"),
        (["--since", "2999-01-01"], "ends before it begins"),
        (["--operators", "0"], "0 is not in the range"),
    ],
)
def test_a_wrong_option_is_a_sentence(site, options, sentence):
    told = ask(site, *options)
    assert told.exit_code == 2
    assert sentence in " ".join(told.stderr.split())


def test_who_looks_at_figures_needs_nobodys_secret(site):
    site.write_text(SITE + "commands: {people: {anna: {may: all, token_env: CAKEWATCH_TOKEN_ANNA}}}\n")
    result = CliRunner().invoke(main, ["figures", str(site)], env={})

    assert "CAKEWATCH_TOKEN_ANNA" not in result.output
    assert result.exit_code == 3  # there is no journal yet
