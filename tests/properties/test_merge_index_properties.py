"""Books of several benches give the same index and the same answers, however they arrive.

`tests/test_index.py` grows one bench's file in the order of writing, and `test_book_properties.py` folds
records without an index. Here the files of two or three benches arrive as sharing brings them: in any order,
a few lines at a time or broken off within a line, put in the place of the old file or added at its end, with
changes before what they change, and looked at in between or not.
"""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
from collections.abc import Iterable
from pathlib import Path
from typing import Any, NamedTuple

import msgspec
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kb.book.line import FIRST_PREV, encode_line, hash_of
from kb.desk.choose.choose import choose
from kb.desk.studio import Studio
from kb.model.question import Question
from kb.model.record import Line
from tests.book.test_book_fold import make, rid
from tests.test_index import content

BENCHES = ("north", "south", "west")
LIQUIDS = ({"n-heptane": 1.0}, {"acetone": 1.0}, {"acetone": 0.5, "ethanol": 0.5}, {"ethanol": 1.0})
ASKED = Question(
    adhesive="natural-rubber-resin",
    stage="oily",
    medium="letterpress-oil",
    paper="paper-woodpulp",
    sheet="Chart",
)
PLACE = {"file", "offset", "length"}
"""Where a record was read. One that stands in two files may be read from either."""


class Step(NamedTuple):
    """Some lines of one bench's file arrive, then ``extra`` bytes of the next line."""

    bench: int
    lines: int
    extra: int
    replaced: bool
    looked_at: bool


GRADES = st.integers(0, 4)
RECORDS = st.lists(
    st.tuples(
        st.integers(0, 2),
        st.sampled_from(
            ["test", "test", "patch", "patch", "strip", "sheet", "bottle", "amend", "amend", "withdraw"]
        ),
        st.integers(0, 15),
        GRADES,
        st.integers(0, 3),
    ),
    min_size=2,
    max_size=16,
)
STEPS = st.lists(
    st.builds(
        Step,
        st.integers(0, 2),
        st.integers(0, 3),
        st.sampled_from([0, 0, 40, 200]),
        st.booleans(),
        st.booleans(),
    ),
    max_size=12,
)


def record(number: int, drawn: tuple[int, str, int, int, int], kinds: dict[int, str]) -> Line:
    """One record; a change points at any record, also at one that is written later or is a change itself."""
    bench, kind, of, grade, which = drawn
    if kind == "test":
        body: dict[str, Any] = {
            "adhesive": ASKED.adhesive,
            "stage": ("oily", "")[grade % 2],
            "medium": ASKED.medium,
            "paper": ASKED.paper,
            "parts": LIQUIDS[which],
            "release": grade,
            "harm": {"bleed": (grade * 3) % 5},
            "sheet": ("", "Chart")[which % 2],
        }
    elif kind == "bottle":
        body = {"liquid": "acetone", "opened": f"202{grade}", "label": f"shelf {which}"}
    elif kind == "patch":
        body = {
            "sheet": ("Chart", "Plan")[which % 2],
            "patch": f"F{grade}",
            "face": "front",
            "outline": ("2,2 8,2 8,8", "22,2 28,2 28,8")[grade % 2],
            "progress": "done",
            "liquid": ("acetone", "acetone 50, ethanol 50", "n-heptane")[which % 3],
            "release": grade,
            "harm": (grade * 3) % 5,
        }
    elif kind == "strip":
        outline = ("0,0 10,0 10,10 0,10", "20,0 30,0 30,10 20,10")[grade % 2]
        tape = ("masking-rubber", "")[which // 2]
        body = {"sheet": ("Chart", "Plan")[which % 2], "face": "front", "outline": outline, "tape": tape}
    elif kind == "sheet":
        may_be = {} if grade % 2 else {f"{ASKED.adhesive}/oily/": 1.0}
        body = {"sheet": ("Chart", "Plan")[which % 2], "media_front": [ASKED.medium], "may_be": may_be}
    elif kind == "amend":
        changed: dict[str, Any] = {
            "bottle": {"label": f"moved {grade}"},
            "strip": {"stage": ("oily", "")[grade % 2], "tape": "masking-rubber"},
            "sheet": {"paper": ASKED.paper, "sheet": ("Chart", "Plan")[grade % 2]},
            "patch": ({"release": grade}, {"sheet": "Plan"}, {"liquid": "ethanol"})[which % 3],
        }.get(kinds.get(of, "")) or ({"release": grade}, {"parts": LIQUIDS[grade % 4]})[which % 2]
        body = {"of": rid(of), "set": changed, "why": "misread"}
    else:
        body = {"of": rid(of), "why": f"reason {grade}"}
    return make(number, kind, body, bench=BENCHES[bench])


def files_of(drawn: list[tuple[int, str, int, int, int]], order: list[int]) -> dict[str, list[bytes]]:
    """Whole lines, newline and all, of each bench's file, each linked to the one before it."""
    kinds = {number: one[1] for number, one in zip(order, drawn, strict=False)}
    made: dict[str, list[bytes]] = {bench: [] for bench in BENCHES}
    for number, one in zip(order, drawn, strict=False):
        lines = made[BENCHES[one[0]]]
        prev = hash_of(lines[-1][:-1]) if lines else FIRST_PREV
        lines.append(encode_line(msgspec.structs.replace(record(number, one, kinds), prev=prev)) + b"\n")
    return made


def arrive(path: Path, data: bytes, *, replaced: bool) -> None:
    """The file has this content from now on, as git leaves it or as a writer does."""
    if replaced or not path.exists():
        part = path.with_suffix(".part")
        part.write_bytes(data)
        part.replace(path)
        return
    with path.open("r+b") as file:
        there = len(file.read())
        file.write(data[there:])
        file.truncate(len(data))


def derived(conn: sqlite3.Connection) -> dict[str, list[tuple[object, ...]]]:
    """Every derived row of the book, without the place where its record was read."""
    found = content(conn)
    found["other_record"] = conn.execute("SELECT * FROM other_record").fetchall()
    found["problem"] = conn.execute("SELECT * FROM problem").fetchall()
    for table in ("test", "change", "kept", "other_record"):
        names = [row[1] for row in conn.execute(f"PRAGMA table_info({table})")]
        keep = [at for at, name in enumerate(names) if name not in PLACE]
        found[table] = [tuple(row[at] for at in keep) for row in found[table]]
    return {table: sorted(rows, key=repr) for table, rows in found.items() if table not in {"entry", "name"}}


def answer(studio: Studio) -> bytes:
    return msgspec.json.encode(choose(studio, ASKED, studio.settings.dials, 10_000))


def studio_in(folder: Path, blank_index: Path) -> Studio:
    (folder / "book").mkdir(parents=True)
    shutil.copy(blank_index, folder / "index.db")
    return Studio(folder)


def at_once(folder: Path, blank_index: Path, files: Iterable[tuple[str, bytes]]) -> Studio:
    """A studio that finds all files in place when it is first opened."""
    studio = studio_in(folder, blank_index)
    for name, data in files:
        (studio.book_dir / f"{name}.jsonl").write_bytes(data)
    return studio


@settings(max_examples=16, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    drawn=RECORDS,
    order=st.permutations(range(16)),
    steps=STEPS,
    last=st.permutations(BENCHES),
    copied=st.booleans(),
)
def test_however_books_arrive_the_index_and_the_answer_are_the_same(
    blank_index: Path,
    drawn: list[tuple[int, str, int, int, int]],
    order: list[int],
    steps: list[Step],
    last: list[str],
    copied: bool,
) -> None:
    """Ids need not follow the order of writing, a record may stand in two files, and lines come in pieces."""
    made = files_of(drawn, order)
    with tempfile.TemporaryDirectory() as folder:
        grown = studio_in(Path(folder, "grown"), blank_index)
        came = dict.fromkeys(BENCHES, 0)
        for step in steps:
            bench = BENCHES[step.bench]
            came[bench] = min(came[bench] + step.lines, len(made[bench]))
            rest = b"".join(made[bench][came[bench] :])
            begun = rest[: min(step.extra, len(rest.partition(b"\n")[0]))]
            data = b"".join(made[bench][: came[bench]]) + begun
            arrive(grown.book_dir / f"{bench}.jsonl", data, replaced=step.replaced)
            if step.looked_at:
                grown.refresh()
        for bench in last:
            arrive(grown.book_dir / f"{bench}.jsonl", b"".join(made[bench]), replaced=copied)
            grown.refresh()
        whole = {bench: b"".join(lines) for bench, lines in made.items()}
        if copied:
            whole["a-copy"] = whole["west"]
            arrive(grown.book_dir / "a-copy.jsonl", whole["west"], replaced=True)
            grown.refresh()
        fresh = at_once(Path(folder, "fresh"), blank_index, whole.items())
        assert derived(grown.index.conn) == derived(fresh.index.conn)
        assert answer(grown) == answer(fresh)
        other = at_once(
            Path(folder, "other"), blank_index, ((f"{9 - at}", one) for at, one in enumerate(whole.values()))
        )
        assert answer(other) == answer(fresh)
        for studio in (grown, fresh, other):
            studio.close()


def test_two_records_with_one_id_count_the_same_whichever_arrives_first(
    blank_index: Path, tmp_path: Path
) -> None:
    """An id stands for two contents only where someone altered a file: all machines must still agree."""
    one = files_of([(0, "test", 0, 4, 0)], [3])["north"][0]
    two = files_of([(1, "test", 0, 0, 1)], [3])["south"][0]
    answers = set()
    for number, (first, second) in enumerate(((one, two), (two, one))):
        studio = studio_in(tmp_path / str(number), blank_index)
        for name, line in (("a", first), ("b", second)):
            (studio.book_dir / f"{name}.jsonl").write_bytes(line)
            studio.refresh()
        answers.add(answer(studio))
    assert len(answers) == 1
