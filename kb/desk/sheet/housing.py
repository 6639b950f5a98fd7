"""Housing: the gap that a sheet needs, its hinges, the depth of the rebate, light and climate.

How sheets were put away: written down, listed, and the gap held against the one that the sheet needs.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from kb.book.kinds.housing import HOUSING, Housing
from kb.desk.amounts import humidity, size_mm
from kb.desk.errors import DeskError, in_a_sentence
from kb.desk.materials.measured import (
    Maker,
    Measured,
    Told,
    ends,
    guideline,
    guidelines,
    shown,
    span_of,
    told,
    value_of,
)
from kb.desk.records import work_records as work
from kb.desk.studio import Studio
from kb.model.question import Plain
from kb.science.cited import Span
from kb.science.numbers import above_zero, counted
from kb.science.sheet.paper import Gap, Held, days_left, gap_mm, lux_hours, sheet_mass_g, uv_uw_cm2

if TYPE_CHECKING:
    from kb.desk.sheet.facts import SheetFacts

Along = Literal["width", "height", "unknown"]
"""Which edge the grain runs along."""
Grain = Literal["machine", "cross", "unknown"]
"""The direction of the grain against the length that moves."""
MODEL_GAP = "length x coefficient x change of humidity"
MODEL_LIGHT = "lux x hours"
CLIMATES = ("bs4971", "bizot", "bs5454", "ashrae-c", "ashrae-d")
SMALL_MM, LARGE_MM = 300.0, 600.0
"""Widths at which customary hinges change their size and number."""
DAYS = 365.0
DISCLAIMER = (
    "Ranges, nearly all customary or from memory. Measure your own paper's movement where it matters."
)


class Framed(NamedTuple):
    """What is housed. Zero: not known."""

    width_mm: float
    height_mm: float
    grammage_g_m2: float = 0.0
    mass_g: float = 0.0
    thickness_mm: float = 0.0
    grain: Along = "unknown"
    rh_from: float = 0.0
    rh_to: float = 0.0
    standard: str = ""
    """A standard whose humidity range is taken, instead of rh_from and rh_to."""
    held: Held = "one-edge"
    """one-edge: hung from the top; centre: held in the middle."""
    window_mount: bool = True
    sensitivity: Literal["high", "medium", "low"] = "high"
    lux: float = 50.0
    hours_a_day: float = 8.0
    days: float = 90.0


class GapView(Plain, frozen=True, kw_only=True):
    """The gap along one direction. ``other`` is the same by another source's coefficient."""

    direction: Literal["left and right", "top and bottom"]
    length: Measured
    coefficient: Measured
    movement: Measured
    gap: Measured
    """At the edge that takes the movement: each side, or the one opposite the hinges."""
    advised: Measured
    beyond_custom: bool
    other: tuple[Measured, ...]


class HingeView(Plain, frozen=True, kw_only=True):
    count: Measured
    width: Measured
    tissue: Measured
    mass: Measured | None
    paste_band: Measured
    below_edge: Measured
    press: Measured
    rules: tuple[Told, ...]


class Layer(Plain, frozen=True, kw_only=True):
    """One layer in the rebate, front to back."""

    name: str
    depth: Measured


class LightView(Plain, frozen=True, kw_only=True):
    sensitivity: str
    taken: str
    """What the verdict rests on, typed or not: sensitivity, lux, hours and days."""
    dose: Measured
    year: Measured
    share_of_year: Measured
    days_left: Measured
    """Days at this light that the year still holds after this display."""
    over_budget: bool
    most_lux: Measured
    too_bright: bool
    uv: Measured
    uv_on_sheet: Measured


class ClimateView(Plain, frozen=True, kw_only=True):
    id: str
    name: str
    humidity: Measured | None
    temperature: Measured | None


class HousingAnswer(Plain, frozen=True, kw_only=True):
    humidity: Measured
    gaps: tuple[GapView, ...]
    hinges: HingeView
    layers: tuple[Layer, ...]
    depth: Measured
    light: LightView
    climates: tuple[ClimateView, ...]
    rules: tuple[Told, ...]
    """What is known of how paper moves."""
    disclaimer: str


def house(studio: Studio, framed: Framed) -> HousingAnswer:
    """Gap, hinges, depth, light and climate. Raises DeskError for figures that cannot be."""
    make = Maker(studio)
    with in_a_sentence():
        humidity = _humidity(make, framed)
        low, high = humidity.low or 0.0, humidity.high or 0.0
        layers = tuple(_layers(make, framed))
        return HousingAnswer(
            humidity=humidity,
            gaps=(
                _gap(make, framed, "left and right", low, high),
                _gap(make, framed, "top and bottom", low, high),
            ),
            hinges=_hinges(make, framed),
            layers=layers,
            depth=make.sum(
                [one.depth for one in layers], "mm", "sum of the layers", "what the rebate must hold"
            ),
            light=_light(make, framed),
            climates=tuple(_climates(make)),
            rules=told(studio, "movement"),
            disclaimer=DISCLAIMER,
        )


def _humidity(make: Maker, framed: Framed) -> Measured:
    if framed.standard:
        known = guideline(make.studio, f"climate-{standard_id(framed.standard)}-rh")
        if known.figure.low is None or known.figure.high is None:
            raise DeskError(f"{known.name} names no lowest humidity; give the range of humidity itself.")
        note = known.name
        return make.span(known.figure.low, known.figure.high, "% RH", "guideline", known.figure.sources, note)
    if not 0.0 <= framed.rh_from < framed.rh_to <= 100.0:
        raise ValueError("the humidity runs from a lower to a higher per cent, for instance 40 to 60 %")
    return make.span(framed.rh_from, framed.rh_to, "% RH", "asked for", ("computed",))


def standard_id(text: str) -> str:
    plain = text.strip().lower().replace(" ", "").replace("_", "-")
    found = [one for one in CLIMATES if plain == one or plain == one.replace("-", "")]
    if not found:
        raise DeskError(f'There is no standard "{text}"; there are {", ".join(CLIMATES)}.')
    return found[0]


def _gap(
    make: Maker,
    framed: Framed,
    direction: Literal["left and right", "top and bottom"],
    low: float,
    high: float,
) -> GapView:
    across = direction == "left and right"
    length = framed.width_mm if across else framed.height_mm
    grain = _grain(framed.grain, across)
    # Hung from the top, the sheet keeps its middle between left and right and moves downwards.
    held: Held = "centre" if across else framed.held
    clearance = value_of(make.studio, "gap-clearance")
    span = span_of(make.studio, f"movement-{grain}")

    def by(coefficient: Span) -> Gap:
        return gap_mm(length, low, high, coefficient, clearance_mm=clearance, held=held)

    found = by(span)
    where = "each side" if held == "centre" else "at the edge away from the hinges"
    sources = (span.source, "project")
    least = span_of(make.studio, "gap-least").low
    # Nobody cuts a rebate to a hundredth of a millimetre.
    leave = math.ceil(2.0 * max(found.high_mm, least)) / 2.0
    return GapView(
        direction=direction,
        length=make.one(length, "mm", "asked for", ("computed",)),
        coefficient=make.guide(f"movement-{grain}"),
        movement=make.span(found.movement.low, found.movement.high, "mm", MODEL_GAP, (span.source,)),
        gap=make.span(found.low_mm, found.high_mm, "mm", MODEL_GAP, sources, f"{where}, clearance included"),
        advised=make.one(leave, "mm", MODEL_GAP, (span.source, "common-practice"), where),
        beyond_custom=found.beyond_custom,
        other=tuple(_others(make, grain, by)),
    )


def _grain(along: Along, across: bool) -> Grain:
    if along == "unknown":
        return "unknown"
    return "machine" if (along == "width") == across else "cross"


def _others(make: Maker, grain: Grain, by: Callable[[Span], Gap]) -> Iterator[Measured]:
    """The gap by the coefficients of other sources, which are kept and shown."""
    for one in guideline(make.studio, f"movement-{grain}").figure.others:
        if not (figures := ends(one)):
            continue
        found = by(Span(figures[0], figures[1], one.sources[0], True, one.note))
        yield make.span(found.low_mm, found.high_mm, "mm", MODEL_GAP, one.sources, one.note)


def _hinges(make: Maker, framed: Framed) -> HingeView:
    mass = framed.mass_g
    if not mass and framed.grammage_g_m2:
        mass = sheet_mass_g(framed.width_mm, framed.height_mm, framed.grammage_g_m2)
    width = framed.width_mm
    size = "small" if width < SMALL_MM else "medium" if width <= LARGE_MM else "large"
    return HingeView(
        count=make.guide("hinge-count-large" if size == "large" else "hinge-least"),
        width=make.guide(f"hinge-width-{size}"),
        tissue=make.guide(f"hinge-tissue-{_hinge_weight(make, mass)}"),
        mass=make.one(mass, "g", "area x grammage", ("computed",)) if mass else None,
        paste_band=make.guide("hinge-paste-band"),
        below_edge=make.guide("hinge-below-edge"),
        press=make.guide("press-hinge"),
        rules=told(make.studio, "hinging"),
    )


def _hinge_weight(make: Maker, mass: float) -> str:
    """Of a sheet whose mass is not known the lightest is taken: a hinge must be weaker than the sheet."""
    if mass <= value_of(make.studio, "hinge-light-up-to"):
        return "light"
    return "medium" if mass <= value_of(make.studio, "hinge-medium-up-to") else "heavy"


def _layers(make: Maker, framed: Framed) -> Iterator[Layer]:
    names = ["stack-glazing", "stack-window-mount" if framed.window_mount else "stack-spacer"]
    for name in names:
        yield Layer(name=guideline(make.studio, name).name, depth=make.guide(name))
    if framed.thickness_mm:
        depth = make.one(framed.thickness_mm, "mm", "asked for", ("computed",))
        yield Layer(name="The sheet", depth=depth)
    for name in ("stack-mount-back", "stack-backing", "stack-clearance"):
        yield Layer(name=guideline(make.studio, name).name, depth=make.guide(name))


def _light(make: Maker, framed: Framed) -> LightView:
    year_id = f"light-year-{framed.sensitivity}"
    year, uv = make.guide(year_id), make.guide("light-uv")
    uv_on_sheet = uv_uw_cm2(value_of(make.studio, "light-uv"), framed.lux)
    dose = lux_hours(framed.lux, framed.hours_a_day, framed.days)
    if not 0 < framed.days <= DAYS:
        raise ValueError(f"a display in one year lasts up to {DAYS:g} days, not {framed.days:g}")
    limit = above_zero(value_of(make.studio, year_id), f"the guideline {year_id}")
    left = days_left(limit, dose, framed.lux, framed.hours_a_day)
    sources = year.sources
    return LightView(
        sensitivity=framed.sensitivity,
        taken=f"taken as {framed.sensitivity} sensitivity at {framed.lux:g} lux, "
        f"{framed.hours_a_day:g} h a day on {counted(framed.days, 'day')}",
        dose=make.one(dose, "lux h", MODEL_LIGHT, ("computed",)),
        year=year,
        share_of_year=make.one(100.0 * dose / limit, "%", MODEL_LIGHT, sources),
        days_left=make.one(
            left, "days", MODEL_LIGHT, sources, "" if left < math.inf else "without end: it lies in the dark"
        ),
        over_budget=dose > limit,
        most_lux=make.guide("light-lux-paper"),
        too_bright=framed.lux > value_of(make.studio, "light-lux-paper"),
        uv=uv,
        uv_on_sheet=make.one(uv_on_sheet, "µW/cm2", "share x lux", uv.sources),
    )


def _climates(make: Maker) -> Iterator[ClimateView]:
    """Every standard of the catalogue that says something of a room."""
    known = {one.id: one for one in guidelines(make.studio, "climate")}
    for id in dict.fromkeys(one.rsplit("-", 1)[0] for one in known):
        rh, temperature = f"{id}-rh", f"{id}-temperature"
        name = (known.get(rh) or known[temperature]).name.rsplit(":", 1)[0]
        yield ClimateView(
            id=id.removeprefix("climate-"),
            name=name,
            humidity=make.guide(rh) if rh in known else None,
            temperature=make.guide(temperature) if temperature in known else None,
        )


NO_GAP = "Type the gap that was left: it is held against the one that the sheet needs."
WITH_A_GAP = {"", "frame", "window mat"}
"""Places in which a sheet stands between edges; empty: not said yet."""


def answer(studio: Studio, housing: Housing) -> dict[str, Any]:
    """What `notes` says, by its name."""
    return {"gap": notes(studio, housing)}


def notes(studio: Studio, housing: Housing) -> tuple[str, ...]:
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


def said(studio: Studio, housing: Housing) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """How it is understood while it is typed: whether the gap is enough, and what speaks against it."""
    gaps = notes(studio, housing)
    small = tuple(text for text in gaps if "TOO SMALL" in text)
    if not gaps:
        asks = housing.into in WITH_A_GAP
        return ((NO_GAP if asks else f"It will say: {work.words_of(studio, HOUSING, housing)}",), ())
    return (tuple(text for text in gaps if text not in small), small)
