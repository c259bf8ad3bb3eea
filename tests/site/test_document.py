"""The text of a site file: read as written, bounded, and with a line for everything."""

import time

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from monitor.site import document
from monitor.site.problems import Place


def read(text: str) -> document.Document:
    return document.read(text.encode())


@pytest.mark.parametrize("text", ["on", "off", "yes", "NO", "true", "null", "~", "017", "0x10", "1e3", "12:30:00"])
def test_a_value_stays_the_text_that_was_written(text):
    assert read(f"key: {text}\n").data == {"key": text}


@pytest.mark.parametrize("text", ["no", "on", "017", "1e3", "null", "2026-01-01", "=", "1_000"])
def test_a_key_stays_the_text_that_was_written(text):
    assert read(f"{text}: value\n").data == {text: "value"}


def test_every_key_and_item_has_its_line_and_column():
    found = read("a:\n  b: 1\n  c:\n    - x\n    - y\n")

    assert found.places == {
        ("a",): Place(1, 1),
        ("a", "b"): Place(2, 3),
        ("a", "c"): Place(3, 3),
        ("a", "c", 0): Place(4, 7),
        ("a", "c", 1): Place(5, 7),
    }


def test_a_missing_key_is_placed_where_its_block_begins():
    found = read("a:\n  b: 1\n")

    assert found.place_of(("a", "z", "y")) == Place(1, 1)


def test_a_byte_order_mark_is_no_part_of_the_first_key():
    assert document.read(b"\xef\xbb\xbfa: 1\n").data == {"a": "1"}


def test_windows_line_ends_change_nothing():
    assert document.read(b"a: 1\r\nb: 2\r\n").data == {"a": "1", "b": "2"}


def test_a_repeated_key_keeps_its_first_value_and_names_both_lines():
    found = read("a: 1\nb: 2\na: 3\n")

    assert found.data["a"] == "1"
    assert [str(problem) for problem in found.problems] == ["a: stands twice, on lines 1 and 3: keep one of them"]


def test_a_file_larger_than_the_bound_is_not_parsed():
    found = document.read(b"a: 1\n" * 200_001)

    assert [problem.wanted for problem in found.problems] == [
        "is larger than a site file can be: 1,000,000 bytes at most"
    ]


@pytest.mark.parametrize(
    "text",
    [
        "[" * 900_000,
        "{a: " * 200_000,
        "- " * 400_000,
        "? " * 400_000,
        "a: &a [x]\n" + "".join(f"k{n}: [*a, *a]\n" for n in range(50_000)),
        "'" * 999_999,
        "\\" * 999_999,
        "#" * 999_999,
        "a: b\n" * 150_000,
        "!" * 999_999,
        "%" * 999_999,
    ],
    ids=lambda text: repr(text[:8]),
)
def test_a_bomb_of_the_largest_size_is_answered_quickly(text):
    began = time.perf_counter()
    found = read(text)

    assert time.perf_counter() - began < 5.0
    assert found.problems or not found.data


@given(st.binary(max_size=300))
def test_any_bytes_end_in_a_document(raw):
    found = document.read(raw)

    assert isinstance(found.data, dict)
    assert found.data or found.problems or raw


@given(st.text(alphabet="abc:-?[]{}&*!|>'\"%@`#,\n\t <=~\\", max_size=60))
def test_any_text_of_yaml_s_own_characters_ends_in_a_document(text):
    found = read(text)

    assert found.is_whole or found.problems


def test_the_slow_parser_finds_the_same(monkeypatch):
    """Where PyYAML was built without libyaml the pure Python parser has to do."""
    text = "a: 1\nb:\n  - x\n  - 'y: z'\nc: {d: }\na: 2\n"
    fast = read(text)
    monkeypatch.setattr(document, "_LOADER", yaml.SafeLoader)
    slow = read(text)

    assert (slow.data, slow.places, slow.problems) == (fast.data, fast.places, fast.problems)


@pytest.mark.parametrize(
    "text", ["[" * 2000, "a: '\\UFFFFFFFF'", 'a: "\\UFFFFFFFF"', "a: b: c", "a: [1", "\ta: b", "@"]
)
def test_the_slow_parser_breaks_on_nothing(monkeypatch, text):
    monkeypatch.setattr(document, "_LOADER", yaml.SafeLoader)

    assert isinstance(read(text), document.Document)
