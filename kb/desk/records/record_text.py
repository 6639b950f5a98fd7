"""One record as plain text for a paper file: 72 columns, words and units, and how to find it in the book."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, datetime
from hashlib import sha256
from textwrap import wrap
from typing import Any, NamedTuple

import msgspec

from kb.book.check import make_record
from kb.book.fold import fold
from kb.book.kinds.field import UNIT_WORDS, Field, find, value_of
from kb.book.kinds.spot_test import HARM_KINDS, RELEASE_WORDS, harm_words
from kb.book.kinds.table import KEPT, KINDS
from kb.book.line import decode_line
from kb.book.text import clean_text
from kb.desk.errors import Choice, DeskError, Unclear
from kb.desk.package.tables import Shape, label_of, part_field, shapes
from kb.desk.studio import Studio
from kb.index.book_lines import Place, places_about
from kb.index.queries import Connection, entry, records_starting
from kb.model.kinds import plain_id
from kb.model.record import Line

WIDTH = 72
NOT_NOTED, NOT_LOOKED, NOT_GRADED = "not noted", "not looked at", "not graded"
STATES = {
    "current": "stands as it was written",
    "amended": "added to or corrected after it was written; see the history",
    "withdrawn": "WITHDRAWN: out of all counts; kept to be read",
    "unread": "not known to this version of the program; printed as it is stored",
}
_LABEL = 22


class _Placed(NamedTuple):
    """A line of the book, the file it stands in, its number there, and the hash of its bytes."""

    line: Line
    file: str
    number: int
    sha256: str


def record_text(studio: Studio, record_id: str) -> str:
    """One record of any kind, as it stands and with its history, in lines of at most 72 characters.

    ``record_id`` is an id or the beginning of one. Raises DeskError if there is no such record or it can
    no longer be read, and Unclear if the beginning fits several.
    """
    conn = studio.index.conn
    root = _find(conn, record_id)
    placed = _gather(conn, root)
    if not placed or placed[0].line.id != root:
        raise DeskError(f"The record {root} can no longer be read in the book; run: benchleaf verify.")
    return "\n".join(_text(conn, placed)) + "\n"


def _find(conn: Connection, text: str) -> str:
    start = text.strip().upper()
    found = records_starting(conn, start, tuple(KEPT)) if start else []
    if len(found) == 1:
        return found[0][1]
    if not found:
        raise DeskError(f'No record has an id that begins with "{text.strip()}".')
    raise Unclear("id", text.strip(), tuple(Choice(id, kind) for kind, id in found))


def _gather(conn: Connection, root: str) -> list[_Placed]:
    """The record's own line first, then all that points at it, directly or through another change."""
    found = [one for place in places_about(conn, root) if (one := _placed(place)) is not None]
    return found[:1] + sorted(found[1:], key=lambda one: one.line.id)


def _placed(place: Place) -> _Placed | None:
    try:
        with place.path.open("rb") as handle:
            number, left = 1, place.offset
            while left > 0 and (block := handle.read(min(left, 1 << 16))):
                number, left = number + block.count(b"\n"), left - len(block)
            raw = handle.read(place.length).rstrip(b"\n")
        return _Placed(decode_line(raw), place.path.name, number, sha256(raw).hexdigest())
    except (OSError, ValueError):
        return None


def _text(conn: Connection, placed: list[_Placed]) -> Iterator[str]:
    own = placed[0]
    book = fold(one.line for one in placed)
    line = own.line
    current = book.tests.get(line.id) or book.kept.get(line.kind, {}).get(line.id)
    state = "withdrawn" if line.id in book.withdrawn else "unread"
    if current is not None:
        state = "withdrawn" if current.withdrawn else "amended" if current.history else "current"
    elif line.kind in {"amend", "withdraw"} and state == "unread":
        state = "current"
    yield f"{_title(line.kind)} {line.id}"
    yield "=" * WIDTH
    yield from _row("state", STATES[state])
    yield from _row("withdrawn because", book.withdrawn.get(line.id, ""))
    yield from _written(own)
    yield ""
    if current is not None:
        yield "AS IT STANDS NOW" if current.history else "WHAT IT SAYS"
        yield from _body(conn, shapes()[line.kind], current.body)
    else:
        yield "WHAT IT SAYS"
        yield from _plain_body(line)
    yield from _row("mind", book.troubles.get(line.id, ""))
    if len(placed) > 1:
        yield ""
        yield "HISTORY, the oldest first"
        yield from _history(conn, placed, current, book.troubles)
    yield ""
    yield from _fold(
        "To compare this page with the book: the SHA-256 is that of the bytes of the line, without the "
        "line feed at its end; the next line of the same file carries it as prev.",
        0,
    )


def _title(kind: str) -> str:
    shape = shapes().get(kind)
    if shape is not None:
        return shape.kind.name.removeprefix("A ").removeprefix("An ").upper()
    return {"amend": "AMENDMENT", "withdraw": "WITHDRAWAL"}.get(kind, f"RECORD OF THE KIND {kind.upper()}")


def _written(one: _Placed) -> Iterator[str]:
    """When, by whom, and where it stands in the book."""
    moment = datetime.fromisoformat(one.line.at)
    yield from _row("written (UTC)", f"{moment.astimezone(UTC):%Y-%m-%d %H:%M:%S} UTC")
    yield from _row("written (local)", _local(moment))
    yield from _row("by", f"{one.line.who}, bench {one.line.bench}")
    yield from _row("book file", f"{one.file}, line {one.number}")
    yield "  SHA-256 of the line"
    yield f"  {one.sha256}"


def _local(moment: datetime) -> str:
    try:
        here = moment.astimezone()
    except (OverflowError, ValueError, OSError):
        return "outside the calendar of this machine"
    return f"{here:%Y-%m-%d %H:%M:%S} (UTC{here:%z})"


def _body(conn: Connection, shape: Shape, body: Any) -> Iterator[str]:
    """Every field of a record of a known kind, in the order of its type."""
    for column in shape.columns:
        value = value_of(body, column.path)
        if column.name == "release":
            words = _grade(RELEASE_WORDS, value, NOT_GRADED)
        else:
            words = _words(value, column.unit)
        yield from _row(label_of(column), _with_name(conn, column.entries, words) if value else words)
    for child in shape.children:
        held = getattr(body, child.field)
        if child.field == "harm":
            for kind in HARM_KINDS:
                yield from _row(f"harm, {kind}", _grade(harm_words(kind), held.get(kind), NOT_LOOKED))
        elif child.field == "parts":
            for name, share in held.items():
                yield from _row(
                    "liquid", f"{_with_name(conn, ('liquid',), name)}, {share * 100:.6g} % by volume"
                )
        elif not held:
            yield from _row(child.field.replace("_", " "), NOT_NOTED)
        else:
            yield from _items(child.field, child.columns, held)


def _items(field: str, columns: Iterable[Any], held: Any) -> Iterator[str]:
    """The things that one field holds, each with all that it says."""
    name = field.replace("_", " ").removesuffix("s")
    for number, item in enumerate(held.items() if isinstance(held, Mapping) else held, 1):
        if isinstance(held, Mapping):
            yield from _row(f"{name}, {item[0]}", _words(item[1], ""))
            continue
        yield f"  {name} {number}"
        for column in columns:
            yield from _row(f"  {label_of(column)}", _words(value_of(item, column.path), column.unit))


def _grade(words: tuple[str, ...], grade: int | None, none: str) -> str:
    return none if grade is None else words[grade] if 0 <= grade < len(words) else str(grade)


def _words(value: Any, unit: str) -> str:
    """A value as a person reads it, with its unit; what is missing is said to be missing."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if value is None or value in ("", ()):
        return NOT_NOTED
    if isinstance(value, int | float):
        return f"{value:.12g} {unit}".rstrip() if unit != "pH" else f"{value:.12g}"
    return "; ".join(_words(one, "") for one in value) if isinstance(value, tuple) else str(value)


def _with_name(conn: Connection, kinds: tuple[str, ...], value: str) -> str:
    """The name of a catalogue entry with its id; any other words as they are."""
    for kind in kinds:
        found = entry(conn, kind, plain_id(value))
        if found is not None and found.name and plain_id(found.name) != found.id:
            return f"{found.name} ({found.id})"
    return value


def _plain_body(line: Line) -> Iterator[str]:
    """The body of a change, or of a kind that is not known here, field by field as it is stored."""
    body = msgspec.json.decode(line.body)
    for name, value in body.items():
        if isinstance(value, dict):
            yield from _wrapped(f"  {_clean(name)}", WIDTH)
            for key, inner in value.items():
                yield from _row(f"  {key}", _stored(inner))
        else:
            yield from _row({"of": "about the record"}.get(name, name), _stored(value))


def _stored(value: Any, unit: str = "") -> str:
    """A value of any shape in one run of words: names with their values, semicolons between them."""
    if isinstance(value, dict):
        return "; ".join(
            f"{_label(part_field(key), key)} {_stored(inner, _unit(part_field(key)))}"
            for key, inner in value.items()
        )
    if isinstance(value, list | tuple):
        return "\n".join(f"({number}) {_stored(one)}" for number, one in enumerate(value, 1))
    return _words(value, unit)


def _history(
    conn: Connection, placed: list[_Placed], current: Any, troubles: Mapping[str, str]
) -> Iterator[str]:
    """Every later line about the record: what it changed from what, why, and whether it counts."""
    notes = {one.line.id: one.note for one in current.history} if current is not None else dict(troubles)
    before, known = _start(placed[0].line), KINDS.get(placed[0].line.kind)
    for number, one in enumerate(placed[1:], 1):
        body = msgspec.json.decode(one.line.body)
        yield ""
        yield f"{number}. {_title(one.line.kind)} {one.line.id}"
        if body.get("of") != placed[0].line.id:
            yield from _row("about the change", str(body.get("of", "")))
        yield from _row("why", str(body.get("why", "")) or NOT_NOTED)
        note = notes.get(one.line.id, troubles.get(one.line.id, ""))
        changed = body.get("set")
        for name, value in (changed if isinstance(changed, dict) else {}).items():
            field = find(known.type, name) if known else None
            yield from _row(f"{_label(field, name)} was", _changed(conn, field, name, before.get(name)))
            yield from _row(f"{_label(field, name)} is", _changed(conn, field, name, value))
            if not note:
                before[name] = value
        yield from _row("does not count", note)
        yield from _written(one)


def _start(line: Line) -> dict[str, Any]:
    """All fields as first written, defaults too; only what is stored of a kind that is not known."""
    try:
        made = make_record(line.kind, msgspec.json.decode(line.body))
    except (KeyError, ValueError):
        found = msgspec.json.decode(line.body)
        return found if isinstance(found, dict) else {}
    return {name: msgspec.to_builtins(getattr(made, name)) for name in made.__struct_fields__}


def _label(field: Field | None, name: str) -> str:
    """A field in words; of what holds several things its own name, because its label is that of one."""
    return name.replace("_", " ") if field is None or field.item is not None else field.says.label


def _unit(field: Field | None) -> str:
    return UNIT_WORDS.get(field.says.unit, field.says.unit) if field else ""


def _changed(conn: Connection, field: Field | None, name: str, value: Any) -> str:
    if name == "release":
        return (
            _grade(RELEASE_WORDS, value, NOT_GRADED)
            if value is None or isinstance(value, int)
            else str(value)
        )
    if name == "harm" and isinstance(value, dict):
        told = (f"{kind} {_grade(harm_words(kind), value.get(kind), NOT_LOOKED)}" for kind in HARM_KINDS)
        return "; ".join(told)
    if isinstance(value, str) and value:
        return _with_name(conn, field.says.entries if field else (), value)
    # ``no`` and ``0`` say something; an empty text, list or map does not.
    return _stored(value, _unit(field)) if value or isinstance(value, bool | int | float) else NOT_NOTED


def _row(label: str, words: str) -> Iterator[str]:
    """A label and its words in two columns; nothing if there is nothing to say of it."""
    label = _clean(label)
    if not words:
        return
    space = " " * _LABEL
    first = f"  {label} " if len(label) + 3 > _LABEL else f"  {label}".ljust(_LABEL)
    lines = [piece for part in _clean(words).split("\n") for piece in _wrapped(part, WIDTH - _LABEL)]
    if len(first) > _LABEL:
        yield from (piece.rstrip() for piece in _wrapped(first, WIDTH))
        yield from (f"{space}{one}".rstrip() for one in lines)
        return
    yield f"{first}{lines[0]}".rstrip()
    yield from (f"{space}{one}".rstrip() for one in lines[1:])


def _fold(text: str, indent: int) -> Iterator[str]:
    yield from (" " * indent + one for one in _wrapped(text, WIDTH - indent))


def _wrapped(text: str, width: int) -> list[str]:
    return wrap(text, width, break_on_hyphens=False, drop_whitespace=True) or [""]


def _clean(text: str) -> str:
    """Text that no printer or terminal can be steered by, with plain line breaks."""
    text = text.replace("\u2028", "\n").replace("\u2029", "\n")
    return clean_text(text.encode("utf-8", "replace").decode(), limit=max(len(text) * 4, 1))
