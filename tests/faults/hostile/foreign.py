"""Records as another or an older program might have written them: chained rightly, text never cleaned."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

DIGITS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
FIRST = "0" * 64
TYPES: Mapping[str, Callable[[str], dict[str, Any]]] = {
    "test": lambda text: {
        "parts": {text[:100] or "x": 1.0},
        "adhesive": text,
        "stage": text,
        "carrier": text,
        "tape": text,
        "medium": text,
        "paper": text,
        "method": text,
        "sheet": text,
        "site": {"words": text, "face": "back"},
        "rounds": [{"dwell_s": 30, "amount": text, "wet": text, "dry": text}],
        "release": 3,
        "harm": {"bleed": 1},
        "magnification": text,
        "light": text,
        "photos": [{"path": text, "sha256": "ab" * 32, "when": "after"}],
        "batch": text,
        "remarks": text,
    },
    "bottle": lambda text: {
        "liquid": text or "acetone",
        "label": text,
        "peroxide_result": text,
        "lot": text,
        "grade": text,
        "remarks": text,
    },
    "reading": lambda text: {
        "sheet": text or "-",
        "method": text,
        "water": text,
        "ph": 7.0,
        "colour": text,
        "batch": text,
        "remarks": text,
    },
    "batch": lambda text: {
        "name": text or "paste",
        "water": text,
        "strength": text,
        "hazards": [text],
        "bad": text,
        "weights": [{"name": text or "starch", "amount": 2.0, "unit": "g", "lot": text}],
        "remarks": text,
    },
    "mend": lambda text: {"sheet": text or "-", "tissue": text, "adhesive": text, "remarks": text},
    "toning": lambda text: {"sheet": text, "tissue": text or "-", "judged": text, "read_with": text},
    "housing": lambda text: {"sheet": text or "-", "into": text or "frame", "place": text, "remarks": text},
    "pressing": lambda text: {"sheet": text or "-", "remarks": text},
    "note": lambda text: {"text": text, text[:100] or "x": [text, {text[:100] or "x": text}]},
}
"""The body of a record of each kind, with a text wherever one can stand. ``note`` is a kind of nobody."""


def record_id(number: int) -> str:
    """A record id that rises with the number."""
    return "01HZ" + "".join(DIGITS[number >> shift & 31] for shift in range(105, -1, -5))


def write_lines(path: Path, bodies: Iterable[tuple[str, dict[str, Any], str]]) -> list[str]:
    """Write records (kind, body, who) to a new book file, each with the hash of the one before; their ids."""
    ids: list[str] = []
    prev = FIRST
    with path.open("wb") as file:
        for number, (kind, body, who) in enumerate(bodies):
            head = {"id": record_id(number), "at": f"2020-01-01T00:00:{number % 60:02d}.000Z"}
            whole = {**head, "who": who, "bench": path.stem, "kind": kind, "body": body, "prev": prev}
            line = spelled(whole)
            file.write(line + b"\n")
            prev = hashlib.sha256(line).hexdigest()
            ids.append(head["id"])
    return ids


def spelled(value: Any) -> bytes:
    """JSON as a careless program writes it: as few escapes as the format allows."""
    try:
        return json.dumps(value, ensure_ascii=False).encode()
    except UnicodeEncodeError:
        return json.dumps(value).encode()
