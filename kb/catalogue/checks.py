"""What is checked of an entry by itself, once its form is right. A check is a plain function.

Checks of figures: what cannot be true of any liquid, polymer or report.

Checks of looks: findings that can be told apart, and signs that say something possible of them.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator
from functools import cache
from itertools import product

import msgspec

from kb.catalogue.form import unit
from kb.catalogue.problems import Fault, NodePath, Part, fields, nearest, printable, quoted
from kb.model.base import Figure, HansenOther, Other, Teas, best
from kb.model.guidance import Hazard, ReportedLiquid
from kb.model.identification import SHARES, Look, Sign
from kb.model.kinds import plain_id
from kb.model.liquid import Classification, ExposureLimit, Liquid, WaterMixing
from kb.model.material import Sphere
from kb.model.protection import Authority
from kb.science.numbers import ATMOSPHERE_KPA, ZERO_C_IN_K

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
    given = (("value", one.value), ("low", one.low), ("high", one.high))
    numbers = [(name, number) for name, number in given if number is not None]
    none_known = one.none_known if isinstance(one, Figure) else ""
    if not numbers and not none_known.strip():
        due = "value, low or high" + ("; or none_known with the reason" if isinstance(one, Figure) else "")
        yield Fault(part.at, "the figure holds no number", due, f"{key}: {{value: 1.5, from: [memory]}}")
    if numbers and none_known:
        yield Fault((*part.at, "none_known"), "none_known is given beside a number", "one of the two")
    yield from _order(one, part.at)
    for name, number in numbers:
        yield from _bounds(key, number, (*part.at, name))
    if one.at_c is not None and one.at_c <= -ZERO_C_IN_K:
        said = f"{one.at_c:g} C is below absolute zero"
        yield Fault((*part.at, "at_c"), said, "degrees Celsius", "at_c: 25")


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
    if isinstance(one, HansenOther | Teas):
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


def check_pairs(one: Liquid) -> Iterator[Fault]:
    """Figures of one liquid do not contradict one another."""
    lower, upper = best(one.lower_explosive_limit_vol_pct), best(one.upper_explosive_limit_vol_pct)
    if lower is not None and upper is not None and lower >= upper:
        said = f"the lower explosive limit ({lower:g}) is not below the upper one ({upper:g})"
        yield Fault(("lower_explosive_limit_vol_pct",), said, "lower below upper, per cent by volume")
    cool, warm = best(one.vapour_pressure_20c_kpa), best(one.vapour_pressure_25c_kpa)
    if cool is not None and warm is not None and warm < cool:
        said = f"the vapour pressure at 25 C ({warm:g}) is below that at 20 C ({cool:g})"
        yield Fault(("vapour_pressure_25c_kpa",), said, "a pressure that rises as the liquid warms, in kPa")
    boils, flashes = best(one.boiling_point_c), best(one.flash_point_c)
    if boils is not None and flashes is not None and flashes >= boils:
        said = f"the flash point ({flashes:g}) is not below the boiling point ({boils:g})"
        # A liquid flashes below its boiling point, or nothing would be left to flash.
        yield Fault(("flash_point_c",), said, "a flash point below the boiling point, degrees Celsius")
    for key, pressure, at_c in (("20c", cool, 20.0), ("25c", warm, 25.0)):
        # Above its boiling point a liquid's pressure is more than the air's; below, it cannot be.
        if boils is not None and pressure is not None and boils > at_c and pressure > ATMOSPHERE_KPA:
            said = f"a liquid that boils at {boils:g} C cannot have a vapour pressure of {pressure:g} kPa"
            yield Fault((f"vapour_pressure_{key}_kpa",), said, "kPa (1 mmHg is 0.1333 kPa)")


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


MOST = 1.15
"""What the shares of one sign may add up to: words are rough, so a little above 1 is let pass."""
MOST_SUBJECTS = 2000
"""How many combinations of tape, carrier, adhesive and stage one sign may name."""
_SUBJECTS = ("tapes", "carriers", "adhesives", "stages")


def check_findings(look: Look) -> Iterator[Fault]:
    """A look has at least two findings, each with an id and words of its own."""
    if len(look.findings) < 2:
        expected = "at least two findings; one of them may be that nothing is seen"
        yield Fault(("findings",), "a look with fewer than two findings tells nothing", expected)
    owner: dict[str, int] = {}
    for number, one in enumerate(look.findings):
        at: NodePath = ("findings", number)
        if one.id != plain_id(one.id) or not one.id:
            said = f"the id {quoted(one.id)} is not in plain form"
            yield Fault((*at, "id"), said, "lower case, with hyphens", f"id: {printable(plain_id(one.id))}")
        for name in (one.id, one.words, *one.also):
            if owner.setdefault(plain_id(name), number) != number:
                said = f"{quoted(name)} stands for two findings of this look"
                yield Fault(at, said, "words that mean one finding")
                break


def check_years(look: Look) -> Iterator[Fault]:
    """The findings of a dated look are spans of years in order; other findings have no years."""
    after: int | None = None
    for number, one in enumerate(look.findings):
        at: NodePath = ("findings", number)
        first, last = one.first_year, one.last_year
        if not look.dated:
            if first is not None or last is not None:
                yield Fault(at, "a year stands in a look that is not dated", "dated: true, or no years")
            continue
        example = "{id: 1961-1969, words: 1961 to 1969, first_year: 1961, last_year: 1969}"
        open_start = first is None and number > 0
        open_end = last is None and number < len(look.findings) - 1
        if open_start or open_end:
            said = "only the first span may be open before, and only the last one after"
            yield Fault(at, said, "first_year and last_year", example)
        elif first is not None and last is not None and first > last:
            said = f"the span is reversed: {first} is after {last}"
            yield Fault((*at, "first_year"), said, "years in order")
        elif first is not None and after is not None and first <= after:
            said = f"the span from {first} begins before the one above it has ended ({after})"
            yield Fault((*at, "first_year"), said, "spans of years that follow one another")
        after = last


def check_signs(look: Look) -> Iterator[Fault]:
    """Each sign is about something, names findings of its look, and adds up to no more than always."""
    known = [one.id for one in look.findings]
    for number, sign in enumerate(look.signs):
        at: NodePath = ("signs", number)
        if not any(getattr(sign, key) for key in _SUBJECTS):
            expected = "one of: " + ", ".join(_SUBJECTS)
            yield Fault(at, "the sign does not say of what", expected, "tapes: [masking-rubber]")
        if not sign.finds:
            example = f"finds: {{{known[0] if known else 'glossy'}: usually}}"
            yield Fault((*at, "finds"), "the sign names no finding", "at least one finding", example)
        for name in sign.finds:
            if name not in known:
                near = nearest(name, known)
                said = f"this look has no finding {quoted(name)}"
                said += f'; did you mean "{near}"?' if near else ""
                yield Fault((*at, "finds", name), said, "one of: " + ", ".join(known))
        total = sum(SHARES[word] for word in sign.finds.values())
        if total > MOST and not look.dated:
            said = f"the words add up to {total:.2f}, which is more than always"
            scale = ", ".join(f"{word} {share:g}" for word, share in SHARES.items())
            yield Fault((*at, "finds"), said, f"a sum of about 1 ({scale})")


def check_subjects(look: Look) -> Iterator[Fault]:
    """No two signs of a look are about the same thing: which of them counts would be chance."""
    first: dict[tuple[str, ...], int] = {}
    for number, sign in enumerate(look.signs):
        named_count = math.prod(max(1, len(getattr(sign, key))) for key in _SUBJECTS)
        if named_count > MOST_SUBJECTS:
            said = f"the sign names {named_count} combinations"
            yield Fault(("signs", number), said, f"at most {MOST_SUBJECTS}; name fewer things at once")
            continue
        for subject in _subjects(sign):
            if first.setdefault(subject, number) != number:
                named = ", ".join(name for name in subject if name)
                said = f"a sign about {quoted(named)} stands above already (number {first[subject] + 1})"
                yield Fault(("signs", number), said, "one sign for each thing of a look")
                break


def _subjects(sign: Sign) -> Iterator[tuple[str, ...]]:
    """Every combination of tape, carrier, adhesive and stage that a sign names; empty: not named."""
    return product(*(getattr(sign, key) or ("",) for key in _SUBJECTS))


_ID = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_HAZARD_ID = re.compile(r"(?:EU)?H[0-9]{3}[A-Za-z]*")
_MOST_ID = 80
_CAS = re.compile(r"([0-9]{2,7})-([0-9]{2})-([0-9])")


def check_id(part: Part) -> Iterator[Fault]:
    """Ids are in the canonical form; a hazard's is its statement code."""
    one = part.struct
    if part.at or not hasattr(one, "id"):
        return
    found: str = one.id
    if isinstance(one, Hazard):
        if not _HAZARD_ID.fullmatch(found):
            yield Fault(("id",), f"the id {quoted(found)} is no code of a statement", "a code", "id: H336")
    elif isinstance(one, Authority):
        # Parts of an entry have no id of their own.
        # Names of countries and bodies are written in capitals everywhere else, so also as ids.
        if not _ID.fullmatch(found.lower()):
            yield Fault(("id",), f"the id {quoted(found)} is no code of an authority", "a code", "id: UK")
    elif found != plain_id(found):
        said = f"the id {quoted(found)} is not in plain form"
        expected = "lower case, with hyphens for blanks and underscores"
        yield Fault(("id",), said, expected, f"id: {printable(plain_id(found))[:_MOST_ID]}")
    elif not _ID.fullmatch(found) or len(found) > _MOST_ID:
        expected = f"letters a-z, digits and single hyphens, at most {_MOST_ID}"
        yield Fault(("id",), f"the id {quoted(found)} is not in plain form", expected, "id: white-spirit")


@cache
def _needed_texts(kind: type[msgspec.Struct]) -> tuple[tuple[str, str], ...]:
    """Fields of text that must be given, by their names in Python and in YAML."""
    return tuple(
        (field.name, field.encode_name)
        for field in msgspec.structs.fields(kind)
        if field.required and field.type is str and field.name != "id"
    )


def check_texts(part: Part) -> Iterator[Fault]:
    """A text that must be given says something."""
    for name, key in _needed_texts(type(part.struct)):
        if not getattr(part.struct, name).strip():
            yield Fault((*part.at, key), f"the text of {key} is blank", "some words")


def check_sources(part: Part) -> Iterator[Fault]:
    """Every list of sources that must be there names one."""
    expected, example = "at least one id of a source", "from: [memory]"
    for name, key in fields(type(part.struct)):
        if name == "sources" and not getattr(part.struct, name):
            yield Fault((*part.at, key), "no source is given (from is empty)", expected, example)
    one = part.struct
    if isinstance(one, Liquid) and one.cas and not one.cas_sources:
        yield Fault(("cas",), "no source is given for the CAS number", expected, "cas_sources: [memory]")
    if isinstance(one, Classification) and one.supplier_statements and not one.supplier_sources:
        at = (*part.at, "supplier_statements")
        said = "no source is given for the suppliers' statements"
        yield Fault(at, said, expected, "supplier_sources: [memory]")


def check_cas(one: Liquid) -> Iterator[Fault]:
    """A CAS number has its form and its check digit."""
    if not one.cas:
        return
    match = _CAS.fullmatch(one.cas)
    if match is None:
        said = f"{quoted(one.cas)} is not in the form of a CAS number"
        yield Fault(("cas",), said, "digits, hyphen, two digits, hyphen, check digit", "cas: 67-64-1")
        return
    digits = match[1] + match[2]
    # The check digit: places from the right times digits, modulo ten (the registry's rule).
    due = sum(place * int(digit) for place, digit in enumerate(reversed(digits), 1)) % 10
    if due != int(match[3]):
        said = f"the CAS number {one.cas} has a wrong check digit; a figure is mistyped"
        yield Fault(("cas",), said, f"the check digit {due} if all else is right", "cas: 67-64-1")


CHECKS: tuple[Callable[[Part], Iterator[Fault]], ...] = (
    *(check_id, check_texts, check_sources),
    *(check_figure, check_hansen, check_limits, check_shares),
)
"""All checks of one part of an entry. To add one, write the function and name it here, or in the next."""
LIQUID_CHECKS = (check_cas, check_pairs)
LOOK_CHECKS = (check_findings, check_years, check_signs, check_subjects)


def check(parts: tuple[Part, ...]) -> list[Fault]:
    """All faults that the checks find in one entry, given as its parts."""
    found = [fault for part in parts for one in CHECKS for fault in one(part)]
    entry = parts[0].struct
    if isinstance(entry, Liquid):
        found += [fault for one in LIQUID_CHECKS for fault in one(entry)]
    elif isinstance(entry, Look):
        found += [fault for one in LOOK_CHECKS for fault in one(entry)]
    return found
