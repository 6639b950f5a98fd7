"""Adding a medium never lowers the harm of any liquid: over liquids, papers, media, methods and books.

From bare paper to a medium it holds by chemistry and print, and with any book that tested bare paper: as
the paper lies under the medium it stays within reach. Otherwise one thing alone may lower it, and rightly:
tests on that medium or its kin that harmed nothing. They were made on paper too, and it was not harmed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from kb.desk.studio import Studio
from kb.index.book_rows import clear_book
from kb.index.rows import BARE_PAPER
from kb.index.tally import HARM, RELEASE, Tally
from kb.model.question import Dials, Question
from scripts.simulate import Arm, sheet_for

FEW = settings(max_examples=15, deadline=None)
SLACK = 1e-9
"""What rounding may take."""


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory) -> Studio:
    """A studio whose book the examples fill and empty."""
    return Studio(tmp_path_factory.mktemp("media"))


def harms(studio: Studio, asked: Question, *, use_print: bool = False) -> dict[str, float]:
    """Harm of every liquid, the worst medium within reach counting, as the decision takes it."""
    sheet = sheet_for(studio.index.conn, studio.compiled, asked, Arm("", Dials(use_print=use_print)))
    return {
        what.id: max(harm.general.mean for harm in sheet.harmed(place))
        for place, what in enumerate(sheet.candidates)
    }


def never_lower(more: dict[str, float], less: dict[str, float]) -> None:
    """Every liquid harms at least as likely with one medium more."""
    fallen = {liquid: (p, less[liquid]) for liquid, p in more.items() if p < less[liquid] - SLACK}
    assert not fallen


@FEW
@given(st.data())
def test_from_bare_paper_to_any_medium_on_an_empty_book(world: Studio, data: st.DataObject) -> None:
    """With print and without: a medium has a chance of its own to bleed, the paper keeps its own."""
    compiled, pick = world.compiled, data.draw
    clear_book(world.index.conn)
    asked = Question(
        adhesive="starch-dextrin",
        medium=BARE_PAPER,
        paper=pick(st.sampled_from(["", *sorted(compiled.papers)])),
        method=pick(st.sampled_from(sorted(compiled.methods))),
    )
    medium = pick(st.sampled_from(["", *sorted(compiled.media)]))
    use_print = pick(st.booleans())
    bare = harms(world, asked, use_print=use_print)
    never_lower(harms(world, replace(asked, medium=medium), use_print=use_print), bare)


def random_book(
    world: Studio, pick: Callable[..., Any], media: Iterable[str], harmed: Iterable[tuple[str, int]] = ()
) -> None:
    """Random tests on these media, and further looks on rag paper: (medium, grade of harm by acetone)."""
    compiled = world.compiled
    liquids = st.sampled_from([one.id for one in compiled.liquids])
    adhesives, papers = st.sampled_from(sorted(compiled.adhesives)), st.sampled_from(sorted(compiled.papers))
    clear_book(world.index.conn)
    tally, grade = Tally(compiled), st.integers(0, 4)
    tests = st.tuples(st.sampled_from(sorted(media)), papers, adhesives, liquids, grade, grade)
    for medium, paper, adhesive, liquid, release, harm in pick(st.lists(tests, max_size=40)):
        tally.count((adhesive, "oily", "", "swab", liquid), RELEASE, release, 1)
        tally.count((medium, paper, "swab", liquid), HARM, harm, 1)
    for medium, grade_of_harm in harmed:
        tally.count((medium, "paper-rag", "swab", "acetone"), HARM, grade_of_harm, 1)
    tally.write(world.index.conn)


def question(world: Studio, pick: Callable[..., Any], medium: str) -> Question:
    """Of a random adhesive and paper."""
    compiled = world.compiled
    adhesives, papers = st.sampled_from(sorted(compiled.adhesives)), st.sampled_from(sorted(compiled.papers))
    return Question(adhesive=pick(adhesives), medium=medium, paper=pick(papers))


@FEW
@given(st.data())
def test_from_bare_paper_with_any_book_that_tested_it(world: Studio, data: st.DataObject) -> None:
    """Whatever else was tested, on that medium too: the paper that was tested lies under it."""
    media = sorted(world.compiled.media)
    random_book(world, data.draw, media, [(BARE_PAPER, data.draw(st.integers(0, 4)))])
    asked = question(world, data.draw, BARE_PAPER)
    medium = data.draw(st.sampled_from(["", *media]))
    never_lower(harms(world, replace(asked, medium=medium)), harms(world, asked))


@FEW
@given(st.data())
def test_from_bare_paper_with_tests_on_neither(world: Studio, data: st.DataObject) -> None:
    """Tests on other media, none of them kin of either, tell as much of the one as of the other."""
    media = world.compiled.media
    medium = data.draw(st.sampled_from(sorted(set(media) - {BARE_PAPER})))
    kin = {media[medium].kin, media[BARE_PAPER].kin} - {""}
    others = {id for id, one in media.items() if one.kin not in kin} - {medium, BARE_PAPER}
    random_book(world, data.draw, others)
    asked = question(world, data.draw, BARE_PAPER)
    never_lower(harms(world, replace(asked, medium=medium)), harms(world, asked))


def test_harmless_tests_on_a_medium_lower_no_harm_to_paper(world: Studio) -> None:
    """Twenty looks at graphite over rag, none at the rag: it has to bear the liquid all the same."""
    clear_book(world.index.conn)
    tally = Tally(world.compiled)
    for _ in range(20):
        tally.count(("graphite", "paper-rag", "swab", "acetone"), HARM, 0, 1)
    tally.write(world.index.conn)
    bare = Question(adhesive="starch-dextrin", medium=BARE_PAPER, paper="paper-rag")
    with_graphite = replace(bare, medium="graphite")
    known, unknown = harms(world, with_graphite), harms(world, bare)
    clear_book(world.index.conn)
    assert known["acetone"] == unknown["acetone"] == harms(world, bare)["acetone"]
    # The ink that was tested falls, down to what the paper bears.
    assert known["acetone"] < harms(world, with_graphite)["acetone"]


@FEW
@given(st.data())
def test_one_medium_more_within_reach_whatever_the_book(world: Studio, data: st.DataObject) -> None:
    """On the other face, with random tests in the book: the worst medium counts, so no test can lower it."""
    pick, media = data.draw, st.sampled_from(sorted(world.compiled.media))
    random_book(world, pick, world.compiled.media)
    asked = question(world, pick, pick(media))
    both = replace(asked, back_media=(pick(media),))
    never_lower(harms(world, both), harms(world, asked))
