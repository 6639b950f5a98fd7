"""A recipe to read and to work by: a line for each ingredient, step and remark."""

from __future__ import annotations

from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.content import Content
from textual.message import Message
from textual.widgets import OptionList
from textual.widgets.option_list import Option

from kb.tui.recipe_words import Line, Opened, lines
from kb.tui.text import plain, tidy
from kb.tui.timers import Timers


class RecipePane(OptionList):
    """Lines of a recipe. The cursor goes through all of them, so that all of them can be read."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("space", "tick", "Tick", key_display="Space")]

    class Ticked(Message):
        """The step under the cursor was done, or was not done after all."""

    def __init__(self) -> None:
        super().__init__(id="recipe-lines", markup=False, compact=True)
        self.opened: Opened | None = None
        self.lines: list[Line] = []

    @property
    def here(self) -> Line | None:
        """The line under the cursor."""
        at = self.highlighted
        return self.lines[at] if at is not None and at < len(self.lines) else None

    def show(self, opened: Opened, timers: Timers) -> None:
        """Put a recipe here; of the same recipe the cursor stays on its line."""
        same = self.opened is not None and self.opened.recipe.id == opened.recipe.id
        old, at = self.lines, self.highlighted
        self.opened, self.lines = opened, lines(opened, timers)
        if same and len(old) == len(self.lines):
            self._renew(old)
            return
        step = old[at].step if same and at is not None and at < len(old) else 0
        self.clear_options()
        self.add_options([Option(_drawn(one)) for one in self.lines])
        first = next((place for place, one in enumerate(self.lines) if one.step == (step or -1)), 0)
        self.highlighted = first if self.lines else None

    def say(self, words: str) -> None:
        """Put a sentence here instead."""
        self.opened, self.lines = None, []
        self.clear_options()
        self.add_option(Option(plain(words), disabled=True))

    def renew(self, timers: Timers) -> None:
        """Draw what a timer changed."""
        if self.opened is not None:
            old, self.lines = self.lines, lines(self.opened, timers)
            self._renew(old)

    def _renew(self, old: list[Line]) -> None:
        for place, one in enumerate(self.lines):
            if one != old[place]:
                self.replace_option_prompt_at_index(place, _drawn(one))

    def go_to_step(self, number: int) -> None:
        """Stand on a step, if there is one of that number."""
        for place, one in enumerate(self.lines):
            if number and one.step == number:
                self.highlighted = place

    def action_tick(self) -> None:
        """Done, or not done."""
        self.post_message(self.Ticked())


def _drawn(one: Line) -> Content:
    return Content.styled(tidy(one.text), "bold") if one.head else plain(one.text)
