"""What to test next: a chemistry prior, weighted tests, and an index with a stop.

A recorded test speaks for a question with a weight (at the end). Weighted tests move a beta distribution that
starts from chemistry. Every figure in capitals here is this project's own, chosen by simulation, unless a
source stands beside it; none is a measurement of real materials.
"""

import math
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import NamedTuple

from kb.science.liquids.solubility import Hsp, distance

STEEPNESS = 0.8
"""Chance = 1 / (1 + exp(-STEEPNESS z)) for a score z in logits."""
# Two radii further out nothing dissolves any less.
RED_CAP = 3.0
"""Beyond this RED a liquid is simply outside; being further out changes nothing."""
RELEASE_BASE, RELEASE_SLOPE, RELEASE_LIMITS = -0.3, 3.0, (-4.5, 3.5)
HARM_BASE, HARM_SLOPE, HARM_LIMITS = -0.7, 2.5, (-4.0, 3.0)
"""Deliberately pessimistic: chemistry alone foresees more harm than the simulated worlds held."""
STAGE_TERMS = {0: 0.3, 1: 0.0, 2: -0.9}
"""Fresh, softening or oxidising, cross-linked."""
CARRIER_TERMS = {"film": -0.7, "porous": 0.0, "none": 0.4}
RELEASE_CONTACT_TERMS = {"free": -0.3, "confined": 0.3}
HARM_CONTACT_TERMS = {"free": 0.15, "confined": -0.15}
UNKNOWN_PRIOR = 0.30
"""Chance of either event where no sphere of the material is known (not simulated)."""

PRIOR_TESTS = 3.0
"""How many tests chemistry is worth."""
STUDIO_CEILING = 20.0
"""What endless tests of one studio in one cell count at most."""
LEAST_WEIGHT = 0.1
"""A cell that speaks with less is left out."""
RING_EDGES = (LEAST_WEIGHT, 0.25, 0.5)
"""Lower edges of the three rings of similar tests."""
# Products of weights such as 0.6 x 0.6 x ... fall just below an edge by rounding.
EDGE_SLACK = 1e-12
OWN_CEILING = 60.0
RING_CEILINGS = (0.6, 1.8, 6.0)
"""What endless tests count at most, in tests: pooled logs are biased, and similar is not the same."""
_CEILINGS = (OWN_CEILING, *RING_CEILINGS)
OBSERVED_SHARE = 0.5
"""Half of what chemistry expects to differ between a cell and the question is added to the cell's rate."""
# Never certain: a chance of 0 or 1 could not be moved by any test, and its logit is not finite.
MEAN_LIMITS = (0.01, 0.99)

OBJECT_TESTS = 6.0
"""What all evidence from elsewhere counts at most against the spots on this object."""
# Spots on one sheet share paper, age and hand, so each says a little of every liquid.
SPOT_WEIGHT = 0.4
"""The least that a spot on this object says about any other liquid."""

UNFAMILIAR_COST = 2.0
"""Cost of a liquid that nobody has reported or tested; the first report halves it."""
RESIDUE_COST = 2.0
"""Cost of a liquid that stays in the sheet and must be cleared."""
KEEP_FROM = 0.5
"""A liquid likelier than this to release safely is proposed whatever the ceiling."""
HAZARD_COST = 0.5
"""Cost of the most hazardous liquid, in units of one harmless spot."""

EVEN, VERY = 10, 40
"""Per cent from fifty: up to the first a chance is about even, beyond the second very likely or unlikely."""


LEAST_MIXTURE_TESTS = 0.5
"""A mixture of opposites is no less certain than half a test; this project's own figure."""


class Posterior(NamedTuple):
    """A chance as a beta distribution: ``a`` tests' worth of yes, ``b`` of no."""

    a: float
    b: float

    @property
    def mean(self) -> float:
        """The chance itself, strictly between 0 and 1."""
        return self.a / (self.a + self.b)

    @property
    def total(self) -> float:
        """How many tests the chance rests on, chemistry included."""
        return self.a + self.b


def release_prior(red: float | None, position: int, through: str, contact: str, offset: float = 0.0) -> float:
    """Chance of release from chemistry alone.

    ``red`` is that of the liquid and the adhesive (None: no sphere known), ``position`` the ageing stage
    0..2, ``through`` what the carrier lets pass (film, porous, none), ``contact`` free or confined, and
    ``offset`` logits for anything else that is known. Without a sphere only the offset counts. Raises
    ValueError for a value outside these lists and for a RED below zero.
    """
    # Without a sphere the terms of stage and carrier have nothing to act on.
    if red is None:
        return _unknown(offset, RELEASE_LIMITS)
    try:
        terms = STAGE_TERMS[position] + CARRIER_TERMS[through] + RELEASE_CONTACT_TERMS[contact]
    except KeyError as error:
        raise ValueError(f"not a stage, carrier or contact of the prior: {error}") from None
    return _chance(RELEASE_BASE + RELEASE_SLOPE * _inside(red) + terms + offset, RELEASE_LIMITS)


def mean_release(
    reds: Sequence[float], position: int, through: Sequence[str], contact: str, offset: float
) -> float:
    """The mean of :func:`release_prior` over all ``reds`` and all that a carrier may let ``through``."""
    terms = _release_terms(position, tuple(through), contact)
    total = 0.0
    for red in reds:
        start = RELEASE_BASE + RELEASE_SLOPE * _inside(red)
        for term in terms:
            total += _chance(start + term + offset, RELEASE_LIMITS)
    return total / (len(reds) * len(terms))


@lru_cache(maxsize=64)
def _release_terms(position: int, through: tuple[str, ...], contact: str) -> list[float]:
    return [STAGE_TERMS[position] + CARRIER_TERMS[one] + RELEASE_CONTACT_TERMS[contact] for one in through]


def harm_prior(red: float | None, sensitivity: float, contact: str) -> float:
    """Chance of harm from chemistry alone.

    ``red`` is that of the liquid and the medium (None: no sphere known), ``sensitivity`` the medium's
    offset in logits, ``contact`` free or confined. Without a sphere only the sensitivity counts. Raises
    ValueError for another contact and for a RED below zero.
    """
    if red is None:
        return _unknown(sensitivity, HARM_LIMITS)
    if contact not in HARM_CONTACT_TERMS:
        raise ValueError(f"contact must be free or confined, not {contact!r}")
    z = HARM_BASE + HARM_SLOPE * _inside(red) + HARM_CONTACT_TERMS[contact] + sensitivity
    return _chance(z, HARM_LIMITS)


def _inside(red: float) -> float:
    """1 at the centre of the sphere, 0 on its surface, down to -2 far outside."""
    if not red >= 0:
        raise ValueError(f"RED must be zero or more, not {red}")
    return 1.0 - min(red, RED_CAP)


def _unknown(offset: float, limits: tuple[float, float]) -> float:
    # The chance that was set for "nothing known", to the last figure.
    if offset == 0:
        return UNKNOWN_PRIOR
    return _chance(math.log(UNKNOWN_PRIOR / (1.0 - UNKNOWN_PRIOR)) / STEEPNESS + offset, limits)


def _chance(z: float, limits: tuple[float, float]) -> float:
    if math.isnan(z):
        raise ValueError("the score of a prior is not a number")
    low, high = limits
    return 1.0 / (1.0 + math.exp(-STEEPNESS * (low if z < low else min(z, high))))


def discount(m: float) -> float:
    """What ``m`` tests of one studio in one cell count: 1 for the first, never more than STUDIO_CEILING."""
    if not m >= 0:
        raise ValueError(f"a number of tests must be zero or more, not {m}")
    # Saturates: test after test of one cell in one studio says ever less that is new.
    return m * STUDIO_CEILING / (m + STUDIO_CEILING - 1.0)


def combine(p0: float, own: tuple[float, float], rings: Sequence[tuple[float, float]]) -> Posterior:
    """Chemistry and grouped tests in one beta distribution.

    Each group is (E, sum of E_j v_j): its weighted tests, and its weighted corrected rates. ``own`` is the
    question's own class, ``rings`` are the three of RING_EDGES in that order. Raises ValueError if there are
    not three rings or if ``p0`` does not lie between 0 and 1.
    """
    if not 0.0 < p0 < 1.0:
        raise ValueError(f"a prior must lie between 0 and 1, not {p0}")
    total = PRIOR_TESTS
    events = PRIOR_TESTS * p0
    # Each group under a ceiling of its own: similar is not the same, however many there are.
    for (tests, rated), ceiling in zip((own, *rings), _CEILINGS, strict=True):
        if tests > 0.0:
            worth = ceiling * tests / (ceiling + tests)
            total += worth
            events += worth * (rated / tests)
    # Limited at the end and not in the sums, so that each test still moves the total.
    mean, (low, high) = events / total, MEAN_LIMITS
    mean = low if mean < low else high if mean > high else mean
    return Posterior(mean * total, (1.0 - mean) * total)


def on_object(
    posterior: Posterior, spots: Iterable[tuple[float, bool]], least: float = SPOT_WEIGHT
) -> Posterior:
    """The chance on this object, from the general one and the spots already made here.

    A spot is (similarity 0..1 of its liquid to the one in question, whether the event happened). ``least`` is
    what it says about a liquid that is not like it at all.
    """
    # Scaled down and not cut: the mean stays, and spots here can turn it.
    a, b = posterior
    scale = OBJECT_TESTS / (a + b)
    if scale < 1.0:
        a, b = a * scale, b * scale
    return with_spots(Posterior(a, b), spots, least)


def with_spots(
    posterior: Posterior, spots: Iterable[tuple[float, bool]], least: float = SPOT_WEIGHT
) -> Posterior:
    """The same of a chance that is one on this object already."""
    a, b = posterior
    for similarity, happened in spots:
        weight = similarity if similarity > least else least
        if happened:
            a += weight
        else:
            b += weight
    return Posterior(a, b)


def with_part(posterior: Posterior, part: float, spots: Sequence[tuple[float, bool]]) -> Posterior:
    """The same after spots that tell of one part of it alone, whose chance by chemistry is ``part``.

    The whole happens where the part does or what else there is; of that the spots say nothing.
    """
    if not spots:
        return posterior
    mean, (low, high) = posterior.mean, MEAN_LIMITS
    part = min(part, mean)
    after = with_spots(Posterior(part * PRIOR_TESTS, (1.0 - part) * PRIOR_TESTS), spots).mean
    mean = max(low, min(1.0 - (1.0 - mean) * (1.0 - after) / (1.0 - part), high))
    return Posterior(mean * posterior.total, (1.0 - mean) * posterior.total)


def mixture(parts: Sequence[tuple[float, Posterior]]) -> Posterior:
    """One beta distribution with the mean and variance of a weighted mixture of several.

    ``parts`` are (weight, posterior); weights are positive and need not sum to 1. Raises ValueError if
    there are none.
    """
    # One part is itself; going through mean and variance would cost figures.
    if len(parts) == 1 and parts[0][0] > 0:
        return parts[0][1]
    total = math.fsum(weight for weight, _ in parts)
    if not total > 0:
        raise ValueError("a mixture needs at least one part with a weight")
    mean = math.fsum(weight * one.mean for weight, one in parts) / total
    square = math.fsum(
        weight * (one.mean * (1 - one.mean) / (one.total + 1) + one.mean**2) for weight, one in parts
    )
    # Rounding may leave a variance just below nothing.
    variance = max(square / total - mean**2, 1e-12)
    tests = max(mean * (1 - mean) / variance - 1.0, LEAST_MIXTURE_TESTS)
    return Posterior(mean * tests, (1 - mean) * tests)


def safe_release(p_release: float, p_harm: float) -> float:
    """Chance that a spot releases the adhesive and harms nothing, the two taken as independent."""
    return p_release * (1.0 - p_harm)


def index(
    p_release: float, p_harm: float, hazard: float, harm_aversion: float, worth: float, more: float = 0.0
) -> float:
    """What a spot with this liquid is worth, in units of one harmless spot; test only above zero.

    ``hazard`` 0..1 is the liquid's, ``harm_aversion`` the cost of harm, ``worth`` the value of a safe release
    and ``more`` any further cost of this liquid, in the same unit. It is the reservation price of a one-shot
    box: M. L. Weitzman, Optimal search for the best alternative, Econometrica 47(3), 1979. Minus infinity
    where no safe release is possible.
    """
    chance = safe_release(p_release, p_harm)
    cost = 1.0 + harm_aversion * p_harm + HAZARD_COST * hazard + more
    # Where no safe release can come, no price is low enough.
    return worth - cost / chance if chance > 0.0 else -math.inf


def further_cost(named: float, *, lingers: bool) -> float:
    """Cost, in harmless spots, of what nobody knows and of what stays in the sheet.

    ``named`` is in how many reports and tests the liquid is named. Familiarity is a cost of the decision
    only; it never touches the chance of release.
    """
    # Halved by the first report: from never to once is the step that matters.
    return UNFAMILIAR_COST / (1.0 + named) + (RESIDUE_COST if lingers else 0.0)


def in_words(p: float) -> str:
    """A chance in words, on this project's own scale: the same on both sides of even, and of the per cent as
    it is printed. Raises ValueError for what is no chance.
    """
    if not 0.0 <= p <= 1.0:
        raise ValueError(f"a chance must lie from 0 to 1, not {p}")
    points = round(100.0 * p) - 50
    if abs(points) <= EVEN:
        return "about even"
    return f"{'very ' if abs(points) > VERY else ''}{'likely' if points > 0 else 'unlikely'}"


def in_words_of_several(p: float, most: float) -> str:
    """A chance in words for one of several things of which one is true; ``most`` is that of the likeliest.

    There the first may be below even and is no less the first: "unlikely" of it, or of one half as likely,
    would be read as a no.
    """
    said = in_words(p)
    if "unlikely" not in said:
        return said
    if p >= most:
        return "likeliest yet"
    return "possible" if said == "unlikely" or 2.0 * p >= most else said


# -- how much a test on one class says about another ---------------------------------------------------------
# The weight of a recorded test is the product of the weights of its features: 1 for the same, towards 0 for
# nothing in common. An empty id means "not known", and what is not known is never the same as anything.

ADHESIVE_GROUP = 0.6
"""Another adhesive of the same chemistry group."""
ADHESIVE_OTHER = 0.25
STAGE_NEXT = 0.6
"""A neighbouring ageing stage."""
STAGE_FAR = 0.3
# Nearly the same: what a carrier lets through is in the chemistry of the test already.
CARRIER_OTHER = 0.95
METHOD_OTHER = 0.97
MEDIUM_KIN = 0.5
"""Another medium that the same liquids attack."""
MEDIUM_OTHER = 0.25
PAPER_OTHER = 0.7
LIQUID_NEAR = 0.8
"""Another liquid at the same point of Hansen space."""
LIQUID_RANGE = 4.0
"""Width of the fall with Hansen distance, MPa^0.5."""
LIQUID_FAMILY = 0.15
"""The least weight within a chemical family."""
UNSTATED = 0.5
"""Weight of a feature that a printed report does not state."""


def adhesive_weight(a_id: str, a_group: str, b_id: str, b_group: str) -> float:
    """Weight between two adhesives, from their ids and chemistry groups."""
    return _kinship(a_id, a_group, b_id, b_group, ADHESIVE_GROUP, ADHESIVE_OTHER)


def medium_weight(a_id: str, a_kin: str, b_id: str, b_kin: str) -> float:
    """Weight between two media, from their ids and kin. An empty kin is kin of nothing."""
    return _kinship(a_id, a_kin, b_id, b_kin, MEDIUM_KIN, MEDIUM_OTHER)


def stage_weight(pos_a: int, pos_b: int) -> float:
    """Weight between two ageing stages, from their positions 0, 1, 2."""
    # Positions and not names: the fresh stage of rubber and of paste are called differently.
    apart = abs(pos_a - pos_b)
    if apart == 0:
        return 1.0
    return STAGE_NEXT if apart == 1 else STAGE_FAR


def carrier_weight(a: str, b: str) -> float:
    """Weight between two carriers."""
    return _same(a, b, CARRIER_OTHER)


def method_weight(a: str, b: str) -> float:
    """Weight between two ways to put a liquid on."""
    return _same(a, b, METHOD_OTHER)


def paper_weight(a: str, b: str) -> float:
    """Weight between two papers."""
    return _same(a, b, PAPER_OTHER)


def liquid_weight(a_hsp: Hsp | None, b_hsp: Hsp | None, same_family: bool, identical: bool) -> float:
    """Weight between two liquids or blends, from their Hansen parameters and family.

    1 for the identical liquid; otherwise it falls with Hansen distance, but within a family not below
    LIQUID_FAMILY. Where the parameters of either are not known, only the family speaks.
    """
    if identical:
        return 1.0
    # A family without parameters still says a little.
    family = LIQUID_FAMILY if same_family else 0.0
    if a_hsp is None or b_hsp is None:
        return family
    steps = distance(a_hsp, b_hsp) / LIQUID_RANGE
    # The fall of a bell curve: near liquids lose little, far ones all.
    return max(LIQUID_NEAR * math.exp(-steps * steps / 2.0), family)


def _same(a: str, b: str, other: float) -> float:
    # What is not known is never the same, not even as another thing not known.
    return 1.0 if a and a == b else other


def _kinship(a_id: str, a_group: str, b_id: str, b_group: str, kin: float, other: float) -> float:
    if a_id and a_id == b_id:
        return 1.0
    return kin if a_group and a_group == b_group else other
