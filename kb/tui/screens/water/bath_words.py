"""A bath in words. No widgets, no I/O."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from textual.content import Content

from kb.desk.canvas import AXIS, Axis, Course, curve
from kb.desk.signs import Signs
from kb.desk.water.bath_view import BathAnswer, Precipitate, ReserveView
from kb.tui.drawing import drawn, labelled

AIR = {"open": "after standing open, as it ends", "closed": "as it is made and used"}
MOST_DIPS = 20
"""More dips than this are told as out of reach."""
Section = tuple[str, list[str]]


LABEL = 10
ROWS = 6
HIGH, LOW = "high", "low"
COLOURS = {HIGH: "$primary 60%", LOW: "$primary", AXIS: "$secondary"}


def seen_first(one: BathAnswer, width: int, signs: Signs) -> list[Content]:
    """Three lines that one reads at arm's length, and how the pH goes."""
    weigh = " or ".join(f"{part.amount.words} {part.name}" for part in one.weigh)
    if one.stock:
        weigh += f", or measure {one.stock.words}"
    moving = one.drift
    later = f"{_one(moving.fresh_ph.value)} fresh, {_one(moving.end_ph.value)} in the end, in the open"
    lines = [
        *labelled("Weigh", signs.short(weigh), LABEL, width, "bold"),
        *labelled("pH", later, LABEL, width, "bold"),
    ]
    hours = [moment.hours for moment in moving.moments]
    ends = [
        (LOW, [(0.0, moving.fresh_ph.value), *((one.hours, one.ph.low) for one in moving.moments)]),
        (HIGH, [(0.0, moving.fresh_ph.value), *((one.hours, one.ph.high) for one in moving.moments)]),
    ]
    courses = [Course(layer, [(x, y) for x, y in points if y is not None]) for layer, points in ends]
    values = [y for course in courses for _, y in course.points]
    if not values or not hours:
        return [*lines, Content("")]
    # A pH that does not move is drawn as a level line and not blown up.
    low = min(values)
    high = max(*values, low + 1.0)
    canvas = curve(
        courses,
        Axis(0.0, max(hours), "0", f"{max(hours):g} h"),
        Axis(low, high, f"{low:.1f}", f"pH {high:.1f}"),
        min(width, 72),
        ROWS,
    )
    return [*lines, drawn(canvas.runs(), COLOURS), Content("")]


def _one(value: float | None) -> str:
    return "not known" if value is None else f"{value:.1f}"


def sections(one: BathAnswer) -> list[Section]:
    """Headings and their lines, what is needed first."""
    return [
        (f"{one.name}, {one.volume.words} at {one.temperature.words}, {AIR[one.air]}", list(one.how)),
        ("Mind", [f"! {text}" for text in one.warnings]),
        ("pH and what is in it", list(_inside(one))),
        ("Drift in the air", list(_drift(one))),
        ("Reserve and acid", list(_reserve(one))),
        ("Cautions", [f"{rule.severity.upper()}: {rule.text} {rule.instead}" for rule in one.cautions]),
        ("How it was reckoned", [one.model, one.disclaimer]),
    ]


def _inside(one: BathAnswer) -> Iterator[str]:
    yield f"pH {_two(one.ph.value)}; with a tenth more or less reagent {one.ph_if_a_tenth_off.words}"
    if one.ph_under_gas:
        yield f"While full of gas: {one.ph_under_gas.words}"
    yield "Dissolved: " + ", ".join(f"{part.name} {part.amount.words}" for part in one.species)
    yield f"Drops: {_dropped(one.precipitates)}"
    if one.beyond_model:
        yield "The bath is stronger than the model holds for: take the figures as a guide."


def _drift(one: BathAnswer) -> Iterator[str]:
    moving = one.drift
    yield f"Fresh pH {_two(moving.fresh_ph.value)}; depth in the tray {moving.depth.words}"
    for moment in moving.moments:
        yield f"  after {moment.hours:g} h  {moment.ph.words}"
    dropped = _dropped(moving.drops_at_end)
    yield f"In the end pH {_two(moving.end_ph.value)}; dropped by then: {dropped}. {moving.note}"


def _reserve(one: BathAnswer) -> Iterator[str]:
    yield f"A litre takes up {one.capacity.neutralising.words} of acid"
    yield _of_dip("One dip", one.reserve)
    if one.air == "open":
        yield _of_dip("One dip while fresh", one.reserve_fresh)
    if one.reserve.told_in_practice:
        yield f"Told of in practice: {one.reserve.told_in_practice.words}"
    if one.sheet is None:
        yield "The mass of the sheet is not given: how many baths it needs is left out."
        return
    little = "" if one.sheet.enough_water else f" TOO LITTLE WATER: at least {one.sheet.least_water.words}."
    yield (
        f"This sheet: acid {one.sheet.acid.words}, offered {one.sheet.offered.words}, needs "
        f"{one.sheet.baths_for_acid.words}.{little}"
    )


def _of_dip(what: str, reserve: ReserveView) -> str:
    dips = reserve.dips_for_floor
    reach = dips.words if dips and (dips.low or 0.0) <= MOST_DIPS else "this bath will not reach it"
    return (
        f"{what} leaves {reserve.mol_kg.words}, that is {reserve.percent_caco3.words}. Floor of permanent "
        f"paper {reserve.floor.words}: {reserve.meets_floor.upper()}; to reach it: {reach}"
    )


def _dropped(solids: Sequence[Precipitate]) -> str:
    return ", ".join(f"{one.name} {one.in_bath.words}" for one in solids) or "nothing"


def _two(value: float | None) -> str:
    return "not known" if value is None else f"{value:.2f}"
