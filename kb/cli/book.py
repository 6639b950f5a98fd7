"""benchleaf book: all records of the book, of every kind."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from kb.cli.options import flag, verb, verbs_of
from kb.cli.out import OK, say, say_changed, say_cut, say_either, say_json, say_lines, say_rows
from kb.cli.records import sheet_meant

if TYPE_CHECKING:
    from kb.desk.records.book_list import RecordDetail
    from kb.desk.records.record import Step
    from kb.desk.studio import Studio


def options(parser: argparse.ArgumentParser) -> None:
    verbs = verbs_of(parser, "list", "show", "amend", "withdraw", "restore")
    listing = verb(verbs, "list", _list, "records, newest first")
    listing.add_argument("--sheet", default="", metavar="NAME")
    listing.add_argument(
        "--kind", action="append", default=[], help="test, mend, toning ...; may be given several times"
    )
    listing.add_argument("--who", default="", metavar="NAME")
    listing.add_argument("--limit", type=int, default=50, metavar="N", help="0: all")
    listing.add_argument("--before", default="", metavar="ID", help="go on from this record")
    showing = verb(verbs, "show", _show, "one record with its history, by the beginning of its id")
    showing.add_argument("id")
    flag(showing, "text", "the whole record as text for a paper file")
    amending = verb(verbs, "amend", _change, "correct fields; the first record stays")
    amending.add_argument("id")
    amending.add_argument("--set", action="append", default=[], metavar="FIELD=VALUE", required=True)
    for name, about in (
        ("withdraw", "written down by mistake, or undo a change by its id; the record stays"),
        ("restore", "bring back a record that was withdrawn"),
    ):
        verb(verbs, name, _change, about).add_argument("id")
    for name in ("amend", "withdraw", "restore"):
        verbs.choices[name].add_argument("--why", required=True)


def _list(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.records.book_list import list_records

    limit = max(0, args.limit)
    found = list_records(
        studio,
        kinds=tuple(args.kind),
        sheet=sheet_meant(studio, args.sheet),
        who=args.who,
        limit=limit + 1 if limit else 0,
        before=args.before,
    )
    more, found = len(found) > limit > 0, found[: limit or None]
    if args.json:
        say_json(found)
    elif found:
        plain = [
            f"{one.id}  {one.at[:10]}  {one.who}  {f'{one.sheet}: ' if one.sheet else ''}{one.what}"
            f"{f'  [{one.state}]' if one.state else ''}"
            for one in found
        ]
        cells = [(one.id[:12], one.at[:10], one.who, one.sheet, one.what, one.state) for one in found]
        say_rows(("Id", "Date", "Who", "Sheet", "What", "State"), cells, plain)
    else:
        say("No record of that sort is in the book.")
    say_cut(limit if more else 0, limit)
    return OK


def _show(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.records.book_list import record_id, show_record

    if args.text:
        from kb.desk.records.record_text import record_text

        text = record_text(studio, record_id(studio, args.id))
        if args.json:
            say_json({"text": text})
        else:
            say_lines(text)
        return OK
    found = show_record(studio, args.id)
    return say_either(args.json, found, tell)


def tell(found: RecordDetail) -> None:
    """All that a record says, as it was first written too, and how one came from the other."""
    from kb.book.kinds.table import KINDS

    state = f"  [{found.state}]" if found.state else ""
    word = KINDS[found.kind].noun if found.kind in KINDS else f"record of the kind {found.kind}"
    say(f"{word[:1].upper()}{word[1:]} {found.id}{state}, written {found.at} by {found.who} at {found.bench}")
    for label, text in found.fields:
        say(f"{label}: {text}", indent="  ")
    if found.first_fields != found.fields:
        say("  as first written:")
        for label, text in found.first_fields:
            if (label, text) not in found.fields:
                say(f"{label}: {text}", indent="    ")
        gained = [label for label, _ in found.fields if label not in dict(found.first_fields)]
        for label in gained:
            say(f"{label}: not written down", indent="    ")
    for step in found.history:
        say(step_line(step), indent="  ")


def step_line(step: Step) -> str:
    """One step of a record's history: what was changed, why, and whether it is in force."""
    changed = "".join(f" {field}={value}" for field, value in step.changed.items())
    why = f": {step.why}" if step.why else ""
    force = "in force" if step.in_force else "not in force"
    note = f" ({step.note})" if step.note else ""
    return f"{step.at} {step.who}: {step.kind} {step.id}{changed}{why} [{force}]{note}"


def _change(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.materials.resolve import understood_of
    from kb.desk.records import book_list

    named, against = tuple[str, ...](), tuple[str, ...]()
    if args.verb == "amend":
        kind = book_list.kind_of(studio, args.id)
        changes = book_list.changes_from_words(studio, kind, args.set)
        named, against = understood_of(studio, changes), book_list.against_change(studio, args.id, changes)
        written = book_list.amend_record(studio, args.id, changes, args.why)
    elif args.verb == "withdraw":
        written = book_list.withdraw_record(studio, args.id, args.why)
    else:
        written = book_list.restore_record(studio, args.id, args.why)
    return say_changed(args.json, written, named, against=against)
