"""Before the measuring: the run sheet and the kit."""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from rigledger.commands.options import AsJson, StudyPath, wrong_use
from rigledger.console import plain_errors, say, say_json
from rigledger.counting import listed

if TYPE_CHECKING:
    import duckdb

    from rigledger.contract import Contract
    from rigledger.study.layout import StudyFolder
    from rigledger.study.model import Design, PlannedRig
    from rigledger.study.sheet import Progress
    from rigledger.study.sheet_model import Sheet
    from rigledger.tables.spreads import MeasuredSpread

Rigs = Annotated[
    list[str],
    typer.Option(
        "--rig",
        help="A rig of yours, as name=platform,card; may be given again. "
        "Without one: every platform with every card.",
    ),
]
Platforms = Annotated[list[str], typer.Option("--platform", help="Only this platform.")]
Cards = Annotated[list[str], typer.Option("--card", help="Only this card.")]
Seed = Annotated[str | None, typer.Option(help="Seed of the order; the same seed, the same sheet.")]
Passes = Annotated[int | None, typer.Option(min=1, help="Runs of a cell in a round.")]
Remaining = Annotated[
    str | None,
    typer.Option(metavar="CONTRIBUTOR", help="Only what this contributor has yet to measure."),
]
ToFile = Annotated[Path | None, typer.Option(help="Write to this file instead of the console.")]


def register(app: typer.Typer) -> None:
    """Add the commands of this part."""
    app.command()(sheet)
    app.command()(kit)


def sheet(
    study: StudyPath,
    rig: Rigs = [],
    platform: Platforms = [],
    card: Cards = [],
    seed: Seed = None,
    passes: Passes = None,
    remaining: Remaining = None,
    again: Annotated[
        str | None,
        typer.Option(
            metavar="CONTRIBUTOR",
            help="A further round of the cells worth measuring again, with the reasons.",
        ),
    ] = None,
    power: Annotated[
        bool, typer.Option("--power", help="Say what this and smaller plans cost and can show.")
    ] = False,
    rounds_apart: Annotated[
        bool, typer.Option("--rounds-apart", help="Set each rig up anew for each round.")
    ] = False,
    day_starts: Annotated[str, typer.Option(help="When a day of measuring starts.")] = "09:00",
    csv: ToFile = None,
    xlsx: ToFile = None,
    html: ToFile = None,
    as_json: AsJson = False,
) -> None:
    """Plan the measuring: card swaps, boots, the order of runs, minutes and days."""
    with plain_errors(as_json=as_json):
        from rigledger.files import write_text
        from rigledger.study import sheet_rows
        from rigledger.study.sheet import make_sheet

        place, design, contract = _opened(study)
        rigs, progress = _rigs_left(place, design, contract, remaining, (rig, platform, card))
        if power:
            _show_power(place, design, rigs, as_json=as_json)
            return
        if again:
            made = _again(place, again, rigs if rig else [], seed, passes)
        else:
            made = make_sheet(
                design, rigs, seed=seed, passes=passes, rounds_apart=rounds_apart,
                progress=progress,
            )  # fmt: skip
        rows = sheet_rows.sheet_rows(made, design, day_starts=day_starts)
        if csv:
            write_text(csv, sheet_rows.sheet_csv(rows))
        if html:
            from rigledger.study.sheet_html import sheet_html

            write_text(html, sheet_html(made, design, day_starts=day_starts))
        if xlsx:
            from rigledger.study.sheet_xlsx import write_sheet_xlsx

            write_sheet_xlsx(xlsx, made, design, day_starts=day_starts)
        if as_json:
            say_json(sheet_rows.sheet_json(made, rows))
        elif not (csv or html or xlsx):
            say(sheet_rows.sheet_text(made, day_starts=day_starts))
        else:
            say(sheet_rows.counts_text(made))


def kit(
    study: StudyPath,
    out: Annotated[Path, typer.Argument(help="A new folder, or a file ending in .xlsx.")],
    contributor: Annotated[str, typer.Option(help="Short name of the contributor.")],
    set_name: Annotated[str, typer.Option("--set", help="Short name of the result set.")],
    rig: Rigs = [],
    platform: Platforms = [],
    card: Cards = [],
    seed: Seed = None,
    remaining: Remaining = None,
    shown_name: Annotated[str | None, typer.Option(help="Name to be listed under.")] = None,
    utc_offset: Annotated[str | None, typer.Option(help="Offset of all times, +01:00.")] = None,
    supersedes: Annotated[str | None, typer.Option(help="Set that this one will replace.")] = None,
    captures: Annotated[
        bool, typer.Option("--captures", help="Add columns for capture files.")
    ] = False,
    from_captures: Annotated[
        Path | None, typer.Option(help="Make the set from the captures in this folder.")
    ] = None,
    pattern: Annotated[
        str, typer.Option(help="How capture files are named.")
    ] = "{workload}_{resolution}_{level}_{pass}.csv",
    column: Annotated[
        str, typer.Option(help="Column that holds the frame times.")
    ] = "frame_time_ms",
    unit: Annotated[str, typer.Option(help="Unit of that column.")] = "ms",
    timestamps: Annotated[
        bool, typer.Option("--timestamps", help="The column holds points in time.")
    ] = False,
    delimiter: Annotated[str, typer.Option(help="Delimiter of the capture files.")] = ",",
    from_s: Annotated[float | None, typer.Option(help="Where a run's window starts.")] = None,
    for_s: Annotated[
        float | None, typer.Option(help="How long a run's window is; else the passage's length.")
    ] = None,
    whole: Annotated[bool, typer.Option("--whole", help="A capture is a run, no window.")] = False,
    as_json: AsJson = False,
) -> None:
    """Make an empty result set for a tester, filled in as far as the plan knows it."""
    with plain_errors(as_json=as_json):
        from rigledger.study.kit_model import Tester, make_kit
        from rigledger.study.sheet import make_sheet
        from rigledger.study.sheet_rows import counts_text

        if out.exists():
            raise wrong_use(f"{out} exists already; name a new folder or file")
        place, design, contract = _opened(study)
        rigs, progress = _rigs_left(place, design, contract, remaining, (rig, platform, card))
        tester = Tester(contributor, set_name, shown_name, utc_offset, supersedes)
        if from_captures is not None:
            from rigledger.study.from_captures import CaptureFiles, kit_from_captures

            files = CaptureFiles(
                from_captures, pattern, column, unit, timestamps=timestamps, delimiter=delimiter,
                from_s=from_s, for_s=for_s, whole=whole,
            )  # fmt: skip
            made = kit_from_captures(files, out, design, contract, rigs=rigs, tester=tester)
        else:
            plan = make_sheet(design, rigs, seed=seed, progress=progress)
            made = make_kit(design, contract, rigs, plan, tester=tester, captures=captures)
            _write_kit(out, made)
        counts = {table.name: len(table.rows) for table in made.tables}
        if as_json:
            say_json({"kit": str(out), "rows": counts})
        else:
            say(f"kit for {contributor} in {out}: {listed(counts)}")
            say(counts_text(made.sheet))


def _show_power(
    place: StudyFolder, design: Design, rigs: list[PlannedRig], *, as_json: bool
) -> None:
    from dataclasses import asdict

    from rigledger.study.sheet_power import plan_power, power_text, smaller_plans

    spreads = _measured_spreads(place, design, rigs)
    rows = plan_power(design, rigs, smaller_plans(design), spreads=spreads)
    if as_json:
        say_json([asdict(row) | {"settles": row.settles} for row in rows])
    else:
        say(power_text(rows, design, measured=bool(spreads)).rstrip("\n"))


def _measured_spreads(
    place: StudyFolder, design: Design, rigs: list[PlannedRig]
) -> dict[str, MeasuredSpread]:
    """Give the spreads measured so far; none without sets, or without the curator's part."""
    from rigledger.study.decisions import read_decisions

    if not read_decisions(place.decisions).in_force or find_spec("scipy") is None:
        return {}
    from rigledger.tables.kept import kept_study
    from rigledger.tables.spreads import measured_spreads

    return measured_spreads(kept_study(place).con, design, rigs)


def _again(
    place: StudyFolder, contributor: str, rigs: list[PlannedRig], seed: str | None,
    passes: int | None,
) -> Sheet:  # fmt: skip
    from rigledger.study.remaining import progress_of
    from rigledger.study.sheet_again import make_again_sheet
    from rigledger.tables.again import cells_to_measure_again
    from rigledger.tables.kept import kept_study

    built = kept_study(place)
    wanted = cells_to_measure_again(built.con, contributor)
    known = rigs or _measured_rigs(built.con, contributor)
    names = {item.rig for item in known}
    return make_again_sheet(
        built.design, known, [item for item in wanted if item.rig in names],
        progress=progress_of(built.con, contributor), seed=seed, passes=passes,
    )  # fmt: skip


def _measured_rigs(con: duckdb.DuckDBPyConnection, contributor: str) -> list[PlannedRig]:
    from rigledger.study.model import PlannedRig

    query = "select rig, platform, card from rigs where contributor = ? order by rig"
    rows = con.execute(query, [contributor]).fetchall()
    return [PlannedRig(rig[len(contributor) + 1 :], *hardware) for rig, *hardware in rows]


def _write_kit(out: Path, made: object) -> None:
    from rigledger.study.kit_folder import write_kit_folder
    from rigledger.study.kit_model import Kit
    from rigledger.study.kit_xlsx import write_kit_xlsx

    assert isinstance(made, Kit)  # noqa: S101
    if out.suffix.lower() == ".xlsx":
        write_kit_xlsx(out, made)
    else:
        write_kit_folder(out, made)


def _opened(study: Path) -> tuple[StudyFolder, Design, Contract]:
    from rigledger.contract import load_contract
    from rigledger.study.design import read_design
    from rigledger.study.layout import open_study

    contract = load_contract()
    place = open_study(study)
    return place, read_design(place.toml, contract), contract


def _rigs(
    design: Design, named: list[str], platforms: list[str], cards: list[str]
) -> list[PlannedRig]:
    from rigledger.study.sheet import rigs_of

    if not named:
        return rigs_of(design, platforms, cards)
    return [_rig(design, text) for text in named]


def _rig(design: Design, text: str) -> PlannedRig:
    """Read ``name=platform,card``; hardware the study doesn't list yet is allowed and proposed."""
    from rigledger.study.model import PlannedRig

    name, equals, hardware = text.partition("=")
    platform, comma, card = hardware.partition(",")
    if not (equals and comma and name and platform and card):
        raise wrong_use(f"--rig {text!r}: write it as name=platform,card")
    known = {item.card for item in design.cards}
    return PlannedRig(name, platform, card, None if card in known else "card")


def _rigs_left(
    place: StudyFolder, design: Design, contract: Contract, contributor: str | None,
    named: tuple[list[str], list[str], list[str]],
) -> tuple[list[PlannedRig], Progress | None]:  # fmt: skip
    """Give the rigs to plan for and, where only what remains is asked for, what was measured.

    A contributor's rig is found by its platform and card, whatever its name.
    """
    rigs, platforms, cards = named
    if contributor is None:
        return _rigs(design, rigs, platforms, cards), None
    from rigledger.database import connect
    from rigledger.study.load import load_source
    from rigledger.study.remaining import planned_rigs, progress_of

    con = connect()
    load_source(place, con, contract)
    held = (
        _rigs(design, rigs, platforms, cards)
        if rigs
        else planned_rigs(con, design, contributor, platforms=platforms, cards=cards)
    )
    return held, progress_of(con, contributor)
