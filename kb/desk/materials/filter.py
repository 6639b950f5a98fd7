"""Liquids by family, hazard, evaporation, and by what this studio holds and allows."""

from __future__ import annotations

from typing import Literal

from kb.desk.errors import DeskError
from kb.desk.materials.physical import all_records
from kb.desk.shelf.shelf import allowed as verdict_on
from kb.desk.studio import Studio
from kb.model.guidance import carries
from kb.model.liquid import Liquid, labelled
from kb.model.question import Plain
from kb.science.liquids import solubility

ROUNDED = 0.1
"""MPa^0.5; half a tenth of (cal/cm3)^0.5."""
Evaporation = Literal["fast", "medium", "slow"]
FAST_FROM, SLOW_TO = 3.0, 0.8
"""Relative rates, n-butyl acetate = 1: above 3.0 is fast, below 0.8 slow. The bounds that glossaries to
safety data sheets use, quoted from memory."""


class Material(Plain, frozen=True, kw_only=True):
    """One liquid of a filtered list. ``evaporation`` is empty where no rate is known: none is guessed."""

    id: str
    name: str
    family: str
    evaporation: str
    evaporation_rate: float | None
    statements: tuple[str, ...]
    held: bool
    allowed: bool
    why: str
    hildebrand: float | None
    """Total solubility parameter by Hansen's three, MPa^0.5."""


def liquids(
    studio: Studio,
    family: str | None = None,
    hazard: str | None = None,
    evaporation: Evaporation | None = None,
    held: bool | None = None,
    allowed: bool | None = None,
    hildebrand: tuple[float, float] | None = None,
) -> list[Material]:
    """Liquids that meet every filter given, by name.

    ``family`` is the id of a family or of its wider group, ``hazard`` a statement code that the label
    carries (``H360`` finds ``H360D``), ``hildebrand`` the total solubility parameter from and to, MPa^0.5.
    Where a figure is not known, a liquid meets no filter of it. Raises DeskError for a word of evaporation
    that is not known.
    """
    if evaporation not in {None, "fast", "medium", "slow"}:
        raise DeskError(f'"{evaporation}" is no word for evaporation; use fast, medium or slow.')
    found = [_material(studio, one) for one in all_records(studio)]
    groups = {liquid.id: {liquid.family, liquid.related} for liquid in studio.compiled.liquids}
    return [
        one
        for one in found
        if (not family or family in groups.get(one.id, {one.family}))
        and (not hazard or carries(hazard, one.statements))
        and (not evaporation or one.evaporation == evaporation)
        and (held is None or one.held is held)
        and (allowed is None or one.allowed is allowed)
        and (hildebrand is None or _within(one.hildebrand, hildebrand))
    ]


def _within(value: float | None, span: tuple[float, float]) -> bool:
    # Totals are printed to a tenth of either unit: what rounds to the figure is meant by it.
    return value is not None and span[0] - ROUNDED <= value <= span[1] + ROUNDED


def evaporation_word(rate: float | None) -> str:
    """fast, medium or slow for a relative rate (n-butyl acetate = 1); empty if there is none."""
    if rate is None:
        return ""
    return "fast" if rate > FAST_FROM else "slow" if rate < SLOW_TO else "medium"


def _material(studio: Studio, one: Liquid) -> Material:
    figure = one.evaporation_rate_butyl_acetate_1
    rate = None if figure is None else figure.best
    return Material.taken_from(
        one,
        verdict_on(studio.compiled, {one.id: 1.0}),
        evaporation=evaporation_word(rate),
        evaporation_rate=rate,
        statements=labelled(one),
        hildebrand=None
        if one.hansen is None
        else solubility.hildebrand((one.hansen.d, one.hansen.p, one.hansen.h)),
    )
