"""How a liquid acts on an adhesive, a medium, a paper and a carrier, before any test speaks.

Three ideas beside the sphere: large molecules dissolve less (the mixing parameter chi grows as RED^2 V), a
liquid that loosens adhesive from paper need not dissolve it (parting), and medium and paper are harmed
apart. Figures in capitals are this project's own, set once from typical questions and reports in print,
unless a source stands beside them.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from kb.science.choose.evidence import (
    HARM_CONTACT_TERMS,
    HARM_LIMITS,
    STAGE_TERMS,
    STEEPNESS,
    UNKNOWN_PRIOR,
    harm_prior,
    release_prior,
)
from kb.science.liquids.solubility import Hsp, distance

REFERENCE_VOLUME = 100.0
"""cm3/mol; a liquid of this molar volume keeps its RED."""
CELLULOSE: Hsp = (25.4, 18.6, 24.8)
"""Hansen 2007, table A.2 row 361 (loss of strength of paper), as in the catalogue's entry for cellulose."""
PARTING_SHARE = (0.3, 0.5, 0.8)
"""How much of the release is parting from the paper and not dissolving: fresh, oily, cross-linked."""
# Brings parting onto the scale of a RED, where 1 is the edge.
PARTING_SCALE = 0.8
DISPERSION_LOGITS = (2.5, 0.5, -2.0)
"""Water on an adhesive made to disperse in it, by stage: it lets go while new and no longer once aged."""
MEDIUM_CHANCE = {"stable": 0.05, "test with care": 0.15, "usually bleeds": 0.6, "unknown": UNKNOWN_PRIOR}
PAPER_CHANCE = {"stable": 0.05, "test with care": 0.15, "usually bleeds": 0.5, "unknown": 0.15}
"""Chance of harm by handbook grade: the same word means the same on medium and paper."""
CARRIER_HARM = 0.5
"""What a carrier that the liquid dissolves counts against harm to the sheet."""
EDGE = (0.9, 1.1)
"""RED from which a liquid is at the edge of a sphere, and up to which."""


def sized_red(red: float, volume: float | None) -> float:
    """RED as it acts for a molar volume in cm3/mol; chi is proportional to RED^2 V. Unknown: unchanged."""
    return red if volume is None else red * math.sqrt(volume / REFERENCE_VOLUME)


# By volume shares the amounts are volume over molar volume: a plain mean would give large molecules too
# much.
def blend_volume(volumes: Sequence[float], shares: Sequence[float]) -> float:
    """Mean molar volume of a blend, cm3/mol, from shares by volume: whole volume over whole amount."""
    return math.fsum(shares) / math.fsum(s / v for s, v in zip(shares, volumes, strict=True))


def parting(liquid: Hsp, adhesive: Hsp) -> float:
    """How far a liquid is from wetting adhesive and paper at once; read like a RED, small is good.

    (Ra^2 to adhesive + Ra^2 to cellulose) / Ra^2 between the two: a liquid halfway between both replaces
    the bond best.
    """
    whole = distance(adhesive, CELLULOSE) ** 2
    return (distance(liquid, adhesive) ** 2 + distance(liquid, CELLULOSE) ** 2) / whole / PARTING_SCALE


def acting_red(dissolving: float, part: float | None, position: int) -> float:
    """Dissolving and parting in one figure for an ageing stage; without parting, dissolving alone."""
    if part is None:
        return dissolving
    share = PARTING_SHARE[position]
    return (1 - share) * dissolving + share * part


def water_release(offset: float, position: int, *, disperses: bool) -> float:
    """Chance that water releases an adhesive by what handbooks say (``offset`` logits), not by its sphere."""
    # A response that speaks against water holds at every stage; one that speaks for it ends with ageing.
    if disperses and offset > 0:
        offset = DISPERSION_LOGITS[position]
    return release_prior(None, position, "none", "free", offset)


def medium_harm(red: float | None, grades: Iterable[str], contact: str, *, cured: bool = False) -> float:
    """Chance of harm to a medium: worst handbook grade and sphere, averaged in logits if both speak.

    A sphere tells what dissolves the fluid binder. Where it has dried to a network (``cured``) it counts
    less, by as much as a cross-linked adhesive is harder to release than a softening one.
    """
    # The worst grade of its parts: one part that bleeds the ink is enough.
    chance = max((MEDIUM_CHANCE[grade] for grade in grades), default=None)
    network = STAGE_TERMS[2] if cured and red is not None else 0.0
    if chance is None:
        return harm_prior(red, network, contact)
    z = logit(chance) + STEEPNESS * HARM_CONTACT_TERMS[contact]
    if red is not None:
        # The mean in logits: two sources of like standing, and neither may carry the other to an extreme.
        z = (z + logit(harm_prior(red, network, contact))) / 2
    return logistic(max(STEEPNESS * HARM_LIMITS[0], min(z, STEEPNESS * HARM_LIMITS[1])))


def paper_harm(grades: Iterable[str]) -> float:
    """Chance of harm to a paper by its worst handbook grade."""
    # Nothing said of a paper is not "stable".
    return max((PAPER_CHANCE[grade] for grade in grades), default=PAPER_CHANCE["unknown"])


def dissolves(red: float | None) -> float:
    """Share in which a liquid counts as dissolving: 1 inside a sphere, 0 outside, even across its edge."""
    if red is None:
        return 0.0
    # Straight across the edge: a sphere's radius is not known to better than a tenth.
    return max(0.0, min(1.0, (EDGE[1] - red) / (EDGE[1] - EDGE[0])))


def any_harm(chances: Iterable[float]) -> float:
    """Chance that at least one of several things is harmed, each on its own."""
    # As if independent: what else is known of how two harms go together is nothing.
    clear = 1.0
    for chance in chances:
        clear *= 1.0 - chance
    return 1.0 - clear


def side(red: float) -> str:
    """Where a RED lies: ``inside``, ``at the edge of`` or ``outside`` a sphere."""
    return "inside" if red < EDGE[0] else "at the edge of" if red <= EDGE[1] else "outside"


def at_edge(reds: Iterable[float]) -> bool:
    """Whether any RED lies across the edge of its sphere, so that nobody can say inside or outside."""
    return any(EDGE[0] <= red <= EDGE[1] for red in reds)


def logit(p: float) -> float:
    """ln(p / (1 - p)); raises ValueError at 0 and 1."""
    return math.log(p / (1.0 - p))


def logistic(z: float) -> float:
    """The inverse of :func:`logit`."""
    return 1.0 / (1.0 + math.exp(-z))
