"""The places of the app: the screens that a key always reaches. Title line, keys and palette read the table.

A screen's module is named and not imported, so that nothing here knows a screen and none is loaded early.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from textual.screen import Screen


class Place(NamedTuple):
    """A screen one can always go to."""

    mode: str
    key: str
    word: str
    """As the title line names it."""
    name: str
    """As the palette names it."""
    says: str
    module: str
    screen: str

    def make(self) -> Screen[Any]:
        """Its screen, loaded when it is first gone to."""
        made: Screen[Any] = getattr(import_module(f"kb.tui.screens.{self.module}"), self.screen)()
        return made


SHEET = "sheet"
"""Gone to with the sheet that is meant, never without one."""
PLACES = (
    Place("home", "f2", "Ask", "Question", "Ask what to test next", "choose.home", "HomeScreen"),
    Place(
        *("book", "f3", "Book", "Bench book", "Look through the tests in the bench book"),
        *("records.book", "BookScreen"),
    ),
    Place(
        *("materials", "f4", "Materials", "Materials", "Look up liquids, tapes, media and papers"),
        *("materials.materials", "MaterialsScreen"),
    ),
    Place(
        *("identify", "f5", "Identify", "Identify", "Tell from what you see what a tape may be"),
        *("identify.screen", "IdentifyScreen"),
    ),
    Place("recipes", "f6", "Make", "Make", "Recipes, batches and labels", "making.recipes", "RecipesScreen"),
    Place("baths", "f7", "Bath", "Baths", "Alkaline baths, washing, readings", "water.baths", "BathsScreen"),
    Place(
        *("air", "f8", "Air", "Air", "Work out what is breathed while a liquid is used"),
        *("air.screen", "AirScreen"),
    ),
    Place(
        *(SHEET, "f10", "Sheet", "Sheet, tape and patches"),
        *("Tape, patches and condition of a sheet on its two faces", "sheet.faces", "FacesScreen"),
    ),
)
