"""Lines of liquids that act alike, the order of the list, and the series of spots."""

from collections.abc import Mapping, Sequence
from itertools import groupby, pairwise
from operator import attrgetter
from typing import NamedTuple

import msgspec

from kb.desk.choose.spots import BARE, Spots
from kb.desk.choose.weigh import ALREADY, HARMED_HERE, Outlook, Sheet, Weighed
from kb.model.question import ExpectedSpots, Group, SeriesStep, Suggestion
from kb.science.choose.evidence import further_cost
from kb.science.choose.groups import (
    EQUAL_RELEASE,
    EQUAL_UNPOLAR,
    LEAST_RELEASE,
    MOST_LINES,
    UNPOLAR,
    Member,
    Step,
    expected,
    grouped,
    head,
    polarity,
)

MOST_LOOKS = 2
"""A liquid that more clean looks would not free is not planned on."""
KNOWN_THAT_LINGERS = 2
"""Reports and tests from which a liquid that must be cleared leads a line. This project's own."""
ENOUGH_MILDER = 3
"""Where so many milder lines may be tried, a last resort is no line yet. This project's own."""
# By id, since the caution is data and its words may change.
PEROXIDES = "peroxides"
"""The caution about liquids that form explosive peroxides."""
RELEASES = "a control beside it, again next day and under UV, then a larger area"
STOP = "stop and think again"
WELL_KNOWN = 2
"""Reports and tests from which a liquid goes before one that is hardly known. This project's own."""
LIKELY_HARM = 0.5
"""Chance of harm from which a line that is held back stands behind those that rather spare the sheet: even
odds, this project's own."""
SOME_RELEASE = 0.05
"""Chance of release from which the mildest is worth a line where nothing may be tried. This project's own."""


class Line(NamedTuple):
    """A group with its leader, and the looks at a margin that would free it (0: free; None: none would)."""

    head: Weighed
    members: tuple[Weighed, ...]
    looks: int | None
    spent: bool
    """One of its members failed on this sheet: another way of acting comes before its alikes."""


class Freed(NamedTuple):
    """A liquid that is held back, and how many clean looks on each of the media would free it."""

    liquid: str
    media: Sequence[str]
    looks: int


order = attrgetter("order")
"""Of a candidate, to sort by."""


def lines_of(sheet: Sheet, weighed: Sequence[Weighed], spots: Spots) -> list[Line]:
    """All groups of the candidates, in the order in which one would think of them."""
    # What is free comes before what is held back, so that it opens the groups.
    walk = sorted([w for w in weighed if not w.refused], key=order)
    walk += sorted([w for w in weighed if w.refused], key=order)
    by_place = {w.place: w for w in walk}
    # What released and harmed is no failed way of acting: one of its like that spares the ink is the next.
    released = {place for place, hit in spots.release if hit}
    found = []
    for group in grouped([_member(w) for w in walk], sheet.alike):
        first, members = by_place[head(group).place], tuple([by_place[one.place] for one in group])
        spent = any(one.refused == ALREADY and one.place not in released for one in members)
        # What acts like what failed here is planned on no more, so no looks are made for it.
        looks = None if spent and first.refused else looks_needed(sheet, first, spots)
        found.append(Line(first, members, looks, spent))
    # By what a spot is worth before this sheet's spots; ids last, to be the same on every machine.
    keyed = [((_rank(line), -round(_plain(line.head), 9), line.head.what.id), line) for line in found]
    of_rank = groupby(sorted(keyed, key=lambda one: one[0]), key=lambda one: one[0][0])
    return [line for _, block in of_rank for line in _weakest_first([line for _, line in block])]


def _weakest_first(lines: list[Line]) -> list[Line]:
    """Of lines as likely to release safely as the best that is left, the least polar goes first.

    So the trade climbs its ladder: what is not polar is the least likely to move resin, ink and dye. The
    ``lines`` are of one rank. Of what is held back the best stays first, since nobody is to try it.
    """
    ordered = []
    while lines and lines[0].looks is not None:
        best = lines[0].head
        # The widest step first, as the polarity is asked of few then.
        near = [line for line in lines if line.head.safe >= best.safe - EQUAL_UNPOLAR]
        equals = [line for line in near if line.head.safe >= best.safe - _equal(best, line.head)]
        ordered.append(min(equals, key=lambda line: polarity(line.head.what.hansen)))
        lines.remove(ordered[-1])
    return ordered + lines


def _equal(best: Weighed, other: Weighed) -> float:
    """How near the chance of the other must be to that of the best to be equal."""
    most = max(polarity(best.what.hansen), polarity(other.what.hansen))
    # Below even odds less makes equals, in proportion: of 25 per cent five are a fifth.
    return EQUAL_UNPOLAR if most <= UNPOLAR else EQUAL_RELEASE * min(1.0, 2.0 * best.safe)


def shown(lines: Sequence[Line], *, ladder: bool) -> list[Line]:
    """The lines to think of first: known liquids that are free, that looks would free, or that might act.

    ``ladder``: where nothing may be tried, a hydrocarbon is where one would begin.
    """
    found = [line for line in lines if _fills(line)]
    milder = [line for line in found if not line.head.what.barred]
    able = sum(line.looks is not None for line in milder)
    # With enough milder lines a last resort would only push one of them off the screen.
    first = (milder if able >= ENOUGH_MILDER else found)[:MOST_LINES]
    if any(line.looks is not None for line in first):
        return first
    return _sparing_first(first, lines if ladder else ())


def _sparing_first(held: Sequence[Line], lines: Sequence[Line]) -> list[Line]:
    """Where nothing may be tried: what might act, and of the foot of the ladder what might a little and harms
    less. What would rather harm the sheet than spare it leads no list, not even one of thoughts."""
    # Polar liquids that act so little are no step of the ladder: water on a cement is nobody's first thought.
    mild = (line for line in lines if polarity(line.head.what.hansen) <= UNPOLAR and line not in held)
    able = (line for line in mild if _fills(line, SOME_RELEASE) and line.head.refused != HARMED_HERE)
    first = min((line for line in able if _harm(line) < LIKELY_HARM), key=_harm, default=None)
    more = [] if first is None or any(_harm(line) <= _harm(first) for line in held) else [first]
    return sorted([*held, *more], key=lambda line: _harm(line) >= LIKELY_HARM)[:MOST_LINES]


def _harm(line: Line) -> float:
    # Without the carrier, which is lifted first.
    return line.head.harms[0].here.mean


def _fills(line: Line, least: float = LEAST_RELEASE) -> bool:
    """Whether it is worth a line; held back, it is with a chance of release from ``least``."""
    first = line.head
    if first.named < _known_from(first) or first.refused == ALREADY:
        return False
    # A spot of what handbooks say does nothing is no way to go about it, unless tests speak for it. Nor is
    # what acts like what failed here, where little is left of its chance.
    if (first.denied or line.spent) and first.release_here.mean < LEAST_RELEASE:
        return False
    # What is held back is worth a line as a thought of what might act, not where it is a last resort besides.
    held = bool(first.refused) and line.looks is None
    if held and (first.what.barred or first.release_here.mean < least):
        return False
    # One of whose peroxides the catalogue warns is no plan, only one of its alikes.
    return all(caution.id != PEROXIDES for caution in first.cautions)


def _known_from(one: Weighed) -> int:
    """How many reports and tests a line needs: for what stays in the sheet more than one."""
    return KNOWN_THAT_LINGERS if one.what.lingers else 1


def _member(one: Weighed) -> Member:
    what = one.what
    # One that is too little known to be a line must not lead its alikes, which would go with it.
    named = one.named if one.named >= _known_from(one) else 0.0
    # A blend opens no line: it joins the pure liquid that it is most like.
    opens = named >= 1 and len(what.parts) == 1
    release = one.release_here.mean
    # By position, which takes half the time of names.
    return Member(
        one.place,
        what.related,
        not one.refused,
        one.safe,
        release,
        what.hazard,
        named,
        what.barred,
        one.decision,
        opens,
    )


def looks_needed(sheet: Sheet, one: Weighed, spots: Spots) -> int | None:
    """How many clean looks at a margin free a liquid that is held back."""
    if not one.refused:
        return 0
    if one.refused in (ALREADY, HARMED_HERE) or one.named < 1 or sheet.hopeless(one):
        return None
    return _looks(sheet, one.place, spots)


def _looks(sheet: Sheet, place: int, spots: Spots) -> int | None:
    # The most first: what those do not free, fewer do not, and that is most of what is held back.
    if sheet.outlook(place, spots, MOST_LOOKS).refused:
        return None
    return next(n for n in range(1, MOST_LOOKS + 1) if not sheet.outlook(place, spots, n).refused)


def freed_on_media(sheet: Sheet, lines: Sequence[Line], spots: Spots) -> Freed | None:
    """The first of what is held back that clean looks on the media themselves would free, with the fewest.

    None where no medium is named, and where a rule warns of that liquid for one of them. What likely harms is
    not looked at so, nor what harms more than the first line.
    """
    most = min(LIKELY_HARM, _harm(lines[0]) + EQUAL_RELEASE) if lines else 0.0
    able = [
        line.head for line in lines if line.head.refused not in (ALREADY, HARMED_HERE) and _harm(line) <= most
    ]
    for times in range(1, MOST_LOOKS + 1):
        for one in able:
            media = [harm.medium for harm in one.harms if harm.medium not in BARE]
            if media and not sheet.outlook(one.place, spots.with_clean(one.place, media, times)).refused:
                warned = any(
                    rule.severity == "warn" and {*rule.when.media} & {*media} for rule in one.cautions
                )
                return None if warned else Freed(one.what.id, media, times)
    return None


def _plain(one: Weighed) -> float:
    """The index without the cost of the unfamiliar: only known liquids lead, and all of a line act alike."""
    return one.decision + further_cost(one.named, lingers=False) / one.safe if one.safe > 0 else one.decision


def _rank(line: Line) -> tuple[bool, bool, bool, int, bool, int]:
    """What may be tried stands before what is only a thought. Of either, what acts like what failed here, and
    a last resort, stand behind every other way of acting.
    """
    first = line.head
    if not first.refused:
        kind = 0
    elif line.looks is not None:
        kind = 1
    else:
        kind = 2 if first.release_here.mean >= LEAST_RELEASE else 3
    return kind >= 2, line.spent, first.what.barred, kind, first.named < WELL_KNOWN, line.looks or 0


def listed(lines: Sequence[Line]) -> list[Weighed]:
    """Every candidate in the order of the flat list, the proposed and the refused each best first.

    By the index, but a liquid with long-term effects stands behind every milder known one of its group
    that is as likely to release, and a group's leader stands before its equals.
    """
    keys: dict[int, tuple[object, ...]] = {}
    for line in lines:
        free = [one for one in line.members if not one.refused]
        best = min(free, key=order, default=None)
        for one in line.members:
            key, step = one.order, 1
            if one.what.barred:
                step, least = 2, one.release_here.mean - EQUAL_RELEASE
                milder = [
                    other.order
                    for other in free
                    if not other.what.barred and other.named >= 1 and other.release_here.mean >= least
                ]
                key = max([key, *milder])
            elif (
                one is line.head
                and best is not None
                and not one.refused
                and one.safe >= best.safe - EQUAL_RELEASE
            ):
                key, step = min(key, best.order), 0
            # The name last, for the order may be that of another.
            keys[one.place] = (key, step, one.order[-1])
    return sorted([one for line in lines for one in line.members], key=lambda one: keys[one.place])


def groups_of(lines: Sequence[Line], leads: Mapping[str, Suggestion]) -> tuple[Group, ...]:
    """The lines as they go out, with what is said of their leaders."""
    return tuple(
        Group(
            liquid=line.head.what.id,
            name=line.head.what.name,
            members=tuple(one.what.id for one in line.members),
            looks=line.looks or 0,
            held=lead.refused if lead else line.head.refused,
            last_resort=line.head.what.barred,
            tried=line.spent,
            lead=lead,
        )
        for line in lines
        for lead in (leads.get(line.head.what.id),)
    )


def series_of(
    sheet: Sheet, lines: Sequence[Line], spots: Spots, method: str
) -> tuple[tuple[SeriesStep, ...], ExpectedSpots | None]:
    """Spots to plan before touching the sheet, each chosen as if those before it had failed without harm."""
    # Each way of acting is used once, so that the plan holds after its first spots.
    left = [line for line in lines if not line.spent]
    steps: list[SeriesStep] = []
    chances: list[Step] = []
    while left and len(steps) < MOST_LINES:
        found = _next(sheet, left, spots)
        if found is None:
            break
        line, looks = found
        left.remove(line)
        place, what = line.head.place, line.head.what
        clean = 1.0
        for before in range(looks):
            clean *= 1 - sheet.outlook(place, spots, before).harm
        seen = spots.with_look(place, looks)
        now = sheet.outlook(place, seen)
        chances.append(Step(looks, clean, now.release, now.harm))
        medium = sheet.harmed(place)[0].medium
        harmed = _next(sheet, left, seen.with_spot(what, place, released=None, harmed=True, medium=medium))
        steps.append(
            SeriesStep(
                liquid=what.id,
                name=what.name,
                method=method,
                looks=looks,
                release=now.release,
                harm=now.harm,
                if_releases=RELEASES,
                if_not=STOP,
                if_harms=harmed[0].head.what.name if harmed else STOP,
            )
        )
        spots = seen.with_spot(what, place, released=False, harmed=False)
    linked = [msgspec.structs.replace(step, if_not=after.name) for step, after in pairwise(steps)]
    if not steps:
        return (), None
    spots_made, release, harm = expected(chances)
    return (*linked, steps[-1]), ExpectedSpots(spots=spots_made, release=release, harm=harm)


def _next(sheet: Sheet, lines: Sequence[Line], spots: Spots) -> tuple[Line, int] | None:
    """The first line that is free, or freed by looks, as these spots leave it; re-weighs leaders only."""
    fresh = [line for line in lines if line.head.named >= 1]
    seen: dict[int, Outlook] = {}
    # What is free and milder comes before all that looks would free: those need not be tried then.
    free = None
    for line in fresh:
        first = line.head
        if not (line.spent or first.what.barred):
            seen[first.place] = now = sheet.outlook(first.place, spots)
            if not now.refused and (free is None or first.named >= WELL_KNOWN):
                free = line
                # The order of the lines is that of their worth before the spots.
                if first.named >= WELL_KNOWN:
                    break
    if free is not None:
        return free, 0
    able = []
    for number, line in enumerate(fresh):
        first = line.head
        now = seen.get(first.place) or sheet.outlook(first.place, spots)
        looks = (
            0
            if not now.refused
            else None
            if now.refused in (ALREADY, HARMED_HERE)
            else _looks(sheet, first.place, spots)
        )
        if looks is not None:
            able.append(
                ((line.spent, first.what.barred, bool(looks), first.named < WELL_KNOWN, looks, number), line)
            )
    if not able:
        return None
    rank, line = min(able)
    return line, rank[-2]
