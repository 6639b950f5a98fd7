"""Hostile text in the bench book: through the desk, and in files that another program wrote."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec
import pytest

from kb.book.check import decode_record, decode_test
from kb.book.kinds.parts import Photo, Site
from kb.book.kinds.spot_test import Round, SpotTest
from kb.book.kinds.table import KEPT
from kb.book.line import decode_line
from kb.book.read import read_file
from kb.book.text import clean_text
from kb.book.verify import verify
from kb.desk.errors import DeskError
from kb.desk.records.book_list import amend_record, withdraw_record
from kb.desk.records.record import add_test, list_tests, show_test
from kb.desk.studio import Studio
from tests.faults import figures
from tests.faults.hostile.checks import strings_in, svg_texts, trouble, unclean
from tests.faults.hostile.corpus import CORPUS, SHORT, Hostile
from tests.faults.hostile.foreign import TYPES, record_id, write_lines
from tests.faults.hostile.stage import Stage, staged

NAMED: tuple[str, ...] = (
    "adhesive",
    "stage",
    "carrier",
    "tape",
    "medium",
    "paper",
    "method",
    "sheet",
    "magnification",
)
NAMED += ("light", "batch", "remarks")
FIELDS = 19
"""Texts of a spot test that `full` fills in."""


@pytest.fixture(scope="module")
def stage(tmp_path_factory: pytest.TempPathFactory, blank_index: Path) -> Iterator[Stage]:
    """A studio whose book holds, as if from another program, records of every kind with every string."""
    with staged(tmp_path_factory.mktemp("hostile"), blank_index) as made:
        write_lines(made.studio.book_dir / "foreign.jsonl", foreign(made))
        yield made


def foreign(stage: Stage) -> Iterator[tuple[str, dict[str, Any], str]]:
    """One record of each kind for each string, then changes that bear it."""
    for one in SHORT:
        for kind, make in TYPES.items():
            yield kind, make(one.text), one.text[:100]
        set_to = {"remarks": one.text, "sheet": one.text}
        yield "amend", {"of": stage.ids["test"], "set": set_to, "why": one.text}, one.text[:100]
        yield "amend", {"of": one.text, "set": {one.text: one.text}, "why": one.text}, "AB"
        yield "withdraw", {"of": one.text, "why": one.text}, "AB"


def full(text: str) -> SpotTest:
    """A spot test with the same text in every field that takes text."""
    words: dict[str, Any] = dict.fromkeys(NAMED, text)
    return SpotTest(
        parts={text: 1.0},
        **words,
        site=Site(words=text),
        rounds=(Round(dwell_s=30, amount=text, wet=text, dry=text),),
        photos=(Photo(path=text, sha256="ab" * 32),),
    )


def test_every_field_of_a_spot_test_through_the_desk(studio: Studio) -> None:
    """What is stored is the cleaned text, to the letter; what cannot be stored is refused in a sentence."""
    kept: dict[str, Hostile] = {}
    said: list[str] = []
    for one in CORPUS:
        try:
            kept[add_test(studio, full(one.text)).id] = one
        except DeskError as error:
            # A photograph that is there and is another file than its hash says is refused too.
            other = one.kind == "path" and "changing just now" in str(error) and Path(one.text).is_file()
            assert other or not one.storable or not one.text.strip() or len(one.text) > 120, one
            said.append(str(error).encode(errors="replace").decode())
    assert not any(map(unclean, said))
    assert len(kept) > 300
    studio.refresh()
    for test_id, one in kept.items():
        found = show_test(studio, test_id).test
        texts = list(strings_in(msgspec.to_builtins(found)))
        assert texts.count(clean_text(one.text)) >= FIELDS - 3, one
    assert verify(studio.book_dir) == []
    assert len(list_tests(studio, limit=0)) == len(kept)
    figures.add(
        "hostile text through the desk", tried=len(CORPUS), surfaces=FIELDS, kept=len(kept), crashes=0
    )


def test_every_remark_amendment_and_reason(studio: Studio) -> None:
    """Texts of any length and kind as remarks, as corrected remarks and as the reason of a change."""
    expected: dict[str, str] = {}
    for one in CORPUS[::3]:
        try:
            made = add_test(studio, SpotTest(parts={"water": 1.0}, remarks=one.text)).id
        except DeskError:
            assert len(one.text) > 20_000 or not one.storable
            continue
        studio.refresh()
        try:
            amend_record(studio, made, {"remarks": f"{one.text}!"}, why=one.text)
            expected[made] = clean_text(f"{one.text}!")
        except DeskError:
            assert not clean_text(one.text).strip() or len(one.text) > 19_999
            expected[made] = clean_text(one.text)
    studio.refresh()
    for made, text in expected.items():
        assert show_test(studio, made).test.remarks == text
    with pytest.raises(DeskError, match="half a character"):
        withdraw_record(studio, next(iter(expected)), "a\ud800")
    assert verify(studio.book_dir) == []


def test_file_bytes_are_plain(studio: Studio) -> None:
    """The book's own file holds no control byte but the newlines, so that looking at it is safe too."""
    for one in SHORT:
        if one.storable:
            add_test(studio, SpotTest(parts={"water": 1.0}, remarks=f"{one.text}!"))
    for path in studio.book_dir.glob("*.jsonl"):
        raw = path.read_bytes()
        assert not re.search(rb"[\x00-\x09\x0b-\x1f\x7f]", raw)
        assert not unclean(raw.decode())


def test_foreign_lines_are_read_or_told(stage: Stage) -> None:
    """Each line of another program is a record or a problem in words; none hides another."""
    path = stage.studio.book_dir / "foreign.jsonl"
    reads = list(read_file(path))
    assert len(reads) == len(SHORT) * (len(TYPES) + 3)
    whole = [read.line for read in reads if read.line is not None]
    for read in reads:
        assert read.line is not None or read.problem
        assert not unclean(read.problem)
    tests = 0
    for line in whole:
        try:
            if line.kind == "test":
                tests += decode_test(line).release == 3
            elif line.kind in KEPT:
                decode_record(line)
        except ValueError:
            continue
    assert tests > 300
    assert len(list_tests(stage.studio, limit=0)) == tests + 1
    figures.add(
        "hostile text in foreign records", tried=len(reads), strings=len(SHORT), surfaces=80, crashes=0
    )


WORDS = {
    "tests": ["test", "list", "--limit=0"],
    "bottles": ["shelf", "--all"],
    "due": ["shelf", "due"],
    "batches": ["batch", "list", "--all"],
    "batches due": ["batch", "due"],
    "verify": ["verify"],
    "check": ["check"],
    "readings": ["wash", "list", "[/b]"],
    "sheet": ["plan", "[TODO] plan"],
    "own sheet": ["plan", "\x1b[2Ja"],
    "choose": ["choose", "--adhesive=natural-rubber-resin", "--sheet=%"],
    "amended": ["test", "show", "{test}"],
    "book": ["book", "list"],
    "mends": ["mend", "list"],
    "tonings": ["tone", "list"],
    "housings": ["frame", "list"],
}


@pytest.mark.parametrize("name", WORDS)
@pytest.mark.parametrize("as_json", [False, True], ids=["text", "json"])
def test_lists_of_foreign_records(stage: Stage, name: str, as_json: bool) -> None:
    """Every list prints the text cleaned, or escaped for other programs."""
    words = [word.format(**stage.ids) if word.startswith("{") else word for word in WORDS[name]]
    printed = stage.run([*words, "--json"] if as_json else words)
    assert not trouble(*printed, as_json=as_json)
    assert printed.code in {0, 1}, printed.err
    assert printed.out


def test_every_foreign_record_is_shown(stage: Stage) -> None:
    """Reading one test, batch or bottle, its label and its trace, prints nothing raw and raises nothing."""
    found: list[str] = []
    tried = 0
    kinds = {kind: place for place, kind in enumerate(TYPES)}
    for number, one in enumerate(SHORT):
        first = number * (len(TYPES) + 3)
        if not one.storable:
            continue
        batch = record_id(first + kinds["batch"])
        commands = [
            ["test", "show", record_id(first + kinds["test"])],
            ["batch", "show", batch],
            ["batch", "label", batch],
            ["batch", "trace", batch],
            ["book", "show", record_id(first + kinds[list(TYPES)[number % len(TYPES)]])],
        ]
        for words in commands[number % 2 :: 2]:
            as_json = number % 4 < 2
            tried += 1
            if why := stage.wrong([*words, "--json"] if as_json else words):
                found.append(f"{' '.join(words[:2])}, {one.kind}: {one.name}: {why}")
    figures.add("hostile foreign records shown", tried=tried, crashes=len(found))
    assert not found, "\n".join(found)


def test_labels_of_foreign_batches_are_drawings(stage: Stage) -> None:
    """The drawing of a label is sound XML of our own elements, and spells the name as text."""
    place = list(TYPES).index("batch")
    for number, one in enumerate(SHORT):
        if one.kind not in {"html", "terminal", "direction", "invisible", "json", "markup"}:
            continue
        file = stage.here / f"label-{number}.svg"
        batch = record_id(number * (len(TYPES) + 3) + place)
        printed = stage.run(["batch", "label", batch, "--svg", str(file)])
        assert printed.code == 0, (one, printed.err)
        texts = "".join("".join(svg_texts(file.read_text(encoding="utf-8"))).split())
        if one.kind == "html":
            assert "".join(one.text.split()) in texts, one
    texts = json.loads(stage.run(["batch", "list", "--all", "--json"]).out)
    assert len(texts) > 300


def test_a_line_read_back_is_what_was_written(stage: Stage) -> None:
    """The reader changes nothing: what a foreign line says in its body is there byte for byte."""
    path = stage.studio.book_dir / "foreign.jsonl"
    raw = path.read_bytes().split(b"\n")[0]
    assert json.loads(bytes(decode_line(raw).body)) == json.loads(raw)["body"]
