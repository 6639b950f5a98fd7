"""Patches that were lifted count as evidence, less than spots; whatever changes them moves the counts."""

from __future__ import annotations

import shutil
from pathlib import Path

import msgspec
import pytest

from kb.book.kinds.spot_test import SpotTest
from kb.desk.choose.choose import choose
from kb.desk.records.book_list import amend_record, restore_record, withdraw_record
from kb.desk.records.record import add_test
from kb.desk.sheet import tape
from kb.desk.sheet.sheets import add_sheet, amend_sheet, rename
from kb.desk.sheet.tape import add_strip
from kb.desk.studio import Studio
from kb.index.patch_rows import share_of
from kb.index.rows import WHOLE
from kb.model.question import Answer, Question, Suggestion
from tests.conftest import spot
from tests.test_index import content

SHEET = "Tide table, invented"
ASKED = Question(
    adhesive="natural-rubber-resin",
    stage="oily",
    medium="letterpress-oil",
    paper="paper-woodpulp",
    method="swab",
)


def of(answer: Answer, liquid: str = "n-heptane") -> Suggestion:
    """What is said of one liquid."""
    return next(one for one in (*answer.suggestions, *answer.refused) if one.liquid == liquid)


def asked(studio: Studio, question: Question = ASKED) -> Suggestion:
    return of(choose(studio, question, limit=10_000))


def totals(studio: Studio) -> tuple[int, int]:
    """Thousandths of tests in the cells of patches: release, and harm to the medium, as many as to paper."""
    added = "SELECT coalesce(sum(g0 + g1 + g2 + g3 + g4), 0) FROM"
    released, on_medium, on_paper = (
        studio.index.conn.execute(f"{added} {cells}").fetchone()[0]
        for cells in (
            "patch_cell",
            "harm_patch_cell WHERE medium <> 'bare-paper'",
            "harm_patch_cell WHERE medium = 'bare-paper'",
        )
    )
    assert on_paper == on_medium
    return released, on_medium


def lift(studio: Studio, number: int = 1, **words: str) -> list[str]:
    """So many patches one after the other; the ids of their records."""
    lifted = []
    for _ in range(number):
        tape.start(studio, SHEET, {"liquid": "n-heptane", "method": "swab"})
        lifted.append(tape.done(studio, SHEET, {"colour": "none", "release": "4", "harm": "0", **words}).id)
    return [
        studio.index.conn.execute("SELECT of FROM change WHERE id = ?", (id,)).fetchone()[0] for id in lifted
    ]


@pytest.fixture
def taped(studio: Studio) -> Studio:
    """A sheet with one strip of a tape that is known, over one medium that is known."""
    add_sheet(
        studio,
        {"sheet": SHEET, "size": "410 x 560 mm", "media_front": "letterpress-oil", "paper": "paper-woodpulp"},
    )
    add_strip(
        studio,
        {
            "sheet": SHEET,
            "face": "front",
            "at": "10, 20",
            "size": "100 x 25 mm",
            "tape": "masking-rubber",
            "stage": "oily",
        },
    )
    return studio


def test_a_patch_moves_the_chance_less_than_a_spot_does(taped: Studio) -> None:
    before = asked(taped)
    lift(taped)
    after = asked(taped)
    assert totals(taped) == (WHOLE // 2, WHOLE // 2)
    assert (after.evidence.patches, after.evidence.patches_count_as) == (1, 0.5)
    assert after.evidence.own == after.evidence.similar == 0
    assert after.release.p > before.release.p
    assert after.harm.p < before.harm.p
    answer = choose(taped, ASKED, limit=10_000)
    assert "1 patch lifted" in answer.rests_on
    assert "1 patch lifted with it" in of(answer).reason
    assert any("k/(k+1)" in line for line in of(answer).details)
    body = spot(
        adhesive=ASKED.adhesive,
        stage="oily",
        medium="letterpress-oil",
        paper="paper-woodpulp",
        parts={"n-heptane": 1.0},
        method="swab",
        release=4,
        harm={"bleed": 0},
        carrier="crepe-paper",
    )
    assert isinstance(body, SpotTest)
    add_test(taped, body)
    both = asked(taped)
    assert both.release.p - after.release.p > 0
    assert (both.evidence.own, both.evidence.patches) == (1, 1)


def test_patches_of_a_strip_never_make_a_whole_test(taped: Studio) -> None:
    lift(taped, 5)
    assert totals(taped) == (5 * share_of(5), 5 * share_of(5))
    assert WHOLE * 0.8 < totals(taped)[0] < WHOLE
    assert asked(taped).evidence.patches == 5


def test_a_patch_that_harmed_raises_the_chance_of_harm_and_bars_it_on_its_sheet(taped: Studio) -> None:
    before = asked(taped).harm.p
    lift(taped, 2)
    lift(taped, 1, harm="4")
    assert asked(taped).harm.p > before
    here = asked(taped, msgspec.structs.replace(ASKED, sheet=SHEET))
    assert here.harm.p > here.harm_general.p


def test_amending_withdrawing_and_restoring_move_the_counts(taped: Studio) -> None:
    first, second = lift(taped, 2)
    whole = content(taped.index.conn)
    withdraw_record(taped, first, "another patch was meant")
    assert totals(taped) == (WHOLE // 2, WHOLE // 2)
    assert asked(taped).evidence.patches == 1
    restore_record(taped, first, "it was the right one")
    assert content(taped.index.conn)["release_sum"] == whole["release_sum"]
    assert content(taped.index.conn)["harm_sum"] == whole["harm_sum"]
    amend_record(taped, second, {"liquid": "acetone 50, ethanol 50"}, "misread label")
    assert asked(taped).evidence.patches == 1
    assert any(name.startswith("acetone") for (name,) in taped.index.conn.execute("SELECT liquid FROM blend"))


@pytest.mark.slow
def test_what_is_learnt_of_strip_and_sheet_moves_the_counts_and_a_rebuild_agrees(
    taped: Studio, tmp_path: Path
) -> None:
    lift(taped, 2)
    strip = taped.index.conn.execute("SELECT id FROM kept WHERE kind = 'strip'").fetchone()[0]
    amend_record(taped, strip, {"tape": "cloth tape, unknown"}, "infrared says it is none of the listed")
    assert totals(taped)[0] == 0
    amend_record(taped, strip, {"tape": "masking-rubber"}, "infrared was of another strip")
    amend_sheet(taped, SHEET, {"media_front": "iron-gall"}, "it is no print")
    media = {row[0] for row in taped.index.conn.execute("SELECT medium FROM harm_patch_cell")}
    # And the paper, which was looked at with it.
    assert media == {"iron-gall", "bare-paper"}
    rename(taped, SHEET, "Another name, invented", "the owner says so")
    assert {row[0] for row in taped.index.conn.execute("SELECT sheet FROM patch_evidence")} == {
        "Another name, invented"
    }
    grown = content(taped.index.conn)
    shutil.copytree(taped.book_dir, tmp_path / "book")
    fresh = Studio(tmp_path)
    alike = {"patch_evidence", "patch_cell", "harm_patch_cell", "release_sum", "harm_sum", "blend"}
    found = content(fresh.index.conn)
    assert {table: found[table] for table in alike} == {table: grown[table] for table in alike}


def test_patches_without_grades_or_with_words_for_a_liquid_are_no_evidence(taped: Studio) -> None:
    lift(taped, 1, release="", harm="")
    lift(taped, 1, liquid="something from the brown bottle")
    assert totals(taped) == (0, 0)
