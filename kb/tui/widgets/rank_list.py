"""The ranked list: one line for each liquid, laid out for the width there is."""

from __future__ import annotations

from textual import events
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from kb.model.question import Suggestion
from kb.tui.screens.choose.ranking import Ranked, header, row
from kb.tui.text import line


class RankHead(Static):
    """The line with the names of the columns."""

    def __init__(self) -> None:
        super().__init__("", markup=False, id="rank-head")

    def on_resize(self, event: events.Resize) -> None:
        """Columns follow the width."""
        self.update(line(header(event.size.width - 1)))


class RankList(OptionList):
    """Rows of a :class:`Ranked`. The row one stands on stays the same liquid when the order changes."""

    def __init__(self) -> None:
        super().__init__(id="rank-list", markup=False, compact=True)
        self.ranked: Ranked | None = None
        self._drawn_for = 0
        self._fresh = False

    def start_anew(self) -> None:
        """Another question: its best rows are shown, wherever one stood in the last answer."""
        self._fresh = True

    @property
    def here(self) -> Suggestion | None:
        """The row one stands on."""
        if self.ranked is None or self.highlighted is None or self.highlighted >= len(self.ranked.rows):
            return None
        return self.ranked.rows[self.highlighted]

    def show(self, ranked: Ranked | None) -> None:
        """Draw an answer. Option ids are not used: a liquid's id may be any text."""
        kept = self.here.liquid if self.here and not self._fresh else ""
        self._fresh = False
        self.ranked = ranked
        self._draw()
        rows = ranked.rows if ranked else ()
        places = [place for place, one in enumerate(rows) if one.liquid == kept]
        self.highlighted = places[0] if places else (0 if rows else None)
        if self.highlighted == 0:
            self.scroll_home(animate=False)

    def _draw(self) -> None:
        self._drawn_for = max(20, self.size.width - 1)
        rows = self.ranked.rows if self.ranked else ()
        self.clear_options()
        self.add_options([Option(line(row(one, self._drawn_for))) for one in rows])

    def on_resize(self, event: events.Resize) -> None:
        """Rows follow the width."""
        if event.size.width - 1 != self._drawn_for:
            at = self.highlighted
            self._draw()
            self.highlighted = at
