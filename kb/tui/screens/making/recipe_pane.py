"""Work in steps to read and to do: a line for each ingredient, step and remark."""

from __future__ import annotations

from textwrap import wrap
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widgets.option_list import Option

from kb.tui.clock import Timers
from kb.tui.screens.making.recipe_words import Line, Opened, lines
from kb.tui.text import plain, tidy
from kb.tui.widgets.page import WIDEST
from kb.tui.widgets.two_clicks import ClickList


class StepsPane(ClickList):
    """Lines of some work. The cursor goes through all of them, so that all of them can be read."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("space", "screen.tick_here", "Tick", key_display="Space")
    ]

    def __init__(self, id: str) -> None:
        super().__init__(id=id)
        self.work = ""
        """Of which work the lines are."""
        self.lines: list[Line] = []

    @property
    def here(self) -> Line | None:
        return self.row_of(self.lines)

    def put(self, work: str, found: list[Line]) -> None:
        """Put lines here; of the same work the cursor stays on its line."""
        same = self.work == work
        old, here = self.lines, self.here
        self.work, self.lines = work, found
        if same and len(old) == len(found):
            self._renew(old)
            return
        step = here.step if same and here else 0
        first = next((place for place, one in enumerate(found) if one.step == (step or -1)), 0)
        self.fill(map(self._drawn, found), first if found else None)

    def say(self, words: str) -> None:
        self.work, self.lines = "", []
        self.fill([Option(plain(words), disabled=True)], None)

    def on_resize(self) -> None:
        """Lines are broken for the width there is."""
        self._renew([])

    def _renew(self, old: list[Line]) -> None:
        for place, one in enumerate(self.lines):
            if not old or one != old[place]:
                self.replace_option_prompt_at_index(place, self._drawn(one))

    def _drawn(self, one: Line) -> Content:
        """What goes on in a next line stands under its own words and not under the tick."""
        room = min(WIDEST, self.scrollable_content_region.width or WIDEST)
        broken = wrap(tidy(one.text), max(20, room), subsequent_indent=" " * one.hangs)
        text = "\n".join(broken)
        return Content.styled(text, "bold") if one.head else Content(text)

    def go_to_step(self, number: int) -> None:
        """Stand on a step, if there is one of that number."""
        for place, one in enumerate(self.lines):
            if number and one.step == number:
                self.highlighted = place


class RecipePane(StepsPane):
    """The lines of a recipe."""

    def __init__(self) -> None:
        super().__init__("recipe-lines")
        self.opened: Opened | None = None

    def show(self, opened: Opened, timers: Timers) -> None:
        """Put a recipe here; of the same recipe the cursor stays on its line."""
        self.opened = opened
        self.put(opened.recipe.id, lines(opened, timers))

    def say(self, words: str) -> None:
        self.opened = None
        super().say(words)

    def renew(self, timers: Timers) -> None:
        """Draw what a timer changed."""
        if self.opened is not None:
            self.put(self.opened.recipe.id, lines(self.opened, timers))
