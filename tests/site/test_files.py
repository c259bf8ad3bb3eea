"""The files in fixtures/site: good ones are silent, bad and risky ones say exactly what stands beside them."""

from pathlib import Path

import pytest

from monitor.site.load import load
from monitor.site.problems import SiteFileError

FILES = Path(__file__).parents[2] / "fixtures" / "site"


def files_in(folder: str) -> list[Path]:
    found = sorted((FILES / folder).glob("*.yaml"))
    assert found, f"fixtures/site/{folder} is empty"
    return found


def by_stem(path: Path) -> str:
    return path.stem


def local(text: str, path: Path) -> str:
    return text.replace(f"{path.parent}/", "") + "\n"


@pytest.mark.parametrize("path", files_in("good"), ids=by_stem)
def test_a_good_file_has_no_warning(path):
    assert load(path, {}).warnings == ()


@pytest.mark.parametrize("path", files_in("bad"), ids=by_stem)
def test_a_bad_file_says_every_fault_to_the_letter(path):
    with pytest.raises(SiteFileError) as caught:
        load(path, {})

    assert local(str(caught.value), path) == path.with_suffix(".txt").read_text(encoding="utf-8")


@pytest.mark.parametrize("path", files_in("risky"), ids=by_stem)
def test_a_risky_file_is_valid_and_says_every_risk_to_the_letter(path):
    plan = load(path, {})

    assert plan.warnings
    assert local("\n".join(plan.warnings), path) == path.with_suffix(".txt").read_text(encoding="utf-8")


@pytest.mark.parametrize("path", [*files_in("bad"), *files_in("risky")], ids=by_stem)
def test_no_sentence_speaks_the_library_s_language(path):
    text = path.with_suffix(".txt").read_text(encoding="utf-8").casefold()

    for jargon in ("pydantic", "validation", "input should", "extra inputs", "http://", "https://", "traceback"):
        assert jargon not in text


def test_every_expected_text_has_its_file():
    texts = [*(FILES / "bad").glob("*.txt"), *(FILES / "risky").glob("*.txt")]
    orphans = [text.name for text in texts if not text.with_suffix(".yaml").exists()]

    assert orphans == ["secret.txt"]
