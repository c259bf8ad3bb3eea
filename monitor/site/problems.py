"""Problems: what is wrong or risky in a site file, and where.

Every sentence names the place, the rule, what was found, and so the way out. What was found is shown only
where it cannot be a secret: nothing below a key that sounds like one, and nothing that carries an ``@``.
"""

from dataclasses import dataclass

from monitor.errors import CakewatchError

#: A key's place in the file: section names and list positions, from the top.
KeyPath = tuple[str | int, ...]

#: The longest piece of the file that is repeated in a sentence, characters.
SHOWN_AT_MOST = 60

#: The most problems of one file that are printed; one slip of indentation can make hundreds.
PRINTED_AT_MOST = 200

_SOUNDS_SECRET = ("password", "passwd", "secret", "token", "passphrase", "credential")


@dataclass(frozen=True, slots=True)
class Place:
    """Where something stands, counted from 1; line 0 is the file as a whole."""

    line: int
    column: int


@dataclass(frozen=True, slots=True)
class Problem:
    """One fault.

    Attributes:
        key: dotted path from the top of the file; empty where the file as a whole is meant.
        found: what stands there, ready to print; empty where there is nothing to show.
        wanted: what would be right, a clause that goes on from the key ("must be …").
    """

    line: int
    column: int
    key: str
    found: str
    wanted: str

    def __str__(self) -> str:
        """Return the sentence without its file and line."""
        subject = f"{self.key}: " if self.key else ""
        found = f" (found {self.found})" if self.found else ""
        return f"{subject}{self.wanted}{found}"


class SiteFileError(CakewatchError):
    """The site file is wrong; carries every problem found, in the order of the file."""

    def __init__(self, file: str, problems: tuple[Problem, ...]) -> None:
        self.file = file
        self.problems = problems
        super().__init__("\n".join(self.lines()))

    def lines(self) -> list[str]:
        """Return one line for each problem: ``FILE:LINE: key: sentence``."""
        lines = [at(self.file, problem.line, str(problem)) for problem in self.problems[:PRINTED_AT_MOST]]
        rest = len(self.problems) - PRINTED_AT_MOST
        return [*lines, f"{self.file}: and {rest} more"] if rest > 0 else lines


def at(file: str, line: int, sentence: str) -> str:
    """Return a sentence with its file and line before it."""
    return f"{file}:{line}: {sentence}" if line else f"{file}: {sentence}"


def dotted(path: KeyPath) -> str:
    """Return a key path as a person writes it: ``collectors.DC-101.bands.PDAH-101.on_delay``."""
    text = ""
    for part in path:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}"
    return text.removeprefix(".")


def shown(value: object, path: KeyPath = ()) -> str:
    """Return what stands at a place, fit to print: quoted, shortened, and never a secret."""
    match value:
        case str() if sounds_secret(path) or "@" in value:
            return "a text that is not shown"
        case "":
            return "an empty text"
        case str():
            flat = " ".join(value.split())
            return f'"{flat}"' if len(flat) <= SHOWN_AT_MOST else f'"{flat[:SHOWN_AT_MOST]}…"'
        case dict():
            return "a block of keys"
        case list():
            return "a list"
    return "nothing"


def sounds_secret(path: KeyPath) -> bool:
    """Whether any key on the way down sounds as if a secret stood below it."""
    return any(isinstance(part, str) and word in part.casefold() for part in path for word in _SOUNDS_SECRET)
