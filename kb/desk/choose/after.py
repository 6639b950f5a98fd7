"""After a spot: a success leads; harm by too much liquid asks for another way and not another liquid."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import msgspec

from kb.desk.choose.lines import Line
from kb.desk.choose.weigh import Weighed
from kb.desk.studio import Studio
from kb.index.compiled import Compiled
from kb.index.queries import spot_tests
from kb.index.rows import NO_CARRIER, WITHDRAWN
from kb.index.tally import HARM_FROM, RELEASE_FROM
from kb.model.question import Question, Worked
from kb.science.numbers import percent

TOO_WET = frozenset({"tideline", "gloss"})
"""Kinds of harm that come of too much liquid, and not of the liquid."""
# Only ways that the catalogue lists are named, so this order may hold ids that a studio has not.
GENTLER = ("gel", "suction", "vapour-dome", "local-poultice", "drop")
"""Ways that bring less liquid to the sheet than a swab, the gentlest first. Common practice, no source."""
LIFTING = "warmth, a thin blade, or it comes by itself"
"""How a carrier comes off. Common practice, no source."""
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


def lift_first(ask: Callable[[Question], Sequence[Line]], question: Question, lines: Sequence[Line]) -> str:
    """What would be tried once the carrier is lifted, where with it nothing milder is free; else empty.

    ``ask`` gives the first lines for the same question of what is left on the sheet then.
    """
    carriers = {question.carrier} if question.carrier else {one.carrier for one in question.may_be}
    # A tape that was only seen may have none; and where something milder is free nobody need lift first.
    if not carriers - {"", NO_CARRIER} or any(
        not (line.head.refused or line.head.what.barred) for line in lines
    ):
        return ""
    # Without the tape, whose name would bring its carrier back. The same engine, so that what is said of the
    # bare adhesive agrees with what it will say then.
    found = ask(msgspec.structs.replace(question, carrier=NO_CARRIER, tape=""))
    # Without chances on the way: what looks would free counts, for the looks are made anyway.
    free = [
        line.head for line in found if not line.head.what.barred and (not line.head.refused or line.looks)
    ]
    if not free:
        return ""
    named = ", then ".join(
        f"{one.what.name} (release {percent(one.release_here.mean)}, harm {percent(one.harm)})"
        for one in free[:LIFTED_SHOWN]
    )
    return f"Lift the carrier first ({LIFTING}). On what stays: {named}. Ask again with the carrier gone."


def warmth(compiled: Compiled, question: Question) -> str:
    """What the catalogue says of the adhesive in warmth, where it says something; else empty."""
    asked = compiled.adhesives.get(question.adhesive)
    told = asked.warmth if asked else ""
    return f"With warmth: {told}. A heated spatula may come before any liquid." if told else ""


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
