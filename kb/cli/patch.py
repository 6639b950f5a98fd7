"""benchleaf patch: which piece of tape to lift next, on which face."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from kb.cli.out import OK, say, say_json, wrap

if TYPE_CHECKING:
    from kb.desk.sheet.plan_file import PatchPlan


def options(parser: argparse.ArgumentParser) -> None:
    """The plan of a file."""
    verbs = parser.add_subparsers(dest="verb", required=True, metavar="plan")
    planned = verbs.add_parser("plan", help="the order for the strips in a file; needs no studio")
    planned.add_argument("--file", type=Path, required=True, metavar="FILE", help="YAML or JSON")
    for verb in verbs.choices.values():
        verb.add_argument("--json", action="store_true")


def run(args: argparse.Namespace) -> int:
    """Do what the verb says."""
    from kb.desk.sheet.plan_file import plan_file

    planned = plan_file(args.file)
    if args.json:
        say_json(planned)
        return OK
    _tell(planned)
    return OK


def _tell(planned: PatchPlan) -> None:
    metrics = planned.metrics
    say(f"{len(planned.order)} patches, {metrics['turns']} turns, way {metrics['travel_mm']:.0f} mm")
    for number, patch in enumerate(planned.order, 1):
        left, top = min(x for x, _ in patch.polygon), min(y for _, y in patch.polygon)
        weak = "  weak" if patch.weak else ""
        say(
            f"{number:>4}  {patch.id:<5} {patch.face:<5} {left:>6.0f} mm from left {top:>6.0f} mm from top"
            f" {patch.area_mm2:>6.0f} mm²{weak}"
        )
    say(
        f"One face is ahead of the other by at most {metrics['max_imbalance_mm2']:.0f} mm² "
        f"({metrics['max_imbalance_patches']:.1f} patches; bound {metrics['bound_mm2']:.0f} mm²)."
    )
    for warning in planned.warnings:
        say(wrap(f"! {warning}", indent="  "))
