"""One blank of the sentence: shows what stands in it, and asks for a picker when typed into."""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar

from rich.cells import cell_len
from textual import events
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.message import Message
from textual.widget import Widget

from kb.tui.screens.choose.asked import BlankKind, short
from kb.tui.text import fit


class Blank(Widget, can_focus=True):
    """``Lift [tape or adhesive ]``: filled, the name; in focus, the brackets turn to arrows."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "open", "Choose", tooltip="Choose what stands in the blank"),
        Binding("delete,backspace", "empty", "Not known", key_display="Del"),
        Binding("left,up", "app.focus_previous", "Before", show=False),
        Binding("right", "app.focus_next", "Next", show=False),
        Binding("down", "down", "List", show=False),
    ]

    class Left(Message):
        """The user goes down to the list."""

    class Emptied(Message):
        """The user says: not known."""

        def __init__(self, blank: Blank) -> None:
            self.blank = blank
            super().__init__()

    def __init__(self, kind: BlankKind, wanted: Callable[[Blank, events.Key | None], None]) -> None:
        super().__init__(id=f"blank-{kind.name}")
        self.kind = kind
        self.wanted = wanted
        """Called at once when the user wants to choose, with the key pressed: a message would come late,
        and keys typed meanwhile would be lost."""
        self.holds = ""

    def show(self, words: str) -> None:
        """Write the words in; empty words show the hint."""
        self.holds = words
        self.refresh()

    def render(self) -> Content:
        """Word, bracket, name, bracket, in exactly the width there is."""
        lead = f"{self.kind.lead} " if self.kind.lead else ""
        room = max(3, self.size.width - len(lead) - 2)
        opening, closing = ("»", "«") if self.has_focus else ("[", "]")
        name = self.holds or self.kind.hint
        name = fit(name if cell_len(name) <= room else short(name), room)
        style = "bold" if self.holds else "italic"
        return Content.assemble(lead, opening, Content.styled(name, style), closing)

    def check_consume_key(self, key: str, character: str | None) -> bool:
        """Letters typed here go into the picker, so they are no commands."""
        return _types(key, character)

    def on_key(self, event: events.Key) -> None:
        """Typing opens the picker with what was typed; Enter opens it too."""
        if event.key == "enter" or _types(event.key, event.character):
            event.stop()
            event.prevent_default()
            self.wanted(self, event)

    def on_paste(self, event: events.Paste) -> None:
        """As if it were typed: of a question out of a letter nothing stood anywhere."""
        event.stop()
        for letter in " ".join(filter(str.strip, event.text.splitlines())):
            self.wanted(self, events.Key(letter, letter))

    def action_open(self) -> None:
        self.wanted(self, None)

    on_click = action_open

    def action_down(self) -> None:
        self.post_message(self.Left())

    def action_empty(self) -> None:
        self.post_message(self.Emptied(self))

    def on_focus(self) -> None:
        """Its brackets change, and back again."""
        self.refresh()

    on_blur = on_focus


def _types(key: str, character: str | None) -> bool:
    return (
        bool(character) and len(character or "") == 1 and (character or "").isprintable() and key != "slash"
    )
