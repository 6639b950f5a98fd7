"""What is left of a blend on the sheet while it dries, and where in Hansen space that takes it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from kb.desk.errors import in_a_sentence
from kb.desk.materials.mixing import danger_words, parting_words
from kb.desk.materials.names import Names
from kb.desk.materials.physical import BETWEEN, USUAL_TEMP_C, Physical, of_parts, refuse_missing
from kb.desk.materials.safety import DEFER
from kb.desk.studio import Studio
from kb.model.question import Plain
from kb.science.liquids.drying import CURVE, LOSSES, DryingPart, DryingStep, approaches, last_on_the_sheet
from kb.science.liquids.drying import drying_path as path_of
from kb.science.liquids.solubility import Sphere, fractional, red

MODEL = "ideal open evaporation (Raoult), no activity coefficients, nothing held back by the sheet"
SOURCE = "equations of open distillation, from memory; vapour pressures of the catalogue"
NEEDS = {"vapour_pressure_kpa": "vapour pressure", "molar_volume_cm3_mol": "molar volume"}
HELD = "Paper holds the last part longer than these figures say; look again after a day."


class Left(Plain, frozen=True, kw_only=True):
    """What is left after ``lost_pct`` of the volume is gone: per cent by volume of the rest."""

    lost_pct: float
    shares_pct: dict[str, float]
    left_pct: dict[str, float]
    """Per cent of each part's own first amount that is still there."""
    hansen: tuple[float, float, float] | None
    fractions: tuple[float, float, float] | None
    """Fractional parameters, per cent of dispersion, polar and hydrogen bonding."""
    red: dict[str, float]
    """Relative distance to each thing named; below 1 is inside its sphere."""


class Drying(Plain, frozen=True, kw_only=True):
    """The drying path of a blend. ``curve`` is the path in fine steps, for the map."""

    name: str
    parts_pct: dict[str, float]
    names: dict[str, str]
    temp_c: float
    order: tuple[str, ...]
    """Ids, the soonest gone first."""
    steps: tuple[Left, ...]
    curve: tuple[Left, ...]
    last: tuple[str, ...]
    warnings: tuple[str, ...]
    notes: tuple[str, ...]
    unit: str
    model: str
    source: str
    defer: str


def drying_path(
    studio: Studio,
    parts: Mapping[str, float],
    temp_c: float = USUAL_TEMP_C,
    into: Sequence[Sphere] = (),
    out_of: Sequence[Sphere] = (),
) -> Drying:
    """What is left at 0, 50, 80 and 95 % loss of volume. ``parts`` are shares by volume.

    Spheres (see spheres) make it warn when the strong liquid stays last. Raises DeskError naming every
    vapour pressure and molar volume that is missing, or for a temperature out of reach.
    """
    liquids = of_parts(studio, parts, temp_c)
    refuse_missing(liquids, NEEDS, "The drying path")
    drying = [
        DryingPart(one.id, share, one.vapour_pressure_kpa, one.molar_volume_cm3_mol, one.hansen)
        for one, share in zip(liquids, parts.values(), strict=True)
    ]
    with in_a_sentence():
        told, fine = path_of(drying, LOSSES), path_of(drying, CURVE)
    last = last_on_the_sheet(told) if len(liquids) > 1 else (liquids[0].id,)
    strong = _strong(fine, liquids, last, into, out_of)
    spheres = (*into, *out_of)
    return Drying(
        name=Names(studio).parts(parts),
        parts_pct={part: 100.0 * share for part, share in parts.items()},
        names={one.id: one.name for one in liquids},
        temp_c=temp_c,
        order=tuple(
            one.id for one in sorted(liquids, key=lambda one: (-(one.vapour_pressure_kpa or 0.0), one.id))
        ),
        steps=tuple(_left(step, spheres) for step in told),
        curve=tuple(_left(step, spheres) for step in fine),
        last=last,
        warnings=(*danger_words(studio, parts), *parting_words(studio, parts), *strong),
        notes=(*_no_place(liquids), _end(liquids, last), HELD),
        unit="% by volume",
        model=MODEL,
        source=f"{SOURCE} ({BETWEEN})",
        defer=DEFER,
    )


def _left(step: DryingStep, spheres: Sequence[Sphere]) -> Left:
    hansen = step.hansen
    return Left(
        lost_pct=100.0 * step.lost,
        shares_pct={name: 100.0 * share for name, share in step.shares.items()},
        left_pct={name: 100.0 * share for name, share in step.left.items()},
        hansen=hansen,
        fractions=None if hansen is None else fractional(hansen),
        red={} if hansen is None else {one.name: red(hansen, one.centre, one.r0) for one in spheres},
    )


def _end(liquids: Sequence[Physical], last: Sequence[str]) -> str:
    names = {one.id: one.name for one in liquids}
    said = f"Last on the sheet: {', '.join(names[one] for one in last)}."
    said = said if last else "The parts dry together: none stands out at the end."
    return said if len(liquids) > 1 else "A pure liquid keeps its composition while it dries."


def _no_place(liquids: Sequence[Physical]) -> tuple[str, ...]:
    missing = [one.name for one in liquids if one.hansen is None]
    said = f"No Hansen parameters are known here for {', '.join(missing)}: the path has no place on the map."
    return (said,) if missing else ()


def _strong(
    path: Sequence[DryingStep],
    liquids: Sequence[Physical],
    last: Sequence[str],
    into: Sequence[Sphere],
    out_of: Sequence[Sphere],
) -> tuple[str, ...]:
    """Warnings: what stays last attacks, the path crosses a medium, or the blend stops dissolving."""
    if len(liquids) < 2 or any(one.hansen is None for one in liquids):
        return ()
    said = []
    names = {one.id: one.name for one in liquids}
    left = " and ".join(names[one] for one in last) or "what is left"
    for one in approaches(path, {sphere.name: (sphere.centre, sphere.r0) for sphere in out_of}):
        if one.red_at_end < 1:
            said.append(
                f"The last on the sheet is the strong one: {left} lies inside {one.sphere} "
                f"(RED {one.red_at_end:.2f}, fresh {one.red_at_start:.2f})."
            )
        elif one.lowest_red < 1:
            said.append(f"While it dries it passes through {one.sphere} (RED {one.lowest_red:.2f}).")
    for one in approaches(path, {sphere.name: (sphere.centre, sphere.r0) for sphere in into}):
        if one.red_at_start <= 1 < one.red_at_end:
            said.append(
                f"As it dries it leaves the sphere of {one.sphere} (RED {one.red_at_end:.2f} at the end): "
                "work while it is wet, or adhesive is left behind."
            )
        elif one.strong_at_the_end and not out_of:
            said.append(f"The last on the sheet, {left}, is the strong one for {one.sphere}.")
    return tuple(said)
