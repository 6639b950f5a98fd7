"""Correcting fields of a record: which, to what, and why."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import TYPE_CHECKING, Any, ClassVar, NamedTuple

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.screen import ModalScreen
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from kb.desk.errors import DeskError
from kb.desk.materials.names import Names
from kb.tui.screens.ask_why import NO_REASON, OnTop
from kb.tui.screens.records import any_record
from kb.tui.screens.records.amend_fields import Field, fields, fields_of_record
from kb.tui.screens.records.record_words import changes, differing, with_changes
from kb.tui.text import cut, line, plain
from kb.tui.widgets.frame import Sheet
from kb.tui.widgets.plain_input import PlainInput
from kb.tui.widgets.two_clicks import ClickList

if TYPE_CHECKING:
    from kb.book.kinds.spot_test import SpotTest
    from kb.desk.records.record import Written
    from kb.desk.studio import Studio

NO_CHANGE = "The record already says that; nothing would change."
AMENDS = "amend-"
"""What the drafts of corrections begin with; the id of the record follows."""
SAYS = "Nothing is erased: the record stays readable as it was written, and this stands beside it, by {who}."


class Draft(NamedTuple):
    """What the form starts from: the record as it stands, its fields, and who will sign.

    ``test`` is None for a record of another kind; ``now`` then says what stands in it, by label.
    """

    id: str
    called: str
    who: str
    test: SpotTest | None
    fields: tuple[Field, ...]
    kind: str = "test"
    now: Mapping[str, str] = {}


def draft_of(studio: Studio, record_id: str) -> Draft:
    """Read a record for correction. Raises DeskError."""
    from kb.desk.records.book_list import show_record
    from kb.desk.records.record import show_test

    found = show_record(studio, record_id)
    if found.kind != "test":
        listed = tuple(fields_of_record(found))
        now = any_record.texts(found.fields)
        return Draft(found.id, any_record.called(found), studio.who, None, listed, found.kind, now)
    names, detail = Names(studio), show_test(studio, record_id)
    called = f"{names.parts(detail.test.parts)} on {detail.test.sheet or 'a sheet not named'}"
    return Draft(detail.id, called, studio.who, detail.test, tuple(fields(names, detail.test)))


def _read(studio: Studio, draft: Draft, written: Mapping[str, str]) -> tuple[dict[str, Any], str]:
    """The changes that new values make, typed by label, and in words. Raises DeskError."""
    import msgspec

    names, test, found = Names(studio), draft.test, dict[str, Any]()
    for label, typed in written.items():
        # A grade or a place is a part of a whole, which has to hold the parts that were read before it.
        listed = draft.fields if test is None else fields(names, test)
        try:
            found |= next(one for one in listed if one.label == label).read(studio, typed)
            test = test and with_changes(test, found)
        except msgspec.ValidationError as error:
            raise DeskError(f"{label.capitalize()} cannot be read: {error}.") from error
    if draft.test is None or test is None:
        told = differing(draft.now, any_record.changed_texts(studio, draft.kind, found))
    else:
        told = changes(names, draft.test, test)
    return found, "; ".join(told)


def reading_of(studio: Studio, draft: Draft, written: Mapping[str, str]) -> str:
    """What new values mean: ``medium: not noted -> Iron gall ink``, and what speaks against them; empty if
    they change nothing."""
    from kb.desk.records.work_records import against_test

    found, words = _read(studio, draft, written)
    if not words or draft.test is None:
        return words
    return "\n".join((words, *against_test(studio, with_changes(draft.test, found), found)))


def store(studio: Studio, draft: Draft, written: Mapping[str, str], why: str) -> Written:
    """Put the correction in the book. Raises DeskError."""
    from kb.desk.records.book_list import amend_record
    from kb.desk.records.record import show_test

    if draft.test is not None:
        # As it is now: a harm that was graded meanwhile is part of the whole that is written.
        draft = draft._replace(test=show_test(studio, draft.id).test)
    found, words = _read(studio, draft, written)
    if not words:
        raise DeskError(NO_CHANGE)
    return amend_record(studio, draft.id, found, why)


class AmendScreen(OnTop, ModalScreen["Written | None"]):
    """Three steps by Enter: the field, the new value, the reason. The last Enter stores all new values."""

    SAID = "#amend-said"
    TITLE_WORDS = "Amend a record"
    HELP = (
        "Choose the field with the arrow keys and Enter. Write the new value and press Enter: the form "
        "says how it was understood. Write why and press Enter: the correction is stored, with the new "
        "values of all fields you wrote one for.\n"
        "The record itself is never changed; the correction stands beside it with your name, the time and "
        "your reason.\n"
        "Tab and Shift+Tab go from step to step; Esc leaves without storing and keeps what you wrote as a "
        "draft; F9 throws it away."
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+s", "store", "Store"),
        Binding("f9", "throw_away", "Throw away"),
        Binding("escape", "leave", "Leave"),
    ]
    CSS = """
    AmendScreen .sheet { height: 90%; }
    AmendScreen #amend-fields { height: 1fr; }
    AmendScreen #amend-how, AmendScreen #amend-said { color: $secondary; height: auto; max-height: 4; }
    AmendScreen #amend-said { max-height: 7; }
    """

    def __init__(self, draft: Draft) -> None:
        super().__init__()
        self.draft = draft
        self.draft_name = f"{AMENDS}{draft.id}"
        self._explained = draft.fields[0].label
        self._written: dict[str, str] = {}
        """What was typed, by field: a look at another one takes none away."""

    def compose(self) -> ComposeResult:
        draft, kept = self.draft, self.bench.drafts.get(self.draft_name)
        self._written = dict(kept.values.get("written", {})) if kept else {}
        with Sheet(f"Amend: {draft.called}", "Enter goes on, the last Enter stores; Esc keeps a draft"):
            yield ClickList(*map(self._option, draft.fields), id="amend-fields", compact=False)
            yield Static(plain(draft.fields[0].how), id="amend-how", markup=False)
            yield Static("New value", classes="heading", markup=False)
            yield PlainInput(id="amend-value", compact=True, placeholder="choose a field above, Enter")
            yield Static("Why?", classes="heading", markup=False)
            yield PlainInput(id="amend-why", compact=True, placeholder="the reason, in a few words")
            yield Static("", id="amend-said", markup=False)
            yield Static(plain(SAYS.format(who=draft.who)), classes="quiet", markup=False)

    def on_mount(self) -> None:
        """The field comes first; a correction that was begun stands where it was left."""
        fields = self.query_one("#amend-fields", OptionList)
        self.set_focus(fields)
        kept = self.bench.drafts.get(self.draft_name)
        labels = [field.label for field in self.draft.fields]
        if kept is not None and kept.values["field"] in labels:
            self._explained = kept.values["field"]
            fields.highlighted = labels.index(self._explained)
            value = self._written.get(self._explained, kept.values.get("value", ""))
            self.query_one("#amend-value", Input).value = value
            self.query_one("#amend-why", Input).value = kept.values["why"]
            self.query_one("#amend-value", Input).focus()

    @property
    def field(self) -> Field:
        """The field under the cursor."""
        return self.draft.fields[self.query_one("#amend-fields", OptionList).highlighted or 0]

    @property
    def new(self) -> dict[str, str]:
        """What was typed and is not what the field says now."""
        now = {one.label: one.now for one in self.draft.fields}
        return {label: new for label in now if (new := self._written.get(label, now[label])) != now[label]}

    @on(OptionList.OptionHighlighted, "#amend-fields")
    def explain(self) -> None:
        """How to write this field; a value written for another one stays that one's."""
        self.query_one("#amend-how", Static).update(plain(self.field.how))
        if self.field.label != self._explained:
            self.typed()
            self._explained = self.field.label
            self.query_one("#amend-value", Input).value = self._written.get(self._explained, "")
            self.tell("")

    @on(OptionList.OptionSelected, "#amend-fields")
    def to_value(self) -> None:
        """Start from what it says now, or go on with what is written."""
        value = self.query_one("#amend-value", Input)
        value.value = self._written.setdefault(self.field.label, self.field.now)
        value.focus()

    @on(Input.Changed)
    def typed(self) -> None:
        """What is written outlives the program."""
        value, why = (self.query_one(f"#amend-{name}", Input).value for name in ("value", "why"))
        # Of a field that nothing was typed for the line is empty, which does not empty the field.
        if value or self._explained in self._written:
            self._written[self._explained] = value
        place = [one.label for one in self.draft.fields].index(self._explained)
        prompt = self._option(self.draft.fields[place]).prompt
        self.query_one("#amend-fields", OptionList).replace_option_prompt_at_index(place, prompt)
        if self._storing:
            return
        if not why and not self.new:
            self.bench.drop_draft(self.draft_name)
        else:
            values = {"field": self._explained, "written": self.new, "why": why}
            self.bench.keep_draft(self.draft_name, f"a correction of {self.draft.called}", values)

    @on(Input.Submitted, "#amend-value")
    def understood(self, event: Input.Submitted) -> None:
        """Say how the value was understood before asking why."""
        self._written[self._explained] = event.value
        self.typed()
        verb = partial(reading_of, draft=self.draft, written=self.new)
        self.ask(verb, self.to_why, group="amend", failed=self.tell)

    def to_why(self, words: str) -> None:
        """On to the reason, unless nothing would change."""
        if not words:
            self.tell(NO_CHANGE)
            return
        self.tell(words)
        self.query_one("#amend-why", Input).focus()

    @on(Input.Submitted, "#amend-why")
    def action_store(self) -> None:
        """Store it; what went wrong is said here and nothing written is lost."""
        why = self.query_one("#amend-why", Input).value.strip()
        if not why:
            self.tell(NO_REASON)
            self.query_one("#amend-why", Input).focus()
            return
        if not self._storing:
            self.typed()
            self.store_by(partial(store, draft=self.draft, written=self.new, why=why), group="amend")

    def _option(self, field: Field) -> Option:
        """What it says now, and what was written for it."""
        new = f" -> {self.new[field.label] or '-'}" if field.label in self.new else ""
        return Option(line(f"{field.label:<22} {cut(field.now, 60) or '-'}{new}"))
