"""After a driver, firmware or title change: what is stale, what to re-test, what moved."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from rigledger.commands.options import AsJson, StudyPath, Threads, day, wrong_use
from rigledger.console import CLEAN, FINDINGS, plain_errors, say, say_json, stop

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rigledger.audit.change import Announced, Change
    from rigledger.audit.frame import Study
    from rigledger.audit.plan import Asked
    from rigledger.audit.retest import Prepared
    from rigledger.audit.stale import Stale
    from rigledger.claims.model import Judged
    from rigledger.study.layout import StudyFolder

Version = Annotated[str | None, typer.Option(metavar="VERSION")]


def register(app: typer.Typer) -> None:
    """Add the commands of this part."""
    app.command()(audit)


def audit(
    study: StudyPath,
    driver: Annotated[str | None, typer.Option(help="The new graphics driver.")] = None,
    firmware: Annotated[str | None, typer.Option(help="The new platform firmware.")] = None,
    card_firmware: Annotated[str | None, typer.Option(help="The new card firmware.")] = None,
    os: Annotated[str | None, typer.Option("--os", help="The new operating system.")] = None,
    os_build: Annotated[str | None, typer.Option(help="Its new build.")] = None,
    title_build: Annotated[
        list[str],
        typer.Option(metavar="WORKLOAD=BUILD", help="A title's new build; may be given again."),
    ] = [],
    control: Annotated[
        bool, typer.Option("--control", help="Re-test the same stack: nothing changed.")
    ] = False,
    rig: Annotated[list[str], typer.Option(help="Only on this rig; may be given again.")] = [],
    since: Annotated[
        str | None, typer.Option(metavar="DAY", help="First day with it; today by default.")
    ] = None,
    plan: Annotated[bool, typer.Option("--plan", help="Plan what to re-test.")] = False,
    runs: Annotated[int | None, typer.Option(min=1, help="Budget: measured runs.")] = None,
    hours: Annotated[float | None, typer.Option(min=0.1, help="Budget: hours in all.")] = None,
    seed: Annotated[str | None, typer.Option(help="Seed of the draw.")] = None,
    out: Annotated[Path | None, typer.Option(help="New folder for plan and run sheets.")] = None,
    runs_per_cell: Annotated[
        int | None, typer.Option(min=2, help="Runs of a re-tested cell; the study's by default.")
    ] = None,
    sessions: Annotated[int, typer.Option(min=1, help="Boots over which they are spread.")] = 1,
    shift: Annotated[float, typer.Option(min=0.1, help="Shift to be seen, in per cent.")] = 5.0,
    tolerate: Annotated[
        float, typer.Option(min=0, max=100, help="Per cent of cells that may have moved.")
    ] = 10.0,
    metric: Annotated[str | None, typer.Option(help="Metric that cells are judged on.")] = None,
    result: Annotated[
        Path | None, typer.Option(metavar="PLAN", help="Say what the re-test of this plan showed.")
    ] = None,
    threads: Threads = 2,
    as_json: AsJson = False,
) -> None:
    """After a change: what rests on the old version, what to re-test, what moved."""
    with plain_errors(as_json=as_json):
        named = {
            "driver_version": driver, "firmware_version": firmware,
            "card_firmware_version": card_firmware, "os": os, "os_build": os_build,
        }  # fmt: skip
        versions = tuple((name, value.strip()) for name, value in named.items() if value)
        builds = tuple(_build(text) for text in title_build)
        if result is not None:
            if versions or builds or plan:
                raise wrong_use("--result reads the change from the plan; name no other")
            _results(study, result, threads=threads, as_json=as_json)
        if plan and (runs is None) == (hours is None):
            raise wrong_use("--plan needs a budget: --runs or --hours, one of them")
        if control and (versions or builds or not plan):
            raise wrong_use("--control plans a re-test of the same stack: --plan, and no version")
        if not (versions or builds or control):
            if plan:
                raise wrong_use("--plan needs the change: --driver, --title-build ... or --control")
            _lines(study, rig, threads=threads, as_json=as_json)
        from rigledger.audit.change import Change

        change = Change(versions, builds, day(since, "--since"))
        from rigledger.audit.opening import open_with_claims
        from rigledger.study.layout import open_study

        place = open_study(study)
        built, claims = open_with_claims(place, threads=threads)
        announced = _announced(built, change, rig)
        if not plan:
            _stale(place, built, announced, claims, as_json=as_json)
        asked = _asked(built, change, seed, metric, runs_per_cell, sessions, shift, tolerate)
        _plan(built, announced, asked, claims, (runs, hours), out, as_json=as_json)


def _build(text: str) -> tuple[str, str]:
    workload, equals, build = text.partition("=")
    if not (equals and workload and build):
        raise wrong_use(f"--title-build {text!r}: write it as workload=build")
    return workload.strip(), build.strip()


def _announced(built: Study, change: Change, rigs: list[str]) -> Announced:
    from rigledger.audit.change import announce
    from rigledger.audit.line import rig_lines

    return announce(change, rig_lines(built.con, built.contract), rigs)


def _lines(study: Path, rigs: list[str], *, threads: int, as_json: bool) -> None:
    from rigledger.audit.change import known_lines
    from rigledger.audit.line import rig_lines
    from rigledger.audit.opening import open_tables
    from rigledger.audit.text import line_lines
    from rigledger.study.layout import open_study

    held = open_tables(open_study(study), (), threads=threads)
    lines = known_lines(rig_lines(held.con, held.contract), rigs)
    if as_json:
        say_json([_plain(line) for line in lines])
    else:
        for text in line_lines(lines):
            say(text)
    stop(CLEAN)


def _stale(
    place: StudyFolder, built: Study, announced: Announced, claims: Sequence[Judged], *,
    as_json: bool,
) -> None:  # fmt: skip
    from rigledger.audit.stale import find_stale, with_releases
    from rigledger.audit.text import stale_lines
    from rigledger.release.register import read_register

    releases = [
        (entry.version, frozenset(held.set_id for held in entry.sets))
        for entry in read_register(place.releases)
    ]
    stale: Stale = with_releases(find_stale(built.con, announced, claims), releases)
    if as_json:
        say_json(_plain(stale) | {"passed_over": announced.passed_over})
    else:
        for text in stale_lines(announced, stale):
            say(text)
    stop(FINDINGS if stale.resting else CLEAN)


def _asked(
    built: Study, change: Change, seed: str | None, metric: str | None, runs: int | None,
    sessions: int, shift: float, tolerate: float,
) -> Asked:  # fmt: skip
    from rigledger.audit.errors import UnknownNameError
    from rigledger.audit.plan import Asked
    from rigledger.errors import near_names

    design = built.design
    name = metric or design.metrics[0]
    if name not in design.all_metrics:
        raise UnknownNameError(
            "the study doesn't ask for this metric", column="--metric", value=name,
            next_step=near_names(name, design.all_metrics) or None,
        )  # fmt: skip
    return Asked(
        metric=name,
        runs_per_cell=max(runs or design.runs_required, sessions),
        sessions=sessions,
        seed=seed or f"{design.study} {change.since}",
        shift_pct=shift,
        tolerated_pct=tolerate,
    )


def _plan(
    built: Study, announced: Announced, asked: Asked, claims: Sequence[Judged],
    budget: tuple[int | None, float | None], out: Path | None, *, as_json: bool,
) -> None:  # fmt: skip
    from rigledger.audit.retest import prepare
    from rigledger.audit.text import plan_lines

    if out is not None and out.exists():
        raise wrong_use(f"{out} exists already; name a new folder")
    made = prepare(built, announced, asked, claims, runs=budget[0], hours=budget[1])
    if out is not None:
        _write(out, made, built)
    if as_json:
        say_json({"plan_id": made.record.plan_id, "hours": made.hours} | _plain(made.record.plan))
    else:
        for text in plan_lines(made):
            say(text)
        say(f"Written to {out}" if out else "Not written: name a folder with --out")
    stop(CLEAN)


def _write(out: Path, made: Prepared, built: Study) -> None:
    from rigledger.audit.plan_file import write_plan
    from rigledger.files import folder_beside, write_text
    from rigledger.study.sheet_html import sheet_html
    from rigledger.study.sheet_rows import sheet_csv, sheet_rows

    with folder_beside(out) as folder:
        write_plan(folder, made.record)
        for name, sheet in made.sheets:
            rows = sheet_rows(sheet, built.design)
            write_text(folder / f"sheet-{name}.csv", sheet_csv(rows))
            write_text(folder / f"sheet-{name}.html", sheet_html(sheet, built.design))


def _results(study: Path, plan: Path, *, threads: int, as_json: bool) -> None:
    from rigledger.audit.opening import open_tables
    from rigledger.audit.plan_file import read_plan
    from rigledger.audit.result_text import result_lines
    from rigledger.audit.results import audit_results
    from rigledger.study.layout import open_study

    record = read_plan(plan)
    held = open_tables(open_study(study), ("stack_shift",), threads=threads)
    found = audit_results(held, record)
    if as_json:
        say_json(_plain(found))
    else:
        for text in result_lines(found):
            say(text)
    stop(CLEAN if found.decision.verdict == "stands" else FINDINGS)


def _plain(value: Any) -> Any:  # noqa: ANN401 - any frozen record of ours
    from dataclasses import fields, is_dataclass

    if is_dataclass(value):
        return {held.name: _plain(getattr(value, held.name)) for held in fields(value)}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    if isinstance(value, (set, frozenset)):
        return sorted(_plain(item) for item in value)
    return dict(value) if hasattr(value, "items") else value
