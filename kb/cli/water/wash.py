"""benchleaf wash: which washing is possible, and the readings of each bath."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from kb.book.kinds.bath_reading import READING
from kb.cli.options import correcting, flag, sheet_asked, verb, verbs_of
from kb.cli.out import OK, say, say_changed, say_each, say_either, say_json
from kb.cli.records import asked_for, found_if_new, on_known_sheet, sheet_meant

if TYPE_CHECKING:
    from kb.desk.studio import Studio
    from kb.desk.water.readings import ReadingView, StopRule
    from kb.desk.water.wash import WashPlan


def options(parser: argparse.ArgumentParser) -> None:
    verbs = verbs_of(parser, "plan", "read", "list", "amend", "withdraw")
    planning = verb(verbs, "plan", _plan, "what may be done with this sheet, the gentlest first")
    planning.add_argument("--sheet", default="")
    planning.add_argument(
        "--medium", action="append", default=[], help="every one within reach, front and back"
    )
    planning.add_argument("--paper", default="")
    flag(planning, "alkaline", "an alkaline bath is planned")
    planning.add_argument("--size", default="", metavar='"420 x 594 mm"')
    planning.add_argument("--tray", default="", metavar='"700 x 500 mm"')
    planning.add_argument("--grammage", default="", metavar='"100 g/m2"')
    planning.add_argument("--mass", default="", metavar='"25 g"', help="of the dry sheet")
    planning.add_argument("--blotter", default="", metavar='"300 g/m2"')
    reading = verb(verbs, "read", _read, "write down a reading of the water")
    asked_for(reading, READING)
    listing = verb(verbs, "list", _list, "readings, and whether to go on")
    listing.add_argument("sheet", nargs="?", default="")
    correcting(
        verbs, "reading", _change, "correct fields of a reading", "a reading was written down by mistake"
    )


def _plan(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.amounts import grams, or_unknown, per_area_g_m2, size_mm
    from kb.desk.materials.resolve import optional
    from kb.desk.water.wash import Size, Washing, plan_known

    sides, tray = (size_mm(typed) if typed else (0.0, 0.0) for typed in (args.size, args.tray))
    size = Size(
        *sides,
        or_unknown(per_area_g_m2, args.grammage),
        or_unknown(grams, args.mass),
        *tray,
        or_unknown(per_area_g_m2, args.blotter),
    )
    media = dict.fromkeys(one for text in args.medium if (one := optional(studio, "medium", text)))
    paper = optional(studio, "paper", args.paper)
    sheet = sheet_asked(studio, args.sheet)
    found = plan_known(studio, Washing(sheet, tuple(media), paper, args.alkaline, size))
    return say_either(args.json, found, _tell_plan)


def _tell_plan(found: WashPlan) -> None:
    say(f"{found.sheet or 'a sheet'}: {found.headline}")
    for one in found.reach:
        said = f" Handbook, {one.handbook}" * bool(one.handbook)
        say(f"{one.kind} {one.name}: {one.verdict}. {one.why}{said}", indent="  ")
    for way in found.ways:
        say(f"{way.name}: {way.verdict}")
        if way.verdict in {"no", "test first"}:
            continue
        water = f"{way.water_per_change.words} a change, " if way.water_per_change else ""
        whole = f"; {way.water_in_all.words} in all" if way.water_in_all else ""
        say(f"{way.why}", indent="    ")
        say(f"{water}{way.minutes.words} each, {way.changes.words}{whole}", indent="    ")
    say("water: " + "; ".join(one.words for one in found.temperature), indent="  ")
    if found.least_water:
        say(f"at least {found.least_water.words}", indent="  ")
    for rule in found.cautions:
        say(f"{rule.severity}: {rule.text} {rule.instead}", indent="  ")
    say_each((*found.notes, found.disclaimer))


def _read(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.records.typed_fields import checked_from_words
    from kb.desk.water.readings import add_reading, stop_rule

    reading = checked_from_words(studio, READING, on_known_sheet(studio, args))
    # Before it is stored, as `say_stored` says.
    rule = stop_rule(studio, reading.sheet, reading)
    found_if_new(studio, args, reading)
    written = add_reading(studio, reading)
    if args.json:
        return say_json({"written": written, "stop": rule})
    say(f"Stored and on disk: reading {written.id}")
    _tell_rule(rule)
    return OK


def _list(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.water.readings import all_readings, stop_rule

    sheet = sheet_meant(studio, args.sheet)
    found, rule = all_readings(studio, sheet), stop_rule(studio, sheet)
    if args.json:
        return say_json({"readings": found, "stop": rule if args.sheet else None})
    for one in found:
        say(_line(one))
    if not found:
        say("No readings are written down.")
    elif args.sheet:
        _tell_rule(rule)
    return OK


def _line(one: ReadingView) -> str:
    read = one.reading
    figures: tuple[tuple[Any, str], ...] = (
        (read.minutes, "{:g} min"),
        (read.ph, "pH {:g}"),
        (read.conductivity_us_cm, "{:g} µS/cm"),
        (read.temperature_c, "{:g} °C"),
        (read.colour or None, "{}"),
        (read.water or None, "{}"),
        (read.remarks or None, "({})"),
    )
    said = ", ".join(form.format(value) for value, form in figures if value is not None)
    amended = " [amended]" if one.amended else ""
    return f"{one.id}  {read.sheet}, bath {read.bath}: {said}{amended}"


def _tell_rule(rule: StopRule) -> None:
    say(f"{rule.verdict}: {rule.text}", indent="")


def _change(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.records.book_list import amend_record, changes_from_words, withdraw_record
    from kb.desk.water.readings import reading_id

    meant = reading_id(studio, args.reading)
    if args.verb == "amend":
        written = amend_record(studio, meant, changes_from_words(studio, READING.key, args.set), args.why)
    else:
        written = withdraw_record(studio, meant, args.why)
    return say_changed(args.json, written)
