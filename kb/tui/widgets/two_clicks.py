"""A list in which one click goes to a line and two choose it, as in tables."""

from __future__ import annotations

from textual import events
from textual.widgets import OptionList


class ClickList(OptionList):
    """Textual's list chooses at the first click: whoever only points would open, tick or take something."""

    def on_click(self, event: events.Click) -> None:
        """The line under the mouse is gone to; the second click in a row is Enter."""
        event.prevent_default()
        at = event.style.meta.get("option")
        if at is None or self.get_option_at_index(at).disabled:
            return
        self.highlighted = at
        if event.chain > 1:
            self.action_select()
