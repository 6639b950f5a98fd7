"""Eight writers, killed at random moments: what was acknowledged is there, and every tear is named."""

from __future__ import annotations

import os
import random
import selectors
import signal
from pathlib import Path
from typing import NamedTuple

from kb.book.append import append
from kb.book.check import decode_test
from kb.book.read import read_file
from kb.book.verify import Problem, verify
from tests.faults import figures
from tests.faults.tools import start

APPENDS = 2_000
WRITERS = 8
LEAST_KILLS = 50
SHARED = 4
"""This many writers take turns at one bench file, in whatever order the lock lets them; each of the other
four has a bench of its own."""
SLICE = 211
"""A kernel may write less than it was asked to. So small slices let a kill fall within a line."""
DOOMED = 3
"""One writer in so many is killed between two slices of a line, as the sync of a line takes far longer
than its writing and kills from outside hardly ever fall there."""


class Told(NamedTuple):
    """What writers said before they died: appends begun, and remark by id of those acknowledged."""

    tried: list[str]
    acknowledged: dict[str, str]


class Writer:
    """A child that appends until it is killed, telling each step through a pipe."""

    def __init__(self, book: Path, place: int, life: int, chance: random.Random) -> None:
        self.bench = "shared" if place < SHARED else f"own-{place}"
        self.read_end, self.write_end = os.pipe()
        self.told = b""
        self.slices_left = chance.randint(5, 200) if chance.randrange(DOOMED) == 0 else -1
        self.child = start(lambda: self._work(book, f"writer {place}, life {life}"))
        os.close(self.write_end)

    def _work(self, book: Path, name: str) -> None:
        os.close(self.read_end)
        really = os.write

        def in_slices(fd: int, data: bytes) -> int:
            self.slices_left -= 1
            if self.slices_left == 0:
                really(fd, data[: SLICE // 2])
                os.kill(os.getpid(), signal.SIGKILL)
            return really(fd, data[:SLICE])

        number = 0
        while True:
            number += 1
            remark = f"{name}, record {number}"
            really(self.write_end, f"T{remark}\n".encode())
            os.write = in_slices  # type: ignore[assignment]
            body = {"parts": {"water": 1.0}, "release": number % 5, "remarks": remark + " " + "x" * 1200}
            line = append(book, bench=self.bench, who="reader", kind="test", body=body)
            os.write = really
            really(self.write_end, f"A{line.id} {remark}\n".encode())

    def listen(self) -> int:
        """Read what has come; how many appends were begun in it, -1 if the writer is dead."""
        part = os.read(self.read_end, 65_536)
        if not part:
            return -1
        self.told += part
        return part.count(b"\nT") + part.startswith(b"T")

    def kill(self, told: Told) -> None:
        """End it this moment, if it is not dead yet, then take in what it had said until then."""
        os.kill(self.child, signal.SIGKILL)
        assert os.WTERMSIG(os.waitpid(self.child, 0)[1]) == signal.SIGKILL
        while part := os.read(self.read_end, 65_536):
            self.told += part
        os.close(self.read_end)
        # A message of so few bytes reaches a pipe whole or not at all.
        for text in self.told.decode().splitlines():
            if text.startswith("T"):
                told.tried.append(text[1:])
            else:
                record_id, _, remark = text[1:].partition(" ")
                assert record_id not in told.acknowledged, "the same id was given twice"
                told.acknowledged[record_id] = remark


def run_writers(book: Path, appends: int, chance: random.Random) -> tuple[Told, int]:
    """Let the writers work and die until so many appends were begun; what they told, and the kills."""
    told, begun, kills = Told([], {}), 0, 0
    writers = [Writer(book, place, 0, chance) for place in range(WRITERS)]
    while begun < appends or kills < LEAST_KILLS - WRITERS:
        selector = selectors.DefaultSelector()
        for place, writer in enumerate(writers):
            selector.register(writer.read_end, selectors.EVENT_READ, place)
        victim_after = begun + chance.randint(1, 40)
        dead = -1
        while begun < victim_after and dead < 0:
            for key, _ in selector.select():
                heard = writers[key.data].listen()
                begun, dead = (begun, key.data) if heard < 0 else (begun + heard, dead)
        selector.close()
        for _ in range(chance.randrange(4_000)):
            pass
        place = dead if dead >= 0 else chance.randrange(WRITERS)
        writers[place].kill(told)
        kills += 1
        writers[place] = Writer(book, place, kills, chance)
    for writer in writers:
        writer.kill(told)
    return told, kills + WRITERS


def test_2000_appends_by_8_writers_killed_at_random_lose_nothing(tmp_path: Path) -> None:
    """Four writers on one file, four on files of their own. Fewer than 2,000 is not what is promised."""
    told, kills = run_writers(tmp_path, APPENDS, random.Random(7))
    found: dict[str, str] = {}
    tears = 0
    problems = verify(tmp_path)
    for path in sorted(tmp_path.glob("*.jsonl")):
        reads = list(read_file(path))
        lines = [read.line for read in reads if read.line]
        assert [line.id for line in lines] == sorted(line.id for line in lines), "ids follow the file"
        for line in lines:
            assert line.id not in found, "no record is there twice"
            found[line.id] = decode_test(line).remarks.partition(" x")[0]
        # A writer may die with nothing but the line's end still to write: all is there, and it is a tear.
        endless = 0 if path.read_bytes().endswith(b"\n") else len(reads)
        torn = [number for number, read in enumerate(reads, 1) if read.line is None or number == endless]
        named = [item for item in problems if item.file == path.name]
        assert [item.line_number for item in named] == torn, "every tear is named by its line, nothing else"
        assert all(_is_tear(item, last=len(reads)) for item in named)
        tears += len(torn)
    lost = [record_id for record_id, remark in told.acknowledged.items() if found.get(record_id) != remark]
    figures.add(
        "8 writers killed at random",
        tried=len(told.tried),
        acknowledged=len(told.acknowledged),
        lost=len(lost),
        crashes=kills,
        torn_lines_named=tears,
    )
    assert lost == []
    assert set(found.values()) <= set(told.tried), "nothing is there that nobody wrote"
    assert len(told.tried) >= APPENDS
    assert len(told.acknowledged) >= APPENDS - kills
    assert len(found) - len(told.acknowledged) + tears <= kills, "one line in flight for each kill at most"
    assert kills >= LEAST_KILLS
    assert tears > 0, "some kill must have fallen within a line, or this test shows too little"


def _is_tear(item: Problem, *, last: int) -> bool:
    """A tear is a mere note once a later line seals it; at the very end it is an error."""
    return item.kind == "torn" and (item.severity == "note" or item.line_number == last)
