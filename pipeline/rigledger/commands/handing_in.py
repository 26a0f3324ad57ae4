"""Result sets: check one, admit it, withdraw it."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from rigledger.commands.options import AsJson, StudyPath, day, wrong_use
from rigledger.console import CLEAN, FINDINGS, plain_errors, say, say_json, stop

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable, Iterator

    from rigledger.intake.result import CheckResult
    from rigledger.study.ahead import LoadedAhead
    from rigledger.study.decisions import Waiver
    from rigledger.study.inbox import InboxResult
    from rigledger.study.layout import StudyFolder
    from rigledger.tables.so_far import SoFar

SetPath = Annotated[Path, typer.Argument(help="Folder, .zip or .xlsx as handed in.")]


def register(app: typer.Typer) -> None:
    """Add the commands of this part."""
    app.command()(check)
    app.command()(admit)
    app.command()(withdraw)


def check(
    path: SetPath,
    study: Annotated[
        Path | None, typer.Option(help="The study it belongs to; without one, fewer rules run.")
    ] = None,
    markdown: Annotated[
        bool, typer.Option("--markdown", help="Print the report for a merge request.")
    ] = False,
    csv: Annotated[Path | None, typer.Option(help="Write all findings to this CSV file.")] = None,
    junit: Annotated[Path | None, typer.Option(help="Write a JUnit report to this file.")] = None,
    sarif: Annotated[Path | None, typer.Option(help="Write a SARIF report to this file.")] = None,
    as_json: AsJson = False,
) -> None:
    """Check a result set and change nothing."""
    with plain_errors(as_json=as_json):
        from rigledger.intake import report, report_ci
        from rigledger.intake.apart import check_apart

        result = check_apart(path, study)
        writers = ((csv, report.as_csv), (junit, report_ci.as_junit), (sarif, report_ci.as_sarif))
        for file, text_of in writers:
            if file is not None:
                _write(file, text_of(result))
        if markdown:
            from rigledger.intake.report_markdown import as_markdown

            say(as_markdown(result))
        else:
            _show(result, as_json=as_json)
        stop(_code(result))


def admit(
    study: StudyPath,
    paths: Annotated[list[Path], typer.Argument(help="Folders, .zip or .xlsx as handed in.")],
    received_on: Annotated[
        str | None, typer.Option(metavar="DAY", help="Day of receipt; today by default.")
    ] = None,
    supersedes: Annotated[
        str | None, typer.Option(help="Id of the set that it replaces whole.")
    ] = None,
    inbox: Annotated[
        bool, typer.Option("--all", help="The paths are folders of waiting sets: take each in.")
    ] = False,
    growing: Annotated[
        bool,
        typer.Option(
            "--growing",
            help="The set is still being measured: take in what is measured so far, as the next "
            "revision of what was taken in before.",
        ),
    ] = False,
    brief: Annotated[
        bool, typer.Option("--brief", help="Don't say what is settled, doubtful and left.")
    ] = False,
    waive: Annotated[
        list[str],
        typer.Option(help="Admit in spite of a rule, as rule=reason; may be given again."),
    ] = [],
    as_json: AsJson = False,
) -> None:
    """Check result sets and take them into a study: each whole or not at all."""
    with plain_errors(as_json=as_json):
        from rigledger.study.inbox import admit_all
        from rigledger.study.layout import open_study

        if (supersedes or waive) and (len(paths) > 1 or inbox):
            raise wrong_use("--supersedes and --waive go with one set at a time")
        if growing and (supersedes or inbox):
            raise wrong_use("--growing finds the set it supersedes itself, one folder at a time")
        place, received = open_study(study), day(received_on, "--received-on")
        waivers = [_waiver(text) for text in waive]
        ahead = _Ahead(place, wanted=not brief and find_spec("scipy") is not None)
        asked = _Asked(received, supersedes, waivers, growing, ahead)
        results: list[InboxResult] = []
        for path in paths:
            made = (
                admit_all(place, path, received_on=received)
                if inbox
                else [_taken_in(place, path, asked)]
            )
            for result in () if as_json else made:
                _show_outcome(result)
            results += made
        if inbox and not as_json:
            taken_in = sum(result.admitted for result in results)
            say(f"{taken_in} of {len(results)} waiting sets admitted.")
        reached = _so_far(place, results, ahead)
        if as_json:
            say_json([_plain(result) | _reached(result, reached) for result in results])
        for lines in () if as_json else _so_far_lines(place, reached, study):
            say(lines)
        stop(CLEAN if all(result.admitted for result in results) else FINDINGS)


def withdraw(
    study: StudyPath,
    set_id: Annotated[str, typer.Argument(help="The set, as contributor.set.")],
    reason: Annotated[str, typer.Option(help="Why; it stays beside the tombstone.")],
    on: Annotated[str | None, typer.Option(metavar="DAY", help="Day; today by default.")] = None,
) -> None:
    """Take a contributor's set out of the next release; its hash and the reason stay."""
    with plain_errors():
        from rigledger.study.admit import withdraw as take_out
        from rigledger.study.layout import open_study

        take_out(open_study(study), set_id, on=day(on, "--on"), reason=reason)
        say(
            f"{set_id} is withdrawn: the next release leaves its rows out. Releases that were "
            "deposited earlier keep them; that can't be undone from here."
        )


@dataclass(frozen=True)
class _Asked:
    """How sets are to be taken in."""

    received_on: dt.date
    supersedes: str | None
    waivers: list[Waiver]
    growing: bool
    meanwhile: Callable[[], object]


def _taken_in(place: StudyFolder, path: Path, asked: _Asked) -> InboxResult:
    from rigledger.study.admit import admit as take_in
    from rigledger.study.inbox import InboxResult

    if not asked.growing:
        taken = take_in(
            place, path, received_on=asked.received_on, supersedes=asked.supersedes,
            waivers=asked.waivers, meanwhile=asked.meanwhile,
        )  # fmt: skip
        return InboxResult(path, taken, None)
    from rigledger.study.growing import measured_part

    with tempfile.TemporaryDirectory(prefix="rigledger-", ignore_cleanup_errors=True) as scratch:
        part = measured_part(path, place, Path(scratch))
        taken = take_in(
            place, part.folder, received_on=asked.received_on, waivers=asked.waivers,
            expected=part.expected, meanwhile=asked.meanwhile,
        )  # fmt: skip
    return InboxResult(path, taken, None)


class _Ahead:
    """Loads what `_so_far` needs: this process has nothing else to do while another checks a set.

    Attributes:
        wanted: Whether it is to be said what measuring has come to.
        loaded: What was loaded of the study, the first time that a set was checked.
    """

    def __init__(self, study: StudyFolder, *, wanted: bool) -> None:
        self.wanted = wanted
        self.loaded: LoadedAhead | None = None
        self._study = study
        self._begun = False

    def __call__(self) -> None:
        if not self.wanted or self._begun:
            return
        self._begun = True
        from rigledger.tables.so_far import ahead_of

        self.loaded = ahead_of(self._study)
        for name in (
            "rigledger.tables.results", "rigledger.statistics.doubt", "scipy.optimize"
        ):  # fmt: skip
            import_module(name)


def _so_far(place: StudyFolder, results: list[InboxResult], ahead: _Ahead) -> dict[str, SoFar]:
    """Say of each contributor whose set was taken in what their measuring has come to."""
    whose = {
        result.result.decision.contributor
        for result in results
        if result.result is not None and result.result.decision is not None
    }
    if not whose or not ahead.wanted:
        return {}
    from rigledger.tables.so_far import so_far_of

    return so_far_of(place, sorted(whose), ahead.loaded)


def _so_far_lines(place: StudyFolder, reached: dict[str, SoFar], study: Path) -> Iterator[str]:
    if not reached:
        return
    from rigledger.study.design import read_design
    from rigledger.tables.so_far import so_far_lines

    design = read_design(place.toml)
    for held in reached.values():
        yield from so_far_lines(held, design, study.as_posix())


def _reached(result: InboxResult, reached: dict[str, SoFar]) -> dict[str, object]:
    if result.result is None or result.result.decision is None:
        return {}
    held = reached.get(result.result.decision.contributor)
    return {} if held is None else {"so_far": held.as_dict()}


def _waiver(text: str) -> Waiver:
    from rigledger.study.decisions import Waiver

    rule, equals, reason = text.partition("=")
    if not (equals and rule.strip() and reason.strip()):
        raise wrong_use(f"--waive {text!r}: write it as rule=reason")
    return Waiver(rule.strip(), reason.strip())


def _write(file: Path, text: str) -> None:
    """Write a report; on Windows a file that is open in a spreadsheet can't be replaced."""
    from rigledger.files import write_text

    try:
        write_text(file, text)
    except OSError as error:
        why = error.strerror or str(error)
        advice = "close it in other programs, or give another name"
        raise wrong_use(f"{file} can't be written ({why}): {advice}") from error


def _show(result: CheckResult, *, as_json: bool) -> None:
    from rigledger.intake import report

    if as_json:
        say(report.as_json(result))
    else:
        say(report.summary_text(result))


def _code(result: CheckResult) -> int:
    return CLEAN if result.verdict == "accepted" else FINDINGS


def _plain(result: InboxResult) -> dict[str, object]:
    held = {"path": str(result.path), "admitted": result.admitted}
    if result.refused is not None:
        return held | {"refused": result.refused.as_dict()}
    if result.result is None:
        return held
    check = result.result.check
    return held | {
        "set_id": check.set_id,
        "verdict": check.verdict,
        "findings": [item.as_dict() for item in check.findings],
    }


def _show_outcome(result: InboxResult) -> None:
    if result.refused is not None:
        say(f"{result.path.name} is refused: {result.refused}")
    elif result.result is not None:
        _show(result.result.check, as_json=False)
        name = result.result.check.set_id or "the set"
        end = "is admitted." if result.admitted else "is returned; the study is unchanged."
        say(f"{name} {end}")
        decision = result.result.decision
        for waiver in decision.waivers if decision else ():
            say(f"Waived: {waiver.rule} ({waiver.reason})")
