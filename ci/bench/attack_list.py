"""The attacks on a release, by what catches them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from attack_kinds import (
    Attack,
    Rows,
    cell,
    edit_rows,
    edited,
    exchanged,
    first,
    flipped,
    hidden_behind_a_version,
    linked,
    other_capture,
    parquet_only,
    remade,
    remade_and_signed,
    remade_texts,
    reordered,
    replaced,
    rolled_back,
    signature_of_another,
    signed_by_a_forger,
    swapped,
    unsigned,
    without,
)

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

_BELA = tuple(f"bela.p1.1.{number:03}" for number in range(1, 7))
_KEY = frozenset({"key"})

FLIPPED = [
    flipped(file)
    for file in (
        "data/measurements.csv", "data/measurements.parquet", "derived/comparisons.csv",
        "derived/comparisons.parquet", "captures/*.parquet", "schema/tables/source/runs.json",
        "schema/rules/*.sql", "quality/results.json", "quality/findings.csv", "changes.csv",
        "CHANGES.md", "study.toml", "datapackage.json", "CITATION.cff", ".zenodo.json",
        "ro-crate-metadata.json", "LICENSE", "readers.md", "index.html", "SHA256SUMS.sig",
    )
]  # fmt: skip

FILES = [
    Attack("a file is gone", lambda f, _: (f / "LICENSE").unlink(), "LICENSE", by_hashes=True),
    Attack(
        "a capture is gone", lambda f, _: first(f, "captures/*.parquet").unlink(), by_hashes=True
    ),
    Attack(
        "a file was added", lambda f, _: (f / "data" / "more.csv").write_bytes(b"a\n") and None,
        "data/more.csv", by_hashes=True,
    ),
    Attack("a link in a file's place", linked, "LICENSE", by_hashes=True),
    Attack("two files exchanged", exchanged, "data/rigs.csv", by_hashes=True),
]  # fmt: skip


def _invented_change(folder: Path) -> None:
    """List a correction that never was."""

    def more(rows: Rows) -> Rows:
        key = next(row["key"] for row in rows if row["table"] == "runs")
        was = {"change": "changed", "field": "title_build", "was": "1.3", "becomes": "1.4"}
        return [*rows, {"table": "runs", "key": key} | was]

    edit_rows(folder / "changes.csv", more)


def _edit(file: str, edit: Callable[[Rows], Rows]) -> Callable[[Path], None]:
    return lambda folder: edit_rows(folder / file, edit)


def _results(folder: Path) -> None:
    path = folder / "quality" / "results.json"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('"met": true', '"met": false', 1), encoding="utf-8")


SKILLED = [
    remade_texts("a source value is another", _edit("data/measurements.csv",
                 cell(-1, "value", "160.2")), "derived/cells.csv"),
    remade_texts("a change is a tenth of what it was", _edit("derived/comparisons.csv",
                 cell(0, "change_pct", "-0.8")), "derived/comparisons.csv"),
    remade_texts("a result of an expectation is another", _results, "quality/results.json",
                 "deep", "previous"),
    remade_texts("a correction is listed that never was", _invented_change, "changes.csv",
                 "previous"),
    remade_texts("the list of changes lacks the new set", _edit("changes.csv",
                 without("table", ("sets",))), "changes.csv", "previous"),
    remade_texts("a set was handed in on another day", _edit("data/sets.csv",
                 cell(0, "received_on", "2026-10-21")), "data/sets.csv", "deep", "study"),
    remade_texts("a finding on a set is gone", _edit("quality/findings.csv",
                 lambda rows: rows[1:]), "quality/findings.csv", "deep", "study"),
]  # fmt: skip

TEXTS = [
    replaced("index.html", "Does the narrow link cost frames?", "The narrow link costs nothing."),
    replaced("CHANGES.md", "runs", "rums"),
    replaced("CITATION.cff", "The authors of the study", "Somebody else"),
    replaced(".zenodo.json", '"open"', '"closed"'),
    replaced("ro-crate-metadata.json", "The authors of the study", "Somebody else"),
    replaced("LICENSE", "Attribution", "NonCommercial"),
    replaced("readers.md", "GROUP BY ALL", "GROUP BY rig"),
    replaced("datapackage.json", "Link width, tried", "Link width, proven"),
    # What else shows the version or the day gives these away.
    replace(
        replaced("datapackage.json", '"version": "1.1.0"', '"version": "1.2.0"'),
        names="CITATION.cff",
    ),
    replace(
        replaced("datapackage.json", '"created": "2026-11-20', '"created": "2026-11-21'),
        names="CITATION.cff",
    ),
    replaced("schema/tables/source/measurements.json", '"required": true', '"required": false'),
    replaced("schema/limits.toml", "0", "1"),
    # The expectations follow from the release before, too; the page shows them.
    replace(replaced("quality/expectations.json", '"why": "', '"why": "not '), names="index.html"),
]

ROWS = [
    edited("a change is a tenth of what it was",
           {"derived/comparisons.csv": cell(0, "change_pct", "-0.8")}, "derived/comparisons.csv"),
    edited("a loss is called a gain",
           {"derived/comparisons.csv": cell(0, "direction", "gain")}, "derived/comparisons.csv"),
    edited("a derived row is gone", {"derived/cells.csv": lambda rows: rows[1:]},
           "derived/cells.csv"),
    edited("a source value is another", {"data/measurements.csv": cell(-1, "value", "160.2")},
           "derived/cells.csv"),
    edited("a value is not what its capture gives",
           {"data/measurements.csv": cell(0, "value", "170.0")}, "data/measurements.csv"),
    edited("a capture has other frames", {"data/captures.csv": cell(0, "frames", "1099")},
           "data/captures.csv"),
    edited("a run is gone with its values",
           {"data/runs.csv": without("run", _BELA[:1]),
            "data/measurements.csv": without("run", _BELA[:1])}, "data/runs.csv"),
    edited("a set is gone with its rows",
           {"data/sets.csv": without("set_id", ("bela.autumn",)),
            "data/sessions.csv": without("set_id", ("bela.autumn",)),
            "data/runs.csv": without("run", _BELA),
            "data/measurements.csv": without("run", _BELA)}, "data/sets.csv"),
    edited("two runs are renumbered",
           {"data/runs.csv": swapped("run", _BELA[0], _BELA[3])}, "derived/runs_wide.csv"),
    edited("the levels of two runs are exchanged",
           {"data/measurements.csv": swapped("run", _BELA[0], _BELA[3])}, "derived/cells.csv"),
    edited("a session is of another round", {"data/sessions.csv": cell(0, "round", "2")},
           "derived/runs_wide.csv"),
    edited("a driver has another version", {"data/stacks.csv": cell(0, "driver_version", "552.1")},
           "derived/runs_wide.csv"),
    edited("a contributor has another name",
           {"data/contributors.csv": cell(0, "shown_name", "Nobody")}, "datapackage.json"),
]  # fmt: skip

DESIGN = [
    replace(
        replaced("study.toml", "material_change_pct = 3.0", "material_change_pct = 9.0"),
        names="derived/comparisons.csv",
    ),
    replace(replaced("quality/results.json", '"met": true', '"met": false'), names="index.html"),
    Attack("the Parquet copy alone is another, hashes repaired", parquet_only, "data/runs.parquet"),
    Attack("a capture is another under its name, hashes repaired", other_capture),
    Attack("an edited value is blamed on another version", hidden_behind_a_version,
           "derived/comparisons.csv"),
]  # fmt: skip

VOUCHED = [
    Attack("the signature is another release's", signature_of_another, "SHA256SUMS.sig"),
    Attack("the signature is gone", unsigned, "SHA256SUMS.sig", _KEY),
    Attack("signed again with a forger's key", signed_by_a_forger, "SHA256SUMS.sig", _KEY),
    Attack("the list of hashes is ordered otherwise", reordered, None, frozenset({"fingerprint"})),
    Attack("everything made again without one set", remade, None, _KEY),
    Attack("everything made again and signed by a forger", remade_and_signed, None, _KEY),
    Attack(
        "the release before given out as the newest", rolled_back, None, frozenset({"register"})
    ),
]

ATTACKS = [*FLIPPED, *FILES, *TEXTS, *ROWS, *DESIGN, *SKILLED, *VOUCHED]


def table() -> str:
    """Give the attacks as the table of pipeline/docs/trust.md."""
    words = {
        "": "the release alone",
        "key": "`--key`",
        "fingerprint": "`--fingerprint`, or `--key`",
        "register": "`--register`",
        "previous": "`--previous`",
        "deep": "`--deep`",
        "deep, study": "`--deep --study`",
        "deep, previous": "`--deep --previous`",
    }
    lines = ["| what is done to the release | caught with |", "|---|---|"]
    for attack in ATTACKS:
        name = attack.name.replace("|", "\\|")
        lines.append(f"| {name} | {words[', '.join(sorted(attack.given))]} |")
    return "\n".join(lines) + "\n"
