"""What lies within reach of the water, and whether it can be wetted at all."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, NamedTuple

import msgspec

from kb.desk.errors import DeskError
from kb.desk.materials.measured import value_of
from kb.desk.records.record import show_test
from kb.desk.studio import Studio
from kb.desk.water.wash_view import InReach, Verdict, WashTest
from kb.index.queries import entry, spot_tests
from kb.model.guidance import Caution
from kb.model.material import AgentSensitivity, Medium, Paper

# The mildest first, so that the worst is the furthest along.
ORDER: tuple[Verdict, ...] = ("possible", "gentle only", "test first", "no")
MUST_LOOK = ("bleed", "offset")
"""What a test with water must have looked at before it says anything about a bath."""
WATER = "water"


class Facts(NamedTuple):
    """What a verdict rests on."""

    tests: tuple[WashTest, ...]
    alkali_tested: bool
    """Whether one of the tests named the batch of bath that it was made with."""


def worst(verdicts: Sequence[Verdict]) -> Verdict:
    """The most cautious of several; nothing known means: test first."""
    return max(verdicts, key=ORDER.index) if verdicts else "test first"


def facts(studio: Studio, sheet: str, medium: str = "") -> Facts:
    """Tests with water on this sheet, on one medium or on any, the newest first."""
    # Without a sheet no test counts: what other sheets showed is in the handbook's word.
    if not sheet:
        return Facts((), False)
    filters = {"sheet": sheet, "liquid": WATER, **({"medium": medium} if medium else {})}
    found, named = [], False
    for row in spot_tests(studio.index.conn, filters, withdrawn=False):
        try:
            test = show_test(studio, row.id).test
        except DeskError:
            # A record that cannot be read back says neither yes nor no.
            continue
        # The longest round and not the sum: it shows whether the medium stands water at a stretch.
        longest = max((one.dwell_s for one in test.rounds), default=0.0) / 60.0
        found.append(
            WashTest(
                id=row.id,
                at=row.at,
                harm=row.harm,
                longest_dwell_min=longest,
                looked_at=tuple(test.harm),
            )
        )
        named = named or bool(test.batch)
    return Facts(tuple(found), named)


def within_reach(
    studio: Studio,
    kind: Literal["medium", "paper"],
    entry_id: str,
    sheet: str,
    rules: Sequence[Caution],
    *,
    alkaline: bool,
) -> InReach:
    """One medium or the paper. ``rules`` are the cautions on water or alkali that bear on the sheet."""
    row = entry(studio.index.conn, kind, entry_id)
    if row is None:
        raise DeskError(f'There is no {kind} "{entry_id}" in the catalogue.')
    record: Medium | Paper
    if kind == "medium":
        record = msgspec.json.decode(row.body, type=Medium)
    else:
        record = msgspec.json.decode(row.body, type=Paper)
    agent = "alkaline" if alkaline else WATER
    grade = next((one for one in record.sensitivity if one.agent == agent), None)
    about = [one for one in rules if entry_id in (one.when.media if kind == "medium" else one.when.papers)]
    # A test on any medium wetted the paper as well.
    known = facts(studio, sheet, entry_id if kind == "medium" else "")
    verdict, why = _judge(studio, about, grade, known, alkaline)
    return InReach(
        kind=kind,
        id=entry_id,
        name=row.name,
        verdict=verdict,
        why=why,
        handbook=f"{agent}: {grade.grade}. {grade.text}".strip() if grade else f"{agent}: nothing found",
        handbook_sources=grade.sources if grade else (),
        tests=known.tests,
    )


def _judge(
    studio: Studio,
    rules: Sequence[Caution],
    grade: AgentSensitivity | None,
    known: Facts,
    alkaline: bool,
) -> tuple[Verdict, str]:
    """A rule that forbids comes first, then this sheet's own tests, then the handbook."""
    forbidding = next((one for one in rules if one.severity == "stop"), None)
    if forbidding:
        return "no", forbidding.text
    if not known.tests:
        return "test first", "Nothing on this sheet was tested with water: test first, no bath."
    # Without a grade of harm nobody looked, and that is not "no harm".
    graded = [one for one in known.tests if one.harm is not None]
    worst_test = max(graded, key=lambda one: one.harm or 0, default=None)
    if worst_test and (worst_test.harm or 0) >= 2:
        return "no", f"Test {worst_test.id[:10]} with water shows harm of grade {worst_test.harm}."
    looked = {kind for one in known.tests for kind in one.looked_at}
    missing = [kind for kind in MUST_LOOK if kind not in looked]
    if missing:
        return (
            "test first",
            f"No test with water looked for {' or '.join(missing)}; unseen is not unharmed.",
        )
    least = value_of(studio, "wash-test-dwell")
    longest = max(one.longest_dwell_min for one in graded)
    if longest < least:
        text = f"The longest test with water took {longest:g} min; a bath asks for at least {least:g}."
        return "test first", text
    # A handbook that calls it stable in alkali is enough; its silence is not.
    if alkaline and not known.alkali_tested and (grade is None or grade.grade != "stable"):
        text = "Plain water was tested, alkali was not: test with the bath itself, name its batch."
        return "test first", text
    if worst_test and worst_test.harm == 1:
        return "gentle only", f"Test {worst_test.id[:10]} left a trace on the blotter."
    if grade is not None and grade.grade == "usually bleeds":
        text = "The handbook says that it usually gives way; tests on this sheet show no harm. They disagree."
        # Where handbook and sheet disagree, neither is simply believed.
        return "gentle only", text
    return "possible", f"{len(known.tests)} test(s) with water on this sheet show no harm."
