"""The part of CHANGES.md on what moved: new stacks, current comparisons, claims."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, Any

from rigledger.release.causes import CURRENT
from rigledger.release.changes_words import Section, markdown, section

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from rigledger.release.view import ReleaseView

_SAYS = {"gain": "gain", "loss": "loss", "not_shown": "not shown"}


def moved_sections(view: ReleaseView) -> list[Section]:
    """Tell how much of what was measured again on a new stack or build has moved."""
    if not view.has("stack_shift"):
        return []
    rows = view.rows(
        """
        SELECT rig, changed, metric, from_stack, to_stack,
               count(*) FILTER (level <> 'effect') AS cells,
               count(*) FILTER (level <> 'effect' AND moved) AS cells_moved,
               count(*) FILTER (level = 'effect') AS effects,
               count(*) FILTER (level = 'effect' AND moved) AS effects_moved,
               arg_max(
                   {'workload': workload, 'resolution': resolution, 'contrast': contrast,
                    'before': from_change_pct, 'now': to_change_pct, 'moved': moved},
                   (coalesce(moved, false), abs(ln(1 + shift_pct / 100)), workload, resolution,
                    contrast)
               ) FILTER (level = 'effect' AND shift_pct > -100) AS furthest
        FROM stack_shift
        WHERE to_stack <> from_stack AND EXISTS (
            SELECT 1 FROM changes JOIN sessions ON changes.key = 'session=' || sessions.session
            WHERE changes."table" = 'sessions' AND changes.change = 'added'
              AND sessions.rig = stack_shift.rig AND sessions.stack = stack_shift.to_stack)
        GROUP BY ALL ORDER BY metric, rig, from_stack, to_stack, changed
        """
    )
    lines = [_moved(row, _versions(view, row)) for row in rows]
    return section("Measured again on another stack", lines)


def _versions(view: ReleaseView, row: Mapping[str, Any]) -> str:
    """Say what changed, from which value to which."""
    stacks = {
        held["stack"]: held
        for held in view.rows("SELECT * FROM stacks")
        if held["stack"] in {row["from_stack"], row["to_stack"]}
    }
    old, new = stacks[row["from_stack"]], stacks[row["to_stack"]]
    names = [name.strip() for name in str(row["changed"]).split(",")]
    parts = [f"{name} from {old[name]} to {new[name]}" for name in names if name in old]
    return ", ".join([*parts, *(f"another {name}" for name in names if name not in old)])


def _moved(row: Mapping[str, Any], versions: str) -> str:
    return (
        f"{markdown(row['rig'])}, {markdown(row['metric'])}, {markdown(versions)}: "
        f"{_of(row['cells_moved'], row['cells'], 'frame rates')} moved, and "
        f"{_of(row['effects_moved'], row['effects'], 'changes by the setting')}."
        f"{_furthest(row['furthest'])}"
    )


def _furthest(held: Mapping[str, Any] | None) -> str:
    """Name the change by the setting that lies furthest from before, shown to have moved or not."""
    if held is None or held["before"] is None or held["now"] is None:
        return ""
    place = ", ".join(str(held[name]) for name in ("workload", "resolution", "contrast"))
    shown = "" if held["moved"] else ", which these runs don't show to be a move"
    return (
        f" Furthest from before: {markdown(place)}, {held['before']:+.1f} % before, "
        f"{held['now']:+.1f} % now{shown}."
    )


def _of(some: int, count: int, what: str) -> str:
    return f"{some or 'none'} of {count} {what}"


def turned_sections(view: ReleaseView) -> list[Section]:
    """Tell current comparisons that say otherwise than before, largest moves first, and claims."""
    held = _current(view)
    turned = [row for row in held if row.keys() & {"direction", "size", "no_verdict"}]
    lines = [_turned(row) for row in sorted(turned, key=_order)]
    same = len(held) - len(turned)
    if same:
        lines.append(f"{same} more rest on another stack or build than before and say the same.")
    return section("Claims", _claims(view)) + section("What is said otherwise now", lines)


def _current(view: ReleaseView) -> list[dict[str, Any]]:
    """Give one dictionary per key: field to what it was and is."""
    rows = view.rows(
        f"SELECT key, field, was, becomes FROM changes WHERE \"table\" = '{CURRENT}' ORDER BY ALL"
    )
    by_key: dict[str, dict[str, Any]] = defaultdict(dict)
    for row in rows:
        by_key[row["key"]][row["field"]] = (row["was"], row["becomes"])
    return [{"key": key} | fields for key, fields in by_key.items()]


def _order(row: Mapping[str, Any]) -> tuple[float, str]:
    was, becomes = row.get("change_pct", ("0", "0"))
    moved = abs(float(becomes) - float(was)) if was and becomes else 0.0
    return (-moved, row["key"])


def _turned(row: Mapping[str, Any]) -> str:
    parts = dict(part.partition("=")[::2] for part in row["key"].split(" "))
    place = ", ".join(parts[name] for name in ("rig", "workload", "resolution"))
    change = row.get("change_pct")
    numbers = f" {change[0]} % before, {change[1]} % now" if change else ""
    said = "; ".join(_said(row))
    stack = ", on another stack" if "stack" in row else ""
    now = f":{numbers}{stack}" if numbers else stack
    return (
        f"{markdown(place)}, {markdown(parts['contrast'])}, {markdown(parts['metric'])}"
        f"{now}: {said}"
    )


def _said(row: Mapping[str, Any]) -> Iterator[str]:
    for field, word in (("direction", "direction"), ("size", "size"), ("no_verdict", "no verdict")):
        if field in row:
            was, becomes = (_word(value) for value in row[field])
            yield f"{word} was {was}, is {becomes}"


def _word(value: str | None) -> str:
    return "none" if value is None else _SAYS.get(value, value.replace("_", " "))


def _claims(view: ReleaseView) -> Iterator[str]:
    if not view.has("claims"):
        return
    rows = view.rows(
        """
        SELECT claims.sentence, changes.was, changes.becomes, claims.because
        FROM changes JOIN claims ON changes.key = 'claim=' || claims.claim
        WHERE changes."table" = 'claims' AND changes.field = 'verdict' ORDER BY claims.claim
        """
    )
    for row in rows:
        why = f": {markdown(row['because'])}" if row["because"] else ""
        was, becomes = _word(row["was"]), _word(row["becomes"])
        yield f'"{markdown(row["sentence"])}" was {was}, is {becomes}{why}'
