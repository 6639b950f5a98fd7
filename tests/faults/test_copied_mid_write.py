"""A stranger copies the studio folder while someone writes in it, and opens the copy on another machine."""

from __future__ import annotations

import os
import shutil
import signal
from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest

from kb.book.line import hash_of
from kb.book.read import read_file
from kb.desk.choose.choose import choose
from kb.desk.keep import rebuild, verify
from kb.desk.records.book_list import amend_record
from kb.desk.records.record import add_test, list_tests
from kb.desk.studio import Studio
from kb.model.question import Question
from tests.conftest import spot
from tests.faults import figures
from tests.faults.tools import answers, listed, start

COPIES = 3
ASKED = Question(adhesive="natural-rubber-resin", stage="oily", medium="letterpress-oil")
LIQUIDS = ("acetone", "n-heptane", "ethanol", "ethyl-acetate", "cyclohexane")


def write_for_ever(root: Path, told: int) -> None:
    """Records, amendments and looks without end; each id is told once it was acknowledged."""
    studio = Studio(root)
    number = 0
    while True:
        parts = {LIQUIDS[number % len(LIQUIDS)]: 1.0}
        sheet = f"Sheet {number % 7}"
        written = add_test(studio, spot(parts=parts, release=number % 5, sheet=sheet, remarks="x" * 500))
        os.write(told, f"{written.id}\n".encode())
        if number % 5 == 4:
            amend_record(studio, written.id, {"release": 1}, "read again")
        if number % 3 == 2:
            studio.refresh()
        number += 1


def asked(studio: Studio) -> bytes:
    """What the copy answers: the list and the ranking, to the last byte."""
    return msgspec.json.encode([list_tests(studio, limit=0), choose(studio, ASKED)])


def whole(book: Path) -> bool:
    """Whether each readable line of each file carries the hash of the line before it."""
    for path in book.glob("*.jsonl"):
        prev = "0" * 64
        for raw, read in zip(path.read_bytes().splitlines(), read_file(path), strict=True):
            if read.line is not None:
                if read.line.prev != prev:
                    return False
                prev = hash_of(raw)
    return True


def test_a_copy_made_mid_write_opens_verifies_and_answers_the_same(
    new_studio: Callable[[str], Studio], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """All that was acknowledged before the copy began is in it, with its own index and with a new one."""
    studio = new_studio("busy")
    studio.close()
    read_end, write_end = os.pipe()
    child = start(lambda: write_for_ever(studio.root, write_end))
    os.close(write_end)
    told, before = "", []
    try:
        for number in range(COPIES):
            while told.count("\n") < 25 * (number + 1):
                told += os.read(read_end, 65_536).decode()
            before.append(told.split("\n")[:-1])
            shutil.copytree(studio.root, tmp_path / f"copy-{number}")
    finally:
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        os.close(read_end)
    monkeypatch.setenv("BENCHLEAF_BENCH", "another-machine")
    torn = 0
    for number, acknowledged in enumerate(before):
        copy = Studio(tmp_path / f"copy-{number}")
        found = verify(copy)
        # The book may have been copied before the index, which then knows of lines that came later.
        assert {one.kind for one in found if one.severity == "error"} <= {"torn", "missing"}
        torn += sum(one.kind == "torn" for one in found)
        assert whole(copy.book_dir)
        said = asked(copy)
        assert set(acknowledged) <= set(listed(copy))
        rows = answers(copy.index.conn)
        rebuild(copy)
        assert asked(copy) == said
        assert answers(copy.index.conn) == rows
        assert {one.kind for one in verify(copy)} <= {"torn"}
        # It is a studio to work in: a record of this machine goes to a file of its own.
        add_test(copy, spot(release=2))
        assert len(listed(copy)) == len(rows["test"]) + 1  # type: ignore[arg-type]
        copy.close()
    kept = len(before[-1])
    figures.add(
        "studio copied mid-write", tried=COPIES, acknowledged=kept, lost=0, crashes=0, torn_lines_named=torn
    )
