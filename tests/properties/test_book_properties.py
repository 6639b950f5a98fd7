"""What must hold for any text, any set of records and any order of reading."""

import json
import math
import random
import tempfile
from pathlib import Path
from typing import Any
from unittest import mock

import msgspec
import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.book import check as check_of_book
from kb.book import ulid
from kb.book.append import append
from kb.book.check import body_bytes
from kb.book.fold import fold
from kb.book.kinds.spot_test import HARM_KINDS, SpotTest
from kb.book.line import decode_line, encode_line, for_yaml
from kb.book.read import read_file
from kb.book.text import clean_text, clean_tree
from kb.book.ulid import new_ulid, ulid_time_ms
from kb.book.verify import verify
from kb.model.record import Line
from tests.book.test_book_fold import amend, check, rid, withdraw
from tests.whole_book import all_lines

TEXT = st.text(max_size=60)
WEIRD = st.text(
    st.sampled_from(
        "\U0001f4dc\u0301a"
        '\x00\x07\x1b\r\n\t\x7f\x85\x9b\u2028\u2029\u200b\ufeff\u202e\u2066\ufffe"\\/{}[]:,#&*!|>%@`e1-.'
    ),
    max_size=40,
)
FLOATS = st.floats(allow_nan=False, allow_infinity=False)
TREES = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**63), 2**63) | FLOATS | TEXT | WEIRD,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=12), inner, max_size=4),
    max_leaves=12,
)


@given(TEXT | WEIRD)
def test_cleaning_again_changes_nothing(text: str) -> None:
    once = clean_text(text)
    assert clean_text(once) == once
    line = clean_text(text, multiline=False)
    assert clean_text(line, multiline=False) == line
    assert not set(line) & set("\n\t\r\u2028\u2029")


@given(TEXT | WEIRD)
def test_clean_text_has_no_control_character(text: str) -> None:
    unwanted = {*range(0x09), *range(0x0B, 0x20), *range(0x7F, 0xA0), 0x200B, 0xFEFF}
    unwanted |= {*range(0x202A, 0x202F), *range(0x2066, 0x206A)}
    assert not {ord(char) for char in clean_text(text)} & unwanted


@settings(max_examples=150)
@given(TREES)
def test_json_spelled_for_yaml_is_the_same_value_in_both(tree: Any) -> None:
    raw = for_yaml(msgspec.json.encode({"tree": tree}))
    assert b"\n" not in raw
    assert json.loads(raw) == {"tree": tree}
    assert yaml.safe_load(raw) == {"tree": tree}
    assert yaml.load(raw, Loader=yaml.CSafeLoader) == {"tree": tree}


EDGES: list[Any] = [
    0,
    0.0,
    -0.0,
    1,
    2,
    4,
    5,
    1e-7,
    1e-5,
    1e-4,
    0.5,
    1 - 1e-9,
    1.0,
    1e15,
    1e16,
    1e300,
    10**400,
    -1,
    math.nan,
    math.inf,
]
FIGURES = FLOATS | st.sampled_from(EDGES)
WORDS = (
    st.sampled_from(["", " ", " a", "a ", "swab", "null", "1e5", "x" * 121, "\x7f", "\n", "\\", "\ud800"])
    | TEXT
)
ANYTHING = st.none() | st.booleans() | FIGURES | WORDS | st.lists(WORDS, max_size=2) | TREES
SOUND: dict[str, Any] = {
    "adhesive": "starch-paste",
    "carrier_present": False,
    "parts": {"water": 0.25, "ethanol": 0.75},
    "method": "poultice",
    "site": {"words": "lower edge", "face": "front", "x_mm": 12.5},
    "rounds": [{"dwell_s": 30.0, "wet": "swells"}, {"dwell_s": 60}],
    "release": 4,
    "harm": {"bleed": 0, "gloss": 4},
    "control": True,
}
# One thing is odd in each: what is wrong in many ways would be refused by any rule that is left.
ODD: dict[str, st.SearchStrategy[Any]] = {
    **{name: ANYTHING for name in SpotTest.__struct_fields__ if name not in SOUND},
    "parts": st.builds(lambda name: {name: 1.0}, st.sampled_from(["", " ", "   ", " a", "x" * 121]) | WORDS)
    | st.builds(lambda share: {"water": share}, FIGURES)
    | st.builds(lambda name: {name: 0.25, "ethanol": 0.75}, WORDS)
    | st.builds(lambda share: {"water": share, "ethanol": 0.5}, FIGURES)
    | st.sampled_from([3, 32, 64]).map(
        lambda count: {f"liquid {number}": 1 / count for number in range(count)}
    ),
    "method": WORDS,
    "site": st.builds(lambda name, value: {name: value}, st.sampled_from(["x_mm", "y_mm", "face"]), ANYTHING),
    "rounds": st.builds(lambda dwell_s: [{"dwell_s": 20.0}, {"dwell_s": dwell_s}], FIGURES)
    | st.builds(lambda name, value: [{"dwell_s": 1, name: value}], st.sampled_from(["wet", "how"]), ANYTHING),
    "release": FIGURES | st.none(),
    "harm": st.builds(lambda kind, grade: {kind: grade}, st.sampled_from([*HARM_KINDS, "smell"]), FIGURES),
    "may_be": st.builds(lambda key, chance: {key: chance}, st.sampled_from(["a/b/c", "a"]), FIGURES),
    "photos": st.builds(lambda path: [{"path": path, "sha256": "0" * 64}], WORDS),
    "tested_at": st.sampled_from(["", "2024", "2024-05-31", "last week"]) | WORDS,
    "remarks": ANYTHING,
}


RULED = ("parts", "method", "site", "rounds", "release", "harm", "tested_at")
"""What is odd more often, because a rule of its own looks at it."""


def way_in(body: Any) -> bytes | str:
    """A test as it goes into the file, or the sentence that refuses it."""
    try:
        return body_bytes("test", body)
    except ValueError as error:
        return str(error)


def same_both_ways(body: Any) -> None:
    """The usual way takes nothing that the long one refuses or spells otherwise."""
    found = way_in(body)
    with mock.patch.object(check_of_book, "_usual_test", return_value=b""):
        assert way_in(body) == found
    if isinstance(found, bytes):
        assert yaml.load(found, Loader=yaml.CSafeLoader) == json.loads(found)


@settings(max_examples=500)
@given(
    (st.sampled_from(RULED) | st.sampled_from(sorted(ODD))).flatmap(
        lambda name: st.tuples(st.just(name), ODD[name])
    ),
    st.sets(st.sampled_from(sorted(SOUND.keys() - {"parts"}))),
    st.booleans(),
)
def test_the_usual_way_of_a_test_into_the_book_and_the_long_one_say_the_same(
    odd: tuple[str, Any], left_out: set[str], typed: bool
) -> None:
    body: Any = {name: value for name, value in SOUND.items() if name not in left_out} | dict([odd])
    if typed:
        body = SpotTest(**body)
    same_both_ways(body)


@pytest.mark.parametrize("edge", EDGES)
def test_both_ways_say_the_same_of_figures_at_the_edge_of_a_rule(edge: Any) -> None:
    for odd in (
        {"parts": {"water": edge}},
        {"parts": {"water": edge, "ethanol": 0.5}},
        {"site": {"x_mm": edge}},
        {"site": {"y_mm": edge}},
        {"rounds": [{"dwell_s": 20.0}, {"dwell_s": edge}]},
        {"release": edge},
        {"harm": {"bleed": edge}},
        {"harm": {"smell": edge}},
        {"may_be": {"a/b/c": edge}},
    ):
        same_both_ways(SOUND | odd)


def test_sound_tests_go_the_usual_way() -> None:
    for body in (SOUND, {"parts": {"water": 1.0}}, SpotTest(parts={"water": 1.0}, release=2)):
        assert check_of_book._usual_test(body) == body_bytes("test", body)


@settings(max_examples=60)
@given(st.dictionaries(st.text(max_size=20), TREES, max_size=3), TEXT)
def test_any_body_comes_back_as_it_was_cleaned(body: dict[str, Any], who: str) -> None:
    try:
        cleaned = clean_tree(body)
    except ValueError:
        return
    raw = body_bytes("note", body)
    line = Line(
        id=new_ulid(),
        at="2024-05-31T14:30:01.234Z",
        who=clean_text(who, multiline=False),
        bench="b",
        kind="note",
        body=msgspec.Raw(raw),
        prev="0" * 64,
    )
    written = encode_line(line)
    assert decode_line(written) == line
    assert msgspec.json.decode(line.body) == cleaned
    assert yaml.safe_load(written) == json.loads(written)


@settings(max_examples=25, deadline=None)
@given(st.lists(WEIRD | TEXT, min_size=1, max_size=5))
def test_any_remarks_come_back_from_the_file(remarks: list[str]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        book = Path(folder)
        for text in remarks:
            append(book, bench="b", who="r", kind="test", body={"parts": {"water": 1.0}, "remarks": text})
        found = [read.line for read in read_file(book / "b.jsonl")]
        assert [msgspec.json.decode(line.body).get("remarks", "") for line in found if line] == [
            clean_text(text) for text in remarks
        ]
        assert verify(book) == []


@given(st.lists(st.integers(0, 2**48 - 2), min_size=1, max_size=30))
def test_ids_rise_whatever_the_clock_does_and_are_never_dated_back(times_ms: list[int]) -> None:
    with mock.patch.object(ulid, "_last", ""):
        made = [new_ulid(moment) for moment in times_ms]
    assert made == sorted(set(made))
    assert all(ulid_time_ms(text) >= moment for text, moment in zip(made, times_ms, strict=True))


CHANGES = st.lists(
    st.tuples(st.sampled_from(["amend", "amend of harm", "withdraw"]), st.integers(0, 14), st.integers(0, 4)),
    max_size=10,
)


def book_of(changes: list[tuple[str, int, int]]) -> list[Line]:
    """Three tests and changes of them, of each other, and of what is not there."""
    lines = [check(number) for number in (1, 4, 9)]
    free = [number for number in range(20) if number not in {1, 4, 9}]
    for number, (kind, of, grade) in zip(free, changes, strict=False):
        if kind == "withdraw":
            lines.append(withdraw(number, of, f"reason {grade}"))
        elif kind == "amend":
            lines.append(amend(number, of, release=grade))
        else:
            lines.append(amend(number, of, harm={HARM_KINDS[grade]: grade}))
    return lines


@given(CHANGES, st.randoms(use_true_random=False))
def test_the_fold_does_not_depend_on_the_order_of_reading(
    changes: list[tuple[str, int, int]], chance: random.Random
) -> None:
    lines = book_of(changes)
    made = fold(lines)
    chance.shuffle(lines)
    assert fold(lines + lines[:2]) == made


@given(CHANGES)
def test_every_change_is_somewhere_in_the_fold(changes: list[tuple[str, int, int]]) -> None:
    lines = book_of(changes)
    made = fold(lines)
    known = {line.id for line in lines}
    reached = {change.line.id for item in made.tests.values() for change in item.history}
    reached |= {line.id for line in made.loose} | set(made.troubles)
    for line in lines[3:]:
        of = msgspec.json.decode(line.body)["of"]
        assert line.id in reached or (of in known and of not in {rid(1), rid(4), rid(9)})


@given(CHANGES)
def test_a_withdrawal_of_each_withdrawal_restores_every_test(changes: list[tuple[str, int, int]]) -> None:
    lines = [line for line in book_of(changes) if line.kind != "withdraw"]
    out = [withdraw(30 + at, at) for at in (1, 4, 9)]
    back = [withdraw(50 + at, 30 + at) for at in (1, 4, 9)]
    assert all(item.withdrawn for item in fold(lines + out).tests.values())
    restored = fold(lines + out + back).tests
    plain = fold(lines).tests
    assert {key: item.body for key, item in restored.items()} == {
        key: item.body for key, item in plain.items()
    }
    assert not any(item.withdrawn for item in restored.values())


@settings(max_examples=25, deadline=None)
@given(CHANGES, st.lists(st.sampled_from("abc"), min_size=13, max_size=13), st.randoms(use_true_random=False))
def test_merging_does_not_depend_on_which_bench_wrote_what(
    changes: list[tuple[str, int, int]], benches: list[str], chance: random.Random
) -> None:
    lines = book_of(changes)
    wanted = sorted(lines, key=lambda line: line.id)
    chance.shuffle(lines)
    with tempfile.TemporaryDirectory() as folder:
        for line, bench in zip(lines, benches, strict=False):
            with open(Path(folder, f"{bench}.jsonl"), "ab") as file:
                file.write(encode_line(line) + b"\n")
        assert all_lines(Path(folder)) == wanted
        for path in list(Path(folder).iterdir()):
            path.with_name(f"z-{path.name}").write_bytes(path.read_bytes())
        assert all_lines(Path(folder)) == wanted
