"""Names of the files of a release, and which of them come after its description."""

from __future__ import annotations

from rigledger.signing import SUMS, UNSIGNED

DESCRIPTOR = "datapackage.json"
STUDY = "study.toml"
CLAIMS = "claims.toml"
CHANGES_TEXT = "CHANGES.md"
SUITE = "quality/expectations.json"
RESULTS = "quality/results.json"
CRATE = "ro-crate-metadata.json"
DOCUMENTS = ("CITATION.cff", ".zenodo.json", CRATE, "LICENSE", "readers.md", "index.html")
NOT_DESCRIBED = frozenset({DESCRIPTOR, *UNSIGNED, *DOCUMENTS})
"""Files that come after datapackage.json in the order of hashes, so that it can't list them."""

NOT_SUMMED = UNSIGNED
"""Files that SHA256SUMS doesn't list: itself and what signs it."""

__all__ = [
    "CHANGES_TEXT", "CLAIMS", "CRATE", "DESCRIPTOR", "DOCUMENTS", "NOT_DESCRIBED", "NOT_SUMMED",
    "RESULTS", "STUDY", "SUITE", "SUMS",
]  # fmt: skip
