"""Any record of the book in one line, and field by field with labels and units."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import msgspec

from kb.desk.making.recipe import words as amount_words
from kb.desk.materials.names import Names
from kb.desk.records.work_records import ADHESIVE, TISSUE, name_of
from kb.desk.sheet.housed import housing_words
from kb.desk.sheet.mends import mend_words
from kb.desk.sheet.sheet_words import line_of
from kb.desk.sheet.toning import difference, toning_words
from kb.desk.studio import Studio
from kb.index.rows import Row
from kb.model.record import (
    HARM_KINDS,
    HARM_WORDS,
    RELEASE_WORDS,
    Batch,
    BathReading,
    Bottle,
    ColourReading,
    Housing,
    Mend,
    Photo,
    Portion,
    Round,
    SpotTest,
    Toning,
)
from kb.model.sheet_record import Condition, PatchDone, Sheet, Strip

KIND_WORDS = {
    "test": "spot test",
    "bottle": "bottle",
    "reading": "bath reading",
    "batch": "batch",
    "mend": "mend",
    "toning": "toning test",
    "housing": "housing",
    "sheet": "sheet",
    "condition": "condition",
    "strip": "strip of tape",
    "patch": "patch",
}
"""What a reader calls each kind of record."""
LABELS = {
    "parts": ("liquid", ""),
    "ph": ("pH", ""),
    "minutes": ("time in the bath", "min"),
    "humidity_low": ("humidity, lowest", "%"),
    "humidity_high": ("humidity, highest", "%"),
    "light": ("light", ""),
    "into": ("put into", ""),
    "tear": ("kind of tear", ""),
    "toning": ("toned by the test", ""),
    "aim": ("colour of the sheet", "L a b"),
    "dry": ("colour when dry", "L a b"),
    "bad": ("must not be used", ""),
    "finished": ("used up on", ""),
    "expires": ("use by", ""),
    "weights": ("weighed", ""),
    "colourants": ("put on", ""),
    "words": ("place", ""),
    "version": ("version of the recipe", ""),
    "batch": ("from batch", ""),
    "recipe": ("recipe", ""),
    "made_at": ("made on", ""),
    "opened": ("opened on", ""),
    "found": ("found", ""),
    "also": ("also known as", ""),
    "sheet": ("sheet", ""),
    "patch": ("patch", ""),
    "weak": ("weak zone", ""),
    "ink": ("photographs compared", ""),
    "x_mm": ("from the left edge", "mm"),
    "y_mm": ("from the top edge", "mm"),
}
"""Label and unit of fields whose own names would not be read as words."""
UNITS = {
    "_mm2": "mm²",
    "_g_m2": "g/m²",
    "_percent": "%",
    "_ml": "ml",
    "_g": "g",
    "_us_cm": "µS/cm",
    "_minutes": "min",
    "_mm": "mm",
    "_lux": "lux",
    "_c": "°C",
}
"""Unit by the ending of a field's name."""
_CATALOGUE = {
    "tape": ("tape",),
    "stage": ("stage",),
    "carrier": ("carrier",),
    "medium": ("medium",),
    "paper": ("paper",),
    "recipe": ("recipe",),
    "liquid": ("liquid",),
    "tissue": TISSUE,
    "hinge_tissue": TISSUE,
}
"""Fields that hold ids of the catalogue, by the words of their kinds; names are shown instead."""
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
        return f"Spot test{control}: {self.names.blend(row.liquid)} on {where}{release}, {harm}"

    def kept(self, body: Any) -> str:
        """One line for a record of a kept kind."""
        if isinstance(body, Mend):
            adhesive = self.name(ADHESIVE, body.adhesive)
            return f"Mend: {mend_words(body, self.name(TISSUE, body.tissue), adhesive)}"
        if isinstance(body, Toning):
            return f"Toning test: {toning_words(body, self.name(TISSUE, body.tissue))}"
        if isinstance(body, Housing):
            said = housing_words(body, self.name(TISSUE, body.hinge_tissue))
            if body.into == "frame":
                return f"Framed{said.removeprefix('frame').lstrip() if said != 'frame' else ''}"
            return f"Housed: {said}"
        if isinstance(body, Sheet | Condition | Strip | PatchDone):
            return line_of(body)
        if isinstance(body, BathReading):
            return reading_words(body)
        if isinstance(body, Batch):
            made = amount_words(body.made_amount, body.made_amount, body.made_unit)
            bad = f"must not be used ({body.bad})" if body.bad else ""
            used = "used up" if body.finished else ""
            name = body.name or self.name(("recipe",), body.recipe)
            return f"Batch: {', '.join(part for part in (name, made, bad, used) if part)}"
        bottle: Bottle = body
        opened = f"opened {bottle.opened}" if bottle.opened else ""
        until = f"use by {bottle.expires}" if bottle.expires else ""
        used = "used up" if bottle.finished else ""
        said = ", ".join(part for part in (bottle.label, opened, until, used) if part)
        return f"Bottle: {self.name(('liquid',), bottle.liquid)}{f', {said}' if said else ''}"

    # -- field by field -------------------------------------------------------------------------------

    def fields(self, body: msgspec.Struct) -> tuple[Field, ...]:
        """Every field that says something: label with unit, and text."""
        found = list(self._fields(body))
        if isinstance(body, Toning) and (delta := difference(body)) is not None:
            found.append(("difference from the sheet (CIEDE2000, computed)", f"{delta:.1f}"))
        return tuple(found)

    def _fields(self, body: msgspec.Struct) -> Iterator[Field]:
        if isinstance(body, SpotTest):
            yield "liquid", self.names.parts(body.parts)
        for name in body.__struct_fields__:
            value = getattr(body, name)
            if name not in {"parts", "harm"} and (value is False or _says_something(value)):
                yield from self._field(name, value)
        if isinstance(body, SpotTest):
            yield from _harm(body)

    def _field(self, name: str, value: Any) -> Iterator[Field]:
        label = label_of(name)
        if name == "release":
            yield label, RELEASE_WORDS[value]
        elif isinstance(value, ColourReading):
            yield label, f"{value.lightness:g} {value.a:g} {value.b:g}"
        elif isinstance(value, bool):
            if value or name == "carrier_present":
                yield label, "yes" if value else "no"
        elif isinstance(value, msgspec.Struct):
            yield from self._fields(value)
        elif isinstance(value, tuple):
            yield from _several(label, value)
        elif isinstance(value, str):
            kinds = ADHESIVE if name == "adhesive" else _CATALOGUE.get(name, ())
            yield label, self.name(kinds, value) if kinds else value
        else:
            yield label, f"{value:g}"


def _says_something(value: Any) -> bool:
    # Nought is a figure and says something; equality would take it for False.
    return value is not None and value is not False and value not in ("", (), {})


def _several(label: str, values: tuple[Any, ...]) -> Iterator[Field]:
    if all(isinstance(one, str) for one in values):
        yield label, ", ".join(values)
        return
    for number, one in enumerate(values, 1):
        if isinstance(one, Portion):
            taken = f", from batch {one.batch}" if one.batch else ""
            lot = f", lot {one.lot}" if one.lot else ""
            yield label, f"{one.name} {one.amount:.4g} {one.unit}{taken}{lot}"
        elif isinstance(one, Round):
            seen = (one.amount, one.wet and f"wet: {one.wet}", one.dry and f"dry: {one.dry}")
            yield f"round {number}", "; ".join((f"{one.dwell_s:g} s", *(part for part in seen if part)))
        elif isinstance(one, Photo):
            yield "photograph", f"{one.path} ({one.when}), SHA-256 {one.sha256}"


def _harm(test: SpotTest) -> Iterator[Field]:
    for kind, grade in test.harm.items():
        yield f"harm, {kind}", HARM_WORDS[grade]
    open_kinds = [kind for kind in HARM_KINDS if kind not in test.harm]
    if open_kinds:
        yield "harm not looked at", ", ".join(open_kinds)


def label_of(name: str) -> str:
    """A field's label with its unit: ``length_mm`` -> ``length (mm)``."""
    if name in LABELS:
        label, unit = LABELS[name]
        return f"{label} ({unit})" if unit else label
    for ending, unit in UNITS.items():
        if name.endswith(ending):
            return f"{name.removesuffix(ending).replace('_', ' ')} ({unit})"
    plain = name.removesuffix("_at")
    return f"{plain} at" if plain != name else name.replace("_", " ")


def plain_fields(body: Mapping[str, Any]) -> tuple[Field, ...]:
    """The fields of a record of a kind that this version does not know, as they stand."""
    return tuple(
        (name, value if isinstance(value, str) else msgspec.json.encode(value).decode())
        for name, value in body.items()
    )


def reading_words(read: BathReading) -> str:
    """``Bath 2 at 20 min: pH 7.4, 60 µS/cm, pale straw``."""
    figures = (
        "" if read.ph is None else f"pH {read.ph:g}",
        "" if read.conductivity_us_cm is None else f"{read.conductivity_us_cm:g} µS/cm",
        "" if read.temperature_c is None else f"{read.temperature_c:g} °C",
        read.colour,
        read.water,
        f"batch {read.batch[:10]}" if read.batch else "",
    )
    after = "" if read.minutes is None else f" at {read.minutes:g} min"
    said = ", ".join(part for part in figures if part) or read.remarks
    return f"Bath {read.bath}{after}: {said}"
