"""A labelled line of the form, and one row of the table of rounds."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import ClassVar

from rich.cells import cell_len
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.widgets import Input, Static

from kb.desk.errors import DeskError
from kb.tui.bench import app_of
from kb.tui.screens.records.draft import RoundDraft
from kb.tui.text import line
from kb.tui.widgets.choice_row import HERE
from kb.tui.widgets.plain_input import PlainInput

NEW_SHEET = "new? ^E lists"
DWELL = "dwell"
COLUMNS = (DWELL, "amount", "wet", "dry")


class FormInput(PlainInput):
    """A line of the form: up and down go to the line before and after, as Enter does."""

    BINDINGS: ClassVar[list[BindingType]] = [
        # Before the line sees the key: else it goes up through all that holds the line, and what is typed
        # meanwhile lands in the line that one has left.
        Binding("up", "app.focus_previous", "Up", show=False, priority=True),
        Binding("down", "app.focus_next", "Down", show=False, priority=True),
        Binding("enter", "app.focus_next", "Next", show=False, priority=True),
        Binding("tab", "app.focus_next", "Next", show=False, priority=True),
        Binding("shift+tab", "app.focus_previous", "Back", show=False, priority=True),
        Binding("ctrl+z", "give_back", show=False),
    ]
    filled = taken = ""
    """The word that was filled in, and what it was filled in over."""
    offered: tuple[str, ...] = ()

    def __init__(self, name: str, value: str, hint: str = "") -> None:
        super().__init__(value, hint, name=name, id=f"field-{name}", compact=True, select_on_focus=False)

    def fill_next(self, choices: Sequence[str]) -> None:
        """The first of them, or what follows on the one that stands here; one filled in keeps to its own."""
        if not self.filled or self.value != self.filled:
            self.taken, self.offered = self.value, tuple(choices)
        at = self.offered.index(self.value) + 1 if self.value in self.offered else 0
        self.filled = self.offered[at % len(self.offered)]
        self.value, self.cursor_position = self.filled, len(self.filled)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Where nothing was filled in, Ctrl+Z takes back what was stored."""
        return action != "give_back" or bool(self.filled and self.value == self.filled)

    def action_give_back(self) -> None:
        """What was typed before a word was filled in."""
        self.filled, self.value = "", self.taken
        self.cursor_position = len(self.taken)


class Marked(Horizontal):
    """A row whose first word bears a mark while the cursor is in it, as that of a choice does."""

    label: str

    def on_descendant_focus(self) -> None:
        self._mark(HERE)

    def on_descendant_blur(self) -> None:
        self._mark(" ")

    def _mark(self, mark: str) -> None:
        # As wide as before: nothing is laid out anew.
        self.query_one(".said", Static).update(line(f"{mark}{self.label}"), layout=False)


class Field(Marked):
    """A word and a line to type in. The line's ``name`` is the field of the draft."""

    def __init__(self, name: str, label: str, value: str, hint: str = "") -> None:
        super().__init__(classes="field")
        self.label = label
        self.parts = (name, value, hint)
        self.whole: Whole | None = None

    def compose(self) -> ComposeResult:
        yield Static(line(f" {self.label}"), classes="said label", markup=False)
        yield FormInput(*self.parts)

    def on_resize(self) -> None:
        if self.whole is not None:
            self.whole.tell()


class SheetField(Field):
    """When left it bears the whole name of the sheet that a number, an id or other capitals stand for.

    A name that no sheet bears is marked as such before one goes on; Ctrl+E lists the sheets there are.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+e", "list", "Sheets", key_display="^E", priority=True)
    ]
    DEFAULT_CSS = "SheetField > .unknown { width: auto; display: none; color: $warning; }"

    def compose(self) -> ComposeResult:
        yield from super().compose()
        yield Static(NEW_SHEET, classes="unknown", markup=False)

    def on_descendant_blur(self) -> None:
        if typed := self.query_one(FormInput).value.strip():
            work = partial(self._look_up, typed)
            self.run_worker(work, thread=True, exclusive=True, exit_on_error=False)

    def on_input_changed(self) -> None:
        self._mark_unknown(unknown=False)

    def action_list(self) -> None:
        """Fill the line with a sheet that is chosen: among all, or those like words that name none."""
        from kb.tui.screens.choose.picker import pick_sheet

        unknown = self.query_one(".unknown", Static).display
        typed = self.query_one(FormInput).value.strip() if unknown else ""
        pick_sheet(app_of(self), "Which sheet?", self._chosen, typed=typed)

    def _chosen(self, name: str) -> None:
        field = self.query_one(FormInput)
        field.value, field.cursor_position = name, len(name)
        self.screen.set_focus(field)
        self.screen.focus_next()

    def _look_up(self, typed: str) -> None:
        """In a thread. What names no one sheet stays, and is asked about when it is stored."""
        from kb.desk.sheet.names import NoSheet, sheet_for_record

        try:
            name = app_of(self).desk(lambda studio: sheet_for_record(studio, typed))
            self.app.call_from_thread(self._bear, typed, name)
        except NoSheet:
            self.app.call_from_thread(self._bear, typed, "")
        except DeskError:
            pass

    def _bear(self, typed: str, name: str) -> None:
        if self.is_attached and (field := self.query_one(FormInput)).value.strip() == typed:
            # Not so much as a blank is changed in a name that no sheet bears: a change takes the mark away.
            if name:
                field.value = name
            self._mark_unknown(unknown=not name)

    def _mark_unknown(self, *, unknown: bool) -> None:
        self.query_one(".unknown", Static).display = unknown


class Whole(Static):
    """All words of the line before it, where they are cut and the screen is high enough to spare the room."""

    DEFAULT_CSS = "Whole { display: none; height: auto; padding: 0 1 0 13; color: $secondary; }"

    def __init__(self, field: Field) -> None:
        super().__init__("", markup=False)
        self.field = field
        field.whole = self

    def on_mount(self) -> None:
        self.watch(self.field.query_one(FormInput), "value", self.tell)

    def tell(self) -> None:
        """Shown only where there is more than the line holds."""
        typed = self.field.query_one(FormInput)
        room = typed.content_size.width
        self.display = 0 < room <= cell_len(typed.value) and self.screen.has_class("-high")
        if self.display:
            self.update(line(typed.value))


class Among(Whole):
    """Under a line that takes certain words only: those that go with what is typed, while one is there."""

    DEFAULT_CSS = "Among { padding: 0 1 0 2; }"

    def __init__(self, field: Field, words: tuple[str, ...]) -> None:
        super().__init__(field)
        self.words = words

    def on_mount(self) -> None:
        super().on_mount()
        self.watch(self.field.query_one(FormInput), "has_focus", self.tell)

    def tell(self) -> None:
        typed = self.field.query_one(FormInput)
        like = self.like(typed.value)
        self.display = typed.has_focus and typed.value not in self.words
        if self.display:
            how = (
                "Ctrl+E fills in, again the next" if like else "None is like it, of these one may stand here"
            )
            self.update(line(f"{how}: {', '.join(like or self.words)}."))
            # The line alone comes into sight by itself, and in gloves the words were cut behind their key.
            self.call_after_refresh(self.scroll_visible, animate=False)

    def like(self, typed: str) -> tuple[str, ...]:
        """The words that what is typed stands in, else those that stand in it."""
        typed = typed.strip().casefold()
        stands_in = tuple(word for word in self.words if typed in word)
        return stands_in or tuple(word for word in self.words if f" {word}" in f" {typed}")

    def fill(self) -> None:
        """The line bears a word like what is typed, then the next of those; without one it is left alone."""
        typed = self.field.query_one(FormInput)
        if like := self.like(typed.value):
            typed.fill_next(like)


def round_head() -> ComposeResult:
    """What stands in the columns of the rounds under it."""
    with Horizontal(classes="round-head"):
        yield Static("", classes="number", markup=False)
        for column, word in zip(COLUMNS, ("dwell", "amount", "seen wet", "seen dry"), strict=True):
            yield Static(word, classes="column-head quiet", markup=False)
            if column == DWELL:
                yield Static("", classes="unit", markup=False)


class RoundRow(Marked):
    """Dwell, amount, seen wet, seen dry. Names of the lines: ``round-0-dwell`` and so on."""

    def __init__(self, place: int, one: RoundDraft) -> None:
        super().__init__(classes="round", id=f"round-{place}")
        self.place = place
        self.label = str(place + 1)
        self.one = one

    def compose(self) -> ComposeResult:
        yield Static(line(f" {self.label}"), classes="said number", markup=False)
        for column in COLUMNS:
            yield FormInput(f"round-{self.place}-{column}", getattr(self.one, column))
            if column == DWELL:
                yield Static(unit_of(self.one.dwell), classes="unit quiet", markup=False)

    def on_input_changed(self, event: Input.Changed) -> None:
        """A dwell says its unit, also where only a figure was typed or the clock wrote one."""
        if (event.input.name or "").endswith(f"-{DWELL}"):
            self.query_one(".unit", Static).update(unit_of(event.value), layout=False)


def unit_of(dwell: str) -> str:
    """The unit of a dwell that bears none itself."""
    return "" if dwell.strip(" .,0123456789") else "s"
