"""What a liquid is labelled with, and whether it meets a condition about liquids."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from kb.model.guidance import When
from kb.model.liquid import Family, Liquid


def base_code(statement: str) -> str:
    """``H372 (nervous system)`` -> ``H372``; ``H361f`` -> ``H361``; ``EUH066`` stays."""
    code = statement.split(" ", 1)[0]
    return code if code.startswith("EUH") else code[:4]


def labelled(liquid: Liquid) -> tuple[str, ...]:
    """Statement codes that apply in practice: the supplier's where given, else the harmonised ones."""
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
