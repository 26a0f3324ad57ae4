"""What is written as partitioned Parquet is read back as it was."""

from __future__ import annotations

from typing import TYPE_CHECKING

import duckdb
import pytest

from rigledger.spark.partitioned import Hub
from rigledger.tabular import text_select

if TYPE_CHECKING:
    from pathlib import Path

    from rigledger.contract import Contract


@pytest.fixture
def hub(generated, tmp_path: Path, contract: Contract) -> Hub:  # noqa: ANN001 - of a script
    held = Hub(tmp_path / "hub", contract)
    held.write_tables(generated.con)
    held.write_frames(generated.con, generated.paths)
    return held


def test_every_source_table_comes_back_also_an_empty_one(
    generated,  # noqa: ANN001 - of a script
    hub: Hub,
    contract: Contract,
) -> None:
    con = duckdb.connect()

    hub.open_in_duckdb(con)

    for table in contract.group("source"):
        query = text_select(table)
        assert con.execute(query).fetchall() == generated.con.execute(query).fetchall(), table.name


def test_what_grows_with_the_sets_lies_in_a_folder_a_set(hub: Hub) -> None:
    folders = {path.relative_to(hub.folder).as_posix() for path in hub.folder.glob("*/set_id=*")}

    assert folders == {
        "measurements/set_id=c0.first",
        "runs/set_id=c0.first",
        "sessions/set_id=c0.first",
    }


def test_frames_lie_in_a_folder_a_digit_each_once_in_its_order(
    generated,  # noqa: ANN001 - of a script
    hub: Hub,
) -> None:
    folders = {path.name for path in (hub.folder / "frames").iterdir()}
    files = (hub.folder / "frames" / "**" / "*.parquet").as_posix()

    found = duckdb.execute(
        f"select list(frame_ns order by nth), capture from '{files}' group by capture order by 2"
    ).fetchall()

    assert folders == {f"shard={path.name[0]}" for path in generated.paths}
    assert found == [
        (
            [row[0] for row in duckdb.execute(f"select frame_ns from '{path}'").fetchall()],
            path.stem,
        )
        for path in sorted(generated.paths)
    ]
