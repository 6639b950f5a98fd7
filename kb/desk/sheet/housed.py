"""How sheets were put away: written down, listed, and the gap held against the one that the sheet needs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from kb.desk.errors import DeskError
from kb.desk.materials.measured import shown
from kb.desk.records.record import Written
from kb.desk.records.typed_amounts import humidity, lux, millimetres, size_mm
from kb.desk.records.work_records import (
    TISSUE,
    add_work,
    as_typed,
    batch_named,
    batch_warnings,
    done_at,
    known_or_words,
    name_of,
    photos,
    text,
    whole_number,
    work_rows,
)
from kb.desk.sheet.housing import Along, Framed, GapView, house
from kb.desk.studio import Studio
from kb.index.kept_rows import KeptRow
from kb.index.rows import STATES
from kb.model.question import Plain
from kb.model.record import Housing

if TYPE_CHECKING:
    from kb.desk.sheet.plan import SheetFacts

Pair = tuple[float | None, float | None]


class HousedView(Plain, frozen=True, kw_only=True):
    """A housing as it stands. ``gap`` says how the gap compares with the one the sheet needs."""

    id: str
    at: str
    who: str
    state: str
    housing: Housing
    hinge_tissue: str
    words: str
    """The housing in one line."""
    gap: tuple[str, ...]
    warnings: tuple[str, ...]


def add_housing(studio: Studio, housing: Housing) -> Written:
    """Write down a housing; returns only after it is on disk. Raises DeskError for figures that cannot be."""
    return add_work(studio, "housing", housing)


def housings(studio: Studio, sheet: str = "") -> list[HousedView]:
    """Housings that were not withdrawn, of one sheet or of all, in the order they were written down."""
    return [_view(studio, row) for row in work_rows(studio, "housing", sheet)]


def warnings(studio: Studio, housing: Housing) -> tuple[str, ...]:
    """What to know of it: a bad or expired batch, and words that no entry bears."""
    return (
        *batch_warnings(studio, housing.batch, housing.housed_at),
        *as_typed(studio, TISSUE, "tissue of the hinges", housing.hinge_tissue),
    )


def housing_from_words(studio: Studio, words: Mapping[str, Any]) -> Housing:
    """A housing from typed words; a key that is missing or empty was not said.

    Keys: sheet, into, size ("420 x 594 mm"), gap ("5 x 6 mm", or one figure for both directions), hinges,
    hinge_tissue, batch, glazing, board, spacer, depth, humidity ("45-55 %"), light ("50 lux"), place, photo
    (one or several paths), at, remarks. Raises DeskError for what cannot be.
    """
    size = size_mm(typed) if (typed := text(words, "size")) else (None, None)
    gap = _gap(text(words, "gap"))
    low, high = humidity(typed) if (typed := text(words, "humidity")) else (None, None)
    return Housing(
        sheet=text(words, "sheet"),
        into=text(words, "into") or "frame",
        sheet_width_mm=size[0],
        sheet_height_mm=size[1],
        gap_width_mm=gap[0],
        gap_height_mm=gap[1],
        hinges=whole_number(words, "hinges"),
        hinge_tissue=known_or_words(studio, TISSUE, text(words, "hinge_tissue")),
        batch=batch_named(studio, words),
        glazing=text(words, "glazing"),
        board=text(words, "board"),
        spacer_mm=millimetres(typed) if (typed := text(words, "spacer")) else None,
        depth_mm=millimetres(typed) if (typed := text(words, "depth")) else None,
        humidity_low=low,
        humidity_high=high,
        light_lux=lux(typed) if (typed := text(words, "light")) else None,
        place=text(words, "place"),
        photos=photos(words),
        housed_at=done_at(words),
        remarks=text(words, "remarks"),
    )


def _gap(typed: str) -> Pair:
    if not typed:
        return None, None
    if "x" in typed.lower() or "×" in typed:
        return size_mm(typed)
    both = millimetres(typed)
    return both, both


def gap_check(studio: Studio, housing: Housing) -> tuple[str, ...]:
    """The gap written down against the one that this sheet needs at that humidity, a sentence a direction.

    Size and humidity are those of the record, else those noted of the sheet; the grain is the one noted, else
    either. Nothing where no gap is written down; a sentence that says what is missing where it cannot be
    compared. The gap needed is that of `kb.desk.sheet.housing`.
    """
    if housing.gap_width_mm is None and housing.gap_height_mm is None:
        return ()
    from kb.desk.sheet.plan import sheet_facts

    try:
        framed = _framed(housing, sheet_facts(studio, housing.sheet))
    except DeskError as error:
        return (f"The gap is not checked: what is noted of the sheet cannot be reckoned with. {error}",)
    if isinstance(framed, str):
        return (framed,)
    given = (housing.gap_width_mm, housing.gap_height_mm)
    climate = f"{framed.rh_from:g} to {framed.rh_to:g} %"
    found = zip(given, house(studio, framed).gaps, strict=True)
    return tuple(_compared(one, needed, climate) for one, needed in found if one is not None)


def _framed(housing: Housing, facts: SheetFacts) -> Framed | str:
    """What is housed, or a sentence that says why the gap cannot be reckoned."""
    width, height = housing.sheet_width_mm, housing.sheet_height_mm
    if not (width and height) and facts.size:
        width, height = size_mm(facts.size)
    low, high = housing.humidity_low, housing.humidity_high
    if (low is None or high is None) and facts.humidity:
        low, high = humidity(facts.humidity)
    if not (width and height):
        return "The gap is not checked: width and height of the sheet are not known."
    if low is None or high is None:
        return "The gap is not checked: the range of humidity is not known."
    if low >= high:
        return "The gap is not checked: one humidity is no range, and a sheet that never moves needs none."
    grain: Along = "width" if facts.grain == "width" else "height" if facts.grain == "height" else "unknown"
    return Framed(width, height, rh_from=low, rh_to=high, grain=grain)


def _compared(given: float, needed: GapView, climate: str) -> str:
    """One direction in words. The sheet's movement is known as a range; its upper end is what must fit."""
    low, high = needed.gap.low or 0.0, needed.gap.high or 0.0
    where = needed.advised.note or "each side"
    wants = f"{shown(low)} to {shown(high)} mm" if shown(low) != shown(high) else f"{shown(high)} mm"
    said = f"Gap {needed.direction} {shown(given)} mm"
    need = f"at {climate} humidity the sheet needs {wants} {where}"
    mark = f" ~ {needed.gap.mark}" if needed.gap.mark else ""
    if given < low:
        return f"{said} is TOO SMALL: {need}.{mark}"
    if given < high:
        return f"{said} MAY BE TOO SMALL: {need}.{mark}"
    least = needed.advised.value or 0.0
    if given < least:
        return f"{said} holds the movement, but less than {shown(least)} mm is not customary.{mark}"
    return f"{said} is enough: {need}.{mark}"


def housing_words(housing: Housing, hinge_tissue: str) -> str:
    """``frame, gap 5 x 6 mm, 2 hinges of Tengujo, 45 to 55 % humidity, cabinet 3``, with the name given."""
    return ", ".join(_parts(housing, hinge_tissue))


def _parts(one: Housing, hinge_tissue: str) -> Iterator[str]:
    yield one.into
    for what, pair in (
        ("sheet", (one.sheet_width_mm, one.sheet_height_mm)),
        ("gap", (one.gap_width_mm, one.gap_height_mm)),
    ):
        if pair != (None, None):
            yield f"{what} {' x '.join('-' if side is None else f'{side:g}' for side in pair)} mm"
    if one.hinges is not None or hinge_tissue:
        count = "hinges" if one.hinges is None else f"{one.hinges} hinge{'' if one.hinges == 1 else 's'}"
        yield f"{count} of {hinge_tissue}" if hinge_tissue else count
    if one.batch:
        yield f"batch {one.batch[:10]}"
    yield from (part for part in (one.glazing, one.board) if part)
    for what, figure in (("spacer", one.spacer_mm), ("depth", one.depth_mm)):
        if figure is not None:
            yield f"{what} {figure:g} mm"
    ends = [f"{end:g}" for end in (one.humidity_low, one.humidity_high) if end is not None]
    if ends:
        yield f"{' to '.join(dict.fromkeys(ends))} % humidity"
    if one.light_lux is not None:
        yield f"{one.light_lux:g} lux"
    if one.place:
        yield one.place


def _view(studio: Studio, row: KeptRow) -> HousedView:
    housing: Housing = row.body
    tissue = name_of(studio, TISSUE, housing.hinge_tissue)
    return HousedView(
        id=row.id,
        at=row.at,
        who=row.who,
        state=STATES[row.state],
        housing=housing,
        hinge_tissue=tissue,
        words=housing_words(housing, tissue),
        gap=gap_check(studio, housing),
        warnings=tuple(batch_warnings(studio, housing.batch, row.at)),
    )
