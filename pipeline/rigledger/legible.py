"""Text of strangers as a page can show it: nothing in it changes how the text around it reads.

An embedding, override or isolate of writing direction that is left open turns the words after it
around, and an element that isolates directions doesn't close it (CSS Writing Modes 3, section
2.4.5.1). Marks of direction, which open nothing, stay.
"""

from __future__ import annotations

import re

_REPLACEMENT = "\ufffd"
_TURNING = re.compile("[\u202a-\u202e\u2066-\u2069]")


def legible(text: str) -> str:
    """Replace what opens or closes a direction of writing by the replacement character."""
    return _TURNING.sub(_REPLACEMENT, text)


def legible_part(part: object) -> object:
    """Make a template's value legible; what is marked up already stays as it is."""
    return legible(part) if type(part) is str else part
