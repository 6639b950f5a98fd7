"""Throwing away what is typed on a form: one key, and one question before it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

if TYPE_CHECKING:
    from textual.screen import Screen


class ThrowsAway:
    """Mixed into a form. ``not_stored`` says what would go, and is empty where there is nothing."""

    _storing = False

    @property
    def not_stored(self) -> str:
        """What would go, in a sentence."""
        raise NotImplementedError

    def throw(self) -> None:
        """Away with it, and off the form."""
        raise NotImplementedError

    def action_throw_away(self) -> None:
        """Ask, then throw it away. Delete does it: no letter that means something on another screen."""
        if self._storing or not self.not_stored:
            return
        from kb.tui.screens.note import AskScreen

        answers = (("f", "form", "Stay on the form"), ("delete", "throw", "Throw it away"))
        asked = AskScreen("Throw it away?", self.not_stored, answers)
        app = cast("Screen[Any]", self).app
        app.push_screen(asked, lambda answer: self.throw() if answer == "throw" else None)
