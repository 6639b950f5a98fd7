"""What records of all kinds share: ids and days from typed words, views, lines, warnings about batches."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime
from functools import partial
from importlib import import_module
from typing import Any

import msgspec

from kb.book.kinds.batch import Batch
from kb.book.kinds.field import fields
from kb.book.kinds.kind import Kind, fields_of, in_words, line_of
from kb.book.kinds.parts import ADHESIVE, Photo, Portion
from kb.book.kinds.spot_test import HARM_KINDS, TEST, SpotTest, harm_words
from kb.book.storage import from_home
from kb.desk.errors import DeskError
from kb.desk.materials.names import Names
from kb.desk.records.record import PAPER_ONLY, looks_missed, photo
from kb.desk.shelf.bottles import last_day
from kb.desk.studio import Studio
from kb.index.book_lines import own_words
from kb.index.kept_rows import KeptRow, kept, one_kept
from kb.index.queries import entry
from kb.index.rows import BARE_PAPER, STATES, WITHDRAWN, Row
from kb.index.search import EXACT, exactly, find
from kb.model.question import Plain

SHORT = 10
"""Characters of an id that are shown in a line."""
OWN = {"toning": "kb.desk.sheet.mends", "housing": "kb.desk.sheet.housing"}
"""Where a kind has more to say of a record than its fields do. A new kind needs no line here."""
TOLD_OF_A_TEST = ("parts", "batch", "tested_at", "medium", "harm", "control")
"""Fields of a spot test on which a warning can hang."""


class View(Plain, frozen=True, kw_only=True):
    """A record of any kind as it stands, in words."""

    id: str
    at: str
    who: str
    state: str
    kind: str
    sheet: str
    record: Any
    words: str
    notes: tuple[str, ...]
    """What follows from it: how near a colour came, whether the gap is enough."""
    warnings: tuple[str, ...]


def own(kind: str, name: str) -> Callable[..., Any] | None:
    """A function of the kind's own module - notes, against, answer, said - if it has one."""
    module = OWN.get(kind)
    return getattr(import_module(module), name, None) if module else None


def views(studio: Studio, kind: Kind, sheet: str = "") -> list[View]:
    """Records of a kind that were not withdrawn, of one sheet or all, the oldest first."""
    return [_view(studio, kind, row) for row in kept(studio.index.conn, kind.key, sheet)]


def _view(studio: Studio, kind: Kind, row: KeptRow) -> View:
    return View.taken_from(
        row,
        state=STATES[row.state],
        kind=kind.key,
        sheet=str(getattr(row.body, "sheet", "")),
        record=row.body,
        words=words_of(studio, kind, row.body),
        notes=notes(studio, kind, row.body),
        warnings=tuple(against(studio, kind, row.body, row.at)),
    )


def as_told(studio: Studio, kind: Kind, view: View) -> dict[str, Any]:
    """A view for another program: the record under the word of its kind, with names of the catalogue."""
    head = {name: getattr(view, name) for name in ("id", "at", "who", "state")}
    names = {
        field.name: name_of(studio, field.says.entries, getattr(view.record, field.name))
        for field in fields(kind.type)
        if field.says.entries
    }
    more = answer(studio, kind, view.record)
    return {**head, kind.key: view.record, **names, **more, "words": view.words, "warnings": view.warnings}


def all_told(studio: Studio, kind: Kind, sheet: str = "") -> Iterator[dict[str, Any]]:
    """`as_told` of the records of a kind that were not withdrawn, of one sheet or all, the oldest first."""
    return (as_told(studio, kind, view) for view in views(studio, kind, sheet))


def words_of(studio: Studio, kind: Kind, body: Any) -> str:
    """A record in a few words, names of the catalogue looked up."""
    return in_words(kind, body, partial(name_of, studio)) or "nothing is said of it"


def answer(studio: Studio, kind: Kind, body: Any) -> dict[str, Any]:
    """What follows from a record, by name, for another program."""
    more = own(kind.key, "answer")
    return dict(more(studio, body)) if more else {}


def notes(studio: Studio, kind: Kind, body: Any) -> tuple[str, ...]:
    """What follows from a record, in sentences."""
    more = own(kind.key, "notes")
    return tuple(more(studio, body)) if more else ()


def against(studio: Studio, kind: Kind, body: Any, done: str) -> Iterator[str]:
    """What speaks against a record: bad or expired batches, and what its kind knows besides."""
    batches = [getattr(body, one.name) for one in fields(kind.type) if one.says.record == "batch"]
    for field in fields(kind.type):
        if field.item is Portion:
            batches += [portion.batch for portion in getattr(body, field.name)]
    for batch in dict.fromkeys(batches):
        yield from batch_warnings(studio, batch, done)
    yield from _of_another_adhesive(studio, body)
    yield from must_not_meet(studio, getattr(body, "liquid", ""))
    more = own(kind.key, "against")
    yield from more(body) if more else ()


def against_test(studio: Studio, test: SpotTest, touched: Iterable[str] = TOLD_OF_A_TEST) -> tuple[str, ...]:
    """What to mind of a spot test before or after storing it: what must not meet, bad batches, no look at
    the ink. ``touched``: the fields that it is asked about."""
    from kb.desk.materials.mixing import danger_words

    asked = {*touched}
    return (
        *(danger_words(studio, test.parts) if "parts" in asked else ()),
        *(batch_warnings(studio, test.batch, test.tested_at) if asked & {"batch", "tested_at"} else ()),
        *(
            looks_missed(test.medium, test.harm, control=test.control)
            if asked & {"medium", "harm", "control"}
            else ()
        ),
    )


def must_not_meet(studio: Studio, liquid: str) -> tuple[str, ...]:
    """The dangers of a blend that is kept as words; of words that are none, nothing."""
    if "," not in liquid and "+" not in liquid:
        return ()
    from kb.desk.materials.mixing import danger_words
    from kb.desk.materials.resolve import parts

    try:
        return danger_words(studio, parts(studio, "", liquid))
    except DeskError:
        return ()


def _of_another_adhesive(studio: Studio, body: Any) -> Iterator[str]:
    """A batch that shares no word with the adhesive beside it: one of the two lines is wrong."""
    said, batch = getattr(body, "adhesive", ""), getattr(body, "batch", "")
    row = one_kept(studio.index.conn, "batch", batch) if said and batch else None
    if row is None:
        # It is not in this book: nothing is known to speak against it.
        return
    made: Batch = row.body
    named, bears = name_of(studio, ADHESIVE, said), made.name or name_of(studio, ("recipe",), made.recipe)
    words = [set(re.findall(r"[^\W\d_]{3,}", one.casefold())) - {"paste"} for one in (named, bears)]
    if made.recipe != said and not words[0] & words[1]:
        yield f"Batch {row.id[:SHORT]} is {bears}, and the adhesive is {named}: one is wrong."


def warnings(studio: Studio, kind: Kind, body: Any) -> tuple[str, ...]:
    """What to know before or after storing it: the same, and words that no entry bears."""
    typed = (
        text
        for field in fields(kind.type)
        if field.says.entries
        for text in as_typed(studio, field.says.entries, field.says.label, getattr(body, field.name))
    )
    return (*against_kept(studio, kind, body), *typed)


def against_kept(studio: Studio, kind: Kind, body: Any) -> Iterator[str]:
    """`against` on the day on which the work was done, as far as the record says it."""
    return against(studio, kind, body, getattr(body, kind.when) if kind.when else "")


# -- from typed words ----------------------------------------------------------------------------------------


def known_or_words(studio: Studio, kinds: Sequence[str], typed: str, *, loosely: bool = True) -> str:
    """The id of an entry that bears exactly this id or name; else the words as they were typed.

    With ``loosely`` other names count too. Without it they do not: "wheat paste" is the other name of one
    recipe among many, and a record must not say more than was said.
    """
    for kind in kinds:
        hits = exactly(studio.index.conn, typed, kind)
        if len(hits) == 1 and (loosely or hits[0].score >= EXACT):
            return hits[0].id
    return typed


def name_of(studio: Studio, kinds: Sequence[str], entry_id: str) -> str:
    """The name of an entry of one of these kinds; else the words as they are."""
    for kind in kinds if entry_id else ():
        row = entry(studio.index.conn, kind, entry_id)
        if row is not None:
            return row.name
    return entry_id


def done_at(typed: str) -> str:
    """The day or time of the work; empty: when it is written down. Raises DeskError for one to come."""
    if not typed:
        return ""
    if typed.lower() == "today":
        return date.today().isoformat()
    try:
        moment = datetime.fromisoformat(typed)
    except ValueError:
        raise DeskError(
            f'"{typed}" is not a date; write 2024-05-31 or 2024-05-31T14:30. Nothing was recorded.'
        ) from None
    if moment.date() > date.today():
        raise DeskError(f"{typed} lies ahead of today. Nothing was recorded.")
    return typed


def photos(paths: Iterable[str]) -> tuple[Photo, ...]:
    """The photographs named, each tied to its content. Raises DeskError for one that cannot be read."""
    return tuple(photo(from_home(path), "after") for path in paths if path)


# -- what is said of a record --------------------------------------------------------------------------------


NEAR = 3
"""Names that are said of those like a name that no entry has."""


def as_typed(studio: Studio, kinds: Sequence[str], what: str, said: str) -> Iterator[str]:
    """A sentence if the words are no entry of the catalogue."""
    if said and all(entry(studio.index.conn, kind, said) is None for kind in kinds):
        near = "; ".join(one.name for one in find(studio.index.conn, said, kinds, NEAR))
        yield f'The {what} "{said}" is kept as typed: no entry has just that name.' + (
            f" Near it: {near}." * bool(near)
        )


def batch_warnings(studio: Studio, batch: str, done: str) -> Iterator[str]:
    """What speaks against the batch that was used, and against those it was made from.

    ``done`` is when it was used (ISO 8601); empty: today.
    """
    day = datetime.fromisoformat(done).date() if done else date.today()
    seen: set[str] = set()
    queue = [batch] if batch else []
    while queue:
        one = queue.pop(0)
        row = one_kept(studio.index.conn, "batch", one)
        if one in seen or row is None:
            continue
        seen.add(one)
        yield from _against(row, day, "" if one == batch else f", which went into batch {batch[:SHORT]}")
        queue += [part.batch for part in row.body.weights if part.batch]


def media_elsewhere(studio: Studio, texts: Mapping[str, str], faces: Iterable[str]) -> list[str]:
    """What to say of media that stand under marks or remarks of a sheet and not among those of its faces.

    ``texts``: what is stored, by field; only what lies on a face bars a liquid. ``faces``: the words of both.
    Of remarks only ink counts: they tell of photographs taken, of notes in pencil, of a copy that is wanted.
    """
    # Most records name no marks.
    if not any(texts.values()):
        return []
    from kb.desk.choose.lexicon import ANSWERED
    from kb.desk.choose.recorded import recorded
    from kb.desk.choose.spoken import WHICH_ONE, parsed
    from kb.index.queries import record
    from kb.model.material import Medium

    known = {*recorded(studio, "medium", tuple(faces))[0], BARE_PAPER}
    said = []
    for field, text in texts.items():
        found = parsed(studio, text)
        # "See photograph 3": of a thing no kind of which is named.
        near = {one for _, ids in found.things for one in ids}
        lying = (record(studio.index.conn, "medium", one, Medium) for one in {*found.media} - near - known)
        of_marks = field == "marks"
        media = sorted(
            one.name for one in lying if one is not None and (of_marks or one.group in ANSWERED["ink"])
        )
        # A stamp is a mark of some ink; a remark may speak of paint elsewhere.
        which = [one for one in found.left if one.endswith(WHICH_ONE) and of_marks]
        vague = [one for one in which if ANSWERED.get(one.removesuffix(WHICH_ONE), known).isdisjoint(known)]
        if named := ", ".join((*media, *vague)):
            said.append(
                f"Under {field} stands what no answer looks at there: {named}. What lies on the sheet bars a "
                "liquid only as one of the media of its front or back."
            )
    return said


def _against(row: KeptRow, day: date, made_into: str) -> Iterator[str]:
    body: Batch = row.body
    named = f"Batch {row.id[:SHORT]} ({body.name or body.recipe}){made_into}"
    if row.state == WITHDRAWN:
        yield f"{named}, was withdrawn." if made_into else f"{named} was withdrawn."
        return
    comma = "," if made_into else ""
    if body.bad:
        yield f"{named}{comma} must not be used: {body.bad}"
    until = last_day(body.expires)
    if until is not None and day > until:
        yield f"{named}{comma} had expired on {until.isoformat()}."


Field = tuple[str, str]


class Teller:
    """Puts records into words; names of the catalogue are looked up once."""

    def __init__(self, studio: Studio) -> None:
        self._studio = studio
        self._names: Names | None = None
        self._known: dict[tuple[tuple[str, ...], str], str] = {}

    def name(self, kinds: tuple[str, ...], entry_id: str) -> str:
        key = kinds, entry_id
        if key not in self._known:
            self._known[key] = name_of(self._studio, kinds, entry_id)
        return self._known[key]

    @property
    def names(self) -> Names:
        """Names of what spot tests are made of."""
        if self._names is None:
            self._names = Names(self._studio)
        return self._names

    def test(self, row: Row) -> str:
        """``Spot test: Acetone on Clear cellulose film tape, release 3, worst harm 1``."""
        on = [
            self.names.of("tape", row.tape) if row.tape else self.names.of("adhesive", row.adhesive),
            self.names.of("medium", row.medium),
        ]
        where = ", ".join(part for part in on if part) or "paper"
        control = " (control)" if row.control else ""
        release = "" if row.release is None else f", release {row.release}"
        alone = f" ({PAPER_ONLY})" if row.medium and row.passes_ink_by else ""
        harm = "harm not looked at" if row.worst is None else f"worst harm {row.worst}{alone}"
        also = own_words(self._studio.index.conn, row.id)
        said = f"{self.names.blend(row.liquid)} on {where}{release}, {harm}"
        return f"Spot test{control}: {said}{also and f', {also}'}"

    def kept(self, kind: Kind, body: Any) -> str:
        return line_of(kind, body, self.name)

    def fields(self, kind: Kind, body: Any) -> tuple[Field, ...]:
        """Every field that says something: label with unit, and text."""
        return fields_of(kind, body, self.name) if kind is not TEST else tuple(self._test_fields(body))

    def _test_fields(self, test: SpotTest) -> Iterator[Field]:
        """A spot test says its liquid first, its grades in words, and last what was not looked at."""
        yield "liquid", self.names.parts(test.parts)
        yield from fields_of(TEST, test, self.name)
        if test.release is None:
            yield "release", "not graded"
        for kind, grade in test.harm.items():
            yield f"harm, {kind}", harm_words(kind)[grade]
        open_kinds = [kind for kind in HARM_KINDS if kind not in test.harm]
        if open_kinds:
            yield "harm not looked at", ", ".join(open_kinds)


def plain_fields(body: Mapping[str, Any]) -> tuple[Field, ...]:
    """The fields of a record of a kind that this version does not know, as they stand."""
    return tuple(
        (name, value if isinstance(value, str) else msgspec.json.encode(value).decode())
        for name, value in body.items()
    )
