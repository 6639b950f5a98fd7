"""benchleaf sphere: a material's Hansen sphere fitted to own crumb tests."""

from __future__ import annotations

import argparse

from kb.cli.options import studio_of
from kb.cli.out import FOUND, OK, say, say_each, say_json, wrap


def options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("material", help="a polymer, an ink or an adhesive")
    parser.add_argument(
        "--good-from", type=int, default=3, metavar="GRADE", help="grade that counts as dissolving (usual: 3)"
    )


def run(args: argparse.Namespace) -> int:
    """Fit it and print it beside the printed one; exit 1 if too few crumbs were tried."""
    from kb.desk.liquids.own_sphere import (
        TooFew,
        in_print,
        in_words,
        material_of,
        own_sphere,
        printed_spheres,
    )

    studio = studio_of(args)
    material = material_of(studio, args.material)
    try:
        found = own_sphere(studio, material, args.good_from)
    except TooFew as error:
        printed = in_print(printed_spheres(studio, material))
        if args.json:
            say_json({"material": material, "problem": str(error), "in_print": printed})
            return FOUND
        for line in (str(error), *printed):
            say(wrap(line, indent="  ").strip())
        return FOUND
    if args.json:
        return say_json(found)
    say(found.name)
    say_each(in_words(found))
    for one in sorted(found.liquids, key=lambda one: one.red):
        beside = "".join(f"  in print {value:.2f}" for value in one.red_printed)
        said = "good" if one.good else "poor"
        wrong = "  ! on the wrong side" if one.wrong else ""
        say(f"  {one.name:<32} grade {one.grade:.2g}  {said}  RED {one.red:.2f}{beside}{wrong}")
    if found.without:
        say(f"Without Hansen parameters, so not in the fit: {', '.join(found.without)}.", indent="    ")
    say(f"{found.caveat} {found.source}.", indent="    ")
    return OK
