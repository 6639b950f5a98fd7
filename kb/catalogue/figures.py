"""Checks of figures: what cannot be true of any liquid, polymer or report."""

from __future__ import annotations

from collections.abc import Iterator

from kb.catalogue.examples import unit
from kb.catalogue.parts import Part
from kb.catalogue.problems import Fault, NodePath
from kb.model.base import Figure, Hansen, HansenOther, Other, Teas
from kb.model.guidance import Hazard, ReportedLiquid
from kb.model.liquid import ExposureLimit, Liquid, WaterMixing
from kb.model.material import Sphere

ABSOLUTE_ZERO_C = -273.15
ATMOSPHERE_KPA = 101.325
# Shares printed with two decimals need not sum to one exactly.
PARTS_WITHIN = 0.005
# Fractional parameters are printed in whole per cent, three of them.
TEAS_WITHIN = 1.5

# Bounds of what can be true of any liquid: a slip of the unit falls outside.
_ABOVE: dict[str, float] = {
    "boiling_point_c": -100.0,
    "flash_point_c": -150.0,
    "molar_mass_g_mol": 1.0,
    "molar_volume_cm3_mol": 0.0,
    "density_g_ml": 0.0,
    "vapour_pressure_20c_kpa": 0.0,
    "vapour_pressure_25c_kpa": 0.0,
    "lower_explosive_limit_vol_pct": 0.0,
    "upper_explosive_limit_vol_pct": 0.0,
}
_AT_LEAST: dict[str, float] = {"evaporation_rate_butyl_acetate_1": 0.0}
_AT_MOST: dict[str, float] = {
    "boiling_point_c": 1000.0,
    "density_g_ml": 5.0,
    "lower_explosive_limit_vol_pct": 100.0,
    "upper_explosive_limit_vol_pct": 100.0,
}


def check_figure(part: Part) -> Iterator[Fault]:
    """A figure or rival figure holds a number, in order, and one that its field can hold."""
    one = part.struct
    if not isinstance(one, Figure | Other):
        return
    # The name of the figure is the last word of the place that is not a list.
    key = next((step for step in reversed(part.at) if isinstance(step, str) and step != "others"), "")
    numbers = [(name, number) for name, number in _numbers(one) if number is not None]
    none_known = one.none_known if isinstance(one, Figure) else ""
    if not numbers and not none_known.strip():
        due = "value, low or high" + ("; or none_known with the reason" if isinstance(one, Figure) else "")
        yield Fault(part.at, "the figure holds no number", due, f"{key}: {{value: 1.5, from: [memory]}}")
    if numbers and none_known:
        yield Fault((*part.at, "none_known"), "none_known is given beside a number", "one of the two")
    yield from _order(one, part.at)
    for name, number in numbers:
        yield from _bounds(key, number, (*part.at, name))
    if one.at_c is not None and one.at_c <= ABSOLUTE_ZERO_C:
        said = f"{one.at_c:g} C is below absolute zero"
        yield Fault((*part.at, "at_c"), said, "degrees Celsius", "at_c: 25")


def _numbers(one: Figure | Other) -> tuple[tuple[str, float | None], ...]:
    return (("value", one.value), ("low", one.low), ("high", one.high))


def _order(one: Figure | Other, at: NodePath) -> Iterator[Fault]:
    low, high, value = one.low, one.high, one.value
    if low is not None and high is not None and low > high:
        said = f"the range is reversed: low {low:g} is more than high {high:g}"
        yield Fault((*at, "low"), said, "low not above high", f"{{low: {high:g}, high: {low:g}}}")
    elif value is not None and ((low is not None and value < low) or (high is not None and value > high)):
        said = f"the value {value:g} lies outside its own range"
        yield Fault((*at, "value"), said, "a value between low and high")


def _bounds(key: str, number: float, at: NodePath) -> Iterator[Fault]:
    said = f"{key} cannot be {number:g}"
    of = f" {unit(key)}" if unit(key) else ""
    if key in _ABOVE and number <= _ABOVE[key]:
        yield Fault(at, said, f"more than {_ABOVE[key]:g}{of}")
    elif key in _AT_LEAST and number < _AT_LEAST[key]:
        yield Fault(at, said, f"at least {_AT_LEAST[key]:g}{of}")
    elif key in _AT_MOST and number > _AT_MOST[key]:
        yield Fault(at, said, f"at most {_AT_MOST[key]:g}{of}")


def check_hansen(part: Part) -> Iterator[Fault]:
    """Parameters of a liquid are not negative; fractional ones sum to 100; a radius is positive."""
    one = part.struct
    if isinstance(one, Hansen | HansenOther | Teas):
        for key in ("d", "p", "h"):
            number = getattr(one, key)
            # A dispersion parameter of nothing would be a liquid without molecules that attract.
            if number < 0 or (key == "d" and number == 0):
                said = f"the parameter {key} cannot be {number:g}"
                yield Fault((*part.at, key), said, "a number above 0" if key == "d" else "0 or more")
    if isinstance(one, Teas) and abs((total := one.d + one.p + one.h) - 100) > TEAS_WITHIN:
        said = f"the fractional parameters sum to {total:g}"
        example = "teas: {d: 47, p: 32, h: 21, from: [memory]}"
        yield Fault(part.at, said, f"a sum of 100, within {TEAS_WITHIN:g}", example)
    if isinstance(one, Sphere) and one.r0 <= 0:
        yield Fault((*part.at, "r0"), f"the radius r0 cannot be {one.r0:g}", "a number above 0", "r0: 8.0")


def check_pairs(part: Part) -> Iterator[Fault]:
    """Figures of one liquid do not contradict one another."""
    one = part.struct
    if not isinstance(one, Liquid):
        return
    lower, upper = _best(one.lower_explosive_limit_vol_pct), _best(one.upper_explosive_limit_vol_pct)
    if lower is not None and upper is not None and lower >= upper:
        said = f"the lower explosive limit ({lower:g}) is not below the upper one ({upper:g})"
        yield Fault(("lower_explosive_limit_vol_pct",), said, "lower below upper, per cent by volume")
    cool, warm = _best(one.vapour_pressure_20c_kpa), _best(one.vapour_pressure_25c_kpa)
    if cool is not None and warm is not None and warm < cool:
        said = f"the vapour pressure at 25 C ({warm:g}) is below that at 20 C ({cool:g})"
        yield Fault(("vapour_pressure_25c_kpa",), said, "a pressure that rises as the liquid warms, in kPa")
    boils, flashes = _best(one.boiling_point_c), _best(one.flash_point_c)
    if boils is not None and flashes is not None and flashes >= boils:
        said = f"the flash point ({flashes:g}) is not below the boiling point ({boils:g})"
        # A liquid flashes below its boiling point, or nothing would be left to flash.
        yield Fault(("flash_point_c",), said, "a flash point below the boiling point, degrees Celsius")
    for key, pressure, at_c in (("20c", cool, 20.0), ("25c", warm, 25.0)):
        # Above its boiling point a liquid's pressure is more than the air's; below, it cannot be.
        if boils is not None and pressure is not None and boils > at_c and pressure > ATMOSPHERE_KPA:
            said = f"a liquid that boils at {boils:g} C cannot have a vapour pressure of {pressure:g} kPa"
            yield Fault((f"vapour_pressure_{key}_kpa",), said, "kPa (1 mmHg is 0.1333 kPa)")


def _best(figure: Figure | None) -> float | None:
    return None if figure is None else figure.best


def check_limits(part: Part) -> Iterator[Fault]:
    """Exposure limits are above zero; a solubility is not below it."""
    one = part.struct
    if isinstance(one, ExposureLimit):
        for key in ("twa_ppm", "twa_mg_m3", "short_term_ppm", "short_term_mg_m3", "ceiling_ppm"):
            number = getattr(one, key)
            if number is not None and number <= 0:
                said = f"{key} cannot be {number:g}"
                yield Fault((*part.at, key), said, "a number above 0, or no line if none is printed")
    if isinstance(one, WaterMixing) and one.solubility_g_l is not None and one.solubility_g_l < 0:
        at = (*part.at, "solubility_g_l")
        yield Fault(at, f"solubility_g_l cannot be {one.solubility_g_l:g}", "0 or more, in g per litre")


def check_shares(part: Part) -> Iterator[Fault]:
    """Weights lie between 0 and 1; the parts of a reported liquid sum to 1."""
    one = part.struct
    if isinstance(one, Hazard) and not 0 <= one.weight <= 1:
        at = (*part.at, "weight")
        yield Fault(at, f"the weight cannot be {one.weight:g}", "a number from 0 to 1", "weight: 0.5")
    if not isinstance(one, ReportedLiquid):
        return
    for key, share in one.parts.items():
        if not 0 < share <= 1:
            said = f"the part of {key} cannot be {share:g}"
            yield Fault((*part.at, "parts", key), said, "more than 0 and at most 1")
    total = sum(one.parts.values())
    if abs(total - 1) > PARTS_WITHIN:
        said = f"the parts sum to {total:g}"
        example = "parts: {acetone: 0.5, ethanol: 0.5}"
        yield Fault((*part.at, "parts"), said, "volume shares that sum to 1", example)


FIGURE_CHECKS = (check_figure, check_hansen, check_pairs, check_limits, check_shares)
