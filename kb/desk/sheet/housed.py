"""How sheets were put away: written down, listed, and the gap held against the one that the sheet needs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from kb.book.kinds.housing import HOUSING, Housing
from kb.book.kinds.parts import TISSUE
from kb.desk.amounts import humidity, size_mm
from kb.desk.errors import DeskError
from kb.desk.materials.measured import Measured, shown
from kb.desk.records import work_records as work
from kb.desk.sheet.housing import Along, Framed, GapView, house
from kb.desk.studio import Studio
from kb.index.kept_rows import KeptRow
from kb.index.rows import STATES
from kb.model.question import Plain

if TYPE_CHECKING:
    from kb.desk.sheet.facts import SheetFacts

NO_GAP = "Type the gap that was left: it is held against the one that the sheet needs."


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


def housings(studio: Studio, sheet: str = "") -> list[HousedView]:
    """Housings that were not withdrawn, of one sheet or of all, in the order they were written down."""
    return [_view(studio, row) for row in work.work_rows(studio, "housing", sheet)]


def notes(studio: Studio, housing: Housing) -> tuple[str, ...]:
    """Whether the gap is enough."""
    return gap_check(studio, housing)


def answer(studio: Studio, housing: Housing) -> dict[str, Any]:
    """The same, by its name."""
    return {"gap": gap_check(studio, housing)}


def gap_check(studio: Studio, housing: Housing) -> tuple[str, ...]:
    """Gap and rebate written down against what this sheet needs at that humidity, a sentence each.

    Size and humidity are those of the record, else those noted of the sheet; the grain is the one noted, else
    either. Nothing where neither is written down; a sentence that says what is missing where it cannot be
    compared. The gap needed is that of `kb.desk.sheet.housing`.
    """
    given = (housing.gap_width_mm, housing.gap_height_mm)
    deep = housing.depth_mm if housing.into == "frame" else None
    if given == (None, None) and deep is None:
        return ()
    from kb.desk.sheet.facts import sheet_facts

    try:
        framed = _framed(housing, sheet_facts(studio, housing.sheet))
    except DeskError as error:
        return (f"The gap is not checked: what is noted of the sheet cannot be reckoned with. {error}",)
    if isinstance(framed, str):
        return (framed,)
    climate = f"{framed.rh_from:g} to {framed.rh_to:g} %"
    needs = house(studio, framed)
    gaps = (
        _compared(one, gap, climate) for one, gap in zip(given, needs.gaps, strict=True) if one is not None
    )
    return (*gaps, *(() if deep is None else (_rebate(deep, needs.depth),)))


def _rebate(deep: float, needed: Measured) -> str:
    """The depth written down against the layers, front to back."""
    low, high = needed.low or 0.0, needed.high or 0.0
    wants = f"the layers take {shown(low)} to {shown(high)} mm. ~ {needed.mark}"
    if deep < low:
        return f"Depth {shown(deep)} mm is TOO SMALL: {wants}"
    return f"Depth {shown(deep)} mm {'is enough' if deep >= high else 'MAY BE TOO SMALL'}: {wants}"


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


def _view(studio: Studio, row: KeptRow) -> HousedView:
    housing: Housing = row.body
    tissue = work.name_of(studio, TISSUE, housing.hinge_tissue)
    return HousedView(
        id=row.id,
        at=row.at,
        who=row.who,
        state=STATES[row.state],
        housing=housing,
        hinge_tissue=tissue,
        words=work.words_of(studio, HOUSING, housing),
        gap=gap_check(studio, housing),
        warnings=tuple(work.against(studio, HOUSING, housing, row.at)),
    )


def said(studio: Studio, housing: Housing) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """How it is understood while it is typed: whether the gap is enough, and what speaks against it."""
    gaps = gap_check(studio, housing)
    small = tuple(text for text in gaps if "TOO SMALL" in text)
    return (tuple(text for text in gaps if text not in small) or (() if gaps else (NO_GAP,)), small)
