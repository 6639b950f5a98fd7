"""benchleaf batch: what was made up, its label, what goes off, and what a batch touched."""

from __future__ import annotations

import argparse
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from kb.cli.options import asks, asks_often, correcting, day_of, flag, verb, verbs_of
from kb.cli.out import FOUND, OK, say, say_changed, say_files, say_json, say_list, say_stored, wrap

if TYPE_CHECKING:
    from kb.book.kinds.batch import Batch
    from kb.desk.making.batches import BatchView
    from kb.desk.studio import Studio

TEXTS = ("name", "water", "strength", "expires", "remarks")


def options(parser: argparse.ArgumentParser) -> None:
    names = ("add", "list", "show", "label", "due", "trace", "bad", "finish", "amend", "withdraw")
    verbs = verbs_of(parser, *names)
    _add_options(verb(verbs, "add", _add, "write down what was made up"))
    listing = verb(verbs, "list", _list, "batches in use, the newest first")
    flag(listing, "all", "also those that were used up")
    asks(listing, "recipe", "TEXT")
    for showing in (
        verb(verbs, "show", _show, "one batch"),
        verb(verbs, "trace", _trace, "every record and sheet that a batch went to; exit 1 if it is bad"),
    ):
        showing.add_argument("batch", help="the beginning of its id")
    labelling = verb(verbs, "label", _label, "the label, as text or as a drawing")
    labelling.add_argument("batch")
    labelling.add_argument("--svg", type=Path, metavar="FILE", help="write the drawing there")
    due = verb(verbs, "due", _due, "what expires or is bad; exit 1 if anything is")
    due.add_argument("--within", type=int, metavar="DAYS", help="2 if left out")
    spoilt = verb(verbs, "bad", _change, "must not be used any more")
    spoilt.add_argument("batch")
    spoilt.add_argument("--why", required=True)
    finishing = verb(verbs, "finish", _change, "used up or thrown away")
    finishing.add_argument("batch")
    finishing.add_argument("--on", default="today", metavar="DATE")
    correcting(verbs, "batch", _change, "correct fields", "written down by mistake")


def _add_options(add: argparse.ArgumentParser) -> None:
    asks(add, "recipe", "TEXT")
    asks(add, "make", '"120 ml"', "the amounts of the recipe, so scaled")
    asks(add, "density", '"0.79 g/ml"')
    asks_often(
        add,
        "weighed",
        '"wheat starch 16.3 g"',
        "what was really weighed, once per ingredient; goes before --make",
    )
    add.add_argument(
        "--from",
        dest="taken",
        action="append",
        default=[],
        metavar="INGREDIENT=BATCH",
        help="an ingredient that another batch gave",
    )
    asks(add, "made", '"118 g"', "what came out of it")
    add.add_argument("--ph", default="")
    asks(add, "made-at", "DATE", "today if left out")
    asks_often(add, "hazard", "WORDS", "for the label")
    for name in TEXTS:
        asks(add, name, "TEXT")


def _add(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.making.batches import record, show
    from kb.desk.materials.resolve import understood

    batch = _batch(studio, args)
    named = understood(studio, batch)
    written = record(studio, batch, date.today())
    say_stored(args.json, f"Stored and on disk: batch {written.id}", written, named)
    if args.json:
        return OK
    one = show(studio, written.id)
    say(f"{one.name}: use by {one.expires or 'not known'}. Label: benchleaf batch label {one.short}")
    return OK


def _batch(studio: Studio, args: argparse.Namespace) -> Batch:
    from kb.book.kinds.batch import Batch
    from kb.desk.amounts import amount, density_g_ml, if_typed, number
    from kb.desk.making.batch_typed import weights
    from kb.desk.making.recipe import recipe_id

    meant = recipe_id(studio, args.recipe) if args.recipe.strip() else ""
    made = amount(args.made) if args.made.strip() else (None, "")
    return Batch(
        recipe=meant,
        weights=weights(
            studio, meant, args.make, if_typed(density_g_ml, args.density), args.weighed, args.taken
        ),
        made_amount=made[0],
        made_unit=made[1],
        ph=number(args.ph, "a pH", 14),
        made_at=day_of(args.made_at),
        hazards=tuple(word.strip() for word in args.hazard if word.strip()),
        **{name: getattr(args, name).strip() for name in TEXTS},
    )


def _list(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.making.batches import all_batches
    from kb.desk.making.recipe import recipe_id

    meant = recipe_id(studio, args.recipe) if args.recipe.strip() else ""
    found = all_batches(studio, finished=args.all, recipe_id=meant)
    return say_list(args.json, found, _line, "No batch is in use.")


def _line(one: BatchView) -> str:
    state = "  BAD" if one.bad else f"  used up {one.finished}" if one.finished else ""
    until = one.expires or "not known"
    return f"{one.short}  made {one.made_at}  use by {until:<10}  {one.name}{state}"


def _show(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.making.batches import batch_id, facts, show

    one = show(studio, batch_id(studio, args.batch))
    if args.json:
        return say_json(one)
    say(f"Batch {one.id}{f'  [{one.state}]' if one.state else ''}, written {one.at} by {one.who}")
    for word, text in facts(one):
        say(f"{word}: {text}", indent="  ")
    return OK


def _label(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.making.batches import batch_id, label, save_svg

    made = label(studio, batch_id(studio, args.batch))
    if args.svg is not None:
        save_svg(made, args.svg)
    return say_files(args.json, made, [args.svg] if args.svg else [], lambda: made.text)


def _due(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.making.batches import NOTICE_DAYS, expiring

    found = expiring(studio, date.today(), NOTICE_DAYS if args.within is None else args.within)
    say_list(
        args.json,
        found,
        lambda one: wrap(f"! {one.name}, batch {one.short}: {one.text}", indent=""),
        "Nothing is due.",
    )
    return FOUND if found else OK


def _trace(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.making.batches import batch_id, trace

    found = trace(studio, batch_id(studio, args.batch))
    if args.json:
        say_json(found)
        return FOUND if found.batch.bad else OK
    from kb.book.kinds.table import noun_of

    say(_line(found.batch))
    for one in found.made_into:
        say(f"  went into {_line(one)}")
    for use in found.uses:
        say(f"  {use.at[:10]}  {noun_of(use.kind)} {use.id}  {use.sheet or 'no sheet named'}")
    say(f"sheets touched: {', '.join(found.sheets) or 'none in the book'}")
    return FOUND if found.batch.bad else OK


def _change(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.making.batch_typed import changes
    from kb.desk.making.batches import batch_id, finish, mark_bad
    from kb.desk.records.book_list import amend_record, withdraw_record

    meant = batch_id(studio, args.batch)
    if args.verb == "bad":
        written = mark_bad(studio, meant, args.why)
    elif args.verb == "finish":
        written = finish(studio, meant, on=day_of(args.on), today=date.today())
    elif args.verb == "amend":
        written = amend_record(studio, meant, changes(studio, args.set), args.why)
    else:
        written = withdraw_record(studio, meant, args.why)
    return say_changed(args.json, written)
