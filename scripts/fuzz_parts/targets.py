"""What is tried, and what must hold whatever comes in. A check raises only if something is wrong."""

from __future__ import annotations

import contextlib
import math
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, NamedTuple

import msgspec
from hypothesis import strategies as st
from hypothesis.strategies import SearchStrategy

from kb.book.check import body_bytes
from kb.book.fold import fold
from kb.book.line import decode_line
from kb.book.read import read_file
from kb.book.text import clean_text
from kb.book.verify import verify
from kb.catalogue.load import load
from kb.catalogue.own_files import read_settings, read_shelf_file
from kb.catalogue.problems import UNSAFE
from kb.desk import amounts
from kb.desk.air import inputs as air_inputs
from kb.desk.amounts import portion
from kb.desk.errors import DeskError
from kb.desk.identify.identify import identify, looks, signs
from kb.desk.liquids.solubility_map import zoom_of
from kb.desk.making.batch_typed import changes
from kb.desk.making.recipe import make
from kb.desk.materials import lookup, resolve
from kb.desk.records import record, typed
from kb.desk.sheet import mends
from kb.desk.shelf import bottles
from kb.science.liquids.blends import blend_id, parse_blend
from kb.science.quantities import UNITS, parse_quantity, parse_range
from kb.tui.screens.choose.find import offers
from kb.tui.screens.records.book_filter import Known, understand
from kb.tui.text import cut, fit, line, plain
from scripts.fuzz_parts.inputs import PIECES, WHOLE, damaged_lines
from scripts.fuzz_parts.inputs import typed as typing
from scripts.fuzz_parts.world import World, good_book
from tests.faults.hostile.checks import trouble, unclean

ROOT = Path(__file__).resolve().parent.parent.parent
GOOD_YAML = (ROOT / "tests/faults/broken_catalogue/base.yaml").read_bytes()
YAML_JUNK = (
    *(
        b"&a ",
        b"*a ",
        b"<<: ",
        b"!!str ",
        b"!!python/name:os.system ",
        b"- ",
        b": ",
        b"? ",
        b"| ",
        b"> ",
        b"---",
    ),
    *(
        b"[",
        b"]",
        b"{",
        b"}",
        b",",
        b"'",
        b'"',
        b"#",
        b"%YAML 9",
        b"\t",
        b"\r",
        b"\x00",
        b"\xff",
        b"\xef\xbb\xbf",
    ),
    *(b"no", b"~", b".nan", b".inf", b"1e999", b"0x1F", b"12:30", b"2024-02-30", b"id", b"from", b"liquids:"),
)
GOOD_SHELF = (
    b"holds:\n- acetone\n- ethanol # ours\nforbids:\n- {liquids: [acetone], why: No, rule: local}\n"
    b"- families: [ketones]\n  hazards: [H225]\n  why: Not in this building\nperoxide_test_months: 3\n"
)
GOOD_SETTINGS = (
    b"name: My studio\nwho: AB\nbench: north\nauthority: EU\ndials:\n  harm_aversion: 16\n  ceiling: 0.6\n"
)
KNOWN = {"liquids": {"acetone", "ethanol"}, "families": {"ketones"}, "hazards": {"H225"}}


class Target(NamedTuple):
    """One thing to try: how inputs are made, what is checked, and how many are tried in a short run."""

    about: str
    inputs: SearchStrategy[Any]
    check: Callable[[World, Any], None]
    examples: int


def said(error: Exception) -> None:
    """An error is told in words that are safe to show once they are cleaned."""
    if not str(error).strip():
        raise AssertionError("an error without a word") from error


def _book_inputs() -> SearchStrategy[bytes]:
    with tempfile.TemporaryDirectory() as folder:
        good = good_book(Path(folder, "bench-a.jsonl"))
    junk = (
        *good.splitlines(),
        *YAML_JUNK,
        b"{}",
        b"null",
        b'"',
        b"\\ud800",
        b"\\u0000",
        b"[" * 5000,
        b'"body":{',
    )
    return damaged_lines(good, junk)


def _catalogue(world: World, content: bytes) -> None:
    path = world.catalogue / "x.yaml"
    path.write_bytes(content)
    _, problems = load([world.catalogue])
    lines = content.count(b"\n") + content.count(b"\r") + 1
    for problem in problems:
        assert 1 <= problem.line <= lines, problem
        assert not UNSAFE.search(str(problem)), problem
        assert "\n" not in str(problem), problem


def _own_files(world: World, content: bytes) -> None:
    path = world.folder / "own.yaml"
    path.write_bytes(content)
    for problems in (read_shelf_file(path, KNOWN)[1], read_settings(path)[1]):
        for problem in problems:
            assert not unclean(problem), problem


def _book(world: World, content: bytes) -> None:
    """Nothing raises, and a line that was not touched is read, whatever stands around it."""
    path = world.book.book_dir / "fuzz.jsonl"
    path.write_bytes(content)
    reads = list(read_file(path))
    assert sum(read.length for read in reads) == len(content)
    for read, raw in zip(reads, content.split(b"\n"), strict=False):
        assert (read.line is None) == bool(read.problem)
        if raw in _GOOD_LINES and content[read.offset + read.length - 1 :][:1] == b"\n":
            assert read.line is not None, read.problem
    fold([read.line for read in reads if read.line is not None])
    verify(world.book.book_dir)
    world.book.refresh()
    for row in record.list_tests(world.book, limit=0):
        record.show_test(world.book, row.id)
    bottles.all_bottles(world.book)


with tempfile.TemporaryDirectory() as _folder:
    _GOOD_LINES = frozenset(good_book(Path(_folder, "bench-a.jsonl")).splitlines())


def _quantity(_: World, text: str) -> None:
    for read in (parse_quantity, parse_range):
        for meant in ((), ("volume", "mass"), ("time",), ("temperature",), ("per cent",)):
            try:
                found = read(text, *meant, bare="ml" if not meant else "")
            except ValueError as error:
                said(error)
                continue
            values = [value for value in found if isinstance(value, float)]
            assert all(map(math.isfinite, values)), found


def _amounts(world: World, text: str) -> None:
    """Everything else that is a number typed with words: each gives numbers or says what is wrong."""
    readers: tuple[Callable[[str], Any], ...] = (
        amounts.seconds,
        lambda one: typed.grade(one, "release"),
        lambda one: typed.harm_grades(one.split(";")),
        amounts.size_mm,
        amounts.per_area_g_m2,
        amounts.humidity,
        lambda one: amounts.strength_mol_l("calcium-hydroxide", one),
        amounts.minutes,
        amounts.celsius,
        air_inputs.hours_of,
        lambda one: air_inputs.number(one, "x"),
        mends.lab,
        zoom_of,
        portion,
        lambda one: changes(world.studio, one.split(";")),
        lambda one: make(world.studio, "wheat-starch-paste", one),
    )
    for read in readers:
        try:
            read(text)
        except DeskError as error:
            said(error)
    with contextlib.suppress(ValueError):
        bottles.first_day(text)


def _find(world: World, text: str) -> None:
    for found in lookup.find(world.studio, text):
        assert 0 < found.score <= 100
    for word in ("liquid", "tape"):
        try:
            assert resolve.resolve(world.studio, word, text)
        except DeskError as error:
            said(error)
    for blank in ("tape", "sheet"):
        offers(world.studio, blank, text)
    known = Known(("Letter 1", "Map, 1892"), ("AB", text[:20]))
    understand(world.studio, text, known)


def _signs(world: World, text: str) -> None:
    try:
        found = signs(world.studio, text.split(";"))
    except DeskError as error:
        said(error)
        return
    answer = identify(world.studio, found)
    assert abs(sum(one.p for one in answer.ranked) + answer.unknown - 1) < 0.05 or len(answer.ranked) == 5


def _blend(world: World, text: str) -> None:
    try:
        parts = parse_blend(text)
    except ValueError as error:
        said(error)
    else:
        assert abs(math.fsum(parts.values()) - 1) < 1e-9
        named = blend_id(parts)
        assert blend_id(parse_blend(named)) == named
    try:
        resolve.parts(world.studio, blend=text)
    except DeskError as error:
        said(error)


def _text(_: World, text: str) -> None:
    for width in (0, 1, 7):
        assert not unclean(cut(text, width))
        fit(text, width)
    assert not unclean(plain(text).plain)
    assert "\n" not in line(text).plain
    try:
        once = clean_text(text)
    except ValueError:
        return
    assert clean_text(once) == once
    raw = body_bytes("note", {"text": text})
    assert msgspec.json.decode(raw) == {"text": once}
    head = {"id": "01HZ0000000000000000000000", "at": "2020-01-01T00:00:00.000Z", "who": "AB", "bench": "b"}
    whole = msgspec.json.encode({**head, "kind": "note", "body": msgspec.Raw(raw), "prev": "0" * 64})
    assert bytes(decode_line(whole).body) == raw


def _command(world: World, case: tuple[int, str, bool]) -> None:
    number, text, as_json = case
    place = world.surfaces[number % len(world.surfaces)]
    if place.sort == "path" and not world.stage.stays_inside(text):
        return
    if not place.option and text in {"--debug", "--demo"}:
        return
    why = trouble(*world.stage.run(place.argv(text, as_json=as_json)), as_json=as_json)
    assert not why, f"{place.command} {place.name}: {why}"


_UNITS = sorted({word for units in UNITS.values() for unit in units for word in (unit.shown, *unit.also)})
_NAMES = ["acetone", "n-heptane", "white spirit", "wheat starch", "Letter 1", "by AB", "sheet", "67-64-1"]
_LOOKS = ["gloss=glossy", "stretch=no", "year=1952", "before 1930", "1950s", "gloss", "year", "-"]
_AMOUNTS = ["420 x 594 mm", "30s", "1min 30s", "100 g/m2", "40-60 %", "0.05 mol/l", "88.1 1.2 12.5"]
_AMOUNTS += ["x 3", "wheat starch 20 g", "12 mends of 60 x 8 mm", "2024-05-31", "60,25,15,30", "ph=7.2"]

TARGETS: Mapping[str, Target] = {
    "catalogue": Target(
        "a good catalogue file with damage", damaged_lines(GOOD_YAML, YAML_JUNK), _catalogue, 400
    ),
    "own-files": Target(
        "shelf.yaml and studio.yaml with damage",
        st.one_of(damaged_lines(GOOD_SHELF, YAML_JUNK), damaged_lines(GOOD_SETTINGS, YAML_JUNK)),
        _own_files,
        400,
    ),
    "book": Target("a good book file with damage", _book_inputs(), _book, 300),
    "quantity": Target(
        "amounts with units", typing([*_UNITS, "to", "-", "1,5", "2 h 30 min"]), _quantity, 1000
    ),
    "amounts": Target(
        "sizes, times, grades, readings, days", typing([*_AMOUNTS, *_UNITS[::9]]), _amounts, 800
    ),
    "find": Target("names half remembered, and filters of the book", typing(_NAMES), _find, 60),
    "signs": Target("signs of a tape", typing(_LOOKS), _signs, 250),
    "blend": Target("blends", typing([*_NAMES, "50", "%", "+", ",", "1/3"]), _blend, 500),
    "text": Target("any text on its way in and out", st.one_of(WHOLE, typing(PIECES[:40])), _text, 500),
    "command": Target(
        "any text at any place of any command",
        st.tuples(st.integers(0, 9_999), WHOLE, st.booleans()),
        _command,
        600,
    ),
}


def check_looks(world: World) -> int:
    """How many looks the sign target can ask about; none would make it idle."""
    return len(looks(world.studio))
