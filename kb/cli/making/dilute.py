"""benchleaf dilute: stock to working strength, blends of strengths, solids, dry load, bases."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from kb.cli.out import UNCLEAR, say, say_either, warn

if TYPE_CHECKING:
    from kb.desk.making.dilute import Dilution, Reckoned


def options(parser: argparse.ArgumentParser) -> None:
    verbs = parser.add_subparsers(dest="verb", required=True, metavar="stock|blend|solids|load|convert")
    stock = verbs.add_parser("stock", help="C1 V1 = C2 V2: stock to working strength")
    stock.add_argument("stock", metavar='"10 % w/v"')
    stock.add_argument("wanted", metavar='"2 % w/v"')
    how_much = stock.add_mutually_exclusive_group(required=True)
    how_much.add_argument("--total", default="", metavar='"200 ml"', help="how much is wanted")
    how_much.add_argument(
        "--of", dest="of_stock", default="", metavar='"50 ml"', help="how much stock there is"
    )
    blending = verbs.add_parser("blend", help="two strengths mixed")
    blending.add_argument("first", metavar='"5 % w/v"')
    blending.add_argument("second", metavar='"2 % w/v"')
    blending.add_argument("--wanted", default="", metavar='"3 % w/v"')
    blending.add_argument("--total", default="", metavar='"100 ml"')
    blending.add_argument("--amounts", nargs=2, default=("", ""), metavar=('"50 ml"', '"25 ml"'))
    cooked = verbs.add_parser("solids", help="solids once a mix has lost water")
    cooked.add_argument("strength", metavar='"12.5 % w/w"')
    cooked.add_argument("before", metavar='"457 g"')
    cooked.add_argument("after", metavar='"430 g"')
    loading = verbs.add_parser("load", help="dry load of a wet film on remoistenable tissue")
    loading.add_argument("strength", metavar='"5 % w/w"')
    loading.add_argument("--density", required=True, metavar='"0.79 g/ml"')
    loading.add_argument("--film", default="", metavar='"100 µm"', help="wet film in micrometres")
    loading.add_argument("--load", default="", metavar='"5 g/m2"', help="dry load that is wanted")
    turning = verbs.add_parser("convert", help="w/w, w/v and v/v into one another, with a density")
    turning.add_argument("strength", metavar='"12.5 % w/w"')
    turning.add_argument("to", metavar="w/v")
    turning.add_argument("--density", default="", metavar='"0.79 g/ml"', help="of the mix")
    turning.add_argument("--part-density", default="", metavar='"0.79 g/ml"', help="of the dissolved part")


def run(args: argparse.Namespace) -> int:
    """Do the sum; no studio is needed."""
    from kb.desk.amounts import density_g_ml, if_typed, micrometres, per_area_g_m2
    from kb.desk.making import dilute

    found: Dilution | Reckoned
    if args.verb == "stock":
        found = dilute.dilute(args.stock, args.wanted, total=args.total, of_stock=args.of_stock)
    elif args.verb == "blend":
        if bool(args.wanted) == any(args.amounts):
            warn("Give either --wanted with --total, or --amounts. See: benchleaf dilute blend --help")
            return UNCLEAR
        found = dilute.blend(
            args.first, args.second, wanted=args.wanted, total=args.total, amounts=tuple(args.amounts)
        )
    elif args.verb == "solids":
        found = dilute.solids(args.strength, args.before, args.after)
    elif args.verb == "load":
        found = dilute.load(
            args.strength,
            density_g_ml(args.density),
            film_um=if_typed(micrometres, args.film),
            load_g_m2=if_typed(per_area_g_m2, args.load),
        )
    else:
        found = dilute.convert_strength(
            args.strength,
            args.to,
            mix_density_g_ml=if_typed(density_g_ml, args.density),
            part_density_g_ml=if_typed(density_g_ml, args.part_density),
        )
    return say_either(args.json, found, _tell)


def _tell(found: Dilution | Reckoned) -> None:
    for line in getattr(found, "steps", ()) or (getattr(found, "text", ""),):
        say(line)
    for note in found.notes:
        say(f"note: {note}", indent="  ")
