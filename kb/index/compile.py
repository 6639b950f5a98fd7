"""Boil a loaded catalogue down to the numbers of :mod:`kb.index.compiled`."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from itertools import chain, product
from typing import TYPE_CHECKING

import msgspec

from kb.index.compiled import (
    RESPONSE_LOGITS,
    SPHERE,
    CAdhesive,
    CLiquid,
    CMedium,
    Compiled,
    CPrint,
    Foreseen,
    alike,
    as_stored,
    key_of,
)
from kb.index.rows import BARE_PAPER
from kb.model.base import Hansen, best
from kb.model.guidance import Caution, Hazard, Report, carries
from kb.model.liquid import Family, Liquid, Pair, base_code, labelled, meets
from kb.model.material import Adhesive, Carrier, Medium, Method, Paper, Polymer, Stage, Tape
from kb.model.studio import Settings, Shelf
from kb.science.choose.evidence import CARRIER_TERMS
from kb.science.liquids.blends import blend_id, normalise
from kb.science.liquids.solubility import Hsp, distance

if TYPE_CHECKING:
    from kb.catalogue.load import Catalogue

PRINT_TESTS = {"A": 1.5, "B": 1.0, "C": 0.5, "D": 0.25}
"""How many tests one reported outcome counts for, by evidence grade. This project's own figures."""
LINGERS_BELOW_KPA = 0.2
"""Vapour pressure at 20 C below which a liquid stays in the sheet and must be cleared. This project's own."""
FLEETING_ABOVE_KPA = 40.0
"""Vapour pressure at 20 C above which a drop is gone before it acts and fills the air. This project's own; of
the liquids that one might lead with it parts pentane from the heptanes."""
WITH_WARMTH = "With warmth: "
"""So begins the sign of an adhesive that tells what warmth does to it."""
NEVER_FIRST = (
    *("H340", "H341", "H350", "H351", "H360", "H361", "H370", "H372", "H373"),
    *("H224", "EUH019", "H420"),
)
"""Statements of long-term effects (cancer, genes, reproduction, organs), of liquids that boil near room
temperature or form explosive peroxides, and of those that the Montreal Protocol took off the market for the
ozone layer's sake: such a liquid never leads where a milder one acts."""
SAME_CUT = 1.5
"""Hansen distance up to which hydrocarbon cuts differ in name only, MPa^0.5. This project's own."""


def _spheres(refs: Iterable[str], polymers: dict[str, Polymer]) -> tuple[SPHERE, ...]:
    """The spheres of these polymers, as far as they are known."""
    found = (polymers[ref].sphere for ref in refs if ref in polymers)
    return tuple((one.d, one.p, one.h, one.r0) for one in found if one is not None)


def _adhesive_spheres(adhesive: Adhesive, polymers: dict[str, Polymer]) -> tuple[SPHERE, ...]:
    """The base polymer's sphere, or those of all blocks; tackifiers come after the base in the list."""
    # The first polymer with a sphere: tackifiers and fillers after it do not hold the tape.
    for ref in adhesive.polymers:
        polymer = polymers.get(ref)
        if polymer is None:
            continue
        # A block copolymer falls apart only if all blocks that tie it together are reached.
        if polymer.needs_all_of:
            return _spheres(polymer.needs_all_of, polymers)
        if polymer.sphere is not None:
            return _spheres((ref,), polymers)
    return ()


def _warmth(adhesive: Adhesive) -> str:
    # By how the catalogue's sentence begins: signs are prose, and only this one is about warmth.
    said = (one.text for one in adhesive.signs if one.text.startswith(WITH_WARMTH))
    return next(said, "").removeprefix(WITH_WARMTH)


def _liquid(
    liquid: Liquid,
    families: dict[str, Family],
    hazards: dict[str, Hazard],
    cautions: Iterable[Caution],
    named: float,
) -> CLiquid:
    family = families.get(liquid.family)
    statements = labelled(liquid)
    # The most severe statement alone: adding up would make a long label of mild ones outweigh a grave one.
    weights = [hazards[base_code(code)].weight for code in statements if base_code(code) in hazards]
    hansen, label, pressure = liquid.hansen, liquid.classification, _pressure(liquid)
    # By the harmonised label: what only suppliers add to one liquid must not put a graver one before it.
    harmonised = () if label is None else (*label.statements, *label.euh)
    return CLiquid(
        liquid.id,
        liquid.name,
        {liquid.id: 1.0},
        None if hansen is None else (hansen.d, hansen.p, hansen.h),
        (family.related or family.id) if family else liquid.family,
        max(weights, default=0.0),
        # Where a molar volume is unknown, the size of the molecule neither helps nor hinders.
        best(liquid.molar_volume_cm3_mol),
        # A pressure that is unknown costs nothing.
        pressure is not None and pressure < LINGERS_BELOW_KPA,
        any(carries(code, harmonised) for code in NEVER_FIRST)
        or (pressure is not None and pressure > FLEETING_ABOVE_KPA),
        named,
        liquid.family,
        family.agent if family else "",
        statements,
        frozenset(caution.id for caution in cautions if meets(caution.when, liquid, family, statements)),
    )


def _pressure(liquid: Liquid) -> float | None:
    # At 25 C it is about a third higher: near enough for two thresholds, and many tables give only that.
    return best(liquid.vapour_pressure_20c_kpa) or best(liquid.vapour_pressure_25c_kpa)


def _reports_by_liquid(reports: Iterable[Report]) -> dict[str, set[str]]:
    """Reports that name each liquid or blend; of a blend, by adhesive too."""
    found: dict[str, set[str]] = {}
    for report in reports:
        for said in report.liquids:
            parts = normalise(said.parts)
            name = blend_id(parts)
            # A liquid is known wherever it is named; a blend, only on the adhesive it was used on.
            key = name if len(parts) == 1 else f"{name}|{report.adhesive or ''}"
            found.setdefault(key, set()).add(report.id)
    return found


def _familiar(
    liquid: Liquid, liquids: Iterable[Liquid], families: dict[str, Family], reports: dict[str, set[str]]
) -> float:
    """Reports that name a liquid, or a hydrocarbon cut alike in all but name: most reports say "benzine"."""
    found = set(reports.get(liquid.id, set()))
    family = families.get(liquid.family)
    hansen = liquid.hansen
    # "Benzine" in a report may be any of these cuts.
    if family is not None and family.cuts and hansen is not None:
        for other in liquids:
            kin = families.get(other.family)
            if kin is None or kin.related != family.related or other.hansen is None:
                continue
            if distance(_hsp(hansen), _hsp(other.hansen)) <= SAME_CUT:
                found |= reports.get(other.id, set())
    return float(len(found))


def _hsp(hansen: Hansen) -> Hsp:
    return hansen.d, hansen.p, hansen.h


def _material(item: Medium | Paper, polymers: dict[str, Polymer], named: float) -> CMedium:
    grades: dict[str, str] = {row.agent: row.grade for row in item.sensitivity}
    if isinstance(item, Paper):
        # Cellulose itself is not what a drop harms first; a paper speaks through its grades alone.
        return CMedium(item.id, item.name, "", (), grades, named)
    spheres = _spheres(item.polymers, polymers)
    kin = "" if item.id == BARE_PAPER else item.kin
    return CMedium(item.id, item.name, kin, spheres, grades, named, item.cured)


def _printed(report: Report) -> Iterator[CPrint]:
    """One row per reported liquid that has an outcome; 'partly' counts neither way."""
    for said in report.liquids:
        # A liquid that worked in part neither speaks for it nor against it.
        release = {"released": True, "not released": False}.get(said.result)
        # Only harm that was reported counts; a report that mentions none may not have looked for any.
        harm = True if said.result == "harm" else None
        if release is None and harm is None:
            continue
        yield CPrint(
            report.id,
            report.adhesive or "",
            report.stage or "",
            report.carrier or "",
            report.medium or "",
            report.paper or "",
            report.method or "",
            blend_id(normalise(said.parts)),
            normalise(said.parts),
            PRINT_TESTS[report.evidence],
            release,
            harm,
        )


def compile_catalogue(catalogue: Catalogue, settings: Settings, shelf: Shelf) -> Compiled:
    """All entries that ranking needs, in catalogue order of ids."""
    polymers: dict[str, Polymer] = catalogue.of("polymers", Polymer)
    families = catalogue.of("families", Family)
    hazards = catalogue.of("hazards", Hazard)
    stages = catalogue.of("stages", Stage)
    carriers = catalogue.of("carriers", Carrier)
    methods = catalogue.of("methods", Method)
    adhesives = {
        a.id: CAdhesive(
            a.id,
            a.name,
            a.group,
            _adhesive_spheres(a, polymers),
            {r.agent: RESPONSE_LOGITS[r.response] for r in a.responses},
            a.fused,
            _warmth(a),
        )
        for a in catalogue.of("adhesives", Adhesive).values()
    }
    cautions = tuple(sorted(catalogue.of("cautions", Caution).values(), key=lambda c: c.id))
    # Sorted by id: the bits and places of vectors follow this order, whatever order the files are read in.
    reports = sorted(catalogue.of("reports", Report).values(), key=lambda report: report.id)
    liquids = sorted(catalogue.of("liquids", Liquid).values(), key=lambda one: one.id)
    naming = _reports_by_liquid(reports)
    # How common a material is weighs it where the question leaves the medium or paper open.
    common = Counter(id for report in reports for id in (report.medium, report.paper) if id)
    compiled = Compiled(
        liquids=tuple(
            _liquid(liquid, families, hazards, cautions, _familiar(liquid, liquids, families, naming))
            for liquid in liquids
        ),
        adhesives=adhesives,
        stages={s.id: s.position for s in stages.values()},
        stage_names={s.id: s.name for s in stages.values()},
        carriers={c.id: c.lets_liquid_through for c in carriers.values()},
        carrier_names={c.id: c.name for c in carriers.values()},
        tapes={t.id: (t.name, t.adhesive, t.carrier) for t in catalogue.of("tapes", Tape).values()},
        media={
            m.id: _material(m, polymers, 1.0 + common[m.id]) for m in catalogue.of("media", Medium).values()
        },
        papers={
            p.id: _material(p, polymers, 1.0 + common[p.id]) for p in catalogue.of("papers", Paper).values()
        },
        methods={m.id: m.contact for m in methods.values()},
        method_names={m.id: m.name for m in methods.values()},
        cautions=cautions,
        printed=tuple(row for report in reports for row in _printed(report)),
        settings=settings,
        shelf=shelf,
        reported={key: float(len(ids)) for key, ids in naming.items() if "|" in key},
        carrier_spheres={
            # The sphere of a partly crystalline film is that of its loose parts; the rest stays.
            c.id: _spheres(c.polymers, {id: one for id, one in polymers.items() if not one.crystalline})
            for c in carriers.values()
            # Paper and cloth carriers let the liquid through; only a film is worth dissolving.
            if c.lets_liquid_through == "film"
        },
        apart=_apart(catalogue.of("pairs", Pair).values(), liquids),
    )
    return msgspec.structs.replace(compiled, foreseen=_foreseen(compiled))


def _apart(pairs: Iterable[Pair], liquids: Sequence[Liquid]) -> dict[str, str]:
    found: dict[str, str] = {}
    for pair in pairs:
        sides = ([one.id for one in liquids if side.holds(one)] for side in (pair.one, pair.other))
        for one, other in product(*sides) if pair.severity == "stop" else ():
            if one != other:
                found.setdefault(" ".join(sorted((one, other))), pair.text)
    return found


def _foreseen(compiled: Compiled) -> Foreseen:
    """Chances by chemistry of each liquid from each adhesive and on each medium, and which liquids are alike.

    What is averaged over all media is left to the question that names none: it would take as long again.
    """
    liquids = [compiled.candidate(one.id, {one.id: 1.0}) for one in compiled.liquids]
    # One method stands for all that bring the liquid alike.
    contacts = {contact: method for method, contact in compiled.methods.items()}
    release = {}
    for adhesive in compiled.adhesives:
        acting = [compiled.acting(adhesive, what) for what in liquids]
        for through, contact in product((*CARRIER_TERMS, ""), contacts):
            chances = chain.from_iterable(one.by_stage(through, contact) for one in acting)
            release[key_of(adhesive, through, contact)] = as_stored(chances)
    harm = {
        key_of(medium, contact): as_stored(compiled.medium_p0(medium, method, what) for what in liquids)
        for medium in compiled.media
        for contact, method in contacts.items()
    }
    # An unknown paper too, which is averaged over all listed.
    paper = {
        one: as_stored(compiled.paper_p0(one, what) for what in liquids) for one in (*compiled.papers, "")
    }
    rows = ((1.0 if one is other else alike(one, other) for other in liquids) for one in liquids)
    return Foreseen(release, harm, paper, as_stored(chain.from_iterable(rows)))
