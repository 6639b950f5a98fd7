"""Which liquids part company, from a table of pairs and from how each mixes with water.

The table is data: see MixingTable for its shape. What neither a row nor a rule covers is not known, and
None; it is never guessed that two liquids mix. Temperatures near 20 C: many pairs that part when cold mix
when warm, and the other way round. A third liquid can bring two together; pairs are judged on their own,
which errs towards refusing.
"""

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from functools import cache
from typing import NamedTuple

from kb.science.numbers import above_zero, share, zero_or_more

WATER = "water"
FULLY = "mixes with water in every proportion"
"""The catalogue's words (Liquid.water.text) for a liquid that water never parts from."""
PARTLY = "mixes with water in part"
"""The words for a liquid that also takes up much water itself, how much is not known."""

Mixing = Callable[[str, str, float, float], bool | None]
"""Whether two liquids part company at two shares by volume; None if not known.

Two proportions that part, or are not known, leave none between them that mixes: see Gap."""


class Gap(NamedTuple):
    """Two liquids part while the first makes up from ``low`` to ``high`` of the two, by volume.

    Between ``high`` and ``doubtful_to`` it is not known.
    """

    low: float
    high: float
    doubtful_to: float = 0.0


MIX = Gap(1.0, 1.0)
"""They mix in every proportion."""
PART = Gap(0.0, 1.0)
"""They part at every share that can be measured out."""


class MixingTable(NamedTuple):
    """What is known of mixing.

    ``names``: for each liquid its id, then wider names it also goes by (family, group), narrowest first.
    ``pairs``: for two names of either kind the gap, seen from the first; the narrowest row counts.
    ``with_water``: for each liquid the gap with water, seen from the liquid; a row in ``pairs`` goes first.
    """

    names: Mapping[str, Sequence[str]]
    pairs: Mapping[tuple[str, str], Gap]
    with_water: Mapping[str, Gap]


def gap_with_water(text: str, solubility_g_l: float | None, density_g_ml: float | None) -> Gap | None:
    """The gap with water, seen from the liquid, from the catalogue's words and the solubility in water.

    A liquid that mixes in part is taken to part from its solubility up to half and half; beyond that it
    takes up water itself, how much is not known here. One that is less soluble is taken to part all the
    way. None if nothing is said. Volumes are taken to add up.
    """
    if not text.strip():
        return None
    if text == FULLY:
        return MIX
    low = 0.0
    if solubility_g_l is not None and density_g_ml is not None:
        dissolved_ml = zero_or_more(solubility_g_l, "the solubility in g/l") / above_zero(
            density_g_ml, "the density in g/ml"
        )
        low = dissolved_ml / (1000.0 + dissolved_ml)
    if text == PARTLY:
        return Gap(min(low, 0.5), 0.5, 1.0)
    return Gap(low, 1.0)


def parts_company(table: MixingTable, a: str, b: str, share_a: float, share_b: float) -> bool | None:
    """Whether two liquids part at these shares by volume, of which only the proportion matters.

    None if not known. Raises ValueError for a negative share or none of both.
    """
    zero_or_more(share_a, f"the share of {a}")
    zero_or_more(share_b, f"the share of {b}")
    above_zero(share_a + share_b, "the shares of two liquids together")
    row = _narrowest(table, (a, _ranked(table, a)), (b, _ranked(table, b)))
    return _parts(row, a, b, share_a / (share_a + share_b))


def mixing_by(table: MixingTable) -> Mixing:
    """parts_company for one table, as kb.science.liquids.blend_finder.find takes it."""
    # A finder asks of each pair at many shares, and the row is the same for all of them.
    told = {name for pair in table.pairs for name in pair}

    @cache
    def named(one: str) -> tuple[str, list[tuple[int, str]]]:
        return one, [rank for rank in _ranked(table, one) if rank[1] in told]

    @cache
    def rows(a: str, b: str) -> tuple[Gap, str] | None:
        return _narrowest(table, named(a), named(b))

    def ask(a: str, b: str, share_a: float, share_b: float) -> bool | None:
        return _parts(rows(a, b), a, b, share_a / (share_a + share_b))

    return ask


def check_gap(gap: Gap) -> Gap:
    """The gap itself. Raises ValueError if it does not run from less to more within 0 to 1."""
    share(gap.low, "the lower end of a gap")
    share(gap.high, "the upper end of a gap")
    if gap.low > gap.high or not 0 <= gap.doubtful_to <= 1:
        raise ValueError(f"a gap must run from less to more, within 0 to 1: {tuple(gap)}")
    return gap


def _parts(row: tuple[Gap, str] | None, a: str, b: str, part: float) -> bool | None:
    """Whether a part of ``a`` in the two lies in the gap of their row."""
    if a == b or part in (0.0, 1.0):
        return False
    if row is None:
        return None
    gap, first = row
    part = part if first == a else 1.0 - part
    if gap.low < part < gap.high:
        return True
    return None if gap.high <= part < gap.doubtful_to else False


def _ranked(table: MixingTable, liquid: str) -> list[tuple[int, str]]:
    """The names of a liquid, each with how wide it is."""
    return list(enumerate(table.names.get(liquid, (liquid,))))


def _narrowest(
    table: MixingTable, first: tuple[str, list[tuple[int, str]]], second: tuple[str, list[tuple[int, str]]]
) -> tuple[Gap, str] | None:
    """The gap by the row with the narrowest names, else by the rule of water, and whom it is seen from."""
    (a, names_a), (b, names_b) = first, second
    pairs = table.pairs
    # Written out: a finder asks of every two liquids on the shelf, and of most there is no row.
    found: list[tuple[int, int, Gap, str]] = []
    for i, one in names_a:
        for j, two in names_b:
            if (one, two) in pairs:
                found.append((i + j, i, pairs[one, two], a))
            if (two, one) in pairs:
                found.append((i + j, i, pairs[two, one], b))
    if found:
        _, _, gap, seen_from = min(found, key=lambda row: row[:2])
        return gap, seen_from
    for liquid, other in ((a, b), (b, a)):
        if other == WATER and liquid in table.with_water:
            return table.with_water[liquid], liquid
    return None


class Mixer:
    """Which sets and compositions mix, each pair asked once per proportion."""

    def __init__(self, ids: Sequence[str], mixing: Mixing | None) -> None:
        self._ids = list(ids)
        self._mixing = mixing
        self._known: dict[tuple[int, int, int, int], bool | None] = {}
        self._never: set[tuple[int, int]] = set()

    def rule_out(self, steps: int) -> list[tuple[str, str]]:
        """Leave out every pair that no proportion on the grid allows, and give these pairs."""
        pairs = itertools.combinations(range(len(self._ids)), 2)
        ends = ((1, steps - 1), (steps - 1, 1))
        self._never = {pair for pair in pairs if self._parts_always(*pair, ends)}
        return [(self._ids[i], self._ids[j]) for i, j in sorted(self._never)]

    def possible(self, members: tuple[int, ...]) -> bool:
        """Whether no pair of the set was ruled out."""
        # Most sets that are asked of are pairs.
        if len(members) == 2:
            return members not in self._never
        return not self._never or self._never.isdisjoint(itertools.combinations(members, 2))

    def mixes(self, members: tuple[int, ...], counts: tuple[int, ...]) -> bool:
        """Whether no pair parts at these shares."""
        if self._mixing is None:
            return True
        pairs = itertools.combinations(zip(members, counts, strict=True), 2)
        # Of which it is not known may be combined: it is said with the blend.
        return not any(self._parts(i, j, a, b) for (i, a), (j, b) in pairs)

    def _parts_always(self, i: int, j: int, ends: Sequence[tuple[int, int]]) -> bool:
        # Few pairs part at equal shares; only those are asked at the ends, between which none mixes then.
        if self._mixing is None:
            return False
        parts = self._known[i, j, 1, 1] = self._mixing(self._ids[i], self._ids[j], 0.5, 0.5)
        return bool(parts) and all(self._parts(i, j, *counts) for counts in ends)

    def _parts(self, i: int, j: int, a: int, b: int) -> bool | None:
        common = math.gcd(a, b)
        key = (i, j, a // common, b // common)
        if key not in self._known and self._mixing is not None:
            self._known[key] = self._mixing(self._ids[i], self._ids[j], a / (a + b), b / (a + b))
        return self._known.get(key, False)
