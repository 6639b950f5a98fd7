"""Find an entry of the catalogue and read it, with its sources and what it is linked to."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import msgspec

from kb.desk.errors import DeskError
from kb.desk.resolve import resolve
from kb.desk.studio import Studio
from kb.index import search
from kb.index.queries import EntryRow, entries, entry
from kb.model.base import Source
from kb.model.kinds import BY_WORD, plain_id
from kb.model.question import Plain

UNITS = {
    "_g_mol": "g/mol",
    "_g_ml": "g/ml",
    "_cm3_mol": "cm3/mol",
    "_kpa": "kPa",
    "_vol_pct": "% by volume",
    "_c": "°C",
    "_butyl_acetate_1": "n-butyl acetate = 1",
}


class Found(Plain, frozen=True, kw_only=True):
    """An entry that matches a search."""

    kind: str
    id: str
    name: str
    matched: str
    score: float


class Cited(Plain, frozen=True, kw_only=True):
    """A source as a reader needs it: what it is, on what it rests, and whether it was read."""

    id: str
    cite: str
    basis: str
    seen: bool
    extent: str
    url: str

    @property
    def mark(self) -> str:
        """A word for how far to trust it; never silent about memory."""
        if self.basis == "memory":
            return "from memory"
        if self.basis == "common-practice":
            return "common practice, no source"
        if self.basis == "project":
            return "this project's own choice"
        return "read" if self.seen else "not read here"


class Line(Plain, frozen=True, kw_only=True):
    """One line of a reading: what, value in words with unit, and the ids of its sources."""

    label: str
    value: str
    sources: tuple[str, ...]
    mark: str


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
    hits = search.find(studio.index.conn, text, kinds, limit)
    return [
        Found(kind=h.kind, id=h.id, name=h.name, matched=h.matched, score=round(h.score, 1)) for h in hits
    ]


def names(studio: Studio, kind: str) -> list[tuple[str, str]]:
    """Id and name of every entry of a kind."""
    return search.names_of(studio.index.conn, kind)


def read(studio: Studio, kind: str, entry_id: str) -> Reading:
    """One entry with every figure's unit, source and mark."""
    conn = studio.index.conn
    row = entry(conn, kind, plain_id(entry_id)) or entry(conn, kind, entry_id)
    if row is None or kind not in BY_WORD:
        raise DeskError(f'There is no {kind} "{entry_id}"; try: benchleaf find "{entry_id}".')
    record = msgspec.json.decode(row.body)
    cited = {source: cited_source(studio, source) for source in _sources(record)}
    lines = tuple(_lines(record, cited))
    return Reading(
        kind=row.kind,
        id=row.id,
        name=row.name,
        also=tuple(record.get("also", ())),
        lines=lines,
        sources=tuple(cited.values()),
        file=row.file,
        line=row.line,
        origin=row.origin,
    )


def resolve_entry(studio: Studio, kind: str, text: str) -> str:
    """The id of an entry of any kind: an exact id first, then what the words most likely mean."""
    if entry(studio.index.conn, kind, plain_id(text)) is not None:
        return plain_id(text)
    if entry(studio.index.conn, kind, text.strip()) is not None:
        return text.strip()
    return resolve(studio, kind, text)


def all_of(studio: Studio, kind: str) -> list[Found]:
    """Every entry of a kind, by name."""
    rows: list[EntryRow] = entries(studio.index.conn, kind)
    return [Found(kind=row.kind, id=row.id, name=row.name, matched="", score=0.0) for row in rows]


def cited_source(studio: Studio, source_id: str) -> Cited:
    """A source as a reader needs it; one that is not in the catalogue says so in place of its title."""
    row = entry(studio.index.conn, "source", source_id)
    if row is None:
        return Cited(id=source_id, cite="not in the catalogue", basis="", seen=False, extent="", url="")
    source = msgspec.json.decode(row.body, type=Source)
    return Cited(
        id=source.id,
        cite=source.cite,
        basis=source.basis,
        seen=source.seen,
        extent=source.extent,
        url=source.url,
    )


def _sources(value: Any) -> list[str]:
    """Ids of all sources below a record, in order of appearance."""
    found: dict[str, None] = {}

    def walk(inner: Any) -> None:
        if isinstance(inner, dict):
            for key, one in inner.items():
                if key in {"from", "cas_sources", "supplier_sources"}:
                    found.update(dict.fromkeys(one))
                else:
                    walk(one)
        elif isinstance(inner, list):
            for one in inner:
                walk(one)

    walk(value)
    return list(found)


def mark_of(sources: Iterable[str], cited: Mapping[str, Cited]) -> str:
    """The weakest word among the sources if none of them was read; empty if one was."""
    marks = [cited[source].mark for source in sources if source in cited]
    if not marks or "read" in marks:
        return ""
    return marks[0]


SKIPPED = {"id", "name", "also", "from", "title", "cite"}


def _lines(record: dict[str, Any], cited: dict[str, Cited]) -> Iterator[Line]:
    for key, value in record.items():
        if key in SKIPPED or key.endswith("_sources"):
            continue
        yield from _field(key, value, cited)


def _field(key: str, value: Any, cited: dict[str, Cited]) -> Iterator[Line]:
    label, unit = label_of(key)
    if isinstance(value, list):
        if value and all(not isinstance(one, dict) for one in value):
            yield Line(label=label, value=", ".join(map(str, value)), sources=(), mark="")
        else:
            for one in value:
                yield from _field(key, one, cited)
    elif isinstance(value, dict):
        yield _entry_line(label, unit, value, cited)
        for other in value.get("others", ()):
            yield _entry_line(f"{label} (also printed)", unit, other, cited)
    else:
        yield Line(label=label, value=str(value), sources=(), mark="")


def label_of(key: str) -> tuple[str, str]:
    """``boiling_point_c`` -> ("boiling point", "°C")."""
    for ending, unit in UNITS.items():
        if key.endswith(ending):
            return key.removesuffix(ending).replace("_", " "), unit
    return key.replace("_", " "), ""


def _entry_line(label: str, unit: str, value: dict[str, Any], cited: dict[str, Cited]) -> Line:
    sources = list(value.get("from", ()))
    return Line(
        label=label, value=in_words(value, unit), sources=tuple(sources), mark=mark_of(sources, cited)
    )


def in_words(value: dict[str, Any], unit: str) -> str:
    """A figure, sphere or claim in one line."""
    if "none_known" in value:
        return str(value["none_known"])
    parts = []
    if "value" in value:
        parts.append(f"{value['value']:g} {unit}".strip())
    elif "low" in value or "high" in value:
        low, high = value.get("low", "..."), value.get("high", "...")
        parts.append(f"{low} to {high} {unit}".strip())
    if "d" in value and "h" in value:
        text = f"dD {value['d']:g}, dP {value['p']:g}, dH {value['h']:g}"
        parts.append(f"{text}, R0 {value['r0']:g} MPa^0.5" if "r0" in value else text)
    if "at_c" in value:
        parts.append(f"at {value['at_c']:g} °C")
    if "text" in value:
        parts.append(str(value["text"]))
    used = {
        "value",
        "low",
        "high",
        "d",
        "p",
        "h",
        "r0",
        "at_c",
        "text",
        "from",
        "others",
        "note",
        "none_known",
    }
    parts.extend(_rest(key, inner) for key, inner in value.items() if key not in used and inner != [])
    if value.get("note"):
        parts.append(f"({value['note']})")
    return "; ".join(part for part in parts if part)


def _rest(key: str, value: Any) -> str:
    """A nested part in words."""
    name = key.replace("_", " ")
    if isinstance(value, bool):
        return name if value else f"not {name}"
    if isinstance(value, dict):
        if "text" in value:
            return str(value["text"])
        return f"{name} " + ", ".join(f"{k} {v}" for k, v in value.items() if k != "from")
    if isinstance(value, list):
        return ", ".join(_rest(key, one) if isinstance(one, dict) else str(one) for one in value)
    return f"{name} {value}"
