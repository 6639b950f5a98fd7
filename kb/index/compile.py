"""Boil a loaded catalogue down to the numbers of :mod:`kb.index.compiled`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from kb.index.compiled import (
    RESPONSE_LOGITS,
    SENSITIVITY_LOGITS,
    SPHERE,
    CAdhesive,
    CLiquid,
    CMedium,
    Compiled,
    CPrint,
)
from kb.model.condition import base_code, labelled, meets
from kb.model.guidance import Caution, Hazard, Report
from kb.model.liquid import Family, Liquid
from kb.model.material import Adhesive, AgentSensitivity, Carrier, Medium, Method, Paper, Polymer, Stage, Tape
from kb.model.settings import Settings
from kb.model.shelf import Shelf
from kb.science.liquids.blends import blend_id, normalise

if TYPE_CHECKING:
    from kb.catalogue.load import Catalogue

PRINT_TESTS = {"A": 1.5, "B": 1.0, "C": 0.5, "D": 0.25}
"""How many tests one reported outcome counts for, by evidence grade. This project's own figures."""


def _sphere(polymer: Polymer) -> tuple[SPHERE, ...]:
    one = polymer.sphere
    return () if one is None else ((one.d, one.p, one.h, one.r0),)


def _adhesive_spheres(adhesive: Adhesive, polymers: dict[str, Polymer]) -> tuple[SPHERE, ...]:
    """The base polymer's sphere, or those of all blocks; tackifiers come after the base in the list."""
    for ref in adhesive.polymers:
        polymer = polymers.get(ref)
        if polymer is None:
            continue
        if polymer.needs_all_of:
            blocks = [polymers[block] for block in polymer.needs_all_of if block in polymers]
            return tuple(sphere for block in blocks for sphere in _sphere(block))
        if polymer.sphere is not None:
            return _sphere(polymer)
    return ()


def _offsets(rows: Iterable[AgentSensitivity]) -> dict[str, float]:
    return {row.agent: SENSITIVITY_LOGITS[row.grade] for row in rows}


def _liquid(
    liquid: Liquid,
    families: dict[str, Family],
    hazards: dict[str, Hazard],
    cautions: Iterable[Caution],
) -> CLiquid:
    family = families.get(liquid.family)
    statements = labelled(liquid)
    weights = [hazards[base_code(code)].weight for code in statements if base_code(code) in hazards]
    hansen = liquid.hansen
    return CLiquid(
        liquid.id,
        liquid.name,
        liquid.family,
        (family.related or family.id) if family else liquid.family,
        family.agent if family else "",
        None if hansen is None else (hansen.d, hansen.p, hansen.h),
        max(weights, default=0.0),
        statements,
        frozenset(caution.id for caution in cautions if meets(caution.when, liquid, family, statements)),
    )


def _material(item: Medium | Paper, polymers: dict[str, Polymer]) -> CMedium:
    spheres = tuple(s for ref in item.polymers if ref in polymers for s in _sphere(polymers[ref]))
    kin = item.kin if isinstance(item, Medium) else ""
    # Cellulose itself is not what a drop harms first; a paper speaks through its grades alone.
    return CMedium(
        item.id, item.name, kin, spheres if isinstance(item, Medium) else (), _offsets(item.sensitivity)
    )


def _printed(report: Report) -> Iterator[CPrint]:
    """One row per reported liquid that has an outcome; 'partly' counts neither way."""
    for said in report.liquids:
        release = {"released": True, "not released": False}.get(said.result)
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
        )
        for a in catalogue.of("adhesives", Adhesive).values()
    }
    cautions = tuple(sorted(catalogue.of("cautions", Caution).values(), key=lambda c: c.id))
    reports = sorted(catalogue.of("reports", Report).values(), key=lambda report: report.id)
    return Compiled(
        liquids=tuple(
            _liquid(liquid, families, hazards, cautions)
            for liquid in sorted(catalogue.of("liquids", Liquid).values(), key=lambda one: one.id)
        ),
        adhesives=adhesives,
        stages={s.id: s.position for s in stages.values()},
        stage_names={s.id: s.name for s in stages.values()},
        carriers={c.id: c.lets_liquid_through for c in carriers.values()},
        carrier_names={c.id: c.name for c in carriers.values()},
        tapes={t.id: (t.name, t.adhesive, t.carrier) for t in catalogue.of("tapes", Tape).values()},
        media={m.id: _material(m, polymers) for m in catalogue.of("media", Medium).values()},
        papers={p.id: _material(p, polymers) for p in catalogue.of("papers", Paper).values()},
        methods={m.id: m.contact for m in methods.values()},
        method_names={m.id: m.name for m in methods.values()},
        cautions=cautions,
        printed=tuple(row for report in reports for row in _printed(report)),
        settings=settings,
        shelf=shelf,
    )
