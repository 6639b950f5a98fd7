"""A small studio with fixed ids and times, and how a text loses what varies with machine and day."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from kb.book.append import append
from kb.desk.studio import Studio

START = datetime(2026, 1, 5, 9, 0, tzinfo=UTC)
DIGITS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
SPOT = {
    "adhesive": "natural-rubber-resin",
    "stage": "oily",
    "carrier": "regenerated-cellulose-film",
    "medium": "letterpress-oil",
    "paper": "paper-woodpulp",
    "sheet": "Letter 1",
    "method": "swab",
}
HEPTANE, MIXED = {"n-heptane": 1.0}, {"acetone": 0.25, "water": 0.75}


def fixed_id(number: int) -> str:
    """The id of a record made so many hours after the start; the same in every run."""
    now_ms = int((START + timedelta(hours=number)).timestamp() * 1000)
    return "".join(DIGITS[now_ms >> shift & 31] for shift in range(45, -1, -5)) + f"{number:016d}"


RECORDS: list[tuple[str, dict[str, Any]]] = [
    ("test", {**SPOT, "parts": HEPTANE, "release": 3, "harm": {"bleed": 0, "tideline": 1},
              "rounds": [{"dwell_s": 30.0, "dry": "pale"}, {"dwell_s": 90.5}]}),
    ("test", {**SPOT, "parts": MIXED, "release": 1, "harm": {"bleed": 3},
              "site": {"words": "lower left corner", "face": "back", "x_mm": 12.5, "y_mm": 30.0}}),
    ("test", {**SPOT, "parts": {"acetone": 1.0}, "sheet": "Map 2", "release": 4, "harm": {"gloss": 2}}),
    ("bottle", {"liquid": "acetone", "opened": "2025-05"}),
    ("reading", {"sheet": "Letter 1", "ph": 7.25, "temperature_c": 21.5, "conductivity_us_cm": 12.0}),
    ("batch", {"name": "paste", "weights": [{"name": "wheat starch", "amount": 10.0, "unit": "g"}],
               "hazards": ["irritant"]}),
    ("mend", {"sheet": "Letter 1", "length_mm": 30.0}),
    ("toning", {"tissue": "kozo-5", "sheet": "Letter 1", "aim": {"lightness": 88.0, "a": 1.0, "b": 12.0},
                "dry": {"lightness": 87.0, "a": 1.0, "b": 13.0}}),
    ("housing", {"sheet": "Letter 1", "gap_width_mm": 3.0, "humidity_low": 45.0, "humidity_high": 55.0}),
    ("amend", {"of": fixed_id(0), "set": {"release": 2}, "why": "read the wrong line"}),
    ("withdraw", {"of": fixed_id(2), "why": "wrong bottle"}),
]  # fmt: skip
"""Every kind of record on two sheets, with an amendment and a withdrawal."""


def fill(studio: Studio) -> None:
    """The records above, by one bench."""
    for number, (kind, body) in enumerate(RECORDS):
        append(
            studio.book_dir,
            bench="bench-a",
            who="A. B.",
            kind=kind,
            body=body,
            at=START + timedelta(hours=number),
            record_id=fixed_id(number),
        )


# An id of this century begins 01; those of the fixed studios stay readable because they are the same anyway.
_VARYING = (
    (re.compile(r"\b[0-9a-f]{64}\b"), "<sha256>"),
    (re.compile(r"\b\d{4}-\d\d-\d\d-\d{6}\b"), "<stamp>"),
    (re.compile(r"\b\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.?\d*(?:Z|[+-]\d\d:\d\d)"), "<moment>"),
    (re.compile(r"\b\d+(?:\.\d+)? m?s\b(?= *$)", re.MULTILINE), "<time>"),
    # How long something is overdue grows every day.
    (re.compile(r'(?<="days":)\d+(?=,\n?"text")'), "<days>"),
)


def steady(text: str, *folders: Path, today: str, fresh_ids: bool = False) -> str:
    """The text without what differs from day to day and from machine to machine."""
    for folder in folders:
        text = text.replace(str(folder), "<folder>")
    text = re.sub(re.escape(today) + r"T\d\d:\d\d[+-]\d\d:\d\d", "<now>", text)
    text = text.replace(today, "<today>")
    for shape, word in _VARYING:
        text = shape.sub(word, text)
    if fresh_ids:
        text = re.sub(r"\b01[0-9A-HJKMNP-TV-Z]{6,24}\b", "<id>", text)
    return "\n".join(line.rstrip() for line in text.splitlines()) + "\n"
