"""Liquids: solvents, water, and what is known of their behaviour and dangers.

Which liquids part company, which are known to mix, and which pairs are dangerous; what a liquid is labelled
with, and whether it meets a condition about liquids.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Literal

import msgspec

from kb.model.base import Claim, Figure, Hansen, Named, Record, Sources, Teas
from kb.model.guidance import When, carries


class WaterMixing(Record, frozen=True, kw_only=True):
    """How the liquid mixes with water; solubility in g per litre where measured."""

    text: str
    solubility_g_l: float | None = None
    temp_c: str = ""
    sources: Sources = msgspec.field(name="from")


class ExposureLimit(Record, frozen=True, kw_only=True):
    """One authority's limit for the air of a workplace. None means: not printed there."""

    authority: str
    """Id in data/air/authorities.yaml."""
    list_name: str
    year: int | None = None
    """Year of the edition that the figure is from; None: the list is undated."""
    twa_ppm: float | None = None
    twa_mg_m3: float | None = None
    short_term_ppm: float | None = None
    short_term_mg_m3: float | None = None
    ceiling_ppm: float | None = None
    skin: bool = False
    verified: bool
    """True if the figure was read in the authority's text or a faithful copy of it."""
    note: str = ""
    sources: Sources = msgspec.field(name="from")


class Evaluation(Record, frozen=True, kw_only=True):
    """What a body that judges evidence says of cancer. A label may be silent where this is not."""

    body: str
    """IARC, US NTP ..."""
    group: str
    """Its own group, such as ``2B`` or ``reasonably anticipated``."""
    words: str
    year: int | None = None
    note: str = ""
    sources: Sources = msgspec.field(name="from")


class Classification(Record, frozen=True, kw_only=True):
    """Hazard classification and labelling of the pure liquid."""

    statements: tuple[str, ...]
    """GHS statement codes with any suffix or organ, e.g. ``H336`` or ``H372 (nervous system)``."""
    supplier_statements: tuple[str, ...] = ()
    """Codes that suppliers usually print where the harmonised entry is silent or does not fit."""
    supplier_sources: Sources = ()
    euh: tuple[str, ...] = ()
    classes: tuple[str, ...] = ()
    pictograms: tuple[str, ...] = ()
    signal_word: str = ""
    index_no: str = ""
    notes: tuple[str, ...] = ()
    note: str = ""
    sources: Sources = msgspec.field(name="from")


class Liquid(Named, frozen=True, kw_only=True):
    """A pure liquid or a commercial cut. Figures that nobody printed are absent, never guessed."""

    shared_names: tuple[str, ...] = ()
    """What people call this and another liquid too: such a name is asked about and never taken."""
    family: str
    """Id in data/materials/families.yaml."""
    cas: str = ""
    cas_sources: Sources = ()
    molar_mass_g_mol: Figure | None = None
    density_g_ml: Figure | None = None
    hansen: Hansen | None = None
    molar_volume_cm3_mol: Figure | None = None
    teas: Teas | None = None
    boiling_point_c: Figure | None = None
    vapour_pressure_20c_kpa: Figure | None = None
    vapour_pressure_25c_kpa: Figure | None = None
    evaporation_rate_butyl_acetate_1: Figure | None = None
    """Relative evaporation rate, n-butyl acetate = 1, larger is faster."""
    flash_point_c: Figure | None = None
    lower_explosive_limit_vol_pct: Figure | None = None
    upper_explosive_limit_vol_pct: Figure | None = None
    water: WaterMixing | None = None
    limits: tuple[ExposureLimit, ...] = ()
    classification: Classification | None = None
    evaluations: tuple[Evaluation, ...] = ()
    restrictions: tuple[Claim, ...] = ()
    handling: tuple[Claim, ...] = ()


class Family(Record, frozen=True, kw_only=True):
    """A chemical family of liquids, and which column of a medium's sensitivity table it reads."""

    id: str
    name: str
    agent: str = ""
    """water, ethanol, acetone, aromatics, aliphatics; empty if no column speaks for the family."""
    related: str = ""
    """A wider group; liquids of one group are called same family by the similarity measure."""
    cuts: bool = False
    """Its liquids are cuts of petroleum alike in all but name, so that a report on one knows its like."""
    masks: bool = False
    """It keeps other liquids off a sheet more than it lifts anything."""
    note: str = ""
    sources: Sources = msgspec.field(name="from")


class MixSide(Record, frozen=True, kw_only=True):
    """One side of a pair: liquids by id, families, or both; any of them against any of the other side.

    ``hazards``: what is labelled so too, of whatever family but those of ``without``.
    """

    liquids: tuple[str, ...] = ()
    families: tuple[str, ...] = ()
    hazards: tuple[str, ...] = ()
    without: tuple[str, ...] = ()

    def holds(self, liquid: Liquid) -> bool:
        """Whether a liquid is on this side."""
        if liquid.id in self.liquids or liquid.family in self.families:
            return True
        if not self.hazards or liquid.family in self.without:
            return False
        return any(carries(code, labelled(liquid)) for code in self.hazards)


class Miscibility(Record, frozen=True, kw_only=True):
    """What is known of mixing, near 20 C. The row that names the pair most narrowly counts.

    ``mixes`` True: in every proportion. False: the two part while ``one`` makes up from ``low`` to ``high``
    of both by volume (0 to 1); between ``high`` and ``doubtful_to`` it is not known.
    """

    id: str
    one: MixSide
    other: MixSide
    mixes: bool
    low: float = 0.0
    high: float = 1.0
    doubtful_to: float = 0.0
    text: str
    sources: Sources = msgspec.field(name="from")


class Pair(Record, frozen=True, kw_only=True):
    """Two that must not meet, or do more harm together: any of ``one`` with any of ``other``.

    ``other`` may be empty where the second is no liquid of the catalogue: ``beside`` then says in words what
    it is (an alkali, hydrogen peroxide). ``text`` is read by whoever holds either of the two, so it names
    both.
    """

    id: str
    severity: Literal["stop", "warn"]
    one: MixSide
    other: MixSide = msgspec.field(default_factory=MixSide)
    beside: str = ""
    text: str
    sources: Sources = msgspec.field(name="from")


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


def meets(when: When, liquid: Liquid, family: Family | None, statements: Sequence[str]) -> bool:
    """Whether a liquid meets every condition of a caution that is about the liquid."""
    families = {liquid.family, family.related if family else liquid.family}
    return (
        (not when.liquids or liquid.id in when.liquids)
        and (not when.families or not families.isdisjoint(when.families))
        and (not when.agents or (family.agent if family else "") in when.agents)
        and (not when.hazards or any(carries(code, statements) for code in when.hazards))
    )
