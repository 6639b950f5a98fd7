"""Up to four entries of a kind side by side."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import msgspec

from kb.desk.errors import DeskError
from kb.desk.materials.cited import Cited, cited_source, mark_of
from kb.desk.materials.links_near import materials
from kb.desk.materials.lookup import entry_of
from kb.desk.materials.reading_words import in_words, label_of, limit_words
from kb.desk.shelf.shelf import allowed
from kb.desk.studio import Studio
from kb.model.liquid import ExposureLimit, Liquid, labelled
from kb.model.question import Plain

MOST = 4
_SKIPPED = {"id", "name", "also", "title", "cite", "from", "cas_sources", "supplier_sources", "others"}
_PROSE = {
    "claims",
    "signs",
    "in_use",
    "removal",
    "handling",
    "restrictions",
    "solubility_parameter",
    "effects",
}
"""Lists of sentences: they are for reading an entry, not for comparing figures."""


class Column(Plain, frozen=True, kw_only=True):
    """One entry that is compared."""

    id: str
    name: str


class Cell(Plain, frozen=True, kw_only=True):
    """What one entry says; empty where it says nothing. ``mark`` says so if no source of it was read."""

    text: str
    mark: str = ""
    sources: tuple[str, ...] = ()


class Row(Plain, frozen=True, kw_only=True):
    """One figure or statement of every entry. ``differs`` is False where all that say it say the same."""

    label: str
    unit: str
    cells: tuple[Cell, ...]
    differs: bool


class Comparison(Plain, frozen=True, kw_only=True):
    """A table: one column per entry, one row per figure; cells in the order of the columns."""

    kind: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    sources: tuple[Cited, ...]


Line = tuple[str, str, str, tuple[str, ...]]
"""Label, unit, text and ids of sources."""


def compare(studio: Studio, kind: str, ids: Sequence[str]) -> Comparison:
    """Figures of two to four entries of a kind side by side; what one lacks is an empty cell.

    Raises DeskError for another number of entries, for one named twice, and for one that is not there.
    """
    wanted = list(ids)
    if not 2 <= len(wanted) <= MOST:
        raise DeskError(f"Two to {MOST} entries can be compared, not {len(wanted)}.")
    if len(set(wanted)) < len(wanted):
        raise DeskError("An entry is named twice; compare different ones.")
    entries = [entry_of(studio, kind, one) for one in wanted]
    columns = tuple(Column(id=one.id, name=one.name) for one in entries)
    records: list[dict[str, Any]] = [msgspec.json.decode(one.body) for one in entries]
    found = [_joined([*_lines(studio, kind, one)]) for one in records]
    labels = dict.fromkeys(label for table in found for label in table)
    named = dict.fromkeys(source for table in found for _, _, _, ids in table.values() for source in ids)
    cited = {source: cited_source(studio, source) for source in named}
    rows = tuple(_row(label, [table.get(label) for table in found], cited) for label in labels)
    return Comparison(kind=kind, columns=columns, rows=rows, sources=tuple(cited.values()))


def _row(label: str, lines: Sequence[Line | None], cited: dict[str, Cited]) -> Row:
    cells = tuple(
        Cell(text="") if line is None else Cell(text=line[2], mark=mark_of(line[3], cited), sources=line[3])
        for line in lines
    )
    unit = next(line[1] for line in lines if line is not None)
    return Row(label=label, unit=unit, cells=cells, differs=len({cell.text for cell in cells}) > 1)


def _joined(lines: Sequence[Line]) -> dict[str, Line]:
    made: dict[str, Line] = {}
    for line in lines:
        if line[0] not in made:
            made[line[0]] = line
            continue
        label, unit, text, sources = made[line[0]]
        made[label] = (label, unit, f"{text}; {line[2]}", tuple(dict.fromkeys((*sources, *line[3]))))
    return made


def _lines(studio: Studio, kind: str, record: dict[str, Any]) -> Iterator[Line]:
    for key, value in record.items():
        if key == "classification":
            yield from _label(msgspec.convert(record, Liquid))
        elif key not in _SKIPPED and key not in _PROSE:
            yield from _field(key, value)
    if kind == "adhesive" and (spheres := studio.compiled.adhesives[record["id"]].spheres):
        said = (f"dD {d:g}, dP {p:g}, dH {h:g}, R0 {r0:g}" for d, p, h, r0 in spheres)
        yield "sphere to reach", "MPa^0.5", " and ".join(said), _sphere_sources(studio, spheres)
    if kind == "liquid":
        verdict = allowed(studio, {record["id"]: 1.0})
        words = ("held" if verdict.held else "not held", "allowed" if verdict.allowed else "forbidden")
        yield "in this studio", "", ", ".join(words), ()


def _sphere_sources(studio: Studio, spheres: Sequence[tuple[float, ...]]) -> tuple[str, ...]:
    """Sources of the polymers' spheres that an adhesive is judged by."""
    known = (one.sphere for one in materials(studio).polymers.values() if one.sphere is not None)
    named = [id for one in known if (one.d, one.p, one.h, one.r0) in spheres for id in one.sources]
    return tuple(dict.fromkeys(named))


def _label(liquid: Liquid) -> Iterator[Line]:
    """What stands on the label: the same statements as the ranking and the safety note go by."""
    found = liquid.classification
    if found is not None:
        sources = tuple(dict.fromkeys((*found.sources, *found.supplier_sources)))
        yield "on the label", "", ", ".join(labelled(liquid)) or "no statement", sources


def _field(key: str, value: Any) -> Iterator[Line]:
    label, unit = label_of(key)
    # The temperature is part of the field's name.
    label = label.removesuffix("c") + "°C" if label.endswith(("20c", "25c")) else label
    if isinstance(value, dict):
        yield _said(label, unit, value)
    elif isinstance(value, list):
        plain = [str(one) for one in value if not isinstance(one, dict)]
        if plain:
            yield label, unit, ", ".join(plain), ()
        for one in value:
            if isinstance(one, dict):
                yield _item(label, unit, one)
    else:
        yield label, unit, str(value), ()


def _item(label: str, unit: str, one: dict[str, Any]) -> Line:
    """One item of a list, on a row of its own where something tells it from the others."""
    sources = tuple(one.get("from", ()))
    if "authority" in one:
        said = limit_words(msgspec.convert(one, ExposureLimit))
        return f"{label}: {one['authority']}", unit, said.removeprefix(one["authority"]).strip(), sources
    if "agent" in one and ("grade" in one or "response" in one):
        text = ": ".join(filter(None, (one.get("grade") or one.get("response", ""), one.get("text", ""))))
        return f"{label}: {one['agent']}", unit, text, sources
    if "stage" in one:
        # How a stage looks is prose; that an adhesive goes through it is what is compared.
        return f"{label}: {one['stage']}", unit, "described", sources
    return _said(label, unit, one)


def _said(label: str, unit: str, value: dict[str, Any]) -> Line:
    """A figure, sphere or claim; a rival figure stands behind the main one."""
    # The letters of three Teas fractions are those of the Hansen parameters, with which they share no unit.
    own = unit if unit == "%" and "d" in value else ""
    text = in_words({name: inner for name, inner in value.items() if name != "others"}, own)
    if label.endswith("°C"):
        text = text.removesuffix(f"; at {label.rpartition(' at ')[2]}")
    rivals = [in_words(one, "") for one in value.get("others", ())]
    if rivals:
        text += f" (also printed: {'; '.join(rivals)})"
    return label, unit, text, tuple(value.get("from", ()))
