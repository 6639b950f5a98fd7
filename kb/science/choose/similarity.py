"""How much a test on one class says about another: 1 for the same, towards 0 for nothing in common.

The weight of a recorded test is the product of the weights of its features. The figures are this
project's own, chosen by simulation; they are not measurements of real materials. An empty id means "not
known", and what is not known is never the same as anything.
"""

from __future__ import annotations

import math

from kb.science.liquids.solubility import Hsp, distance

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
