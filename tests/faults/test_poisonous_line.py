"""One line that no check was ready for is a noted problem of that line; all others are served."""

from __future__ import annotations

import json
from pathlib import Path

import msgspec
import pytest

from kb.book.append import BookError, append
from kb.book.line import FIRST_PREV, decode_line, encode_line, hash_of
from kb.book.ulid import new_ulid
from kb.book.verify import verify
from kb.cli.main import main
from kb.desk.records.record import add_test, list_tests
from kb.desk.studio import Studio
from kb.model.record import Line
from tests.conftest import spot

DIGITS = "9" * 400
PARTS = ", ".join(f'"p{number}": 0.0005' for number in range(2_000))
TEST = {"adhesive": "natural-rubber-resin"}
POISON = {
    "2,000 parts": ("test", '{"parts": {' + PARTS + "}}"),
    "parts beyond all numbers": ("test", '{"parts": {"water": 1e999}}'),
    "a grade of 400 digits": ("test", '{"parts": {"water": 1.0}, "release": ' + DIGITS + "}"),
    "a harm of 400 digits": ("test", '{"parts": {"water": 1.0}, "harm": {"bleed": ' + DIGITS + "}}"),
    "strips of 400 digits": ("mend", '{"sheet": "A", "strips": ' + DIGITS + "}"),
    "coats of 400 digits": ("toning", '{"tissue": "kozo-5", "coats": ' + DIGITS + "}"),
    "hinges of 400 digits": ("housing", '{"sheet": "A", "into": "frame", "hinges": ' + DIGITS + "}"),
    "a length beyond all numbers": ("mend", '{"sheet": "A", "length_mm": 1e308}'),
    "a reading of 400 digits": ("reading", '{"sheet": "A", "ph": ' + DIGITS + "}"),
    "a batch of 400 digits": ("batch", '{"name": "A", "recipe": "B", "ph": ' + DIGITS + "}"),
    "an unknown kind": ("novelty", '{"x": 1e999}'),
    "nothing that is JSON": ("test", '{"parts": {"water": 1.0}, "remarks": "\\ud800"}'),
}
ODD = {
    "a dwell of 1e308 s": ("test", '{"parts": {"water": 1.0}, "rounds": [{"dwell_s": 1e308}]}'),
    "a place at 1e308 mm": ("test", '{"parts": {"water": 1.0}, "site": {"x_mm": 1e308, "y_mm": -1e308}}'),
    "40 parts": ("test", '{"parts": {' + ", ".join(f'"p{n}": 0.025' for n in range(40)) + "}}"),
}
AMENDS = {
    "release beyond all numbers": '{"release": 1e999}',
    "release of 400 digits": '{"release": ' + DIGITS + "}",
    "2,000 parts": '{"parts": {' + PARTS + "}}",
    "a site of 400 digits": '{"site": {"x_mm": ' + DIGITS + "}}",
}


def foreign(book: Path, kind: str, body: str, name: str = "foreign") -> None:
    """Add a line as a bench with another program would: nothing of it is checked."""
    path = book / f"{name}.jsonl"
    book.mkdir(parents=True, exist_ok=True)
    before = path.read_bytes() if path.exists() else b""
    prev = hash_of(before[:-1].rpartition(b"\n")[2]) if before else FIRST_PREV
    line = Line(
        id=new_ulid(1_700_000_000_000 + len(before)),
        at="2026-01-01T00:00:00.000Z",
        who="X",
        bench=name,
        kind=kind,
        body=msgspec.Raw(body.encode("utf-8", "surrogatepass")),
        prev=prev,
    )
    path.write_bytes(before + encode_line(line) + b"\n")


def served(studio: Studio, honest: str, capsys: pytest.CaptureFixture[str]) -> None:
    """The honest record is read by every kind of command; the foreign line is named."""
    assert honest in {row.id for row in list_tests(studio, limit=0)}
    assert any("foreign.jsonl:1" in text for text in studio.unread()), studio.unread()
    found = [one for one in verify(studio.book_dir) if one.file == "foreign.jsonl"]
    assert [one.line_number for one in found if one.severity == "error"] == [1], found
    assert main(["verify", "--studio", str(studio.root)]) == 1
    capsys.readouterr()
    main(["test", "list", "--studio", str(studio.root)])
    # Of a line that was never read nobody was told but by "verify".
    assert "This is left out of every answer. See: benchleaf verify" in capsys.readouterr().err
    commands(studio, honest, capsys)


def commands(studio: Studio, honest: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Every usual command answers."""
    studio.close()
    root = ["--studio", str(studio.root)]
    for words in (
        ["test", "list"],
        ["test", "show", honest],
        ["book", "list"],
        ["choose", "--adhesive", "natural-rubber-resin", "--stage", "oily"],
        ["plan", "A"],
        ["mend", "list"],
        ["batch", "list"],
    ):
        assert main([*words, *root]) == 0, (words, capsys.readouterr())
    assert main(["export", str(studio.root.with_name("out")), *root]) in {0, 1}, capsys.readouterr()


@pytest.mark.parametrize("name", POISON)
def test_a_foreign_line_stops_nobody(name: str, studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    kind, body = POISON[name]
    honest = add_test(studio, spot(sheet="A")).id
    foreign(studio.book_dir, kind, body)
    served(studio, honest, capsys)


@pytest.mark.parametrize("name", ODD)
def test_an_odd_but_sound_line_is_served_like_any_other(
    name: str, studio: Studio, capsys: pytest.CaptureFixture[str]
) -> None:
    kind, body = ODD[name]
    honest = add_test(studio, spot(sheet="A")).id
    foreign(studio.book_dir, kind, body)
    assert verify(studio.book_dir) == []
    commands(studio, honest, capsys)
    foreign_id = next(row.id for row in list_tests(studio, limit=0) if row.id != honest)
    for words in (["test", "show", foreign_id], ["book", "show", foreign_id]):
        assert main([*words, "--studio", str(studio.root)]) == 0, capsys.readouterr()


@pytest.mark.parametrize("name", AMENDS)
def test_a_foreign_amendment_stops_nobody(
    name: str, studio: Studio, capsys: pytest.CaptureFixture[str]
) -> None:
    honest = add_test(studio, spot(sheet="A")).id
    foreign(studio.book_dir, "amend", f'{{"of": "{honest}", "why": "x", "set": {AMENDS[name]}}}')
    served(studio, honest, capsys)


@pytest.mark.parametrize("kind", ["test", "mend", "novelty"])
def test_what_would_poison_others_is_refused_on_the_way_in(kind: str, tmp_path: Path) -> None:
    body = {"test": {"parts": {f"p{n}": 0.0005 for n in range(2_000)}}}.get(
        kind, {"sheet": "A", "strips": 10**400}
    )
    with pytest.raises(BookError):
        append(tmp_path, bench="a", who="A", kind=kind, body=body)


def test_any_error_in_a_check_is_a_problem_of_the_line(
    studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    from kb.book import check

    def broken(test: object) -> object:
        raise ZeroDivisionError("a check with a fault of its own")

    honest = add_test(studio, spot(sheet="A")).id
    path = studio.book_dir / "bench-a.jsonl"
    line = decode_line(path.read_bytes().rstrip(b"\n"))
    assert line.id == honest
    monkeypatch.setattr(check, "check_test", broken)
    assert json.loads(bytes(line.body))
    assert [one.kind for one in verify(studio.book_dir)] == ["undecodable"]
