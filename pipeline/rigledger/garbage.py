"""Python's search for circular garbage, put off where much is made and little of it is circular."""

from __future__ import annotations

import gc
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator


@contextmanager
def searched_later() -> Iterator[None]:
    """Search for no circular garbage in the meantime; whatever isn't circular goes as ever.

    Loading a library makes hundreds of thousands of objects that all stay, and every few hundred of
    them set off a search through them: about a tenth of the time of a small study's release.
    """
    searching = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if searching:
            gc.enable()
