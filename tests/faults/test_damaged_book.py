"""Every kind of damage to a book's file: named by file and line, passed over, and the rest is served."""

from __future__ import annotations

import random
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest

from kb.book.read import read_file
from kb.cli.main import main
from kb.desk.choose.choose import choose
from kb.desk.records.book_list import amend_record, withdraw_record
from kb.desk.records.record import add_test, show_test
from kb.desk.studio import Studio
from kb.model.question import Question
from tests.conftest import spot
from tests.faults import figures
from tests.faults.tools import answers, fresh_answers, listed, small

__all__ = ["small"]
FILE = "bench-a.jsonl"
TESTS = 6
Lines = list[bytes]


class Damage(NamedTuple):
    """What happens to the lines, which of them ``verify`` names, and which can no longer be read.

    Lines are counted from 1 in the file as damaged.
    """

    work: Callable[[Lines], Lines]
    named: set[int]
    unreadable: set[int]


def swap_bytes(at: int, old: bytes, new: bytes) -> Callable[[Lines], Lines]:
    """Put other bytes into one line (counted from 0)."""

    def work(lines: Lines) -> Lines:
        assert old in lines[at]
        return [*lines[:at], lines[at].replace(old, new, 1), *lines[at + 1 :]]

    return work


def put_in(at: int, new: bytes) -> Callable[[Lines], Lines]:
    """One more line before the one counted from 0."""
    return lambda lines: [*lines[:at], new, *lines[at:]]


def tear(at: int) -> Callable[[Lines], Lines]:
    """Cut a line short."""
    return lambda lines: [*lines[:at], lines[at][: len(lines[at]) // 2], *lines[at + 1 :]]


def without(at: int) -> Callable[[Lines], Lines]:
    """Take a line out."""
    return lambda lines: [*lines[:at], *lines[at + 1 :]]


LAST = TESTS + 1
"""Six tests, then an amendment of the first and a withdrawal of the second."""
PLACES = {"first": 0, "middle": 3, "last": LAST}


def damages() -> dict[str, Damage]:
    """All of them, by name."""
    found: dict[str, Damage] = {}
    for where, at in PLACES.items():
        kind = b'"kind":"withdraw"' if at == LAST else b'"kind":"test"'
        body = (b'"why":"wrong', b'"why":"brong') if at == LAST else (b'"release":', b'"remease":')
        bad = {at + 1}
        found |= {
            f"{where} line torn": Damage(tear(at), bad, bad),
            f"{where} line, id no id": Damage(swap_bytes(at, b'{"id":"0', b'{"id":"U'), bad, bad),
            f"{where} line, id another": Damage(swap_bytes(at, b'{"id":"01', b'{"id":"00'), bad, set()),
            f"{where} line, kind no word": Damage(swap_bytes(at, kind, b'"kind":"Test"'), bad, bad),
            f"{where} line, kind gone": Damage(swap_bytes(at, b'"kind"', b'"kinx"'), bad, bad),
            f"{where} line, body": Damage(swap_bytes(at, *body), bad, bad if at < LAST else set()),
            f"{where} line, prev no hash": Damage(swap_bytes(at, b'"prev":"', b'"prev":"x'), bad, bad),
            f"{where} line, a NUL": Damage(swap_bytes(at, b'"who"', b'"w\0o"'), bad, bad),
            f"{where} line, NULs only": Damage(swap_lines(at, b"\0" * 300), bad, bad),
            f"{where} line, not UTF-8": Damage(swap_bytes(at, b'"bench"', b'"b\xffnch"'), bad, bad),
            f"empty line before the {where}": Damage(put_in(at, b""), bad, bad),
            f"{where} line doubled": Damage(
                lambda lines, at=at: put_in(at, lines[at])(lines), {at + 2}, set()
            ),
        }
    found |= {
        "first line removed": Damage(without(0), {1}, set()),
        "middle line removed": Damage(without(3), {3}, set()),
        "last line removed": Damage(without(LAST), {LAST + 1}, set()),
        "two lines swapped": Damage(lambda ls: [*ls[:2], ls[3], ls[2], *ls[4:]], {3, 4, 5}, set()),
        "line ends of another system": Damage(
            lambda lines: [raw + b"\r" for raw in lines], set(range(1, LAST + 2)), set()
        ),
        "a byte order mark": Damage(lambda ls: [b"\xef\xbb\xbf" + ls[0], *ls[1:]], {1}, {1}),
        "rubbish in place of all": Damage(lambda lines: [b"\x89PNG"] * 3, {1, 2, 3}, {1, 2, 3}),
    }
    return found


def swap_lines(at: int, new: bytes) -> Callable[[Lines], Lines]:
    """Another line in place of the one counted from 0."""
    return lambda lines: [*lines[:at], new, *lines[at + 1 :]]


DAMAGES = damages()


@pytest.fixture
def book(small: Callable[[str], Studio]) -> Studio:
    """A studio with a sound book that its index has read."""
    studio = small("studio")
    for number in range(TESTS):
        add_test(studio, spot(release=number % 5, sheet="Chart", harm={"bleed": number % 5}))
    ids = listed(studio)
    amend_record(studio, ids[0], {"release": 4}, "read again")
    withdraw_record(studio, ids[1], "wrong bottle")
    studio.refresh()
    studio.close()
    return studio


def damaged(studio: Studio, damage: Damage) -> Lines:
    """Damage the file; its lines afterwards."""
    path = studio.book_dir / FILE
    lines = damage.work(path.read_bytes().split(b"\n")[:-1])
    path.write_bytes(b"\n".join(lines) + b"\n")
    return lines


@pytest.mark.parametrize("name", DAMAGES)
def test_damage_is_named_and_the_rest_is_served(
    book: Studio, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    damage = DAMAGES[name]
    lines = damaged(book, damage)
    after = (book.book_dir / FILE).read_bytes()

    assert main(["verify", "--studio", str(book.root)]) == 1
    out = capsys.readouterr().out
    named = {int(line.split(":")[1]) for line in out.splitlines() if line.startswith(f"{FILE}:")}
    assert named & damage.named, out
    assert damage.unreadable <= named, out

    studio = Studio(book.root)
    told = studio.unread()
    assert {int(text.split(":")[1]) for text in told if text.startswith(FILE)} == damage.unreadable
    readable = {
        read.line.id
        for number, read in enumerate(read_file(book.book_dir / FILE), 1)
        if read.line and read.line.kind == "test" and number not in damage.unreadable
    }
    assert set(listed(studio)) == readable, "what can be read is listed"
    assert all(show_test(studio, one) for one in readable)
    assert answers(studio.index.conn) == fresh_answers(studio)
    add_test(studio, spot(release=2))
    assert len(listed(studio)) == len(readable) + 1
    written = (book.book_dir / FILE).read_bytes()
    assert written.startswith(after), "what stands in the book is never changed"
    assert len(lines) == after.count(b"\n")


def test_damage_while_the_studio_is_open_is_noticed(book: Studio) -> None:
    """The same by an open studio that looks again, and by one whose book is then mended from a copy."""
    sound = book.root.with_name("copy")
    shutil.copytree(book.book_dir, sound)
    before = answers(book.index.conn)
    for name, damage in DAMAGES.items():
        damaged(book, damage)
        assert book.refresh(), name
        assert answers(book.index.conn) == fresh_answers(book), name
        shutil.copy2(sound / FILE, book.book_dir / FILE)
        assert book.refresh(), name
        assert answers(book.index.conn) == before, name
    figures.add("kinds of damage to a book's lines", tried=2 * len(DAMAGES), lost=0, crashes=0)


def test_a_record_altered_while_its_file_grew_does_not_stop_the_reading(book: Studio) -> None:
    """The index trusts what it read of a growing file; an amendment of what is gone makes it read again."""
    first = listed(book)[0]
    other = Studio(book.root)
    assert other.index
    amend_record(other, first, {"release": 1}, "third look")
    path = book.book_dir / FILE
    lines = path.read_bytes().split(b"\n")
    lines[0] = lines[0].replace(b'"kind"', b'"kinx"')
    path.write_bytes(b"\n".join(lines))
    assert book.refresh()
    assert first not in listed(book)
    assert answers(book.index.conn) == fresh_answers(book)


def test_any_flipped_byte_leaves_the_other_records(book: Studio) -> None:
    """Random bytes of the file, one at a time; only lines that hold or touch it may be lost."""
    chance = random.Random(11)
    path = book.book_dir / FILE
    whole = path.read_bytes()
    all_ids = set(listed(book))
    by_line = {read.line.id: number for number, read in enumerate(read_file(path), 1) if read.line}
    flips = 150
    for _ in range(flips):
        at = chance.randrange(len(whole))
        spoilt = bytearray(whole)
        spoilt[at] ^= 1 << chance.randrange(8)
        path.write_bytes(spoilt)
        book.refresh()
        line = whole[:at].count(b"\n") + 1
        missing = all_ids - set(listed(book))
        assert {by_line[one] for one in missing} <= {line, line + 1}
    assert answers(book.index.conn) == fresh_answers(book)
    figures.add("flipped bytes in a book", tried=flips, lost=0, crashes=0)


def test_choose_answers_past_damaged_lines(studio: Studio) -> None:
    """The answer from a book with damaged lines is that from a book without them."""
    for number in range(8):
        add_test(studio, spot(release=number % 5, harm={"bleed": number % 3}))
    whole = (studio.book_dir / FILE).read_bytes().split(b"\n")[:-1]
    spoilt = [whole[0], b"\0" * 40, *whole[1:4], whole[4][:-90], b"", whole[5], b"{}", *whole[6:]]
    (studio.book_dir / FILE).write_bytes(b"\n".join(spoilt) + b"\n")
    asked = Question(adhesive="natural-rubber-resin", stage="oily", medium="letterpress-oil")
    found = choose(studio, asked)
    clean = Studio(studio.root.with_name("clean"))
    shutil.copytree(studio.root, clean.root)
    (clean.book_dir / FILE).write_bytes(b"\n".join([*whole[:4], *whole[5:]]) + b"\n")
    assert choose(clean, asked) == found
    assert len(listed(clean)) == 7


def test_lines_lost_from_the_end_are_noticed_whatever_becomes_of_the_index(book: Studio) -> None:
    """The chain alone cannot tell; what was seen is kept apart from the index and outlives its damage."""
    damaged(book, DAMAGES["last line removed"])
    assert main(["verify", "--studio", str(book.root)]) == 1
    assert main(["verify", "--studio", str(book.root)]) == 1, "to verify does not forget"
    index = book.root / "index.db"
    raw = bytearray(index.read_bytes())
    raw[len(raw) // 2] ^= 1
    index.write_bytes(raw)
    assert main(["verify", "--studio", str(book.root)]) == 1
    assert Path(index).read_bytes() == raw, "to verify asks no index"
    index.unlink()
    assert main(["rebuild", "--studio", str(book.root)]) == 0
    assert main(["verify", "--studio", str(book.root)]) == 1, "to derive the index anew does not forget"
    assert main(["verify", "--accept", "--studio", str(book.root)]) == 0
    assert main(["verify", "--studio", str(book.root)]) == 0, "a person said so"
