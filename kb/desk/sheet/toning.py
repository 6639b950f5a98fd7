"""Toning tests: what was put on, how near the dry colour came to the sheet, and whether it bleeds."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Literal

import msgspec

from kb.desk.errors import DeskError
from kb.desk.materials.measured import Maker, Measured
from kb.desk.records.record import Written
from kb.desk.records.work_records import (
    TISSUE,
    add_work,
    as_typed,
    batch_named,
    batch_warnings,
    done_at,
    known_or_words,
    name_of,
    text,
    whole_number,
    work_rows,
)
from kb.desk.sheet.infill import ADVICE, MODEL, Fit, fit_of, lab
from kb.desk.studio import Studio
from kb.index.kept_rows import KeptRow
from kb.index.rows import STATES
from kb.model.question import Plain
from kb.model.record import ColourReading, Portion, Toning
from kb.science.sheet.colour import Lab, delta_e_2000, difference_in_words

Bleeds = Literal["", "no", "slightly", "yes"]
BLEEDS: tuple[str, ...] = ("no", "slightly", "yes")
NOT_READ = "no difference is computed: the colour was not read on both"


class TonedView(Plain, frozen=True, kw_only=True):
    """A toning test as it stands. ``difference`` is None where one of the two colours was not read."""

    id: str
    at: str
    who: str
    state: str
    toning: Toning
    tissue: str
    difference: Measured | None
    difference_words: str
    fit: Fit | Literal[""]
    advice: str
    verdict: str
    """How near it came and what to do, in one line."""
    words: str
    """The test in one line."""
    warnings: tuple[str, ...]


def add_toning(studio: Studio, toning: Toning) -> Written:
    """Write down a toning test; returns only after it is on disk.

    Raises DeskError for figures that cannot be.
    """
    return add_work(studio, "toning", toning)


def tonings(studio: Studio, sheet: str = "") -> list[TonedView]:
    """Toning tests that were not withdrawn, of one sheet or of all, in the order they were written down."""
    return [_view(studio, row) for row in work_rows(studio, "toning", sheet)]


def warnings(studio: Studio, toning: Toning) -> tuple[str, ...]:
    """What to know of it: a bad or expired batch, a colour that bleeds, words that no entry bears."""
    return (*_against(studio, toning, toning.toned_at), *as_typed(studio, TISSUE, "tissue", toning.tissue))


def _against(studio: Studio, toning: Toning, done: str) -> Iterator[str]:
    for batch in dict.fromkeys((toning.batch, *(one.batch for one in toning.colourants))):
        yield from batch_warnings(studio, batch, done)
    if toning.bleeds in {"slightly", "yes"}:
        yield "The dry colour gives off on a damp swab: do not use it where paste or water comes near."


def difference(toning: Toning) -> float | None:
    """CIEDE2000 between the sheet and the dry tissue; None where one was not read.

    Source: `kb.science.sheet.colour.delta_e_2000`.
    """
    if toning.aim is None or toning.dry is None:
        return None
    return delta_e_2000(_lab(toning.aim), _lab(toning.dry))


def _lab(reading: ColourReading) -> Lab:
    return Lab(reading.lightness, reading.a, reading.b)


def toning_from_words(studio: Studio, words: Mapping[str, Any]) -> Toning:
    """A toning test from typed words; a key that is missing or empty was not said.

    Keys: sheet, tissue, colourant (one or several such as "raw umber 0.4 g"), batch, coats, aim and dry
    ("L a b"), read_with, judged, bleeds, at, remarks. Raises DeskError for what cannot be.
    """
    bleeds = text(words, "bleeds").lower()
    if bleeds and bleeds not in BLEEDS:
        raise DeskError(f'"{bleeds}" does not say whether it bleeds; there are {", ".join(BLEEDS)}.')
    return Toning(
        sheet=text(words, "sheet"),
        tissue=known_or_words(studio, TISSUE, text(words, "tissue")),
        colourants=colourants(words.get("colourant") or ()),
        batch=batch_named(studio, words),
        coats=whole_number(words, "coats"),
        aim=colour_reading(text(words, "aim")),
        dry=colour_reading(text(words, "dry")),
        read_with=text(words, "read_with"),
        judged=text(words, "judged"),
        bleeds=msgspec.convert(bleeds, Bleeds),
        toned_at=done_at(words),
        remarks=text(words, "remarks"),
    )


def colourants(typed: Any) -> tuple[Portion, ...]:
    """Portions from "raw umber 0.4 g", one or several; several in one text stand between semicolons."""
    from kb.desk.making.batch_typed import portion

    several = typed.split(";") if isinstance(typed, str) else typed
    return tuple(portion(one) for one in several if one.strip())


def colour_reading(typed: str) -> ColourReading | None:
    """A reading from "88.1 1.2 12.5"; None for nothing. Raises DeskError for anything else."""
    if not typed.strip():
        return None
    found = lab(typed)
    return ColourReading(lightness=found.lightness, a=found.a, b=found.b)


def toning_words(toning: Toning, tissue: str) -> str:
    """``Tengujo with raw umber 0.4 g, 2 coats: difference 1.8``, with the name given."""
    put_on = ", ".join(f"{one.name} {one.amount:.4g} {one.unit}".strip() for one in toning.colourants)
    said = f"{tissue} with {put_on}" if put_on else tissue
    if toning.batch:
        said += f" (batch {toning.batch[:10]})"
    if toning.coats is not None:
        said += f", {toning.coats} coat{'' if toning.coats == 1 else 's'}"
    found = difference(toning)
    parts = [
        "" if found is None else f"difference {found:.1f}",
        toning.judged,
        {"": "", "no": "does not bleed", "slightly": "bleeds slightly", "yes": "bleeds"}[toning.bleeds],
    ]
    ending = ", ".join(part for part in parts if part)
    return f"{said}: {ending}" if ending else said


def _verdict(said: str, advice: str) -> str:
    if advice.casefold().startswith(said):
        return advice
    return f"{said[:1].upper()}{said[1:]}. {advice}".rstrip()


def _view(studio: Studio, row: KeptRow) -> TonedView:
    toning: Toning = row.body
    tissue = name_of(studio, TISSUE, toning.tissue)
    found = difference(toning)
    fit: Fit | Literal[""] = "" if found is None else fit_of(found)
    said = NOT_READ if found is None else difference_in_words(found)
    return TonedView(
        id=row.id,
        at=row.at,
        who=row.who,
        state=STATES[row.state],
        toning=toning,
        tissue=tissue,
        difference=None if found is None else Maker(studio).one(found, "dE00", MODEL, ("computed",)),
        difference_words=said,
        fit=fit,
        advice=ADVICE[fit] if fit else "",
        verdict=_verdict(said, ADVICE[fit] if fit else ""),
        words=toning_words(toning, tissue),
        warnings=tuple(_against(studio, toning, row.at)),
    )
