"""What sqlglot doesn't carry from DuckDB's SQL to Spark's, or carries with another meaning.

Each function rewrites one construct of a parsed query in place. Lists of nodes are gone through
from the inside out, so that what was rewritten may stand within what is rewritten next.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlglot import exp
from sqlglot.errors import UnsupportedError

if TYPE_CHECKING:
    from collections.abc import Callable

C_FUNCTIONS = {exp.Ln: "c_ln", exp.Exp: "c_exp", exp.Pow: "c_pow"}
"""Functions of the C library, and the names under which Spark is given the same ones."""


def name_plainly(query: exp.Expression) -> None:
    """Name the tables of ``work`` without a schema: a temporary view of Spark has none."""
    for table in _found(query, exp.Table):
        if table.db == "work":
            table.set("alias", exp.TableAlias(this=exp.to_identifier(table.alias_or_name)))
            table.set("this", exp.to_identifier(f"work_{table.name}"))
            table.set("db", None)


def put_windows_in_place(query: exp.Expression) -> None:
    """Write a named window out where it is used: Spark can't add an order to one."""
    for select in _found(query, exp.Select):
        named = {held.name: held for held in select.args.get("windows") or ()}
        select.set("windows", None)
        for used in select.find_all(exp.Window) if named else ():
            if used.alias in named:
                keys = named[used.alias].args["partition_by"]
                used.set("partition_by", [key.copy() for key in keys])
                used.set("alias", None)


def number_in_64_bits(query: exp.Expression) -> None:
    """Number rows with 64 bits, as the statistics are given them; Spark takes 32."""
    for window in _found(query, exp.Window):
        if isinstance(window.this, exp.RowNumber | exp.DenseRank):
            window.replace(exp.cast(window.copy(), "bigint"))


def number_by_name(query: exp.Expression) -> None:
    """Let a run's name be its number where rows are numbered in no order.

    Such a number only spares the database long names. Spark would collect all rows for it.
    """
    for window in _found(query, exp.Window):
        numbers = isinstance(window.this, exp.RowNumber)
        if numbers and not window.args.get("partition_by") and not window.args.get("order"):
            window.replace(exp.column("run"))


def leave_plans_to_spark(query: exp.Expression) -> None:
    """Leave out that a part is to be made once: Spark knows no such word, and decides itself."""
    for part in _found(query, exp.CTE):
        part.set("materialized", None)


def order_lists(query: exp.Expression) -> None:
    """Order the values of a list by their keys, as a list of structures: the order gets lost."""
    for made in _found(query, exp.ArrayAgg):
        if isinstance(made.this, exp.Order):
            value, keys = made.this.this, made.this.expressions
            made.replace(_ordered_list(value, keys))


def _ordered_list(value: exp.Expression, keys: list[exp.Ordered]) -> exp.Expression:
    if len(keys) == 1 and keys[0].this == value:
        ascending = exp.Boolean(this=not keys[0].args.get("desc"))
        return _call("sort_array", _call("collect_list", value), ascending)
    if any(key.args.get("desc") for key in keys):
        raise UnsupportedError("a list in falling order of something else")
    parts = [(f"k{place}", key.this) for place, key in enumerate(keys)] + [("v", value)]
    named = [item for name, part in parts for item in (exp.Literal.string(name), part.copy())]
    structures = _call("array_sort", _call("collect_list", _call("named_struct", *named)))
    return _call("transform", structures, _lambda(exp.column("v", table="s"), "s"))


def sum_lists(query: exp.Expression) -> None:
    """Add up a list in its own order, blank values left out; a list of none has no sum."""
    for called in _calls(query, "list_sum"):
        total = exp.column("s") + exp.column("x")
        step = exp.func("coalesce", total, exp.column("s"), exp.column("x"))
        start = exp.cast(exp.null(), "double")
        called.replace(_call("aggregate", called.expressions[0], start, _lambda(step, "s", "x")))


def take_largest(query: exp.Expression) -> None:
    """Sort the values of a group to have its largest ones: Spark has no other way to them."""
    for largest in _found(query, exp.Max):
        count = largest.args.get("count")
        if count is not None:
            ordered = _call("sort_array", _call("collect_list", largest.this), exp.false())
            largest.replace(_call("slice", ordered, exp.Literal.number(1), count))


def unfold_lists(query: exp.Expression) -> None:
    """Unfold a list and the places of its values together: Spark unfolds one thing a query."""
    for subscripts in _calls(query, "generate_subscripts"):
        select, of_list = subscripts.find_ancestor(exp.Select), subscripts.expressions[0]
        values = next(found for found in select.find_all(exp.Explode) if found.this == of_list)
        names = [values.parent.alias, subscripts.parent.alias]
        values.parent.replace(exp.column(names[0]))
        subscripts.parent.replace((exp.column("before") + 1).as_(names[1]))
        lateral = exp.Lateral(
            this=exp.Posexplode(this=of_list.copy()),
            view=True,
            alias=exp.TableAlias(
                this=exp.to_identifier("unfolded"),
                columns=[exp.to_identifier("before"), exp.to_identifier(names[0])],
            ),
        )
        select.append("laterals", lateral)


def calculate_as_c_does(query: exp.Expression) -> None:
    """Take logarithms and powers from the C library: Java's own differ in the last digit."""
    for kind, name in C_FUNCTIONS.items():
        for called in _found(query, kind):
            given = [called.this, called.args.get("expression")]
            called.replace(_call(name, *(_double(part) for part in given if part is not None)))


def read_decimals_as_doubles(query: exp.Expression) -> None:
    """Make 1.0 a double: divided by a whole number it gives one in DuckDB, a decimal in Spark."""
    for number in _found(query, exp.Literal):
        if not number.is_string and "." in number.name:
            number.replace(_double(number.copy()))


def tell_finite(query: exp.Expression) -> None:
    """Spell out what is finite; NaN stands above infinity in both."""
    for called in _calls(query, "isfinite"):
        infinity = _double(exp.Literal.string("infinity"))
        called.replace(exp.paren(exp.func("abs", called.expressions[0]) < infinity))


def widen_whole_numbers(query: exp.Expression) -> None:
    """Make whole numbers of 128 bits decimals of 38 digits, the widest that Spark has.

    Both engines give the nearest double of one.
    """
    for cast in _found(query, exp.Cast):
        if cast.to.is_type("int128"):
            cast.set("to", exp.DataType.build("decimal(38, 0)"))


def _found(query: exp.Expression, kind: type[exp.Expression]) -> list[exp.Expression]:
    return list(query.find_all(kind))[::-1]


def _calls(query: exp.Expression, name: str) -> list[exp.Expression]:
    return [found for found in _found(query, exp.Anonymous) if found.name.lower() == name]


def _call(name: str, *given: exp.Expression) -> exp.Expression:
    return exp.Anonymous(this=name, expressions=[part.copy() for part in given])


def _lambda(body: exp.Expression, *names: str) -> exp.Expression:
    return exp.Lambda(this=body, expressions=[exp.to_identifier(name) for name in names])


def _double(value: exp.Expression) -> exp.Expression:
    return exp.cast(value.copy(), "double")


REWRITINGS: tuple[Callable[[exp.Expression], None], ...] = (
    name_plainly,
    put_windows_in_place,
    number_by_name,
    number_in_64_bits,
    leave_plans_to_spark,
    order_lists,
    sum_lists,
    take_largest,
    unfold_lists,
    calculate_as_c_does,
    read_decimals_as_doubles,
    tell_finite,
    widen_whole_numbers,
)
"""All rewritings, in the order in which they are made."""
