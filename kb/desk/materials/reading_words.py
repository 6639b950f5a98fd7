"""Figures, spheres and claims of the catalogue in words, from the plain data of a record."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from kb.model.liquid import ExposureLimit

EVIDENCE = {
    "A": "tested or peer-reviewed",
    "B": "institutional",
    "C": "practitioner's message",
    "D": "not by a conservator",
}
"""What the evidence grade of a report means."""
UNITS = {
    "_g_mol": "g/mol",
    "_g_ml": "g/ml",
    "_cm3_mol": "cm3/mol",
    "_kpa": "kPa",
    "_vol_pct": "% by volume",
    "_percent_ww": "% by weight",
    "_g_m2": "g/m2",
    "_um": "µm",
    "_c": "°C",
    "_butyl_acetate_1": "n-butyl acetate = 1",
}
"""Unit by the ending of a field's name."""
LABELS = {
    "also": ("other names", ""),
    "shared_names": ("names others bear too", ""),
    "cas": ("CAS number", ""),
    "cas_sources": ("CAS number, source", ""),
    "hansen": ("Hansen parameters", "MPa^0.5"),
    "teas": ("Teas fractions", "%"),
    "vapour_pressure_20c_kpa": ("vapour pressure at 20 °C", "kPa"),
    "vapour_pressure_25c_kpa": ("vapour pressure at 25 °C", "kPa"),
    "water": ("with water", ""),
    "kin": ("behaves like", ""),
    "related": ("wider group", ""),
    "agent": ("acts as", ""),
    "needs_all_of": ("all must be reached", ""),
    "sphere": ("Hansen sphere", ""),
    "other_spheres": ("other sphere", ""),
    "when": ("applies", ""),
    "position": ("place among stages", ""),
    "outside_catalogue": ("other liquids", ""),
    "how": ("how to look", ""),
    "ph": ("pH", ""),
    "claims": ("statement", ""),
    "claim": ("statement", ""),
    "hazard_class": ("hazard class", ""),
}
"""Label and unit of fields whose own names would not be read as words."""
PICTOGRAMS = {
    "GHS01": "exploding bomb",
    "GHS02": "flame",
    "GHS03": "flame over circle",
    "GHS04": "gas cylinder",
    "GHS05": "corrosion",
    "GHS06": "skull and crossbones",
    "GHS07": "exclamation mark",
    "GHS08": "health hazard",
    "GHS09": "environment",
}
"""Names of the pictograms of the UN system; quoted from memory."""
VALUES: dict[str, dict[Any, str]] = {
    "lets_liquid_through": {
        "film": "no: a film is a barrier",
        "porous": "yes: it is porous",
        "none": "there is no carrier",
    },
    "contact": {
        "free": "free: the liquid is rubbed in or can spread",
        "confined": "confined: the liquid is held in place",
    },
    "position": {0: "0 fresh", 1: "1 softening or oxidising", 2: "2 cross-linked"},
    "severity": {
        "stop": "stop: vetoes a suggestion",
        "warn": "warn: a danger that a test or a measure can meet",
        "note": "note: worth knowing, changes nothing by itself",
    },
    "dated": {True: "its findings are spans of years"},
    "hold": {True: "the work may rest here, or waits for a look"},
    "pictogram": {code: f"{word} ({code})" for code, word in PICTOGRAMS.items()},
}
"""What the fixed words and numbers of some fields mean."""
RESULTS = {
    "released": "released",
    "partly": "released in part",
    "not released": "did not release",
    "harm": "did harm",
    "named only": "named, but what it did is not said",
}
_SAID = {"value", "low", "high", "d", "p", "h", "r0", "at_c", "text", "note", "none_known", "from", "others"}
_SAID |= {"solubility_g_l", "parts", "parts_assumed", "result", "name", "until"}
_BESIDE = {"r0": {"kind", "row"}, "solubility_g_l": {"temp_c"}}
"""Keys that are said together with another one."""
_SPANS = {
    "amount": ("amount_high", ""),
    "percent": ("percent_high", "%"),
    "minutes": ("minutes_high", "min"),
    "temp_c": ("temp_high_c", "°C"),
    "days": ("days_high", "days"),
}
"""A number within a map, the other end of its range, and its unit (of an amount: said beside it)."""
Name = Callable[[str, str], str]
"""From the word of a kind and an id to the name."""


def label_of(key: str) -> tuple[str, str]:
    """Label and unit of a field: ``boiling_point_c`` -> ("boiling point", "°C")."""
    if key in LABELS:
        return LABELS[key]
    for ending, unit in UNITS.items():
        if key.endswith(ending):
            return key.removesuffix(ending).replace("_", " "), unit
    return key.replace("_", " "), ""


def plain_words(key: str, value: Any) -> str:
    """A value that is no map and no list; what a bare yes or number would not tell is told."""
    if key in VALUES and value in VALUES[key]:
        return VALUES[key][value]
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)


def in_words(value: Mapping[str, Any], unit: str, name: Name = lambda _, id: id) -> str:
    """A figure, sphere, claim or other small map in one line. ``name`` gives the names of liquids."""
    if "none_known" in value:
        return str(value["none_known"])
    if "outcome" in value:
        return step_words(value)
    parts = [str(value.get("name", "")), _number(value, unit)]
    if "d" in value and "h" in value:
        parts += _sphere(value, unit)
    if "at_c" in value:
        parts.append(f"at {value['at_c']:g} °C")
    if "parts" in value:
        parts.append(blend_words(value["parts"], lambda one: name("liquid", one)))
    if "result" in value:
        parts.append(RESULTS.get(value["result"], str(value["result"])))
    if value.get("parts_assumed"):
        parts.append("the report does not give the shares, equal ones are assumed")
    if "text" in value:
        parts.append(str(value["text"]))
    if "solubility_g_l" in value:
        at = f" at {value['temp_c']} °C" if value.get("temp_c") else ""
        parts.append(f"{value['solubility_g_l']:g} g/l{at}")
    parts += [*_spans(value), str(value.get("until", ""))]
    said = _SAID.union(*(keys for first, keys in _BESIDE.items() if first in value), _told_in(value))
    parts.extend(_rest(key, inner) for key, inner in value.items() if key not in said and inner != [])
    if value.get("note"):
        parts.append(f"({value['note'].removesuffix('.')})")
    return "; ".join(part for part in parts if part).replace(".; ", ". ")


def _number(value: Mapping[str, Any], unit: str) -> str:
    low, high = value.get("low"), value.get("high")
    if "value" in value:
        words = f"{value['value']:g}"
    elif low is not None and high is not None:
        words = f"{low:g} to {high:g}"
    elif low is not None or high is not None:
        words = f"from {low:g}" if low is not None else f"up to {high:g}"
    else:
        return ""
    return f"{words} ({unit})" if "=" in unit else f"{words} {unit}".strip()


def _spans(value: Mapping[str, Any]) -> list[str]:
    """Amounts, times and temperatures within a step or an ingredient."""
    found = []
    for key, (end, unit) in _SPANS.items():
        span = {"low": value.get(key), "high": value.get(end)}
        if span["low"] is not None and span["high"] is None:
            span = {"value": span["low"]}
        # The temperature of a solubility stands with it.
        if any(isinstance(one, (int, float)) for one in span.values()):
            found.append(_number(span, unit or str(value.get("unit", ""))))
    return found


def _told_in(value: Mapping[str, Any]) -> set[str]:
    """Keys of the ranges that are given as numbers, with the unit of an amount."""
    ends = [key for pair in ((first, last) for first, (last, _) in _SPANS.items()) for key in pair]
    told = {key for key in ends if isinstance(value.get(key), (int, float))}
    return told | ({"unit"} if "amount" in told else set())


def _sphere(value: Mapping[str, Any], unit: str) -> list[str]:
    """Hansen parameters or a sphere with what was tested; with the unit % Teas fractions."""
    d, p, h = (f"{value[axis]:g}" for axis in ("d", "p", "h"))
    if unit == "%":
        return [f"dispersion {d} %, polar {p} %, hydrogen bonding {h} %"]
    words = f"dD {d}, dP {p}, dH {h}"
    if "r0" not in value:
        return [f"{words} {unit}".strip()]
    found = [f"{words}, R0 {value['r0']:g} MPa^0.5"]
    if value.get("kind"):
        found.append(f"for {value['kind']}")
    if value.get("row") is not None:
        found.append(f"row {value['row']} of the table")
    return found


def blend_words(parts: Mapping[str, float], name: Callable[[str], str]) -> str:
    """``n-Hexane``, or ``50 % Cyclohexane + 50 % Toluene``: shares by volume."""
    if len(parts) == 1:
        return name(next(iter(parts)))
    return " + ".join(f"{share * 100:.4g} % {name(one)}" for one, share in parts.items())


def step_words(value: Mapping[str, Any]) -> str:
    """One step of a reported treatment: what was used, how, how much, and what came of it."""
    done = ", ".join(str(value[key]) for key in ("agent", "how", "amounts") if value.get(key))
    return f"{value.get('kind', 'step')}: {done}. Outcome: {value.get('outcome', 'not stated')}"


def _rest(key: str, value: Any) -> str:
    name = key.replace("_", " ")
    if isinstance(value, bool):
        return VALUES.get(key, {}).get(value) or (name if value else f"not {name}")
    if isinstance(value, dict):
        if "text" in value:
            return str(value["text"])
        inner = (f"{one.replace('_', ' ')} {plain_words(one, said)}" for one, said in value.items())
        return f"{name}: {', '.join(inner)}" if "from" not in value else in_words(value, "")
    if isinstance(value, list):
        return ", ".join(_rest(key, one) if isinstance(one, dict) else str(one) for one in value)
    return f"{name} {plain_words(key, value)}"


OLD_LIST_YEARS = 3
"""From this age on a newer list is to be looked for; most change each year or two."""


def limit_words(limit: ExposureLimit, *, advice: bool = True, today: date | None = None) -> str:
    """One limit with its authority and list in a line; one that nobody saw in its source says so.

    Without ``advice`` the doubt is one word: a list of several limits then says once what to do about it.
    A list of OLD_LIST_YEARS or more before ``today`` asks for a newer one.
    """
    # Some lists average over another time than a shift of 8 h, and say so in their name.
    average = "" if "average over" in limit.list_name else "8 h"
    said = []
    for ppm, mg_m3, span in (
        (limit.twa_ppm, limit.twa_mg_m3, average),
        (limit.short_term_ppm, limit.short_term_mg_m3, "15 min"),
        (limit.ceiling_ppm, None, "never above"),
    ):
        figures = [f"{one:g} {unit}" for one, unit in ((ppm, "ppm"), (mg_m3, "mg/m3")) if one is not None]
        if figures:
            said.append(f"{', '.join(figures)}{f' ({span})' if span else ''}")
    skin = "; through the skin too" if limit.skin else ""
    doubt = "" if limit.verified else f" - unverified{': check the current list' if advice else ''}"
    # Lists change each year or two; a year beside the figure says how old the reader's knowledge is.
    year = "" if limit.year is None or str(limit.year) in limit.list_name else str(limit.year)
    old = limit.year is not None and (today or date.today()).year - limit.year >= OLD_LIST_YEARS
    newer = "check for a newer one" if advice and old else ""
    dated = f" ({'; '.join(filter(None, (year, newer)))})" if year or newer else ""
    return f"{limit.authority} {limit.list_name}{dated}: {'; '.join(said) or 'no figure'}{skin}{doubt}"
