"""benchleaf shelf: what the studio holds and forbids, its bottles, and what is due."""

from __future__ import annotations

import argparse
from datetime import date
from typing import TYPE_CHECKING, Any

from kb.cli.options import correcting, day_of, flag, verb, verbs_of
from kb.cli.out import FOUND, OK, say, say_changed, say_either, say_json, say_list, say_stored, wrap
from kb.model.studio import RULE_WORDS

if TYPE_CHECKING:
    from kb.desk.shelf.bottles import BottleView, Due
    from kb.desk.studio import Studio

TEXTS = ("label", "lot", "grade", "remarks")


def options(parser: argparse.ArgumentParser) -> None:
    """One sub-command per thing to do; none lists the shelf."""
    flag(parser, "json")
    flag(parser, "all", "also bottles and stock that were used up")
    names = ("hold", "unhold", "forbid", "allow", "open", "tested", "finish", "amend", "withdraw", "due")
    verbs = verbs_of(parser, *names, usual=_list)
    for name, about in (("hold", "list liquids as held"), ("unhold", "take liquids off that list")):
        verb(verbs, name, _hold, about).add_argument("liquid", nargs="+")
    forbidding = verb(verbs, "forbid", _rule, "forbid a liquid, family or hazard, and say why")
    forbidding.add_argument("--why", required=True)
    forbidding.add_argument("--rule", default="local", choices=tuple(RULE_WORDS), help="whose rule it is")
    for ruling in (forbidding, verb(verbs, "allow", _rule, "take a prohibition back")):
        ruling.add_argument("liquid", nargs="*", default=[])
        ruling.add_argument("--family", action="append", default=[], metavar="ID")
        ruling.add_argument("--hazard", action="append", default=[], metavar="H350")
    _bottle_options(verbs)


def _bottle_options(verbs: Any) -> None:
    opening = verb(verbs, "open", _open, "write down a bottle")
    opening.add_argument("liquid", nargs="+")
    opening.add_argument("--opened", default="today", metavar="DATE", help="today if left out; or: unknown")
    opening.add_argument("--expires", default="", metavar="DATE", help="2027-03-31 or 2027-03")
    for name in TEXTS:
        opening.add_argument(f"--{name}", default="", metavar="TEXT")
    testing = verb(verbs, "tested", _bottle, "write down a test for peroxides")
    testing.add_argument("bottle", help="the beginning of its id, or its liquid if one bottle is in use")
    testing.add_argument("--on", default="today", metavar="DATE")
    testing.add_argument("--result", required=True, metavar="TEXT")
    finishing = verb(verbs, "finish", _bottle, "a bottle was used up or thrown away")
    finishing.add_argument("bottle")
    finishing.add_argument("--on", default="today", metavar="DATE")
    correcting(verbs, "bottle", _bottle, "correct fields of a bottle", "a bottle was written down by mistake")
    verb(verbs, "due", _due, "what is due; exit 1 if anything is")


def _list(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.shelf.bottles import all_bottles, due
    from kb.desk.shelf.shelf import in_stock, shelf

    view, bottles, late = shelf(studio), all_bottles(studio, finished=args.all), due(studio, date.today())
    lots = in_stock(studio, date.today(), finished=args.all)
    if args.json:
        return say_json({"shelf": view, "bottles": bottles, "stock": lots, "due": late})
    for problem in view.problems:
        say(problem)
    if view.listed:
        say("held: " + (", ".join(one.name for one in view.liquids if one.held)), indent="")
    else:
        say(f"held: nothing is listed, so all {len(view.liquids)} liquids count as held")
    names = {one.id: one.name for one in view.liquids}
    for rule in view.forbids:
        told = ", ".join(names.get(one, one) for one in rule.covers) or "no liquid of the catalogue"
        meant = ", ".join((*rule.families, *rule.hazards))
        by = f" [{meant}]" if meant else ""
        say(f"forbidden ({RULE_WORDS[rule.rule]}): {told}{by}: {rule.why}", indent="")
    for one in bottles:
        say(_bottle_line(one))
    for lot in lots:
        say(f"stock {lot.id}  {lot.sort}: {lot.text}{' - PAST ITS DAY' if lot.past else ''}", indent="")
    for thing in late:
        say(_due_line(thing))
    return OK


def _bottle_line(one: BottleView) -> str:
    days = (
        ("opened", one.opened or "not known"),
        ("expires", one.expires),
        ("tested", " ".join(filter(None, (one.peroxide_tested, one.peroxide_result)))),
        ("used up", one.finished),
        ("lot", one.lot),
    )
    told = ", ".join(f"{word} {text}" for word, text in days if text)
    return f"bottle {one.id}  {one.name}{f' ({one.label})' if one.label else ''}: {told}"


def _due_line(one: Due) -> str:
    label = f" ({one.label})" if one.label else ""
    mark = f" ~ {one.mark}" if one.mark else ""
    return wrap(f"! {one.name}{label}, bottle {one.bottle}: {one.text}{mark}", indent="")


def _due(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.shelf.bottles import due

    found = due(studio, date.today())
    say_list(args.json, found, _due_line, "Nothing is due.")
    return FOUND if found else OK


def _hold(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.materials.resolve import resolve
    from kb.desk.shelf.shelf import hold, unhold

    liquids = [resolve(studio, "liquid", text) for text in args.liquid]
    done = (hold if args.verb == "hold" else unhold)(studio, liquids)
    return say_either(args.json, done, done.text)


def _rule(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.materials.lookup import resolve_entry
    from kb.desk.shelf.shelf import allow, forbid

    named = {
        "liquids": [resolve_entry(studio, "liquid", text) for text in args.liquid],
        "families": [resolve_entry(studio, "family", text) for text in args.family],
        "hazards": [resolve_entry(studio, "hazard", text.strip().upper()) for text in args.hazard],
    }
    if args.verb == "forbid":
        done = forbid(studio, **named, why=args.why, rule=args.rule)
    else:
        done = allow(studio, **named)
    return say_either(args.json, done, done.text)


def _open(studio: Studio, args: argparse.Namespace) -> int:
    from kb.book.kinds.bottle import Bottle
    from kb.desk.materials.resolve import resolve, understood
    from kb.desk.shelf.bottles import open_bottle
    from kb.desk.shelf.shelf import allowed

    liquid = resolve(studio, "liquid", " ".join(args.liquid))
    texts = {name: getattr(args, name).strip() for name in TEXTS}
    opened = "" if args.opened.strip().lower() in {"unknown", "?", "-"} else day_of(args.opened)
    bottle = Bottle(liquid=liquid, opened=opened, expires=day_of(args.expires), **texts)
    named, verdict = understood(studio, bottle), allowed(studio, {liquid: 1.0})
    written = open_bottle(studio, bottle, date.today())
    say_stored(args.json, f"Stored and on disk: bottle {written.id}", written, named)
    if verdict.why and not args.json:
        say(f"Mind: {verdict.why}. See: benchleaf shelf --help", indent="")
    return OK


def _bottle(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.materials.resolve import resolve
    from kb.desk.records.book_list import amend_record, changes_from_words, withdraw_record
    from kb.desk.shelf.bottles import bottle_id, finish, peroxide_tested

    meant = bottle_id(studio, args.bottle)
    if args.verb == "tested":
        written = peroxide_tested(studio, meant, on=day_of(args.on), result=args.result, today=date.today())
    elif args.verb == "finish":
        written = finish(studio, meant, on=day_of(args.on), today=date.today())
    elif args.verb == "amend":
        said = (text.partition("=") for text in args.set)
        # A bottle of words that no liquid bears would be due for nothing.
        known = [
            f"liquid={resolve(studio, 'liquid', typed)}"
            if name.strip() == "liquid"
            else f"{name}{sign}{typed}"
            for name, sign, typed in said
        ]
        written = amend_record(studio, meant, changes_from_words(studio, "bottle", known), args.why)
    else:
        written = withdraw_record(studio, meant, args.why)
    return say_changed(args.json, written)
