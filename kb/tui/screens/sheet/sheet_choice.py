"""Which sheet is meant when its plan is asked for: the one in view, else one that is chosen."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import TYPE_CHECKING, Any

from textual.app import SystemCommand

from kb.book.kinds.table import KINDS
from kb.tui.screens.water.bath_form import asked_of

if TYPE_CHECKING:
    from textual.screen import Screen

    from kb.tui.bench import Bench

OPEN = "Close what is open first."


def show_sheet(app: Bench) -> None:
    """Show the plan of the sheet in view; where none is, ask."""
    from kb.tui.screens.sheet.sheet import SheetScreen

    if app.screen.is_modal or isinstance(app.screen, SheetScreen):
        app.say(OPEN)
        return
    with_sheet(app, "The plan of which sheet?", lambda name: _push(app, SheetScreen(name)))


def show_faces(app: Bench) -> None:
    """The faces of the sheet in view; where none is, or one is shown already, ask."""
    from kb.tui.screens.choose.picker import pick_sheet
    from kb.tui.screens.sheet.faces import FacesScreen

    if app.screen.is_modal:
        app.say(OPEN)
        return
    if isinstance(app.screen, FacesScreen):
        pick_sheet(app, "Which sheet instead?", app.screen.show_instead)
        return
    with_sheet(app, "Which sheet?", lambda name: _push(app, FacesScreen(name)))


def with_sheet(app: Bench, title: str, then: Callable[[str], None]) -> None:
    """Do something with the sheet in view; where none is, with one that is chosen."""
    from kb.tui.screens.choose.picker import pick_sheet

    if name := sheet_in_view(app):
        app.keep_sheet(name)
        then(name)
    else:
        pick_sheet(app, title, then)


def sheet_in_view(app: Bench) -> str:
    """The sheet that the screen is about, else that of the question; empty if neither names one."""
    from kb.tui.screens.records.book import BookScreen

    screen = app.screen
    if isinstance(screen, BookScreen):
        return screen.sheet_here
    asked = asked_of(app)
    return asked.id_of("sheet") if asked else ""


def work_commands(app: Bench, screen: Screen[Any]) -> Iterator[SystemCommand]:
    """Writing down what was done, and pressing, from any screen that has no key for it."""
    if not hasattr(screen, "action_swab"):
        says = "Take in a picture or a folder of them, pair and compare: of a sheet"
        yield SystemCommand("Photographs of a sheet", says, partial(photographs, app))
    if hasattr(screen, "action_mend"):
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

    _of_sheet(app, "Of which sheet?", partial(write_down, app, kind))


def photographs(app: Bench) -> None:
    """The photographs of a sheet, to take some in or to compare them."""
    from kb.tui.screens.sheet.photographs import PhotographsScreen

    _of_sheet(app, "Photographs of which sheet?", lambda name: _push(app, PhotographsScreen(name)))


def press(app: Bench) -> None:
    """Steps of drying and pressing."""
    from kb.tui.screens.sheet.press import PressScreen

    _of_sheet(app, "Pressing of which sheet?", lambda name: _push(app, PressScreen(name)))


def _of_sheet(app: Bench, title: str, then: Callable[[str], None]) -> None:
    """As ``with_sheet``, unless a box is open that has to be closed first."""
    if app.screen.is_modal:
        app.say(OPEN)
    else:
        with_sheet(app, title, then)


def _push(app: Bench, screen: Screen[Any]) -> None:
    app.push_screen(screen)
