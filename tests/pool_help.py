"""Made-up studios that share counts, and what an index holds of them."""

from __future__ import annotations

import random
import sqlite3
from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path
from typing import Any

import msgspec

from kb.desk.choose.choose import choose
from kb.desk.records.record import add_test
from kb.desk.studio import Studio
from kb.index.pool_file import HarmCount, ReleaseCount, counts_file, text_of
from kb.index.pool_queries import BY_FIELDS, unpack_numbers
from kb.index.vectors import fields, unpack
from kb.model.question import Answer, Dials, Question, Suggestion
from kb.science.choose.pooling import FIELDS
from tests.test_index import random_spot

NewStudio = Callable[[str], Studio]
TODAY = date(2026, 3, 2)
QUESTION = Question(
    adhesive="natural-rubber-resin",
    stage="oily",
    carrier="regenerated-cellulose-film",
    medium="letterpress-oil",
    paper="paper-woodpulp",
)
LIQUIDS = ["n-heptane", "acetone", "ethanol", "toluene"]
HEPTANE = {"n-heptane": 100.0}
TAPE = ("natural-rubber-resin", "oily", "regenerated-cellulose-film", "swab")


def released(*grades: int, parts: dict[str, float] | None = None) -> ReleaseCount:
    """A row on the tape of the question."""
    return ReleaseCount(*TAPE, parts or HEPTANE, grades)  # type: ignore[arg-type]


def harmed(*grades: int, parts: dict[str, float] | None = None) -> HarmCount:
    """A row on the medium of the question."""
    return HarmCount("letterpress-oil", "paper-woodpulp", "swab", parts or HEPTANE, grades)  # type: ignore[arg-type]


def studio_id(number: int) -> str:
    """A made-up studio."""
    return f"{number:032x}"


def written(
    folder: Path,
    number: int,
    release: Sequence[ReleaseCount],
    harm: Sequence[HarmCount] = (),
    label: str = "",
) -> Path:
    """The counts file of a made-up studio."""
    path = folder / f"counts-{number}.json"
    path.write_bytes(text_of(counts_file(studio_id(number), label, release, harm)))
    return path


def fill(studio: Studio, count: int, seed: int) -> Studio:
    """Random tests of pure liquids and one blend."""
    rng = random.Random(seed)
    for _ in range(count):
        add_test(studio, random_spot(rng, LIQUIDS))
    studio.refresh()
    return studio


def sums(conn: sqlite3.Connection, table: str, slot: str = "pool_slot") -> dict[tuple[str, ...], list[int]]:
    """Stored sums as one row of numbers per key and liquid."""
    place_of = dict(conn.execute(f"SELECT place, liquid FROM {slot}").fetchall())
    found = {}
    for *key, vector in conn.execute(f"SELECT * FROM {table}"):
        numbers = fields(unpack(vector), len(place_of))
        for place, liquid in place_of.items():
            one = numbers[place * FIELDS : (place + 1) * FIELDS]
            if any(one):
                found[(*key, liquid)] = list(one)
    return found


def pooled(studio: Studio) -> dict[str, Any]:
    """Everything derived from the pool, whatever the order of its slots."""
    conn = studio.index.conn
    place_of = dict(conn.execute("SELECT place, liquid FROM pool_slot").fetchall())
    found: dict[str, Any] = {t: sums(conn, t) for t in ("pool_release_sum", "pool_harm_sum")}
    for table in ("pool_release_by", "pool_harm_by"):
        for first, second, stored in conn.execute(f"SELECT * FROM {table}"):
            numbers = unpack_numbers(stored)
            for place, liquid in place_of.items():
                one = numbers[place * BY_FIELDS : (place + 1) * BY_FIELDS]
                if any(one):
                    found[table, first, second, liquid] = list(one)
    found["blends"] = sorted(conn.execute("SELECT * FROM pool_blend"))
    found["slots"] = sorted(conn.execute("SELECT liquid, parts FROM pool_slot"))
    found["files"] = [one[0:1] + one[3:] for one in conn.execute("SELECT * FROM pool_file ORDER BY studio")]
    return found


def ask(studio: Studio, **dials: Any) -> Answer:
    """All suggestions."""
    return choose(studio, QUESTION, Dials(**dials), limit=500)


def found(answer: Answer, liquid: str = "n-heptane") -> Suggestion:
    """The line of one liquid, proposed or refused."""
    return next(one for one in (*answer.suggestions, *answer.refused) if one.liquid == liquid)


def raw(answer: Answer) -> bytes:
    """The answer as JSON."""
    return msgspec.json.encode(answer)
