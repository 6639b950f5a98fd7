"""Choose by typing: a line to type in, and the likeliest entries under it."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Input, OptionList, Static

from kb.tui.bench import Bench
from kb.tui.screens.at_desk import AtDesk
from kb.tui.screens.choose.asked import Asked
from kb.tui.screens.choose.find import NEW, ONE_SHEET, Offer, offers
from kb.tui.text import cut, fit, line
from kb.tui.widgets.frame import Sheet
from kb.tui.widgets.plain_input import WatchedInput
from kb.tui.widgets.two_clicks import ClickList

AS_NEW = "Enter takes it as a new one."
ASKED_LATER = "Enter takes the name; storing asks first."
KEYS = "Type part of a name; Up and Down move, Enter takes, Esc leaves it."


class PickerScreen(AtDesk, ModalScreen[Offer]):
    """Offers for one blank. Searching runs in a thread, so typing never waits."""

    TITLE_WORDS = "Choose"
    HELP = (
        "Choose what stands in a blank. Type part of a name, in any spelling near it; other names and "
        "registry numbers are found too. With nothing typed the whole list is shown.\n\n"
        "Up, Down  Move in the list\nEnter     Take the line one stands on\nEsc       Leave all as it was\n\n"
        'The first line, "not known", empties the blank: the answer is then averaged over what it could be.'
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "dismiss", "Back"),
        Binding("down", "step(1)", "Down", show=False, priority=True),
        Binding("up", "step(-1)", "Up", show=False, priority=True),
        Binding("pagedown", "step(8)", "Page down", show=False, priority=True),
        Binding("pageup", "step(-8)", "Page up", show=False, priority=True),
    ]

    def __init__(
        self, blank: str, title: str, typed: str = "", held: str = "", asked: Asked | None = None
    ) -> None:
        super().__init__()
        self.blank = blank
        self.heading = title
        self.typed = typed
        self.held = held
        """Id of what stands in the blank now."""
        self.asked = asked
        self.offers: list[Offer] = []
        self.shown_for: str | None = None
        """The words that the list answers; None before the first answer."""
        self.ahead: list[events.Key] = []
        """Keys pressed after Enter while the list was not there yet; they are meant for what comes next."""
        self._waiting = False
        """Enter was pressed before the list answered what was typed."""
        self.unseen = False
        """Whether what was taken was not in view when Enter was pressed."""

    def compose(self) -> ComposeResult:
        with Sheet(self.heading, KEYS, id="picker"):
            yield WatchedInput(self.typed, self.before_line, id="typed")
            yield Static("", id="found", classes="quiet", markup=False)
            yield ClickList(id="offers")

    def on_mount(self) -> None:
        """The list is not reached by Tab: the arrow keys move it while one types."""
        self.query_one(OptionList).can_focus = False
        field = self.query_one("#typed", Input)
        if not self._waiting:
            field.focus()
        field.cursor_position = len(field.value)
        self.search()

    @property
    def _text(self) -> str:
        """What is typed so far, also before the line is there."""
        found = self.query("#typed")
        return found.first(Input).value if found else self.typed

    def before_line(self, event: events.Key) -> bool:
        """Enter, and what is typed after it, is not for the line."""
        if self._waiting or event.key == "enter":
            return self.feed(event)
        return False

    def on_key(self, event: events.Key) -> None:
        """Keys that were sent to the screen before the line was ready are not lost."""
        if not (event.key == "backspace" and isinstance(self.focused, Input)) and self.feed(event):
            event.stop()
            event.prevent_default()

    def feed(self, event: events.Key) -> bool:
        """Take a key as the line would. False if it is none that the line takes."""
        if event.key not in {"enter", "backspace"} and not event.is_printable:
            return False
        if self._waiting:
            self.ahead.append(event)
        elif event.key == "enter":
            self.enter()
        elif event.key == "backspace":
            self._type(self._text[:-1])
        else:
            self._type(self._text + (event.character or ""))
        return True

    def _type(self, text: str) -> None:
        self.typed = text
        for field in self.query("#typed").results(Input):
            field.value = text
            field.cursor_position = len(text)

    def on_input_changed(self) -> None:
        self.search()

    def search(self) -> None:
        text = self.query_one("#typed", Input).value
        self.query_one("#found", Static).update("looking...")
        verb = partial(offers, blank=self.blank, text=text, asked=self.asked)
        self.ask(verb, partial(self._show, text), group="find", failed=self._not_found)

    def _not_found(self, words: str) -> None:
        self._go_on_typing()
        self.query_one("#found", Static).update(line(f"Cannot look: {words}"))

    def _show(self, text: str, found: list[Offer]) -> None:
        options = self.query_one(OptionList)
        if text != self.query_one("#typed", Input).value:
            # The letter that is there by now is asked for next.
            return
        if not options.size.width:
            self.call_after_refresh(self._show, text, found)
            return
        self.offers, self.shown_for = found, text
        self._put_rows(self._best(text, found))
        real = sum(1 for one in found if one.what is not None)
        words = _found_words(text, real, found, AS_NEW if self.blank == ONE_SHEET else ASKED_LATER)
        self.query_one("#found", Static).update(
            f"{words}. {self._instead(text)}" if self._instead(text) else words
        )
        if self._waiting and options.highlighted is not None:
            self.take()
        elif self._waiting:
            self._go_on_typing()

    def _put_rows(self, highlighted: int | None) -> None:
        options = self.query_one(ClickList)
        width = max(30, options.size.width - 1)
        options.fill([_row(one, width) for one in self.offers], highlighted)

    def on_resize(self) -> None:
        """Rows made for more room than there is now would break in two."""
        if self.offers:
            self.call_after_refresh(lambda: self._put_rows(self.query_one(OptionList).highlighted))

    def _instead(self, text: str) -> str:
        """What a lone T may have been meant for, where it landed in a blank."""
        if self.asked is None or text.lower() != "t":
            return ""
        if self.asked.empty:
            return "No row to test yet (T): name the tape first"
        return "For a spot test of the first row: Esc, then T"

    def on_screen_resume(self) -> None:
        if self._waiting and self.shown_for == self._text:
            self.call_later(self.take)

    def _go_on_typing(self) -> None:
        """Nothing to take after all: the line has the focus again, and what was typed since."""
        if self._waiting:
            self._waiting = False
            ahead, self.ahead = self.ahead, []
            for event in ahead:
                self.feed(event)
            self.query_one("#typed", Input).focus()

    def _best(self, text: str, found: list[Offer]) -> int | None:
        """Where to stand: on the best find, or on what the blank holds if nothing is typed."""
        if not found:
            return None
        if text.strip():
            named = (n for n, one in enumerate(found) if one.whole or (one.what is not None and not one.near))
            return next(named, None)
        held = (place for place, one in enumerate(found) if one.what is not None and one.what.id == self.held)
        return next(held, 0)

    def action_step(self, steps: int) -> None:
        """Move in the list while the line keeps the focus."""
        options = self.query_one(OptionList)
        if options.option_count:
            at = (options.highlighted or 0) + steps
            options.highlighted = min(max(at, 0), options.option_count - 1)

    def enter(self) -> None:
        """Take the line one stands on, as soon as the list answers what is typed."""
        if self.shown_for == self._text:
            self.take()
        else:
            self._waiting = True

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """The mouse takes a line too."""
        self.query_one(OptionList).highlighted = event.option_index
        self.take()

    def take(self) -> None:
        """Give back the line one stands on. Under a help text it waits until that is closed."""
        if not self.is_active:
            return
        one = self.query_one(ClickList).row_of(self.offers)
        if one is not None and not one.stays:
            self.unseen = self._waiting
            self.dismiss(one)


def _found_words(text: str, real: int, found: list[Offer], new: str) -> str:
    """How many were found; that nothing bears the name, where only spellings are near."""
    whole = next((one.whole for one in found if one.whole), None)
    if whole is not None:
        return whole.sentence
    if [one.words for one in found if one.what is not None] == [NEW]:
        return f"No sheet is called so yet. {new}"
    if text.strip() and not real:
        return "Nothing like that is known. Type other words, or Esc."
    if text.strip() and all(one.near for one in found if one.what is not None):
        return "Nothing by that name. Near in spelling (Down, then Enter takes one):"
    return f"{real} found" if found else "Nothing is here yet. Type a name to begin one."


def _row(one: Offer, width: int) -> Content:
    words = cut(one.words, max(12, width // 3))
    return line(f"{fit(one.name, width - len(words) - 2)}  {words}")


def pick_sheet(
    app: Bench,
    title: str,
    then: Callable[[str], object],
    left: Callable[[], object] | None = None,
    *,
    typed: str = "",
) -> None:
    """Do something with a sheet that is chosen by its name, ``typed`` in part; ``left`` where none was.

    Where the line of a new one was in view and taken, nobody is asked again (`with_sheet_known`); who types
    ahead has read nothing.
    """
    picker = PickerScreen(ONE_SHEET, title, typed, app.sheet_before)

    def chosen(offer: Offer | None) -> None:
        if offer is not None and offer.what is not None:
            # One that is only typed is not there yet, and may never be.
            if offer.words != NEW:
                app.keep_sheet(offer.what.id)
            app.new_sheet = offer.what.id if offer.words == NEW and not picker.unseen else ""
            then(offer.what.id)
        elif left is not None:
            left()

    app.push_screen(picker, chosen)
