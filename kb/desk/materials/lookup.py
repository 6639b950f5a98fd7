"""Find an entry of the catalogue and read it, with its sources and what it is linked to."""

from __future__ import annotations

import msgspec

from kb.desk.errors import DeskError
from kb.desk.materials.cited import Cited, Line, cited_source, sources_below
from kb.desk.materials.resolve import resolve
from kb.desk.studio import Studio
from kb.index import search
from kb.index.queries import EntryRow, entries, entry
from kb.model.kinds import BY_WORD, plain_id
from kb.model.question import Plain

Found = search.Found


class Reading(Plain, frozen=True, kw_only=True):
    """An entry laid out for reading."""

    kind: str
    id: str
    name: str
    also: tuple[str, ...]
    lines: tuple[Line, ...]
    sources: tuple[Cited, ...]
    file: str
    line: int
    origin: str


def find(studio: Studio, text: str, kinds: tuple[str, ...] = (), limit: int = 20) -> list[Found]:
    """Entries by name, misspelt name, CAS number or words in their text; best first."""
    found = search.find(studio.index.conn, text, kinds, limit)
    return [msgspec.structs.replace(one, score=round(one.score, 1)) for one in found]


def names(studio: Studio, kind: str) -> list[tuple[str, str]]:
    """Id and name of every entry of a kind."""
    return search.names_of(studio.index.conn, kind)


def read(studio: Studio, kind: str, entry_id: str) -> Reading:
    """One entry with every figure's unit, source and mark."""
    # Finding is asked at every key; only reading needs the words for all kinds of entry.
    from kb.desk.materials.reading_lines import lines_of

    row = entry_of(studio, kind, entry_id)
    record = msgspec.json.decode(row.body)
    cited = {source: cited_source(studio, source) for source in sources_below(record)}
    return Reading.taken_from(
        row,
        also=(*record.get("also", ()), *record.get("shared_names", ())),
        lines=(*lines_of(studio, row.kind, record, cited), *_own_lines(studio, row.kind, row.id)),
        sources=tuple(cited.values()),
    )


def _own_lines(studio: Studio, kind: str, entry_id: str) -> tuple[Line, ...]:
    """What own crumb tests say of a material's sphere, apart from what is in print."""
    if kind not in {"polymer", "medium", "adhesive"}:
        return ()
    from kb.desk.liquids.own_sphere import beside

    return tuple(
        Line(label="own sphere", value=said, sources=(), mark="own tests")
        for said in beside(studio, entry_id)
    )


def entry_of(studio: Studio, kind: str, entry_id: str) -> EntryRow:
    """An entry by the word of its kind and its id, as it is written or plain. Raises DeskError for none."""
    conn = studio.index.conn
    row = entry(conn, kind, plain_id(entry_id)) or entry(conn, kind, entry_id)
    if row is None or kind not in BY_WORD:
        raise DeskError(f'There is no {kind} "{entry_id}"; look for it by another name.')
    return row


def resolve_entry(studio: Studio, kind: str, text: str) -> str:
    """The id of an entry of any kind: an exact id first, then as :func:`resolve`."""
    if entry(studio.index.conn, kind, plain_id(text)) is not None:
        return plain_id(text)
    if entry(studio.index.conn, kind, text.strip()) is not None:
        return text.strip()
    return resolve(studio, kind, text)


def all_of(studio: Studio, kind: str) -> list[Found]:
    """Every entry of a kind, by name."""
    rows: list[EntryRow] = entries(studio.index.conn, kind)
    return [Found(kind=row.kind, id=row.id, name=row.name, matched="", score=0.0) for row in rows]
