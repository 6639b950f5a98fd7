"""What the tests of map, blends and air share: a still studio, its question, and the wait for a worker."""

from __future__ import annotations

from typing import Any

from textual.pilot import Pilot

from kb.tui.asked import Asked, Filled
from tests.screens.invented import home
from tests.screens.screen_help import settle

OWN = """\
sources:
- {id: zz-note, cite: Zzyxq note 1901, basis: memory, seen: false, extent: one page}
"""


async def asked_for_rubber(pilot: Pilot[Any], *, medium: bool = True) -> None:
    """Ask for natural rubber with resin, oily, over letterpress, without the picker."""
    await settle(pilot)
    screen = home(pilot.app)
    filled = {
        "tape": Filled("adhesive", "natural-rubber-resin", "Natural rubber with resin (more in brackets)"),
        "stage": Filled("stage", "oily", "Oily"),
    }
    if medium:
        filled["medium"] = Filled("medium", "letterpress-oil", "Letterpress ink")
    screen.asked = Asked(filled)
    screen._question_changed()
    await settle(pilot)
    screen.action_to_list()
    await settle(pilot)
