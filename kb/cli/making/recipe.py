"""benchleaf recipe: what there is to make up, and one recipe in the amount that is wanted."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from kb.cli.options import asks, flag, studio_of
from kb.cli.out import UNCLEAR, say, say_each, say_either, say_list, warn

if TYPE_CHECKING:
    from kb.desk.making.recipe import Made
    from kb.desk.making.steps import StepsState
    from kb.desk.studio import Studio
    from kb.model.recipe import Recipe, RecipeStep


def options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("name", nargs="*", help="id or name of a recipe")
    parser.add_argument("--list", action="store_true", dest="listing", help="all recipes")
    asks(parser, "category", "TEXT", "with --list: starch paste, rigid gel ...")
    amount = parser.add_mutually_exclusive_group()
    asks(amount, "make", '"120 ml"', 'also "500 g", "0.5 m2", "x 3"')
    asks(amount, "have", '"wheat starch 20 g"', "what is at hand of one ingredient")
    asks(amount, "mends", '"12 x 60 x 8 mm"', "how many strips of what size")
    asks(amount, "area", '"0.5 m2"')
    asks(parser, "density", '"0.79 g/ml"', "density of the mix")
    asks(parser, "film", '"100 µm"', "wet film in micrometres, where an area is asked for")
    ticks = parser.add_mutually_exclusive_group()
    flag(ticks, "steps", "how far the steps have got")
    ticks.add_argument("--tick", type=int, metavar="N", help="step N is done")
    ticks.add_argument("--untick", type=int, metavar="N", help="step N is not done")
    flag(ticks, "start-over", "take all ticks back")


def run(args: argparse.Namespace) -> int:
    from kb.desk.amounts import density_g_ml, if_typed, micrometres
    from kb.desk.making.recipe import make, recipe, recipe_id

    if args.listing or not args.name:
        return _list(args)
    studio = studio_of(args)
    meant = recipe_id(studio, " ".join(args.name))
    if args.steps or args.start_over or args.tick is not None or args.untick is not None:
        return _steps(studio, meant, args)
    by = args.make or args.have or args.area or _mends(args.mends)
    known = recipe(studio, meant).recipe
    if not known.ingredients and not by:
        return say_either(args.json, known, _lay_out)
    made = make(
        studio,
        meant,
        by,
        density_g_ml=if_typed(density_g_ml, args.density),
        wet_film_um=if_typed(micrometres, args.film),
    )
    return say_either(args.json, made, _show)


def _mends(text: str) -> str:
    """``12 x 60 x 8 mm`` as the desk reads it."""
    count, _, size = text.partition("x")
    return f"{count.strip()} mends of {size.strip()}" if text.strip() else ""


def _list(args: argparse.Namespace) -> int:
    from kb.desk.making.recipe import recipes

    if args.name:
        warn("Either --list or the name of a recipe. See: benchleaf recipe --help")
        return UNCLEAR
    found = recipes(studio_of(args), args.category.strip().lower())
    return say_list(
        args.json,
        found,
        lambda one: f"{one.id:<38} {one.category:<16} {one.read:<16} {one.name}",
        "No recipe is of that category.",
    )


def _show(made: Made) -> None:
    say(f"{made.name}  [{made.id}, version {made.version}]")
    if made.makes_words:
        say(f"  makes {made.makes_words}")
    _mind(made.recipe)
    for part in made.parts:
        share = f"  {part.share:.3g} % {part.share_basis}" if part.share is not None else ""
        before = "make up to " if part.whole else ""
        say(f"  {before + part.words:>22}  {part.name}{share}{f'  ({part.note})' if part.note else ''}")
    if made.strength:
        say(f"strength: {made.strength}", indent="  ")
    for text in made.notes:
        say(f"note: {text}", indent="  ")
    for text in made.missing:
        say(f"not known: {text}", indent="  ")
    _lay_out(made.recipe, head=False)
    for source in made.sources:
        say(f"source {source.id}: {source.cite} ({source.mark})", indent="  ")


def _lay_out(known: Recipe, *, head: bool = True) -> None:
    from kb.desk.making.recipe import life_words

    if head:
        say(f"{known.name}  [{known.id}]")
        say(known.basis_note, indent="  ")
        _mind(known)
    for number, step in enumerate(known.steps, start=1):
        say(f"{number}. {step_words(step)}", indent="  ")
    for row in known.consistency:
        added = f"{row.add_low:g}" if row.add_low == row.add_high else f"{row.add_low:g} to {row.add_high:g}"
        say(f"  {row.name:<24} add {added:<10} {row.use}")
    for life in known.shelf_life:
        say(f"keeps: {life_words(life)}", indent="  ")
    told = [("store", known.storage), ("use", "; ".join(known.uses)), ("thinning", known.thinned_by)]
    told += [(f"or ({one.name})", one.text) for one in known.variants]
    told.append(("amounts", known.read))
    for word, text in told:
        if text:
            say(f"{word}: {text}", indent="  ")


def _mind(known: Recipe) -> None:
    """What can hurt, before anything is weighed."""
    for word, text in (("label", ", ".join(known.hazards)), *(("mind", one.text) for one in known.cautions)):
        if text:
            say(f"{word}: {text}", indent="  ")


def step_words(step: RecipeStep) -> str:
    from kb.desk.making.recipe import span

    parts = [span(step.minutes, step.minutes_high, "min"), span(step.temp_c, step.temp_high_c, "°C")]
    told = ", ".join(part for part in parts if part)
    hold = " [hold]" if step.hold else ""
    return f"{step.text}{f' ({told})' if told else ''}{hold}{f' ({step.note})' if step.note else ''}"


def _steps(studio: Studio, meant: str, args: argparse.Namespace) -> int:
    from kb.desk.making.recipe import work
    from kb.desk.making.steps import start_over, state_of, tick, untick

    by, made = args.make or args.have or args.area or _mends(args.mends), work(studio, meant)
    if args.tick is not None:
        state = tick(studio, made, args.tick, by=by or None)
    elif args.untick is not None:
        state = untick(studio, made, args.untick)
    else:
        state = start_over(studio, made, by=by) if args.start_over else state_of(made)
    return say_either(args.json, state, _show_state)


def _show_state(state: StepsState) -> None:
    say(f"{state.name}{f', {state.by}' if state.by else ''}")
    say_each(
        filter(None, (state.problem, "the recipe changed since the first tick" * state.changed)), before="! "
    )
    for number, step in enumerate(state.steps, start=1):
        mark = "x" if number in state.ticked else " "
        at = f"  ({state.ticked[number]})" if number in state.ticked else ""
        say(f"[{mark}] {number}. {step_words(step)}{at}", indent="  ")
