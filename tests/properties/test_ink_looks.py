"""A clean look on an ink counts for it only if something was looked at that an ink can show.

Over media, papers, adhesives, liquids and all that was graded: in the sums of the book and on the sheet.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec import Raw

from kb.book.kinds.spot_test import HARM_KINDS, SpotTest
from kb.desk.choose.gather import gather
from kb.desk.choose.spots import Spots, spots_of
from kb.desk.choose.weigh import Outlook, Sheet
from kb.desk.studio import Studio
from kb.index.book_rows import clear_book, count_row
from kb.index.rows import BARE_PAPER, HARM_FROM, Row, row_of
from kb.index.tally import HARM, Tally
from kb.model.question import Dials, Question
from kb.model.record import Line
from scripts.simulate import Arm, sheet_for
from tests.test_index import content

FEW = settings(max_examples=15, deadline=None)
OF_INK = {"bleed", "offset", "colour"}
OF_PAPER = sorted(set(HARM_KINDS) - OF_INK)
CLEAN, SEEN = st.integers(0, HARM_FROM - 1), st.integers(HARM_FROM, 4)
PAPER = st.dictionaries(st.sampled_from(OF_PAPER), CLEAN, min_size=1)
"""Grades of a look that is clean and passes the ink by."""
Pick = Callable[..., Any]


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory) -> Studio:
    """A studio whose book the examples fill and empty."""
    return Studio(tmp_path_factory.mktemp("inks"))


def question(world: Studio, pick: Pick) -> Question:
    """Of a random ink, paper and adhesive; on a sheet."""
    compiled = world.compiled
    adhesive, paper = (pick(st.sampled_from(sorted(one))) for one in (compiled.adhesives, compiled.papers))
    ink = pick(st.sampled_from(sorted({*compiled.media} - {BARE_PAPER})))
    return Question(adhesive=adhesive, medium=ink, paper=paper, sheet="S1")


def written(number: int) -> Line:
    """A line of the book; what it holds does not matter here."""
    head = {"id": f"{number:026d}", "at": "2026-01-01", "who": "AB", "bench": "b", "kind": "test"}
    return Line(**head, body=Raw(b"{}"), prev="")


def rows(world: Studio, asked: Question, looks: Sequence[dict[str, int]], **fields: Any) -> list[Row]:
    """A test with these grades of harm for each look, as the index keeps it."""
    liquid = fields.pop("liquid")
    on = {"adhesive": asked.adhesive, "medium": asked.medium, "paper": asked.paper, "sheet": asked.sheet}
    found = []
    for number, harm in enumerate(looks):
        test = SpotTest(parts={liquid: 1.0}, harm=harm, **{**on, **fields})
        found.append(row_of(written(number), test, test.parts, (1, 0, 0), world.compiled.tapes))
    return found


def counted(world: Studio, found: Sequence[Row]) -> None:
    """The book holds these tests and no others."""
    clear_book(world.index.conn)
    tally = Tally(world.compiled)
    for row in found:
        count_row(tally, row, 1)
    tally.write(world.index.conn)


def foreseen(
    world: Studio, asked: Question, found: Sequence[Row], elsewhere: Sequence[Row] = ()
) -> tuple[Spots, list[Outlook]]:
    """What is thought of every liquid once these tests are made on the sheet, and those elsewhere."""
    counted(world, [*found, *elsewhere])
    conn, compiled = world.index.conn, world.compiled
    sheet: Sheet = sheet_for(conn, compiled, asked, Arm("", Dials()))
    spots = spots_of([*found], gather(conn, compiled), compiled, asked)
    return spots, [sheet.outlook(place, spots) for place in range(len(sheet.candidates))]


@FEW
@given(st.data())
def test_what_passes_the_ink_by_frees_nothing(world: Studio, data: st.DataObject) -> None:
    """However many there are, and whatever of the paper was graded; one look at the ink does move it.

    A trace of a ring may speak against the paper, which lies under the ink; where none was seen none moves.
    """
    asked, pick = question(world, data.draw), data.draw
    liquid = pick(st.sampled_from([one.id for one in world.compiled.liquids]))
    looks = pick(st.lists(PAPER, min_size=1, max_size=8))
    _, before = foreseen(world, asked, [])
    spots, after = foreseen(world, asked, rows(world, asked, looks, liquid=liquid))
    assert all(now.harm >= was.harm for was, now in zip(before, after, strict=True))
    assert all(now.refused for was, now in zip(before, after, strict=True) if was.refused)
    if not any(any(one.values()) for one in looks):
        assert after == before
    assert spots.passed_by == len(looks)
    # It is a look and no trial, as before: nobody says that it was not looked at.
    assert not spots.tried
    seen = [{**one, pick(st.sampled_from(sorted(OF_INK))): pick(CLEAN)} for one in looks]
    spots, after = foreseen(world, asked, rows(world, asked, seen, liquid=liquid))
    place = next(
        at for at, one in enumerate(gather(world.index.conn, world.compiled).candidates) if one.id == liquid
    )
    assert after[place].harm < before[place].harm
    assert spots.passed_by == 0


@FEW
@given(st.data())
def test_harm_that_was_seen_counts_of_whatever_kind(world: Studio, data: st.DataObject) -> None:
    """A ring beside the ink is harm to the sheet, also where nobody looked at the ink."""
    asked, pick = question(world, data.draw), data.draw
    liquid = pick(st.sampled_from([one.id for one in world.compiled.liquids]))
    harm = {**pick(PAPER), pick(st.sampled_from(OF_PAPER)): pick(SEEN)}
    found = rows(world, asked, [harm], liquid=liquid)
    spots, _ = foreseen(world, asked, found)
    assert [(one.harmed, one.paper) for one in spots.looks] == [(True, True)]
    # The paper is the same under another ink, so it is harmed as well.
    assert [(one.medium, one.harmed) for one in spots.seen] == [(asked.medium, True), (BARE_PAPER, True)]
    (cell,) = world.index.conn.execute(f"SELECT * FROM {HARM.cells}").fetchall()
    # The paper's, which lies under every ink: there the clean looks of its kind stand beside it.
    assert cell[0] == BARE_PAPER
    assert cell[4 + max(harm.values())] == 1


def test_rings_are_held_against_the_looks_that_found_none(world: Studio) -> None:
    """Two of twenty-two: with the clean looks left out they were two of two, and water barred for good."""
    asked = Question(adhesive="acrylic", medium="iron-gall", paper="paper-rag", sheet="S1")
    place = gather(world.index.conn, world.compiled).order["acetone"]
    harms = []
    for clean in (0, 20):
        looks = [{"tideline": 2}] * 2 + [{"tideline": 0}] * clean
        _, after = foreseen(world, asked, [], rows(world, asked, looks, liquid="acetone", sheet="S2"))
        harms.append(after[place].harm)
    _, before = foreseen(world, asked, [])
    assert harms[0] > before[place].harm >= harms[1] - 1e-12


@FEW
@given(st.data())
def test_on_bare_paper_and_on_no_medium_all_counts_here(world: Studio, data: st.DataObject) -> None:
    """There is no ink to be passed by; who asks of an ink takes a look at no medium for one at paper."""
    pick, asked = data.draw, question(world, data.draw)
    liquid = pick(st.sampled_from([one.id for one in world.compiled.liquids]))
    looks = pick(st.lists(PAPER, min_size=1, max_size=4))
    for medium in (BARE_PAPER, ""):
        found = rows(world, asked, looks, liquid=liquid, medium=medium)
        spots, _ = foreseen(world, asked, found)
        assert [(one.of, one.paper) for one in spots.looks] == [(None, False)] * len(looks)
        assert spots.passed_by == 0
        (cell,) = world.index.conn.execute(f"SELECT * FROM {HARM.cells}").fetchall()
        # In the book what names no medium may have lain on any ink, and is a look at the paper alone.
        assert (cell[0], sum(cell[4:])) == (BARE_PAPER, len(looks))
    # Where paper alone is asked about the ink is nobody's question, and what lay beside it counts.
    of_paper = Question(adhesive=asked.adhesive, medium=BARE_PAPER, paper=asked.paper, sheet="S1")
    spots, _ = foreseen(world, of_paper, rows(world, asked, looks, liquid=liquid))
    assert [one.paper for one in spots.looks] == [False] * len(looks)
    # Who looked on bare paper for what an ink shows, and found none, has seen nothing.
    of_ink = pick(st.lists(st.dictionaries(st.sampled_from(sorted(OF_INK)), CLEAN, min_size=1), min_size=1))
    spots, _ = foreseen(world, of_paper, rows(world, asked, of_ink, liquid=liquid, medium=BARE_PAPER))
    assert not spots.looks
    assert not world.index.conn.execute(f"SELECT * FROM {HARM.cells}").fetchall()


@FEW
@given(st.data())
def test_clean_paper_elsewhere_is_no_news_of_an_ink(world: Studio, data: st.DataObject) -> None:
    """Of many sheets and of all that can be graded: three tests on margins freed a liquid for an ink."""
    asked, pick = question(world, data.draw), data.draw
    liquid = pick(st.sampled_from([one.id for one in world.compiled.liquids]))
    grades = st.dictionaries(st.sampled_from(HARM_KINDS), CLEAN, min_size=1)
    looks = pick(st.lists(grades, min_size=1, max_size=8))
    _, before = foreseen(world, asked, [])
    for paper in (asked.paper, ""):
        made = rows(world, asked, looks, liquid=liquid, medium=BARE_PAPER, paper=paper, sheet="S2")
        _, after = foreseen(world, asked, [], made)
        assert all(now.harm >= was.harm - 1e-12 for was, now in zip(before, after, strict=True))


@FEW
@given(st.data())
def test_what_names_no_medium_is_no_news_of_a_named_one(world: Studio, data: st.DataObject) -> None:
    """Good or bad, and not by what the whole book teaches either: thirty clean ones freed xylene."""
    asked, pick = question(world, data.draw), data.draw
    liquids = st.sampled_from([one.id for one in world.compiled.liquids])
    seen = pick(st.lists(st.dictionaries(st.sampled_from(sorted(OF_INK)), st.integers(0, 4), min_size=1)))
    book = rows(world, asked, seen, liquid=pick(liquids), medium=asked.medium, sheet="S2")
    grades = st.dictionaries(st.sampled_from(sorted(OF_INK)), st.integers(0, 4), min_size=1)
    more = rows(
        world,
        asked,
        pick(st.lists(grades, min_size=1, max_size=30)),
        liquid=pick(liquids),
        medium="",
        sheet="S3",
    )
    _, before = foreseen(world, asked, [], book)
    _, after = foreseen(world, asked, [], [*book, *more])
    for was, now in zip(before, after, strict=True):
        assert now.harm == pytest.approx(was.harm, abs=1e-9)


@FEW
@given(st.data())
def test_taken_out_again_nothing_is_left(world: Studio, data: st.DataObject) -> None:
    """Whatever was graded: a correction takes a test out of the sums as it was put in."""
    pick, asked = data.draw, question(world, data.draw)
    grades = st.dictionaries(st.sampled_from(HARM_KINDS), st.integers(0, 4))
    found = rows(world, asked, pick(st.lists(grades, max_size=6)), liquid="acetone")
    counted(world, found[:1])
    before = content(world.index.conn)
    tally = Tally(world.compiled)
    for row in found[1:]:
        count_row(tally, row, 1)
    tally.write(world.index.conn)
    for row in found[1:]:
        count_row(tally, row, -1)
    tally.write(world.index.conn)
    assert content(world.index.conn) == before
