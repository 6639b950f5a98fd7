"""Any record of the book in one line, and field by field with labels and units."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import msgspec

from kb.book.kinds.kind import Kind, fields_of, line_of
from kb.book.kinds.spot_test import HARM_KINDS, TEST, SpotTest, harm_words
from kb.desk.materials.names import Names
from kb.desk.records.work_records import name_of
from kb.desk.studio import Studio
from kb.index.book_lines import own_words
from kb.index.rows import Row

Field = tuple[str, str]


class Teller:
    """Puts records into words; names of the catalogue are looked up once."""

    def __init__(self, studio: Studio) -> None:
        self._studio = studio
        self._names: Names | None = None
        self._known: dict[tuple[tuple[str, ...], str], str] = {}

    def name(self, kinds: tuple[str, ...], entry_id: str) -> str:
        """The name of an entry of one of the kinds, or the words as they are."""
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
        harm = "harm not looked at" if row.harm is None else f"worst harm {row.harm}"
        also = own_words(self._studio.index.conn, row.id)
        said = f"{self.names.blend(row.liquid)} on {where}{release}, {harm}"
        return f"Spot test{control}: {said}{also and f', {also}'}"

    def kept(self, kind: Kind, body: Any) -> str:
        """One line for a record of a kept kind."""
        return line_of(kind, body, self.name)

    def fields(self, kind: Kind, body: Any) -> tuple[Field, ...]:
        """Every field that says something: label with unit, and text."""
        if kind is not TEST:
            return fields_of(kind, body, self.name)
        return tuple(self._test_fields(body))

    def _test_fields(self, test: SpotTest) -> Iterator[Field]:
        """A spot test says its liquid first, its grades in words, and last what was not looked at."""
        yield "liquid", self.names.parts(test.parts)
        yield from fields_of(TEST, test, self.name)
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
