"""Vapour in the air of a room over time: one well-mixed room, or a near field within it.

Units: mg, m3, min. Flows are effective flows (effective_flow_m3_min): mixing is a factor K of 1 or more
that divides the flow, never a fraction that multiplies it. "Never" is infinite time. Screening models: no
sink, no draught, no local exhaust.

Sources: the dilution balance as printed on a university formula page and an engineering table (seen), and
P. Hewett, Easy modeling, The Synergist, April 2017 (seen); the near-field flow after M. Nicas 1996 and
C. B. Keil and M. Nicas (from memory). Mean, instant release and time courses are derived from them.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from kb.science.guard import above_zero, zero_or_more

NEAR_RADIUS_M = 0.8
"""Customary radius of the near field; from memory."""
AIR_SPEED_M_MIN = (1.5, 3.6)
"""Random air speed indoors, low and typical; from memory."""


class Mode(NamedTuple):
    """One exponential of a zone's answer to a release: ``weight_per_m3`` exp(-``rate_per_min`` t)."""

    weight_per_m3: float
    rate_per_min: float


class Zone(NamedTuple):
    """A zone's concentration (mg/m3) after 1 mg was released at time zero, as a sum of modes."""

    name: str
    modes: tuple[Mode, ...]


def decayed(x: float) -> float:
    """(1 - exp(-x)) / x for x of zero or more, without loss near zero, where it is 1."""
    # Near zero the difference of two numbers that are nearly 1 loses its figures; the series keeps them.
    return -math.expm1(-x) / x if x > 1e-8 else 1.0 - x / 2.0


def decayed_twice(x: float) -> float:
    """(x - 1 + exp(-x)) / x^2 for x of zero or more, without loss near zero, where it is 1/2."""
    # From here on the plain form is exact to all figures; below, terms are summed until they vanish.
    if x > 0.1:
        return (x + math.expm1(-x)) / (x * x)
    total, term = 0.0, 0.5
    for n in range(3, 14):
        total += term
        term *= -x / n
    return total


def effective_flow_m3_min(air_changes_per_h: float, volume_m3: float, mixing_factor: float = 1.0) -> float:
    """Fresh air that counts, Q / K, from air changes per hour.

    ``mixing_factor`` K: 1 for perfect mixing, up to about 10; textbooks that multiply by a fraction of 0.1
    to 0.5 mean K of 10 to 2 (Crowl and Louvar, slides seen). Raises ValueError for K below 1.
    """
    # A fraction is the other convention in textbooks; taken as a factor it would multiply the fresh air.
    if not 1 <= mixing_factor < math.inf:
        raise ValueError(
            f"the mixing factor is 1 or more, not {mixing_factor}; a fraction of 0.5 is a factor of 2"
        )
    zero_or_more(air_changes_per_h, "the air changes per hour")
    return air_changes_per_h * above_zero(volume_m3, "the room's volume in m3") / 60.0 / mixing_factor


def air_changes_per_h(flow_m3_min: float, volume_m3: float) -> float:
    """Air changes per hour from the flow: n = 60 Q / V. Source: Hewett 2017 (seen)."""
    zero_or_more(flow_m3_min, "the flow of air in m3/min")
    return 60.0 * flow_m3_min / above_zero(volume_m3, "the room's volume in m3")


def hemisphere_volume_m3(radius_m: float = NEAR_RADIUS_M) -> float:
    """Volume of a near field that stands as a half-sphere on the bench."""
    return 2.0 / 3.0 * math.pi * above_zero(radius_m, "the radius of the near field in m") ** 3


# Half of the surface takes air in and half lets it out.
def exchange_flow_m3_min(
    radius_m: float = NEAR_RADIUS_M, air_speed_m_min: float = AIR_SPEED_M_MIN[1]
) -> float:
    """Air exchanged between a half-sphere on the bench and the room: beta = FSA S / 2, FSA = 2 pi r^2.

    Source: Nicas 1996, Keil and Nicas (from memory). Both figures are usually guessed: give a range.
    """
    above_zero(radius_m, "the radius of the near field in m")
    above_zero(air_speed_m_min, "the random air speed in m/min")
    return 0.5 * 2.0 * math.pi * radius_m**2 * air_speed_m_min


def well_mixed(volume_m3: float, flow_m3_min: float) -> Zone:
    """One well-mixed room."""
    _changes(0.0, flow_m3_min, volume_m3)
    return Zone("room", (Mode(1.0 / volume_m3, flow_m3_min / volume_m3),))


def near_and_far_field(
    volume_m3: float, near_volume_m3: float, flow_m3_min: float, exchange_m3_min: float
) -> tuple[Zone, Zone]:
    """The air at the source and the rest of the room, all that is released coming into the former.

    VN dCN/dt = G + beta (CF - CN), VF dCF/dt = beta (CN - CF) - Q CF, VF = V - VN, solved exactly with the
    two eigenvalues (derived; agrees with the published two-zone form, from memory). Raises ValueError if
    the near field is not smaller than the room.
    """
    above_zero(near_volume_m3, "the volume of the near field in m3")
    above_zero(exchange_m3_min, "the exchange with the near field in m3/min")
    zero_or_more(flow_m3_min, "the flow of air in m3/min")
    # A near field as large as the room leaves no room for the far one, and the rates would divide by zero.
    if not near_volume_m3 < volume_m3 < math.inf:
        raise ValueError(
            f"the near field, {near_volume_m3:g} m3, must be smaller than the room, {volume_m3:g} m3"
        )
    near_rate = exchange_m3_min / near_volume_m3
    far_volume = volume_m3 - near_volume_m3
    far_rate = (exchange_m3_min + flow_m3_min) / far_volume
    product = near_rate * (flow_m3_min / far_volume)
    root = math.sqrt((near_rate - far_rate) ** 2 + 4.0 * near_rate * (exchange_m3_min / far_volume))
    fast = 0.5 * (near_rate + far_rate + root)
    # From the product and not as a difference: the slow rate may be a thousandth of the fast one.
    slow = product / fast
    apart = fast - slow
    # The rest of the room answers the near field's rate of change, which fixes the two weights.
    near_fast = (near_rate - slow) / apart / near_volume_m3
    near_slow = (fast - near_rate) / apart / near_volume_m3
    far_weight = near_rate * (exchange_m3_min / far_volume) / apart / exchange_m3_min
    near = Zone("near field", (Mode(near_fast, fast), Mode(near_slow, slow)))
    far = Zone("far field", (Mode(-far_weight, fast), Mode(far_weight, slow)))
    return near, far


def _changes(time_min: float, flow_m3_min: float, volume_m3: float) -> float:
    """How often the air was changed by then."""
    zero_or_more(time_min, "the time in min")
    zero_or_more(flow_m3_min, "the flow of air in m3/min")
    return flow_m3_min * time_min / above_zero(volume_m3, "the room's volume in m3")
