"""One line of choices, each with its key: grades, faces, yes and no."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar, NamedTuple

from textual import events
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.message import Message
from textual.widget import Widget

from kb.tui.text import tidy

LABEL = 12
HERE = "»"
"""Before the line that has the cursor: a tint alone is missed by lamp light and without colour."""
LEAST = 24
"""Cells from which the beginning of what a choice means is worth showing."""


class One(NamedTuple):
    """A choice: its key, its value, and its words. ``short`` stands on the line, if not the key."""

    key: str
    value: str
    words: str
    short: str = ""


FACES = (One("-", "", "", "- not said"), One("f", "front", "", "F front"), One("b", "back", "", "B back"))


def graded(empty: str, words: Sequence[str]) -> tuple[One, ...]:
    """Choices under the figures that the words begin with: ``3 releases with light work``."""
    return (One("-", "", empty), *(One(one[0], one[0], one[2:]) for one in words))


class ChoiceRow(Widget, can_focus=True):
    """``bleed    -  0 [1] 2  3  4   trace on the blotter only``; the choice stands in brackets."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("left", "move(-1)", "Before", show=False),
        Binding("right", "move(1)", "Next", show=False),
        Binding("up", "app.focus_previous", "Up", show=False, priority=True),
        Binding("down,enter", "app.focus_next", "Down", show=False, priority=True),
    ]

    class Changed(Message):
        """Another choice was made."""

        def __init__(self, row: ChoiceRow) -> None:
            self.row = row
            super().__init__()

        @property
        def control(self) -> ChoiceRow:
            """The row, so that handlers can be chosen by its id."""
            return self.row

    def __init__(
        self, name: str, label: str, choices: Sequence[One], value: str, *, goes_on: bool = True
    ) -> None:
        super().__init__(id=name)
        self.goes_on = goes_on
        """Whether a choice by its key goes on to the next line.

        It does, but where none follows, and on a dial, which is turned to and fro."""
        self.label = label
        self.cells = LABEL
        """Cells of the label; a form with longer ones gives them more."""
        self.choices = tuple(choices)
        self.value = value
        self._missed = False
        """A figure was typed that chooses nothing: meant, most likely, for the line below."""

    @property
    def chosen(self) -> One:
        """The choice that holds; the first if the value is unknown."""
        return next((one for one in self.choices if one.value == self.value), self.choices[0])

    def render(self) -> Content:
        """Label, choices, words of the choice that holds."""
        mark = HERE if self.has_focus else " "
        parts: list[Content] = [Content.styled(f"{mark}{self.label:<{self.cells}}", "$secondary")]
        for one in self.choices:
            text = one.short or one.key.upper()
            held = one.value == self.chosen.value
            parts.append(Content.styled(f"[{text}]", "bold reverse") if held else Content(f" {text} "))
        words = tidy(self.keys_in_words if self._missed else self.chosen.words, multiline=False)
        row = Content.assemble(*parts)
        # Blanks alone would show as something that is cut off, and so do words that have no room.
        room = self.size.width - row.cell_length - 2
        return row + Content(f"  {words}") if words and (len(words) <= room or room >= LEAST) else row

    @property
    def keys_in_words(self) -> str:
        """``S, D or B; Enter goes on``."""
        *keys, last = (one.key.upper() for one in self.choices)
        return f"{', '.join(keys)} or {last}; Enter goes on"

    def choose(self, value: str) -> None:
        """Make a choice and tell of it."""
        self.value, self._missed = value, False
        self.refresh()
        self.post_message(self.Changed(self))

    def check_consume_key(self, key: str, character: str | None) -> bool:
        """The keys of the choices are no commands here."""
        return any(one.key == character for one in self.choices)

    def on_key(self, event: events.Key) -> None:
        """A choice by its key. A key that was sent here before the focus went on is for the next line."""
        now = self.screen.focused
        if now is not self and isinstance(now, ChoiceRow):
            now.on_key(event)
            return
        if event.key in {"tab", "shift+tab"}:
            # Not left to the screen, which hears of it after what was typed behind it.
            event.stop()
            event.prevent_default()
            self.screen.focus_next() if event.key == "tab" else self.screen.focus_previous()
            return
        for one in self.choices:
            if event.character is not None and event.character.lower() == one.key:
                event.stop()
                event.prevent_default()
                self.choose(one.value)
                if self.goes_on:
                    self.screen.focus_next()
                return
        if event.character and event.character.isdigit():
            self._missed = True
            self.refresh()

    def on_click(self, event: events.Click) -> None:
        at = 1 + self.cells
        for one in self.choices:
            width = len(one.short or one.key) + 2
            if at <= event.x < at + width:
                self.choose(one.value)
                return
            at += width

    def action_move(self, steps: int) -> None:
        at = self.choices.index(self.chosen) + steps
        if 0 <= at < len(self.choices):
            self.choose(self.choices[at].value)

    def on_focus(self) -> None:
        self.refresh()

    def on_blur(self) -> None:
        self._missed = False
        self.refresh()
