"""A plan of patches from one file, without a studio: strips and weak zones in, the order out."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Literal

import msgspec

from kb.desk.errors import DeskError, sentence
from kb.model.question import Plain
from kb.science.numbers import counted
from kb.science.sheet.cutting import PATCH_MM, Area, Face, Patch, cut
from kb.science.sheet.patch_plan import Metrics, Plan, WeakRule, plan
from kb.science.sheet.polygons import Outline

Named = Literal["front", "back", "recto", "verso"]
_FACES: dict[str, Face] = {"front": "front", "recto": "front", "back": "back", "verso": "back"}


class _Place(Plain, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A strip or weak zone, in mm as seen from its face. All but face and polygon is for the reader."""

    face: Named
    polygon: list[tuple[float, float]]
    kind: str = ""
    id: str | int = ""
    name: str = ""
    note: str = ""


class _File(Plain, frozen=True, kw_only=True, forbid_unknown_fields=True):
    width_mm: float
    height_mm: float
    patch_mm: float | None = None
    bound_mm2: float | None = None
    weak_rule: WeakRule = "last"
    strips: list[_Place]
    weak: list[_Place] | None = None
    note: str = ""


class Planned(Plain, frozen=True, kw_only=True):
    """One patch in its place of the order; ``polygon`` in mm as seen from its face."""

    id: str
    face: Face
    polygon: Outline
    area_mm2: float
    weak: bool
    partner: str = ""
    """The patch on the other face that lies against it."""


class PatchPlan(Plain, frozen=True, kw_only=True):
    """The order, how even it is, and what is to be known of it."""

    order: tuple[Planned, ...]
    metrics: dict[str, float | int | None]
    """Those of :class:`kb.science.sheet.patch_plan.Metrics` by name."""
    warnings: tuple[str, ...]


def plan_file(path: Path) -> PatchPlan:
    """The plan for the strips in a YAML or JSON file. Raises DeskError for what cannot be planned."""
    from kb.catalogue.yaml_reader import read

    document = read(path)
    if document.faults:
        fault = document.faults[0]
        line = fault.line or document.lines.get(fault.at, 1)
        raise DeskError(f"{path}, line {line}: {fault.message}.")
    try:
        asked = msgspec.convert(document.value, _File)
        patches = cut(
            _areas(asked.strips),
            _areas(asked.weak or ()),
            asked.width_mm,
            asked.height_mm,
            PATCH_MM if asked.patch_mm is None else asked.patch_mm,
        )
        return as_told(plan(patches, asked.bound_mm2, asked.weak_rule))
    except (msgspec.ValidationError, ValueError) as error:
        raise DeskError(f"{path}: {sentence(error)}") from error


def as_told(planned: Plan) -> PatchPlan:
    partner = planned.pairs | {back: front for front, back in planned.pairs.items()}
    return PatchPlan(
        order=tuple(_told(patch, partner.get(patch.id, "")) for patch in planned.order),
        metrics=planned.metrics._asdict(),
        warnings=tuple(warnings(planned.metrics, planned.order)),
    )


def warnings(metrics: Metrics, order: Sequence[Patch]) -> list[str]:
    found = []
    if metrics.over_bound:
        weak = any(patch.weak for patch in order)
        why = " Weak places on one face only leave no other way." if weak else ""
        found.append(
            f"After {metrics.over_bound} of {counted(len(order), 'patch', 'patches')} one face is ahead by "
            f"more than {metrics.bound_mm2:.0f} mm², at most {metrics.max_imbalance_mm2:.0f} mm².{why}"
        )
    if order and len({patch.face for patch in order}) == 1:
        found.append("There is tape on one face only: nothing on the other balances it; keep the sheet flat.")
    return found


def _told(patch: Patch, partner: str) -> Planned:
    area_mm2 = round(patch.area_mm2, 3)
    return Planned.taken_from(patch, polygon=patch.outline, area_mm2=area_mm2, partner=partner)


def _areas(places: Sequence[_Place]) -> list[Area]:
    return [
        Area(_FACES[place.face], tuple((x, y) for x, y in place.polygon), place.kind.strip().lower())
        for place in places
    ]
