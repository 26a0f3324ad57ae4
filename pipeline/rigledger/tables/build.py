"""Builds the derived tables from the source tables and the study's design."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.errors import StudyError, near_names
from rigledger.tables.analysis import fill_statistics
from rigledger.tables.overall import fill_overall_statistics
from rigledger.tables.people import fill_declared_ties, fill_one_person
from rigledger.tables.plan import fill_plan, fill_run_totals, fill_title_sets
from rigledger.tables.workshop import workshop

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    import duckdb

    from rigledger.claims.model import Claim
    from rigledger.contract import Contract
    from rigledger.remembered import Remembered
    from rigledger.study.design import Design
    from rigledger.tables.workshop import Workshop

DERIVED_TABLES = (
    "runs_wide", "run_metrics", "cells", "comparisons", "overall", "rig_comparisons",
    "factor_effects", "repeatability", "spread_models", "stack_shift",
    "counted_as_one", "pooled_changes", "agreement", "claims",
)  # fmt: skip
"""The derived tables that are built here, in order; each has a file ``sql/<name>.sql``."""


def _fill_factor_statistics(shop: Workshop) -> None:
    """Fill ``work.factor_statistics``; numpy is loaded only then."""
    from rigledger.tables.factors import fill_factor_statistics

    fill_factor_statistics(shop)


def _fill_shift_statistics(shop: Workshop) -> None:
    """Fill ``work.shift_statistics``; numpy is loaded only then."""
    from rigledger.tables.shifts import fill_shift_statistics

    fill_shift_statistics(shop)


def _fill_pooled(shop: Workshop) -> None:
    """Fill ``work.pooled``; numpy is loaded only then."""
    from rigledger.tables.pooling import fill_pooled

    fill_pooled(shop)


def _fill_agreement(shop: Workshop) -> None:
    """Fill ``work.agreement_rows``; numpy is loaded only then."""
    from rigledger.tables.agreement import fill_agreement

    fill_agreement(shop)


def _fill_judged_claims(shop: Workshop) -> None:
    """Fill ``work.judged_claims``; numpy is loaded only where there are claims."""
    from rigledger.claims.table import fill_judged_claims

    fill_judged_claims(shop)


FILLERS: dict[str, Callable[[Workshop], None]] = {
    "plan": fill_plan,
    "title_sets": fill_title_sets,
    "run_totals": fill_run_totals,
    "cell_statistics": fill_statistics,
    "pair_statistics": fill_statistics,
    "spread_parameters": fill_statistics,
    "doubtful_runs": fill_statistics,
    "overall_statistics": fill_overall_statistics,
    "factor_statistics": _fill_factor_statistics,
    "declared_ties": fill_declared_ties,
    "one_person": fill_one_person,
    "pooled": _fill_pooled,
    "agreement_rows": _fill_agreement,
    "shift_statistics": _fill_shift_statistics,
    "judged_claims": _fill_judged_claims,
}
"""Tables of the schema ``work`` that SQL can't make: who fills them."""


def build_tables(
    con: duckdb.DuckDBPyConnection,
    design: Design,
    contract: Contract,
    *,
    tables: Iterable[str] | None = None,
    claims: Sequence[Claim] = (),
    remembered: Remembered | None = None,
) -> None:
    """Create the derived tables beside the source tables.

    They follow from the source tables, the design and the claims alone, to the last bit: not from
    the order of rows or the number of threads. Columns are the contract's, rows are ordered by
    primary key. Only measured runs of sets in force count (and sentinels, for what a boot alone
    changes); corrections are taken as applied.

    Args:
        con: Connection whose default schema holds all source tables of the contract.
        design: The study's design: material change, rounds, plan, title sets.
        contract: The contract.
        tables: Names of the derived tables to build; None for all of `DERIVED_TABLES`.
        claims: The review's sentences, for the table ``claims``; it needs `claims.table.JUDGED_BY`.
        remembered: What the statistics came to for the same runs; None computes everything.

    Raises:
        StudyError: A name is not that of a derived table.
    """
    wanted = DERIVED_TABLES if tables is None else tuple(tables)
    for name in wanted:
        if name not in DERIVED_TABLES:
            raise StudyError(
                f"no derived table {name!r} is built here",
                value=name,
                next_step=near_names(name, DERIVED_TABLES),
            )
    with workshop(con, design, contract, FILLERS, claims, remembered=remembered) as shop:
        for name in wanted:
            shop.derive(contract.wide("derived", name))
