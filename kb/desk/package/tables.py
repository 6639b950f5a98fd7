"""The tables of a package: columns derived from each kind of record, and one row after another as CSV."""

from __future__ import annotations

import csv
import inspect
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

from kb.book.kinds.field import UNIT_WORDS, Field, fields, value_of
from kb.book.kinds.kind import Kind
from kb.book.kinds.parts import Photo, Site
from kb.book.kinds.spot_test import HARM_KINDS, HARM_WORDS, RELEASE_WORDS, SpotTest
from kb.book.kinds.table import KINDS
from kb.book.text import MARK, clean_text
from kb.desk.materials.names import parts_words
from kb.desk.package.files import Hashed
from kb.index.walk import STATES, Standing

PHOTOGRAPHS = (
    "Photographs of records of every kind, each tied to its record by the SHA-256 of its content, "
    "whatever its name."
)
BETWEEN = "; "
"""Stands between the items of a list that is kept in one cell."""


class Column(NamedTuple):
    """One column: its Table Schema type, its unit (empty: none) and what it means.

    ``path`` leads from the body to the value; of a value in a map or list it starts at the item.
    """

    name: str
    type: str
    unit: str
    about: str
    path: tuple[str, ...]
    words: tuple[str, ...] = ()
    """The only words that may stand here, if there are such."""
    label: str = ""
    """The column in words for paper, its unit left to the value."""
    entries: tuple[str, ...] = ()
    """Kinds of catalogue entries whose ids may stand here."""


class Child(NamedTuple):
    """A field that holds several things, each a row of a table of its own."""

    field: str
    table: str
    about: str
    columns: tuple[Column, ...]
    is_map: bool
    is_photo: bool


class Shape(NamedTuple):
    """One kind of record: what its table is about, columns in the order of its fields, and child tables."""

    kind: Kind
    about: str
    columns: tuple[Column, ...]
    children: tuple[Child, ...]


def shapes() -> dict[str, Shape]:
    """All kinds of record that this version can read besides changes, by kind."""
    return {kind.key: _shape(kind) for kind in KINDS.values()}


def label_of(column: Column) -> str:
    """A column in words, its unit left to the value: ``dwell_s`` -> ``dwell``."""
    return column.label or column.name.replace("_", " ")


@cache
def part_field(name: str) -> Field | None:
    """The field of that name in what records hold - a place, a round, a portion - for changes told raw."""
    for kind in KINDS.values():
        for outer in fields(kind.type):
            inner = outer.type if outer.is_part else outer.item
            for field in fields(inner) if hasattr(inner, "__struct_fields__") else ():
                if field.name == name:
                    return field
    return None


def _shape(kind: Kind) -> Shape:
    columns: list[Column] = []
    children: list[Child] = []
    for field in fields(kind.type):
        child = _child(kind, field)
        if child is not None:
            children.append(child)
        else:
            columns += _columns(field)
    about = _sentence(inspect.getdoc(kind.type) or kind.name)
    return Shape(kind, about, tuple(columns), tuple(children))


def _child(kind: Kind, field: Field) -> Child | None:
    """The table of a field that holds several things; None if it holds one or plain words."""
    table, about = kind.tables.get(field.name, (f"{kind.table}_{field.name}", ""))
    if field.is_map:
        key = Column(*MAP_KEYS.get(field.name, ("name", "string", "", "Name of the item.")), ("0",))
        kind_of_value = TYPES.get(field.item, "string")
        value = MAP_VALUES.get(field.name, ("value", kind_of_value, "", "Value of the item."))
        columns = (key, Column(value[0], kind_of_value, value[2], value[3], ("1",)))
        return Child(field.name, table, _sentence(about or field.says.meaning), columns, True, False)
    if field.item is None or not hasattr(field.item, "__struct_fields__"):
        return None
    inner = tuple(column for one in fields(field.item) for column in _columns(one))
    if field.item is Photo:
        return Child(field.name, "photographs", PHOTOGRAPHS, inner, False, True)
    about = about or field.says.meaning or inspect.getdoc(field.item) or field.name
    return Child(field.name, table, _sentence(about), inner, False, False)


MAP_KEYS = {
    "parts": ("liquid", "string", "", "Id of a liquid of the catalogue, or its name as typed."),
    "harm": ("kind", "string", "", "What was looked at."),
    "may_be": ("what", "string", "", "Ids of adhesive, stage and carrier between slashes; empty: not known."),
}
MAP_VALUES = {
    "parts": ("share", "number", "share by volume", "Part of the whole by volume; all parts sum to 1."),
    "may_be": ("chance", "number", "", "How likely it is that the tape is this; all chances sum to 1."),
    "harm": ("grade", "integer", "grade 0-4", "Harm seen, from 0 none to 4 loss."),
}


TYPES = {bool: "boolean", int: "integer", float: "number"}
"""Table Schema types; whatever is none of these becomes text, so that a new type loses nothing."""


def _columns(field: Field, prefix: str = "", label: str = "") -> tuple[Column, ...]:
    """The column of a plain field, or those of the part that stands in it."""
    if field.is_part:
        # A place is where it is, whatever part of the record it stands in.
        inner_label = "" if field.type is Site else f"{field.name.replace('_', ' ')} "
        inner = fields(field.type, field.path)
        return tuple(
            column for one in inner for column in _columns(one, f"{prefix}{field.name}_", inner_label)
        )
    says = field.says
    return (
        Column(
            prefix + field.name,
            TYPES.get(field.type, "string"),
            UNIT_WORDS.get(says.unit, says.unit),
            _sentence(says.meaning or says.label.capitalize()),
            field.path,
            field.choices,
            label + says.label,
            says.entries,
        ),
    )


def _sentence(text: str) -> str:
    """Text of the source for readers outside it: one paragraph, without marks of code, with a full stop."""
    text = re.sub(r"\s+", " ", text.partition("\n\n")[0].replace("`", "")).strip()
    return text if not text or text.endswith((".", "!", "?")) else text + "."


AT = "%Y-%m-%dT%H:%M:%S.%fZ"
"""How times stand in the tables: UTC, with fractions of a second."""
LONGEST_CELL = 32_000
"""Characters in one cell; spreadsheets hold 32,767. The whole text stands in the book."""
SAFE = "'"
# What a spreadsheet may take for a formula, blanks in front of it or not; and the mark itself, so that
# taking one mark off always gives the text back.
_RISKY = re.compile(r"'|[\t\r\x00]|\s*[=+\-@＝＋－＠]")
_SURROGATE = re.compile("[\ud800-\udfff]")
Value = Callable[[Standing], Any]


class Link(NamedTuple):
    """A column that holds ids of another table."""

    column: str
    table: str


class Table(NamedTuple):
    """One table. ``key`` names the columns that no two rows share."""

    name: str
    about: str
    columns: tuple[Column, ...]
    key: tuple[str, ...]
    links: tuple[Link, ...]


class TableFile:
    """A table being written. Text that could act as a formula is marked unless ``raw``."""

    def __init__(self, folder: Path, table: Table, *, raw: bool) -> None:
        self.table = table
        self.rows = 0
        self._raw = raw
        self.out = Hashed(folder, f"{'tables-raw' if raw else 'tables'}/{table.name}.csv")
        self._csv = csv.writer(self.out, quoting=csv.QUOTE_NONNUMERIC, lineterminator="\r\n")
        self._csv.writerow([column.name for column in table.columns])

    def row(self, values: Iterable[Any]) -> None:
        """Write one row, values in the order of the columns."""
        self._csv.writerow([cell(value, raw=self._raw) for value in values])
        self.rows += 1


def column(name: str, kind: str, about: str, unit: str = "", words: tuple[str, ...] = ()) -> Column:
    """A column that belongs to no field of a record."""
    return Column(name, kind, unit, about, (), words)


ID = column("id", "string", "Id of the record: 26 letters and digits that sort by time.")
AT_UTC = column("at_utc", "datetime", "When it was written down, in Coordinated Universal Time.")
WHO = column("who", "string", "Who wrote it down.")
BENCH = column("bench", "string", "The bench at which it was written down.")
STATE = column(
    "state",
    "string",
    "current: as written. amended: corrected later, the row shows the corrected values. withdrawn: "
    "taken out of all counts. unread: not known to the version of the program that made the package.",
    words=STATES,
)
WHY = column("withdrawn_because", "string", "Reason of the withdrawal, if it is withdrawn.")
RECORD = column("record", "string", "Id of the record that this row belongs to.")
NUMBER = column("number", "integer", "Place among the rows of the same record, counted from 1.")
KIND = column("kind", "string", "Kind of record: test, bottle, reading, batch, amend, withdraw ...")
MORE = {
    "harm": (column("in_words", "string", "The grade in words.", words=HARM_WORDS),),
    "parts": (column("liquid_name", "string", "Name of the liquid, where it is known."),),
    "photographs": (
        column("file", "string", "Path of the photograph in this package; empty if it is not here."),
        column("why_not_here", "string", "Why the photograph is not in this package."),
    ),
}
"""Columns behind those of the fields, by table."""
HEAD: tuple[tuple[Column, Value], ...] = (
    (ID, lambda one: one.line.id),
    (AT_UTC, lambda one: one.line.at),
    (WHO, lambda one: one.line.who),
    (BENCH, lambda one: one.line.bench),
)
TAIL: tuple[tuple[Column, Value], ...] = ((STATE, lambda one: one.state), (WHY, lambda one: one.why))
FIRST = ("sheet", "tape", "adhesive", "stage", "carrier", "carrier_present", "medium", "paper", "liquid")
"""Columns of a spot test that a reader looks for first."""


def kind_table(shape: Shape, names: Mapping[str, str]) -> tuple[Table, tuple[Value, ...]]:
    """The table of a kind, and how each of its cells is taken from a record."""
    cells = [(one, _from_body(one)) for one in shape.columns]
    if shape.kind.type is SpotTest:
        cells = _with_words(cells, names)
    cells = [*HEAD, *cells, *TAIL]
    columns = tuple(one for one, _ in cells)
    table = Table(shape.kind.table, shape.about, columns, ("id",), (Link("id", "records"),))
    return table, tuple(value for _, value in cells)


def _from_body(one: Column) -> Value:
    path = one.path
    return lambda standing: value_of(standing.body, path)


def _with_words(cells: list[tuple[Column, Value]], names: Mapping[str, str]) -> list[tuple[Column, Value]]:
    """The columns of a spot test with those that say grades and liquids in words."""
    liquid = column("liquid", "string", "The liquid in words, shares by volume; table parts has the ids.")
    cells = [*cells, (liquid, lambda one: parts_words(one.body.parts, names))]
    place = {name: number for number, name in enumerate(FIRST)}
    cells.sort(key=lambda cell: place.get(cell[0].name, len(FIRST)))
    at = next(number for number, cell in enumerate(cells) if cell[0].name == "release") + 1
    release = column("release_in_words", "string", "The grade of release in words.", words=RELEASE_WORDS)
    rounds = column("rounds", "integer", "How often the liquid was put on; table rounds has each.")
    worst = column("harm_worst", "integer", "The worst harm among what was looked at.", "grade 0-4")
    missing = column(
        "not_looked_at", "string", "Kinds of harm that were not looked at; not the same as none."
    )
    added: list[tuple[Column, Value]] = [
        (release, lambda one: _word(RELEASE_WORDS, one.body.release)),
        *(_harm_cell(kind) for kind in HARM_KINDS),
        (worst, lambda one: max(one.body.harm.values()) if one.body.harm else None),
        (missing, lambda one: ", ".join(kind for kind in HARM_KINDS if kind not in one.body.harm)),
        (rounds, lambda one: len(one.body.rounds)),
    ]
    return [*cells[:at], *added, *cells[at:]]


def _harm_cell(kind: str) -> tuple[Column, Value]:
    about = f"Harm: {kind}, 0 none seen to 4 loss; empty: not looked at."
    return column(f"harm_{kind}", "integer", about, "grade 0-4"), lambda one: one.body.harm.get(kind)


def _word(words: Sequence[str], grade: int | None) -> str | None:
    return None if grade is None else words[grade]


def child_table(shape: Shape, child: Child) -> Table:
    """The table of a field that holds several things. Photographs of all kinds of record stand in one."""
    head = (RECORD, KIND, NUMBER) if child.is_photo else (RECORD, NUMBER)
    columns = (*head, *child.columns, *MORE.get(child.table, ()))
    link = Link("record", "records" if child.is_photo else shape.kind.table)
    return Table(child.table, child.about, columns, ("record", "number"), (link,))


def child_rows(child: Child, one: Standing, names: Mapping[str, str]) -> Iterable[list[Any]]:
    """The rows of one record in a child table."""
    held = getattr(one.body, child.field)
    if not child.is_map:
        for number, item in enumerate(held, 1):
            yield [one.line.id, number, *(value_of(item, each.path) for each in child.columns)]
        return
    for number, (key, value) in enumerate(held.items(), 1):
        row = [one.line.id, number, key, value]
        if child.table == "harm":
            row.append(_word(HARM_WORDS, value))
        elif child.table == "parts":
            row.append(names.get(key, ""))
        yield row


def cell(value: Any, *, raw: bool) -> Any:
    """A value as it stands in the file: numbers as numbers, text clean, short enough and harmless."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return int(value) if value.is_integer() and abs(value) < 1e15 else value
    if isinstance(value, int):
        return value
    text = BETWEEN.join(map(str, value)) if isinstance(value, tuple) else str(value)
    text = cell_text(text)
    return text if raw or _RISKY.match(text) is None else SAFE + text


def cell_text(text: str) -> str:
    """Text fit for a cell: nothing that steers a terminal, and no longer than a spreadsheet can hold."""
    if not (text.isascii() and text.isprintable()):
        text = clean_text(_SURROGATE.sub(MARK, text), limit=len(text) * 4 + 1)
    if len(text) > LONGEST_CELL:
        text = f"{text[:LONGEST_CELL]} [shortened: {len(text):,} characters; the whole stands in the book]"
    return text
