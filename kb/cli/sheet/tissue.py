"""benchleaf tissue: repair tissue for a sheet."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from kb.book.kinds.mend import TEAR_KINDS, TEAR_WORDS
from kb.cli.options import flag, studio_of
from kb.cli.out import say, say_either
from kb.science.numbers import counted

if TYPE_CHECKING:
    from kb.desk.sheet.tissue import TissueAnswer


def options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--grammage", required=True, metavar='"100 g/m2"', help="of the sheet")
    parser.add_argument("--thickness", default="", metavar='"0.15 mm"', help="of the sheet")
    kinds = tuple(filter(None, TEAR_WORDS))
    parser.add_argument("--tear", default="plain", choices=kinds, help=f"{TEAR_KINDS}; plain if not said")
    parser.add_argument("--length", default="", metavar='"120 mm"', help="of the tear")
    parser.add_argument("--area", default="", metavar='"12 cm2"', help="of the loss")
    parser.add_argument("--strip", default="", metavar='"6 mm"', help="width of a strip")
    flag(parser, "both-faces", "both faces of the sheet are looked at")
    flag(parser, "mend-both", "tissue goes on both faces")
    parser.add_argument("--adhesive", default="", metavar='"3 g/m2"', help="dry adhesive on the tissue")
    parser.add_argument("--tissue", default="", help="judge this one, customary or not")


def run(args: argparse.Namespace) -> int:
    from kb.desk.amounts import millimetres, or_unknown, per_area_g_m2, square_millimetres
    from kb.desk.materials.lookup import resolve_entry
    from kb.desk.sheet.tissue import Wanted, propose

    studio = studio_of(args)
    wanted = Wanted(
        grammage_g_m2=per_area_g_m2(args.grammage),
        thickness_um=1000.0 * or_unknown(millimetres, args.thickness),
        tear=args.tear,
        both_faces_seen=args.both_faces,
        tear_mm=or_unknown(millimetres, args.length),
        fill_mm2=or_unknown(square_millimetres, args.area),
        strip_mm=or_unknown(millimetres, args.strip),
        adhesive_g_m2=or_unknown(per_area_g_m2, args.adhesive),
        mend_faces=2 if args.mend_both else 1,
        tissue=resolve_entry(studio, "tissue", args.tissue) if args.tissue else "",
    )
    found = propose(studio, wanted)
    return say_either(args.json, found, _tell)


def _tell(found: TissueAnswer) -> None:
    if found.wanted:
        say(f"{found.job}: look for {found.wanted.words}")
    say(found.advice, indent="  ")
    if found.strips:
        one = found.strips
        say(
            f"{counted(one.pieces, 'piece')} of {one.piece_length.words} x {one.width.words}; on the sheet "
            f"{one.area_on_sheet.words}; tissue to lay in {one.area_to_cut.words}",
            indent="  ",
        )
    for tissue in found.tissues:
        say(f"{tissue.name} ({tissue.id}), {tissue.fibre}, {tissue.opacity}")
        thick = "; thicker than customary" if tissue.too_thick else ""
        mass = f", {tissue.adds_mass.words}" if tissue.adds_mass else ""
        say(f"{tissue.grammage.words}; adds {tissue.adds_thickness.words}{mass}{thick}", indent="    ")
        say(
            f"stronger than the sheet: {tissue.stronger_than_sheet}. {tissue.verdict} {tissue.note}",
            indent="    ",
        )
    for rule in found.rules:
        say(rule.words, indent="  ")
