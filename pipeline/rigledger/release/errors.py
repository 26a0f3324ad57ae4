"""Errors of publishing."""

from __future__ import annotations

from typing import ClassVar

from rigledger.errors import RigledgerError


class ReleaseError(RigledgerError, ValueError):
    """A release can't be made; nothing was written."""

    code: ClassVar[str] = "release"


class RecheckError(RigledgerError, ValueError):
    """What was given for rechecking is no release, or can't be opened."""

    code: ClassVar[str] = "recheck"
