"""What a release holds, what it refuses, and that it is the same bytes every time."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.files import files_below, sha256_of

if TYPE_CHECKING:
    from rigledger.release.write import ReleaseResult


def test_a_release_holds_the_files_that_the_design_names(published: ReleaseResult) -> None:
    names = files_below(published.folder)
    top = {name for name in names if "/" not in name}
    assert top == {
        "study.toml", "changes.csv", "CHANGES.md", "datapackage.json", "CITATION.cff",
        ".zenodo.json", "index.html", "readers.md", "LICENSE", "SHA256SUMS",
    }  # fmt: skip
    assert published.version == "1.0.0"
    assert published.fingerprint == sha256_of(published.folder / "SHA256SUMS")
