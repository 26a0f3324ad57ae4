"""Finds the one row that a placeholder means, or says which names would be right."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rigledger.errors import near_names
from rigledger.quote.figures import Figure, Found, Problem, missing

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from rigledger.quote.figures import Ledger
    from rigledger.quote.syntax import Asked

    Row = dict[str, Any]

_PLACE = ("rig", "contributor", "platform", "card")
_BUILD = ("stack", "title_build")
_COMPARED = (*_PLACE, "workload", "title", "resolution", "contrast", "metric", *_BUILD)
QUERIES = {
    "change": "change", "largest-gain": "change", "largest-loss": "change", "value": "value",
    "mean-change": "mean_change", "difference": "difference", "count": "count",
}  # fmt: skip
KEYS: dict[str, tuple[str, ...]] = {
    "change": _COMPARED,
    "largest-gain": _COMPARED,
    "largest-loss": _COMPARED,
    "value": (*_PLACE, "workload", "title", "resolution", "level", "metric", *_BUILD),
    "mean-change": (*_PLACE, "resolution", "contrast", "metric", "title_set"),
    "difference": ("rig", "against", "contributor", "workload", "title", "resolution", "level",
                   "metric"),
    "count": (*_PLACE, "workload", "title", "resolution", "level", *_BUILD),
    "claim": (),
    "material-change": (),
}  # fmt: skip
COUNTED = {
    "runs": "run", "sessions": "session", "rigs": "rig", "contributors": "contributor",
    "platforms": "platform", "cards": "card", "titles": "title", "workloads": "workload",
    "resolutions": "resolution", "levels": "level",
}  # fmt: skip


def find(ledger: Ledger, asked: Asked) -> Found:
    """Find the figure of a cell word, of ``count`` or of ``material-change``."""
    if asked.word == "material-change":
        return Found(Figure("share", ledger.source.delta, unit="%", rests_on="study.toml"))
    wrong = list(_wrong_names(ledger, asked))
    if wrong:
        return Found(None, tuple(wrong))
    rows = [row for row in ledger.rows(QUERIES[asked.word]) if _fits(row, asked)]
    if asked.word == "count":
        return _count(asked, rows)
    if not rows:
        return _not_measured(ledger, asked)
    if not any(key in asked.names for key in _BUILD):
        rows = [row for row in rows if row["current"]] or rows
    if asked.word.startswith("largest-"):
        return _largest(ledger, asked, rows)
    return _only(ledger, asked, rows)


def _fits(row: Row, asked: Asked) -> bool:
    return all(row[key] == value for key, value in asked.names.items())


def _wrong_names(ledger: Ledger, asked: Asked) -> Iterator[Problem]:
    keys, query = KEYS[asked.word], QUERIES[asked.word]
    for key, value in asked.names.items():
        if key not in keys:
            reason = f"{asked.word} can't be narrowed by {key!r}"
            yield Problem("unknown_name", "error", reason, near_names(key, keys))
        elif value not in (legal := ledger.legal(query, key)):
            yield _withdrawn(ledger, key, value) or Problem(
                "unknown_name", "error", f"the tables hold no {key} {value!r}",
                near_names(value, legal),
            )  # fmt: skip


def _withdrawn(ledger: Ledger, key: str, value: str) -> Problem | None:
    if key not in {"rig", "against", "contributor"}:
        return None
    owner = value.partition(".")[0]
    for row in ledger.rows("withdrawn"):
        if row["contributor"] == owner:
            return Problem(
                "withdrawn", "error",
                f"{key} {value!r}: the set {row['set_id']} was withdrawn ({row['reason']})",
                "take the figure out of the text, or quote a release that still holds the set",
            )  # fmt: skip
    return None


def _not_measured(ledger: Ledger, asked: Asked) -> Found:
    """Say why there is no such cell: all names are right, but not together."""
    cells = [row for row in ledger.rows("value") if _fits_cell(row, asked)]
    reasons = sorted({row["no_partner"] for row in cells if row["no_partner"]})
    why = "; ".join(ledger.term("no_partner", word) for word in reasons)
    place = ", ".join(asked.names.values())
    return missing(
        "not_measured", f"{place}: {why or 'nothing of it was planned or measured'}",
        "measure it (rigledger sheet --remaining), or take the figure out of the text",
    )  # fmt: skip


def _fits_cell(row: Row, asked: Asked) -> bool:
    return all(row[key] == value for key, value in asked.names.items() if key in row)


def _only(ledger: Ledger, asked: Asked, rows: Sequence[Row]) -> Found:
    if len(rows) > 1:
        return _several(asked, rows)
    (row,) = rows
    if row["value"] is None:
        if row.get("no_verdict"):
            why = ledger.term("no_verdict", row["no_verdict"])
            return missing("no_figure", f"there is no figure: {why}")
        return _not_measured(ledger, asked)
    return Found(_figure(asked, row), tuple(_doubts(ledger, row)))


def _several(asked: Asked, rows: Sequence[Row]) -> Found:
    open_keys = [
        key for key in KEYS[asked.word]
        if key not in asked.names and key != "title" and len(_values(rows, key)) > 1
    ]  # fmt: skip
    keys = [key for key in open_keys if key not in _BUILD] or open_keys
    steps = (f"{key}={_listed(_values(rows, key))}" for key in keys if key not in _PLACE[1:])
    return missing(
        "names_several",
        f"fits {len(rows)} rows of the tables",
        f"say which one: {', '.join(steps)}",
    )


def _listed(values: Sequence[str]) -> str:
    more = f" or {len(values) - 4} more" if len(values) > 4 else ""
    return f"{' or '.join(values[:4])}{more}"


def _values(rows: Iterable[Row], key: str) -> list[str]:
    return sorted({str(row[key]) for row in rows})


def _figure(asked: Asked, row: Row, *, up_to: bool = False) -> Figure:
    return Figure(
        "value" if asked.word == "value" else "change",
        row["value"], row["low"], row["high"], row["unit"], row["better"],
        row.get("direction"), up_to, rests_on=_key_text(asked, row),
    )  # fmt: skip


def _key_text(asked: Asked, row: Row) -> str:
    held = [str(row[key]) for key in KEYS[asked.word] if key not in {*_PLACE[1:], "title"}]
    return ", ".join(held)


def _doubts(ledger: Ledger, row: Row) -> Iterator[Problem]:
    if row.get("no_verdict"):
        why = ledger.term("no_verdict", row["no_verdict"])
        yield Problem(
            "no_verdict", "open", f"the change has no verdict: {why}", "say so in the text"
        )
    if row.get("doubtful_runs"):
        yield Problem(
            "doubtful_runs", "remark", f"rests on {row['doubtful_runs']} doubtful runs",
            "measure again (rigledger sheet --again)",
        )  # fmt: skip
    if row.get("stale"):
        yield Problem("stale", "remark", "the rig has a newer stack by now", "name the stack")
    if row.get("titles_missing"):
        yield Problem(
            "titles_missing", "remark", f"{row['titles_missing']} titles of the set are missing",
            "say over how many titles it is",
        )  # fmt: skip
    if row.get("differs_in"):
        yield Problem(
            "differs_in", "remark", f"the two rigs differ in {row['differs_in']} as well",
            "say so in the text",
        )  # fmt: skip


def _largest(ledger: Ledger, asked: Asked, rows: Sequence[Row]) -> Found:
    wanted = asked.word.removeprefix("largest-")
    several = [key for key in ("contrast", "metric") if len(_values(rows, key)) > 1]
    if several:
        return _several(asked, rows)
    shown = [row for row in rows if row["direction"] == wanted]
    if not shown:
        return missing(
            "nothing_shown", f"no {wanted} is shown in any of {len(rows)} comparisons",
            "write that none is shown",
        )  # fmt: skip
    row = max(shown, key=lambda held: abs(held["value"]))
    without = sum(held["no_verdict"] is not None for held in rows)
    partial = Problem(
        "without_verdict", "remark", f"{without} of {len(rows)} comparisons have no verdict",
        "say over which cells it is the largest",
    )  # fmt: skip
    found = _figure(asked, row, up_to=len(rows) > 1)
    return Found(found, (*_doubts(ledger, row), *((partial,) if without else ())))


def _count(asked: Asked, rows: Sequence[Row]) -> Found:
    column = COUNTED.get(asked.thing or "")
    if column is None:
        return missing(
            "unknown_name",
            f"{asked.thing!r} are not counted",
            near_names(asked.thing or "", COUNTED),
        )
    number = len({row[column] for row in rows})
    return Found(Figure("count", float(number), rests_on=f"{number} {asked.thing} in runs_wide"))
