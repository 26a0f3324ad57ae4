"""What a heading that is no column of the contract most likely means."""

from __future__ import annotations

import difflib
import re
import tomllib
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from rigledger.contract.load import schema_folder
from rigledger.errors import near_names

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable

    from rigledger.contract.model import Contract, Metric, Table

_NEAR = 0.8
_HALF = 50
_PLAIN = {"pct", "fps", "frame", "rate", "avg", "average", "of", "the", "in", "th", "st"}
_LOWS = {"low", "lows", "p", "percentile", "pctl", "slowest", "worst", "minimum", "min"}
_UNITS = {"fps", "ms", "s", "mts", "w", "degc"}
_RUNS = {"run", "pass", "test", "no"}
_FIGURES = {
    "fps", "low", "lows", "min", "minimum", "max", "maximum", "avg", "average", "mean", "median",
    "percentile", "pctl", "frametime", "frametimes", "latency", "lag", "power", "temperature",
    "temp", "clock", "load", "usage", "utilisation", "utilization", "score", "stutter", "stutters",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a heading most likely means.

    Attributes:
        rule: Rule of the finding.
        reason: What is wrong with it.
        next_step: What to do; None for the rule's own sentence.
        meant: Columns of the table that it may mean.
    """

    rule: str
    reason: str
    next_step: str | None
    meant: tuple[str, ...] = ()


def words(heading: str) -> tuple[str, ...]:
    """Give a heading's words and numbers in lower case; 0_1pct, 0.1 % and 0,1% are 0.1 and pct."""
    text = heading.casefold().replace("%", " pct ").replace("per cent", "pct")
    text = re.sub(r"(?<=\d)[_.,](?=\d)", ".", text)
    parts = re.findall(r"\d+(?:\.\d+)?|[^\W\d_]+", text)
    return tuple("pct" if part == "percent" else part for part in parts)


def numbers(parts: Iterable[str]) -> frozenset[float]:
    """Give the numbers among the words of a heading."""
    return frozenset(float(part) for part in parts if part[0].isdigit())


@lru_cache(maxsize=1)
def _written() -> dict[str, dict[str, list[str]]]:
    path = schema_folder() / "headings.toml"
    return tomllib.loads(path.read_text(encoding="utf-8"))


def plain_meaning(heading: str, table: Table) -> str | None:
    """Give the column that a heading names in other words; None where it is not so plain."""
    known = _plain_headings(table.name, table.field_names)
    parts = words(heading)
    bare = parts[:-1] if parts[-1:] and parts[-1] in _UNITS else ()
    return known.get(parts) or known.get(bare)


@lru_cache(maxsize=64)
def _plain_headings(table: str, columns: tuple[str, ...]) -> dict[tuple[str, ...], str]:
    """Give the columns of a table by the words for them, those that come first the plainer."""
    written = _written().get(table, {})
    plain = [(words(name), name) for name in columns]
    plain += [
        (words(heading), name)
        for name, headings in written.items()
        if name in columns
        for heading in headings
    ]
    plain += [(_bare(name), name) for name in columns]
    return {parts: name for parts, name in reversed(plain) if parts}


def _bare(name: str) -> tuple[str, ...]:
    """Give a name without the unit at its end: duration of duration_s."""
    parts = words(name)
    return parts[:-1] if len(parts) > 1 and parts[-1] in _UNITS else ()


def meaning(heading: str, table: Table, contract: Contract, there: Collection[str]) -> Meaning:
    """Say what a heading that names no column most likely means.

    Args:
        heading: The cell of the header row.
        table: The wide table.
        contract: The contract.
        there: Columns that other headings of the row name already.
    """
    parts = words(heading)
    found = _lows(heading, parts, table, contract) or _column(heading, parts, table)
    if found is None:
        return _elsewhere(heading, table, contract) or _own(heading, parts, table, contract)
    if isinstance(found, Meaning):
        return found
    missing = tuple(name for name in found if name not in there)
    if not missing:
        reason = f"{heading!r} looks like {found[0]}, which the table has already"
        return Meaning("unknown_column", reason, "Remove the one that is not meant.")
    return _misspelt(heading, missing, table)


def _misspelt(heading: str, meant: tuple[str, ...], table: Table) -> Meaning:
    reason = f"{heading!r} is no column of {table.name}"
    if len(meant) == 1:
        return Meaning("misspelt_column", reason, f"did you mean {meant[0]!r}?", meant)
    return Meaning("misspelt_column", reason, _options(meant, table), meant)


def _options(names: Iterable[str], table: Table) -> str:
    options = "\n".join(f"{name}: {table.field(name).title}" for name in names)
    return f"Name the column after the definition that your program uses:\n{options}"


def _lows(
    heading: str, parts: tuple[str, ...], table: Table, contract: Contract
) -> Meaning | tuple[str, ...] | None:
    """A per cent with a word for the slow end: the metrics with that tail, or none such."""
    lows = set(parts) & _LOWS or parts[1:] == ("pct",) or parts[-2:-1] == ("pct",)
    if not (table.metric_columns and numbers(parts) and lows):
        return None
    tails = {number for number in numbers(parts) if 0 < number < _HALF}
    tails |= {round(100 - number, 6) for number in numbers(parts) if _HALF < number < 100}
    fitting = [name for name, held in contract.metrics.items() if held.tail_pct in tails]
    reason = f"{heading!r} is no metric of the contract"
    if not fitting:
        known = {held.tail_pct for held in contract.metrics.values() if held.tail_pct}
        tails_known = ", ".join(f"{low:g} %" for low in sorted(known))
        step = f"The contract has lows of {tails_known}. {_ask(contract.metrics.values())}"
        return Meaning("unknown_metric", reason, step)
    further = set(parts) - _LOWS - _PLAIN - {part for part in parts if part[0].isdigit()}
    if further - {part for name in fitting for part in words(name)}:
        return Meaning("unknown_metric", reason, _options(fitting, table), tuple(fitting))
    return tuple(_nearest(parts, fitting))


def _nearest(parts: tuple[str, ...], names: list[str]) -> list[str]:
    """Keep the names that have the most words of the heading: `1% low rank` is one of four."""
    shared = {name: len(set(parts) & set(words(name)) - {"low", "pct", "fps"}) for name in names}
    most = max(shared.values(), default=0)
    return [name for name in names if shared[name] == most]


def _column(heading: str, parts: tuple[str, ...], table: Table) -> Meaning | tuple[str, ...] | None:
    plain = plain_meaning(heading, table)
    if plain:
        return (plain,)
    joined = "_".join(parts)
    fitting = [name for name in table.field_names if numbers(words(name)) == numbers(parts)]
    near = difflib.get_close_matches(joined, fitting, 1, _NEAR)
    return tuple(near) or _numbered(heading, parts, table)


def _numbered(heading: str, parts: tuple[str, ...], table: Table) -> Meaning | None:
    """A metric or a run with a number behind it: one column a run in place of one row a run."""
    if not (table.metric_columns and len(parts) > 1 and numbers(parts[-1:])):
        return None
    rest = [part for part in parts[:-1] if part not in _RUNS]
    figures = (field.name for field in table.fields if field.unit == "fps")
    column = plain_meaning(" ".join(rest), table) if rest else next(figures, None)
    if column is None or table.field(column).type != "number":
        return None
    reason = f"{heading!r} looks like {column} of one run of several"
    step = f"Give each run a row of its own, with its run and pass and its value in {column}."
    return Meaning("unknown_metric", reason, step, (column,))


def _elsewhere(heading: str, table: Table, contract: Contract) -> Meaning | None:
    for name in ("sessions", "rigs", "runs"):
        column = plain_meaning(heading, contract.wide("handed_in", name))
        if column and name != table.name:
            reason = f"{heading!r} is no column of {table.name}: it belongs to {name}"
            return Meaning("unknown_column", reason, f"Move it to {name}, as {column}.")
    return None


def _own(heading: str, parts: tuple[str, ...], table: Table, contract: Contract) -> Meaning:
    if table.metric_columns and _is_figure(parts, contract):
        reason = f"{heading!r} is no metric of the contract"
        return Meaning("unknown_metric", reason, _ask(contract.metrics.values()))
    near = near_names("_".join(parts), table.field_names)
    step = f"Remove it, or correct its name if it was meant to be read: {near}"
    reason = f"{heading!r} is no column of {table.name}"
    return Meaning("unknown_column", reason, step if "did you mean" in near else None)


def _is_figure(parts: tuple[str, ...], contract: Contract) -> bool:
    spelt = {
        spelling.casefold()
        for unit in contract.units.values()
        for spelling in (unit.unit, *unit.accepts)
    }
    return bool(set(parts) & _FIGURES) or (len(parts) > 1 and parts[-1] in spelt | {"pct"})


def _ask(metrics: Iterable[Metric]) -> str:
    known = ", ".join(metric.metric for metric in metrics)
    return (
        f"The metrics are {known}. Use one of them, leave the column out, or ask the curator to add"
        " the metric to the contract."
    )
