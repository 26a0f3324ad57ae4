"""A release that was stopped while it was written is never taken for one."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import pytest

from rigledger.files import sha256_of
from rigledger.release.errors import ReleaseError
from rigledger.release.previous import find_previous
from rigledger.release.register import Entry
from rigledger.site.collect import _folders

if TYPE_CHECKING:
    from pathlib import Path


def test_what_was_being_written_is_no_release(tmp_path: Path) -> None:
    half = tmp_path / f".link-try-1.0.0.{'0' * 32}.part"
    half.mkdir()
    (half / "SHA256SUMS").write_text("", encoding="utf-8")
    entry = Entry(
        "1.0.0", date(2026, 11, 25), sha256_of(half / "SHA256SUMS"), None, "0.1.0", None, ()
    )
    with pytest.raises(ReleaseError, match="is not there"):
        find_previous((entry,), tmp_path, tmp_path / "scratch")
    assert _folders(tmp_path) == {}
