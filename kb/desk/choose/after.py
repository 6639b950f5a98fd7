"""After a spot: a success leads; harm by too much liquid asks for another way and not another liquid."""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

import msgspec

from kb.desk.choose.gather import Gathered, gather, with_blends
from kb.desk.choose.lines import Line
from kb.desk.choose.rule import about_liquid, about_this_sheet, applying, bearing, meets
from kb.desk.choose.spots import LONGER, HarmSeen, Spots, as_freely, bears_on, harms_here, spots_of
from kb.desk.choose.sums import pools_of
from kb.desk.choose.weigh import ABOVE, HARMED_HERE, Weighed, sheet_of
from kb.desk.choose.words import called, either, within
from kb.desk.shelf.shelf import allowed
from kb.desk.studio import Studio
from kb.index.compiled import Compiled
from kb.index.patch_rows import strips_as_spots
from kb.index.queries import sheet_as_known, spot_tests
from kb.index.rows import BARE_PAPER, HARM_FROM, NO_CARRIER, RELEASE_FROM, WITHDRAWN, Row
from kb.model.guidance import Caution
from kb.model.question import Question, Worked
from kb.science.choose.evidence import KEEP_FROM
from kb.science.choose.groups import LEAST_RELEASE
from kb.science.liquids.blends import blend_id
from kb.science.numbers import percent

if TYPE_CHECKING:
    from kb.book.kinds.spot_test import SpotTest

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
PARTLY = RELEASE_FROM - 1
"""The grade of what swelled and could be rolled off in part."""
NOW = (
    "worked here: a control beside it, look again next day and under UV, then a larger area. Other liquids "
    "can wait."
)


def worked_here(
    studio: Studio, weighed: Sequence[Weighed], spots: Spots, question: Question
) -> tuple[Worked, ...]:
    """Liquids that released on this sheet and harmed nothing, the surest first."""
    found = sorted((one for one in weighed if one.worked), key=lambda one: (-one.safe, one.what.name))
    return tuple(
        Worked(liquid=one.what.id, name=one.what.name, text=_worked(studio, one, spots, question))
        for one in found
    )


def _worked(studio: Studio, one: Weighed, spots: Spots, question: Question) -> str:
    """What comes after a success; what was not looked at yet, and a rule against it, are said as well."""
    compiled, method = studio.compiled, spots.worked[one.what.id]
    way = f"by {compiled.method_names.get(method, method).lower()} " if method else ""
    cautions = one.cautions
    # The rules are those of the way that is told, which need not be the one that is asked of.
    if method and method != question.method:
        met = bearing(compiled, [(1.0, msgspec.structs.replace(question, method=method))])
        cautions = applying(met, meets(compiled, one.what.parts))
    if cautions and cautions[0].severity == "stop":
        # Not the larger area, nor that others can wait: what was done against a rule is no way to go on.
        return f"{one.what.name} {way}worked here. But a rule bars it here: {cautions[0].text}"
    text = f"{one.what.name} {way}{NOW}"
    made = [row for row in rows_here(studio, question.sheet) if row.liquid == one.what.id]
    made = as_freely(compiled, made, method or question.method)
    # On a larger area there is more of the paper than of anything else.
    text += _first_look(unseen(dict.fromkeys((*question.reach, BARE_PAPER)), made), compiled)
    verdict = allowed(compiled, one.what.parts)
    text += "" if verdict.held else f" But {verdict.why}: get it before another liquid is tried."
    # It stands on no line any more, and on a larger area there is the more to mind.
    for rule in cautions:
        if rule.severity == "warn" and about_this_sheet(rule.when) and about_liquid(rule.when):
            text += f" Mind: {rule.text}"
    return text


def _first_look(media: Sequence[str], compiled: Compiled) -> str:
    """What comes before anything else on media, by id, on which harm was not looked at; empty for none."""
    other = {"": "what lies there", BARE_PAPER: "the paper"}
    names = " and ".join(
        other.get(one) or within(compiled.media[one].name if one in compiled.media else one) for one in media
    )
    return f" Its harm to {names} was not looked at: before that a spot there." if media else ""


def unseen(media: Iterable[str], rows: Iterable[Row]) -> list[str]:
    """Which of the media, by id, no spot of these looked at for harm; "" is whatever lies there."""
    looked = set[str]()
    for row in rows:
        harmed = (row.harm or 0) >= HARM_FROM
        if row.state == WITHDRAWN or row.harm is None:
            continue
        if row.medium != BARE_PAPER:
            # Where no ink is asked about there is none to be passed by.
            looked.add("")
            # A ring beside an ink, or with no medium named, is no look at what dissolves.
            if row.ink_looked:
                looked.add(row.medium)
        if row.paper_harm is not None or (row.medium == BARE_PAPER and harmed):
            looked.add(BARE_PAPER)
    return [one for one in media if one not in looked]


def called_within(compiled: Compiled, medium: str) -> str:
    """A medium by id, within a sentence; one that the catalogue no longer knows as it was written."""
    named = compiled.media.get(medium)
    other = {"": "what lies there", BARE_PAPER: "bare paper"}
    return other.get(medium) or (called(named.name) if named else medium)


def did_here(compiled: Compiled, spots: Spots) -> dict[str, str]:
    """By liquid, the harm that was seen of it on this sheet: ``bleed and offset on iron gall ink``."""
    found: dict[str, dict[str, set[str]]] = {}
    for liquid, medium, kinds in spots.harmed:
        found.setdefault(liquid, {}).setdefault(medium, set()).update(kinds or {"harm"})

    def on(medium: str) -> str:
        return f" on {called_within(compiled, medium)}" if medium else ", no medium named"

    return {
        liquid: "; ".join(f"{' and '.join(sorted(kinds))}{on(medium)}" for medium, kinds in media.items())
        for liquid, media in found.items()
    }


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
    likely = [line for line in found if _worth_it(line)]
    # What the carrier's going does not help is no reason to lift it first.
    with_it = max((line.head.safe for line in lines if _worth_it(line)), default=0.0)
    if max((line.head.safe for line in likely), default=0.0) <= with_it:
        return ""
    named = ", then ".join(
        f"{line.head.what.name} (release {percent(line.head.release_here.mean)}, "
        f"harm {percent(line.head.harm)}"
        # Else it is held back when one asks again, and nobody was told.
        f"{f', {ABOVE}' if line.head.refused == ABOVE and not line.looks else ''})"
        for line in likely[:LIFTED_SHOWN]
    )
    how = f"warmth, {LIFTING}" if warm else f"{LIFTING}; no warmth here"
    return f"Lift the carrier first ({how}). On what stays: {named}. Ask again with the carrier gone."


def _worth_it(line: Line) -> bool:
    """Whether a milder leader is likely to act and worth its risk: looks are made anyway, and the ceiling of
    harm is the reader's."""
    first = line.head
    free = not first.refused or line.looks or (first.decision > 0 and first.refused != HARMED_HERE)
    return bool(free) and not first.what.barred and first.release_here.mean >= LEAST_RELEASE


def no_heat(compiled: Compiled, question: Question) -> tuple[str, ...]:
    """Names of what lies within reach and does not bear a heated tool; the adhesive and carrier count too."""
    # Cellulose nitrate under a hot tool catches fire, whatever the sheet bears.
    rules = compiled.kept("hot tools", None, lambda: [one for one in compiled.cautions if _against_heat(one)])
    barred = {id for one in rules for id in (*one.when.media, *one.when.papers)}
    names = _graded(compiled, question, HARMED, barred)
    if any(question.adhesive in one.when.adhesives or question.carrier in one.when.carriers for one in rules):
        names.append("adhesive or carrier")
    return tuple(dict.fromkeys(names))


def _graded(compiled: Compiled, question: Question, grade: str, barred: Container[str] = ()) -> list[str]:
    """Names of the media and the paper within reach that take heat in this way, or are ``barred``, by id."""
    near = {one: compiled.media.get(one) for one in question.reach}
    near[question.paper] = compiled.papers.get(question.paper)
    return [
        what.name.partition(" (")[0]
        for id, what in near.items()
        if what is not None and (id in barred or what.grades.get("heat") == grade)
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
        return (
            f"With warmth: {told}; but no hot tool here, for the sake of {' and '.join(map(within, cold))}."
        )
    doubtful = " and ".join(map(within, _graded(compiled, question, CARE)))
    where = f", after a trial of its warmth on {doubtful} where it is least seen" if doubtful else ""
    return f"With warmth: {told}. A heated spatula may come before any liquid{where}."


def spots_here(studio: Studio, question: Question, gathered: Gathered) -> Spots:
    """Spots on the sheet of the question, and its strips that were lifted, each as a spot."""
    if not question.sheet:
        return spots_of([], gathered, studio.compiled, question)
    return spots_of(rows_here(studio, question.sheet), gathered, studio.compiled, question)


def rows_here(studio: Studio, sheet: str) -> list[Row]:
    """Spot tests on a sheet, withdrawn ones among them, and its strips that were lifted."""
    conn = studio.index.conn
    # A strip on its own sheet is one spot, however many patches it was cut into.
    return [*spot_tests(conn, {"sheet": sheet}), *strips_as_spots(conn, sheet_as_known(conn, sheet))]


def harm_against(
    studio: Studio, question: Question, liquids: Sequence[Mapping[str, float]]
) -> list[list[Row]]:
    """Of each liquid or blend, by shares of one, what did harm on the sheet and bars it as it bars a line.

    Empty: it is free. Media and paper that the question leaves open are those of the record.
    """
    rows = (
        [row for row in rows_here(studio, question.sheet) if row.state != WITHDRAWN] if question.sheet else []
    )
    bad = [row for row in rows if (row.harm or 0) >= HARM_FROM]
    if not bad:
        return [[] for _ in liquids]
    from kb.desk.choose.recorded import as_recorded

    compiled, conn = studio.compiled, studio.index.conn
    question, *_ = as_recorded(studio, question)
    gathered = with_blends(gather(conn, compiled), compiled, liquids)
    pools = pools_of(conn, compiled, question, (), gathered, use_print=False)
    sheet = sheet_of(compiled, question, studio.settings.dials, gathered, (), pools)

    def seen(of: Sequence[Row]) -> tuple[HarmSeen, ...]:
        """What these showed, beside all that was clean."""
        return spots_of(
            [row for row in rows if row in of or row not in bad], gathered, compiled, question
        ).seen

    each, all_of = [(row, seen([row])) for row in bad], seen(bad)

    def against(parts: Mapping[str, float]) -> list[Row]:
        place = gathered.order[blend_id(parts)]
        if not sheet.harm_bars(place, all_of):
            return []
        # What only several did together is told of all that harmed what is asked about.
        return [row for row, alone in each if sheet.harm_bars(place, alone)] or [
            row for row in bad if harms_here(question, row) is not None
        ]

    return [against(parts) for parts in liquids]


def _test(studio: Studio, row: Row) -> SpotTest:
    """All of a test, of which the index keeps only what is counted."""
    # What a question without a sheet need not load.
    from kb.desk.records.record import show_test

    return show_test(studio, row.id).test


def _named(studio: Studio, compiled: Compiled, row: Row) -> str:
    """The liquid or blend of a test."""
    return compiled.candidate(row.liquid, _test(studio, row).parts).name


def other_ways(
    studio: Studio,
    question: Question,
    worked: Mapping[str, str],
    spares: Callable[[str, Sequence[str]], bool],
) -> tuple[str, ...]:
    """The same liquid in another way: what released and only wetted too much, or swelled and harmed nothing.

    ``worked``: liquids of which one way did both. ``spares``: whether the sheet bears a liquid in any way, by
    its id and the media on which its harm was not looked at.
    """
    if not question.sheet:
        return ()
    compiled = studio.compiled
    rows = spot_tests(studio.index.conn, {"sheet": question.sheet})
    # Of what is asked about: paper and ink are the same under a control and a look.
    rows = [row for row in rows if row.state != WITHDRAWN]
    # A ring beside another ink bars a liquid here too, and another way is the answer to it here as there.
    rows = [row for row in rows if bears_on(question, row) or harms_here(question, row) is not None]
    said, done = [], {*worked}
    # What released comes before what swelled, and of one liquid counts the best that it did.
    for row in sorted(rows, key=lambda row: (-(row.release or 0), row.harm or 0, row.liquid)):
        # A spot that released nothing is no reason to try the same liquid again.
        if row.control or (row.release or 0) < PARTLY or row.liquid in done:
            continue
        done.add(row.liquid)
        partly, alike = row.release == PARTLY, [one for one in rows if one.liquid == row.liquid]
        left = compiled.method_names.keys() - {one.method for one in alike}
        longer, gentler = _among(LONGER, left, compiled), _among(GENTLER, left, compiled)
        ill = {kind for one in alike for kind in harms_here(question, one) or ()}
        spent = any(one.method in LONGER and (one.release or 0) < PARTLY for one in alike)
        # What was tried in such a way is done with, and beside a success half of one can wait.
        if (partly and (worked or spent or not longer)) or not ill <= TOO_WET:
            continue
        # What was not looked at is not harmless.
        looked = all(one.harm is not None for one in alike if one.release is not None)
        freely = as_freely(compiled, alike, row.method)
        unlooked = unseen(dict.fromkeys((*question.reach, BARE_PAPER)), freely)
        if not spares(row.liquid, unlooked):
            continue
        before = _first_look(unlooked, compiled)
        name, left_behind = _named(studio, compiled, row), " and ".join(sorted(ill))
        if ill and partly:
            said.append(
                f"{name} swelled it in part, but left {left_behind}: the same liquid again, less of it for "
                f"longer, by {longer}; over a blotter.{before}"
            )
        elif ill:
            ways = ", or by ".join(filter(None, ("less of it", gentler)))
            said.append(
                f"{name} released, but left {left_behind}: the same liquid again, {ways}; over a blotter."
                f"{before}"
            )
        elif partly and looked and not {*unlooked} - {BARE_PAPER}:
            harmed = "nothing that was looked at" if unlooked else "nothing"
            said.append(
                f"{name} swelled it in part and harmed {harmed}: the same liquid again before another one, "
                f"for longer, or by {longer}; roll off what has swollen.{before}"
            )
    return tuple(said)


def _among(ways: Iterable[str], left: Container[str], compiled: Compiled) -> str:
    """Names of those that are left."""
    return either([compiled.method_names[id].lower() for id in ways if id in left])
