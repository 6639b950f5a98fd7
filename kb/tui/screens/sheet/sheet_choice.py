"""Which sheet is meant when its plan is asked for: the one in view, else one that is chosen."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import TYPE_CHECKING, Any

from textual.app import SystemCommand

from kb.book.kinds.table import KINDS
from kb.tui.bench import OPEN
from kb.tui.places import SHEET
from kb.tui.screens.water.bath_form import asked_of, sheet_open

if TYPE_CHECKING:
    from textual.screen import Screen

    from kb.tui.bench import Bench


def show_sheet(app: Bench) -> None:
    """Show the plan of the sheet in view; where none is, ask, and where one is shown already."""
    from kb.tui.screens.choose.picker import pick_sheet
    from kb.tui.screens.sheet.sheet import SheetScreen

    title = "The plan of which sheet?"
    if isinstance(app.screen, SheetScreen):
        pick_sheet(app, title, _over(app, SheetScreen))
    else:
        _of_sheet(app, title, _over(app, SheetScreen))


def show_faces(app: Bench) -> None:
    """The faces of the sheet in view; ask where none is, and where one is shown already."""
    from kb.tui.screens.choose.picker import pick_sheet
    from kb.tui.screens.sheet.faces import FacesScreen

    if app.screen.is_modal:
        app.say(OPEN)
    elif isinstance(app.screen, FacesScreen):
        pick_sheet(app, "Which sheet instead?", app.screen.show_instead)
    else:
        with_sheet(app, "Which sheet?", partial(open_sheet, app))


def open_sheet(app: Bench, name: str, then: Callable[[str], object] | None = None) -> None:
    """Go to the place of sheets with this one, and on to what is to be done with it.

    A form that is not stored stays where it is, and is said.
    """
    app.call_later(_open_sheet, app, then, name)


def _over(app: Bench, screen: Callable[[str], Screen[Any]]) -> Callable[[str], object]:
    """A screen of a sheet, over its faces."""
    return partial(open_sheet, app, then=lambda name: app.push_screen(screen(name)))


async def _open_sheet(app: Bench, then: Callable[[str], object] | None, name: str) -> None:
    from kb.tui.screens.sheet.faces import FacesScreen

    coming_back = app.current_mode != SHEET
    await app.switch_mode(SHEET)
    if coming_back and then is None and getattr(app.screen, "sheet", "") == name:
        # As in every other place one finds what one left there.
        return
    app.leads_back = None
    while not isinstance(faces := app.screen, FacesScreen):
        if not getattr(faces, "nothing_typed", False):
            app.say(OPEN)
            return
        # Not awaited: the faces would be in view for a moment, and ask about the sheet before.
        app.pop_screen()
    if then is None:
        faces.show_instead(name)
        return
    faces.show_later(name)
    then(name)
    if coming_back:
        app.leads_back = app.screen


def with_sheet(app: Bench, title: str, then: Callable[[str], object]) -> None:
    """Do something with the sheet in view; where none is, with one that is chosen."""
    from kb.tui.screens.choose.picker import pick_sheet

    if name := sheet_in_view(app):
        app.keep_sheet(name)
        then(name)
    else:
        pick_sheet(app, title, then)


def sheet_in_view(app: Bench) -> str:
    """The sheet that the screen is about: of the book its row, of the question its blank, else the one open.

    Empty if there is none: the one of yesterday is offered first and not taken.
    """
    from kb.tui.screens.choose.home import HomeScreen
    from kb.tui.screens.records.book import BookScreen

    screen = app.screen
    if isinstance(screen, BookScreen) and screen.sheet_here:
        return screen.sheet_here
    if isinstance(screen, HomeScreen) and (named := screen.asked.id_of("sheet")):
        return named
    asked = asked_of(app)
    return sheet_open(app) or (asked.id_of("sheet") if asked else "")


def work_commands(app: Bench, screen: Screen[Any]) -> Iterator[SystemCommand]:
    """Writing down what was done, and pressing, from any screen that has no key for it."""
    if not hasattr(screen, "action_swab"):
        says = "Take in a picture or a folder of them, pair and compare: of a sheet"
        yield SystemCommand("Photographs of a sheet", says, partial(photographs, app))
    if hasattr(screen, "action_write_down"):
        return
    for kind in KINDS.values():
        if kind.verb:
            says = f"{kind.summary} (the plan of a sheet has a key for it)"
            yield SystemCommand(f"Write down {kind.a_noun}", says, partial(work, app, kind.key))
    says = "Steps of drying and pressing, with timers (the plan of a sheet has a key for it)"
    yield SystemCommand("Dry and press a sheet", says, partial(press, app))


def work(app: Bench, kind: str) -> None:
    """Write down a mend, a toning test or a housing."""
    from kb.tui.form import write_down

    _of_sheet(app, "Of which sheet?", partial(open_sheet, app, then=partial(write_down, app, kind)))


def photographs(app: Bench) -> None:
    """The photographs of a sheet, to take some in or to compare them."""
    from kb.tui.screens.sheet.photographs import PhotographsScreen

    _of_sheet(app, "Photographs of which sheet?", _over(app, PhotographsScreen))


def press(app: Bench) -> None:
    """Steps of drying and pressing."""
    from kb.tui.screens.sheet.press import PressScreen

    _of_sheet(app, "Pressing of which sheet?", _over(app, PressScreen))


def _of_sheet(app: Bench, title: str, then: Callable[[str], object]) -> None:
    """As ``with_sheet``, unless a box is open that has to be closed first."""
    if app.screen.is_modal:
        app.say(OPEN)
    else:
        with_sheet(app, title, then)
