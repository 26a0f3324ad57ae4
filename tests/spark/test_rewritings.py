"""What Spark is asked where its SQL has no word of DuckDB's."""

from __future__ import annotations

import pytest

pytest.importorskip("sqlglot", reason="the extra spark is not installed")

from rigledger.spark.translate import TranslationError, translated

REWRITTEN = {
    "a table of the schema work is a view, under its name as an alias": (
        "select pairs.a from work.pairs join work.cells as c using (a)",
        "SELECT pairs.a FROM work_pairs AS pairs JOIN work_cells AS c USING (a)",
    ),
    "a named window is written out where it is used": (
        "select sum(x) over (w order by y) as z from t window w as (partition by a)",
        "SELECT SUM(x) OVER (PARTITION BY a ORDER BY y NULLS LAST) AS z FROM t",
    ),
    "rows are numbered with 64 bits": (
        "select row_number() over (order by b) - 1 as n from t",
        "SELECT CAST(ROW_NUMBER() OVER (ORDER BY b NULLS LAST) AS BIGINT) - 1 AS n FROM t",
    ),
    "rows numbered in no order are told apart by the run": (
        "select row_number() over () as number from t",
        "SELECT run AS number FROM t",
    ),
    "a list keeps the order of its keys, and its sum that of the list": (
        "select list_sum(list(a order by b)) as s from t",
        (
            "SELECT AGGREGATE(TRANSFORM(ARRAY_SORT(COLLECT_LIST(NAMED_STRUCT('k0', b, 'v', a))),"
            " s -> s.v), CAST(NULL AS DOUBLE), (s, x) -> COALESCE(s + x, s, x)) AS s FROM t"
        ),
    ),
    "a list in its own falling order is sorted so": (
        "select list(a order by a desc) as l from t",
        "SELECT SORT_ARRAY(COLLECT_LIST(a), FALSE) AS l FROM t",
    ),
    "the largest values are the first of all of them in order": (
        "select max(a, 3) as l from t",
        "SELECT SLICE(SORT_ARRAY(COLLECT_LIST(a), FALSE), 1, 3) AS l FROM t",
    ),
    "a list unfolds with the places of its values": (
        "select n, unnest(s) as v, generate_subscripts(s, 1) as place from t",
        "SELECT n, v, before + 1 AS place FROM t LATERAL VIEW POSEXPLODE(s) unfolded AS before, v",
    ),
    "logarithms and powers are the C library's": (
        "select ln(a), exp(a), pow(a, 2), a ** b from t",
        (
            "SELECT C_LN(CAST(a AS DOUBLE)), C_EXP(CAST(a AS DOUBLE)),"
            " C_POW(CAST(a AS DOUBLE), CAST(2 AS DOUBLE)),"
            " C_POW(CAST(a AS DOUBLE), CAST(b AS DOUBLE)) FROM t"
        ),
    ),
    "a number with a point is a double": (
        "select 1.0 / n from t",
        "SELECT CAST(1.0 AS DOUBLE) / n FROM t",
    ),
    "what is finite is spelled out": (
        "select a from t where isfinite(a)",
        "SELECT a FROM t WHERE (ABS(a) < CAST('infinity' AS DOUBLE))",
    ),
    "128 bits are a decimal": (
        "select count(*)::hugeint as n from t",
        "SELECT CAST(COUNT(*) AS DECIMAL(38, 0)) AS n FROM t",
    ),
    "Spark decides itself what is made once": (
        "with a as materialized (select 1 as b) select b from a",
        "WITH a AS (SELECT 1 AS b) SELECT b FROM a",
    ),
    "of a statement that makes a table, only the query is taken": (
        "create or replace temp table t as select 1 as a",
        "SELECT 1 AS a",
    ),
}


@pytest.mark.parametrize("said", list(REWRITTEN))
def test_rewritten(said: str) -> None:
    statement, expected = REWRITTEN[said]

    assert translated(statement) == expected


def test_a_list_in_falling_order_of_something_else_is_refused_by_name() -> None:
    with pytest.raises(TranslationError) as refused:
        translated("select list(a order by b desc) from t")

    assert refused.value.as_dict() == {
        "code": "spark_translation",
        "message": "the statement can't be said in Spark's SQL: a list in falling order of"
        " something else",
        "file": None,
        "row": None,
        "column": None,
        "value": "select list(a order by b desc) from t",
        "next_step": "say it in SQL that both have, or add a rewriting to spark/rewritings.py",
    }


def test_what_is_no_statement_is_refused() -> None:
    with pytest.raises(TranslationError, match="can't be said"):
        translated("select from where")
