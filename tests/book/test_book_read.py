"""Reading a file past any damage."""

from pathlib import Path

import msgspec
import pytest

from kb.book.check import decode_amend, decode_test, decode_withdraw
from kb.book.files import TORN
from kb.book.line import FIRST_PREV, MAX_LINE_BYTES, decode_line
from kb.book.read import OVERSIZE, Read, read_file
from kb.model.record import Line
from tests.book.test_book_append import BODY, put, raws

GOOD = (
    b'{"id":"01HZ0000000000000000000000","at":"2024-05-31T14:30:01.234Z","who":"reader","bench":"bench-1",'
    b'"kind":"note","body":{"a":1},"prev":"' + FIRST_PREV.encode() + b'"}'
)


def read(path: Path, start: int = 0) -> list[Read]:
    """All lines of a file."""
    return list(read_file(path, start))


def test_offsets_lengths_and_numbers(tmp_path: Path) -> None:
    written = [put(tmp_path) for _ in range(3)]
    path = tmp_path / "bench-1.jsonl"
    data = path.read_bytes()
    found = read(path)
    assert [item.line for item in found] == written
    assert [item.number for item in found] == [1, 2, 3]
    for item, raw in zip(found, raws(tmp_path), strict=True):
        assert data[item.offset : item.offset + item.length] == raw + b"\n"
        assert item.problem == ""
    assert found[-1].offset + found[-1].length == len(data)


def test_reading_on_from_where_it_stopped(tmp_path: Path) -> None:
    put(tmp_path)
    path = tmp_path / "bench-1.jsonl"
    last = read(path)[-1]
    start = last.offset + last.length
    assert read(path, start) == []
    later = put(tmp_path)
    (item,) = read(path, start)
    assert (item.line, item.number, item.offset) == (later, None, start)


def test_a_line_without_end_is_torn_and_read_again_later(tmp_path: Path) -> None:
    path = tmp_path / "b.jsonl"
    path.write_bytes(GOOD + b"\n" + GOOD)
    first, last = read(path)
    assert first.line is not None
    assert (last.line, last.problem) == (None, TORN)
    path.write_bytes(GOOD + b"\n" + GOOD + b"\n")
    assert read(path, last.offset)[0].line is not None


DAMAGE = [
    (b"", "an empty line"),
    (b"{", "not a record"),
    (GOOD + b"x", "not a record"),
    (GOOD.replace(b'"a":1', b'"a":"\xff"'), "not UTF-8 at byte"),
    (GOOD.replace(b"reader", b"\xc3"), "not UTF-8 at byte"),
    (b"\xef\xbb\xbf" + GOOD, "byte order mark"),
    (GOOD.replace(b"01HZ", b"01IZ"), "its id is not a record id"),
    (GOOD.replace(b"2024-05-31T14:30:01.234Z", b"2024-05-31 14:30"), "its time is not written as UTC"),
    (GOOD.replace(b"2024-05-31", b"2024-02-31"), "its time is not in the calendar"),
    (GOOD.replace(b'"' + b"0" * 64, b'"g' + b"0" * 63), "its link to the line before"),
    (GOOD.replace(b'"note"', b'"A note"'), "its kind is not a plain word"),
    (GOOD.replace(b'{"a":1}', b"[1]"), "its body is not a map"),
    (GOOD.replace(b'"who"', b'"who\\u001b[2J"'), "not a record"),
    (GOOD.replace(b'{"a":1}', b"[" * 99_999 + b"]" * 99_999), "nested too deeply"),
    (b"<<<<<<< ours", "not a record"),
    (b"\x00" * 500, "not a record"),
    (b"x" * (MAX_LINE_BYTES + 1), OVERSIZE),
    (b"x" * (MAX_LINE_BYTES * 2 + 7), OVERSIZE),
]


@pytest.mark.parametrize(("raw", "words"), DAMAGE, ids=[f"{n}-{item[1]}" for n, item in enumerate(DAMAGE)])
def test_damage_is_named_and_passed(tmp_path: Path, raw: bytes, words: str) -> None:
    path = tmp_path / "b.jsonl"
    path.write_bytes(GOOD + b"\n" + raw + b"\n" + GOOD + b"\n")
    first, bad, last = read(path)
    assert first.line is not None
    assert last.line is not None
    assert bad.line is None
    assert words in bad.problem
    assert bad.problem.isprintable()
    assert (bad.offset, bad.length, bad.number) == (len(GOOD) + 1, len(raw) + 1, 2)


def test_the_longest_line_is_still_a_record(tmp_path: Path) -> None:
    path = tmp_path / "b.jsonl"
    long = GOOD.replace(b'"a":1', b'"a":"' + b"x" * (MAX_LINE_BYTES - len(GOOD) - 1) + b'"')
    assert len(long) == MAX_LINE_BYTES
    path.write_bytes(long + b"\n")
    (item,) = read(path)
    assert item.line is not None
    path.write_bytes(long[:-2] + b'0"}\n')
    (item,) = read(path)
    assert item.problem == OVERSIZE


def test_an_empty_file_has_no_lines_and_a_missing_one_says_so(tmp_path: Path) -> None:
    (tmp_path / "b.jsonl").touch()
    assert read(tmp_path / "b.jsonl") == []
    with pytest.raises(FileNotFoundError):
        read(tmp_path / "c.jsonl")


def test_unknown_kinds_are_read() -> None:
    line = decode_line(GOOD)
    assert line.kind == "note"
    assert bytes(line.body) == b'{"a":1}'


def with_body(kind: str, body: object) -> Line:
    """A line as it might come from elsewhere, unchecked."""
    return msgspec.structs.replace(decode_line(GOOD), kind=kind, body=msgspec.Raw(msgspec.json.encode(body)))


def test_bodies_from_elsewhere_meet_the_same_rules() -> None:
    assert decode_test(with_body("test", BODY)).release == 3
    with pytest.raises(ValueError, match="Release is graded"):
        decode_test(with_body("test", {**BODY, "release": 9}))
    with pytest.raises(ValueError, match="unknown field"):
        decode_test(with_body("test", {**BODY, "x": 9}))
    with pytest.raises(ValueError, match="no field"):
        decode_amend(with_body("amend", {"of": GOOD[7:33].decode(), "set": {"x": 1}, "why": "w"}))
    with pytest.raises(ValueError, match="Say why"):
        decode_withdraw(with_body("withdraw", {"of": GOOD[7:33].decode(), "why": ""}))
    with pytest.raises(ValueError, match="cannot be read"):
        decode_test(msgspec.structs.replace(decode_line(GOOD), body=msgspec.Raw(b'{"remarks":"\xff"}')))
