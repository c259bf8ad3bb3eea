"""Syntax: what the YAML parser's own words for a broken file mean to the person who wrote it."""

import re

# The parser's phrase (libyaml's, then the Python reader's where it differs) beside ours, the first that fits.
_SENTENCES = (
    (
        "mapping values are not allowed",
        "a colon stands where none can: check the indentation and the space behind each colon, or quote the value",
    ),
    ("could not find expected ':'", 'no colon and space follow the key: write "key: value"'),
    ("cannot start any token", "begins with a character that YAML keeps for itself: quote the value"),
    ("unexpected end of stream", "a quotation mark is opened here and never closed"),
    ("did not find expected key", "the indentation fits no line above it, or quotes are missing around a value"),
    ("expected <block end>", "the indentation fits no line above it, or quotes are missing around a value"),
    ("expected ',' or", "a bracket or brace is opened and not closed, or a comma is missing"),
    ("unknown escape", "a backslash in double quotes begins an escape: use single quotes, or write \\\\"),
    ("nesting depth", "is nested deeper than any site file"),
    ("block sequence entries are not allowed", "a list item stands where none can: check the indentation"),
)


def sentence_for(phrase: str) -> str:
    """Return what to tell the person for the parser's phrase. Never quotes the file: it may hold a secret."""
    for theirs, ours in _SENTENCES:
        if theirs in phrase:
            return ours
    plain = re.sub(r"'[^']*'|\"[^\"]*\"", "…", phrase)
    return f"is not well-formed YAML: {plain}" if plain else "is not well-formed YAML"
