"""The one form: its lines, their order and their hints come from the declaration of the kind."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TypeVar

from textual.app import ComposeResult
from textual.containers import Horizontal, VerticalScroll
from textual.widget import Widget
from textual.widgets import Input, Static

from kb.book.kinds.field import Field as Declared
from kb.book.kinds.kind import rows_of
from kb.book.kinds.table import KINDS
from kb.desk.errors import DeskError
from kb.desk.records import fill as desk
from kb.desk.records.fill import Begun, Choice, Stored, Understood
from kb.desk.studio import Studio
from kb.tui.actions import Act, bindings, keys_in_words
from kb.tui.bench import Bench, in_words
from kb.tui.screens.ask_why import AS_LEFT, OnTop
from kb.tui.screens.at_desk import DeskScreen
from kb.tui.screens.sheet.ask_sheet import with_sheet_known
from kb.tui.text import line
from kb.tui.widgets.choice_row import ChoiceRow, One
from kb.tui.widgets.field import Field, FormInput, SheetField
from kb.tui.widgets.frame import TAKES_BACK

T = TypeVar("T")
WORK = (
    Act("store", "ctrl+s", "Store", "Store it in the bench book"),
    Act(
        "next_choice",
        "ctrl+e",
        "Offers",
        "Fill the line with what it may be; again: with the next",
        first=True,
    ),
    Act("throw_away", "f9", "Throw away", "Throw away what is typed here", foot=False),
    Act("leave", "escape", "Back", "Back; what is typed is kept as a draft"),
)
FORM = "form-"
"""What the drafts of this form begin with; the kind follows."""
NO_CHOICES = "For this line nothing is known to choose from: type it."
NONE_LIKE = "No name of the catalogue is like this; your words are stored as they are."
HOW = (
    "What was not measured or looked at stays empty. Below the form stands how it is understood; a line that "
    "begins with ! speaks against it.\n\n"
    "Ctrl+E fills the line one is on with what it may be: batches in use, tissues of the plan, toning tests "
    f"of this sheet; again for the next one.\n\n{keys_in_words(WORK)}"
)


def label_of(field: Declared) -> str:
    return field.says.form or field.says.label[:1].upper() + field.says.label[1:]


def choices_of(field: Declared) -> tuple[One, ...]:
    """The choices of a line, each under the first of its letters that no other has."""
    found = [One("-", "", field.says.hint, f"- {field.says.empty}".rstrip())]
    for word in field.choices:
        taken = {one.key for one in found}
        key = next((letter for letter in word.casefold() if letter.isalpha() and letter not in taken), "")
        found.append(One(key, word, "", f"{key.upper()} {word}".strip()))
    return tuple(found)


def line_for(field: Declared, value: str) -> Field | ChoiceRow:
    """The line in which a declared field is typed, or chosen where only few words may stand."""
    if field.choices:
        return ChoiceRow(field.key, label_of(field), choices_of(field), value)
    typed = SheetField if field.key == "sheet" else Field
    return typed(field.key, label_of(field), value, field.says.hint)


class FormScreen(OnTop, DeskScreen["str | None"]):
    """Gives back the id of the record, or None."""

    SAID = "#work-said"
    BINDINGS = bindings(WORK)
    CSS = """
    #work-known { height: 1; padding: 0 1; color: $secondary; }
    .field, .pair { background: $surface; }
    #form { height: auto; max-height: 60%; }
    #work-said { height: 1fr; padding: 0 1; border-top: solid $secondary; }
    """

    def __init__(self, kind: str, sheet: str, name: str = "", draft: dict[str, str] | None = None) -> None:
        """``name``: of its draft, which is another for another sheet."""
        super().__init__()
        self.kind, self.draft_name = KINDS[kind], name or f"{FORM}{kind}"
        self.rows = rows_of(self.kind)
        firsts = (group[0] for row in self.rows for group in row)
        self._entries = {field.key: field.says.entries for field in firsts if field.says.entries}
        """Lines that name something of the catalogue: the kinds of it."""
        # One class serves all kinds, so what a screen says of itself is said by the screen that is shown.
        self.HELP = f"{self.kind.about}\n\n{HOW}".strip()  # type: ignore[misc]
        self.TITLE_WORDS = f"Write down {self.kind.a_noun}"
        self.values = {group[0].key: "" for row in self.rows for group in row} | {"sheet": sheet}
        self.choices: dict[str, tuple[Choice, ...]] = {}
        self._typed: set[str] = set()
        """Lines that the user has touched: what is known comes a moment later and leaves them alone."""
        self._first: Widget | None = None
        """Where the cursor stood when the form opened."""
        if draft is not None:
            self.values |= {name: text for name, text in draft.items() if text and name in self.values}
            self._typed = {name for name, text in self.values.items() if text}

    @property
    def unstored(self) -> str:
        """What would be lost if the program ended now; empty if nothing was typed."""
        return f"{self.kind.name} on the form" if self.draft_name in self.bench.drafts else ""

    def body(self) -> ComposeResult:
        yield Static(line(f"{self.kind.name} to write down"), classes="heading", markup=False)
        says = AS_LEFT if self._typed else "What was not measured or chosen stays empty."
        yield Static(says, id="work-known", markup=False)
        with VerticalScroll(id="form", can_focus=False):
            for row in self.rows:
                if len(row) == 1:
                    yield line_for(row[0][0], self.values[row[0][0].key])
                else:
                    with Horizontal(classes="pair"):
                        for group in row:
                            yield line_for(group[0], self.values[group[0].key])
        yield Static("", id="work-said", markup=False)

    def on_mount(self) -> None:
        """The sheet, or if it is known what comes after it; the rest is filled in from what is known."""
        chain = self.focus_chain
        # At once, and not when all that waits is done: keys typed ahead would be gone on from by then.
        self._first = chain[1] if self.values["sheet"] else chain[0]
        self.set_focus(self._first)
        verb = partial(desk.begin, kind=self.kind.key, sheet=self.values["sheet"])
        self.ask(verb, self._begun, group="begin", failed=self.tell)

    def _begun(self, begun: Begun) -> None:
        # A letter is in its line before the form hears of it; written over now, it would be lost.
        for field in self.query(FormInput):
            self._changed(field.name or "", field.value)
        for row in self.query(ChoiceRow):
            self._changed(row.id or "", row.value)
        self.choices = begun.choices
        for name in self.values.keys() & begun.values.keys() - self._typed:
            self.values[name] = begun.values[name]
        with self.prevent(Input.Changed):
            for field in self.query(FormInput):
                field.value = self.values[field.name or ""]
                field.placeholder = begun.hints.get(field.name or "", field.placeholder)
        for row in self.query(ChoiceRow):
            row.value = self.values[row.id or ""]
            row.refresh()
        # At once: a letter in between would stand behind what was filled in.
        self._to_what_is_empty()
        self.look()

    def _to_what_is_empty(self) -> None:
        """What is known already is not what one came to say, and a letter would be put behind it."""
        here = self.focused
        if self._typed or here is not self._first or not isinstance(here, FormInput):
            return
        # A letter is in its line before the form hears of it.
        if here.value and here.value == self.values[here.name or ""] and here.name != "sheet":
            empty = (field for field in self.query(FormInput) if not field.value)
            self.set_focus(next(empty, here))

    # -- what is typed ----------------------------------------------------------------------------

    def on_input_changed(self, event: Input.Changed) -> None:
        self._changed(event.input.name or "", event.value)

    def on_choice_row_changed(self, event: ChoiceRow.Changed) -> None:
        self._changed(event.row.id or "", event.row.value)

    def _changed(self, name: str, value: str) -> None:
        if name in self.values and self.values[name] != value:
            self.values[name] = value
            self._typed.add(name)
            self.typed()
            self.look()

    def typed(self) -> None:
        if self._typed:
            about = f" for {self.values['sheet']}" if self.values.get("sheet") else ""
            self.bench.keep_draft(self.draft_name, f"{self.kind.a_noun}{about}", dict(self.values))

    def look(self) -> None:
        verb = partial(desk.understood, kind=self.kind.key, values=dict(self.values))
        self.ask(verb, self._understood, group="look", failed=self.tell)

    def _understood(self, said: Understood) -> None:
        self.tell("\n".join((*said.words, *(f"! {one}" for one in said.warnings))))

    def action_next_choice(self) -> None:
        field = self.focused
        name = field.name or "" if isinstance(field, FormInput) else ""
        if field is not None and isinstance(of_sheet := field.parent, SheetField):
            of_sheet.action_list()
            return
        choices = [one.value for one in self.choices.get(name, ())]
        if not choices and isinstance(field, FormInput) and name in self._entries and field.value.strip():
            verb = partial(desk.like, kinds=self._entries[name], typed=field.value)
            self.ask(verb, partial(self._like, name), group="like", failed=self.tell)
            return
        if not choices or not isinstance(field, FormInput):
            self.tell(NO_CHOICES)
            return
        field.fill_next(choices)

    def _like(self, name: str, found: tuple[Choice, ...]) -> None:
        """Names of the catalogue that are like what was typed; from now on the line chooses among them."""
        if not found:
            self.tell(NONE_LIKE)
            return
        self.choices[name] = found
        self.action_next_choice()

    # -- storing ----------------------------------------------------------------------------------

    def action_store(self) -> None:
        if not self._storing:
            self._storing = True
            self.tell("Storing...")
            with_sheet_known(self, self.values.get("sheet", ""), self._store, self.refused)

    def _store(self, sheet: str, new: bool) -> None:
        values = {**self.values, **({"sheet": sheet} if sheet else {}), "new_sheet": "yes" if new else ""}
        verb = partial(or_wrong, verb=partial(desk.store, kind=self.kind.key, values=values))
        self.ask(verb, self._stored, group="store", failed=self.refused)

    def _stored(self, stored: Stored | DeskError) -> None:
        if isinstance(stored, DeskError):
            self.refused(in_words(stored))
            self.query_one(f"#field-{stored.line}, #{stored.line}").focus()
            return
        self.stored(stored.id)
        self.bench.say(f"Stored and on disk: {self.kind.noun} {stored.id}. {TAKES_BACK}")
        for words in stored.warnings:
            self.bench.say(words, title="Mind", warn=True)


def or_wrong(studio: Studio, *, verb: Callable[[Studio], T]) -> T | DeskError:
    """What the verb gives back, or what is wrong with a line, so that the form leads there."""
    try:
        return verb(studio)
    except DeskError as wrong:
        if not wrong.line:
            raise
        return wrong


def write_down(app: Bench, kind: str, sheet: str) -> None:
    """Open the form of a kind for a sheet over the screen that is shown, with its draft if there is one."""
    name, kept = app.draft_like(f"{FORM}{kind}", lambda values: values.get("sheet", "") in {"", sheet})
    app.push_screen(FormScreen(kind, sheet, name, kept))
