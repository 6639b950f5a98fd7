"""Whether damage of every kind is found and named by file and line."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import msgspec
import pytest

from kb.book.append import append
from kb.book.line import MAX_LINE_BYTES, encode_line, hash_of
from kb.book.ulid import new_ulid
from kb.book.verify import Problem, tips_of, verify
from kb.model.record import Line
from tests.book.test_book_append import BODY, put, raws


def write(book: Path, lines: list[bytes], bench: str = "bench-1", end: bytes = b"\n") -> None:
    """Put these lines in the file of a bench."""
    (book / f"{bench}.jsonl").write_bytes(b"\n".join(lines) + end)


def brief(found: list[Problem]) -> list[tuple[int, str, str]]:
    """Line, kind and severity of each."""
    return [(item.line_number, item.kind, item.severity) for item in found]


@pytest.fixture
def lines(tmp_path: Path) -> list[bytes]:
    """A sound book of one bench with eight lines, in ``tmp_path``."""
    first = put(tmp_path)
    for _ in range(5):
        put(tmp_path)
    put(tmp_path, "amend", {"of": first.id, "set": {"release": 1}, "why": "misread"})
    put(tmp_path, "withdraw", {"of": first.id, "why": "wrong sheet"})
    return raws(tmp_path)


def test_a_sound_book_has_no_problems(tmp_path: Path, lines: list[bytes]) -> None:
    assert verify(tmp_path) == []
    assert verify(tmp_path, tips=tips_of(tmp_path)) == []
    assert verify(tmp_path / "not-there") == []
    (tmp_path / "empty.jsonl").touch()
    assert verify(tmp_path) == []


def test_a_changed_line_is_named_by_the_one_after_it(tmp_path: Path, lines: list[bytes]) -> None:
    lines[3] = lines[3].replace(b'"release":3', b'"release":4')
    write(tmp_path, lines)
    (problem,) = verify(tmp_path)
    assert (problem.file, problem.line_number, problem.kind) == ("bench-1.jsonl", 4, "altered")
    assert "Line 4 of bench-1.jsonl was changed after it was written" in problem.sentence


def test_a_change_in_the_hash_a_line_carries_accuses_that_line(tmp_path: Path, lines: list[bytes]) -> None:
    for number in (1, 2, 4, 7):
        spoilt = list(lines)
        digit = spoilt[number - 1][-3:-2]
        spoilt[number - 1] = spoilt[number - 1][:-3] + (b"0" if digit != b"0" else b"1") + b'"}'
        write(tmp_path, spoilt)
        assert brief(verify(tmp_path)) == [(number, "altered", "error")]


def test_two_changed_lines_apart_are_both_named(tmp_path: Path, lines: list[bytes]) -> None:
    for at in (1, 4):
        lines[at] = lines[at].replace(b"thin", b"thik")
    write(tmp_path, lines)
    assert brief(verify(tmp_path)) == [(2, "altered", "error"), (5, "altered", "error")]


def test_a_lost_line_in_the_middle_is_noticed(tmp_path: Path, lines: list[bytes]) -> None:
    write(tmp_path, lines[:3] + lines[4:])
    (problem,) = verify(tmp_path)
    assert (problem.line_number, problem.kind) == (3, "altered")
    assert "or lines after it are lost: line 4 does not follow" in problem.sentence


def test_lost_first_lines_are_noticed(tmp_path: Path, lines: list[bytes]) -> None:
    write(tmp_path, lines[2:6])
    assert brief(verify(tmp_path)) == [(1, "missing", "error")]


def test_lost_last_lines_are_noticed_with_a_tip_only(tmp_path: Path, lines: list[bytes]) -> None:
    tips = tips_of(tmp_path)
    write(tmp_path, lines[:6])
    assert verify(tmp_path) == []
    (problem,) = verify(tmp_path, tips=tips)
    assert (problem.line_number, problem.kind) == (7, "missing")
    assert "had 8 lines and now has 6" in problem.sentence


def test_a_changed_last_line_is_noticed_with_a_tip(tmp_path: Path, lines: list[bytes]) -> None:
    tips = tips_of(tmp_path)
    write(tmp_path, [*lines[:7], lines[7].replace(b"wrong", b"right")])
    assert verify(tmp_path) == []
    assert brief(verify(tmp_path, tips=tips)) == [(8, "altered", "error")]
    put(tmp_path)
    assert brief(verify(tmp_path, tips=tips)) == [(8, "altered", "error")]


def test_a_lost_file_is_noticed_with_a_tip(tmp_path: Path, lines: list[bytes]) -> None:
    tips = tips_of(tmp_path)
    (tmp_path / "bench-1.jsonl").unlink()
    assert verify(tmp_path) == []
    assert brief(verify(tmp_path, tips=tips)) == [(0, "missing", "error")]


def test_a_line_that_cannot_be_read_is_named_once(tmp_path: Path, lines: list[bytes]) -> None:
    for at, bad in ((2, b"\xff" + lines[2]), (4, b"x" * (MAX_LINE_BYTES + 9)), (7, lines[7][:-1])):
        spoilt = list(lines)
        spoilt[at] = bad
        write(tmp_path, spoilt)
        assert brief(verify(tmp_path)) == [(at + 1, "undecodable", "error")]


def test_damage_that_a_later_entry_was_written_after_is_not_taken_for_a_torn_line(
    tmp_path: Path, lines: list[bytes]
) -> None:
    lines[-1] = lines[-1].replace(b'"why":', b'"why"=')
    write(tmp_path, lines)
    put(tmp_path)
    assert brief(verify(tmp_path)) == [(8, "undecodable", "error")]


def test_a_torn_last_line_is_an_error_until_an_entry_follows_it(tmp_path: Path, lines: list[bytes]) -> None:
    write(tmp_path, [*lines, lines[0][:100]], end=b"")
    (problem,) = verify(tmp_path)
    assert (problem.line_number, problem.kind, problem.severity) == (9, "torn", "error")
    assert "breaks off after 100 bytes" in problem.sentence
    put(tmp_path)
    assert raws(tmp_path)[8] == lines[0][:100]
    assert brief(verify(tmp_path)) == [(9, "torn", "note")]


def test_several_torn_lines_in_a_row_are_all_told_from_damage(tmp_path: Path, lines: list[bytes]) -> None:
    write(tmp_path, [*lines, lines[0][:100], lines[0][:9], lines[0][:50]], end=b"")
    assert brief(verify(tmp_path)) == [(9, "torn", "note"), (10, "torn", "note"), (11, "torn", "error")]
    put(tmp_path)
    assert brief(verify(tmp_path)) == [(9, "torn", "note"), (10, "torn", "note"), (11, "torn", "note")]


def test_a_line_that_lacks_only_its_newline_becomes_a_record(tmp_path: Path, lines: list[bytes]) -> None:
    write(tmp_path, lines, end=b"")
    assert brief(verify(tmp_path)) == [(8, "torn", "error")]
    put(tmp_path)
    assert raws(tmp_path)[:8] == lines
    assert verify(tmp_path) == []


def test_joined_copies_are_told_from_changed_lines(tmp_path: Path, lines: list[bytes]) -> None:
    write(tmp_path, lines[:5])
    put(tmp_path)
    put(tmp_path)
    write(tmp_path, lines + raws(tmp_path)[5:])
    (problem,) = verify(tmp_path)
    assert (problem.line_number, problem.kind) == (9, "altered")
    assert "was written after line 5, not after line 8" in problem.sentence


def test_two_files_in_one_are_told_too(tmp_path: Path, lines: list[bytes]) -> None:
    put(tmp_path, bench="bench-2")
    write(tmp_path, lines + raws(tmp_path, "bench-2"))
    (tmp_path / "bench-2.jsonl").unlink()
    (problem,) = verify(tmp_path)
    assert "Line 9 of bench-1.jsonl was written as the first of a file" in problem.sentence


def test_the_same_record_twice_is_a_note_and_another_with_its_id_an_error(tmp_path: Path) -> None:
    given = new_ulid()
    at = datetime(2024, 1, 1, tzinfo=UTC)
    for bench, grade in (("bench-1", 1), ("bench-2", 2)):
        append(
            tmp_path,
            bench=bench,
            who="r",
            kind="test",
            body={**BODY, "release": grade},
            record_id=given,
            at=at,
        )
    (tmp_path / "copy.jsonl").write_bytes((tmp_path / "bench-1.jsonl").read_bytes())
    found = verify(tmp_path)
    assert [(item.file, item.kind, item.severity) for item in found] == [
        ("bench-2.jsonl", "duplicate id", "error"),
        ("copy.jsonl", "duplicate id", "note"),
    ]
    assert "line 1 of bench-1.jsonl" in found[0].sentence


def test_a_clock_set_back_is_a_note(tmp_path: Path) -> None:
    noon = datetime(2024, 1, 1, 12, tzinfo=UTC)
    for moment in (noon, noon - timedelta(seconds=5), noon - timedelta(hours=3)):
        put(tmp_path, at=moment)
    (problem,) = verify(tmp_path)
    assert (problem.line_number, problem.kind, problem.severity) == (3, "clock", "note")
    assert "2 hours before" in problem.sentence


def test_a_pointer_to_a_record_that_is_not_here_is_a_note(tmp_path: Path) -> None:
    put(tmp_path, "amend", {"of": new_ulid(), "set": {"release": 1}, "why": "misread"})
    put(tmp_path, "withdraw", {"of": new_ulid(), "why": "wrong sheet"})
    assert brief(verify(tmp_path)) == [(1, "dangling", "note"), (2, "dangling", "note")]


def test_a_pointer_into_another_bench_is_sound(tmp_path: Path) -> None:
    first = put(tmp_path, bench="bench-2")
    put(tmp_path, "withdraw", {"of": first.id, "why": "wrong sheet"})
    assert verify(tmp_path) == []


def test_a_body_that_breaks_the_rules_is_named(tmp_path: Path) -> None:
    line = put(tmp_path)
    forged = Line(
        id=new_ulid(),
        at=line.at,
        who="r",
        bench="bench-1",
        kind="test",
        body=msgspec.Raw(b'{"parts":{"\\u001b[2J":1.0},"release":9}'),
        prev=hash_of(raws(tmp_path)[0]),
    )
    write(tmp_path, [*raws(tmp_path), encode_line(forged)])
    (problem,) = verify(tmp_path)
    assert (problem.line_number, problem.kind) == (2, "undecodable")
    assert "Release is graded 0 to 4, not 9." in problem.sentence


def test_a_file_that_cannot_be_opened_is_named_and_the_rest_checked(
    tmp_path: Path, lines: list[bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    from kb.book import verify as module

    (tmp_path / "gone.jsonl").symlink_to(tmp_path / "gone.jsonl")
    monkeypatch.setattr(module, "files", lambda _: [tmp_path / "gone.jsonl", tmp_path / "bench-1.jsonl"])
    write(tmp_path, lines[1:])
    assert [(item.file, item.line_number, item.kind) for item in verify(tmp_path)] == [
        ("bench-1.jsonl", 1, "missing"),
        ("bench-1.jsonl", 6, "dangling"),
        ("bench-1.jsonl", 7, "dangling"),
        ("gone.jsonl", 0, "missing"),
    ]


def test_line_ends_of_another_system_are_noticed(tmp_path: Path, lines: list[bytes]) -> None:
    write(tmp_path, [raw + b"\r" for raw in lines])
    assert {item.kind for item in verify(tmp_path)} == {"altered"}
