"""A record on paper: everything it says, in 72 columns, and how to find the very line in the book."""

from __future__ import annotations

import hashlib
import json
import re
import time
from typing import Any

import pytest

from kb.book.kinds.spot_test import HARM_KINDS
from kb.cli.main import main
from kb.desk.errors import DeskError, Unclear
from kb.desk.package.tables import shapes
from kb.desk.records.record_text import WIDTH, record_text
from kb.desk.studio import Studio
from tests.package_help import HOSTILE, every_kind, put, spot_body


def words(text: str) -> str:
    """The text as one line, single blanks."""
    return " ".join(text.split())


@pytest.fixture
def in_zone(monkeypatch: pytest.MonkeyPatch) -> Any:
    """The clock of a machine two and a half hours before Coordinated Universal Time."""
    monkeypatch.setenv("TZ", "XYZ2:30")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


def test_a_spot_test_says_everything_in_words(studio: Studio, in_zone: None) -> None:
    body = spot_body(
        adhesive="natural-rubber-resin",
        harm={"bleed": 0, "gloss": 3},
        site={"x_mm": -4.5, "face": "back"},
        parts={"acetone": 0.25, "water": 0.75},
        rounds=[{"dwell_s": 90.0, "amount": "one drop", "wet": "clear", "dry": "dull"}],
    )
    (one,) = put(studio.root, "bench-a", [("test", body)])
    said = words(record_text(studio, one))
    for part in (
        f"SPOT TEST {one}",
        "state stands as it was written",
        "written (UTC) 2024-11-01 10:00:00 UTC written (local) 2024-11-01 07:30:00 (UTC-0230)",
        "by A. B., bench bench-a book file bench-a.jsonl, line 1",
        "(natural-rubber-resin)",
        "stage not noted",
        "from left edge -4.5 mm",
        "release 2 swells, can be rolled off in part",
        "liquid acetone, 25 % by volume liquid water, 75 % by volume",
        "round 1 dwell 90 s amount one drop wet clear dry dull",
        "harm, bleed 0 none seen harm, offset not looked at harm, tideline not looked at",
        "harm, gloss 3 clear change harm, surface not looked at",
        "photos not noted",
    ):
        assert part in said, part


def test_the_hash_on_paper_is_that_of_the_line_and_of_the_next_lines_prev(studio: Studio) -> None:
    ids = put(studio.root, "bench-a", [("test", spot_body(remarks=f"n {n}")) for n in range(4)])
    lines = (studio.root / "book" / "bench-a.jsonl").read_bytes().split(b"\n")
    text = record_text(studio, ids[2])
    (printed,) = re.findall(r"^  ([0-9a-f]{64})$", text, re.MULTILINE)
    assert "book file           bench-a.jsonl, line 3" in text
    assert printed == hashlib.sha256(lines[2]).hexdigest() == json.loads(lines[3])["prev"]


def test_history_tells_old_and_new_and_what_no_longer_counts(studio: Studio) -> None:
    ids = put(
        studio.root,
        "bench-a",
        [
            ("test", spot_body(harm={"bleed": 0}, rounds=[{"dwell_s": 5.0}])),
            ("amend", lambda ids: {"of": ids[0], "set": {"release": 4, "light": "UV"}, "why": "seen again"}),
            ("amend", lambda ids: {"of": ids[0], "set": {"harm": {"bleed": 2, "gloss": 1}}, "why": "a rim"}),
            ("withdraw", lambda ids: {"of": ids[1], "why": "wrong spot"}),
            ("amend", lambda ids: {"of": ids[0], "set": {"rounds": [{"dwell_s": 7.0}]}, "why": "clock"}),
            ("withdraw", lambda ids: {"of": ids[0], "why": "wrong sheet"}),
            ("amend", lambda ids: {"of": ids[0], "set": {"release": 3}, "why": "at last"}),
        ],
    )
    text = record_text(studio, ids[0])
    said = words(text)
    for part in (
        "WITHDRAWN: out of all counts",
        "withdrawn because wrong sheet",
        "AS IT STANDS NOW",
        "release 3 releases with light work",
        f"1. AMENDMENT {ids[1]} why seen again release was 2 swells, can be rolled off in part release is 4 "
        "releases clean light was not noted light is UV does not count Withdrawn: wrong spot",
        "harm was bleed 0 none seen; offset not looked at",
        "harm is bleed 2 visible on careful look; offset not looked at; tideline not looked at; gloss 1",
        f"3. WITHDRAWAL {ids[3]} about the change {ids[1]} why wrong spot",
        "rounds was (1) dwell 5 s rounds is (1) dwell 7 s",
        f"5. WITHDRAWAL {ids[5]} why wrong sheet",
        "why at last release was 2 swells, can be rolled off in part release is 3 releases with light work",
    ):
        assert part in said, part
    assert len(re.findall(r"^  [0-9a-f]{64}$", text, re.MULTILINE)) == 7


def test_every_kind_says_each_of_its_fields(studio: Studio) -> None:
    """A kind that is added later is printed too."""
    ids = every_kind(studio.root)
    said = {one: record_text(studio, one) for one in ids}
    kinds = ("test", "test", "bottle", "reading", "batch", "mend", "toning", "housing")
    from kb.desk.package.tables import label_of

    for one, kind in zip(ids, kinds, strict=False):
        for column in shapes()[kind].columns:
            assert f"\n  {label_of(column)}" in said[one], (kind, column.name)
    reading, batch, toning = (words(said[ids[n]]) for n in (3, 4, 6))
    assert "pH 7.25 conductivity 12 microsiemens per centimetre temperature 21.5 degrees Celsius" in reading
    assert "hazards irritant; dust" in batch
    assert "weight 1 name starch amount 10 unit g" in batch
    assert "aim lightness not noted" in toning
    assert "dry a -1.25 CIELAB a*" in toning
    other = words(said[ids[8]])
    assert f"RECORD OF THE KIND LATER-KIND {ids[8]}" in other
    assert "withdrawn because not ours" in other
    assert "=x (1) 1 (2) y =2" in other
    assert words(said[ids[9]]).startswith(f"AMENDMENT {ids[9]}")
    assert all(kind in said[ids[0]] for kind in HARM_KINDS)


def test_no_line_is_longer_than_72_and_nothing_steers_a_printer(studio: Studio) -> None:
    texts = [*HOSTILE, "x" * 500, "a\x1b[2J\x07b\u202ec\u2028d", "many words " * 300, "\t tab \n\n gap"]
    ids = put(studio.root, "bench-a", [("test", spot_body(remarks=text, sheet=text)) for text in texts])
    long = {"why": "w " * 200, "name-" + "n" * 100: {"k" * 90: "v" * 90}}
    ids += put(studio.root, "bench-a", [("later-kind", long)], start=100)
    for one in ids:
        text = record_text(studio, one)
        assert max(map(len, text.split("\n"))) <= WIDTH
        assert all(char == "\n" or char.isprintable() for char in text)
        assert text.endswith("\n")


def test_a_beginning_is_enough_if_it_is_unique(studio: Studio) -> None:
    ids = put(studio.root, "bench-a", [("test", spot_body()), ("bottle", {"liquid": "water"})])
    # How many letters two ids of one process have in common depends on the tests that were run before.
    enough = next(place for place, (a, b) in enumerate(zip(*ids, strict=True), start=1) if a != b)
    assert record_text(studio, ids[1][:enough].lower()) == record_text(studio, ids[1])
    with pytest.raises(Unclear) as told:
        record_text(studio, ids[0][:4])
    assert [one.name for one in told.value.choices] == ["test", "bottle"]
    for text in ("ZZZZ", "", " "):
        with pytest.raises(DeskError, match="No record has an id"):
            record_text(studio, text)


def test_a_record_that_cannot_be_read_any_more_is_said(studio: Studio) -> None:
    (one,) = put(studio.root, "bench-a", [("test", spot_body())])
    record_text(studio, one)
    path = studio.root / "book" / "bench-a.jsonl"
    path.write_bytes(b"x" * path.stat().st_size)
    with pytest.raises(DeskError, match="can no longer be read"):
        record_text(studio, one)


def test_command_prints_it(studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    (one,) = put(studio.root, "bench-a", [("test", spot_body())])
    expected = record_text(studio, one)
    studio.close()
    assert main(["--studio", str(studio.root), "export", "--record", one]) == 0
    assert capsys.readouterr().out == expected
    assert main(["--studio", str(studio.root), "export", "--record", one, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["text"] == expected
    assert main(["--studio", str(studio.root), "export", "--record", "ZZZ"]) == 3
