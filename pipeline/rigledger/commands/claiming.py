"""Holding the sentences of a review against the data, and proposing some."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from rigledger.commands.options import AsJson, Threads
from rigledger.console import FINDINGS, plain_errors, say, say_json, stop

if TYPE_CHECKING:
    from rigledger.charts.source import Source
    from rigledger.claims.model import Claim


def register(app: typer.Typer) -> None:
    """Add the commands of this part."""
    app.command()(claims)


def claims(
    study: Annotated[Path, typer.Argument(help="A study's folder, or an unpacked release.")],
    file: Annotated[
        Path | None, typer.Option("--claims", help="Claims file; <study>/claims.toml by default.")
    ] = None,
    suggest: Annotated[
        bool, typer.Option("--suggest", help="Propose sentences that the data support.")
    ] = False,
    most: Annotated[int, typer.Option(min=1, help="Propose so many of a kind at most.")] = 6,
    threads: Threads = 2,
    as_json: AsJson = False,
) -> None:
    """Hold a review's sentences against the data; exit 1 if one of them doesn't hold."""
    with plain_errors(as_json=as_json):
        from rigledger.charts.source import open_source
        from rigledger.claims.read import read_claims

        source = open_source(study, threads=threads)
        stated = read_claims(_place(study, file), source.design, source.contract)
        if suggest:
            _suggest(source, stated, most, as_json=as_json)
        else:
            _judge(source, stated, as_json=as_json)


def _place(study: Path, file: Path | None) -> Path:
    from rigledger.errors import StudyError

    if file is None:
        return (study.parent if study.name == "study.toml" else study) / "claims.toml"
    if not file.is_file():
        raise StudyError("there is no such claims file", file=str(file))
    return file


def _judge(source: Source, stated: tuple[Claim, ...], *, as_json: bool) -> None:
    from rigledger.claims import show
    from rigledger.claims.evidence import read_evidence
    from rigledger.claims.judge import judge_all
    from rigledger.claims.wording import words_of

    evidence = read_evidence(source.con, source.design, source.contract)
    judged = judge_all(stated, evidence, words_of(source.design, source.contract))
    if as_json:
        say_json({"claims": [show.as_values(one) for one in judged]})
    else:
        for line in show.report_lines(judged):
            say(line)
        if not judged:
            say("Next step: rigledger claims --suggest proposes sentences that the data support")
    if any(one.is_open for one in judged):
        stop(FINDINGS)


def _suggest(source: Source, stated: tuple[Claim, ...], most: int, *, as_json: bool) -> None:
    from rigledger.claims import show
    from rigledger.claims.evidence import read_evidence
    from rigledger.claims.suggest import suggest
    from rigledger.claims.wording import words_of

    evidence = read_evidence(source.con, source.design, source.contract)
    words = words_of(source.design, source.contract)
    taken = [claim.claim for claim in stated]
    metrics = source.design.all_metrics
    found = suggest(evidence, words, taken=taken, metrics=metrics, most=most)
    if as_json:
        say_json({"claims": [show.as_values(one) for one in found]})
        return
    for line in show.suggested_lines(found):
        say(line)
