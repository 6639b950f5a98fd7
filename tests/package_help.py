"""Studios with books that are written line by line, also with what the program itself would refuse."""

from __future__ import annotations

import csv
import sqlite3
from pathlib import Path
from typing import Any

import msgspec

from kb.book.line import FIRST_PREV, encode_line, hash_of
from kb.book.ulid import new_ulid
from kb.desk.studio import Studio
from kb.model.record import Line

csv.field_size_limit(1 << 24)
HALVES = {"acetone": 0.25, "water": 0.75}
NOT_HERE = "01J00000000000000000000000"
START_MS = 1_730_000_000_000
HOSTILE = (
    "=1+1",
    "+1",
    "-1",
    "@SUM(A1)",
    " =1",
    "'quoted",
    '"; DROP TABLE records; --',
    "line one\nline two",
    "a, b; c",
    "\U0001f4dc\U0001f600 grüße",
    "[b]markup[/b]",
    "=cmd|' /C calc'!A0",
)


def put(root: Path, bench: str, records: list[tuple[str, Any]], *, start: int = 0) -> list[str]:
    """Add records (kind, body) to the file of a bench, linked as the program does; their ids.

    A body may be a function of the ids so far. ``start`` sets the first id's time apart.
    """
    path = root / "book" / f"{bench}.jsonl"
    path.parent.mkdir(parents=True, exist_ok=True)
    raws = path.read_bytes().split(b"\n")[:-1] if path.exists() else []
    prev = hash_of(raws[-1]) if raws else FIRST_PREV
    ids: list[str] = []
    with path.open("ab") as out:
        for number, (kind, body) in enumerate(records):
            made = body(ids) if callable(body) else body
            line = Line(
                id=new_ulid(START_MS + (start + number) * 1000),
                at=f"2024-11-{1 + number % 28:02d}T10:00:00.{number % 1000:03d}Z",
                who="A. B.",
                bench=bench,
                kind=kind,
                body=msgspec.Raw(msgspec.json.encode(made)),
                prev=prev,
            )
            raw = encode_line(line)
            out.write(raw + b"\n")
            prev = hash_of(raw)
            ids.append(line.id)
    return ids


def spot_body(**fields: Any) -> dict[str, Any]:
    """The body of a spot test."""
    return {"parts": {"acetone": 1.0}, "method": "swab", "sheet": "S 1", "release": 2, **fields}


def every_kind(root: Path) -> list[str]:
    """A record of each kind, an amendment and a withdrawal of one, by one bench; their ids."""
    sha = "ab" * 32
    return put(
        root,
        "bench-a",
        [
            ("test", spot_body(harm={"bleed": 0, "gloss": 3}, site={"x_mm": -4.0, "face": "back"})),
            ("test", spot_body(parts=HALVES, rounds=[{"dwell_s": 90.5, "wet": "=x"}])),
            ("bottle", {"liquid": "acetone", "opened": "2024-05"}),
            ("reading", {"sheet": "S 1", "ph": 7.25, "temperature_c": 21.5, "conductivity_us_cm": 12.0}),
            ("batch", {"name": "paste", "weights": [{"name": "starch", "amount": 10.0, "unit": "g"}],
                       "hazards": ["irritant", "dust"]}),
            ("mend", {"sheet": "S 1", "length_mm": 30.0, "photos": [{"path": "../up.jpg", "sha256": sha}]}),
            ("toning", {"tissue": "kozo", "dry": {"lightness": 88.5, "a": -1.25, "b": 9.0},
                        "colourants": [{"name": "ochre", "amount": 0.5, "unit": "g"}]}),
            ("housing", {"sheet": "S 1", "gap_width_mm": 3.0, "humidity_low": 45.0}),
            ("later-kind", {"sheet": "S 1", "batch": "x", "=x": [1, {"y": "=2"}]}),
            ("amend", lambda ids: {"of": ids[0], "set": {"release": 4}, "why": "seen again"}),
            ("withdraw", lambda ids: {"of": ids[1], "why": "-wrong sheet"}),
            ("amend", lambda ids: {"of": NOT_HERE, "set": {"release": 1}, "why": "later"}),
            ("withdraw", lambda ids: {"of": ids[8], "why": "not ours"}),
        ],
    )  # fmt: skip


def hostile(root: Path) -> list[str]:
    """A studio of texts that act as formulas, SQL, markup, and one of a megabyte."""
    fields = ("sheet", "remarks", "light", "magnification", "batch", "tape")
    tests = [("test", spot_body(**{fields[n % len(fields)]: text})) for n, text in enumerate(HOSTILE)]
    tests += [("test", spot_body(remarks=text, parts={text: 1.0})) for text in HOSTILE if len(text) < 60]
    tests.append(("test", spot_body(remarks="=" + "m" * 1_000_000)))
    tests.append(("test", spot_body(site={"x_mm": -4.0, "y_mm": 0.1, "words": "-4"})))
    return put(root, "bench-a", tests)


def rows(folder: Path, table: str, tables: str = "tables") -> list[dict[str, str]]:
    """The rows of a table, read by the CSV reader of the standard library."""
    with (folder / tables / f"{table}.csv").open(newline="", encoding="utf-8") as stream:
        return list(csv.DictReader(stream, strict=True))


def load_sqlite(folder: Path) -> sqlite3.Connection:
    """All tables in SQLite, with the keys and references that the descriptor declares."""
    head = msgspec.json.decode((folder / "datapackage.json").read_bytes())
    conn = sqlite3.connect(":memory:")
    tables = [one for one in head["resources"] if one["path"].endswith(".csv")]
    for one in tables:
        parts = [f'"{field["name"]}"' for field in one["schema"]["fields"]]
        parts.append("PRIMARY KEY (" + ", ".join(f'"{key}"' for key in one["schema"]["primaryKey"]) + ")")
        for link in one["schema"]["foreignKeys"]:
            there, (own,) = link["reference"], link["fields"]
            parts.append(f'FOREIGN KEY ("{own}") REFERENCES "{there["resource"]}" ("{there["fields"][0]}")')
        conn.execute(f'CREATE TABLE "{one["name"]}" ({", ".join(parts)})')
    for one in tables:
        for row in rows(folder, one["name"], one["path"].split("/")[0]):
            marks = ", ".join("?" * len(row))
            conn.execute(
                f'INSERT INTO "{one["name"]}" VALUES ({marks})', [cell or None for cell in row.values()]
            )
    return conn


def fresh(root: Path) -> Studio:
    """The studio at a folder, opened anew."""
    return Studio(root)
