"""A list in which one click goes to a line and two choose it, as in tables."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, TypeVar, cast

from textual import events
from textual.geometry import Region, Spacing
from textual.strip import Strip
from textual.visual import Padding, Visual, VisualType
from textual.widgets import OptionList
from textual.widgets.option_list import Option

if TYPE_CHECKING:
    from kb.tui.bench import Bench

T = TypeVar("T")


class ClickList(OptionList):
    """Textual's list chooses at the first click: whoever only points would open, tick or take something."""

    def __init__(self, *content: Option | VisualType, id: str | None = None, compact: bool = True) -> None:
        super().__init__(*content, id=id, markup=False, compact=compact)

    def fill(self, lines: Iterable[Option | VisualType], at: int | None) -> None:
        """Put other lines here, the cursor on the one at this place."""
        self.clear_options()
        self.add_options(lines)
        self.highlighted = at

    def row_of(self, rows: Sequence[T]) -> T | None:
        """Of the rows that the lines show the one under the cursor."""
        at = self.highlighted
        return rows[at] if at is not None and at < len(rows) else None

    _apart = False
    """Whether the lines stand farther apart, for hands in gloves."""

    def _get_visual(self, option: Option) -> Visual:
        """With a blank line in gloves: the library counts no rows for a padding in the style of a line."""
        visual = super()._get_visual(option)
        return Padding(visual, Spacing(bottom=1)) if self._apart else visual

    def render_lines(self, crop: Region) -> list[Strip]:
        """The list may have been drawn before gloves were put on."""
        if self._apart is not (gloves := cast("Bench", self.app).gloves):
            self._apart = gloves
            self._clear_caches()
        return super().render_lines(crop)

    def on_click(self, event: events.Click) -> None:
        """The line under the mouse is gone to; the second click in a row is Enter."""
        event.prevent_default()
        at = event.style.meta.get("option")
        if at is None or self.get_option_at_index(at).disabled:
            return
        self.highlighted = at
        if event.chain > 1:
            self.action_select()
