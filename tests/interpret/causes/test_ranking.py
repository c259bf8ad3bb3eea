"""The ranking: one worked example a trouble, and the laws that hold for any evidence whatever."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.interpret.causes.kinds import ASPECT_OF, Kind
from monitor.interpret.causes.ranking import About, suspect, weigh, weight
from monitor.interpret.causes.rules import RULES
from monitor.interpret.symptoms.symptoms import Symptoms
from monitor.troubles import Clue, Sign, Trouble
from tests.interpret.causes.worked import COMPANIONS, SOUND, WORKED, bare

CLUES = st.sets(st.sampled_from(Kind)).map(
    lambda kinds: {kind: Clue(kind.value) for kind in Kind if kind in kinds}
)
ABOUTS = st.sampled_from(About)
RULE_OF = {rule.trouble: rule for rule in RULES}


@pytest.mark.parametrize("trouble", WORKED)
def test_each_trouble_is_named_first_where_its_evidence_is_whole(trouble):
    about, symptoms = WORKED[trouble]

    first = suspect(symptoms, about)[0]

    assert first.trouble is trouble
    assert first.share > 0.4
    assert first.clues


def test_every_trouble_has_a_worked_example_and_a_rule():
    assert set(WORKED) == set(Trouble) == set(RULE_OF)
    assert len(RULES) == len(Trouble)


@pytest.mark.parametrize("about", About)
def test_where_nothing_is_known_nothing_is_said(about):
    assert suspect(Symptoms(), about) == ()


@pytest.mark.parametrize("about", [About.HIGH, About.LOW, About.WARNING])
def test_a_collector_in_good_order_blames_nobody(about):
    assert suspect(SOUND, about) == ()


@pytest.mark.parametrize("trouble", WORKED)
def test_without_companions_the_list_is_never_surer_of_something_else(trouble):
    about, symptoms = WORKED[trouble]
    sure = suspect(symptoms, about)[0].share

    for suspicion in suspect(bare(symptoms), about):
        assert suspicion.trouble is trouble or suspicion.share < sure


@pytest.mark.parametrize("name", COMPANIONS)
@pytest.mark.parametrize("trouble", WORKED)
def test_one_missing_companion_lets_no_other_trouble_grow_likely(trouble, name):
    about, symptoms = WORKED[trouble]

    listed = suspect(symptoms._replace(**{name: None}), about)

    assert not listed or listed[0].trouble is trouble or listed[0].share < 0.7


@given(shown=CLUES, about=ABOUTS)
def test_shares_are_sorted_and_come_to_less_than_one(shown, about):
    listed = weigh(shown, about)

    shares = [suspicion.share for suspicion in listed]
    assert len(listed) <= 3
    assert shares == sorted(shares, reverse=True)
    assert all(share > 0.0 for share in shares)
    assert sum(shares) < 1.0
    assert len({suspicion.trouble for suspicion in listed}) == len(listed)


@given(shown=CLUES, about=ABOUTS)
def test_every_clue_that_is_told_was_shown_and_speaks_so(shown, about):
    for suspicion in weigh(shown, about):
        says = {one.kind.value: one.weight for one in RULE_OF[suspicion.trouble].says}
        assert all(clue.kind in shown and says[clue.kind] > 0 for clue in suspicion.clues)
        assert all(clue.kind in shown and says[clue.kind] < 0 for clue in suspicion.against)


@given(shown=CLUES, more=st.sampled_from(Kind), about=ABOUTS)
def test_evidence_for_a_trouble_never_lowers_it_and_evidence_against_never_lifts_it(shown, more, about):
    for rule in RULES:
        if about not in rule.opening:
            continue
        before, after = (weight(rule, clues, about) for clues in (shown, shown | {more: Clue(more.value)}))
        says = next((one.weight for one in rule.says if one.kind is more), 0.0)

        assert after >= before if says >= 0 else after <= before


@given(shown=CLUES, about=ABOUTS, trouble=st.sampled_from(Trouble))
def test_evidence_for_one_trouble_alone_never_lowers_its_rank(shown, about, trouble):
    own = [
        says.kind
        for says in RULE_OF[trouble].says
        if says.weight > 0
        and all(s.kind is not says.kind or s.weight < 0 for r in RULES if r.trouble is not trouble for s in r.says)
    ]
    before = [suspicion.trouble for suspicion in weigh(shown, about)]

    for kind in own:
        after = [suspicion.trouble for suspicion in weigh(shown | {kind: Clue(kind.value)}, about)]
        if trouble in before:
            assert trouble in after
            assert after.index(trouble) <= before.index(trouble)


@given(shown=CLUES, about=ABOUTS)
def test_the_order_in_which_clues_are_found_does_not_matter(shown, about):
    assert weigh(dict(reversed(shown.items())), about) == weigh(shown, about)


@pytest.mark.parametrize("sign", Sign)
def test_every_early_warning_is_evidence_by_itself(sign):
    told = suspect(Symptoms(), About.WARNING, sign)

    assert all(clue.kind for suspicion in told for clue in suspicion.clues)


def test_a_rule_is_readable_data():
    for rule in RULES:
        kinds = [says.kind for says in rule.says]
        assert len(kinds) == len(set(kinds)), rule.trouble
        assert all(says.source and says.weight for says in rule.says)
        assert any(says.weight > 0 for says in rule.says)
        assert rule.opening


def test_every_clue_is_used_by_some_rule_and_has_an_aspect():
    used = {says.kind for rule in RULES for says in rule.says}

    assert set(ASPECT_OF) == set(Kind)
    assert set(Kind) - used == set()
