"""What a person reads of judged claims, and what a machine does."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from rigledger.claims.judge import judge_all
from rigledger.claims.model import Claim, Scope
from rigledger.claims.printed import understood
from rigledger.claims.show import as_values, report_lines
from rigledger.claims.table import stated

if TYPE_CHECKING:
    from conftest import Bench

DAWN = Scope((("workload", ("dawn",)),))
CHANGE = Claim("dawn-loses", "Dawn loses 12 %.", "change", DAWN, understood("12 % slower"))


def test_claims_are_grouped_by_verdict_with_what_needs_work_first(bench: Bench) -> None:
    bench.change(-12.3)
    far = replace(CHANGE, claim="late", printed=understood("20 % slower"))
    known = replace(far, acknowledged=True, reason="old driver")
    none = Claim(
        "none", "Nothing changes in the mist.", "no_difference", Scope((("workload", ("mist",)),))
    )
    judged = judge_all([CHANGE, known, none], bench.evidence())
    assert list(report_lines(judged)) == [
        "fails: the data contradict it (1)",
        "  late (acknowledged: old driver)",
        "    sentence Dawn loses 12 %.",
        "    stated   20 % slower [workload=dawn]",
        "    found    -12.3 % (95 %: -13.3 to -11.3 %)",
        "    because  its interval excludes -20.5 to -19.5 %, which is what is printed so",
        "",
        "not settled: the data can't tell (1)",
        "  none",
        "    sentence Nothing changes in the mist.",
        "    stated   no difference [workload=mist]",
        (
            "    because  nothing was measured for workload=mist; nearest: anna.p1-c1 dawn "
            "1920x1080 on-off average_fps"
        ),
        "",
        "holds (1)",
        "  dawn-loses",
        "    sentence Dawn loses 12 %.",
        "    stated   12 % slower [workload=dawn]",
        "    found    -12.3 % (95 %: -13.3 to -11.3 %)",
        (
            "    because  the interval overlaps -12.5 to -11.5 % and lies nearer than 3 percentage "
            "points to what is stated"
        ),
        "",
        "3 claims: 1 holds, 1 not settled, 0 broader than the data, 1 fails",
    ]
    assert [one.is_open for one in judged] == [False, False, True]


def test_a_machine_gets_exact_figures_and_the_cells(bench: Bench) -> None:
    bench.change(-12.3)
    (judged,) = judge_all([CHANGE], bench.evidence())
    values = as_values(judged)
    assert values["claim"] == {
        "claim": "dawn-loses", "sentence": "Dawn loses 12 %.", "quantity": "change",
        "stated": "12 % slower", "scope": {"workload": ["dawn"]}, "acknowledged": False,
        "reason": None,
    }  # fmt: skip
    assert values["verdict"] == "holds"
    assert values["value"] == judged.value
    assert values["cells"] == [
        {
            "rig": "anna.p1-c1", "stack": "s", "workload": "dawn", "title_build": "1",
            "resolution": "1920x1080", "contrast": "on-off", "metric": "average_fps",
        }
    ]  # fmt: skip


def test_what_is_stated_is_said_in_a_line() -> None:
    ranking = replace(CHANGE, quantity="ranking", printed=None, order=("a.b", "a.c"))
    depends = replace(CHANGE, quantity="depends_on", printed=None, factor="card")
    signed = replace(CHANGE, printed=understood("12 %"), direction="loss")
    beside = replace(CHANGE, quantity="rig_difference", printed=understood("twice"), against="a.b")
    lines = [stated(one) for one in (CHANGE, signed, beside, ranking, depends)]
    assert lines == [
        "12 % slower",
        "12 % (loss)",
        "twice against a.b",
        "a.b > a.c",
        "depends on card",
    ]
