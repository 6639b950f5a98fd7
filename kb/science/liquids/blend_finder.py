"""Blends of two or three liquids that go into one sphere and stay out of others: exhaustive and exact.

Objective, in this order: the largest harm margin, which is the lowest RED among the spheres to keep out of,
less 1; then the lower hazard; then fewer liquids; then deeper inside the spheres to go into; then the names.
Margins that differ by less than a hundredth count as equal, and all beyond MARGIN_CAP, so that hazard and
simplicity have their say. Every set of liquids is represented by its best composition on the grid.

The order of the objective is a choice of this project. The spheres are Hansen's (see solubility);
what they foresee is a reason to test, not a promise.
"""

import math
from collections.abc import Iterable, Sequence, Set
from typing import NamedTuple

from kb.science.air.exposure import mole_fractions, partial_pressures_kpa
from kb.science.liquids.blend_grid import Grid, Point, Wanted
from kb.science.liquids.miscibility import Mixer, Mixing
from kb.science.liquids.solubility import Hsp, Sphere, distance, red
from kb.science.numbers import ATMOSPHERE_KPA

MARGIN_CAP = 2.0
"""From RED 3 on a liquid is simply outside, as in kb.science.choose.evidence."""


class Candidate(NamedTuple):
    """A liquid on the shelf. None means not known; ``never_flashes`` as in kb.science.air.flammability."""

    id: str
    hansen: Hsp | None
    hazard: float = 0.0
    molar_volume_cm3_mol: float | None = None
    vapour_pressure_kpa: float | None = None
    flash_c: float | None = None
    never_flashes: bool = False
    limit_ppm: float | None = None


class Rules(NamedTuple):
    """What is allowed. Hazard and flash point are judged on every part, not on the average."""

    forbid: frozenset[str] = frozenset()
    max_hazard: float | None = None
    min_flash_c: float | None = None
    step_percent: int = 5
    max_parts: int = 3


class Blend(NamedTuple):
    """One blend, or one pure liquid, with what the objective and the rules look at."""

    parts: tuple[tuple[str, int], ...]
    """Ids and per cent by volume."""
    hansen: Hsp
    margin: float | None
    """Lowest RED to keep out of, less 1; None if there is no such sphere."""
    nearest: str
    """The sphere that sets the margin."""
    inside: tuple[float, ...]
    """RED to each sphere to go into."""
    hazard: float
    flash_c: float | None
    """Lowest flash point of the parts; None if none flashes or one is not known."""
    vapour_index: float | None
    """Vapour hazard ratio, summed over the parts (Raoult); None if a figure is missing."""


class Refusal(NamedTuple):
    """A liquid, or a pair, that was left out, and why."""

    ids: tuple[str, ...]
    why: str


EVERYTHING = Rules()
"""No rule but the grid of 5 % and three parts at most."""


class Found(NamedTuple):
    """The blends, best first, and what was left out."""

    blends: tuple[Blend, ...]
    refused: tuple[Refusal, ...]


class Gain(NamedTuple):
    """What a blend gains over a pure liquid. Positive margin, flash point and negative hazard are gains."""

    replaces: str
    distance: float
    """Hansen's distance between the two, MPa^0.5."""
    margin: float | None
    hazard: float
    flash_c: float | None
    vapour_index_ratio: float | None
    """Vapour hazard ratio of the blend over that of the pure liquid; below 1 is a gain."""


def find(
    liquids: Sequence[Candidate],
    into: Sequence[Sphere],
    out_of: Sequence[Sphere],
    rules: Rules = EVERYTHING,
    mixing: Mixing | None = None,
    count: int = 10,
    first: Set[str] = frozenset(),
) -> Found:
    """The best blends of two to ``rules.max_parts`` liquids, one for each set of liquids.

    Before the best ``count`` of all come as many of the liquids of ``first`` alone. Every composition on
    the grid of ``rules.step_percent`` is judged, by bounds where that is certain. Without ``mixing`` all
    liquids are taken to mix. Raises ValueError for no sphere to go into, a step that does not divide 100, a
    sphere of no size, liquids named twice, or other than 2 to 3 parts.
    """
    _check(liquids, into, out_of, rules, count)
    allowed, refused = _allowed(liquids, rules)
    grid = Grid(
        places=[_hansen(one) for one in allowed],
        into=[(sphere.centre, sphere.r0) for sphere in into],
        out_of=[(sphere.centre, sphere.r0) for sphere in out_of],
        steps=100 // rules.step_percent,
        margin_cap=MARGIN_CAP,
    )
    mixer = Mixer([one.id for one in allowed], mixing)
    # Pairs that part into layers are ruled out before any set is formed.
    refused += [Refusal(pair, "they part company") for pair in mixer.rule_out(grid.steps)]
    hazards = [one.hazard for one in allowed]
    wanted = Wanted(hazards, rules.max_parts, mixer.possible, mixer.mixes, count)
    best = grid.best(wanted, [number for number, one in enumerate(allowed) if one.id in first])
    return Found(tuple(_blend(allowed, point, into, out_of) for point in best), tuple(refused))


def judge(parts: Sequence[tuple[Candidate, int]], into: Sequence[Sphere], out_of: Sequence[Sphere]) -> Blend:
    """One blend, or one pure liquid, as find() sees it, whether or not it is allowed or goes inside.

    ``parts`` are liquids and per cent by volume. Raises ValueError if these do not sum to 100 or Hansen
    parameters are missing.
    """
    if sum(percent for _, percent in parts) != 100 or any(percent <= 0 for _, percent in parts):
        raise ValueError(f"the shares of a blend must sum to 100 %: {[percent for _, percent in parts]}")
    # By id, so that the same blend typed in another order is judged the same to the last digit.
    ordered = sorted(parts, key=lambda part: part[0].id)
    liquids = [liquid for liquid, _ in ordered]
    counts = tuple(percent for _, percent in ordered)
    point = Point(tuple(range(len(liquids))), counts)
    return _blend(liquids, point, into, out_of)


def gain(
    blend: Blend, liquids: Iterable[Candidate], into: Sequence[Sphere], out_of: Sequence[Sphere]
) -> Gain | None:
    """The pure liquid that a blend could stand in for, and what that gains; None if there is none.

    That is the nearest pure liquid that goes into the same spheres, lies less far from what must be kept
    out of or is more hazardous, and is no part of the blend. Forbidden liquids count: they are what one
    wishes to replace.
    """
    own = {name for name, _ in blend.parts}
    near = [
        (distance(liquid.hansen, blend.hansen), liquid.id, liquid)
        for liquid in liquids
        if liquid.hansen is not None and liquid.id not in own
    ]
    # By distance, then by id: two at one distance must not change places between runs. Few are judged then.
    for apart, name, liquid in sorted(near, key=lambda rival: rival[:2]):
        if any(red(_hansen(liquid), one.centre, one.r0) > 1.0 for one in into):
            continue
        pure = judge([(liquid, 100)], into, out_of)
        if pure.hazard > blend.hazard or (
            pure.margin is not None and blend.margin is not None and pure.margin < blend.margin
        ):
            return _over(blend, pure, name, apart)
    return None


def _over(blend: Blend, pure: Blend, name: str, apart: float) -> Gain:
    """What a blend gains over a pure liquid of that id, at this distance."""
    return Gain(
        replaces=name,
        distance=apart,
        margin=_less(blend.margin, pure.margin),
        hazard=blend.hazard - pure.hazard,
        flash_c=_less(blend.flash_c, pure.flash_c),
        vapour_index_ratio=(
            blend.vapour_index / pure.vapour_index
            if blend.vapour_index is not None and pure.vapour_index
            else None
        ),
    )


def vapour_kpa(liquids: Sequence[Candidate], shares: Sequence[float]) -> tuple[float, ...] | None:
    """Vapour pressure of each part over a blend, by Raoult's law; None if a figure for it is not known."""
    pressures = [one.vapour_pressure_kpa for one in liquids if one.vapour_pressure_kpa is not None]
    volumes = [one.molar_volume_cm3_mol for one in liquids if one.molar_volume_cm3_mol is not None]
    if not len(pressures) == len(volumes) == len(liquids):
        return None
    return partial_pressures_kpa(mole_fractions(shares, volumes), pressures)


def vapour_index(liquids: Sequence[Candidate], shares: Sequence[float]) -> float | None:
    """Vapour hazard ratio of a blend: saturated concentration over limit, summed over the parts.

    For one authority; None if a vapour pressure, molar volume or limit is not known.
    """
    partial = vapour_kpa(liquids, shares)
    limits = [one.limit_ppm for one in liquids if one.limit_ppm is not None]
    # One figure missing makes the sum a lower bound that looks like a figure.
    if partial is None or len(limits) < len(liquids):
        return None
    return math.fsum(1e6 * p / ATMOSPHERE_KPA / limit for p, limit in zip(partial, limits, strict=True))


def _check(
    liquids: Sequence[Candidate], into: Sequence[Sphere], out_of: Sequence[Sphere], rules: Rules, count: int
) -> None:
    if not into:
        raise ValueError("a blend is looked for inside at least one sphere, and none was given")
    for sphere in (*into, *out_of):
        if not 0 < sphere.r0 < math.inf:
            raise ValueError(f"the radius of {sphere.name} must be above zero, not {sphere.r0}")
    if not 1 <= rules.step_percent <= 50 or 100 % rules.step_percent:
        raise ValueError(f"the step must divide 100 %, not be {rules.step_percent}")
    if not 2 <= rules.max_parts <= 3:
        raise ValueError(f"blends of 2 or 3 parts are looked for, not of {rules.max_parts}")
    if count < 1:
        raise ValueError(f"at least one blend must be asked for, not {count}")
    if len({one.id for one in liquids}) < len(liquids):
        raise ValueError("a liquid stands on the shelf twice")


def _allowed(liquids: Sequence[Candidate], rules: Rules) -> tuple[list[Candidate], list[Refusal]]:
    """The liquids that may be used, by id, and the others with the first reason against them."""
    allowed, refused = [], []
    # By id: which of two equal blends is found first must not depend on the order of the shelf.
    for liquid in sorted(liquids, key=lambda one: one.id):
        why = _reason(liquid, rules)
        if why:
            refused.append(Refusal((liquid.id,), why))
        else:
            allowed.append(liquid)
    return allowed, refused


def _reason(liquid: Candidate, rules: Rules) -> str:
    if liquid.id in rules.forbid:
        return "not allowed here"
    if liquid.hansen is None:
        return "its Hansen parameters are not known here"
    if rules.max_hazard is not None and liquid.hazard > rules.max_hazard:
        return "more hazardous than allowed"
    if rules.min_flash_c is not None and not liquid.never_flashes:
        if liquid.flash_c is None:
            return "its flash point is not known here"
        if liquid.flash_c < rules.min_flash_c:
            return f"it flashes at {liquid.flash_c:g} °C, below {rules.min_flash_c:g} °C"
    return ""


def _hansen(liquid: Candidate) -> Hsp:
    if liquid.hansen is None:
        raise ValueError(f"the Hansen parameters of {liquid.id} are not known here")
    return liquid.hansen


def _blend(
    liquids: Sequence[Candidate], point: Point, into: Sequence[Sphere], out_of: Sequence[Sphere]
) -> Blend:
    used = [liquids[i] for i in point.members]
    total = sum(point.counts)
    hansens = [_hansen(one) for one in used]
    d, p, h = (
        math.fsum(count * hansen[axis] for count, hansen in zip(point.counts, hansens, strict=True)) / total
        for axis in range(3)
    )
    reds = [(red((d, p, h), sphere.centre, sphere.r0), sphere.name) for sphere in out_of]
    lowest, nearest = min(reds) if reds else (None, "")
    flashes = [one.flash_c for one in used if one.flash_c is not None]
    # A blend flashes at its lowest part; with one part unknown that is not known.
    sure = all(one.flash_c is not None or one.never_flashes for one in used)
    return Blend(
        parts=tuple((one.id, count * 100 // total) for one, count in zip(used, point.counts, strict=True)),
        hansen=(d, p, h),
        margin=None if lowest is None else lowest - 1.0,
        nearest=nearest,
        inside=tuple(red((d, p, h), sphere.centre, sphere.r0) for sphere in into),
        hazard=max(one.hazard for one in used),
        flash_c=min(flashes) if flashes and sure else None,
        vapour_index=vapour_index(used, point.counts),
    )


def _less(a: float | None, b: float | None) -> float | None:
    return None if a is None or b is None else a - b
