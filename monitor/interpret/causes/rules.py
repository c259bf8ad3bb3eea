"""Rules: the whole table, and how it is printed."""

from monitor.interpret.causes.clues import CONDITIONS
from monitor.interpret.causes.rule import CANNOT_TELL, Rule
from monitor.interpret.causes.rules_air import AIR_RULES
from monitor.interpret.causes.rules_cleaning import CLEANING_RULES
from monitor.interpret.causes.rules_signal import SIGNAL_RULES

#: One rule a trouble; of equals the first here is named first.
RULES: tuple[Rule, ...] = (*CLEANING_RULES, *AIR_RULES, *SIGNAL_RULES)


def table_text() -> str:
    """Return the rules and the clues as two tables in Markdown."""
    cannot = f'A trouble must outweigh "cannot tell" ({CANNOT_TELL:+g}).'
    return f"{cannot}\n\n{_rules_text()}\n\n{_clues_text()}\n"


def _rules_text() -> str:
    head = "| trouble | comes into question | clue | weight | source |\n|---|---|---|---:|---|"
    return "\n".join([head, *(line for rule in RULES for line in _lines(rule))])


def _lines(rule: Rule) -> list[str]:
    opening = ", ".join(f"{about.value} {doublings:+g}" for about, doublings in rule.opening.items())
    heads = [f"{rule.trouble.value} | {opening}", *[" | "] * (len(rule.says) - 1)]
    return [
        f"| {head} | {says.kind.value} | {says.weight:+g} | {says.source} |"
        for head, says in zip(heads, rule.says, strict=True)
    ]


def _clues_text() -> str:
    rows = (f"| {kind.value} | {condition.text()} |" for kind, condition in CONDITIONS.items())
    return "\n".join(["| clue | shows when |", "|---|---|", *rows])
