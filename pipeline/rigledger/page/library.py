"""The charting library of the page: bundled once for each version of it, then kept.

Bundling takes longer than everything else about a page. The bundle is kept in the user's folder for
such things, under a name that holds its hash: a file that was damaged or altered is not used.
"""

from __future__ import annotations

import hashlib
from functools import cache
from typing import TYPE_CHECKING

from rigledger.files import write_text
from rigledger.remembered import versions_of

if TYPE_CHECKING:
    from pathlib import Path

_PACKAGE = "vl-convert-python"


@cache
def chart_library() -> str:
    """Give the charting library that the renderer of the charts brings along: nothing is fetched.

    Its names are kept to itself; only what it puts on ``window`` is seen by the page's script.
    """
    return f"(() => {{{_bundle()}\n}})();"


def _bundle() -> str:
    stem = f"charts-{versions_of(_PACKAGE)[_PACKAGE]}-"
    folder = _folder()
    kept = _kept(folder, stem)
    if kept is not None:
        return kept
    import vl_convert

    # Without a snippet it gives everything; its stub asks for one all the same.
    bundle: str = vl_convert.javascript_bundle()  # type: ignore[call-arg]
    _keep(folder, stem, bundle)
    return bundle


def _folder() -> Path | None:
    """Give the user's folder for what can be made again; None where there is no such place."""
    import platformdirs

    try:
        return platformdirs.user_cache_path("rigledger", appauthor=False)
    except (OSError, RuntimeError):
        return None


def _kept(folder: Path | None, stem: str) -> str | None:
    try:
        for path in sorted(folder.glob(f"{stem}*.js")) if folder else ():
            data = path.read_bytes()
            if path.name == _name(stem, data):
                return data.decode("utf-8")
    except (OSError, ValueError):
        pass
    return None


def _keep(folder: Path | None, stem: str, bundle: str) -> None:
    if folder is None:
        return
    try:
        for path in folder.glob(f"{stem}*.js"):
            path.unlink(missing_ok=True)  # it was damaged, or it would have been used
        write_text(folder / _name(stem, bundle.encode("utf-8")), bundle)
    except OSError:
        return


def _name(stem: str, data: bytes) -> str:
    return f"{stem}{hashlib.sha256(data).hexdigest()}.js"
