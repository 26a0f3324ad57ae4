"""A claim as a figure: what the data say of it, and what stands against printing its sentence."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.claims.model import BROADER, FAILS, HOLDS, NOT_SETTLED
from rigledger.errors import near_names
from rigledger.quote.figures import Figure, Found, Problem, missing

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping
    from pathlib import Path

    from rigledger.charts.source import Source
    from rigledger.claims.model import Judged
    from rigledger.quote.figures import Ledger, Severity
    from rigledger.quote.syntax import Asked

_RULES = {FAILS: "claim_fails", BROADER: "claim_too_broad", NOT_SETTLED: "claim_not_settled"}


def judge_of(source: Source, path: Path) -> Callable[[], Mapping[str, Judged]]:
    """Give a function that judges the claims of a file against the tables.

    Args:
        source: The tables.
        path: A claims.toml; one that isn't there holds no claims.
    """

    def judge() -> Mapping[str, Judged]:
        from rigledger.claims.evidence import read_evidence
        from rigledger.claims.judge import judge_all
        from rigledger.claims.read import read_claims
        from rigledger.claims.wording import words_of

        claims = read_claims(path, source.design, source.contract)
        evidence = read_evidence(source.con, source.design, source.contract)
        words = words_of(source.design, source.contract)
        return {held.claim.claim: held for held in judge_all(claims, evidence, words)}

    return judge


def find_claim(ledger: Ledger, asked: Asked) -> Found:
    """Find the figure of a claim."""
    judged = ledger.claims.get(asked.thing or "")
    if judged is None:
        return missing(
            "unknown_name", f"claims.toml states no claim {asked.thing!r}",
            near_names(asked.thing or "", ledger.claims) or "state it in claims.toml",
        )  # fmt: skip
    if judged.value is None and "sentence" not in asked.manner.words:
        return missing(
            "no_figure", f"the claim {asked.thing} has no figure: {judged.because}",
            "ask for its sentence: | sentence",
        )  # fmt: skip
    return Found(_figure(ledger, judged, asked), tuple(_problems(judged)))


def _figure(ledger: Ledger, judged: Judged, asked: Asked) -> Figure:
    claim, sentence = judged.claim, "sentence" in asked.manner.words
    metrics = claim.scope.of("metric") or ledger.source.design.metrics[:1]
    percent = judged.unit in {"%", "percent"}
    return Figure(
        "change" if percent else "value",
        judged.value, judged.low, judged.high,
        "%" if percent else judged.unit or "",
        ledger.source.contract.metrics[metrics[0]].direction,
        up_to=claim.printed is not None and claim.printed.up_to,
        printed=claim.printed.text if claim.printed else None,
        stands=judged.verdict == HOLDS and claim.quantity == "change" and len(judged.cells) > 1,
        sentence=claim.sentence if sentence else None,
        rests_on=f"claim {claim.claim}, {len(judged.cells)} cells",
    )  # fmt: skip


def _problems(judged: Judged) -> Iterator[Problem]:
    if judged.verdict == HOLDS:
        return
    offered = f"it would hold as: {judged.narrowest}" if judged.narrowest else ""
    severity: Severity = "open" if judged.is_open else "remark"
    known = "" if judged.is_open else " (acknowledged)"
    yield Problem(
        _RULES[judged.verdict], severity, f"claim {judged.claim.claim}{known}: {judged.because}",
        offered or "mend the sentence, or acknowledge the claim in claims.toml",
    )  # fmt: skip
