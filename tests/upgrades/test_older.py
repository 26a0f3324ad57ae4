"""Studies, releases and kits of older versions: each command works, and nothing kept changes."""

from __future__ import annotations

import csv
import datetime as dt
import json
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from typer.testing import CliRunner

import rigledger
from rigledger.cli import app
from rigledger.files import hashes_below, sha256sums
from rigledger.release.errors import RecheckError
from rigledger.release.folder import NOT_SUMMED
from rigledger.release.publish import release
from rigledger.release.recheck import RecheckResult, recheck
from rigledger.release.register import read_register
from rigledger.study.layout import open_study

if TYPE_CHECKING:
    from click.testing import Result

    from conftest import Kept
    from rigledger.contract import Contract
    from rigledger.contract.migrations import History

# Derived tables that this version makes otherwise, by the older version; each with its reason.
MADE_OTHERWISE: dict[str, tuple[str, ...]] = {"1.0.0": ()}
# Made by the program for people, not measured and not derived: they read otherwise today.
TEXTS = {
    "CHANGES.md", "datapackage.json", "CITATION.cff", ".zenodo.json", "ro-crate-metadata.json",
    "readers.md", "index.html", "quality/expectations.json", "quality/results.json",
}  # fmt: skip


def call(*arguments: str | Path) -> Result:
    return CliRunner().invoke(app, [str(part) for part in arguments])


@pytest.fixture(autouse=True)
def judged_elsewhere(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let outside programs judge packages in tests/release/test_write.py alone."""
    monkeypatch.setattr("rigledger.release.write.refuse_invalid", lambda *_: None)


def test_a_release_opens_as_published(kept: Kept) -> None:
    with rigledger.open(kept.release) as held:
        described = {name: held[name].columns for name in held}
        rows = {name: len(held[name].rows()) for name in ("runs", "sets", "captures")}
        con = held.duckdb()
        views = {name: tuple(con.table(name).columns) for name in held}
    assert rows == {"runs": 24, "sets": 3, "captures": 6}
    assert views == described


def test_a_release_opens_with_todays_columns(kept: Kept, contract: Contract) -> None:
    with rigledger.open(kept.release) as held:
        con = held.duckdb(carried_over=True)
    found = {table.name: tuple(con.table(table.name).columns) for table in contract.group("source")}
    assert found == {table.name: table.field_names for table in contract.group("source")}
    assert con.sql("select distinct related_to from contributors").fetchall() == [(None,)]
    assert con.sql("select * from superseded_values").fetchall() == []


@pytest.fixture(scope="module")
def rechecked(kept: Kept) -> RecheckResult:
    """The deepest recheck there is: with study, register and the release before."""
    before = kept.hashes()
    result = recheck(
        kept.release, register=kept.study / "releases.toml", previous=kept.first,
        study=kept.study, deep=True,
    )  # fmt: skip
    assert kept.hashes() == before
    return result


@pytest.mark.slow
def test_a_release_is_not_called_altered_and_two_promises_hold(
    kept: Kept, rechecked: RecheckResult, contract: Contract
) -> None:
    files = {one.file for one in rechecked.differences}
    otherwise = {f"derived/{name}.csv" for name in MADE_OTHERWISE[kept.contract]}
    promised = {promise.name: promise.holds for promise in rechecked.promises}
    assert rechecked.verdict == "made_by_another_version"
    assert rechecked.versions["contract"] == (kept.contract, contract.version)
    assert promised == {
        "source_bytes": True, "derived_values": not otherwise, "all_bytes": False,
    }  # fmt: skip
    assert files - TEXTS == otherwise


@pytest.mark.slow
def test_recheck_names_what_was_carried_over(
    kept: Kept, rechecked: RecheckResult, history: History
) -> None:
    told = [text.split(":")[0] for text in rechecked.carried_over]
    steps = [step.name for step in history.since(kept.contract)]
    assert told == [name for name in steps if name in told]
    assert {"names-counted-as-one", "superseded-values-kept", "causes-of-changes"} <= set(told)
    assert any(f"contract {kept.contract} describes" in text for text in rechecked.proven)
    assert any("this program makes others" in text for text in rechecked.not_proven)


def repair(folder: Path) -> None:
    """Make datapackage.json and SHA256SUMS fit again, as whoever alters a release can."""
    path = folder / "datapackage.json"
    held = json.loads(path.read_text(encoding="utf-8"))
    hashes = hashes_below(folder)
    for item in held["resources"]:
        item["hash"] = f"sha256:{hashes[item['path']]}"
        item["bytes"] = (folder / item["path"]).stat().st_size
    write(path, json.dumps(held))
    write(folder / "SHA256SUMS", sha256sums(folder, NOT_SUMMED))


def write(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="\n")


def replace_in(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    write(path, text.replace(old, new, 1))


def test_a_cell_against_its_own_contract_is_altered(copy: Kept) -> None:
    replace_in(copy.release / "data" / "cards.csv", "Brankelo 52,card,6.0", "Brankelo 52,card,-6.0")
    repair(copy.release)
    result = recheck(copy.release)
    assert result.verdict == "altered"
    assert ("contract", "data/cards.csv", "memory_gb", "-6.0") in {
        (one.kind, one.file, one.column, one.recorded) for one in result.differences
    }


def test_a_derived_number_that_does_not_follow_is_named(copy: Kept) -> None:
    path = copy.release / "derived" / "comparisons.csv"
    with path.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    replace_in(path, rows[0]["change_pct"], "-1.5")
    repair(copy.release)
    result = recheck(copy.release)
    found = {(one.file, one.column, one.recorded, one.found) for one in result.differences}
    assert not {promise.name: promise.holds for promise in result.promises}["derived_values"]
    assert ("derived/comparisons.csv", "change_pct", "-1.5", rows[0]["change_pct"]) in found


def test_a_contract_that_is_not_the_published_one_is_altered(copy: Kept) -> None:
    """Nobody gains by stating an older version and loosening what it allows."""
    schema = copy.release / "schema" / "tables" / "source" / "cards.json"
    replace_in(schema, '"minimum": 0', '"minimum": -9')
    repair(copy.release)
    result = recheck(copy.release)
    assert result.verdict == "altered"
    assert [(one.kind, one.file, one.recorded) for one in result.differences] == [
        ("unreadable", "schema/contract.toml", copy.contract)
    ]


@pytest.mark.parametrize("stated", ["1.7.3", "2", "newest"])
def test_a_version_that_was_never_published_is_altered(copy: Kept, stated: str) -> None:
    restate(copy, stated)
    result = recheck(copy.release)
    assert result.verdict == "altered"
    assert ("schema/contract.toml", stated) in {(d.file, d.recorded) for d in result.differences}
    with rigledger.open(copy.release) as held, pytest.raises(RecheckError, match="version"):
        held.duckdb(carried_over=True)


def restate(copy: Kept, stated: str) -> None:
    path = copy.release / "datapackage.json"
    held = json.loads(path.read_text(encoding="utf-8"))
    held["rigledger"]["made_with"]["contract"] = stated
    write(path, json.dumps(held))
    repair(copy.release)


def test_a_release_of_a_newer_contract_is_refused_with_a_next_step(copy: Kept) -> None:
    restate(copy, "99.0.0")
    result = call("recheck", copy.release, "--json")
    told = json.loads(result.stdout)
    assert (result.exit_code, told["error"]["code"]) == (2, "newer_contract")
    assert told["error"]["next_step"] == "install a newer version of rigledger"
    before = call("recheck", copy.first, "--previous", copy.release)
    assert (before.exit_code, "install a newer version" in before.output) == (2, True)
    with rigledger.open(copy.release) as held:
        assert len(held["runs"].rows()) == 24


def test_a_study_that_a_newer_program_released_is_refused(copy: Kept) -> None:
    register = copy.study / "releases.toml"
    replace_in(register, 'status = "published"', 'contract = "99.0.0"\nstatus = "published"')
    before = copy.hashes()
    for command in (["tables"], ["claims"], ["release", "--on", "2026-11-29"]):
        done = call(command[0], copy.study, *command[1:])
        assert (done.exit_code, "install a newer version" in done.output) == (2, True), command
    assert copy.hashes() == before


def unchanged(before: dict[str, str], copy: Kept, may_grow: tuple[str, ...] = ()) -> list[str]:
    """List what is no longer as it was, but for files that may grow."""
    now = copy.hashes()
    return [
        name for name, digest in before.items() if now.get(name) != digest and name not in may_grow
    ]


@pytest.mark.slow
def test_the_next_release_follows_the_older_one(copy: Kept, contract: Contract) -> None:
    register = (copy.study / "releases.toml").read_text(encoding="utf-8")
    before = copy.hashes()
    made = release(open_study(copy.study), released_on=dt.date(2026, 11, 25))
    assert unchanged(before, copy, ("link-kept/releases.toml",)) == []
    assert (copy.study / "releases.toml").read_text(encoding="utf-8").startswith(register)
    assert read_register(copy.study / "releases.toml")[-1].contract == contract.version
    assert made.version == "2.0.0"
    with made.folder.joinpath("changes.csv").open(encoding="utf-8", newline="") as stream:
        listed = {(row["table"], row["change"]) for row in csv.DictReader(stream)}
    assert listed == {("superseded_values", "added")}
    again = recheck(made.folder, previous=copy.release, register=copy.study / "releases.toml")
    assert (again.verdict, again.differences) == ("as_published", ())


@pytest.mark.parametrize(
    "command",
    [
        ("tables", "STUDY"),
        ("claims", "STUDY", "--suggest"),
        ("sheet", "STUDY", "--platform", "q1"),
        ("audit", "STUDY", "--driver", "7.40.0", "--since", "2026-11-28"),
        ("charts", "STUDY", "--out", "charts"),
        ("kit", "STUDY", "kit-now", "--contributor", "orla", "--set", "kit"),
        ("check", "STUDY/sets/maren.first", "--study", "STUDY"),
        ("deposit", "RELEASE", "--out", "deposit.zip"),
        ("site", "STUDY", "--out", "site"),
    ],
    ids=lambda command: command[0],
)
def test_commands_work_and_leave_every_kept_byte(
    kept: Kept,
    used: Kept,
    command: tuple[str, ...],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    words = [
        word.replace("STUDY", str(used.study)).replace("RELEASE", str(used.release))
        for word in command
    ]
    done = call(*words)
    assert done.exit_code in {0, 1}, done.output
    assert done.exception is None or isinstance(done.exception, SystemExit)
    assert unchanged(kept.hashes(), used) == []


def test_a_draft_is_filled_from_the_older_study(kept: Kept, used: Kept, tmp_path: Path) -> None:
    write(tmp_path / "draft.md", "Measured on {@ count rigs level=x16 @} rigs.\n")
    done = call("quote", used.study, tmp_path / "draft.md", "--out", tmp_path / "filled.md")
    assert (done.exit_code, unchanged(kept.hashes(), used)) == (0, [])
    filled = (tmp_path / "filled.md").read_text(encoding="utf-8")
    assert filled == "Measured on 2 rigs.\n"


def test_an_older_release_is_signed_without_a_change_to_its_files(
    copy: Kept, tmp_path: Path
) -> None:
    before = copy.hashes()
    assert call("key", tmp_path / "orla").exit_code == 0
    done = call("sign", copy.release, "--key", tmp_path / "orla.key.pem")
    assert (done.exit_code, unchanged(before, copy)) == (0, [])
    result = call("recheck", copy.release, "--key", tmp_path / "orla.pem")
    assert "Proven: The release was signed with the key you gave, and no byte" in result.output


def fill(kit: Path) -> None:
    """Fill an empty kit as a tester would."""
    rigs = (kit / "rigs.csv").read_text(encoding="utf-8-sig").splitlines()
    write(kit / "rigs.csv", f"{rigs[0]}\nown,q1,brankelo-52,orla-board,orla-card,bought\n")
    with (kit / "sessions.csv").open(encoding="utf-8-sig", newline="") as stream:
        head = next(csv.reader(stream))
    session = {
        "rig": "own", "session": "1", "boot": "1", "round": "1", "started_on": "2026-11-14",
        "firmware_version": "2.14", "driver_version": "7.31.0", "card_firmware_version": "B1.07",
        "os": "Plinth Desktop 9", "os_build": "9.4.1182", "profile": "default",
    }  # fmt: skip
    write(
        kit / "sessions.csv",
        f"{','.join(head)}\n{','.join(session.get(name, '') for name in head)}\n",
    )
    with (kit / "runs.csv").open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.DictReader(stream))
    for number, row in enumerate(rows):
        base = {"vostrel-marsh": 119.4, "saltcress-rally": 150.7}[row["workload"]]
        rate = base * (0.94 if row["level"] == "x8" else 1) + number * 7 % 5 / 10 + number / 100
        row |= {
            "title_build": "4.0.3", "level_state": "effective", "average_fps": f"{rate:.2f}",
            "low_1pct_rank_fps": f"{rate * 0.79:.2f}", "level_check": "link status read-out",
        }  # fmt: skip
    lines = [",".join(rows[0]), *(",".join(row.values()) for row in rows)]
    write(kit / "runs.csv", "\n".join([*lines, ""]))


def test_a_set_made_with_an_older_kit_is_admitted_into_the_older_study(copy: Kept) -> None:
    kit = Path(shutil.copytree(copy.folder / "kit", copy.folder.parent / "filled"))
    fill(kit)
    decisions = (copy.study / "decisions.toml").read_text(encoding="utf-8")
    before = copy.hashes()
    done = call("admit", copy.study, kit, "--received-on", "2026-11-21")
    assert done.exit_code == 0, done.output
    assert unchanged(before, copy, ("link-kept/decisions.toml",)) == []
    now = (copy.study / "decisions.toml").read_text(encoding="utf-8")
    assert now.startswith(decisions)
    assert 'set_id = "orla.kit"' in now.removeprefix(decisions)


@pytest.mark.parametrize("name", ["kit", "kit.xlsx"])
def test_an_empty_older_kit_lacks_what_an_empty_new_one_lacks(
    kept: Kept, name: str, tmp_path: Path
) -> None:
    made = call(
        "kit", kept.study, tmp_path / name, "--contributor", "orla", "--set", "kit",
        "--shown-name", "Orla", "--rig", "own=q1,brankelo-52",
    )  # fmt: skip
    assert made.exit_code == 0, made.output
    assert findings(kept.folder / name, kept.study) == findings(tmp_path / name, kept.study)


def findings(path: Path, study: Path) -> list[tuple[str, ...]]:
    told = json.loads(call("check", path, "--study", study, "--json").stdout)
    return [(one["rule"], one["file"], one["row"], one["column"]) for one in told["findings"]]
