"""Size and speed of a release's page, in Chromium and from disk.

The page of a study of 10,000 runs beside one of 1,000: its bytes, and the time from opening it to
a page whose pictures are drawn and whose filters answer.
"""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from results import Figure, Results, asked
from simulated_study import study_design, study_source

from rigledger.contract import load_contract
from rigledger.page.render import render_page
from rigledger.release.describe import describe
from rigledger.release.meta import ReleaseMeta
from rigledger.release.published import derived_tables, source_tables
from rigledger.release.view import ReleaseView
from rigledger.tables.build import DERIVED_TABLES, build_tables
from rigledger.tabular import create_tables

if TYPE_CHECKING:
    from playwright.sync_api import Browser

MOST_BYTES = 3_000_000
MOST_SECONDS = 2.0
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
# The script has run to its end: pictures, figures and filters are there, and sections answer.
READY = """() => document.querySelector("#grids .mark") && document.querySelector("#figures .plot")
    && document.querySelector("#table-spread tbody tr")
    && document.querySelector("#filter-title option:nth-child(2)") !== null"""


def main() -> int:
    """Print the figures; 1 where the large page is too large or too slow."""
    given = asked(__doc__, "open each page once, not five times")
    results, times = Results("page", given.quick), 1 if given.quick else 5
    from playwright.sync_api import sync_playwright

    with sync_playwright() as started, TemporaryDirectory() as folder:
        browser = started.chromium.launch(executable_path="/usr/bin/chromium", args=FLAGS)
        small, large = (_figures(browser, Path(folder), runs, times) for runs in (1_000, 10_000))
        browser.close()
    print(f"x {large[0] / small[0]:.1f} the bytes and x {large[1] / small[1]:.1f} the time")
    print(f"asked for at 10,000 runs: below {MOST_BYTES / 1e6:.0f} MB and {MOST_SECONDS:.0f} s")
    results.report("MB", {"page of 1,000 runs": small[0] / 1e6})
    results.report("s", {"page of 1,000 runs, ready": small[1]})
    results.keep(Figure("page of 10,000 runs", large[0] / 1e6, "MB", MOST_BYTES / 1e6))
    results.keep(Figure("page of 10,000 runs, ready", large[1], "s", MOST_SECONDS))
    return results.close(given.json)


def _figures(browser: Browser, folder: Path, runs: int, times: int) -> tuple[int, float]:
    page = _page(runs)
    file = folder / f"{runs}.html"
    file.write_bytes(page.encode("utf-8"))
    seconds = min(_opened(browser, file) for _ in range(times))
    size = len(page.encode("utf-8"))
    print(f"{runs:>6} runs: {size / 1e6:.2f} MB, ready after {seconds:.2f} s")
    return size, seconds


def _page(runs: int) -> str:
    contract, design = load_contract(), study_design()
    con = study_source(design, contract, runs)
    build_tables(con, design, contract)
    rest = [table for table in contract.group("derived") if table.name not in DERIVED_TABLES]
    create_tables(con, rest)
    published = (*source_tables(contract), *derived_tables(con, contract))
    meta = ReleaseMeta("1.0.0", date(2026, 11, 25), made_with={"rigledger": "bench"})
    results = {"results": [], "met": 0, "expected": 0, "rows": {}}
    view = ReleaseView(con, design, contract, meta, published, {"expectations": []}, results)
    with TemporaryDirectory() as empty:
        descriptor = describe(Path(empty), view)
    return render_page(view, descriptor | {"resources": []}, "0" * 64)


def _opened(browser: Browser, file: Path) -> float:
    page = browser.new_page()
    page.goto(file.as_uri(), wait_until="load")
    if not page.evaluate(READY):
        raise RuntimeError(f"{file.name} was loaded, and its script has not run to its end")
    seconds = float(page.evaluate("performance.now()")) / 1000
    page.close()
    return seconds


if __name__ == "__main__":
    sys.exit(main())
