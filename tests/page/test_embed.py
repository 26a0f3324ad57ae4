"""A page's tables are packed by column: a column that repeats itself as words and places."""

from __future__ import annotations

import polars as pl
from hypothesis import given
from hypothesis import strategies as st

from rigledger.page.embed import packed, packed_columns

COLUMNS = {
    pl.String: st.none() | st.sampled_from(["a", "b", ""]),
    pl.Int64: st.none() | st.integers(0, 3),
    pl.Boolean: st.none() | st.booleans(),
}


@given(st.data(), st.sampled_from(list(COLUMNS)))
def test_a_column_of_the_database_is_packed_as_a_list_of_its_values(
    data: st.DataObject, kind: type[pl.DataType]
) -> None:
    values = data.draw(st.lists(COLUMNS[kind], max_size=12))
    held = pl.Series(values, dtype=kind)
    assert packed_columns({"c": held}) == packed([{"c": value} for value in values])


def test_what_repeats_itself_is_a_list_of_words_and_the_rest_stays_as_it_is() -> None:
    rows = [{"rig": rig, "run": run} for rig, run in (("b", 1), (None, 2), ("b", 3), ("b", 4))]
    assert packed(rows) == {
        "rows": 4,
        "columns": {"rig": {"words": ["b", None], "at": [0, 1, 0, 0]}, "run": [1, 2, 3, 4]},
    }
    assert packed([]) == {"rows": 0, "columns": {}}
