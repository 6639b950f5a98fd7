"""benchleaf sheet: sheets as records of their own."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from kb.book.kinds.kind import plain_of
from kb.book.kinds.sheet import SHEET
from kb.cli.options import verb, verbs_of
from kb.cli.out import OK, UNCLEAR, say, say_each, say_either, say_json, say_list, say_written, warn
from kb.cli.records import in_words, photographs, typed_of
from kb.science.numbers import counted

if TYPE_CHECKING:
    from kb.desk.sheet.sheets import SheetLine
    from kb.desk.studio import Studio

FIELDS = tuple(key for key in plain_of(SHEET) if key not in {"sheet", "photo"})


def options(parser: argparse.ArgumentParser) -> None:
    verbs = verbs_of(parser, "add", "show", "list", "amend", "merge")
    add = verb(verbs, "add", _add, "write a sheet down")
    show = verb(verbs, "show", _show, "one sheet with its condition and tape")
    verb(verbs, "list", _list, "all sheets")
    emptied = "What is named is corrected, what is not stays as it is; - empties a field."
    amend = verb(verbs, "amend", _amend, "correct it, or give it another name", description=emptied)
    merge = verb(verbs, "merge", _merge, "two sheets that are one")
    for one in (add, show, amend, merge):
        one.add_argument("sheet", help="any part of its name, its number, or the beginning of its id")
    merge.add_argument("--into", required=True, metavar="SHEET")
    amend.add_argument("--name", default="", metavar="TEXT", help="its new name")
    for one in (add, amend):
        in_words(one, SHEET, FIELDS)
    photographs(add)
    for one in (amend, merge):
        one.add_argument("--why", required=True, metavar="TEXT", help="the reason, which is kept")


def _add(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.sheet.sheets import add_sheet

    words = typed_of(args, FIELDS)
    against = _to_mind(studio, words, [])
    written = add_sheet(studio, {"sheet": args.sheet, **words, "photo": args.photo})
    return say_written(args.json, written, "sheet", against)


def _to_mind(studio: Studio, words: dict[str, str], stored: list[str]) -> list[str]:
    from kb.desk.amounts import without_unit
    from kb.desk.choose.recorded import recorded
    from kb.desk.records.work_records import media_elsewhere

    typed = [one.strip() for face in ("media_front", "media_back") for one in words[face].split(",")]
    faces = [*stored, *typed]
    no_unit = filter(None, (without_unit("size", words["size"]),))
    _, unknown = recorded(studio, "medium", (one for one in typed if one.strip("-")))
    left_out = [
        f'No medium of the catalogue is called "{one}", so no answer can reckon with it.' for one in unknown
    ]
    marks = {key: words[key] for key in ("marks", "remarks")}
    return [*no_unit, *left_out, *media_elsewhere(studio, marks, filter(None, faces))]


def _amend(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.sheet.sheets import amend_sheet

    words = {**typed_of(args, FIELDS), "sheet": args.name}
    if not any(map(str.strip, words.values())):
        warn("Nothing is to be changed; - empties a field.")
        return UNCLEAR
    from kb.desk.sheet.names import sheet_named, sheet_row

    row = sheet_row(studio, sheet_named(studio, args.sheet))
    stored = [*row.body.media_front, *row.body.media_back] if row is not None else []
    against = _to_mind(studio, words, stored)
    written = amend_sheet(studio, args.sheet, words, args.why)
    return say_written(args.json, written, warnings=against)


def _merge(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.sheet.names import sheet_named
    from kb.desk.sheet.sheets import merge

    moved = merge(studio, args.sheet, args.into, args.why)
    into = sheet_named(studio, args.into)
    return say_either(
        args.json,
        {"sheet": into, "moved": moved},
        f'{counted(moved, "record")} moved to "{into}"; each keeps the line it was written with.',
    )


def _list(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.sheet.sheets import sheet_lines

    return say_list(args.json, sheet_lines(studio), _line, "No sheet is written down.")


def _line(line: SheetLine) -> str:
    about = ", ".join(part for part in (line.number, line.size, line.owner) if part)
    return f"{line.sheet}{f'  ({about})' if about else ''}  {counted(line.records, 'record')}"


def _show(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.sheet.view import sheet_view

    view = sheet_view(studio, args.sheet)
    if args.json:
        return say_json(view)
    say(view.sheet)
    for label, text in view.facts:
        say(f"{label}: {text}", indent="  ")
    for title, lines in (("Condition", view.condition_words), ("Tape", view.tape_words)):
        say(f"{title}:")
        say_each(lines or ("nothing is written down",))
    return OK
