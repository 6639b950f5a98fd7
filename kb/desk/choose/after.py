"""After a spot: a success leads; harm by too much liquid asks for another way and not another liquid."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import msgspec

from kb.desk.choose.lines import Line
from kb.desk.choose.weigh import LIKE_HARM, Weighed
from kb.desk.studio import Studio
from kb.index.compiled import Compiled
from kb.index.queries import spot_tests
from kb.index.rows import NO_CARRIER, WITHDRAWN
from kb.index.tally import HARM_FROM, RELEASE_FROM
from kb.model.guidance import Caution
from kb.model.question import Question, Worked
from kb.science.choose.evidence import KEEP_FROM
from kb.science.choose.groups import LEAST_RELEASE
from kb.science.numbers import percent

TOO_WET = frozenset({"tideline", "gloss"})
"""Kinds of harm that come of too much liquid, and not of the liquid."""
# Only ways that the catalogue lists are named, so this order may hold ids that a studio has not.
GENTLER = ("gel", "suction", "vapour-dome", "local-poultice", "drop")
"""Ways that bring less liquid to the sheet than a swab, the gentlest first. Common practice, no source."""
LIFTING = "a thin blade, or it comes by itself"
"""How a carrier comes off; with warmth where the sheet bears it. Common practice, no source."""
HOT_TOOL = "heated-spatula"
"""By its id, as cautions about heat name it."""
HARMED, CARE = "usually bleeds", "test with care"
LIFTED_SHOWN = 3
NOW = (
    "worked here: a control beside it, look again next day and under UV, then a larger area. Other liquids "
    "can wait."
)


def worked_here(weighed: Sequence[Weighed]) -> tuple[Worked, ...]:
    """Liquids that released on this sheet and harmed nothing, the surest first."""
    found = sorted((one for one in weighed if one.worked), key=lambda one: (-one.safe, one.what.name))
    return tuple(
        Worked(liquid=one.what.id, name=one.what.name, text=f"{one.what.name} {NOW}") for one in found
    )


def lift_first(
    ask: Callable[[Question], Sequence[Line]], question: Question, lines: Sequence[Line], *, warm: bool
) -> str:
    """What would be tried once the carrier is lifted, where with it nothing milder is likely; else empty.

    ``ask`` gives the first lines for the same question of what is left on the sheet then; ``warm`` says that
    the sheet bears warmth.
    """
    carriers = {question.carrier} if question.carrier else {one.carrier for one in question.may_be}
    # A tape that was only seen may have none; and where something milder that is free is likelier than not to
    # release safely nobody need lift first.
    if not carriers - {"", NO_CARRIER} or any(
        not (line.head.refused or line.head.what.barred) and line.head.safe > KEEP_FROM for line in lines
    ):
        return ""
    # Without the tape, whose name would bring its carrier back. The same engine, so that what is said of the
    # bare adhesive agrees with what it will say then.
    found = ask(msgspec.structs.replace(question, carrier=NO_CARRIER, tape=""))
    likely = [line.head for line in found if _worth_it(line)]
    # What the carrier's going does not help is no reason to lift it first.
    with_it = max((line.head.safe for line in lines if _worth_it(line)), default=0.0)
    if max((one.safe for one in likely), default=0.0) <= with_it:
        return ""
    named = ", then ".join(
        f"{one.what.name} (release {percent(one.release_here.mean)}, harm {percent(one.harm)})"
        for one in likely[:LIFTED_SHOWN]
    )
    how = f"warmth, {LIFTING}" if warm else f"{LIFTING}; no warmth here"
    return f"Lift the carrier first ({how}). On what stays: {named}. Ask again with the carrier gone."


def _worth_it(line: Line) -> bool:
    """Whether a milder leader is likely to act and worth its risk: looks are made anyway, and the ceiling of
    harm is the reader's."""
    first = line.head
    free = not first.refused or line.looks or (first.decision > 0 and first.refused != LIKE_HARM)
    return bool(free) and not first.what.barred and first.release_here.mean >= LEAST_RELEASE


def no_heat(compiled: Compiled, question: Question) -> tuple[str, ...]:
    """Names of what lies within reach and does not bear a heated tool; the adhesive and carrier count too."""
    names = _graded(compiled, question, HARMED)
    # Cellulose nitrate under a hot tool catches fire, whatever the sheet bears.
    rules = compiled.kept("hot tools", None, lambda: [one for one in compiled.cautions if _against_heat(one)])
    if any(question.adhesive in one.when.adhesives or question.carrier in one.when.carriers for one in rules):
        names.append("adhesive or carrier")
    return tuple(dict.fromkeys(names))


def _graded(compiled: Compiled, question: Question, grade: str) -> list[str]:
    """Names of the media and the paper within reach that take heat in this way."""
    near = [compiled.media.get(one) for one in question.reach] + [compiled.papers.get(question.paper)]
    return [
        one.name.partition(" (")[0] for one in near if one is not None and one.grades.get("heat") == grade
    ]


def _against_heat(caution: Caution) -> bool:
    return caution.severity == "stop" and HOT_TOOL in caution.when.methods


def warmth(compiled: Compiled, question: Question, cold: Sequence[str]) -> str:
    """What the catalogue says of the adhesive in warmth, where it says something; else empty.

    ``cold``: names of what does not bear heat, which is said instead of any advice to warm it.
    """
    asked = compiled.adhesives.get(question.adhesive)
    told = asked.warmth if asked else ""
    if not told:
        return ""
    if cold:
        return f"With warmth: {told}; but no hot tool here, for the sake of {' and '.join(cold).lower()}."
    doubtful = " and ".join(_graded(compiled, question, CARE)).lower()
    where = f", after a trial of its warmth on {doubtful} where it is least seen" if doubtful else ""
    return f"With warmth: {told}. A heated spatula may come before any liquid{where}."


def other_ways(studio: Studio, question: Question, compiled: Compiled) -> tuple[str, ...]:
    """Ways to put the same liquid on, where all that a spot on this sheet harmed came of wetting."""
    if not question.sheet:
        return ()
    # What a question without a sheet need not load.
    from kb.book.kinds.spot_test import HARM_KINDS
    from kb.desk.records.record import show_test

    said = []
    for row in spot_tests(studio.index.conn, {"sheet": question.sheet}):
        # A spot that released nothing is no reason to try the same liquid again.
        if row.state == WITHDRAWN or row.release is None or row.release < RELEASE_FROM:
            continue
        test = show_test(studio, row.id).test
        harmed = {kind for kind in HARM_KINDS if test.harm.get(kind, 0) >= HARM_FROM}
        # Any other harm comes of the liquid itself, and less of it would harm less but still.
        if harmed and harmed <= TOO_WET:
            names = [compiled.method_names[id].lower() for id in GENTLER if id in compiled.method_names]
            ways = ", ".join(
                name for name in names if name != compiled.method_names.get(test.method, "").lower()
            )
            name = compiled.candidate(row.liquid, test.parts).name
            said.append(
                f"{name} released, but left {' and '.join(sorted(harmed))}: the same liquid again, "
                f"less of it, or by {ways}; over a blotter."
            )
    # Each sentence once, however many spots ended alike.
    return tuple(dict.fromkeys(said))
