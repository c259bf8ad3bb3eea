"""Wording, GSM: text in the 7-bit alphabet of text messages, where 160 characters are 160 characters.

One character outside the alphabet turns the whole message into 16-bit text of 70 characters; one of its extension
table (brackets, braces, tilde, the euro) counts as two. So neither is ever used. Source: 3GPP TS 23.038 §6.2.1.
"""

import unicodedata

_SIGNS = "@£$¥èéùìòÇØøÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?¡ÄÖÑÜ§¿äöñüà"
#: The basic alphabet without line feed, carriage return and escape.
ALPHABET = frozenset(_SIGNS + "ABCDEFGHIJKLMNOPQRSTUVWXYZ" + "abcdefghijklmnopqrstuvwxyz")

_INSTEAD = str.maketrans(
    {
        **dict.fromkeys("–—−‐‑‒~", "-"),
        **dict.fromkeys("‘’`´′", "'"),
        **dict.fromkeys("“”„″«»", '"'),
        **dict.fromkeys("[{", "("),
        **dict.fromkeys("]}", ")"),
        **dict.fromkeys("|\\", "/"),
    }
    | {"·": ".", "×": "x", "÷": "/", "^": "'", "µ": "u", "μ": "u", "°": " deg "}
    | {"…": "..", "≥": ">=", "≤": "<=", "≈": "about ", "±": "+/-", "→": "->", "€": "EUR"}
)


def plain(text: object, most: int = 200) -> str:
    """What somebody wrote, on one line, without control characters, and at most that many characters long."""
    seen = "".join(" " if unicodedata.category(one)[0] in "CZ" else one for one in str(text))
    return clip(" ".join(seen.split()), most)


def gsm(text: object) -> str:
    """The text on one line in the basic alphabet; what has no likeness in it becomes a question mark."""
    swapped = plain(text, 2000).translate(_INSTEAD)
    return " ".join("".join(map(_likeness, swapped)).split())


def is_gsm(text: str) -> bool:
    """Whether every character counts once in a text message."""
    return ALPHABET.issuperset(text)


def clip(text: str, most: int) -> str:
    """The text if it fits, else as many of its words as do, with two dots behind; never longer than ``most``."""
    if len(text) <= most:
        return text
    if most < 4:
        return text[: max(most, 0)]
    kept = text[: most - 2]
    words, _, begun = kept.rpartition(" ")
    # A long last word is cut: only a short one may be left out whole.
    kept = words if words and len(begun) < most // 3 else kept
    return f"{kept.rstrip(' ,;:(')}.."


def _likeness(one: str) -> str:
    if one in ALPHABET:
        return one
    base = unicodedata.normalize("NFKD", one)
    found = "".join(sign for sign in base if sign in ALPHABET)
    return found or ("" if unicodedata.combining(one) else "?")
