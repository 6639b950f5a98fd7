"""Appending: what is written, what is refused, and in which words."""

import json
import os
import stat
from datetime import UTC, datetime, timedelta, timezone
from hashlib import sha256
from pathlib import Path
from typing import Any
from unittest import mock

import msgspec
import pytest
import yaml

from kb.book import disk, pieces, ulid
from kb.book.append import BookError, append, bench_path, is_bench
from kb.book.check import decode_test
from kb.book.kinds.parts import Photo, Site
from kb.book.kinds.spot_test import Round, SpotTest
from kb.book.line import FIRST_PREV
from kb.book.read import read_file
from kb.book.storage import BLOCK
from kb.book.ulid import is_ulid, new_ulid, ulid_time_ms
from kb.book.verify import verify
from kb.model.record import Amend, Line, Withdraw

BODY: dict[str, Any] = {
    "adhesive": "natural-rubber-resin",
    "stage": "oxidised",
    "medium": "iron-gall-ink",
    "paper": "rag-paper",
    "parts": {"ethanol": 0.5, "acetone": 0.5},
    "rounds": [{"dwell_s": 20.0, "wet": "a halo"}, {"dwell_s": 20.0}, {"dwell_s": 20.0}],
    "release": 3,
    "harm": {"bleed": 0, "tideline": 1},
    "remarks": "Rolled off; a thin residue stayed.",
}


def put(book: Path, kind: str = "test", body: Any = None, **more: Any) -> Line:
    """One record of the bench ``bench-1``."""
    body = BODY if body is None else body
    return append(book, **{"bench": "bench-1", "who": "reader", "kind": kind, "body": body, **more})


def raws(book: Path, bench: str = "bench-1") -> list[bytes]:
    """The lines of a bench's file without newlines."""
    return (book / f"{bench}.jsonl").read_bytes().split(b"\n")[:-1]


def test_a_record_is_one_line_of_json_with_its_head(tmp_path: Path) -> None:
    line = put(tmp_path, at=datetime(2024, 5, 31, 14, 30, 1, 234_567, tzinfo=UTC))
    (raw,) = raws(tmp_path)
    found = json.loads(raw)
    assert list(found) == ["id", "at", "who", "bench", "kind", "body", "prev"]
    assert found["at"] == "2024-05-31T14:30:01.234Z"
    assert (found["who"], found["bench"], found["kind"]) == ("reader", "bench-1", "test")
    assert found["id"] == line.id
    assert is_ulid(line.id)
    assert found["prev"] == FIRST_PREV
    assert found["body"] == {**BODY, "method": "swab"}
    assert [read.line for read in read_file(tmp_path / "bench-1.jsonl")] == [line]


def test_each_line_carries_the_hash_of_the_line_before(tmp_path: Path) -> None:
    for _ in range(4):
        put(tmp_path)
    lines = raws(tmp_path)
    assert [json.loads(raw)["prev"] for raw in lines[1:]] == [sha256(raw).hexdigest() for raw in lines[:-1]]


def test_a_typed_test_comes_back_as_it_was(tmp_path: Path) -> None:
    test = SpotTest(
        tape="clear-film",
        carrier_present=True,
        parts={"water": 1.0},
        method="poultice",
        site=Site(words="lower left", face="back", x_mm=12.5, y_mm=-0.0),
        rounds=(Round(dwell_s=0.00001), Round(dwell_s=1e17)),
        photos=(Photo(path="a.jpg", sha256="0" * 64),),
        tested_at="2024-05",
        control=True,
    )
    line = put(tmp_path, body=test)
    assert decode_test(line) == test
    assert decode_test(next(iter(read_file(bench_path(tmp_path, "bench-1")))).line or line) == test


def test_defaults_that_mean_something_are_written_out(tmp_path: Path) -> None:
    body = {"parts": {"water": 1.0}, "photos": [{"path": "a.jpg", "sha256": "0" * 64}]}
    put(tmp_path, body=body)
    put(tmp_path, body=SpotTest(parts={"water": 1.0}))
    first, second = (json.loads(raw)["body"] for raw in raws(tmp_path))
    assert first["method"] == second["method"] == "swab"
    assert first["photos"][0]["when"] == "after"
    assert body == {"parts": {"water": 1.0}, "photos": [{"path": "a.jpg", "sha256": "0" * 64}]}


@pytest.mark.parametrize(
    "remark",
    [
        "plain",
        'quotes " and \\ back',
        "two\nlines\ttab",
        "na\u00efve \u2014 \u6b66",
        "\U0001f4dc",
        "\u2028 \u2029 \u00a0",
        "\ufffe\uffff",
        "yes",
        "1e5",
        "12:30:45",
        "- x: {y}",
        "<<",
        "# no",
        "\\u0041",
        " lead and trail ",
    ],
)
def test_each_line_reads_the_same_as_yaml(tmp_path: Path, remark: str) -> None:
    put(tmp_path, body={**BODY, "remarks": remark, "parts": {"=": 1e-7, "<<": 1 - 1e-7}})
    put(tmp_path, "note", {"text": remark, "yes": [1e16, 1e-5, 1.5e300, -0.0, 5e-324, 10**25, None, True]})
    for raw in raws(tmp_path):
        assert yaml.safe_load(raw) == json.loads(raw)
        assert yaml.load(raw, Loader=yaml.CSafeLoader) == json.loads(raw)
    assert json.loads(raws(tmp_path)[0])["body"]["remarks"] == remark
    assert json.loads(raws(tmp_path)[1])["body"]["text"] == remark


def test_no_control_character_reaches_the_file(tmp_path: Path) -> None:
    nasty = "".join(map(chr, [*range(0x20), *range(0x7F, 0xA0), 0x202E, 0x2066, 0xFEFF, 0x200B]))
    put(tmp_path, body={**BODY, "remarks": nasty}, who=f"a{nasty}b")
    put(tmp_path, "note", {nasty: nasty})
    for raw in raws(tmp_path):
        text = json.dumps(json.loads(raw), ensure_ascii=False).replace("\\n", "").replace("\\t", "")
        assert "\\u" not in text
        assert not [char for char in raw.decode() if not char.isprintable()]


def test_other_kinds_are_kept_as_they_are(tmp_path: Path) -> None:
    body = {"recipe": "methyl-cellulose-paste", "amount_ml": 50, "steps": [{"n": 1}], "none": None}
    line = put(tmp_path, "memo", body)
    assert msgspec.json.decode(line.body) == body
    assert verify(tmp_path) == []


def test_file_and_folder_are_the_users_own(tmp_path: Path) -> None:
    book = tmp_path / "studio" / "book"
    old = os.umask(0)
    try:
        put(book)
    finally:
        os.umask(old)
    assert stat.S_IMODE((book / "bench-1.jsonl").stat().st_mode) == 0o600
    assert stat.S_IMODE(book.stat().st_mode) == 0o700
    assert stat.S_IMODE(book.parent.stat().st_mode) == 0o700


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="needs /proc to name an open file")
def test_folder_and_file_are_synced_before_the_first_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    synced: list[str] = []
    really = os.fsync
    monkeypatch.setattr(
        os, "fsync", lambda fd: (synced.append(os.readlink(f"/proc/self/fd/{fd}")), really(fd))[1]
    )
    book = tmp_path / "book"
    put(book)
    put(book)
    assert synced == [str(tmp_path), str(book), str(book / "bench-1.jsonl"), str(book / "bench-1.jsonl")]


def test_ids_rise_even_if_the_clock_goes_back_between_two_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    noon = datetime(2024, 5, 31, 12, tzinfo=UTC)
    monkeypatch.setattr(ulid, "_last", "")
    first = put(tmp_path, at=noon)
    monkeypatch.setattr(ulid, "_last", "")
    second = put(tmp_path, at=noon - timedelta(hours=3))
    assert second.id > first.id
    assert second.at < first.at


def test_a_record_from_a_far_future_does_not_pull_the_ids_along(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ulid, "_last", "")
    put(tmp_path, at=datetime(2099, 1, 1, tzinfo=UTC))
    monkeypatch.setattr(ulid, "_last", "")
    line = put(tmp_path, at=datetime(2024, 1, 1, tzinfo=UTC))
    assert ulid_time_ms(line.id) == 1_704_067_200_000


def test_times_of_other_zones_are_written_in_utc(tmp_path: Path) -> None:
    zone = timezone(timedelta(hours=5, minutes=30))
    assert put(tmp_path, at=datetime(2024, 1, 1, 2, 0, tzinfo=zone)).at == "2023-12-31T20:30:00.000Z"


def test_a_given_id_is_used(tmp_path: Path) -> None:
    given = new_ulid()
    assert put(tmp_path, record_id=given).id == given


@pytest.mark.parametrize("hurt", ["torn", "altered", "put back"])
def test_what_this_program_wrote_last_is_looked_at_again(tmp_path: Path, hurt: str) -> None:
    """Another program may have been at the file since, and may have kept its size and time of change."""
    path = tmp_path / "bench-1.jsonl"
    put(tmp_path)
    older, kept = path.read_bytes(), path.stat()
    put(tmp_path)
    whole = path.read_bytes()
    left = {"torn": whole[:-20], "altered": whole.replace(b"halo", b"hale"), "put back": older}[hurt]
    path.write_bytes(left)
    os.utime(path, ns=(kept.st_atime_ns, kept.st_mtime_ns))
    line = put(tmp_path)
    assert line.prev == sha256(left.removesuffix(b"\n").rpartition(b"\n")[2]).hexdigest()
    assert path.read_bytes().startswith(left.removesuffix(b"\n") + b"\n{")


def test_what_stops_a_program_that_has_written_keeps_no_writer_out(tmp_path: Path) -> None:
    """Only what the system refused was thought of: of all else the file stayed open, and locked."""
    with mock.patch.object(pieces, "unlock", side_effect=MemoryError), pytest.raises(MemoryError):
        put(tmp_path)
    with mock.patch.object(disk, "LOCK_WAIT_S", 0.2):
        put(tmp_path)
    assert verify(tmp_path) == []
    assert len(raws(tmp_path)) == 2


@pytest.mark.parametrize("extra", [0, 1, 2, 3 * BLOCK, 100])
def test_the_last_line_is_found_whatever_its_length(tmp_path: Path, extra: int) -> None:
    """Lines around the size of the block that is read from the end, and longer ones."""
    put(tmp_path, "note", {"t": ["x"]})
    short = len(raws(tmp_path)[0])
    put(tmp_path, "note", {"t": ["x" * (BLOCK // 2)] * 2})
    for more in range(-3, 4):
        size = max(BLOCK + extra - short + more, 1)
        put(tmp_path, "note", {"t": ["x" * min(size, 20_000), "y" * max(size - 20_000, 0)]})
    put(tmp_path)
    assert verify(tmp_path) == []


REFUSED: list[tuple[str, dict[str, Any], str]] = [
    ("test", {**BODY, "release": 5}, "Release is graded 0 to 4, not 5."),
    ("test", {**BODY, "release": -1}, "Release is graded 0 to 4, not -1."),
    ("test", {**BODY, "release": True}, "The entry does not fit: expected int | null, got bool (release)."),
    ("test", {**BODY, "harm": {"smell": 1}}, "'smell' is not a kind of harm"),
    ("test", {**BODY, "harm": {"bleed": 5}}, "Harm (bleed) is graded 0 to 4, not 5."),
    ("test", {**BODY, "parts": {}}, "The test names no liquid."),
    ("test", {**BODY, "parts": {"water": 0.5}}, "The shares of the liquid sum to 0.5, not to 1."),
    ("test", {**BODY, "parts": {"water": 1.0, "ethanol": 0.0}}, "The share of ethanol is 0.0"),
    ("test", {**BODY, "parts": {"water": 2.0, "ethanol": -1.0}}, "The share of ethanol is -1.0"),
    ("test", {**BODY, "parts": {"water": float("nan")}}, "The share of water is nan"),
    ("test", {**BODY, "parts": {"w" * 200: 1.0}}, "longer than 120 characters"),
    ("test", {**BODY, "parts": {" ": 1.0}}, "has no name"),
    ("test", {**BODY, "rounds": [{"dwell_s": 1}, {"dwell_s": -1}]}, "The dwell of round 2 is not a time"),
    ("test", {**BODY, "rounds": [{"dwell_s": float("inf")}]}, "The dwell of round 1 is not a time"),
    ("test", {**BODY, "rounds": [{"dwell_s": "x"}]}, "expected float, got str (rounds 1, dwell_s)"),
    ("test", {**BODY, "site": {"x_mm": float("nan")}}, "The place of the spot (x_mm)"),
    ("test", {**BODY, "site": {"y_mm": float("inf")}}, "The place of the spot (y_mm)"),
    ("test", {**BODY, "site": {"face": "side"}}, "The entry does not fit"),
    ("test", {**BODY, "photos": [{"path": "p.jpg", "sha256": "F" * 64}]}, "has no SHA-256"),
    ("test", {**BODY, "tested_at": "last week"}, "'last week' is not a date"),
    ("test", {**BODY, "colour": "x"}, "it contains unknown field colour"),
    ("test", {}, "it lacks the field parts"),
    ("test", {**BODY, "remarks": "x" * 20_001}, "The text is 20,001 characters long"),
    ("test", {**BODY, "remarks": "\ud800"}, "half a character"),
    ("test", {**BODY, "remarks": b"bytes" * 9999}, "The text is 66,660 characters long"),
    ("amend", {"of": new_ulid(), "set": {}, "why": "x"}, "The amendment changes nothing."),
    ("amend", {"of": new_ulid(), "set": {"releas": 1}, "why": "x"}, "no field 'releas' to amend"),
    ("amend", {"of": new_ulid(), "set": {"release": 7}, "why": "x"}, "Release is graded 0 to 4, not 7."),
    ("amend", {"of": new_ulid(), "set": {"parts": {"water": 0.9}}, "why": "x"}, "sum to 0.9"),
    ("amend", {"of": new_ulid(), "set": {"release": 2}, "why": " \n"}, "Say why"),
    ("amend", {"of": "it", "set": {"release": 2}, "why": "x"}, "'it' is not the id of a record."),
    ("withdraw", {"of": new_ulid(), "why": ""}, "Say why"),
    ("withdraw", {"of": new_ulid()}, "it lacks the field why"),
    ("withdraw", {"of": "x\x1b[2J", "why": "y"}, "is not the id of a record."),
    ("note", {"x": float("nan")}, "nan is not a number that can be written down."),
    ("note", {"x": [{"y": float("-inf")}]}, "-inf is not a number"),
    ("note", {"x": object()}, "cannot be written down"),
    ("note", {"k" * 200: 1}, "characters long"),
    ("note", {"x": "\ud800"}, "half a character"),
    ("Note!", {"x": 1}, "'Note!' is not a kind of record."),
]


@pytest.mark.parametrize(("kind", "body", "words"), REFUSED)
def test_what_is_not_fit_is_refused_in_a_sentence(
    tmp_path: Path, kind: str, body: dict[str, Any], words: str
) -> None:
    with pytest.raises(BookError) as caught:
        put(tmp_path, kind, body)
    said = str(caught.value)
    assert words in said
    assert said.endswith("Nothing was recorded.")
    assert said.isprintable()
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"who": " \t"}, "does not say who"),
        ({"who": "x" * 201}, "201 characters"),
        ({"at": datetime(2024, 1, 1)}, "no time zone"),
        ({"record_id": "abc"}, "'abc' is not a record id."),
        ({"record_id": ""}, "'' is not a record id."),
        ({"after": "abc"}, "'abc' is not a record id."),
        ({"body": ["x"]}, "not a set of named fields"),
        ({"body": {"deep": None}}, "does not fit"),
    ],
)
def test_a_head_that_is_not_fit_is_refused(tmp_path: Path, more: dict[str, Any], words: str) -> None:
    with pytest.raises(BookError, match=r"Nothing was recorded\.$") as caught:
        put(tmp_path, **more)
    assert words in str(caught.value)


def test_an_endless_body_is_refused(tmp_path: Path) -> None:
    body: dict[str, Any] = {}
    body["again"] = body
    with pytest.raises(BookError, match="nested too deeply"):
        put(tmp_path, "note", body)


def test_a_record_over_a_mebibyte_is_refused_and_the_file_left(tmp_path: Path) -> None:
    put(tmp_path)
    before = (tmp_path / "bench-1.jsonl").read_bytes()
    with pytest.raises(BookError, match="Shorten it"):
        put(tmp_path, "note", {"texts": ["x" * 20_000] * 60})
    assert (tmp_path / "bench-1.jsonl").read_bytes() == before


@pytest.mark.parametrize(
    "name",
    ["", "A", "../x", "/x", "a/b", "a.b", "a b", "-a", "a\x1b", "a\n", "é", "con", "lpt1", "x" * 49, "a_b"],
)
def test_names_that_no_bench_may_have(tmp_path: Path, name: str) -> None:
    assert not is_bench(name)
    with pytest.raises(BookError, match="cannot name a bench") as caught:
        put(tmp_path / "book", bench=name)
    assert str(caught.value).isprintable()
    assert not (tmp_path / "book").exists()


def test_amend_and_withdraw_as_types(tmp_path: Path) -> None:
    first = put(tmp_path)
    put(tmp_path, "amend", Amend(of=first.id, set={"release": None, "harm": {"gloss": 2}}, why="misread"))
    put(tmp_path, "withdraw", Withdraw(of=first.id, why="wrong sheet"))
    assert verify(tmp_path) == []
    assert json.loads(raws(tmp_path)[1])["body"]["set"] == {"release": None, "harm": {"gloss": 2}}
