"""The usual cautions, shown in the run sheet and the kit."""

from __future__ import annotations

from textwrap import dedent

_TEXT = """
    The makers' instructions, local codes and licensed practice come first; where they differ from
    this page, follow them and note it.

    Mains power: switch off and unplug before a cover comes off, wait until stored charge is gone,
    and never open a power supply. Anything on the mains side is work for a licensed person.

    Covers and cards: touch bare grounded metal first, let hot parts cool, support a heavy card,
    seat its power plugs fully, and close the case before measuring if the maker asks for it.

    Power, voltage and clock limits: stay within the maker's limits. A run beyond them says nothing
    about the setting, and can damage parts or void a warranty.

    Firmware: flash only the maker's file for exactly this board or card, on steady power, with the
    maker's way back at hand. If in doubt don't flash, and write down the version that is there.

    Watch temperature and noise in the first run after a swap; stop at smoke, smell or a new sound.
"""

CAUTIONS = tuple(" ".join(part.split()) for part in dedent(_TEXT).strip().split("\n\n"))
