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
    return -math.expm1(-x) / x if x > 1e-8 else 1.0 - x / 2.0


def decayed_twice(x: float) -> float:
    """(x - 1 + exp(-x)) / x^2 for x of zero or more, without loss near zero, where it is 1/2."""
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


def build_up_mg_m3(
    time_min: float,
    emission_mg_min: float,
    flow_m3_min: float,
    volume_m3: float,
    initial_mg_m3: float = 0.0,
    incoming_mg_m3: float = 0.0,
) -> float:
    """Concentration in a well-mixed room with a steady source, also without any ventilation.

    C = Cin + (G/Q)(1 - exp(-Qt/V)) + (C0 - Cin) exp(-Qt/V). Not for the air beside the swab. Sources: see
    the module. Raises ValueError for a negative or missing figure.
    """
    x = _changes(time_min, flow_m3_min, volume_m3)
    zero_or_more(emission_mg_min, "the emission in mg/min")
    zero_or_more(initial_mg_m3, "the concentration at the start in mg/m3")
    zero_or_more(incoming_mg_m3, "the concentration of the incoming air in mg/m3")
    from_source = emission_mg_min * time_min / volume_m3 * decayed(x)
    return from_source - incoming_mg_m3 * math.expm1(-x) + initial_mg_m3 * math.exp(-x)


def steady_mg_m3(emission_mg_min: float, flow_m3_min: float) -> float:
    """Final concentration in a well-mixed room, G/Q; infinite without ventilation. Source: see the module."""
    zero_or_more(emission_mg_min, "the emission in mg/min")
    if zero_or_more(flow_m3_min, "the flow of air in m3/min") > 0:
        return emission_mg_min / flow_m3_min
    return math.inf if emission_mg_min > 0 else 0.0


def mean_build_up_mg_m3(
    time_min: float, emission_mg_min: float, flow_m3_min: float, volume_m3: float
) -> float:
    """Mean from the start to ``time_min`` in a room that was clean (derived: integral of build_up_mg_m3)."""
    x = _changes(time_min, flow_m3_min, volume_m3)
    return zero_or_more(emission_mg_min, "the emission in mg/min") * time_min / volume_m3 * decayed_twice(x)


def time_to_reach_min(
    target_mg_m3: float, emission_mg_min: float, flow_m3_min: float, volume_m3: float
) -> float:
    """When a room that was clean reaches the target; infinite if it never does.

    t = -(V/Q) ln(1 - Q C / G). Source: ACGIH, Industrial Ventilation, ch. 2 (from memory).
    """
    zero_or_more(target_mg_m3, "the target in mg/m3")
    zero_or_more(emission_mg_min, "the emission in mg/min")
    _changes(0.0, flow_m3_min, volume_m3)
    if target_mg_m3 == 0:
        return 0.0
    if emission_mg_min == 0:
        return math.inf
    filled = target_mg_m3 * volume_m3 / emission_mg_min
    cleared = flow_m3_min * target_mg_m3 / emission_mg_min
    if cleared >= 1:
        return math.inf
    return filled * (-math.log1p(-cleared) / cleared if cleared > 1e-12 else 1.0)


def decay_mg_m3(time_min: float, initial_mg_m3: float, flow_m3_min: float, volume_m3: float) -> float:
    """Concentration once the source is gone: C0 exp(-Qt/V) (purge equation pages, seen).

    Wet swabs left in the room are still a source.
    """
    x = _changes(time_min, flow_m3_min, volume_m3)
    return zero_or_more(initial_mg_m3, "the concentration at the start in mg/m3") * math.exp(-x)


def instant_release_mg_m3(time_min: float, mass_mg: float, flow_m3_min: float, volume_m3: float) -> float:
    """Concentration after a mass evaporated at once: (m/V) exp(-Qt/V) (derived); cautious for a swab."""
    zero_or_more(mass_mg, "the mass in mg")
    return decay_mg_m3(
        time_min, mass_mg / above_zero(volume_m3, "the room's volume in m3"), flow_m3_min, volume_m3
    )


def time_to_clear_min(from_mg_m3: float, to_mg_m3: float, flow_m3_min: float, volume_m3: float) -> float:
    """Time of airing from one concentration to a lower one: (V/Q) ln(C1/C2); infinite without any flow."""
    above_zero(to_mg_m3, "the concentration to reach in mg/m3")
    zero_or_more(from_mg_m3, "the concentration at the start in mg/m3")
    _changes(0.0, flow_m3_min, volume_m3)
    if from_mg_m3 <= to_mg_m3:
        return 0.0
    return math.inf if flow_m3_min == 0 else volume_m3 / flow_m3_min * math.log(from_mg_m3 / to_mg_m3)


def half_life_min(flow_m3_min: float, volume_m3: float) -> float:
    """Time in which the concentration halves once the source is gone: V ln 2 / Q; infinite without flow."""
    _changes(0.0, flow_m3_min, volume_m3)
    return math.inf if flow_m3_min == 0 else volume_m3 * math.log(2.0) / flow_m3_min


def flow_of_half_life_m3_min(half_life_min: float, volume_m3: float) -> float:
    """The flow that a measured half-life shows: V ln 2 / t."""
    above_zero(half_life_min, "the half-life in min")
    return above_zero(volume_m3, "the room's volume in m3") * math.log(2.0) / half_life_min


def hemisphere_volume_m3(radius_m: float = NEAR_RADIUS_M) -> float:
    """Volume of a near field that stands as a half-sphere on the bench."""
    return 2.0 / 3.0 * math.pi * above_zero(radius_m, "the radius of the near field in m") ** 3


def exchange_flow_m3_min(
    radius_m: float = NEAR_RADIUS_M, air_speed_m_min: float = AIR_SPEED_M_MIN[1]
) -> float:
    """Air exchanged between a half-sphere on the bench and the room: beta = FSA S / 2, FSA = 2 pi r^2.

    Source: Nicas 1996, Keil and Nicas (from memory). Both figures are usually guessed: give a range.
    """
    above_zero(radius_m, "the radius of the near field in m")
    above_zero(air_speed_m_min, "the random air speed in m/min")
    return 0.5 * 2.0 * math.pi * radius_m**2 * air_speed_m_min


def near_field_steady_mg_m3(
    emission_mg_min: float, flow_m3_min: float, exchange_m3_min: float
) -> tuple[float, float]:
    """Final concentrations near the source and in the rest of the room: G/Q + G/beta, and G/Q.

    A point source at arm's length, no local exhaust. Source: open scripts of the two-zone models (equation
    seen). Infinite without ventilation. In one solvent study predictions were 0 to 1.6 times the measured
    means (Plisko and Spencer, abstract seen): show a range.
    """
    above_zero(exchange_m3_min, "the exchange with the near field in m3/min")
    far = steady_mg_m3(emission_mg_min, flow_m3_min)
    return (far + emission_mg_min / exchange_m3_min, far)


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
