"""Writes schema/REFERENCE.md, the page of all fields, metrics, rules and vocabularies.

``python -m rigledger.contract.reference`` writes it, ``--check`` says whether it is current.
"""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from rigledger.contract.descriptor import example_text
from rigledger.contract.load import load_contract, schema_folder
from rigledger.contract.migrations import load_history
from rigledger.files import write_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from rigledger.contract.migrations import History, Migration
    from rigledger.contract.model import Contract, Field, Group, Metric, Rule, Table, Vocabulary

_GROUPS: dict[Group, tuple[str, str]] = {
    "handed_in": (
        "What a contributor hands in",
        "Columns of the files or sheets of a result set, as a person fills them in.",
    ),
    "study": (
        "What a study says of itself",
        "Keys of study.toml and of the files beside it.",
    ),
    "source": (
        "Source tables of a release",
        "What was measured, by whom and with what; everything else is rebuilt from these.",
    ),
    "derived": (
        "Derived tables of a release",
        "Rebuilt from the source tables by `rigledger recheck`.",
    ),
}

_TOP = """# Reference of the contract, version {version}

Made from the files of this folder by `python -m rigledger.contract.reference`; don't edit it by
hand.

Every table is described by a Table Schema of the Data Package standard, version 2.0. A blank cell
means *not known* or *does not apply*, as the field's description says. Numbers are written with a
decimal point and no thousands marks, dates as `2026-10-05`, times as `2026-10-05T09:12:00Z`, yes
and no as `true` and `false`. Not-a-number and infinity are never values. Patterns match the whole
cell.

In the tables below **bold** fields are required; *key* marks the primary key, *→ table* a field
whose every value stands in that table.
"""


_OPENS = (
    "A study or release written by any of these opens. What is carried over is added in memory, "
    "where older data are read; published bytes never change."
)


def reference(contract: Contract) -> str:
    """Give the whole page in Markdown."""
    parts = [
        _TOP.format(version=contract.version),
        *(_group(contract, group) for group in _GROUPS),
        _metrics(contract.metrics.values()),
        _rules(contract.rules.values()),
        "## Vocabularies\n",
        *(_vocabulary(held) for held in contract.vocabularies.values()),
        _units(contract),
        _history(load_history()),
    ]
    return "\n".join(parts)


def _group(contract: Contract, group: Group) -> str:
    title, meaning = _GROUPS[group]
    tables = (_table(table) for table in contract.group(group))
    return "\n".join([f"## {title}\n", f"{meaning}\n", *tables])


def _table(table: Table) -> str:
    lines = [f"### {table.title}: `{table.name}`\n", f"{table.description}\n"]
    notes = [
        *(["The table may be left out."] if table.optional else []),
        *(["One further column per metric, named as the metric."] if table.metric_columns else []),
        *(["One further column per term of `fact` is welcome."] if table.fact_columns else []),
        *(f"No two rows share {_names(key)} where all are filled." for key in table.unique_keys),
    ]
    lines += [f"{' '.join(notes)}\n"] if notes else []
    rows = [_field_row(field, table) for field in table.fields]
    head = ("field", "type", "unit", "allowed", "key", "meaning", "example")
    return "\n".join([*lines, _grid(head, rows)])


def _field_row(field: Field, table: Table) -> tuple[str, ...]:
    name = f"`{field.name}`"
    example = example_text(field)
    return (
        f"**{name}**" if field.required else name,
        field.type,
        field.unit or (f"of `{field.unit_from}`" if field.unit_from else ""),
        _allowed(field),
        _key(field, table),
        field.description,
        "" if example is None else f"`{example}`",
    )


def _allowed(field: Field) -> str:
    bounds = (field.minimum, field.maximum)
    parts = [f"{bounds[0]} to {bounds[1]}"] if None not in bounds else []
    parts += [f"[{field.vocabulary}](#{field.vocabulary})"] if field.vocabulary else []
    parts += [f"`{field.pattern}`"] if field.pattern else []
    parts += [f"at most {field.max_length} characters"] if field.max_length else []
    return ", ".join(parts)


def _key(field: Field, table: Table) -> str:
    parts = ["key"] if field.name in table.primary_key else []
    parts += [f"→ {key.table}" for key in table.foreign_keys if key.field == field.name]
    return ", ".join(parts)


def _metrics(metrics: Iterable[Metric]) -> str:
    head = (
        "metric",
        "unit",
        "better",
        "comparable",
        "recomputed from captures",
        "fewest frames",
        "allowed",
        "meaning",
    )
    rows = [
        (
            f"`{held.metric}`",
            held.unit,
            held.direction,
            held.comparable.replace("_", " "),
            "yes" if held.from_frames else "no",
            str(held.fewest_frames),
            f"{held.least} to {held.most}",
            f"{held.title[:1].upper()}{held.title[1:]}.",
        )
        for held in metrics
    ]
    return f"## Metrics\n\n{_grid(head, rows)}"


def _rules(rules: Iterable[Rule]) -> str:
    head = ("rule", "severity", "about", "what", "why", "next step")
    rows = [
        (f"`{rule.code}`", rule.severity, _about(rule), rule.title, rule.why, rule.next_step)
        for rule in rules
    ]
    meaning = "An error returns the set; a remark does not, the curator and the reader should know."
    return f"## Rules\n\n{meaning}\n\n{_grid(head, rows)}"


def _about(rule: Rule) -> str:
    if rule.table == "*":
        return "any table" if rule.found_by == "types" else "the set"
    return f"`{rule.table}`" if rule.column is None else f"`{rule.table}.{rule.column}`"


def _vocabulary(held: Vocabulary) -> str:
    head = ("term", "meaning", "unit") if held.units else ("term", "meaning")
    rows = [
        (f"`{term}`", meaning, held.units.get(term, ""))[: len(head)]
        for term, meaning in held.terms.items()
    ]
    return f"### {held.name}\n\n{held.title[:1].upper()}{held.title[1:]}.\n\n{_grid(head, rows)}"


def _units(contract: Contract) -> str:
    head = ("unit", "meaning", "also accepted")
    rows = [
        (f"`{held.unit}`", held.means, ", ".join(f"`{text}`" for text in held.accepts))
        for held in contract.units.values()
    ]
    return f"### unit\n\nUnits; a unit outside this list is not understood.\n\n{_grid(head, rows)}"


def _history(history: History) -> str:
    lines = [
        "## Versions of the contract\n",
        f"{_OPENS}\n",
    ]
    for held in reversed(history.versions):
        steps = [step for step in history.migrations if step.after == held.version]
        lines.append(f"### Version {held.version}\n")
        head = ("migration", "what changes", "why", "what older data get", "where")
        if steps:
            lines.append(_grid(head, map(_migration, steps)))
        else:
            lines.append(f"{held.nothing_to_carry_over or 'The oldest version.'}\n")
    return "\n".join(lines)


def _migration(step: Migration) -> tuple[str, ...]:
    places = (
        *(place for place, _ in step.columns), *step.new_tables, *step.gone_columns,
        *step.tightened,
    )  # fmt: skip
    return (
        f"`{step.name}`",
        step.changes,
        step.because,
        step.carried_over,
        _names(str(place) for place in places),
    )


def _names(names: Iterable[str]) -> str:
    return ", ".join(f"`{name}`" for name in names)


def _grid(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    lines = [head, ["---"] * len(head), *rows]
    return "".join("| " + " | ".join(map(_cell, line)) + " |\n" for line in lines)


def _cell(text: str) -> str:
    return text.replace("|", "\\|").replace("\n", " ")


def main(arguments: Sequence[str] | None = None) -> int:
    """Write the page, or say with exit code 1 that it is not current."""
    parser = argparse.ArgumentParser(description="Write schema/REFERENCE.md from the contract.")
    parser.add_argument("--check", action="store_true", help="change nothing; exit 1 if stale")
    page = schema_folder() / "REFERENCE.md"
    wanted = reference(load_contract())
    if not parser.parse_args(arguments).check:
        write_text(page, wanted)
        return 0
    held = page.read_text(encoding="utf-8") if page.is_file() else ""
    if held == wanted:
        return 0
    sys.stderr.write(
        "schema/REFERENCE.md is not current. Next step: python -m rigledger.contract.reference\n"
    )
    return 1


if __name__ == "__main__":
    sys.exit(main())
