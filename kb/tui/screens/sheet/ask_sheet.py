"""A record on a sheet that the book does not know: which is meant, or is it a new one?"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Any, NamedTuple, cast

from kb.tui.screens.choose.picker import pick_sheet
from kb.tui.screens.note import AskScreen

if TYPE_CHECKING:
    from textual.screen import Screen

    from kb.desk.studio import Studio
    from kb.tui.screens.at_desk import AtDesk

Then = Callable[[str, bool], None]
"""Gets the name of the sheet, and whether it is to be founded."""
MOST_NEAR = 5
NONE_YET = "There is none in it yet."


class _Meant(NamedTuple):
    """The sheet that is meant; empty where none bears the name, with those near in spelling."""

    name: str
    near: tuple[str, ...] = ()
    there: int = 0
    """How many sheets there are."""


def with_sheet_known(screen: AtDesk, typed: str, then: Then, back: Callable[[str], None]) -> None:
    """Go on with the sheet that is meant; ask where none bears the name, unless it was chosen as a new one.

    ``back`` says why not to go on.
    """
    if not typed.strip():
        then("", False)
        return

    def found(meant: _Meant) -> None:
        if not meant.name and typed.strip() == screen.bench.new_sheet:
            then(typed.strip(), True)
        else:
            _found(screen, typed.strip(), then, back, meant)

    screen.ask(partial(_meant, typed=typed), found, group="sheet", failed=back)


def _meant(studio: Studio, *, typed: str) -> _Meant:
    from kb.desk.sheet.names import NoSheet, known_sheets, sheet_for_record

    studio.refresh()
    try:
        return _Meant(sheet_for_record(studio, typed))
    except NoSheet as unknown:
        near = tuple(choice.id for choice in unknown.choices[:MOST_NEAR])
        return _Meant("", near, len(known_sheets(studio)))


def _found(screen: AtDesk, typed: str, then: Then, back: Callable[[str], None], meant: _Meant) -> None:
    if meant.name:
        then(meant.name, False)
        return
    answers = (
        ("b", "back", "Back"),
        *((str(number), str(number), name) for number, name in enumerate(meant.near, 1)),
        *((("ctrl+e", "list", _listed(meant.there)),) if meant.there > len(meant.near) else ()),
        # No letter: whoever types on without looking must not found a sheet.
        ("ctrl+y", "new", f'"{typed}" is a new sheet: write it down'),
    )

    def answered(answer: str | None) -> None:
        if answer == "new":
            then(typed, True)
        elif answer and answer.isdecimal():
            then(meant.near[int(answer) - 1], False)
        elif answer == "list":
            pick_sheet(screen.bench, "Which sheet?", picked, left)
        else:
            left()

    def picked(name: str) -> None:
        # A name that was typed there and not read is asked about as this one was.
        with_sheet_known(screen, name, then, back)

    def left() -> None:
        if lines := cast("Screen[Any]", screen).query("#field-sheet"):
            # The grades that were typed last may stand a screen below it.
            lines.first().focus()
        back(f'there is no sheet "{typed}" in the book.')

    words = f'No sheet in the book is called "{typed}". {"Which is meant?" if meant.there else NONE_YET}'
    screen.bench.push_screen(AskScreen("Which sheet?", words, answers), answered)


def _listed(count: int) -> str:
    return f"Choose among the {count:,} sheets there are" if count > 1 else "Show the one sheet there is"
