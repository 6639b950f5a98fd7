"""The fields of a record that can be corrected: what they say now, and how a new value is read."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, NamedTuple

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
from kb.tui.screens.records.any_record import Texts, texts
from kb.tui.screens.records.record_words import HARM_NAMES

if TYPE_CHECKING:
    from kb.desk.records.book_list import RecordDetail
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
    now = texts(detail.fields)
    declared = leaves(KEPT[detail.kind].type)
    return [_declared(detail.kind, field, now) for field in declared if field.item is not Photo]


def _declared(kind: str, field: Declared, now: Texts) -> Field:
    return _as_command(".".join(field.path), field.label, now.get(field.label, ""), _how(field), kind)


def _how(field: Declared) -> str:
    """How it is written, and that nothing written takes it out."""
    if field.choices:
        said = ", ".join(field.choices)
    elif field.says.reads == "day":
        said = "A date: 2024-05-31"
    elif field.says.reads == "moment":
        said = "A date: 2024-05-31 or 2024-05-31T14:30"
    elif field.says.hint:
        said = field.says.hint[:1].upper() + field.says.hint[1:]
    else:
        said = "A figure" if field.is_figure else "Any words"
    return f"{said}; nothing {'takes it out' if field.empty_allowed else 'empties it'}"
