"""Titles that say what a chart shows, made from verdicts: nothing is claimed that has none.

"Loss" and "gain" stand for changes that the table calls material, "only" is written where every
other comparison is settled and the test of what the change depends on (``factor_effects``) says
so, and what isn't settled is counted beside it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rigledger.counting import counted

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    Row = dict[str, Any]


_ALPHA = 0.05


def listed(names: Sequence[str], word: str = "and") -> str:
    """Write names as ``a, b and c``."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} {word} {names[-1]}"


def headline(rows: Sequence[Row], delta: float, *, depends: bool) -> str:
    """Say what the comparisons of one title show.

    Args:
        rows: Rows of ``comparisons`` of one workload, contrast and metric, with ``card_model``.
        delta: The material change, in per cent.
        depends: Whether ``factor_effects`` says that the change depends on the hardware.
    """
    parts = [
        _found(word, rows, direction, delta, depends=depends)
        for word, direction in (("loss", "loss"), ("gain", "gain"))
    ]
    found = [part for part in parts if part]
    if not found:
        return _nothing(rows, delta)
    text = "; ".join(found)
    return text[0].upper() + text[1:]


def headline_of_title(rows: Sequence[Row], tests: Sequence[Row], delta: float) -> str:
    """Name the title and say what its comparisons show.

    Args:
        rows: Rows of ``comparisons`` of one workload, contrast and metric.
        tests: Rows of ``factor_effects`` of the same.
        delta: The material change, in per cent.
    """
    said = headline(rows, delta, depends=any(shown_to_depend(test) for test in tests))
    return f"{rows[0]['title']}: {said[0].lower()}{said[1:]}"


def shown_to_depend(test: Row) -> bool:
    """Say whether a test of ``factor_effects`` holds among all of its family, not only alone."""
    return bool(test["depends"]) and test["q"] is not None and test["q"] <= _ALPHA


def headline_over_titles(rows: Sequence[Row], delta: float) -> str:
    """Say in which titles material changes were found.

    Args:
        rows: Rows of ``comparisons`` of one contrast and metric, with ``title``.
        delta: The material change, in per cent.
    """
    titles = list(dict.fromkeys(row["title"] for row in rows))
    parts = []
    for direction in ("loss", "gain"):
        held = {row["title"] for row in rows if _material(row, direction)}
        named = [title for title in titles if title in held]
        if named:
            where = "every title" if held == set(titles) and len(titles) > 1 else _some(named)
            parts.append(f"{direction} of more than {delta:g} % in {where}")
    if not parts:
        return _nothing(rows, delta)
    text = "; ".join(parts)
    return text[0].upper() + text[1:]


def _some(names: Sequence[str]) -> str:
    if len(names) <= 4:
        return listed(names)
    return f"{', '.join(names[:3])} and {len(names) - 3} more titles"


def counts(rows: Sequence[Row], delta: float) -> str:
    """Count the verdicts of some comparisons in a sentence."""
    numbers = {
        f"with a loss of more than {delta:g} %": sum(_material(row, "loss") for row in rows),
        f"with a gain of more than {delta:g} %": sum(_material(row, "gain") for row in rows),
        f"within ±{delta:g} %": sum(row["size"] == "immaterial" for row in rows),
        f"not settled{_some_size(rows)}": sum(row["size"] == "unsettled" for row in rows),
        "without a verdict": sum(row["no_verdict"] is not None for row in rows),
    }
    parts = [f"{number} {words}" for words, number in numbers.items() if number]
    return f"{counted(len(rows), 'comparison')}: {', '.join(parts)}."


def _some_size(rows: Sequence[Row]) -> str:
    """Count, of the unsettled, those whose direction is shown all the same."""
    held = [row["direction"] for row in rows if row["size"] == "unsettled"]
    found = [f"{held.count(way)} a {way}" for way in ("loss", "gain") if way in held]
    return f" (of them {' and '.join(found)} of some size)" if found else ""


def _material(row: Row, direction: str) -> bool:
    return bool(row["size"] == "material" and row["direction"] == direction)


def _nothing(rows: Sequence[Row], delta: float) -> str:
    judged = [row for row in rows if row["no_verdict"] is None]
    if not judged:
        return "No comparison allows a verdict"
    unsettled = sum(row["size"] != "immaterial" for row in judged)
    if unsettled == 0 and len(judged) == len(rows):
        return f"Every change lies within ±{delta:g} %"
    if unsettled == 0:
        return f"Every change that has a verdict lies within ±{delta:g} %"
    return f"No change of more than {delta:g} % shown; {unsettled} of {len(judged)} not settled"


def _found(word: str, rows: Sequence[Row], direction: str, delta: float, *, depends: bool) -> str:
    held = [row for row in rows if _material(row, direction)]
    if not held:
        return ""
    rest = [row for row in rows if row not in held]
    settled = all(_settled(row, direction) for row in rest)
    only = "only " if rest and settled and depends else ""
    where, whole = _scope(held, rows)
    open_ones = sum(not _settled(row, direction) for row in rest)
    after = f", {open_ones} of {len(rows)} not settled" if open_ones and rest else ""
    return f"{word} of more than {delta:g} % {only if not whole else ''}{where}{after}"


def _settled(row: Row, direction: str) -> bool:
    """Say whether a comparison is known not to be material in this direction."""
    other = "gain" if direction == "loss" else "loss"
    return row["size"] == "immaterial" or _material(row, other)


def _scope(held: Sequence[Row], rows: Sequence[Row]) -> tuple[str, bool]:
    """Name the rigs and resolutions of some rows; also, whether these are all rows."""
    rigs, every = _rigs(held), _rigs(rows)
    where = _hardware(held, rows)
    if rigs == every:
        where = "on every rig" if len(every) > 1 else f"on {rows[0]['rig']}"
    of_rigs = [row for row in rows if row["rig"] in rigs]
    if len(of_rigs) == len(held):
        return where, len(held) == len(rows)
    resolutions = list(dict.fromkeys(row["resolution"] for row in held))
    of_these = [row for row in of_rigs if row["resolution"] in resolutions]
    exact = len(of_these) == len(held)
    return where + (f" at {listed(resolutions)}" if exact else ", not at every resolution"), False


def _hardware(held: Sequence[Row], rows: Sequence[Row]) -> str:
    rigs = _rigs(held)
    cards = list(dict.fromkeys(row["card_model"] for row in held))
    platforms = sorted({row["platform"] for row in held})
    with_cards = [row for row in rows if row["card_model"] in cards]
    on_platforms = [row for row in rows if row["platform"] in platforms]
    both = [row for row in with_cards if row["platform"] in platforms]
    if rigs == _rigs(with_cards):
        return f"with {listed(cards)}"
    if rigs == _rigs(on_platforms):
        return f"on {listed(platforms)}"
    if rigs == _rigs(both):
        return f"with {listed(cards)} on {listed(platforms)}"
    if len(rigs) <= 3:
        return f"on {listed(sorted(rigs))}"
    return f"on {len(rigs)} of {len(_rigs(rows))} rigs"


def _rigs(rows: Iterable[Row]) -> set[str]:
    return {row["rig"] for row in rows}
