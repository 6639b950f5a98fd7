"""Which liquids of the catalogue part company: the sourced pairs, and what each says of water."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence

from kb.desk.materials.names import Names
from kb.desk.materials.physical import all_records, liquid_of
from kb.desk.studio import Studio
from kb.index.queries import records
from kb.model.liquid import Liquid, Miscibility, MixSide, Pair
from kb.science.liquids.miscibility import (
    MIX,
    WATER,
    Gap,
    MixingTable,
    check_gap,
    gap_with_water,
    parts_company,
)


def mixing_table(studio: Studio) -> MixingTable:
    """The table as kb.science.liquids.miscibility asks it; kept until the catalogue changes."""
    return studio.compiled.kept("mixing", None, lambda: _table(studio))


def parting(studio: Studio, parts: Mapping[str, float]) -> tuple[tuple[str, str, bool | None], ...]:
    """Pairs of a blend that part company at these shares (True), or of which it is not known (None)."""
    table = mixing_table(studio)
    said = (
        (one, two, parts_company(table, one, two, share_one, share_two))
        for (one, share_one), (two, share_two) in itertools.combinations(parts.items(), 2)
    )
    return tuple(row for row in said if row[2] is not False)


def parting_words(studio: Studio, parts: Mapping[str, float]) -> tuple[str, ...]:
    """A sentence for each pair of :func:`parting`."""
    names = Names(studio)
    said = []
    for one, two, parts_company_here in parting(studio, parts):
        pair = f"{names.of('liquid', one)} and {names.of('liquid', two)}"
        if parts_company_here:
            said.append(f"{pair} part company at these shares: this is not one liquid.")
        elif not danger_words(studio, {one: 1.0, two: 1.0}):
            said.append(f"It is not known here whether {pair} mix: shake a little in a tube first.")
    return tuple(said)


def dangerous_pairs(studio: Studio) -> tuple[Pair, ...]:
    """Every pair of the catalogue that must not meet; kept until the catalogue changes."""
    return studio.compiled.kept(
        "dangerous pairs", None, lambda: tuple(records(studio.index.conn, "pair", Pair))
    )


def pairs_met(studio: Studio, liquids: Sequence[Liquid]) -> tuple[Pair, ...]:
    """Dangerous pairs of which both sides are in one blend."""
    return tuple(
        pair
        for pair in dangerous_pairs(studio)
        if any(
            one.id != other.id and pair.one.holds(one) and pair.other.holds(other)
            for one, other in itertools.permutations(liquids, 2)
        )
    )


def pairs_to_avoid(studio: Studio, liquids: Sequence[Liquid]) -> tuple[Pair, ...]:
    """Dangerous pairs of which at least one side is here, whichever it is."""
    return tuple(
        pair
        for pair in dangerous_pairs(studio)
        if any(side.holds(liquid) for side in (pair.one, pair.other) for liquid in liquids)
    )


def kept_apart(studio: Studio) -> Mapping[tuple[str, str], str]:
    """Why two liquids must not be in one blend, by their ids in either order; kept until the catalogue
    changes."""

    def found() -> dict[tuple[str, str], str]:
        apart = [(*pair.split(), text) for pair, text in studio.compiled.apart.items()]
        return {order: text for one, other, text in apart for order in ((one, other), (other, one))}

    return studio.compiled.kept("kept apart", None, found)


def danger_words(studio: Studio, parts: Mapping[str, float]) -> tuple[str, ...]:
    """A loud line for each dangerous pair that a blend brings together."""
    liquids = [found for part in parts if (found := liquid_of(studio, part)) is not None]
    return tuple(
        f"{'STOP' if pair.severity == 'stop' else 'WARNING'}, both are in this blend: {pair.text}"
        for pair in pairs_met(studio, liquids)
    )


def _table(studio: Studio) -> MixingTable:
    liquids = all_records(studio)
    rows = records(studio.index.conn, "miscibility", Miscibility)
    return MixingTable(
        names={one.id: (one.id, one.family) for one in liquids},
        pairs={pair: gap for row in rows for pair, gap in pairs_of(row).items()},
        with_water={one.id: gap for one in liquids if one.id != WATER and (gap := _water(one)) is not None},
    )


def pairs_of(row: Miscibility) -> dict[tuple[str, str], Gap]:
    """Every pair of names that a row speaks of, with its gap seen from the first."""
    gap = MIX if row.mixes else check_gap(Gap(row.low, row.high, row.doubtful_to))
    return dict.fromkeys(itertools.product(_names(row.one), _names(row.other)), gap)


def _names(side: MixSide) -> tuple[str, ...]:
    return (*side.liquids, *side.families)


def _water(liquid: Liquid) -> Gap | None:
    if liquid.water is None:
        return None
    density = liquid.density_g_ml.best if liquid.density_g_ml else None
    return gap_with_water(liquid.water.text, liquid.water.solubility_g_l, density)
