"""A reproducible-results data package for frame-rate measurements, with its pipeline."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from os import PathLike

    from rigledger.release.opened import OpenedRelease

__version__ = "0.1.0"


def open(path: str | PathLike[str], *, verify: bool = True) -> OpenedRelease:  # noqa: A001
    """Open a release for reading.

        with rigledger.open("link-width-1.0.0") as release:
            frame = release["comparisons"].polars()  # or .pandas(), .arrow(), .duckdb(), .rows()

    Args:
        path: Its folder, .zip or .tar file (packed or not).
        verify: Hold every file against SHA256SUMS first.

    Returns:
        The release; its tables are typed as its own datapackage.json says.

    Raises:
        RecheckError: It is no release, can't be unpacked, or a file was altered.
    """
    from pathlib import Path

    from rigledger.release.opened import OpenedRelease

    return OpenedRelease(Path(path), verify=verify)
