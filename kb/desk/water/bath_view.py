"""The answer about a bath: plain structures whose JSON form is stable."""

from __future__ import annotations

from typing import Literal

from kb.desk.choose.cautions import CautionView
from kb.desk.errors import DeskError
from kb.desk.materials.measured import Measured
from kb.model.question import Plain

Air = Literal["open", "closed"]


class BathRefused(DeskError):
    """No bath of that kind can be had. ``why`` is a code; ``nearest_ph`` what can be reached, if known."""

    def __init__(self, why: str, text: str, nearest_ph: float | None = None) -> None:
        near = "" if nearest_ph is None else f" The nearest pH that can be reached is {nearest_ph:.2f}."
        super().__init__(f"{text[:1].upper()}{text[1:]}.{near}")
        self.why = why
        self.nearest_ph = nearest_ph


class Named(Plain, frozen=True, kw_only=True):
    """An amount of something by its name."""

    name: str
    amount: Measured


class Precipitate(Plain, frozen=True, kw_only=True):
    """A solid that drops: per litre and in the whole bath."""

    name: str
    per_litre: Measured
    in_bath: Measured


class Moment(Plain, frozen=True, kw_only=True):
    """The pH to expect after some hours in the air; the pace is uncertain, so it is a range."""

    hours: float
    ph: Measured


class DriftView(Plain, frozen=True, kw_only=True):
    """How an open bath moves from fresh to balanced with the air."""

    fresh_ph: Measured
    moments: tuple[Moment, ...]
    end_ph: Measured
    drops_at_end: tuple[Precipitate, ...]
    depth: Measured
    note: str


class CapacityView(Plain, frozen=True, kw_only=True):
    """Acid that a litre of bath takes up."""

    hydroxide: Measured
    neutralising: Measured
    with_solids: Measured


class ReserveView(Plain, frozen=True, kw_only=True):
    """Alkaline reserve to expect from one dip dried in place, and what it takes to reach the floor."""

    mol_kg: Measured
    percent_caco3: Measured
    floor: Measured
    floor_percent_caco3: Measured
    meets_floor: Literal["yes", "in part", "no"]
    """``in part``: the upper end of the range does, the lower does not."""
    dips_for_floor: Measured | None
    """Dips with drying between them; None if a dip leaves nothing. Where the sheet's acid is not known it
    is left out of this."""
    told_in_practice: Measured | None
    acid_known: bool


class SheetView(Plain, frozen=True, kw_only=True):
    dry_mass: Measured
    acid: Measured
    offered: Measured
    times_over: Measured | None
    baths_for_acid: Measured
    least_water: Measured
    enough_water: bool


IF_THERE = {"stop": "no such bath", "warn": "test with the bath first", "note": "mind"}


class BathAnswer(Plain, frozen=True, kw_only=True):
    """A bath at equilibrium and how to make it. For an open bath the figures are those of the end state."""

    reagent: str
    name: str
    formula: str
    volume: Measured
    temperature: Measured
    air: Air
    target_ph: float | None
    amount: Measured
    weigh: tuple[Named, ...]
    """More than one entry means: any one of them."""
    stock: Measured | None
    """Clear saturated limewater to measure out instead."""
    how: tuple[str, ...]
    ph: Measured
    ph_under_gas: Measured | None
    ph_if_a_tenth_off: Measured
    unsteady: bool
    ionic_strength: Measured
    beyond_model: bool
    species: tuple[Named, ...]
    precipitates: tuple[Precipitate, ...]
    drift: DriftView
    capacity: CapacityView
    reserve: ReserveView
    reserve_fresh: ReserveView
    """If the sheet is dipped at once; of a bicarbonate, while it is still full of gas."""
    sheet: SheetView | None
    cautions: tuple[CautionView, ...]
    cautions_here: int
    """How many of them speak of what was named, or of any bath; the others come last."""
    warnings: tuple[str, ...]
    model: str
    disclaimer: str

    @property
    def unnamed(self) -> tuple[str, ...]:
        """What rules say of media, papers and carriers that were not named, a line for each severity.

        In full and headed "stop" they read as if this sheet were meant.
        """
        found: dict[str, list[str]] = {}
        for rule in self.cautions[self.cautions_here :]:
            _, _, of_sheet = rule.where.partition("; ")
            found.setdefault(IF_THERE[rule.severity], []).append(of_sheet)
        return tuple(f"Not named; if it is there, {what}: {'; '.join(on)}." for what, on in found.items())
