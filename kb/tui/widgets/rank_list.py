"""The ranked list: one line for each way of acting, which opens, laid out for the width there is."""

from __future__ import annotations

from typing import NamedTuple

from textual import events
from textual.widgets import Static

from kb.model.question import Suggestion
from kb.tui.screens.choose.ranking import Ranked, header, row
from kb.tui.text import line
from kb.tui.widgets.two_clicks import ClickList


class RankHead(Static):
    """The line with the names of the columns."""

    def __init__(self) -> None:
        super().__init__("", markup=False, id="rank-head")

    def on_resize(self, event: events.Resize) -> None:
        self.update(line(header(event.size.width - 1)))


class Shown(NamedTuple):
    """One row: a leader with its place, or (place 0) a liquid behind it; ``leader`` is the id of its line.

    A leader that is not proposed has the place NOT_PROPOSED.
    """

    one: Suggestion
    place: int
    leader: str


class RankList(ClickList):
    """Rows of a :class:`Ranked`. The row one stands on stays the same liquid when the order changes."""

    def __init__(self) -> None:
        super().__init__(id="rank-list")
        self.ranked: Ranked | None = None
        self.opened: set[str] = set()
        """Leaders of lines that stand open."""
        self._drawn_for = 0
        self._fresh = False

    def start_anew(self) -> None:
        """Another question: its best rows are shown, wherever one stood in the last answer."""
        self._fresh = True

    @property
    def visible_rows(self) -> list[Shown]:
        """The leaders, and behind each that stands open what acts alike."""
        found = []
        if self.ranked is None:
            return []
        for place, one in zip(self.ranked.places, self.ranked.rows, strict=True):
            found.append(Shown(one, place, one.liquid))
            if one.liquid in self.opened:
                found += [Shown(other, 0, one.liquid) for other in self.ranked.alike.get(one.liquid, ())]
        return found

    @property
    def _at(self) -> Shown | None:
        return self.row_of(self.visible_rows)

    @property
    def here(self) -> Suggestion | None:
        return self._at.one if self._at else None

    def show(self, ranked: Ranked | None) -> None:
        """Draw an answer. Option ids are not used: a liquid's id may be any text."""
        kept = self.here.liquid if self.here and not self._fresh else ""
        if self._fresh:
            self.opened.clear()
        self._fresh = False
        self.ranked = ranked
        self._draw(kept)

    def toggle(self) -> None:
        """Open or close the line one stands in; one stays on its leader."""
        at = self._at
        if at is not None and self.ranked is not None and self.ranked.alike.get(at.leader):
            self.opened ^= {at.leader}
            self._draw(at.leader)

    def _draw(self, kept: str) -> None:
        self._drawn_for = max(20, self.size.width - 1)
        rows = self.visible_rows
        places = (place for place, shown in enumerate(rows) if shown.one.liquid == kept)
        self.fill((line(self._words(one)) for one in rows), next(places, 0 if rows else None))
        if self.highlighted == 0:
            self.scroll_home(animate=False)

    def _words(self, shown: Shown) -> str:
        alike = len(self.ranked.alike.get(shown.one.liquid, ())) if self.ranked and shown.place else 0
        sign = "-" if shown.one.liquid in self.opened else "+"
        return row(shown.one, self._drawn_for, shown.place, f"{sign}{alike}" if alike else "")

    def on_resize(self, event: events.Resize) -> None:
        if event.size.width - 1 != self._drawn_for:
            self._draw(self.here.liquid if self.here else "")
