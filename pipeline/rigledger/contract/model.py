"""Typed objects of the public contract. Pure data: nothing here reads a file."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Literal

from rigledger.errors import ContractError, near_names

if TYPE_CHECKING:
    from collections.abc import Mapping

Group = Literal["handed_in", "source", "derived", "study"]
FieldType = Literal["string", "integer", "number", "boolean", "date", "datetime"]
Number = int | float

# A metric's column has no example of its own; its spelling is what a person needs to see.
_EXAMPLE = 59.6


@dataclass(frozen=True, slots=True)
class Field:
    """One column of a table.

    Attributes:
        unit: Unit of the values, from the closed list; None for text, dates and booleans.
        unit_from: Where the unit comes from instead, for columns with values of several metrics.
        vocabulary: Name of the closed list of words that the column draws from.
        enum: The words of that list, in its order; empty where there is none.
    """

    name: str
    title: str
    description: str
    type: FieldType
    unit: str | None = None
    unit_from: str | None = None
    vocabulary: str | None = None
    enum: tuple[str, ...] = ()
    example: str | Number | bool | None = None
    required: bool = False
    minimum: Number | str | None = None
    maximum: Number | str | None = None
    pattern: str | None = None
    max_length: int | None = None


@dataclass(frozen=True, slots=True)
class ForeignKey:
    """A column whose every value stands in a column of another table."""

    field: str
    table: str
    reference: str


@dataclass(frozen=True, slots=True)
class Table:
    """One table of the contract.

    Attributes:
        metric_columns: Whether the table has one further column per metric.
        fact_columns: Whether the table has one further column per fact of the vocabulary.
        optional: Whether a result set may leave the table out.
        field_names: Names of the columns, in order; they follow from the fields.
    """

    name: str
    group: Group
    title: str
    description: str
    fields: tuple[Field, ...]
    primary_key: tuple[str, ...] = ()
    unique_keys: tuple[tuple[str, ...], ...] = ()
    foreign_keys: tuple[ForeignKey, ...] = ()
    metric_columns: bool = False
    fact_columns: bool = False
    optional: bool = False
    field_names: tuple[str, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Name the columns once: every check asks for the names many times."""
        object.__setattr__(self, "field_names", tuple(held.name for held in self.fields))

    def field(self, name: str) -> Field:
        """Give one column by name.

        Raises:
            ContractError: The table has no such column.
        """
        for held in self.fields:
            if held.name == name:
                return held
        raise ContractError(
            f"table {self.name} has no field {name!r}", next_step=near_names(name, self.field_names)
        )

    def with_fields(self, further: tuple[Field, ...]) -> Table:
        """Give the table with further columns behind its own."""
        return replace(self, fields=self.fields + further)


@dataclass(frozen=True, slots=True)
class Metric:
    """A defined quantity. Attributes as in the source table ``metrics``."""

    metric: str
    title: str
    unit: str
    direction: Literal["higher", "lower", "neither"]
    comparable: str
    weighting: str
    tail_rule: str
    tail_pct: float | None
    fewest_frames: int
    least: float
    most: float

    @property
    def from_frames(self) -> bool:
        """Whether the metric can be recomputed from a capture."""
        return self.weighting in {"frame", "time"} and self.tail_rule != "unstated"

    def as_field(self) -> Field:
        """Give the metric as a column of a wide table."""
        return Field(
            name=self.metric,
            title=self.title,
            description=f"{self.title} ({self.unit}).",
            type="number",
            unit=self.unit,
            example=min(max(_EXAMPLE, self.least), self.most),
            minimum=self.least,
            maximum=self.most,
        )


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """A closed list of words with their meanings; facts also have units."""

    name: str
    title: str
    terms: Mapping[str, str]
    units: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit of the closed list and the other spellings under which a stranger may name it."""

    unit: str
    means: str
    accepts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Rule:
    """A cross-row or plausibility rule.

    Attributes:
        code: Stable code.
        severity: ``error`` returns a set, ``remark`` does not.
        title: The rule in a few words.
        why: A sentence saying why it matters.
        next_step: A sentence saying what to do.
        table: Handed-in table that a finding points at.
        column: Column that a finding points at; None for the row.
        check: SQL expression over one row, true or null where the row is fine; else None.
        sql: A whole query that returns the violations; None where something else finds them.
        needs: Columns (``table.column``) without which the rule can't run.
        only_if: Relation to an aggregate over all its rows; the rule can find something only where
            one of them is true. Empty where it has to be asked in any case.
        found_by: ``check``, ``sql``, or the part that finds it: ``gate``, ``read``, ``types`` ...
        spoils: Whether rules that need the column can't run once it has found an error there, and
            values at which it has found one count in no later rule.
    """

    code: str
    severity: Literal["error", "remark"]
    title: str
    why: str
    next_step: str
    table: str
    column: str | None
    check: str | None
    sql: str | None
    needs: tuple[str, ...]
    found_by: str
    spoils: bool = False
    only_if: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Contract:
    """The whole contract, as read from schema/."""

    version: str
    tables: Mapping[tuple[Group, str], Table]
    metrics: Mapping[str, Metric]
    rules: Mapping[str, Rule]
    vocabularies: Mapping[str, Vocabulary]
    units: Mapping[str, Unit]
    unit_definitions: tuple[str, ...]
    _wide: dict[tuple[Group, str, tuple[str, ...] | None], Table] = field(
        init=False, repr=False, compare=False, default_factory=dict
    )

    def table(self, group: Group, name: str) -> Table:
        """Give one table as it stands in schema/, without metric or fact columns.

        Raises:
            ContractError: There is no such table in the group.
        """
        if (group, name) not in self.tables:
            legal = [known for held, known in self.tables if held == group]
            raise ContractError(f"no {group} table {name!r}", next_step=near_names(name, legal))
        return self.tables[group, name]

    def group(self, group: Group) -> tuple[Table, ...]:
        """Give the tables of a group, in the order of their names."""
        return tuple(table for (held, _), table in sorted(self.tables.items()) if held == group)

    def wide(self, group: Group, name: str, metrics: tuple[str, ...] | None = None) -> Table:
        """Give one table with its metric and fact columns.

        Args:
            group: Group of the table.
            name: Name of the table.
            metrics: Metrics to add as columns, in this order; None for all of the contract.

        Raises:
            ContractError: The table or a metric is not known.
        """
        key = (group, name, metrics)
        if key not in self._wide:
            self._wide[key] = self._widened(group, name, metrics)
        return self._wide[key]

    def _widened(self, group: Group, name: str, metrics: tuple[str, ...] | None) -> Table:
        table = self.table(group, name)
        if table.metric_columns:
            chosen = tuple(self.metrics) if metrics is None else metrics
            table = table.with_fields(tuple(self.metric(item).as_field() for item in chosen))
        if table.fact_columns:
            table = table.with_fields(tuple(self._fact_fields()))
        return table

    def metric(self, name: str) -> Metric:
        """Give one metric by name.

        Raises:
            ContractError: There is no such metric.
        """
        if name not in self.metrics:
            raise ContractError(f"no metric {name!r}", next_step=near_names(name, self.metrics))
        return self.metrics[name]

    def rule(self, code: str) -> Rule:
        """Give one rule by its code.

        Raises:
            ContractError: There is no such rule.
        """
        if code not in self.rules:
            raise ContractError(f"no rule {code!r}", next_step=near_names(code, self.rules))
        return self.rules[code]

    def _fact_fields(self) -> list[Field]:
        facts = self.vocabularies["fact"]
        return [
            Field(
                name=term,
                title=term.replace("_", " "),
                description=f"{meaning[:1].upper()}{meaning[1:]}.",
                type="number" if term in facts.units else "string",
                unit=facts.units.get(term),
                example=_EXAMPLE if term in facts.units else None,
                minimum=-1e6 if term in facts.units else None,
                maximum=1e6 if term in facts.units else None,
                max_length=None if term in facts.units else 400,
            )
            for term, meaning in facts.terms.items()
        ]
