"""What DEVELOPERS.md says of an alarm's life and of causes is generated: from what runs, and what is tested.

python -m tests.house.test_diagram        writes it anew
"""

import re
from pathlib import Path

import pytest

from monitor.interpret.causes.rules import table_text
from monitor.judge import diagram
from monitor.judge.table import rows
from monitor.words import AlarmState
from tests.judge.model.invariants import OF_AN_ALARM
from tests.judge.model.together import OF_A_COLLECTOR

PAGE = Path(__file__).parents[2] / "DEVELOPERS.md"


def sentences(invariants):
    """Each invariant's name and the first sentence of its docstring, as a list."""
    return "\n".join(f"- `{one.__name__}`: {' '.join(one.__doc__.split())}" for one in invariants)


GENERATED = {
    "rules of causes": table_text().strip(),
    "diagram": f"```mermaid\n{diagram.mermaid()}\n```",
    "table": diagram.markdown(),
    "invariants of an alarm": sentences(OF_AN_ALARM),
    "invariants of a collector": sentences(OF_A_COLLECTOR),
}


def between(name):
    return re.compile(rf"(?<=<!-- {name}: generated -->\n\n).*?(?=\n\n<!-- end -->)", re.DOTALL)


@pytest.mark.parametrize("name", GENERATED)
def test_the_page_shows_what_the_code_says(name):
    (shown,) = between(name).findall(PAGE.read_text())

    assert shown == GENERATED[name], "write it anew: python -m tests.house.test_diagram"


def test_every_row_of_the_table_is_an_arrow_of_the_diagram():
    drawn = read_back(diagram.mermaid())

    assert drawn == {(state, trigger.replace("_", " "), row.state) for state, trigger, _, row in rows()}


def test_every_row_of_the_table_stands_in_the_cell_of_its_trigger_and_state():
    head, _, *lines = diagram.markdown().splitlines()
    states = [cell.strip() for cell in head.split("|")[2:-1]]
    shown = set()
    for line in lines:
        trigger, *cells = [cell.strip() for cell in line.split("|")[1:-1]]
        for state, cell in zip(states, cells, strict=True):
            shown |= {(state, trigger.strip("*"), re.sub(r" \(.*", "", one)) for one in cell.split(", ") if one}

    assert states == [state.replace("_", " ") for state in AlarmState]
    assert shown == {
        tuple(word.replace("_", " ") for word in (state, trigger, row.state)) for state, trigger, _, row in rows()
    }


def read_back(text):
    """The rows that a reader of the diagram would write down."""
    ends = {state.value: {state} for state in AlarmState}
    for label, name in re.findall(r'state "(.*)" as (box_\d+)', text):
        others = label.removeprefix("any state but ")
        named = {AlarmState(word.replace(" ", "_")) for word in re.split(" or | and ", others)}
        ends[name] = named if others == label else set(AlarmState) - named
    drawn = set()
    for before, after, words in re.findall(r"(\w+) --> (\w+): (.*)", text):
        for word in words.removesuffix(", to what it was").split(", "):
            said = re.sub(r" \(.*", "", word)
            drawn |= {(one, said, other) for one in ends[before] for other in ends[after]}
    return drawn


def write():
    text = PAGE.read_text()
    for name, generated in GENERATED.items():
        text = between(name).sub(lambda _, generated=generated: generated, text)
    PAGE.write_text(text)


if __name__ == "__main__":
    write()
