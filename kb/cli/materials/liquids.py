"""benchleaf liquids: the list of liquids, narrowed by what matters at the bench."""

from __future__ import annotations

import argparse

from kb.cli.options import asks, studio_of
from kb.cli.out import FOUND, OK, say, say_json, warn


def options(parser: argparse.ArgumentParser) -> None:
    """Every filter that is given must be met."""
    asks(parser, "family", "ID", "alcohol, ketone, ester ...")
    asks(parser, "hazard", "CODE", "a statement on the label, H225 ...")
    parser.add_argument("--evaporation", choices=("fast", "medium", "slow"))
    asks(parser, "hildebrand", '"9 to 9.5 (cal/cm3)^1/2"', "total parameter, or MPa^0.5")
    for name, no, given, not_given in (
        ("held", "not-held", "what this studio holds", "what this studio does not hold"),
        ("allowed", "forbidden", "what is allowed here", "what is forbidden here"),
    ):
        choice = parser.add_mutually_exclusive_group()
        choice.add_argument(f"--{name}", action="store_true", default=None, help=f"only {given}")
        choice.add_argument(
            f"--{no}", dest=name, action="store_false", default=None, help=f"only {not_given}"
        )


def run(args: argparse.Namespace) -> int:
    """List them by name; exit 1 if none is left."""
    from kb.desk.amounts import solubility_parameters
    from kb.desk.materials.filter import liquids
    from kb.desk.materials.lookup import resolve_entry

    studio = studio_of(args)
    found = liquids(
        studio,
        # That no liquid is of a family that is misspelt says nothing of the liquids.
        family=resolve_entry(studio, "family", args.family) if args.family else "",
        hazard=args.hazard.strip().upper(),
        evaporation=args.evaporation,
        held=args.held,
        allowed=args.allowed,
        hildebrand=solubility_parameters(args.hildebrand) if args.hildebrand else None,
    )
    if args.json:
        say_json(found)
        return OK if found else FOUND
    for one in found:
        rate = (
            "rate not known"
            if one.evaporation_rate is None
            else f"{one.evaporation} ({one.evaporation_rate:g})"
        )
        against = f"  ! {one.why}" if one.why else ""
        say(f"{one.id:<30} {one.family:<28} {rate:<16} {' '.join(one.statements)}{against}")
    if not found:
        warn("No liquid meets all of this.")
    return OK if found else FOUND
