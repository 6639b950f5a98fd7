"""The one reader of typed amounts: from words to the units that records and formulas count in.

What one place takes - 1:30, 2 min 30 s, 1.5 h, 0.18 mS, 66 F, 35 x 22 mm - every place takes.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping

from kb.book.kinds.parts import Portion
from kb.desk.errors import DeskError, in_a_sentence
from kb.science.quantities import BASE_UNITS, parse_number, parse_quantity, parse_range

FIGURE = r"(\d[\d., ]*(?:e[+-]?\d+)?)"
"""A number before a unit, for `parse_number` to read."""
_PER_LITRE = rf"(?i)\s*{FIGURE}\s*(mol|mmol|g|mg)\s*/\s*l\s*"
# Of names with amounts: figures in groups, and what may stand between two.
_GROUPED = r"\d{1,3}(?:\s+\d{3})+(?:[.,]\d+)?|\d[\d.,]*"
_BETWEEN = r"to|or|and|[-–—−×x*/+]"
_NAMED = rf"(?s)(.*?[^\W\d].*?[\s:=]+)({_GROUPED})(?:\s*({_BETWEEN})\s*({_GROUPED}))?\s*(\D+)"
_SECOND = rf"\d\s*(?:(?:{_BETWEEN})\s*$|(?:[kmµ]?g|[mcdµ]?[lL]|grams?|lit(?:re|er)s?|oz|lb)(?![\w/]))"
"""An amount before the last one. A share or a strength in a name - ethanol 70 %, 10 g/l - is none."""
_LONGEST = 200
"""Characters; the time that these patterns take grows much faster than a text."""


def quantity(text: str, dimension: str, bare: str = "") -> float:
    """A typed amount in the base unit of its dimension; ``bare`` is the unit of one without any."""
    with in_a_sentence():
        return parse_quantity(text, dimension, bare=bare).value


def litres(text: str) -> float:
    """Litres from ``5 L`` or ``500 ml``."""
    return quantity(text, "volume") / 1000.0


def solubility_parameters(text: str) -> tuple[float, float]:
    """MPa^0.5, from and to, from ``18 to 19 MPa^0.5``, ``9.1 (cal/cm3)^1/2`` or a bare number."""
    with in_a_sentence():
        found = parse_range(text, "solubility parameter", bare="MPa^0.5")
    return found.low, found.high


def celsius(text: str) -> float:
    """Degrees Celsius from ``18 C``, ``64 F`` or a bare number."""
    found = quantity(text, "temperature", "°C")
    # A thermometer in °F is read to a degree: 66 F are 18.9 and not 18.8889 °C.
    return found if round(found, 3) == found else round(found, 1)


def grams(text: str) -> float:
    """Grams from ``25 g`` or a bare number."""
    return quantity(text, "mass", "g")


def millimetres(text: str) -> float:
    """Millimetres from ``30 mm``, ``3 cm`` or a bare number, which is taken as mm."""
    # A record keeps what was typed: 594 and not 593.9999999999999.
    return round(1000.0 * quantity(text, "length", "mm"), 9)


def without_unit(label: str, typed: str, unit: str = "mm") -> str:
    """What is said of an amount typed without a unit; empty where it bears one, or nothing is typed."""
    bare = re.fullmatch(r"[\d.,\sx×]*\d[\d.,\sx×]*", typed, re.IGNORECASE)
    return f'{label}: "{typed.strip()}" bears no unit, so it counts as {unit}.' if bare else ""


def square_millimetres(text: str) -> float:
    """Square millimetres from ``12 cm2``."""
    return 1e6 * quantity(text, "area")


def seconds(text: str) -> float:
    """Seconds from ``30 s``, ``1:30``, ``2 min 30 s``, ``1.5 h`` or a bare number."""
    try:
        return quantity(text, "time", "s")
    except DeskError as error:
        raise DeskError(f"{error} For instance: 30s, 1:30, 2 min 30 s.") from None


def conductivity(text: str) -> float:
    """µS/cm from ``180 uS``, ``0.18 mS`` or a bare number."""
    return quantity(text, "conductivity", "µS/cm")


def density_g_ml(text: str) -> float:
    """g/ml from ``0.79 g/ml``, ``790 kg/m3`` or a bare number."""
    found = quantity(text, "density", "g/ml")
    if found <= 0:
        raise DeskError(f'"{text}" is not a density; write 0.95 g/ml.')
    return found


def micrometres(text: str) -> float:
    """µm from ``100 µm``, ``0.1 mm`` or a bare number."""
    return round(1e6 * quantity(text, "length", "µm"), 9)


def hours(text: str) -> float:
    """Hours from ``8 h``, ``90 min`` or a bare number."""
    return quantity(text, "time", "h") / 3600.0


def number(text: str, what: str, most: float = math.inf) -> float | None:
    """A number without a unit, with point or comma; None where nothing is typed. ``what`` it is: a pH.

    ``most`` it can be tells what a comma is: "1,000" is one or one thousand.
    """
    if not text.strip():
        return None
    try:
        return parse_number(text, most)
    except ValueError as error:
        why = f" ({error})" if "," in text else ""
        raise DeskError(f'"{text.strip()}" is not {what}; write a number such as 8.5{why}.') from None


def three(text: str) -> list[str]:
    """The numbers of ``88.1 1.2 12.5``, ``15,5 8 6``, ``15, 8, 6`` or ``15,8,6``, still as text.

    A comma stands between two numbers if a blank follows it or if no blank and no other sign does.
    """
    parts = [part for part in re.split(r"[\s/;]+|,\s+", text.replace("\N{MINUS SIGN}", "-").strip()) if part]
    return parts if len(parts) > 1 else text.strip().split(",")


def named_amount(text: str) -> tuple[str, str] | None:
    """What is named and the amount behind it: ``wheat starch 16.3 g``; None for any other text."""
    found = named_range(text)
    if found and found[2]:
        raise DeskError(f'"{text}" names more than one amount; write one name and one amount.')
    return (found[0], f"{found[1]} {found[3]}") if found else None


def named_range(text: str) -> tuple[str, str, str, str] | None:
    """Name, amount, highest amount and unit of ``wheat starch 10 to 20 g``; empty where one amount is typed.

    Raises DeskError for "alum 1 000 g": a name may end in a figure, and this one would stand for 0 g.
    """
    found = re.fullmatch(_NAMED, text) if len(text) <= _LONGEST else None
    if found is None:
        return None
    named, low, between, high, unit = found.groups("")
    first, *rest = low.split()
    # "Ethanol-water 1:1 100 ml": the colon of a ratio begins no amount.
    if rest and re.search(r"\d\s*:$|\d\s+:\s*$", named):
        named, low = f"{named}{first} ", " ".join(rest)
    name = re.sub(r"[\s:=]+$", "", named).strip()
    settled = named.rstrip()[-1] in ":="
    if name[-1].isdigit() and low.startswith("00"):
        raise DeskError(f'"{text}" is not a name and one amount; write the amount without a blank.')
    if re.search(r"\s", low + high) and not settled:
        apart = f'"{name} {first}: {"".join(rest)} {unit}" or ' if rest and rest[0][0] != "0" else ""
        whole = f"{''.join(low.split())}{f' {between} ' if high else ''}{''.join(high.split())}"
        raise DeskError(f'"{text}" can be read in two ways; write {apart}"{name}: {whole} {unit}".')
    if re.search(_SECOND, named) or between not in ("", "to", "-", "–"):
        raise DeskError(f'"{text}" names more than one amount; write one name and one amount.')
    return name, re.sub(r"\s", "", low), re.sub(r"\s", "", high), unit


def amount(text: str) -> tuple[float, str]:
    """An amount in g, ml or m2."""
    with in_a_sentence():
        found = parse_quantity(text, "mass", "volume", "area")
    return found.value, BASE_UNITS[found.dimension]


def portion(text: str) -> Portion:
    """What was weighed or measured, from "wheat starch 16.3 g". Raises DeskError for anything else."""
    parts = named_amount(text.strip())
    if parts is None:
        raise DeskError(f'"{text.strip()}" is not an ingredient and its amount; write "wheat starch 16.3 g".')
    value, unit = amount(parts[1])
    return Portion(name=parts[0], amount=value, unit=unit)


def if_typed(read: Callable[[str], float], text: str) -> float | None:
    """What is read of an option that may be left out; None where nothing is typed."""
    return read(text) if text.strip() else None


def or_unknown(read: Callable[[str], float], text: str) -> float:
    """What is read of an option that may be left out; 0 stands for not known and cannot be typed."""
    found = read(text) if text.strip() else 0.0
    if text.strip() and not found:
        raise DeskError(f'"{text.strip()}" must be above zero; leave it out if it is not known.')
    return found


def percent(text: str) -> float:
    """Per cent from ``45 %``, ``45 % RH`` or a bare number."""
    return quantity(re.sub(r"\s*rh\s*$", "", text, flags=re.IGNORECASE), "per cent", "%")


def minutes(text: str) -> float:
    """Minutes from ``20 min``, ``1 h`` or a bare number, which is taken as minutes."""
    return quantity(text, "time", "min") / 60.0


def size_mm(text: str) -> tuple[float, float]:
    """Width and height in mm from ``420 x 594 mm``; a bare number is mm."""
    first, sign, second = text.lower().replace("×", "x").partition("x")
    if not sign:
        raise DeskError(f'"{text}" is not a size; write width x height, for instance 420 x 594 mm.')
    unit = re.sub(r"[\d.,\s]", "", second)
    if not re.search(r"[a-z\"']", first):
        first = f"{first.strip()} {unit}" if unit else first
    return millimetres(first.strip()), millimetres(second.strip())


def pair_mm(text: str) -> tuple[float, float]:
    """The same, where one figure stands for both."""
    if re.search("[x×]", text, re.IGNORECASE):
        return size_mm(text)
    both = millimetres(text)
    return both, both


def per_area_g_m2(text: str) -> float:
    """g/m2 from ``100 g/m2`` or a bare number."""
    found = quantity(text, "grammage", "g/m2")
    if found <= 0:
        raise DeskError(f'"{text}" is not a grammage; write 100 g/m2.')
    return found


def lux(text: str) -> float:
    """Lux from ``50 lux`` or a bare number."""
    try:
        return quantity(text, "illuminance", "lux")
    except DeskError as error:
        raise DeskError(f'"{text}" is not an illuminance; write 50 lux.') from error


def humidity(text: str) -> tuple[float, float]:
    """Lowest and highest per cent of relative humidity from ``40-60 %``."""
    with in_a_sentence():
        found = parse_range(
            re.sub(r"\s*%?\s*rh\s*$", " %", text.strip(), flags=re.IGNORECASE), "per cent", bare="%"
        )
    if 0 < found.high < 1:
        raise DeskError(f'"{text}" is less than 1 % RH; write a share of 0.4 as 40 %.')
    return found.low, found.high


def strength_mol_l(reagent: str, text: str) -> float:
    """mol of the metal per litre from ``0.05 mol/l`` or from grams of the solid that is weighed per litre.

    For a magnesium bath grams are those of anhydrous magnesium carbonate, as strengths are quoted.
    """
    from kb.desk.water.bath import reagent_id

    found = re.fullmatch(_PER_LITRE, text)
    if found is None:
        raise DeskError(f'"{text}" is not a strength; write 0.05 mol/l or 4.2 g/l.')
    with in_a_sentence():
        amount, unit = parse_number(found[1].strip()), found[2].lower()
    if unit.endswith("mol"):
        return amount / (1000.0 if unit == "mmol" else 1.0)
    # Few of those who read an amount here ask for a bath, whose chemistry is long to load.
    from kb.science.water.baths import find_reagent

    known = find_reagent(reagent_id(reagent))
    solids = dict(known.weighed_as)
    molar = solids.get("magnesium carbonate, anhydrous") or next(
        iter(solids.values()), known.molar_mass_g_mol
    )
    return amount / molar / (1000.0 if unit == "mg" else 1.0)


BY_UNIT: Mapping[str, Callable[[str], float]] = {
    "mm": millimetres,
    "min": minutes,
    "s": seconds,
    "lux": lux,
    "°C": celsius,
    "% RH": lambda text: min(percent(text), *humidity(text)),
    "%": percent,
    "g": grams,
    "ml": lambda text: quantity(text, "volume", "ml"),
    "mm²": lambda text: round(1e6 * quantity(text, "area", "mm2"), 9),
    "g/m²": per_area_g_m2,
    "µS/cm": conductivity,
}
"""How a figure of a record is read, by the unit that its field is kept in; a bare number is in that unit."""
