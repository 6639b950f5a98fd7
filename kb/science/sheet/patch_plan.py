"""In which order to lift patches from two faces, so that neither face gets far ahead of the other.

Tape and what it leaves hold a sheet on one side; a face that is freed alone lets the sheet cockle. So the
freed areas of both faces are kept within a bound of each other, weak places wait to the last, and the sheet
is turned as seldom as that allows.

The cheapest way to join things of two kinds one to one, where each has few it may be joined with.

How long the patches that are left will take, and how much liquid, from how the last ones went.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterable, Mapping, Sequence
from itertools import accumulate, pairwise
from typing import Literal, NamedTuple

from kb.science.sheet.cutting import FACES, Face, Patch
from kb.science.sheet.polygons import Point


def cheapest_pairs(costs: Mapping[int, Mapping[int, float]], alone: float) -> dict[int, int]:
    """Pairs (left, right) of least total cost, if a left one that stays alone costs ``alone``.

    ``costs`` holds by left the right ones it may be joined with. Shortest augmenting paths, one for each left
    one, with potentials that keep all reduced costs at zero or above (Edmonds and Karp 1972, J. ACM 19,
    248-264, doi:10.1145/321694.321699; from memory). Distances are local, so that a search stays small.
    """
    owner: dict[int, int] = {}
    mate: dict[int, int] = {}
    left_potential: dict[int, float] = dict.fromkeys(costs, 0.0)
    right_potential: dict[int, float] = {}
    for start in costs:
        # Cost of the best path that ends by leaving some left one alone, with the potential of that end.
        reached: dict[int, float] = {}
        came: dict[int, int] = {}
        final: dict[int, float] = {}
        left_at = {start: 0.0}
        best_alone, loner = alone - left_potential[start], start
        heap: list[tuple[float, int]] = []
        free = -1
        current, distance = start, 0.0
        while True:
            for right, cost in costs[current].items():
                length = distance + cost - left_potential[current] - right_potential.get(right, 0.0)
                if right not in final and length < reached.get(right, math.inf):
                    reached[right], came[right] = length, current
                    heapq.heappush(heap, (length, right))
            while heap and heap[0][1] in final:
                heapq.heappop(heap)
            if not heap or heap[0][0] >= best_alone:
                break
            distance, right = heapq.heappop(heap)
            final[right] = distance
            if right not in owner:
                free = right
                break
            current = owner[right]
            left_at[current] = distance
            if distance + alone - left_potential[current] < best_alone:
                best_alone, loner = distance + alone - left_potential[current], current
        end = distance if free >= 0 else best_alone
        for left, at in left_at.items():
            left_potential[left] += max(0.0, end - at)
        for right, at in final.items():
            right_potential[right] = right_potential.get(right, 0.0) - max(0.0, end - at)
        _turn(start, free, loner, came, owner, mate)
    return mate


def _turn(
    start: int, free: int, loner: int, came: Mapping[int, int], owner: dict[int, int], mate: dict[int, int]
) -> None:
    """Join along the path that was found, from its end back to where it began."""
    right = free
    if free < 0:
        if loner == start:
            return
        right = mate.pop(loner)
    while True:
        left = came[right]
        earlier = mate.get(left, -1)
        owner[right], mate[left] = left, right
        if left == start:
            return
        right = earlier


ENOUGH = 5
"""Patches that were timed before the own rate replaces the one assumed."""


class Rates(NamedTuple):
    """What lifting takes. The defaults are invented placeholders without a source."""

    minutes_per_cm2: float = 6.0
    ml_per_cm2: float = 0.15
    swabs_per_cm2: float = 2.0
    drying_minutes: float = 3.0
    turn_minutes: float = 1.5


ASSUMED = Rates()


class Worked(NamedTuple):
    """What one patch took; None where it was not written down."""

    area_mm2: float
    minutes: float | None = None
    ml: float | None = None
    swabs: float | None = None


class Left(NamedTuple):
    """What is still ahead. ``own`` names the rates that rest on this sheet's own patches."""

    patches: int
    area_mm2: float
    minutes: float
    ml: float
    swabs: float
    own: tuple[str, ...]


def rates_of(worked: Sequence[Worked]) -> tuple[Rates, tuple[str, ...]]:
    """Own rates, each the median over the patches that say it once five do; and which are own."""
    # Loaded with half of Python's mathematics, which a list of sheets does without.
    from statistics import median

    found: dict[str, float] = {}
    for rate, field in (("minutes_per_cm2", "minutes"), ("ml_per_cm2", "ml"), ("swabs_per_cm2", "swabs")):
        said = [
            getattr(patch, field) / patch.area_mm2 * 100.0
            for patch in worked
            if getattr(patch, field) is not None and patch.area_mm2 > 0
        ]
        if len(said) >= ENOUGH:
            found[rate] = median(said)
    own = tuple(found)
    if "minutes_per_cm2" in found:
        # The clock of a patch runs until it is dry, so drying is in the own rate already.
        found["drying_minutes"] = 0.0
    return ASSUMED._replace(**found), own


def left(order: Sequence[Patch], turns: int, worked: Sequence[Worked]) -> Left:
    """Time, liquid and swabs for the patches of an order with so many turns of the sheet."""
    rates, own = rates_of(worked)
    area = sum(patch.area_mm2 for patch in order)
    cm2 = area / 100.0
    return Left(
        patches=len(order),
        area_mm2=area,
        minutes=cm2 * rates.minutes_per_cm2 + len(order) * rates.drying_minutes + turns * rates.turn_minutes,
        ml=cm2 * rates.ml_per_cm2,
        swabs=cm2 * rates.swabs_per_cm2,
        own=own,
    )


WeakRule = Literal["last", "first", "ignore"]
FARTHEST_MM = 30.0
"""Patches of two faces farther apart than this do not hold the same place and are not a pair."""
ALONE_MM = 60.0
"""What a patch without a partner costs in the matching: more than any pair that is allowed."""
TURN_MM = 25.0
"""A turn of the sheet is worth this much travel: about a patch and a gap (this project's own choice)."""
ROUNDING_MM2 = 1e-6


class Freed(NamedTuple):
    """What is freed already: area by face, and where work stopped (a place as seen from the front)."""

    front_mm2: float = 0.0
    back_mm2: float = 0.0
    at: Point | None = None
    face: Face | None = None


NOTHING_FREED = Freed()


class Metrics(NamedTuple):
    """How even an order is. Imbalance is in proportion where one face holds more tape than the other.

    ``max_difference_mm2`` is of the plain areas; it cannot be below the difference of the two totals.
    ``over_bound`` counts patches after which the imbalance is over the bound. Travel is between the middles
    of patches that follow one another, through the sheet where it is turned. ``fewest_turns`` is what the
    bound forces at least. ``weak_position`` is the mean place of weak patches, 0 first to 1 last.
    """

    max_imbalance_mm2: float
    max_imbalance_patches: float
    max_difference_mm2: float
    final_difference_mm2: float
    turns: int
    fewest_turns: int
    travel_mm: float
    travel_per_patch_mm: float
    weak_position: float | None
    over_bound: int
    bound_mm2: float


class Plan(NamedTuple):
    """The order, how even it is, and which patches lie against each other (front id to back id)."""

    order: tuple[Patch, ...]
    metrics: Metrics
    pairs: dict[str, str]


class _Scale(NamedTuple):
    """What one mm2 on each face counts in the imbalance."""

    front: float
    back: float

    def step(self, patch: Patch) -> float:
        return patch.area_mm2 * (self.front if patch.face == "front" else -self.back)


PLAIN = _Scale(1.0, 1.0)


def plan(
    patches: Sequence[Patch],
    bound_mm2: float | None = None,
    weak: WeakRule = "last",
    freed: Freed = NOTHING_FREED,
) -> Plan:
    """An order for all patches that starts from what is freed already.

    The bound is the area of the largest patch if none is given. Where no patch fits under it, the one that
    goes over least is taken and counted. Raises ValueError for a bound that is not above zero.
    """
    if bound_mm2 is not None and not 0 < bound_mm2 < math.inf:
        raise ValueError(f"the bound must be an area above zero, not {bound_mm2} mm2")
    bound = bound_mm2 or max((patch.area_mm2 for patch in patches), default=0.0)
    scale = _scale(patches, freed)
    course = _Course(patches, scale, bound, freed)
    pairs: dict[str, str] = {}
    for group in _groups(patches, weak):
        matched = pairs_of(group)
        pairs |= matched
        course.add(_units(group, matched))
    order = tuple(course.order)
    return Plan(order, metrics(order, bound, freed), pairs)


def pairs_of(patches: Sequence[Patch]) -> dict[str, str]:
    """Front patches and the back patches that lie against them, each at most once; by id."""
    front = [patch for patch in patches if patch.face == "front"]
    back = [patch for patch in patches if patch.face == "back"]
    costs: dict[int, dict[int, float]] = {}
    squares: dict[tuple[int, int], list[int]] = {}
    for right, patch in enumerate(back):
        squares.setdefault(_square(patch.at), []).append(right)
    for left, patch in enumerate(front):
        across, down = _square(patch.at)
        costs[left] = {
            right: away + _mismatch_mm(patch, back[right])
            for x in (across - 1, across, across + 1)
            for y in (down - 1, down, down + 1)
            for right in squares.get((x, y), ())
            if (away := math.dist(patch.at, back[right].at)) <= FARTHEST_MM
        }
    return {front[left].id: back[right].id for left, right in cheapest_pairs(costs, ALONE_MM).items()}


def metrics(order: Sequence[Patch], bound_mm2: float, freed: Freed = NOTHING_FREED) -> Metrics:
    """How even an order is, started from what is freed already."""
    scale = _scale(order, freed)
    proportion = scale.front * freed.front_mm2 - scale.back * freed.back_mm2
    plain = freed.front_mm2 - freed.back_mm2
    worst, difference, over = abs(proportion), abs(plain), 0
    for patch in order:
        proportion += scale.step(patch)
        plain += PLAIN.step(patch)
        worst, difference = max(worst, abs(proportion)), max(difference, abs(plain))
        over += abs(proportion) > bound_mm2 + ROUNDING_MM2
    largest = max((patch.area_mm2 for patch in order), default=0.0)
    faces = [face for face in (freed.face, *(patch.face for patch in order)) if face is not None]
    places = [place for place in (freed.at, *(patch.at for patch in order)) if place is not None]
    travel = sum(math.dist(a, b) for a, b in pairwise(places))
    weak = [number for number, patch in enumerate(order) if patch.weak]
    # The same areas summed in another order differ in the last digits, which say nothing.
    worst, difference, plain = round(worst, 3), round(difference, 3), round(plain, 3)
    return Metrics(
        max_imbalance_mm2=worst,
        max_imbalance_patches=round(worst / largest, 6) if largest else 0.0,
        max_difference_mm2=difference,
        final_difference_mm2=plain,
        turns=sum(a != b for a, b in pairwise(faces)),
        fewest_turns=_fewest_turns(order, bound_mm2, freed),
        travel_mm=round(travel, 3),
        travel_per_patch_mm=round(travel / max(1, len(places) - 1), 3),
        weak_position=sum(weak) / len(weak) / max(1, len(order) - 1) if weak else None,
        over_bound=over,
        bound_mm2=bound_mm2,
    )


def _fewest_turns(order: Sequence[Patch], bound_mm2: float, freed: Freed) -> int:
    """Between two turns no more than twice the bound can be freed of what both faces share."""
    if not bound_mm2 or freed.at is not None:
        return 0
    front, back = (sum(patch.area_mm2 for patch in order if patch.face == face) for face in FACES)
    return math.ceil((front + back - abs(front - back)) / (2 * bound_mm2) - 1e-9)


def _scale(patches: Iterable[Patch], freed: Freed) -> _Scale:
    front, back = freed.front_mm2, freed.back_mm2
    for patch in patches:
        front, back = (
            front + patch.area_mm2 * (patch.face == "front"),
            back + patch.area_mm2 * (patch.face == "back"),
        )
    # With tape on one face only there is nothing to balance against: its plain area counts.
    shared = min(front, back) or max(front, back)
    return _Scale(shared / front if front else 0.0, shared / back if back else 0.0)


def _groups(patches: Sequence[Patch], weak: WeakRule) -> list[list[Patch]]:
    if weak == "ignore":
        return [list(patches)]
    firm, frail = ([patch for patch in patches if patch.weak is which] for which in (False, True))
    return [firm, frail] if weak == "last" else [frail, firm]


def _mismatch_mm(a: Patch, b: Patch) -> float:
    """Difference of areas as a length, so that it can be added to a distance."""
    return abs(a.area_mm2 - b.area_mm2) / math.sqrt(max(a.area_mm2, b.area_mm2))


Unit = tuple[Patch, ...]
"""A pair, front first, or a single."""


def _units(group: Sequence[Patch], matched: Mapping[str, str]) -> list[Unit]:
    by_id = {patch.id: patch for patch in group}
    paired = set(matched) | set(matched.values())
    pairs: list[Unit] = [(by_id[front], by_id[back]) for front, back in matched.items()]
    return pairs + [(patch,) for patch in group if patch.id not in paired]


class _Way(NamedTuple):
    """One way through a unit, with the least and most that each of the two imbalances changes on it."""

    unit: int
    patches: Unit
    changes: tuple[tuple[float, float, float], ...]
    """By imbalance: the least, the most, and the last change."""


class _Course:
    """An order as it grows: where work is, on which face, and how far one face is ahead."""

    def __init__(self, patches: Iterable[Patch], scale: _Scale, bound_mm2: float, freed: Freed) -> None:
        self.order: list[Patch] = []
        plain = freed.front_mm2 - freed.back_mm2
        # The plain difference may reach what it comes to in the end, and need not pass it on the way.
        final = plain + sum(map(PLAIN.step, patches))
        self.scales = (scale, PLAIN)
        self.limits = (bound_mm2, max(bound_mm2, abs(final)))
        self.ahead = [scale.front * freed.front_mm2 - scale.back * freed.back_mm2, plain]
        self.at, self.face = freed.at, freed.face

    def add(self, units: list[Unit]) -> None:
        """Append all units of a group, each time the nearest that fits."""
        ways = [
            self._way(number, patches)
            for number, unit in enumerate(units)
            for patches in (unit, unit[::-1])[: len(unit)]
        ]
        while ways:
            taken = min(ways, key=self._rank)
            ways = [way for way in ways if way.unit != taken.unit]
            self.order += taken.patches
            self.ahead = [ahead + last for ahead, (_, _, last) in zip(self.ahead, taken.changes, strict=True)]
            self.at, self.face = taken.patches[-1].at, taken.patches[-1].face

    def _way(self, number: int, patches: Unit) -> _Way:
        changes = []
        for scale in self.scales:
            sums = list(accumulate(map(scale.step, patches)))
            changes.append((min(sums), max(sums), sums[-1]))
        return _Way(number, patches, tuple(changes))

    def _rank(self, way: _Way) -> tuple[float, float, float]:
        """What goes over the limits least, then what is nearest, a turn of the sheet counted as travel."""
        first = way.patches[0]
        # Without a place to go on from, work begins at the top left, where one begins to read.
        away = math.dist(self.at, first.at) if self.at else first.at[0] + first.at[1]
        turn = TURN_MM if self.face is not None and first.face != self.face else 0.0
        over = []
        for ahead, limit, (least, most, _) in zip(self.ahead, self.limits, way.changes, strict=True):
            beyond = max(ahead + most, -ahead - least) - limit
            over.append(beyond if beyond > ROUNDING_MM2 else 0.0)
        return over[0], over[1], away + turn


def _square(at: Point) -> tuple[int, int]:
    """The square of a grid in which a place lies: what is within reach lies in it or in one beside it."""
    return int(at[0] // FARTHEST_MM), int(at[1] // FARTHEST_MM)
