"""claims.toml is read strictly: what is wrong is named with its place and near names."""

from __future__ import annotations

import tomllib
from contextlib import suppress
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rigledger.claims.entry import entry_of
from rigledger.claims.model import Claim, Scope
from rigledger.claims.printed import understood
from rigledger.claims.read import claims_of, read_claims
from rigledger.errors import StudyError
from rigledger.study.section import Section

if TYPE_CHECKING:
    from pathlib import Path

    from rigledger.study.model import Design

HEAD = '[[claims]]\nclaim = "one"\nsentence = "Dawn loses 12 %."\n'
CHANGE = HEAD + 'quantity = "change"\n'


def read(text: str, design: Design) -> tuple[Claim, ...]:
    return claims_of(Section("claims.toml", "", tomllib.loads(text)), design)


def test_a_missing_file_states_nothing(tmp_path: Path, design: Design) -> None:
    assert read_claims(tmp_path / "claims.toml", design) == ()


def test_a_claim_is_read_with_its_scope_and_titles_become_workloads(design: Design) -> None:
    text = CHANGE + (
        'value = "12 % slower"\nscope.workloads = ["Dawn", "mist"]\nscope.cards = ["cp1"]\n'
        'acknowledged = true\nreason = "known"\n'
    )
    scope = Scope((("card", ("cp1",)), ("workload", ("dawn", "mist"))))
    assert read(text, design) == (
        Claim(
            "one", "Dawn loses 12 %.", "change", scope, understood("12 % slower"),
            acknowledged=True, reason="known",
        ),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("text", "column", "says", "step"),
    [
        (CHANGE + 'valu = "12 %"', "claims[1].valu", "unknown key", "did you mean 'value'?"),
        (CHANGE, "claims[1].value", "the quantity change needs it", None),
        (
            CHANGE + 'value = "12 %"',
            "claims[1].value",
            "says neither gain nor loss",
            'write direction = "gain" or "loss", or a sign or word into the value',
        ),
        (
            CHANGE + 'value = "-12 %"\ndirection = "loss"',
            "claims[1].direction",
            "the value says it already",
            None,
        ),
        (
            CHANGE + 'value = "up to 12 % slower"',
            "claims[1].value",
            '"up to" states the largest change',
            'write quantity = "largest_change"',
        ),
        (
            CHANGE + 'value = "142 fps"',
            "claims[1].value",
            "a change is stated in percent or times",
            None,
        ),
        (
            CHANGE + 'value = "12 % slower"\nscope.workloads = ["Dwan"]',
            "claims[1].scope.workloads",
            "no workload 'Dwan'",
            "did you mean 'dawn'?",
        ),
        (
            CHANGE + 'value = "12 % slower"\nscope.metrics = ["average"]',
            "claims[1].scope.metrics",
            "no metric 'average'",
            "did you mean 'average_fps'?",
        ),
        (
            CHANGE + 'value = "12 % slower"\nscope.card = ["cp1"]',
            "claims[1].scope.card",
            "unknown key",
            "did you mean 'cards'?",
        ),
        (
            CHANGE + 'value = "12 % slower"\nscope.levels = ["on"]',
            "claims[1].scope.levels",
            "a change is stated for contrasts, not for levels",
            None,
        ),
        (
            HEAD
            + 'quantity = "geometric_mean_change"\nvalue = "2 % slower"\n'
            + 'scope.workloads = ["Dawn"]',
            "claims[1].scope.workloads",
            "a geometric_mean_change has no workloads",
            "name scope.title_sets; study.toml declares them",
        ),
        (
            HEAD + 'quantity = "value"\nvalue = "142 hz"',
            "claims[1].value",
            "no unit 'hz'",
            "known names: fps",
        ),
        (
            HEAD + 'quantity = "chnge"',
            "claims[1].quantity",
            "'chnge' is not a word of the list claim_quantity",
            "did you mean 'change'?",
        ),
        (
            HEAD + 'quantity = "ranking"\norder = ["Dawn", "Mist"]',
            "claims[1].ranked_by",
            "values of different titles can't be ranked",
            'titles are ranked by what the setting does to them: write ranked_by = "change"',
        ),
        (
            HEAD + 'quantity = "ranking"\norder = ["Dawn", "Mist"]\nranked_by = "change"',
            "claims[1].direction",
            "a ranking by change says of what",
            'write direction = "loss" if the first loses most, "gain" if it gains most',
        ),
        (
            HEAD + 'quantity = "rig_difference"\nvalue = "twice"\nagainst = "anna.a"',
            "claims[1].scope",
            "a rig difference names one rig",
            "write scope.rigs with one rig; `against` names the other",
        ),
        (
            HEAD + 'quantity = "no_difference"\nacknowledged = true',
            "claims[1].reason",
            "an acknowledged claim says why",
            "write a reason",
        ),
        (
            HEAD + 'quantity = "no_difference"\nfactor = "card"',
            "claims[1].factor",
            "means nothing for the quantity no_difference",
            None,
        ),
        (
            HEAD + 'quantity = "no_difference"\n' + HEAD + 'quantity = "no_difference"\n',
            "claims[2].claim",
            "'one' is already used by claims[1]",
            None,
        ),
    ],
)
def test_what_is_wrong_is_named_with_its_place(
    design: Design, text: str, column: str, says: str, step: str | None
) -> None:
    with pytest.raises(StudyError) as caught:
        read(text, design)
    error = caught.value
    assert (error.file, error.column, error.message) == ("claims.toml", column, says)
    assert step is None or error.next_step == step


def test_an_entry_that_is_written_is_read_back_as_the_same_claim(design: Design) -> None:
    scope = Scope(
        (("contrast", ("on-off",)), ("metric", ("average_fps",)), ("workload", ("dawn",)))
    )
    written = (
        Claim("a", 'Says "12 %"\\ of it.', "change", scope, understood("12 %"), direction="loss"),
        Claim(
            "b",
            "B.",
            "ranking",
            scope,
            direction="gain",
            order=("mist", "dawn"),
            ranked_by="change",
        ),
        Claim("c", "C.", "depends_on", scope, factor="card", acknowledged=True, reason="late"),
    )
    assert written == read("\n".join(entry_of(claim) for claim in written), design)


WORDS = st.sampled_from(
    ["change", "ranking", "value", "12 % slower", "142 fps", "Dawn", "dawn", "a.b", "loss", "both"]
)
ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | WORDS | st.text(max_size=5),
    lambda held: st.lists(held, max_size=3) | st.dictionaries(WORDS, held, max_size=3),
    max_leaves=4,
)
KEYS = st.sampled_from(
    [
        "claim", "sentence", "quantity", "value", "direction", "order", "ranked_by", "factor",
        "against", "acknowledged", "reason", "scope",
    ]
)  # fmt: skip


@settings(deadline=None, max_examples=50, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.dictionaries(KEYS, ANYTHING, max_size=6), max_size=2))
def test_whatever_a_file_holds_is_read_or_named_never_a_crash(
    design: Design, entries: list[dict[str, object]]
) -> None:
    with suppress(StudyError):
        claims_of(Section("claims.toml", "", {"claims": entries}), design)
