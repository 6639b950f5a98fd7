"""benchleaf dry: what is left of a blend while it dries."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from kb.cli.options import question_of, question_options, studio_of
from kb.cli.out import say, say_each, say_either

if TYPE_CHECKING:
    from kb.desk.liquids.drying import Drying


def options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--liquid", default="", metavar="NAME")
    parser.add_argument("--blend", default="", metavar='"acetone 50, n-heptane 50"')
    parser.add_argument("--temp", default="20 °C", metavar="T", help="20C (usual), 68F")
    question_options(parser)


def run(args: argparse.Namespace) -> int:
    from kb.desk.amounts import celsius
    from kb.desk.liquids.drying import drying_path
    from kb.desk.liquids.spheres import adhesive_spheres, spheres_in_reach
    from kb.desk.materials.mixing import danger_words
    from kb.desk.materials.resolve import parts

    studio = studio_of(args)
    meant = parts(studio, args.liquid, args.blend)
    dangers = danger_words(studio, meant)
    if not args.json:
        # Before the path, which is not worked out where a vapour pressure is not known.
        say_each(dangers, indent="", before="! ")
    asked = question_of(studio, args)
    into = adhesive_spheres(studio, asked.adhesive) if asked.adhesive else ()
    out_of, silent = spheres_in_reach(studio, asked, with_carrier=True)
    path = drying_path(studio, meant, celsius(args.temp), into, out_of)
    warnings = [one for one in path.warnings if one not in dangers]
    silent = silent if asked.medium or asked.adhesive or asked.sheet else ()
    return say_either(args.json, path, lambda path: _print(path, warnings, silent))


def _print(path: Drying, warnings: list[str], silent: tuple[str, ...]) -> None:
    say(f"{path.name}, drying at {path.temp_c:.3g} °C")
    for step in path.steps:
        left = ", ".join(
            f"{path.names[one]} {share:.3g} %"
            for one, share in sorted(step.shares_pct.items(), key=lambda pair: -pair[1])
        )
        say(f"{step.lost_pct:>3.0f} % gone: {left}", indent="  ")
        if step.hansen is not None and step.fractions is not None:
            d, p, h = step.hansen
            fd, fp, fh = step.fractions
            say(
                f"Hansen {d:.1f} / {p:.1f} / {h:.1f} MPa^0.5, fractions {fd:.0f} / {fp:.0f} / {fh:.0f} %",
                indent="      ",
            )
        if step.red:
            reds = ", ".join(f"{name} {red:.2f}" for name, red in step.red.items())
            say(f"RED: {reds}", indent="      ")
    say_each(warnings, before="! ")
    for note in (*path.notes, *silent, f"{path.model}; {path.source}.", path.defer):
        say(note, indent="")
