"""What an entry has to do with others, in groups, to be followed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, ClassVar

from rich.table import Table
from rich.text import Text
from textual.binding import Binding, BindingType
from textual.widgets.option_list import Option

from kb.tui.text import cut, tidy
from kb.tui.widgets.two_clicks import ClickList

if TYPE_CHECKING:
    from kb.desk.materials.links_near import Link

IN_FULL = {"report", "caution", "test", "bottle"}
"""Kinds whose remarks are shown whole; the handbook's words on a class of liquids stand in full in the entry
of the medium or paper, and are the same for every liquid of the class."""
LONGEST = 90
NONE = "Nothing is known that this has to do with."


class LinksList(ClickList):
    """Links under what they are to the entry; headings cannot be stood on."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "select", "Follow", show=False),
        Binding("left", "group(-1)", "Group before", show=False),
        Binding("right", "group(1)", "Next group", show=False),
    ]

    def __init__(self) -> None:
        super().__init__(id="reading-links")
        self._rows: list[Link | None] = []
        """The link of each row; None for a heading."""

    @property
    def here(self) -> Link | None:
        return self.row_of(self._rows)

    @property
    def value_here(self) -> str:
        """The link in words, for copying."""
        return tidy(self.here.name, multiline=False) if self.here else ""

    def show(self, found: Sequence[Link], at: int = 0) -> None:
        """Lay the links out in groups, the cursor on row ``at`` or the first link after it."""
        self._rows = []
        options = []
        for heading, links in grouped(found):
            self._rows += [None, *links]
            count = f" ({len(links)})" if len(links) > 1 else ""
            # What is said of all of a group is said once, over it.
            notes = {one.note for one in links if one.note != one.name}
            shared = f": {notes.pop()}" if len(links) > 1 and len(notes) == 1 and "" not in notes else ""
            options.append(Option(Text(tidy(f"{heading}{count}{shared}"), style="bold"), disabled=True))
            options += [Option(_row(one, "" if shared else one.note)) for one in links]
        places = (place for place, one in enumerate(self._rows) if one is not None and place >= at)
        self.fill(options or [Option(Text(NONE), disabled=True)], next(places, None))

    def action_group(self, step: int) -> None:
        """To the first link of the next group, or of the one before."""
        heads = [place for place, one in enumerate(self._rows) if one is None]
        here = self.highlighted or 0
        wanted = (
            [one for one in heads if one > here] if step > 0 else [one for one in heads if one < here - 1]
        )
        if wanted:
            self.highlighted = (wanted[0] if step > 0 else wanted[-1]) + 1


def grouped(found: Sequence[Link]) -> list[tuple[str, list[Link]]]:
    """Links by what they are to the entry, in the order in which the first of each group stands."""
    groups: dict[str, list[Link]] = {}
    for one in found:
        named = one.relation.startswith(one.kind)
        heading = one.relation if named else f"{one.kind}, {one.relation}"
        groups.setdefault(heading[:1].upper() + heading[1:], []).append(one)
    return list(groups.items())


def _row(one: Link, note: str) -> Table:
    """Name and remark side by side; what has no name but its text takes the whole row."""
    table = Table.grid(padding=(0, 1), expand=True)
    table.add_column(width=1)
    table.add_column(ratio=1, overflow="fold")
    # A rule has no name but its text.
    if not note or note == one.name:
        table.add_row("", Text(tidy(one.name)))
    else:
        table.add_column(ratio=1, overflow="fold")
        words = note if one.kind in IN_FULL else cut(note, LONGEST)
        table.add_row("", Text(tidy(one.name)), Text(tidy(words)))
    return table
