"""Which sheet is meant when its plan is asked for: the one in view, else one that is chosen."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kb.tui.screens.from_question import asked_of

if TYPE_CHECKING:
    from kb.tui.app import BenchleafApp
    from kb.tui.find import Offer


def show_sheet(app: BenchleafApp) -> None:
    """Show the plan of the sheet in view; where none is, ask."""
    from kb.tui.screens.book import BookScreen
    from kb.tui.screens.sheet import SheetScreen

    screen = app.screen
    if screen.is_modal or isinstance(screen, SheetScreen):
        app.say("Close what is open first.")
        return
    asked = asked_of(app)
    name = asked.id_of("sheet") if asked else ""
    if isinstance(screen, BookScreen):
        name = screen.sheet_here
    if name:
        app.push_screen(SheetScreen(name))
    else:
        choose_sheet(app)


def choose_sheet(app: BenchleafApp) -> None:
    """By its name, typed in part."""
    from kb.tui.screens.picker import PickerScreen
    from kb.tui.screens.sheet import SheetScreen

    def chosen(offer: Offer | None) -> None:
        if offer is not None and offer.what is not None:
            app.push_screen(SheetScreen(offer.what.id))

    app.push_screen(PickerScreen("sheet", "The plan of which sheet?"), chosen)
