"""Which liquid to test next, why, and when to stop."""

import math
from collections.abc import Mapping, Sequence
from functools import partial
from typing import NamedTuple

import msgspec

from kb.desk.choose.after import (
    called_within,
    did_here,
    lift_first,
    no_heat,
    other_ways,
    spots_here,
    warmth,
    worked_here,
)
from kb.desk.choose.explain import (
    DISCLAIMER,
    NO_PATCH,
    Facts,
    details,
    gel_for,
    instead_of_liquid,
    look_on_media,
    mock_up_line,
    next_step,
    reason,
    rests_on,
    set_by_water,
    stop_text,
    what_else,
    why_nothing,
)
from kb.desk.choose.gather import Gathered, gather
from kb.desk.choose.lines import (
    LIKELY_HARM,
    MOST_LOOKS,
    Line,
    freed_on_media,
    groups_of,
    lines_of,
    listed,
    series_of,
    shown,
)
from kb.desk.choose.may_be import (
    Component,
    components,
    from_sheet,
    in_part,
    look_first,
    of_carrier,
    with_media,
)
from kb.desk.choose.rule import about_this_sheet, of_sheet, perhaps, taped_on_both, with_advice
from kb.desk.choose.spots import Spots
from kb.desk.choose.sums import PARTS_KEPT, Pools, Tapes, looks_beside, pools_of, tapes_behind, told_of
from kb.desk.choose.weigh import ALREADY, HARMED_HERE, UPPER, WATER, Sheet, Weighed, sheet_of
from kb.desk.choose.words import some
from kb.desk.errors import DeskError
from kb.desk.pool.behind import Others, others_behind
from kb.desk.pool.words import left_out_words
from kb.desk.shelf.shelf import allowed
from kb.desk.studio import Studio
from kb.index.compiled import Compiled, Named
from kb.index.patch_rows import Counted, patches_bearing
from kb.index.queries import names
from kb.index.rows import NO_CARRIER
from kb.model.guidance import Caution
from kb.model.question import (
    Answer,
    Chance,
    Dials,
    Evidence,
    LeftOut,
    Question,
    SeriesStep,
    Stop,
    Suggestion,
    Vetoed,
    Worked,
)
from kb.science.choose.acting import CARRIER_HARM, any_harm
from kb.science.choose.beta import cdf, interval
from kb.science.choose.evidence import Posterior
from kb.science.choose.pooling import SHOWN_FROM
from kb.science.numbers import counted

SPREAD_FOR_MOCK_UP = 0.25
FACING = "facing-strips"
"""The caution about tape that faces tape, by its id, since it is data and its words may change."""


def choose(studio: Studio, question: Question, dials: Dials | None = None, limit: int = 12) -> Answer:
    """Rank every liquid for the question. ``limit`` bounds the suggestions that are explained.

    The answer proposes tests; it never says that a treatment is safe.
    """
    compiled, conn = studio.compiled, studio.index.conn
    asked, of_its_carrier = of_carrier(studio, _without_carrier(compiled, from_sheet(studio, question)))
    question, minded, of_record = _as_recorded(studio, asked)
    dials = dials or studio.settings.dials
    found = _lines_for(studio, question, dials, minded)
    may_be, gathered, pools = found.may_be, found.gathered, found.pools
    sheet, spots, lines = found.sheet, found.spots, found.lines
    rules = _advice(studio, may_be)
    barred = _vetoed(found, rules)
    ranked = listed(lines)
    proposed, refused = ([w for w in ranked if bool(w.refused) == held] for held in (False, True))
    ladder = sum(one.weight for one in may_be if set_by_water(compiled, one.question.adhesive)) < 0.5
    first_lines = shown(lines, ladder=ladder)
    worked, lost = _worked(studio, question, found, ranked)
    # After a success nothing further is planned: control, next day and a larger area come first.
    series, expected_spots = series_of(sheet, [] if worked else first_lines, spots, question.method)
    planned = {step.liquid: place for place, step in enumerate(series)}
    # One order on the screen: what is planned as the plan has it, then what only might act.
    first_lines.sort(key=lambda line: planned.get(line.head.what.id, len(planned)))
    ways = other_ways(studio, question, spots.worked, partial(_spares, compiled, found))
    warm = warmth(compiled, minded, cold := no_heat(compiled, minded))
    # Some of the refused are explained as well: why something was not proposed is asked as often.
    front, behind = proposed[:limit], refused[: max(limit // 2, 3)]
    seen = {w.place for w in (*front, *behind)}
    # Leaders of lines are shown first on the screen, so each needs its explanation even if it stands low in
    # the list.
    leads = [line.head for line in first_lines if line.head.place not in seen]
    tapes = tapes_behind(compiled, may_be[0].question, gathered)
    others = others_behind(studio, question, may_be, gathered, pools)
    parts = in_part(studio, may_be)
    patches = patches_bearing(
        conn, [one.question.adhesive for one in may_be if one.question.adhesive], question.reach
    )
    facts = [
        _facts(one, question, found, tapes, others, dials, parts, patches)
        for one in (*front, *behind, *leads)
    ]
    looks = {line.head.what.id: line.looks or 0 for line in lines}
    suggestions = tuple(
        [
            _suggestion(rank, fact, question, looks, rules)
            for rank, fact in enumerate(facts[: len(front)], start=1)
        ]
    )
    others_said = [_suggestion(0, fact, question, looks, rules) for fact in facts[len(front) :]]
    declined = tuple(others_said[: len(behind)])
    said = {one.liquid: one for one in (*suggestions, *others_said)}
    groups = groups_of(first_lines, said)

    def lifted(bare: Question) -> list[Line]:
        """The first lines of what is left on the sheet, their leaders alone."""
        left = _lines_for(studio, bare, dials, with_media(bare, minded), found).lines
        return [line._replace(members=()) for line in shown(left, ladder=ladder)]

    carrier_first = lift_first(
        # Whatever the carrier, the same is left without it.
        lambda bare: compiled.kept(
            "carrier lifted", (gathered.state, bare, dials, minded.reach), lambda: lifted(bare), PARTS_KEPT
        ),
        question,
        first_lines,
        warm=not cold,
    )
    no_water = WATER in {
        *(one.liquid for one in barred),
        *(part for p in spots.seen if p.harmed and not p.wet for part in gathered.candidates[p.place].parts),
    }
    instead = instead_of_liquid(
        minded,
        carrier_first,
        gel_for(compiled, minded, may_be, no_water=no_water),
        warm=ladder and not cold,
    )
    # Of what acts like what failed here some may be free still, and yet no line to follow.
    stops = not (any(line.looks or not line.held for line in groups) or series or ways or worked)
    # What its record names on the back is ink, and no word about tape there.
    about = _about(studio, asked, found, stops=stops)
    look = look_first(studio, question, may_be)
    # What the sheet itself does not bear of the usual way, whatever the liquid: loose powder under a swab.
    careful = [rule for rule in about if rule.severity != "note"]
    not_so = " ".join(rule.instead for rule in careful if rule.when.methods)
    before = " ".join(filter(None, (lost, look, warm)))
    lead = first_of(series, said)
    clean = {
        one.medium
        for one in spots.seen
        if lead is not None and one.cleared and gathered.candidates[one.place].id == lead.liquid
    }
    like = next((line.name for line in groups if lead is None and line.tried and not line.held), "")
    best_refused = [line.lead for line in groups if line.lead is not None]
    return Answer(
        # What is tested is written down from it: where a drop lay, nobody said.
        question=asked,
        suggestions=suggestions,
        refused=declined,
        vetoed=barred,
        left_out=found.left_out,
        stop=Stop(
            text=stop_text(
                best_refused,
                question,
                carrier_first,
                why_nothing(barred, compiled.cautions, tried=any(one.refused == ALREADY for one in refused)),
                instead,
                # No look where the sheet itself asks for more care: loose powder, a photograph.
                "" if careful else _look_on_media(compiled, found, first_lines, said),
            )
            + f" {before}".rstrip(),
            best_refused=next((one.liquid for one in best_refused or declined), ""),
        )
        if stops
        else None,
        rests_on=rests_on(
            facts,
            question,
            spots=spots.graded,
            used_print=dials.use_print,
        )
        + _seen_here(found)
        # Else a book of others that fell away with an update would fall silent.
        + compiled.kept(
            "left out", gathered.state, lambda: "".join([f" {one}" for one in left_out_words(studio)[:1]])
        )
        + of_its_carrier
        + of_record,
        next_step=(worked[0].text if worked else "")
        or (ways[0] if ways else "")
        or next_step(
            lead,
            question,
            compiled,
            carrier_first,
            f"{f'What is free yet acts like what failed here: {like}. ' if like else ''}{what_else(instead)}",
            before,
            not_so,
            _of_the_way(compiled, may_be),
            clean,
        ),
        mock_up="" if worked else mock_up_line(_mock_up([line.head for line in first_lines])),
        disclaimer=DISCLAIMER,
        groups=groups,
        series=series,
        expected_spots=expected_spots,
        worked_here=worked,
        other_ways=ways,
        cautions=tuple(rules[one.id] for one in about),
        look_first=look,
        carrier_first=carrier_first,
    )


def dials_of(usual: Dials, **given: float | bool | None) -> Dials:
    """The studio's dials with what is given in place; refuses what cannot be meant."""
    dials = msgspec.structs.replace(usual, **{name: one for name, one in given.items() if one is not None})
    # Checked after joining: what stands in studio.yaml may be as wrong as what was typed.
    if not (math.isfinite(dials.harm_aversion) and dials.harm_aversion >= 0):
        raise DeskError("Harm aversion is a number from 0 up; 8 is bold, 16 usual, 32 cautious.")
    if not 0 < dials.ceiling <= 1:
        raise DeskError("The ceiling is a chance above 0 and up to 1; 0.6 is usual.")
    if not (math.isfinite(dials.worth) and dials.worth > 0):
        raise DeskError("The worth of a safe release is a number above 0; 16 is usual.")
    return dials


def _as_recorded(studio: Studio, question: Question) -> tuple[Question, Question, str]:
    # Many questions name no sheet, and load none of the words that its record may hold.
    if not question.sheet:
        return question, question, ""
    from kb.desk.choose.recorded import as_recorded

    return as_recorded(studio, question)


def _without_carrier(compiled: Compiled, question: Question) -> Question:
    """A glue that no tape bears has no carrier: paste, cement. As it is where one is named."""
    glue = question.adhesive
    if question.carrier or not glue or any(glue == adhesive for _, adhesive, _ in compiled.tapes.values()):
        return question
    return msgspec.structs.replace(question, carrier=NO_CARRIER)


class _Found(NamedTuple):
    """Everything up to the lines, before a word of them is said."""

    may_be: list[Component]
    gathered: Gathered
    pools: Pools
    sheet: Sheet
    spots: Spots
    left_out: tuple[LeftOut, ...]
    vetoed: list[int]
    """Places of the candidates that a caution bars."""
    lines: list[Line]
    did: Mapping[str, str]
    """By liquid, the harm that was seen of it on the sheet, in words."""


def _seen_here(found: _Found) -> str:
    """The harm that was seen here, and what is missing of looks that were no looks at the ink."""
    spots, (candidates, order) = found.spots, found.gathered[1:3]
    harms = [f"{candidates[order[liquid]].name} ({harm})" for liquid, harm in found.did.items()]
    text = f" Harm was seen on this sheet: {some(harms)}." if harms else ""
    if spots.passed_by:
        # What a question with better looks, or none, need not load.
        from kb.desk.records.record import NO_LOOK_AT_INK

        text += f" On {counted(spots.passed_by, 'spot')} here {NO_LOOK_AT_INK}."
    if spots.unnamed:
        text += (
            f" On {counted(spots.unnamed, 'clean spot')} here no medium is named, so it counts for no ink: "
            "name it in a correction."
        )
    return text


def _lines_for(
    studio: Studio, question: Question, dials: Dials, minded: Question, before: _Found | None = None
) -> _Found:
    """All lines of a question. ``minded`` is the same with the media whose rules hold, as far as known;
    ``before`` what was found for the same sheet with its carrier on."""
    compiled, conn = studio.compiled, studio.index.conn
    may_be = components(studio, minded)
    gathered = before.gathered if before else gather(conn, compiled)
    pools = pools_of(conn, compiled, question, may_be, gathered, use_print=dials.use_print)
    spots = (
        before.spots
        if before
        else compiled.kept(
            "spots",
            (gathered.state, question.sheet, question.reach, question.method),
            lambda: spots_here(studio, question, gathered),
            8,
        )
    )
    sheet = sheet_of(compiled, question, dials, gathered, may_be, pools)
    left_out, places = compiled.kept(
        "by shelf", gathered.state, lambda: _by_shelf(compiled, gathered.candidates)
    )
    vetoed = [place for place in places if sheet.stopped(place)]
    free = [place for place in places if not sheet.stopped(place)]
    lines = lines_of(sheet, sheet.weighed(free, spots), spots)
    did = before.did if before else did_here(compiled, spots)
    return _Found(may_be, gathered, pools, sheet, spots, left_out, vetoed, lines, did)


def _look_on_media(
    compiled: Compiled, found: _Found, lines: Sequence[Line], said: Mapping[str, Suggestion]
) -> str:
    """Which look would free one of the ``lines``, all of which are held back; empty if none would."""
    freed = freed_on_media(found.sheet, lines, found.spots)
    return look_on_media(compiled, said[freed.liquid], freed.media, freed.looks) if freed else ""


def _worked(
    studio: Studio, question: Question, found: _Found, ranked: Sequence[Weighed]
) -> tuple[tuple[Worked, ...], str]:
    """What released here and harmed nothing, and what the studio forbids of that since then."""
    compiled, gathered, spots = studio.compiled, found.gathered, found.spots
    missing = {gathered.order[one.liquid]: one for one in found.left_out if one.liquid in spots.worked}
    had = [place for place in missing if allowed(compiled, gathered.candidates[place].parts).allowed]
    # What is barred, or used up since, may have been tried all the same.
    tried = had + [place for place in found.vetoed if gathered.candidates[place].id in spots.worked]
    worked = worked_here(studio, [*found.sheet.weighed(tried, spots), *ranked], spots, question)
    lost = [one for place, one in missing.items() if place not in had]
    return worked, " ".join(f"{one.name} worked here, but now {one.why.rstrip('.')}." for one in lost)


def _spares(compiled: Compiled, found: _Found, liquid: str, unlooked: Sequence[str]) -> bool:
    """Whether the sheet bears a liquid in any way, and the studio allows it."""
    place = found.gathered.order.get(liquid)
    # Of what the catalogue no longer knows nobody can say so.
    if place is None or not allowed(compiled, found.gathered.candidates[place].parts).allowed:
        return False
    return found.sheet.spares(place, found.spots, unlooked, MOST_LOOKS)


def _about(studio: Studio, question: Question, found: _Found, *, stops: bool) -> list[Caution]:
    """What holds whatever the liquid. Where there is something to test its own notes stand under it; a stop
    has nothing else to say."""
    compiled = studio.compiled
    about = [
        rule
        for rule in of_sheet(compiled, found.may_be)
        if rule.severity != "note" or (stops and not rule.when.methods)
    ]
    # Whether pieces hang together by their tape is no matter of its age.
    if question.carrier != NO_CARRIER and taped_on_both(studio, question, found.gathered.state):
        about += [rule for rule in compiled.cautions if rule.id == FACING and rule not in about]
    return about


def _of_the_way(compiled: Compiled, may_be: Sequence[Component]) -> str:
    """How to go about the usual way on this ink or paper: graphite that smears is not rolled over."""
    rules = (one for one in of_sheet(compiled, may_be) if one.severity == "note" and one.when.methods)
    return " ".join(with_advice(one) for one in rules if one.when.media or one.when.papers)


def _by_shelf(compiled: Compiled, candidates: Sequence[Named]) -> tuple[tuple[LeftOut, ...], list[int]]:
    """What the studio does not hold or forbids, and the places of the rest."""
    out, rest = [], []
    for place, what in enumerate(candidates):
        verdict = allowed(compiled, what.parts)
        if verdict.allowed and verdict.held:
            rest.append(place)
        else:
            out.append(LeftOut(liquid=what.id, name=what.name, why=verdict.why))
    return tuple(out), rest


def first_of(series: Sequence[SeriesStep], said: Mapping[str, Suggestion]) -> Suggestion | None:
    # By id among those explained; a leader is always one of them.
    """What leads the series; None if there is none."""
    return said.get(series[0].liquid) if series else None


def _chance(posterior: Posterior) -> Chance:
    low, high = interval(posterior.a, posterior.b)
    return Chance(p=posterior.mean, low=low, high=high)


def _with_carrier(harm: Chance, carrier: float) -> Chance:
    """Harm to medium and paper together with what a dissolved carrier counts, as the decision takes it."""
    if not carrier:
        return harm
    low, high = any_harm((harm.low, carrier)), any_harm((harm.high, carrier))
    return Chance(p=any_harm((harm.p, carrier)), low=low, high=high)


def _facts(
    one: Weighed,
    question: Question,
    found: _Found,
    tapes: Tapes,
    others: Others | None,
    dials: Dials,
    parts: Mapping[str, float],
    patches: Mapping[str, Counted],
) -> Facts:
    """What the explanation needs, drawn from the same numbers as the decision."""
    may_be, gathered, pools = found.may_be, found.gathered, found.pools
    tape = pools.release[0]  # what it most likely is
    main = tape.sums
    own, similar = main.own_counts(one.place), main.similar_counts(one.place)
    # The worst comes first in the list of harms.
    worst, looked = one.harms[0], told_of(pools, one.harms, one.place)
    harm_own = pools.harm.media[looked.medium].sums.own_counts(one.place)
    harm_tests, harm_hits = pools.looks(looked, one.place)
    # A carrier that dissolves runs into the sheet: so it counts as harm, at its share.
    carrier = CARRIER_HARM * one.carrier
    release, harm = _chance(one.release), _with_carrier(_chance(worst.general), carrier)
    likeness = gathered.kernel[one.place]
    reports = tuple(
        [
            (row.report, bool(row.release))
            for row, cell in tape.printed
            if cell.weight * likeness[cell.liquid] >= SHOWN_FROM
        ]
    )
    return Facts(
        what=one.what,
        release=release,
        harm=harm,
        release_here=_chance(one.release_here) if question.sheet else release,
        harm_here=_with_carrier(_chance(worst.here), carrier) if question.sheet else harm,
        decision=one.decision,
        release_p0=one.release_p0,
        harm_p0=worst.p0,
        taught=(one.taught, worst.taught),
        harm_by_medium={
            harm.medium: _chance(harm.here if question.sheet else harm.general) for harm in one.harms
        },
        worst_medium=worst.medium,
        looked_medium=looked.medium,
        called={harm.medium: called_within(tapes.compiled, harm.medium) for harm in one.harms},
        own_tests=int(own.tests),
        own_hits=int(own.hits),
        tests=int(own.tests + similar.tests),
        hits=int(own.hits + similar.hits),
        expected=own.expected + similar.expected,
        variance=own.variance + similar.variance,
        harm_tests=harm_tests,
        harm_hits=harm_hits,
        harm_own_tests=int(harm_own.tests),
        harm_own_hits=int(harm_own.hits),
        beside=looks_beside(pools, one.harms, looked, one.place),
        far=bool(one.taught or any(harm.taught for harm in one.harms))
        or any(sums.bears(one.place) for sums in pools.all),
        tapes=tapes.count(one.place),
        print_tests=main.extra_tests(one.place),
        reports=reports,
        red_adhesive=tapes.compiled.red_adhesive(may_be[0].question.adhesive, one.what.hansen),
        red_medium=tapes.compiled.red_medium(worst.medium, one.what.hansen),
        cautions=one.cautions,
        refused=one.why_refused(dials.ceiling, found.did.get(one.what.id, "")),
        sheet=question.sheet,
        spots=found.spots.graded,
        used_print=dials.use_print,
        averaged=len(may_be),
        named=one.named,
        carrier=one.carrier,
        others=None if others is None else others.told(one),
        in_part=parts.get(one.what.id, 0.0),
        patches=patches.get(one.what.id, NO_PATCH),
    )


def _advice(studio: Studio, may_be: Sequence[Component]) -> dict[str, str]:
    """The rules in words, by id: what each says and what to do instead, and if it holds for some alone of
    what the tape may be, of which."""
    cautions = studio.compiled.cautions
    sure: dict[str, str] = studio.compiled.kept(
        "advice", None, lambda: {one.id: f"{one.severity}: {with_advice(one)}" for one in cautions}
    )
    if len(may_be) == 1:
        return sure
    called = studio.compiled.kept("names", None, lambda: names(studio.index.conn))
    unsure = {one.id: said for one in cautions if (said := perhaps(called, may_be, one.when))}
    return sure | {
        id: f"{severity}: {said}{text}"
        for id, said in unsure.items()
        for severity, _, text in (sure[id].partition(": "),)
    }


def _suggestion(
    rank: int, fact: Facts, question: Question, looks: Mapping[str, int], rules: Mapping[str, str]
) -> Suggestion:
    """``rules`` are the cautions in words, by id."""
    here = bool(question.sheet)
    return Suggestion(
        rank=rank,
        liquid=fact.what.id,
        name=fact.what.name,
        parts=fact.what.parts,
        method=question.method,
        release=fact.release_here if here else fact.release,
        harm=fact.harm_here if here else fact.harm,
        release_general=fact.release,
        harm_general=fact.harm,
        harm_by_medium=fact.harm_by_medium,
        harm_carrier=CARRIER_HARM * fact.carrier,
        worst_medium=fact.worst_medium,
        red_adhesive=fact.red_adhesive,
        red_medium=fact.red_medium,
        index=fact.decision,
        hazard=fact.what.hazard,
        evidence=Evidence(
            own=fact.own_tests,
            similar=fact.tests - fact.own_tests,
            print=fact.print_tests,
            in_part=fact.in_part,
            patches=fact.patches.patches,
            patches_count_as=round(fact.patches.weight, 3),
            book_release=fact.taught[0],
            book_harm=fact.taught[1],
            pooled=None if fact.others is None else fact.others.pooled,
        ),
        cautions=tuple([rules[one.id] for one in fact.cautions]),
        reason=reason(fact),
        details=details(fact),
        refused=fact.refused,
        familiarity=fact.named,
        looks=looks.get(fact.what.id, 0),
        last_resort=fact.what.barred,
    )


def _vetoed(found: _Found, advice: Mapping[str, str]) -> tuple[Vetoed, ...]:
    """What a caution bars, on this sheet first, then what nobody is advised to use; with each reason that the
    sheet gives: ink may bar water, and the skin under it too."""
    barred = []
    for place in found.vetoed:
        stops = [one for one in found.sheet.cautions[place] if one.severity == "stop"]
        here = about_this_sheet(stops[0].when)
        reasons = [one for one in stops if about_this_sheet(one.when)] if here else stops[:1]
        text = " ".join(advice[one.id].partition(": ")[2] for one in reasons)
        what = found.gathered.candidates[place]
        barred.append(Vetoed(liquid=what.id, name=what.name, caution=stops[0].id, text=text, here=here))
    return tuple(sorted(barred, key=lambda one: (not one.here, one.name.casefold())))


def _mock_up(leaders: Sequence[Weighed]) -> Named | None:
    """A liquid of which much is to be learnt without touching the sheet; of those one would think of."""
    for one in leaders:
        known = one.harms[0].here
        # What likely harms is not worth learning of. A bound near 1 would be met by anything.
        bound = min(0.999, known.mean + SPREAD_FOR_MOCK_UP)
        # What was tried already on this sheet is known better from there.
        milder = not one.what.barred and one.refused not in (ALREADY, HARMED_HERE)
        if milder and known.mean < LIKELY_HARM and cdf(bound, known.a, known.b) < UPPER:
            return one.what
    return None
