"""What a release says of itself, and what it was made with."""

from __future__ import annotations

import platform
import sys
from dataclasses import dataclass, field
from datetime import date
from importlib.metadata import PackageNotFoundError, version
from typing import TYPE_CHECKING, Any

import rigledger

if TYPE_CHECKING:
    from collections.abc import Mapping

    from rigledger.contract.model import Contract

_LIBRARIES = ("duckdb", "numpy", "scipy", "great_expectations", "Jinja2", "vl-convert-python")


@dataclass(frozen=True, slots=True)
class Earlier:
    """The release before this one."""

    version: str
    fingerprint: str


@dataclass(frozen=True, slots=True)
class ReleaseMeta:
    """Inputs and circumstances of a release that its tables don't hold.

    Attributes:
        version: Version of the release.
        released_on: Its day, an input.
        previous: The release before; None for the first.
        step: ``first``, ``major``, ``minor`` or ``patch``.
        reasons: Why the version moved as it did, a sentence each.
        identifier: A reserved persistent identifier (a DOI without a prefix), if there is one.
        embargo_until: Day before which an archive must not open the deposit.
        left_out: Rows of the study that are not in the release, by table.
        made_with: Versions that the bytes of the files may depend on.
    """

    version: str
    released_on: date
    previous: Earlier | None = None
    step: str = "first"
    reasons: tuple[str, ...] = ()
    identifier: str | None = None
    embargo_until: date | None = None
    left_out: Mapping[str, int] = field(default_factory=dict)
    made_with: Mapping[str, str] = field(default_factory=dict)

    def as_dict(self) -> dict[str, Any]:
        """Give the part of datapackage.json that keeps this."""
        previous = self.previous
        return {
            "version_step": self.step,
            "version_reasons": list(self.reasons),
            "previous": previous
            and {"version": previous.version, "fingerprint": previous.fingerprint},
            "identifier": self.identifier,
            "embargo_until": self.embargo_until and self.embargo_until.isoformat(),
            "left_out": dict(sorted(self.left_out.items())),
            "made_with": dict(sorted(self.made_with.items())),
        }


def meta_of(descriptor: Mapping[str, Any]) -> ReleaseMeta:
    """Read what a release says of itself from its datapackage.json.

    Raises:
        KeyError: A key is missing.
        ValueError: The date is none.
    """
    held = descriptor["rigledger"]
    previous, embargo = held["previous"], held.get("embargo_until")
    return ReleaseMeta(
        version=descriptor["version"],
        released_on=date.fromisoformat(descriptor["created"][:10]),
        previous=previous and Earlier(previous["version"], previous["fingerprint"]),
        step=held["version_step"],
        reasons=tuple(held["version_reasons"]),
        identifier=held["identifier"],
        embargo_until=embargo and date.fromisoformat(embargo),
        left_out=held["left_out"],
        made_with=held["made_with"],
    )


def made_with(contract: Contract) -> dict[str, str]:
    """Name the versions on which the bytes of a release may depend.

    The platform is part of it: another processor or C library may round a logarithm's last digit
    differently, which the second promise allows for and the third doesn't.
    """
    here = {
        "rigledger": rigledger.__version__,
        "contract": contract.version,
        "python": ".".join(str(part) for part in sys.version_info[:2]),
        "platform": f"{sys.platform}-{platform.machine().lower()}",
    }
    return here | {name.lower(): _installed(name) for name in _LIBRARIES}


def _installed(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "absent"
