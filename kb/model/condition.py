"""What a liquid is labelled with, and whether it meets a condition about liquids."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from kb.model.guidance import When
from kb.model.liquid import Family, Liquid


def base_code(statement: str) -> str:
    """``H372 (nervous system)`` -> ``H372``; ``H361f`` -> ``H361``; ``EUH066`` stays."""
    code = statement.split(" ", 1)[0]
    return code if code.startswith("EUH") else code[:4]


FROM_FLASH = "(from its flash point)"
FIRE_CODES = ("H224", "H225", "H226")
FLASH_BELOW_C, FLASH_UP_TO_C, BOILS_UP_TO_C = 23.0, 60.0, 35.0
"""Flammable liquids of category 1 and 2 flash below the first, of category 3 up to the second; category 1
boils at the third at most. Regulation (EC) No 1272/2008, Annex I, 2.6.2, from memory."""


def labelled(liquid: Liquid) -> tuple[str, ...]:
    """Statement codes that apply in practice: the supplier's where given, else the harmonised ones.

    A harmonised entry can be silent about fire: the lowest flash point known here speaks then.
    """
    codes = _printed(liquid)
    if any(carries(code, codes) for code in FIRE_CODES):
        return codes
    found = flammable_by_flash(liquid)
    return (*codes, f"{found} {FROM_FLASH}") if found else codes


def flammable_by_flash(liquid: Liquid) -> str:
    """The statement that the lowest flash point of a liquid asks for; empty above 60 C or if not known."""
    flash = liquid.flash_point_c.least if liquid.flash_point_c else None
    if flash is None or flash > FLASH_UP_TO_C:
        return ""
    if flash >= FLASH_BELOW_C:
        return "H226"
    boils = liquid.boiling_point_c.least if liquid.boiling_point_c else None
    return "H224" if boils is not None and boils <= BOILS_UP_TO_C else "H225"


def _printed(liquid: Liquid) -> tuple[str, ...]:
    if liquid.classification is None:
        return ()
    found = liquid.classification
    if "P" in found.notes and found.supplier_statements:
        codes: Iterable[str] = found.supplier_statements
    else:
        codes = dict.fromkeys((*found.statements, *found.supplier_statements))
    return tuple(codes) + tuple(code for code in found.euh if code not in found.supplier_statements)


def carries(code: str, statements: Iterable[str]) -> bool:
    """Whether a label holds the statement: ``H360`` is met by ``H360FD`` and by ``H360 (...)``."""
    return any(statement.split(" ", 1)[0].startswith(code) for statement in statements)


def meets(when: When, liquid: Liquid, family: Family | None, statements: Sequence[str]) -> bool:
    """Whether a liquid meets every condition of a caution that is about the liquid."""
    families = {liquid.family, family.related if family else liquid.family}
    return (
        (not when.liquids or liquid.id in when.liquids)
        and (not when.families or not families.isdisjoint(when.families))
        and (not when.agents or (family.agent if family else "") in when.agents)
        and (not when.hazards or any(carries(code, statements) for code in when.hazards))
    )
