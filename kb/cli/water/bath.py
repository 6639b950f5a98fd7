"""benchleaf bath: an alkaline bath computed from equilibrium."""

from __future__ import annotations

import argparse
import re
from typing import TYPE_CHECKING

from kb.cli.options import studio_of
from kb.cli.out import FAILED, say, say_each, say_either, say_json, warn

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kb.desk.water.bath_view import BathAnswer, Precipitate, ReserveView


AIR_HELP = "closed: used as it is made (usual); open: after standing until the air no longer changes it"
AIR = {"open": "after standing open, as it ends", "closed": "as it is made and used"}
MOST_DIPS = 20
"""More dips than this are told as out of reach."""


def options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--reagent", required=True, help="calcium-hydroxide, calcium-bicarbonate ...")
    parser.add_argument("--volume", required=True, metavar='"5 L"')
    wanted = parser.add_mutually_exclusive_group(required=True)
    wanted.add_argument("--target-ph", default="", metavar="PH")
    wanted.add_argument("--strength", metavar='"0.05 mol/l"', help="or g/l of the solid that is weighed")
    parser.add_argument("--temperature", default="20 C", metavar='"18 C"')
    parser.add_argument("--air", choices=("open", "closed"), default="closed", help=AIR_HELP)
    parser.add_argument("--depth", default="", metavar='"30 mm"', help="of the bath in its tray")
    parser.add_argument("--sheet-mass", default="", metavar='"25 g"', help="of the dry sheet")
    parser.add_argument("--acid", default="", metavar="MMOL_PER_KG", help="acid of the sheet by titration")
    parser.add_argument("--medium", default="")
    parser.add_argument("--paper", default="")


def run(args: argparse.Namespace) -> int:
    """Compute it, or say why there is no such bath and what can be had."""
    from kb.desk.amounts import celsius, grams, litres, millimetres, number, or_unknown, strength_mol_l
    from kb.desk.materials.resolve import optional
    from kb.desk.water.bath import Sheet, bath
    from kb.desk.water.bath_view import BathRefused

    studio = studio_of(args)
    sheet = Sheet(
        dry_g=or_unknown(grams, args.sheet_mass),
        acid_mmol_kg=number(re.sub(r"\s*mmol\s*/\s*kg\s*$", "", args.acid), "an amount of acid, mmol/kg"),
        media=tuple(filter(None, (optional(studio, "medium", args.medium),))),
        paper=optional(studio, "paper", args.paper),
    )
    try:
        answer = bath(
            studio,
            args.reagent,
            litres(args.volume),
            number(args.target_ph, "a pH", 14),
            celsius(args.temperature),
            args.air,
            strength_mol_l=strength_mol_l(args.reagent, args.strength) if args.strength else None,
            sheet=sheet,
            depth_mm=millimetres(args.depth) if args.depth else None,
        )
    except BathRefused as refusal:
        if args.json:
            say_json({"refused": refusal.why, "nearest_ph": refusal.nearest_ph, "text": str(refusal)})
        warn(str(refusal))
        return FAILED
    return say_either(args.json, answer, _tell)


def _tell(one: BathAnswer) -> None:
    from kb.desk.water.bath import LYE

    say(f"{one.name} ({one.formula}), {one.volume.words} at {one.temperature.words}, {AIR[one.air]}")
    stops = [text for text in one.warnings if text.startswith("STOP")]
    say_each(stops)
    burns = [text for text in one.warnings if text.startswith(LYE)]
    say_each(burns, before="! ")
    said = " or ".join(f"{part.amount.words} {part.name}" for part in one.weigh)
    say(f"weigh: {said}", indent="  ")
    if one.stock:
        say(f"or measure: {one.stock.words}", indent="  ")
    say_each(one.how)
    if one.ph_under_gas:
        say(f"  pH while full of gas: {one.ph_under_gas.words}")
    say(f"  pH: {one.ph.value:.2f} (a tenth more or less: {one.ph_if_a_tenth_off.words})")
    say("dissolved: " + ", ".join(f"{part.name} {part.amount.words}" for part in one.species), indent="  ")
    say(f"drops: {_dropped(one.precipitates)}", indent="  ")
    moving = one.drift
    hours = "; ".join(f"{moment.hours:g} h {moment.ph.words}" for moment in moving.moments)
    say(
        f"drift in the air at a depth of {moving.depth.words}: fresh pH {moving.fresh_ph.value:.2f}; "
        f"{hours}; in the end pH {moving.end_ph.value:.2f}, dropped: {_dropped(moving.drops_at_end)}. "
        f"{moving.note}",
        indent="  ",
    )
    say(f"  capacity against acid: {one.capacity.neutralising.words}")
    _tell_reserve("one dip", one.reserve)
    if one.air == "open" or one.ph_under_gas:
        _tell_reserve("one dip while fresh", one.reserve_fresh)
    _tell_sheet(one)
    say_each((text for text in one.warnings if text not in (*stops, *burns)), before="! ")
    for rule in one.cautions[: one.cautions_here]:
        say(f"{rule.severity}: [{rule.where}] {rule.text} {rule.instead}", indent="  ")
    for text in one.unnamed:
        say(text, indent="  ")
    if one.unnamed:
        say("With --medium and --paper the rules about them stand here in full.", indent="  ")
    say(f"model: {one.model}", indent="  ")
    say(one.disclaimer, indent="  ")


def _tell_reserve(what: str, reserve: ReserveView) -> None:
    dips = reserve.dips_for_floor
    text = (
        f"reserve to expect from {what}: {reserve.mol_kg.words} = {reserve.percent_caco3.words}; "
        f"the floor of permanent paper is {reserve.floor.words}: {reserve.meets_floor}"
    )
    if dips is None or (dips.low or 0.0) > MOST_DIPS:
        text += "; this bath will not reach it"
    else:
        text += f"; to reach it {dips.words}"
    say(text, indent="  ")


def _tell_sheet(one: BathAnswer) -> None:
    told = one.reserve.told_in_practice
    if told:
        say(f"reserve told of in practice: {told.words}", indent="  ")
    if one.sheet:
        little = (
            "" if one.sheet.enough_water else f"; too little water, at least {one.sheet.least_water.words}"
        )
        say(
            f"sheet: acid {one.sheet.acid.words}, offered {one.sheet.offered.words}: "
            f"{one.sheet.baths_for_acid.words}{little}",
            indent="  ",
        )


def _dropped(solids: Sequence[Precipitate]) -> str:
    return ", ".join(f"{one.name} {one.in_bath.words}" for one in solids) or "nothing"
