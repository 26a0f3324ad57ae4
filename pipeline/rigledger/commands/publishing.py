"""Derived tables, releases, rechecking."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from rigledger.commands.options import AsJson, StudyPath, Threads, day, wrong_use
from rigledger.commands.signing import read_key
from rigledger.console import CLEAN, FINDINGS, plain_errors, progress, say, say_json, stop


def register(app: typer.Typer) -> None:
    """Add the commands of this part."""
    app.command()(tables)
    app.command()(release)
    app.command()(recheck)


def tables(
    study: StudyPath,
    out: Annotated[
        Path | None, typer.Option(help="Folder to write; <study>/derived by default.")
    ] = None,
    all_metrics: Annotated[
        bool, typer.Option("--all-metrics", help="Show every metric, not the first alone.")
    ] = False,
    spreads: Annotated[
        bool,
        typer.Option("--spreads", help="List every comparison with its raw and moderated spread."),
    ] = False,
    threads: Threads = 2,
    as_json: AsJson = False,
) -> None:
    """Build the derived tables of a study and show the comparisons."""
    with plain_errors(as_json=as_json):
        from rigledger.study.layout import open_study
        from rigledger.tables import show
        from rigledger.tables.write import current_tables, rebuild_tables

        place = open_study(study)
        built, rows = rebuild_tables(place, out, threads=threads)
        folder = current_tables(out or place.derived)
        if as_json:
            say_json({"folder": str(folder), "rows": rows})
            return
        shown = built.design.all_metrics if all_metrics else built.design.metrics[:1]
        for grid in show.all_grids(built.con, shown):
            say(grid)
        for listed in show.spreads(built.con, shown) if spreads else ():
            say(listed)
        say(show.LEGEND)
        for line in show.dependences(built.con):
            say(f"* {line}")
        say(f"{sum(rows.values())} rows in {len(rows)} tables: {folder}")


def release(
    study: StudyPath,
    on: Annotated[
        str | None, typer.Option(metavar="DAY", help="Day of the release; today by default.")
    ] = None,
    version: Annotated[
        str | None, typer.Option(help="Version; by default the one that follows from the change.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option(help="Folder of the releases; <study>/releases by default.")
    ] = None,
    previous: Annotated[
        Path | None, typer.Option(help="The release before, or a folder that holds it.")
    ] = None,
    identifier: Annotated[
        str | None, typer.Option(help="A reserved persistent identifier.")
    ] = None,
    deposited_at: Annotated[
        str | None, typer.Option(help="Where it will be deposited, for the register.")
    ] = None,
    embargo_until: Annotated[
        str | None,
        typer.Option(metavar="DAY", help="Day before which an archive must not open the deposit."),
    ] = None,
    key: Annotated[
        Path | None, typer.Option(help="Private key that signs it, the file in .key.pem.")
    ] = None,
    retract: Annotated[
        str | None,
        typer.Option(metavar="VERSION", help="Take a release back instead of publishing one."),
    ] = None,
    reason: Annotated[str | None, typer.Option(help="With --retract: why, as published.")] = None,
    threads: Threads = 2,
    as_json: AsJson = False,
) -> None:
    """Publish a version of a study, validated whole or not at all; or take one back."""
    if retract is not None or reason is not None:
        _retract(study, retract, reason, on, as_json=as_json)
        return
    with plain_errors(as_json=as_json):
        from rigledger.release.publish import release as publish
        from rigledger.release.register import read_register
        from rigledger.release.show import release_lines
        from rigledger.release.vouching import key_note
        from rigledger.study.layout import open_study

        made = publish(
            open_study(study), released_on=day(on, "--on"), version=version, out=out,
            previous=previous, identifier=identifier, deposited_at=deposited_at, threads=threads,
            embargo_until=day(embargo_until, "--embargo-until") if embargo_until else None,
            key=read_key(key) if key else None, beside=True,
        )  # fmt: skip
        if as_json:
            say_json(
                {"folder": made.folder, "version": made.version, "fingerprint": made.fingerprint}
            )
            return
        for line in release_lines(made):
            say(line)
        if note := key_note(read_register(open_study(study).releases)):
            say(note)


def _retract(
    study: Path, version: str | None, reason: str | None, on: str | None, *, as_json: bool
) -> None:
    if version is None or reason is None:
        raise wrong_use("--retract VERSION and --reason go together")
    with plain_errors(as_json=as_json):
        from rigledger.release.retraction import retract
        from rigledger.study.layout import open_study

        entry = retract(open_study(study), version, on=day(on, "--on"), reason=reason)
        if as_json:
            say_json({"version": entry.version, "status": entry.status, "reason": entry.reason})
            return
        say(f"{entry.version} is retracted: {entry.reason}")
        say(
            "The register says so, and recheck --register tells whoever has a copy. Copies that "
            "were deposited or downloaded stay as they are; publish the register beside them."
        )


def recheck(
    path: Annotated[Path, typer.Argument(help="Folder, .zip or .tar of a release.")],
    fingerprint: Annotated[
        str | None, typer.Option(help="Fingerprint as published elsewhere.")
    ] = None,
    key: Annotated[
        Path | None, typer.Option(help="Public key that must have signed it (.pem).")
    ] = None,
    register: Annotated[
        Path | None, typer.Option(help="The study's releases.toml, as its authors publish it.")
    ] = None,
    previous: Annotated[Path | None, typer.Option(help="The release before, unpacked.")] = None,
    deep: Annotated[
        bool, typer.Option("--deep", help="Evaluate the expectations again too; takes longer.")
    ] = False,
    study: Annotated[
        Path | None,
        typer.Option(help="With --deep: the study's folder; each set is checked and read again."),
    ] = None,
    threads: Threads = 2,
    as_json: AsJson = False,
) -> None:
    """Rebuild a release from its own source tables and say what follows and what was altered."""
    with plain_errors(as_json=as_json):
        from rigledger.release.recheck import recheck as rebuild
        from rigledger.release.show import recheck_lines
        from rigledger.signing import read_public_key

        result = rebuild(
            path, fingerprint=fingerprint, key=read_public_key(key) if key else None,
            register=register, previous=previous, study=study, deep=deep, threads=threads,
            report=progress,
        )  # fmt: skip
        if as_json:
            say_json(result.as_dict())
        for line in () if as_json else recheck_lines(result):
            say(line)
        stop(CLEAN if result.verdict in {"as_published", "values_follow"} else FINDINGS)
