"""Readers that know nothing of this project load every table with the right types.

The readers, each the last release of its line on its registry: PyPI ``dplib-py`` 1.1, PyPI
``datapackage`` 1.15.4 (standard version 1), npm ``datapackage`` 1.1.10 (standard version 1),
pandas. The two old ones want old dependencies, so they are installed apart, under build/readers.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import venv
from pathlib import Path
from typing import TYPE_CHECKING, Any

import duckdb
import pandas as pd
import pytest

if TYPE_CHECKING:
    from rigledger.release.write import ReleaseResult

BUILD = Path(__file__).resolve().parents[2] / "build" / "readers"
READER_PY = """
import json, sys, warnings
warnings.simplefilter("ignore")
import datapackage
package = datapackage.Package("datapackage.json")
assert package.valid, package.errors
counts = {}
for resource in package.resources:
    if resource.tabular and resource.descriptor["path"].endswith(".csv"):
        rows = resource.read(keyed=True, cast=True)
        first = {name: type(value).__name__ for name, value in rows[0].items()} if rows else {}
        counts[resource.name] = [len(rows), first]
print(json.dumps(counts))
"""
READER_JS = """
const {Package} = require('datapackage');
(async () => {
  const pack = await Package.load('datapackage.json');
  if (!pack.valid) throw new Error(JSON.stringify(pack.errors.map(String)));
  const counts = {};
  for (const resource of pack.resources) {
    if (!resource.tabular || !resource.descriptor.path.endsWith('.csv')) continue;
    const rows = await resource.read({keyed: true, cast: true});
    const first = {};
    for (const [name, value] of Object.entries(rows[0] || {})) {
      first[name] = value === null ? 'null' : value.constructor.name;
    }
    counts[resource.name] = [rows.length, first];
  }
  console.log(JSON.stringify(counts));
})().catch((error) => { console.error(error); process.exit(1); });
"""
PYTHON_TYPES = {
    "string": {"str"}, "integer": {"int"}, "number": {"Decimal"}, "boolean": {"bool"},
    "date": {"date"}, "datetime": {"datetime"},
}  # fmt: skip
JAVASCRIPT_TYPES = {
    "string": {"String"}, "integer": {"Number"}, "number": {"Number"}, "boolean": {"Boolean"},
    "date": {"Date"}, "datetime": {"Date"},
}  # fmt: skip


def tables(folder: Path) -> dict[str, dict[str, Any]]:
    held = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    return {item["name"]: item for item in held["resources"] if "schema" in item}


def row_count(folder: Path, item: dict[str, Any]) -> int:
    query = f"SELECT count(*) FROM read_csv('{folder / item['path']}', all_varchar = true)"
    ((count,),) = duckdb.connect().execute(query).fetchall()
    return int(count)


def run(command: list[str], folder: Path) -> dict[str, Any]:
    found = subprocess.run(  # noqa: S603 - programs that the test installed itself
        command, cwd=folder, capture_output=True, text=True, check=False
    )
    assert found.returncode == 0, found.stderr
    held: dict[str, Any] = json.loads(found.stdout)
    return held


def assert_read_with_types(
    found: dict[str, Any], folder: Path, types: dict[str, set[str]], blank: str
) -> None:
    expected = tables(folder)
    assert {name: held[0] for name, held in found.items()} == {
        name: row_count(folder, item) for name, item in expected.items()
    }
    wrong = [
        (name, field["name"], held[1][field["name"]])
        for name, held in found.items()
        if held[1]
        for field in expected[name]["schema"]["fields"]
        if held[1][field["name"]] not in types[field["type"]] | {blank}
    ]
    assert wrong == []


@pytest.mark.filterwarnings("ignore:Field name:UserWarning")
def test_dplib_reads_the_description(published: ReleaseResult) -> None:
    from dplib.models import Package

    package = Package.from_path(str(published.folder / "datapackage.json"))
    read = {item.name: item for item in package.resources if item.get_schema()}
    for name, item in tables(published.folder).items():
        schema = read[name].get_schema()
        assert schema is not None
        assert [(field.name, field.type) for field in schema.fields] == [
            (field["name"], field["type"]) for field in item["schema"]["fields"]
        ]


def test_pandas_reads_every_csv_and_parquet_alike(published: ReleaseResult) -> None:
    for item in tables(published.folder).values():
        copy = published.folder / item["path"].replace(".csv", ".parquet")
        if copy.exists():
            names = {f["name"]: str for f in item["schema"]["fields"] if f["type"] == "string"}
            text = pd.read_csv(
                published.folder / item["path"], dtype=names, keep_default_na=False, na_values=[""]
            )
            typed = pd.read_parquet(copy)
            assert (len(text), list(text)) == (len(typed), list(typed))


@pytest.mark.slow
def test_the_older_python_reader_loads_every_table(published: ReleaseResult) -> None:
    place = BUILD / "pypi-datapackage"
    python = place / ("Scripts" if sys.platform == "win32" else "bin") / "python"
    if not python.exists():
        venv.create(place, with_pip=True)
        subprocess.run(  # noqa: S603
            [str(python), "-m", "pip", "install", "-q", "datapackage==1.15.4", "setuptools<81"],
            check=True,
        )
    found = run([str(python), "-c", READER_PY], published.folder)
    assert_read_with_types(found, published.folder, PYTHON_TYPES, "NoneType")


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("npm") is None, reason="npm is not installed")
def test_the_older_javascript_reader_loads_every_table(published: ReleaseResult) -> None:
    place = BUILD / "npm-datapackage"
    npm, node = shutil.which("npm"), shutil.which("node")
    assert npm is not None
    assert node is not None
    if not (place / "node_modules" / "datapackage").exists():
        place.mkdir(parents=True, exist_ok=True)
        command = [npm, "install", "--silent", "--no-audit", "--no-fund", "datapackage@1.1.10"]
        subprocess.run(command, cwd=place, check=True)  # noqa: S603
    script = place / "read.js"
    script.write_text(READER_JS, encoding="utf-8")
    found = run([node, str(script)], published.folder)
    assert_read_with_types(found, published.folder, JAVASCRIPT_TYPES, "null")
