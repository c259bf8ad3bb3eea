"""``cakewatch rehearse``: times without a zone, two inches of water, narrow terminals."""

import io
from pathlib import Path

import pytest
from click.testing import CliRunner
from rich.console import Console

from monitor.acquire.traces.opening import open_trace
from monitor.cli.main import main
from monitor.cli.rehearse_screen import screen
from monitor.rehearse.whole import Site, Wish, known_points, rehearse
from monitor.site.load import load

FOLDER = Path(__file__).parents[2] / "fixtures" / "traces"
BETTER, NOW, TRACE = (str(FOLDER / name) for name in ("better.yaml", "now.yaml", "alder-mill.csv"))


def run(*arguments):
    return CliRunner().invoke(main, ["rehearse", *arguments])


@pytest.mark.parametrize(("zone", "raised"), [("UTC", "08:32"), ("+05:30", "03:02"), ("Europe/Berlin", "07:32")])
def test_times_without_a_zone_are_taken_where_they_were_recorded(tmp_path, zone, raised):
    local = tmp_path / "local.csv"
    local.write_text(Path(TRACE).read_text().replace("Z,", ","))

    assert f"2026-03-01 {raised}:24" in run(BETTER, str(local), "--zone", zone).output
    assert "--zone" in run(BETTER, str(local)).stderr


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["--map", "x=PDT-101"], 3, "no recording has a column headed 'x'"),
        (["--zone", "Nowhere/At"], 2, "must be UTC"),
        (["--svg", "/none/r.svg"], 3, "cannot be written"),
    ],
)
def test_an_option_that_cannot_be_followed_is_said_in_a_sentence(arguments, code, words):
    result = run(BETTER, TRACE, *arguments)

    assert result.exit_code == code
    assert words in " ".join(result.stderr.split())


def test_the_site_files_must_mean_the_same_inch(tmp_path):
    other = tmp_path / "other.yaml"
    text = Path(BETTER).read_text().replace("name: Alder Mill", "name: Alder Mill\n  inch_of_water: 60 degF")
    other.write_text(text)

    result = run(BETTER, TRACE, "--against", str(other))

    assert (result.exit_code, "different inches" in result.stderr) == (2, True)


@pytest.mark.parametrize("width", [60, 80, 140])
def test_every_band_has_its_row_however_narrow_the_terminal(width):
    sites = [Site(Path(name).name, load(Path(name), {})) for name in (BETTER, NOW)]
    found = rehearse(sites, [open_trace(Path(TRACE), known_points(sites))], Wish())
    console = Console(width=width, record=True, file=io.StringIO())

    console.print(screen(found, width=width))

    lines = console.export_text().splitlines()
    assert max(map(len, lines)) <= width
    strips = [line for line in lines if line.lstrip().startswith("PD") and set("·█") & set(line)]
    assert {len(line) for line in strips} == {width - 1}
    assert len(strips) == 10
