"""What recheck says of an unaltered release, and what it names in an altered one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.release.recheck import recheck

if TYPE_CHECKING:
    from pathlib import Path

    from rigledger.release.write import ReleaseResult


def test_an_unaltered_release_keeps_all_three_promises(published: ReleaseResult) -> None:
    result = recheck(published.folder, fingerprint=published.fingerprint)
    assert result.differences == ()
    assert result.verdict == "as_published"
    assert [promise.holds for promise in result.promises] == [True, True, True]
    assert result.fingerprint == published.fingerprint
