"""What a release holds, what it refuses, and that it is the same bytes every time."""

from __future__ import annotations

import csv
import json
from datetime import date
from typing import TYPE_CHECKING, Any, Protocol

import pytest
import yaml

from rigledger.contract import load_contract
from rigledger.contract.conformance import profile_errors
from rigledger.files import files_below, sha256_of
from rigledger.findings import Finding
from rigledger.release.citation import citation_errors
from rigledger.release.differences import open_previous
from rigledger.release.errors import ReleaseError
from rigledger.release.findings import SetFinding
from rigledger.study.design import read_design

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    import duckdb

    from rigledger.release.write import ReleaseResult

    Write = Callable[..., ReleaseResult]


class Source(Protocol):
    """The fixture of the small study."""

    con: duckdb.DuckDBPyConnection


def descriptor(folder: Path) -> dict[str, Any]:
    held: dict[str, Any] = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    return held


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def hashes(folder: Path) -> dict[str, str]:
    return {name: sha256_of(folder / name) for name in files_below(folder)}


def test_a_release_holds_the_files_that_the_design_names(published: ReleaseResult) -> None:
    names = files_below(published.folder)
    assert {name for name in names if "/" not in name} == {
        "study.toml", "claims.toml", "changes.csv", "CHANGES.md", "datapackage.json",
        "CITATION.cff", ".zenodo.json", "ro-crate-metadata.json", "index.html", "readers.md",
        "LICENSE", "SHA256SUMS",
    }  # fmt: skip
    source = {table.name for table in load_contract().group("source")}
    assert {name for name in names if name.startswith("data/")} == {
        f"data/{name}.{ending}" for name in source for ending in ("csv", "parquet")
    }
    assert published.version == "1.0.0"
    assert published.fingerprint == sha256_of(published.folder / "SHA256SUMS")


def test_the_hash_order_lets_nothing_hash_itself(published: ReleaseResult) -> None:
    folder = published.folder
    described = {held["path"] for held in descriptor(folder)["resources"]}
    later = {"CITATION.cff", ".zenodo.json", "ro-crate-metadata.json", "LICENSE", "readers.md"}
    later |= {"index.html"}
    assert described == set(files_below(folder)) - later - {"datapackage.json", "SHA256SUMS"}
    of_descriptor = sha256_of(folder / "datapackage.json")
    assert of_descriptor in (folder / "index.html").read_text(encoding="utf-8")
    assert of_descriptor in (folder / "CITATION.cff").read_text(encoding="utf-8")
    assert "SHA256SUMS" not in (folder / "SHA256SUMS").read_text(encoding="utf-8")


def test_the_official_profile_finds_no_error(published: ReleaseResult) -> None:
    assert profile_errors(descriptor(published.folder)) == []


def test_frictionless_run_by_hand_finds_no_error_and_no_warning(
    frictionless_said: dict[str, Any],
) -> None:
    report = frictionless_said
    assert (report["code"], report["valid"], report["warnings"]) == (0, True, [])
    assert [task["warnings"] for task in report["tasks"] if task["warnings"]] == []


def test_the_design_of_a_release_reads_back(published: ReleaseResult) -> None:
    design = read_design(published.folder / "study.toml", load_contract())
    assert [card.card for card in design.cards] == ["velmar-90", "velmar-50"]
    assert [part.cards for part in design.plan] == [("velmar-90", "velmar-50")]


def test_nothing_of_a_set_under_embargo_is_named_anywhere(published: ReleaseResult) -> None:
    for name in files_below(published.folder):
        data = (published.folder / name).read_bytes()
        for secret in (b"dora", b"velmar-99", b"unannounced", b"3840x2160"):
            if not name.startswith("schema/"):
                assert secret not in data, name


def test_a_set_is_published_from_the_day_its_embargo_ends_and_a_withdrawn_one_keeps_a_row(
    write: Write, source: Source
) -> None:
    source.con.execute(
        """
        INSERT INTO sets BY NAME SELECT * REPLACE (
            'anna.gone' AS set_id, 'withdrawn' AS state, 'card was faulty' AS reason
        ) FROM sets WHERE set_id = 'anna.autumn-1'
        """
    )
    result = write(released_on=date(2027, 1, 15))
    sets = rows(result.folder / "data" / "sets.csv")
    assert [(row["set_id"], row["state"], row["reason"]) for row in sets] == [
        ("anna.autumn-1", "admitted", ""),
        ("anna.gone", "withdrawn", "card was faulty"),
        ("dora.early", "admitted", ""),
    ]
    cards = rows(result.folder / "data" / "cards.csv")
    assert "velmar-99" in {row["card"] for row in cards}


def test_a_first_release_lists_every_source_row_as_added(published: ReleaseResult) -> None:
    changes = rows(published.folder / "changes.csv")
    assert {row["change"] for row in changes} == {"added"}
    paths = sorted((published.folder / "data").glob("*.csv"))
    assert len(changes) == sum(len(rows(path)) for path in paths)
    assert "key" in changes[0]
    assert changes[0]["key"] == "card=velmar-50"
    assert "| runs | 48 | 0 | 0 |" in (published.folder / "CHANGES.md").read_text(encoding="utf-8")


def test_a_corrected_value_makes_a_patch_release_and_is_listed(
    published: ReleaseResult, write: Write, source: Source
) -> None:
    where = "run = 'anna.fast.1.001' AND metric = 'average_fps'"
    source.con.execute(f"UPDATE measurements SET value = 159.4 WHERE {where}")
    result = write(previous=open_previous(published.folder))
    assert result.version == "1.0.1"
    assert result.entry.previous_fingerprint == published.fingerprint
    assert rows(result.folder / "changes.csv") == [
        {
            "table": "measurements", "change": "changed", "field": "value", "was": "159.36",
            "becomes": "159.4", "key": "run=anna.fast.1.001 metric=average_fps origin=reported",
            "because": "",
        }
    ]  # fmt: skip
    text = (result.folder / "CHANGES.md").read_text(encoding="utf-8")
    assert "This is a patch step" in text
    assert "value was 159.36, becomes 159.4" in text
    unexplained = next(
        held
        for held in json.loads((result.folder / "quality" / "results.json").read_bytes())["results"]
        if held["name"].startswith("unexplained_changes")
    )
    assert unexplained["met"] is False


def test_rows_that_go_make_a_major_release_and_an_understated_version_is_refused(
    published: ReleaseResult, write: Write, source: Source, tmp_path: Path
) -> None:
    for table in ("measurements", "runs"):
        source.con.execute(f"DELETE FROM {table} WHERE run = 'anna.fast.1.001'")
    with pytest.raises(ReleaseError, match=r"at least 2\.0\.0"):
        write(previous=open_previous(published.folder), version="1.1.0")
    assert not (tmp_path / "releases").exists()


def test_a_second_build_with_another_number_of_threads_gives_the_same_bytes(
    published: ReleaseResult, write: Write, source: Source
) -> None:
    source.con.execute("SET threads = 1")
    assert hashes(write().folder) == hashes(published.folder)


def test_a_package_that_is_not_valid_does_not_exist(
    write: Write, source: Source, tmp_path: Path
) -> None:
    source.con.execute("UPDATE facts SET fact = 'moon_phase' WHERE session = 'anna.fast.1'")
    with pytest.raises(ReleaseError, match="not valid, so it was not published") as caught:
        write()
    assert "moon_phase" in str(caught.value)
    assert list((tmp_path / "releases").iterdir()) == []


def test_a_gating_expectation_that_fails_stops_the_release(
    write: Write, source: Source, tmp_path: Path
) -> None:
    source.con.execute("INSERT INTO facts FROM facts WHERE session = 'anna.fast.1'")
    with pytest.raises(ReleaseError, match="one thing counted twice") as caught:
        write()
    assert caught.value.value == "facts has rows with the same key"
    assert not (tmp_path / "releases").exists()


def test_a_release_without_runs_is_refused(write: Write, source: Source) -> None:
    source.con.execute("UPDATE sets SET embargo_until = DATE '2027-01-15'")
    with pytest.raises(ReleaseError, match="no set of the study may be published on this day"):
        write()


def test_an_existing_version_is_never_replaced(write: Write, tmp_path: Path) -> None:
    (tmp_path / "releases" / "link-try-1.0.0").mkdir(parents=True)
    with pytest.raises(ReleaseError, match="exists already"):
        write()


def test_findings_are_published_but_not_those_of_a_set_under_embargo(write: Write) -> None:
    finding = Finding(
        "runs.csv", 14, "average_fps", "whole_number_fps", "remark", "142",
        "all values are whole numbers", "state one decimal",
    )  # fmt: skip
    waived = SetFinding("anna.autumn-1", finding, "known")
    result = write(findings=(waived, SetFinding("dora.early", finding)))
    assert rows(result.folder / "quality" / "findings.csv") == [
        {
            "set_id": "anna.autumn-1", "rule": "whole_number_fps", "severity": "remark",
            "file": "runs.csv", "row": "14", "column": "average_fps", "value": "142",
            "reason": "all values are whole numbers", "next_step": "state one decimal",
            "waived": "known",
        }
    ]  # fmt: skip


def test_the_citation_is_valid_by_the_format_s_own_schema(published: ReleaseResult) -> None:
    """Read as YAML by PyYAML and held against the vendored Citation File Format 1.2.0 schema."""
    held = yaml.safe_load((published.folder / "CITATION.cff").read_text(encoding="utf-8"))
    assert citation_errors(held) == []
    assert (held["type"], held["version"], held["date-released"]) == (
        "dataset", "1.0.0", "2026-11-25",
    )  # fmt: skip
