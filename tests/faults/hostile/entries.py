"""Catalogue entries that bear a hostile string wherever they take free text."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from typing import Any

FROM = {"from": ["project"]}
_SOLVING = {
    "hansen": {"d": 15.5, "p": 10.4, "h": 7.0, **FROM},
    "vapour_pressure_20c_kpa": {"value": 24.0, **FROM},
    "molar_mass_g_mol": {"value": 58.1, **FROM},
    "density_g_ml": {"value": 0.79, **FROM},
}
"""What some liquids have, so that they are ranked and mixed; with all of them it would take minutes."""


def _recipe(text: str) -> dict[str, Any]:
    return {
        "name": text,
        "category": "rigid gel",
        "basis": "w/v added",
        "read": "from memory",
        "ingredients": [
            {"name": f"solid {text}"[:200], "role": "solid", "amount": 4, "unit": "g"},
            {"name": "deionised water", "role": "liquid", "amount": 100, "unit": "ml"},
        ],
        "strength_note": text,
        "steps": [{"text": text, **FROM}],
        **FROM,
    }


ENTRIES: Mapping[str, Callable[[str], dict[str, Any]]] = {
    "sources": lambda text: {"cite": text, "basis": "project", "seen": False, "extent": text},
    "liquids": lambda text: {
        "name": text,
        "also": [f"also {text}"],
        "family": "ketone",
        **(_SOLVING if len(text) % 12 == 3 else {}),
        "classification": {"statements": ["H225"], **FROM},
    },
    "polymers": lambda text: {
        "name": text,
        "sphere": {"d": 17.0, "p": 3.0, "h": 4.0, "r0": 8.0, **FROM},
    },
    "adhesives": lambda text: {"name": text, "polymers": ["natural-rubber"], "group": text, **FROM},
    "carriers": lambda text: {"name": text, "lets_liquid_through": "film", **FROM},
    "stages": lambda text: {"name": text, "position": 0, "text": text, **FROM},
    "tapes": lambda text: {
        "name": text,
        "carrier": "crepe-paper",
        "adhesive": "natural-rubber-resin",
        "era": {"text": text, **FROM},
        **FROM,
    },
    "media": lambda text: {"name": text, "group": text, **FROM},
    "papers": lambda text: {"name": text, **FROM},
    "methods": lambda text: {"name": text, "contact": "free", "text": text, **FROM},
    "cautions": lambda text: {
        "severity": "warn",
        "when": {"liquids": ["acetone"], "hazards": ["H225"]},
        "text": text,
        **FROM,
    },
    "reports": lambda text: {
        "title": text,
        "adhesive": "natural-rubber-resin",
        "medium": "letterpress-oil",
        "paper": "paper-rag",
        "method": "swab",
        "liquids": [{"parts": {"acetone": 0.5, "ethanol": 0.5}, "result": "released"}],
        "evidence": "C",
        **FROM,
    },
    "practice": lambda text: {"topic": "testing", "claim": {"text": text, **FROM}},
    "tissues": lambda text: {
        "name": text,
        "fibre": "kozo",
        "made": "by machine",
        "thickness_um": {"low": 10, "high": 20, **FROM},
        "opacity": "sheer",
        "strength": "low",
        "uses": ["mend"],
        "grammage_g_m2": {"low": 3, "high": 5, **FROM},
        **FROM,
    },
    "recipes": _recipe,
}
"""An entry of a kind from a text; the id is added by whoever writes it down."""

ALWAYS = ("liquids", "papers")
TURNS = 4
"""Of the other kinds each string is in every fourth."""


def entries_of(number: int, text: str) -> dict[str, dict[str, Any]]:
    """The entries of a string by kind: a liquid, a paper, and some of the other kinds in turn."""
    return {
        kind: {"id": f"h-{number}", **make(text)}
        for place, (kind, make) in enumerate(ENTRIES.items())
        if kind in ALWAYS or (place + number) % TURNS == 0
    }


def as_yaml(value: Any) -> str:
    """A value as YAML in flow form, each text in double quotes and every odd character escaped."""
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, dict):
        return "{" + ", ".join(f"{as_yaml(key)}: {as_yaml(item)}" for key, item in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(as_yaml, value)) + "]"
    return {True: "true", False: "false"}.get(value, str(value)) if isinstance(value, bool) else str(value)


@cache
def _quoted(text: str) -> str:
    """Once per text: a megabyte of odd characters stands in entries of many kinds."""
    return f'"{text.translate(ESCAPES)}"'


class Escapes(dict[int, str]):
    """What stands for each sign, by its number, worked out when it is first met."""

    def __missing__(self, number: int) -> str:
        self[number] = _escaped(chr(number))
        return self[number]


ESCAPES = Escapes()


def _escaped(sign: str) -> str:
    if sign in '"\\':
        return f"\\{sign}"
    if " " <= sign <= "~":
        return sign
    return f"\\u{ord(sign):04x}" if sign <= "\uffff" else f"\\U{ord(sign):08x}"
