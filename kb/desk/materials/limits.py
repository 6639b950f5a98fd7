"""Exposure limits as figures: which authority's, and whether anybody read them in its list."""

from __future__ import annotations

from collections.abc import Iterable

from kb.desk.errors import DeskError
from kb.desk.materials.physical import Physical
from kb.desk.materials.reading_words import limit_words
from kb.desk.studio import Studio
from kb.index.queries import records
from kb.model.protection import Authority
from kb.model.question import Plain
from kb.science.numbers import EU_PRESSURE_KPA, EU_TEMP_C, mg_m3_to_ppm, ppm_to_mg_m3

NONE_KNOWN = "no limit known here"
UNVERIFIED = "unverified: check the current list"


class Limit(Plain, frozen=True, kw_only=True):
    """The strictest figures of one authority for one liquid, in mg/m3 of air. None: not known, never zero.

    ``verified`` is True only if every figure used was read in the list or a faithful copy of it.
    """

    authority: str
    liquid: str
    name: str
    twa_mg_m3: float | None
    twa_ppm: float | None
    short_term_mg_m3: float | None
    ceiling_mg_m3: float | None
    skin: bool
    verified: bool
    text: str


def limit_of(liquid: Physical, authority: str) -> Limit:
    """What an authority allows. Where it has several rows, each figure is the strictest of them.

    ppm and mg/m3 of a row are both used if printed; a missing one is computed at 20 C and 101.3 kPa, on
    which European lists rest (others: 25 C, a difference of under 2 %). Where a list averages over up to
    10 h, an 8-hour average of the same day is the higher of the two, so that comparing it is cautious.
    """
    rows = [row for row in liquid.record.limits if row.authority == authority]
    mass = liquid.molar_mass_g_mol
    twa_mg = _strictest(_mg(row.twa_mg_m3, row.twa_ppm, mass) for row in rows)
    ppms = [row.twa_ppm for row in rows if row.twa_ppm is not None]
    twa_ppm = min(ppms) if ppms else None
    if twa_ppm is None and twa_mg is not None and mass is not None:
        twa_ppm = mg_m3_to_ppm(twa_mg, mass, EU_TEMP_C, EU_PRESSURE_KPA)
    return Limit(
        authority=authority,
        liquid=liquid.id,
        name=liquid.name,
        twa_mg_m3=twa_mg,
        twa_ppm=twa_ppm,
        short_term_mg_m3=_strictest(_mg(row.short_term_mg_m3, row.short_term_ppm, mass) for row in rows),
        ceiling_mg_m3=_strictest(_mg(None, row.ceiling_ppm, mass) for row in rows),
        skin=any(row.skin for row in rows),
        verified=bool(rows) and all(row.verified for row in rows),
        text="; ".join(limit_words(row) for row in rows) or f"{authority}: {NONE_KNOWN}",
    )


def authorities(liquids: Iterable[Physical], chosen: str) -> tuple[str, ...]:
    """The studio's authority, or where none is chosen all that print a limit for any of the liquids."""
    if chosen:
        return (chosen,)
    return tuple(sorted({row.authority for liquid in liquids for row in liquid.record.limits}))


def chosen_authority(studio: Studio) -> str:
    """Id of the authority that studio.yaml names, by id or usual name; empty if none is chosen.

    Raises DeskError for a name that is not known: with a slip of the pen there, every limit would be missing.
    """
    wanted = studio.settings.authority
    return authority_of(studio, wanted) if wanted else ""


def authority_of(studio: Studio, wanted: str) -> str:
    """Id of the authority that bears a name. Raises DeskError, with the nearest, where none does."""
    found, problem = resolve_authority(wanted, records(studio.index.conn, "authority", Authority))
    if problem:
        raise DeskError(problem)
    return found


def resolve_authority(wanted: str, known: Iterable[Authority]) -> tuple[str, str]:
    """Id of an authority for what was written in studio.yaml, or else the problem in one sentence."""
    ids = {name.casefold(): row.id for row in known for name in (row.id, *row.also)}
    found = ids.get(wanted.strip().casefold(), "")
    if found:
        return found, ""
    from kb.catalogue.problems import nearest

    near = ids.get(nearest(wanted.casefold(), ids), "")
    hint = f"did you mean {near}?" if near else f"known are {', '.join(sorted(set(ids.values())))}."
    return "", f'studio.yaml: there is no authority "{wanted}"; {hint}'


def _mg(mg_m3: float | None, ppm: float | None, molar_mass: float | None) -> float | None:
    if mg_m3 is not None or ppm is None or molar_mass is None:
        return mg_m3
    return ppm_to_mg_m3(ppm, molar_mass, EU_TEMP_C, EU_PRESSURE_KPA)


def _strictest(values: Iterable[float | None]) -> float | None:
    kept = [one for one in values if one is not None and one > 0]
    return min(kept) if kept else None
