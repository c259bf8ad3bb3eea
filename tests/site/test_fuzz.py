"""Fuzz: whatever is done to a good file, it is a plan or a list of problems, and nothing else."""

import re
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.site import describing
from monitor.site.load import load
from monitor.site.problems import SiteFileError

CONFIG = Path(__file__).parents[2] / "config"
WHOLE = (CONFIG / "site.example.yaml").read_text(encoding="utf-8")


def switched_on(text: str) -> str:
    """The reference with the people and the annunciator that it keeps in comments."""
    head, tail = text.split("\ncommands:", 1)
    kept = [line for line in tail.splitlines() if not line.startswith(("  people: {}", "annunciator: none"))]
    bare = [re.sub(r"^( *)# (?= *[a-z_-]+:)", r"\1", line) for line in kept]
    return f"{head}\ncommands:" + "\n".join(bare) + "\n"


LINES = [line for line in switched_on(WHOLE).splitlines() if line.strip() and not line.strip().startswith("#")]
ENVIRON = {
    "CAKEWATCH_TOKEN_ANNA": "invented-token-of-nobody",
    "CAKEWATCH_PAGE_ANNA": "$argon2id$v=19$m=19456,t=2,p=1$aW52ZW50ZWQ$bm9ib2R5",
    "CAKEWATCH_ANNA_PUSH": "json://127.0.0.1:9/anna",
    "CAKEWATCH_ANNA_TEXT": "json://127.0.0.1:9/text",
    "CAKEWATCH_BEN_MAIL": "json://127.0.0.1:9/ben",
    "CAKEWATCH_PING": "http://127.0.0.1:9/ping",
}
WORDS = st.sampled_from(
    [
        "",
        "0",
        "-1",
        "1e3",
        "6 inH2O",
        "-6 s",
        "none",
        "never",
        "yes",
        "on",
        "{}",
        "[]",
        "{a: b}",
        "[x, y]",
        "~",
        "''",
        "400001",
        "30001",
        "65536",
        "1e400 Pa",
        "coil",
        "float32",
        "residual",
        "*x",
        "&x y",
        "x: y",
        "DC-101",
        "PDT-101",
        "9" * 400,
        "mill-gateway",
        "all",
        "[clear, x]",
        "[[]]",
        "healthy",
        "0 Pa",
        "low-first",
        "٣ s",
        "\x85",
        "\ufeff",
        "#",
        "'",
        '"',
        "%",
        "@",
        "- x",
    ]
)


def outcome(text: str, path: Path) -> None:
    path.write_text(text, encoding="utf-8", errors="surrogatepass")
    try:
        plan = load(path, ENVIRON)
    except SiteFileError as error:
        found = error
    else:
        assert list(describing.describe(plan))
        return
    assert found.problems
    assert all(line.startswith(str(path)) for line in str(found).splitlines())
    assert all(problem.wanted for problem in found.problems)


def test_the_lines_to_be_edited_are_a_good_file_with_every_block(tmp_path):
    path = tmp_path / "site.yaml"
    path.write_text("\n".join(LINES), encoding="utf-8")
    plan = load(path, ENVIRON)

    assert (plan.annunciator is not None, set(plan.commands.people)) == (True, {"anna", "ben"})


@settings(max_examples=150, deadline=None)
@given(edits=st.lists(st.tuples(st.integers(0, len(LINES) - 1), WORDS), min_size=1, max_size=6))
def test_other_values_never_end_in_a_traceback(tmp_path_factory, edits):
    lines = list(LINES)
    for number, word in edits:
        key, colon, _ = lines[number].partition(": ")
        lines[number] = f"{key}{colon}{word}" if colon else lines[number]

    outcome("\n".join(lines), tmp_path_factory.getbasetemp() / "values.yaml")


@settings(max_examples=150, deadline=None)
@given(data=st.data())
def test_lines_dropped_doubled_and_moved_never_end_in_a_traceback(tmp_path_factory, data):
    lines = list(LINES)
    for _ in range(data.draw(st.integers(1, 5))):
        number = data.draw(st.integers(0, len(lines) - 1))
        match data.draw(st.sampled_from(["drop", "double", "move", "indent"])):
            case "drop":
                del lines[number]
            case "double":
                lines.insert(data.draw(st.integers(0, len(lines))), lines[number])
            case "move":
                lines.insert(data.draw(st.integers(0, len(lines) - 1)), lines.pop(number))
            case "indent":
                lines[number] = "  " + lines[number]

    outcome("\n".join(lines), tmp_path_factory.getbasetemp() / "lines.yaml")


@settings(max_examples=150, deadline=None)
@given(position=st.integers(0, len(WHOLE)), junk=st.text(max_size=5), length=st.integers(0, 40))
def test_characters_put_in_and_taken_out_never_end_in_a_traceback(tmp_path_factory, position, junk, length):
    edited = WHOLE[:position] + junk.encode("utf-8", "replace").decode() + WHOLE[position + length :]

    outcome(edited, tmp_path_factory.getbasetemp() / "characters.yaml")


SCALAR = st.one_of(WORDS, st.text(alphabet="abc019.- sPahinH2O", max_size=12))
KEY = st.sampled_from(
    [
        "site",
        "links",
        "collectors",
        "store",
        "mqtt",
        "http",
        "name",
        "dp",
        "bands",
        "loop",
        "tag",
        "link",
        "protocol",
        "never_read",
        "threshold",
        "bit",
        "cleaning",
        "damping",
        "suppress",
        "lost",
        "commands",
        "people",
        "may",
        "token_env",
        "annunciator",
        "horn",
        "unit_id",
        "x",
        "[key]",
        "modbus-tcp",
        "__class__",
        "model_fields",
    ]
)
TREE = st.recursive(
    SCALAR,
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(KEY, inner, max_size=5)),
    max_leaves=25,
)


def as_flow(tree: object) -> str:
    if isinstance(tree, dict):
        return "{" + ", ".join(f"{key}: {as_flow(item)}" for key, item in tree.items()) + "}"
    if isinstance(tree, list):
        return "[" + ", ".join(as_flow(item) for item in tree) + "]"
    return "'" + str(tree).replace("'", "''").replace("\u0085", "") + "'"


@settings(max_examples=200, deadline=None)
@given(tree=TREE)
def test_any_tree_of_keys_never_ends_in_a_traceback(tmp_path_factory, tree):
    outcome(as_flow(tree), tmp_path_factory.getbasetemp() / "tree.yaml")
