"""A line to type in that never shows or keeps a control character."""

from __future__ import annotations

from collections.abc import Callable

from textual import events
from textual.geometry import Size
from textual.reactive import reactive
from textual.widgets import Input

from kb.tui.inside_textual import bound
from kb.tui.text import tidy


class PlainInput(Input):
    """What is typed, pasted or filled in is made plain before it is kept."""

    virtual_size = reactive(Size(0, 0), layout=False)
    """As wide as what is typed. A line keeps its place whatever is in it: the widget that this comes from
    lays out the whole screen anew at every letter."""

    cursor_blink = reactive(False, init=False)
    """The cursor is the mark of the line that is typed into, so it is there at every moment."""

    def validate_value(self, value: str) -> str:
        """Control characters turn into a visible mark, line breaks into a blank."""
        return tidy(value, multiline=False)

    def _on_paste(self, event: events.Paste) -> None:
        """Every line of it: the library takes the first, and says nothing of the rest."""
        event.text = " ".join(filter(str.strip, event.text.splitlines()))

    async def _on_key(self, event: events.Key) -> None:
        """Backspace, Home and their like do what they do before the next letter comes.

        By way of all that holds the line they came behind letters typed after them: 10, corrected to 12 in a
        hurry, stayed 10. Delete does not: it may be the answer to a question that is only opening.
        """
        does = "" if event.is_printable or event.key == "delete" else bound(self, event.key)
        if does and await self.app.run_action(does, self):
            event.stop()
            event.prevent_default()


class FindLine(PlainInput):
    """A line to find by. The key that leads here from elsewhere is no part of a name."""

    def on_key(self, event: events.Key) -> None:
        """A / at the start is that key, pressed by whoever is here already."""
        if event.key == "slash" and not self.value:
            event.stop()
            event.prevent_default()


class WatchedInput(PlainInput):
    """A line whose keys are offered to ``first`` before the line takes them, one by one in their order."""

    def __init__(self, value: str, first: Callable[[events.Key], bool], *, id: str) -> None:
        super().__init__(value, id=id, compact=True, select_on_focus=False)
        self._first = first

    def on_key(self, event: events.Key) -> None:
        """A key that ``first`` took is not typed."""
        if self._first(event):
            event.stop()
            event.prevent_default()
