"""The readers: each is given a release and gives every table's rows as plain values.

None of them knows anything of this project. Three are the last release of a line whose standard is
version 1 or whose dependencies are old: those are installed apart, under build/readers.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import tempfile
import venv
import warnings
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING

from table_values import Rows, Table, plain, tables_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    Read = dict[str, Rows]
    Reader = Callable[[Path], Read]

HERE = Path(__file__).resolve().parent
BUILD = HERE.parents[1] / "build" / "readers"


class MissingProgramError(Exception):
    """A reader is not installed here."""


def with_frictionless(folder: Path) -> Read:
    """PyPI frictionless: typed rows, checked against the description."""
    from frictionless import Package

    package = Package(str(folder / "datapackage.json"))
    read = {}
    for table in tables_of(folder):
        rows = package.get_resource(table.name).read_rows()
        read[table.name] = table.rows((list(row.to_dict().values()) for row in rows), typed=True)
    return read


def with_duckdb(folder: Path) -> Read:
    """DuckDB on the CSV files, every cell as text."""
    import duckdb

    query = "FROM read_csv(?, all_varchar = true, header = true, delim = ',', quote = '\"')"
    with duckdb.connect() as con:
        return {
            table.name: table.rows(con.execute(query, [str(table.path)]).fetchall())
            for table in tables_of(folder)
        }


def with_duckdb_parquet(folder: Path) -> Read:
    """DuckDB on the Parquet copies, with their types."""
    import duckdb

    with duckdb.connect() as con:
        con.execute("SET timezone = 'UTC'")
        return {
            table.name: table.rows(
                con.execute("FROM read_parquet(?)", [str(table.parquet)]).fetchall(), typed=True
            )
            for table in tables_of(folder)
            if table.parquet
        }


def with_pandas(folder: Path) -> Read:
    """Pandas on the CSV files, told which columns are text as readers.md says."""
    import pandas as pd

    read = {}
    for table in tables_of(folder):
        text = {field.name: str for field in table.fields if field.kind == "string"}
        frame = pd.read_csv(table.path, dtype=text, keep_default_na=False, na_values=[""])
        read[table.name] = table.rows(frame.astype(object).itertuples(index=False, name=None))
    return read


def with_pandas_parquet(folder: Path) -> Read:
    """Pandas on the Parquet copies."""
    import pandas as pd

    read = {}
    for table in tables_of(folder):
        if table.parquet:
            frame = pd.read_parquet(table.parquet).astype(object)
            read[table.name] = table.rows(frame.itertuples(index=False, name=None))
    return read


def with_dplib(folder: Path) -> Read:
    """PyPI dplib-py, which reads descriptions and no rows: each column's name and type."""
    with warnings.catch_warnings():
        # It points out that its own fields shadow attributes of what they derive from.
        warnings.simplefilter("ignore", UserWarning)
        from dplib.models import Package

        package = Package.from_path(str(folder / "datapackage.json"))
        described = {item.name: item.get_schema() for item in package.resources}
    return {
        str(name): [[field.name, field.type] for field in schema.fields]
        for name, schema in described.items()
        if schema
    }


def old_python() -> Path:
    """Install PyPI datapackage 1.15.4 in an environment of its own, once; give its Python."""
    place = BUILD / "pypi-datapackage"
    python = place / ("Scripts" if sys.platform == "win32" else "bin") / "python"
    if not python.exists():
        venv.create(place, with_pip=True)
        wanted = ["datapackage==1.15.4", "setuptools<81"]
        _run([str(python), "-m", "pip", "install", "-q", *wanted], HERE)
    return python


def with_old_python(folder: Path) -> Read:
    """PyPI datapackage 1.15.4, standard version 1, in an environment of its own."""
    return _told(folder, _run([str(old_python()), str(HERE / "old_reader.py")], folder))


def old_javascript() -> Path:
    """Install npm datapackage 1.1.10 in a folder of its own, once; give the folder.

    Raises:
        MissingProgramError: There is no npm here.
    """
    return _from_npm("npm-datapackage", "datapackage", "datapackage@1.1.10")


def accessibility_checker() -> Path:
    """Fetch axe-core, which judges the page in a browser, once; give its script.

    Raises:
        MissingProgramError: There is no npm here.
    """
    return _from_npm("axe", "axe-core", "axe-core") / "node_modules" / "axe-core" / "axe.min.js"


def _from_npm(folder: str, package: str, wanted: str) -> Path:
    place = BUILD / folder
    npm = _program("npm")
    if not (place / "node_modules" / package).exists():
        place.mkdir(parents=True, exist_ok=True)
        # npm would otherwise put it where it finds a package.json in a folder above.
        where = ["--prefix", str(place)]
        _run([npm, "install", "--silent", "--no-audit", "--no-fund", *where, wanted], place)
    return place


def with_old_javascript(folder: Path) -> Read:
    """Npm datapackage 1.1.10, standard version 1."""
    # A program finds the packages that lie beside it.
    script = Path(shutil.copy(HERE / "old_reader.js", old_javascript()))
    return _told(folder, _run([_program("node"), str(script)], folder))


def with_libreoffice(folder: Path) -> Read:
    """LibreOffice on the CSV files: opened as readers.md says, saved as a workbook."""
    program = _program("soffice")
    with tempfile.TemporaryDirectory() as scratch, ThreadPoolExecutor(2) as pool:
        tables = tables_of(folder)
        places = [Path(scratch) / str(number) for number in range(len(tables))]
        rows = pool.map(lambda table, place: _opened(program, table, place), tables, places)
        return {table.name: held for table, held in zip(tables, rows, strict=True)}


def _opened(program: str, table: Table, place: Path) -> Rows:
    """Let LibreOffice make a workbook of a table, and read its only sheet."""
    from python_calamine import CalamineWorkbook

    columns = "/".join(
        f"{number}/{2 if field.kind == 'string' else 1}"
        for number, field in enumerate(table.fields, start=1)
    )
    opening = f"--infilter=CSV:44,34,76,1,{columns},1033,false,false"
    profile = f"-env:UserInstallation={(place / 'profile').as_uri()}"
    command = [program, profile, "--headless", "--convert-to", "xlsx", opening]
    _run([*command, "--outdir", str(place), str(table.path)], table.path.parent)
    (sheet,) = CalamineWorkbook.from_path(str(place / f"{table.path.stem}.xlsx")).sheet_names
    workbook = CalamineWorkbook.from_path(str(place / f"{table.path.stem}.xlsx"))
    _, *rows = workbook.get_sheet_by_name(sheet).to_python(skip_empty_area=False)
    width = len(table.fields)
    return table.rows((row + [""] * width)[:width] for row in rows)


def _told(folder: Path, text: str) -> Read:
    """Read what a program of another environment printed: rows of values by table.

    It says ``[type, value]`` where a value is not of its column's type.
    """
    told = json.loads(text)
    return {
        table.name: [
            [
                f"{value[1]!r} is a {value[0]}" if isinstance(value, list) else plain(kind, value)
                for kind, value in zip((f.kind for f in table.fields), row, strict=True)
            ]
            for row in told.get(table.name, [])
        ]
        for table in tables_of(folder)
    }


def _program(name: str) -> str:
    if found := shutil.which(name):
        return found
    raise MissingProgramError(name)


def _run(command: list[str], folder: Path) -> str:
    done = subprocess.run(
        command, cwd=folder, capture_output=True, text=True, encoding="utf-8", check=False
    )
    if done.returncode:
        raise RuntimeError(f"{command[0]} ended with {done.returncode}: {done.stderr[-2000:]}")
    return done.stdout


READERS: dict[str, Reader] = {
    "frictionless": with_frictionless,
    "DuckDB": with_duckdb,
    "DuckDB Parquet": with_duckdb_parquet,
    "pandas": with_pandas,
    "pandas Parquet": with_pandas_parquet,
    "dplib-py": with_dplib,
    "PyPI datapackage": with_old_python,
    "npm datapackage": with_old_javascript,
    "LibreOffice": with_libreoffice,
}


def read_by(name: str, folder: Path) -> Iterator[tuple[Table, Rows]]:
    """Let a reader read a release; gives the tables that it is asked for, with what it found."""
    read = READERS[name](folder)
    for table in tables_of(folder):
        if not name.endswith(" Parquet") or table.parquet:
            yield table, read.get(table.name, [])


def install() -> None:
    """Install the readers that need a place of their own and the page's judge, side by side."""
    with ThreadPoolExecutor() as pool:
        wanted = (old_python, old_javascript, accessibility_checker)
        for installed in [pool.submit(one) for one in wanted]:
            try:
                installed.result()
            except MissingProgramError as error:
                print(error, file=sys.stderr)


if __name__ == "__main__":
    install()
