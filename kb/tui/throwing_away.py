"""Throwing away what is typed on a form: one key, and one question before it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

from kb.tui.screens.at_desk import AtDesk

if TYPE_CHECKING:
    from textual.screen import Screen


class ThrowsAway(AtDesk):
    """Mixed into a form. ``not_stored`` says what would go, and is empty where there is nothing."""

    _storing = False

    @property
    def not_stored(self) -> str:
        """What would go, in a sentence."""
        raise NotImplementedError

    def on_resize(self) -> None:
        """The line one is on stays in sight: a key would else be obeyed where nobody sees it."""
        screen = cast("Screen[Any]", self)
        if (line := screen.focused) is not None:
            screen.call_after_refresh(line.scroll_visible, animate=False)

    def throw(self) -> None:
        """Away with it, and off the form."""
        raise NotImplementedError

    def action_throw_away(self) -> None:
        """Ask, then throw it away. Delete does it: no letter that means something on another screen."""
        if self.not_stored and not self._storing:
            answers = (("f", "form", "Stay on the form"), ("delete", "throw", "Throw it away"))
            self.sure("Throw it away?", self.not_stored, answers, self.throw)
