"""Text messages: the 7-bit alphabet of 3GPP TS 23.038 §6.2.1, and nothing that counts double."""

from hypothesis import given
from hypothesis import strategies as st

from monitor.tell.phone.wording_gsm import ALPHABET, clip, gsm, is_gsm, plain

#: The table of the standard row by row (low half of the code, then the high half), as it is printed there.
TABLE = (
    "@Δ 0¡P¿p£_!1AQaq$Φ\"2BRbr¥Γ#3CScsèΛ¤4DTdtéΩ%5EUeuùΠ&6FVfvìΨ'7GWgwòΣ(8HXhxÇΘ)9IYiy\nΞ*:JZjz"
    "Ø\x1b+;KÄkäøÆ,<LÖlö\ræ-=MÑmñÅß.>NÜnüåÉ/?O§oà"
)


def test_the_alphabet_is_the_standards_basic_table_without_its_three_controls():
    assert len(TABLE) == 128
    assert frozenset(TABLE) - set("\n\r\x1b") == ALPHABET
    assert not ALPHABET & set("^{}\\[~]|€\f"), "the extension table counts double"


@given(st.text(max_size=400))
def test_any_text_comes_out_in_the_alphabet_and_on_one_line(text):
    told = gsm(text)

    assert is_gsm(told)
    assert told == " ".join(told.split())


def test_what_has_a_likeness_keeps_its_meaning():
    assert gsm("6 – 7 inH₂O ≥ 5 °C … “no”") == '6 - 7 inH2O >= 5 deg C .. "no"'
    assert gsm("Łódź, Kraków, Čáp") == "?ódz, Kraków, Cáp".replace("ó", "o").replace("á", "a")
    assert gsm("Müller, Åse, Ñandú") == "Müller, Åse, Ñandu"


@given(st.text(max_size=300), st.integers(0, 200))
def test_a_clipped_text_is_never_longer_than_its_room(text, most):
    assert len(clip(text, most)) <= most


def test_a_clipped_text_ends_with_a_whole_word_and_two_dots():
    assert clip("the header does not recover between pulses", 22) == "the header does not.."


@given(st.text(max_size=300))
def test_plain_text_has_no_control_characters_and_one_line(text):
    assert plain(text).isprintable()
