"""Correcting fields of a record: which, to what, and why."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import TYPE_CHECKING, Any, NamedTuple

from textual import on
from textual.app import ComposeResult
from textual.screen import ModalScreen
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from kb.book.kinds.field import Field as Declared
from kb.book.kinds.field import leaves
from kb.book.kinds.field import texts as texts_of
from kb.book.kinds.kind import plain_of
from kb.book.kinds.parts import Photo
from kb.book.kinds.spot_test import HARM_KINDS, RELEASE_WORDS, Round, SpotTest, harm_words
from kb.book.kinds.table import KEPT, KINDS
from kb.desk.amounts import millimetres, seconds
from kb.desk.errors import DeskError
from kb.desk.materials import resolve
from kb.desk.materials.names import Names
from kb.desk.records.typed_fields import TOGETHER
from kb.tui.screens.ask_why import NO_REASON, ON_TOP, OnTop
from kb.tui.screens.records.record_words import (
    HARM_NAMES,
    Facts,
    by_label,
    changed_texts,
    changes,
    differing,
    record_called,
    test_called,
    with_changes,
)
from kb.tui.text import cut, line, plain
from kb.tui.widgets.frame import Sheet
from kb.tui.widgets.plain_input import PlainInput
from kb.tui.widgets.two_clicks import ClickList

if TYPE_CHECKING:
    from kb.desk.records.book_list import RecordDetail
    from kb.desk.records.record import Written
    from kb.desk.studio import Studio

Read = Callable[["Studio", str], dict[str, Any]]
"""From what was typed to the fields of the record that change. Raises DeskError."""
EMPTY = {"", "-", "none", "nothing", "not noted", "not known", "unknown", "?"}


class Field(NamedTuple):
    """One thing to correct. ``now`` is how it would be typed, ``how`` says how to write it."""

    label: str
    now: str
    how: str
    read: Read


def fields(names: Names, test: SpotTest) -> list[Field]:
    """Everything that can be corrected, most often needed first."""
    said = dict(texts_of(test, lambda _, words: words))
    return [
        _graded("release", test.release, "release", RELEASE_WORDS, "not graded"),
        *(_harm(test, kind) for kind in HARM_KINDS),
        _as_command("sheet", "sheet", test.sheet, "A sheet of the book, by name or number; empty for none"),
        Field("liquid", _parts_now(names, test), "One liquid, or a blend: acetone 1 + water 3", _parts),
        *(_entry(names, test, kind) for kind in ("tape", "adhesive", "stage", "carrier")),
        _yes_no(test, "carrier_present", "carrier on the spot"),
        *(_entry(names, test, kind) for kind in ("medium", "paper", "method")),
        _yes_no(test, "control", "control"),
        *_site(test),
        *(field for number in range(len(test.rounds)) for field in _round(test, number)),
        _as_command("batch", "batch", test.batch, "A batch by its id, or any words; empty for none"),
        _as_command("tested_at", "tested at", test.tested_at, "A date: 2024-05-31 or 2024-05-31T14:30"),
        *(_declared("test", group[0], said) for group in plain_of(KINDS["test"]).values()),
    ]


def _as_command(key: str, label: str, now: str, how: str, kind: str = "test") -> Field:
    """A field that is read as the command reads it: so both refuse the same."""

    def read(studio: Studio, typed: str) -> dict[str, Any]:
        from kb.desk.records.book_list import changes_from_words

        return changes_from_words(studio, kind, [f"{key}={typed.strip()}"])

    return Field(label, now, how, read)


def _entry(names: Names, test: SpotTest, kind: str) -> Field:
    """A field that holds an entry of the catalogue."""

    def read(studio: Studio, typed: str) -> dict[str, Any]:
        if kind == "carrier":
            return {kind: resolve.carrier(studio, typed)}
        found = resolve.optional(studio, kind, typed)
        return {kind: found or "swab"} if kind == "method" else {kind: found}

    how = f"A {kind} by any of its names; leave it empty for not known"
    if kind == "method":
        how = "A method by any of its names; left empty: swab"
    return Field(kind, names.of(kind, getattr(test, kind)), how, read)


def _parts_now(names: Names, test: SpotTest) -> str:
    """As it would be typed; a blend by its ids, since names may hold commas and brackets."""
    if len(test.parts) == 1:
        return names.parts(test.parts)
    return " + ".join(f"{one} {share * 100:.4g}" for one, share in test.parts.items())


def _parts(studio: Studio, typed: str) -> dict[str, Any]:
    try:
        return {"parts": resolve.parts(studio, liquid=typed)}
    except DeskError as error:
        # Names of liquids hold digits and commas too, so a blend is tried second.
        try:
            return {"parts": resolve.parts(studio, blend=typed)}
        except DeskError as blend_error:
            raise (blend_error if "+" in typed else error) from None


def _grade_typed(typed: str, label: str, none: set[str]) -> int | None:
    word = typed.strip().lower()
    if word in none:
        return None
    if word[:1] in "01234" and not word[1:2].isdigit():
        return int(word[0])
    raise DeskError(f'{label.capitalize()} is graded 0 to 4, not "{typed.strip()[:40]}".')


def _graded(key: str, now: int | None, label: str, words: tuple[str, ...], none: str) -> Field:
    def read(_: Studio, typed: str) -> dict[str, Any]:
        return {key: _grade_typed(typed, label, EMPTY | {none})}

    how = f"{'; '.join(words)}; left empty: {none}"
    return Field(label, "" if now is None else str(now), how, read)


def _harm(test: SpotTest, kind: str) -> Field:
    """One kind of harm; the others stay as they are."""
    label = HARM_NAMES[kind]

    def read(_: Studio, typed: str) -> dict[str, Any]:
        grade = _grade_typed(typed, label, EMPTY | {"not looked", "not looked at"})
        left = {one: value for one, value in test.harm.items() if one != kind}
        return {"harm": left if grade is None else {**left, kind: grade}}

    now = test.harm.get(kind)
    how = f"{'; '.join(harm_words(kind))}; left empty: not looked at"
    return Field(label, "" if now is None else str(now), how, read)


def _yes_no(test: SpotTest, key: str, label: str) -> Field:
    now = getattr(test, key)

    def read(_: Studio, typed: str) -> dict[str, Any]:
        word = typed.strip().lower()
        if word in {"y", "yes", "n", "no"}:
            return {key: word.startswith("y")}
        if word in EMPTY:
            return {key: None if key == "carrier_present" else False}
        raise DeskError(f'Write yes or no for {label}, not "{typed.strip()[:40]}".')

    return Field(label, "" if now is None else "yes" if now else "no", "yes or no", read)


def _edge_mm(typed: str, label: str) -> float | None:
    try:
        return None if typed.strip().lower() in EMPTY else millimetres(typed)
    except DeskError:
        raise DeskError(f'The distance {label} is a number of mm, not "{typed.strip()[:40]}".') from None


def _site(test: SpotTest) -> list[Field]:
    """Where the spot is; each part by itself."""
    import msgspec

    site = msgspec.to_builtins(test.site)

    def words(_: Studio, typed: str) -> dict[str, Any]:
        return {"site": {**site, "words": typed.strip()}}

    def face(_: Studio, typed: str) -> dict[str, Any]:
        word = typed.strip().lower()
        if word not in {"front", "back"} | EMPTY:
            raise DeskError(f'The face is front or back, not "{typed.strip()[:40]}".')
        return {"site": {**site, "face": "" if word in EMPTY else word}}

    def edge(key: str, label: str) -> Read:
        return lambda _, typed: {"site": {**site, key: _edge_mm(typed, label)}}

    x_mm, y_mm = test.site.x_mm, test.site.y_mm
    return [
        Field("place", test.site.words, "Where the spot is, in any words", words),
        Field("face", test.site.face, "front or back", face),
        _edge("from left edge", x_mm, edge("x_mm", "from the left edge")),
        _edge("from top edge", y_mm, edge("y_mm", "from the top edge")),
    ]


def _edge(label: str, now_mm: float | None, read: Read) -> Field:
    return Field(label, "" if now_mm is None else f"{now_mm:g}", "Millimetres; left empty: not noted", read)


def _round(test: SpotTest, number: int) -> list[Field]:
    """The parts of one round; the other rounds stay as they are."""
    import msgspec

    made: Round = test.rounds[number]

    def put(key: str, value: object) -> dict[str, Any]:
        rounds = [msgspec.to_builtins(one) for one in test.rounds]
        rounds[number] = {**rounds[number], key: value}
        return {"rounds": rounds}

    def words(key: str) -> Read:
        return lambda _, typed: put(key, typed.strip())

    called = f"round {number + 1}"
    dwell = Field(
        f"{called}, dwell",
        f"{made.dwell_s:g} s",
        "Seconds, or 2 min 30 s",
        lambda _, typed: put("dwell_s", seconds(typed)),
    )
    seen = [
        Field(f"{called}, {label}", getattr(made, key), "Any words; leave it empty for none", words(key))
        for key, label in (("amount", "amount"), ("wet", "seen wet"), ("dry", "seen dry"))
    ]
    return [dwell, *seen]


# -- records of any other kind -------------------------------------------------------------------------------


def fields_of_record(detail: RecordDetail) -> list[Field]:
    """Everything that can be corrected, in the order of the record.

    Photographs are not corrected one by one: the record is withdrawn and written down again.
    """
    if detail.kind not in KEPT:
        raise DeskError(f"A record of the kind {detail.kind} cannot be amended by this version.")
    now = by_label(detail.fields)
    declared = leaves(KEPT[detail.kind].type)
    return [_declared(detail.kind, field, now) for field in declared if field.item is not Photo]


def _declared(kind: str, field: Declared, now: Facts) -> Field:
    return _as_command(".".join(field.path), field.label, now.get(field.label, ""), _how(field), kind)


def _how(field: Declared) -> str:
    """How it is written, and that nothing written takes it out."""
    if field.choices:
        said = ", ".join(field.choices)
    elif field.says.reads == "day":
        said = "A date: 2024-05-31"
    elif field.says.reads == "moment":
        said = "A date: 2024-05-31 or 2024-05-31T14:30"
    elif field.says.hint and field.says.reads not in TOGETHER:
        said = field.says.hint[:1].upper() + field.says.hint[1:]
    else:
        said = "A figure" if field.is_figure else "Any words"
    return f"{said}; nothing {'takes it out' if field.empty_allowed else 'empties it'}"


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
        now = by_label(found.fields)
        return Draft(found.id, record_called(found), studio.who, None, listed, found.kind, now)
    names, detail = Names(studio), show_test(studio, record_id)
    called = test_called(names, detail.test)
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
        told = differing(draft.now, changed_texts(studio, draft.kind, found))
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
    BINDINGS = ON_TOP
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
