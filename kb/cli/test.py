"""benchleaf test: spot tests in the bench book."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from kb.book.kinds.table import KINDS
from kb.cli.book import tell
from kb.cli.options import asks, asks_often, correcting, flag, tell_of_signs, verb, verbs_of
from kb.cli.out import (
    OK,
    say,
    say_changed,
    say_cut,
    say_each,
    say_either,
    say_json,
    say_rows,
    say_stored,
    stored_plain,
    warn,
)
from kb.cli.records import asked_for, found_if_new, new_sheet, on_known_sheet, sheet_meant

if TYPE_CHECKING:
    from kb.desk.studio import Studio

FEATURES = ("tape", "adhesive", "stage", "carrier", "medium", "paper", "method")


def options(parser: argparse.ArgumentParser) -> None:
    verbs = verbs_of(parser, "add", "card", "list", "show", "amend", "withdraw")
    _add_options(verb(verbs, "add", _add, "store a spot test"))
    _card_options(verb(verbs, "card", _card, "store the spots of a filled-in card in one go"))
    listing = verb(verbs, "list", _list, "tests, newest first")
    listing.add_argument("--limit", type=int, default=50, metavar="N", help="0: all")
    for name in ("sheet", "who", "liquid", *FEATURES):
        asks(listing, name, "TEXT")
    showing = verb(verbs, "show", _show, "one test with its history")
    showing.add_argument("id")
    correcting(verbs, "id", _change, "correct fields", "take a test out of all counts")


def _add_options(add: argparse.ArgumentParser) -> None:
    for name in FEATURES:
        asks(add, name, "TEXT")
    asks_often(add, "sign", "LOOK=FINDING", "where the tape is not known")
    asks(add, "liquid", "TEXT")
    asks(add, "blend", '"acetone 50, n-heptane 50"')
    flag(add, "residue-only", "the carrier was gone already")
    flag(add, "carrier-present")
    asks(add, "sheet", "NAME")
    new_sheet(add)
    asks(add, "site", "WORDS", "where on the sheet")
    add.add_argument("--face", default="", choices=("", "front", "back"))
    asks(add, "x", '"12 mm"')
    asks(add, "y", '"12 mm"')
    asks_often(add, "dwell", "30s", "once per round")
    asks_often(add, "amount", "TEXT", "once per round")
    asks_often(add, "wet", "TEXT", "seen wet, once per round")
    asks_often(add, "dry", "TEXT", "seen dry, once per round")
    add.add_argument("--release", metavar="0-4", help="0 no effect ... 4 releases clean")
    asks_often(
        add,
        "harm",
        "KIND=0-4",
        "bleed, offset, tideline, gloss, surface, colour; what is left out was not looked at",
    )
    flag(add, "control")
    add.add_argument("--photo-before", action="append", default=[], type=Path, metavar="FILE")
    add.add_argument("--photo-after", action="append", default=[], type=Path, metavar="FILE")
    add.add_argument("--batch", default="")
    asks(add, "tested-at", "ISO", "if not now")
    asked_for(add, KINDS["test"])


def _card_options(card: argparse.ArgumentParser) -> None:
    for name in FEATURES:
        asks(card, name, "TEXT")
    asks(card, "sheet", "NAME")
    new_sheet(card)
    card.add_argument(
        "--from", dest="card", default="", metavar="FILE", help="lines in a file; - reads the input"
    )
    card.add_argument(
        "spots",
        nargs="*",
        metavar="SPOT",
        help='"n-heptane: 30s, 1min, release 2, bleed 0"; "water: look, all 0"',
    )


def _add(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.materials.resolve import understood
    from kb.desk.records.record import add_test
    from kb.desk.records.typed import test_from_words
    from kb.desk.records.work_records import against_test

    words = on_known_sheet(studio, args)
    test = test_from_words(studio, words)
    tell_of_signs(args, test.adhesive)
    named, against = understood(studio, test), against_test(studio, test)
    found_if_new(studio, args, test)
    written = add_test(studio, test)
    return say_stored(args.json, f"Stored and on disk: {written.id}", written, named, against)


def _card(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.errors import DeskError
    from kb.desk.materials.resolve import question, understood
    from kb.desk.records.record import Written, add_test
    from kb.desk.records.typed import from_card, graded
    from kb.desk.records.work_records import against_test

    words = {name: getattr(args, name) for name in FEATURES}
    sheet = on_known_sheet(studio, args)["sheet"]
    asked = question(studio, carrier_text=words.pop("carrier"), sheet=sheet, **words)
    tests = from_card(studio, asked, [*args.spots, *_lines_in(args.card)])
    said = [(*understood(studio, test), *graded(test)) for test in tests]
    against = [against_test(studio, test) for test in tests]
    found_if_new(studio, args, tests[0])
    stored: list[Written] = []
    for test in tests:
        try:
            stored.append(add_test(studio, test))
        except DeskError as error:
            # Typed again as it is, the card would count these spots twice.
            before = f" {len(stored)} of the card's spots were stored before that." if stored else ""
            raise DeskError(f"{error}{before}") from error
    if args.json:
        return say_json([*map(stored_plain, stored, said, against)])
    for number, (lines, warnings, written) in enumerate(zip(said, against, stored, strict=True), start=1):
        say(f"Spot {number}, stored and on disk: {written.id}")
        say_each(lines)
        for line in warnings:
            warn(f"Spot {number}: {line}")
    return OK


def _lines_in(file: str) -> list[str]:
    """The lines of a file, or of the input for "-"; none where no file is named."""
    from kb.desk.errors import DeskError

    try:
        text = sys.stdin.read() if file == "-" else Path(file).read_text("utf-8") if file else ""
    except OSError as error:
        raise DeskError(
            f"{file} cannot be read ({error.strerror}); name a file. Nothing was recorded."
        ) from error
    except UnicodeDecodeError as error:
        raise DeskError(f"{file} is not text in UTF-8; store it as such. Nothing was recorded.") from error
    return text.splitlines()


def _list(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.records.record import list_tests
    from kb.desk.records.typed import filters_from_words

    filters = filters_from_words(
        studio,
        {
            "sheet": sheet_meant(studio, args.sheet),
            **{name: getattr(args, name) for name in ("who", "liquid", *FEATURES)},
        },
    )
    limit = max(0, args.limit)
    rows = list_tests(studio, filters, limit=limit + 1 if limit else 0)
    more, rows = len(rows) > limit > 0, rows[: limit or None]
    say_either(args.json, rows, _say_tests)
    say_cut(limit if more else 0, limit)
    return OK


def _say_tests(rows: list[Any]) -> None:
    from kb.desk.records.record import PAPER_ONLY

    plain, cells = [], []
    for row in rows:
        release = "-" if row.release is None else str(row.release)
        alone = f" ({PAPER_ONLY})" if row.passes_ink_by else ""
        harm = "not looked" if row.harm is None else f"{row.harm}{alone}"
        state = f"  [{row.state}]" if row.state else ""
        # On a control no adhesive lay, whatever its sheet bears elsewhere.
        what = "control" if row.control else row.tape or row.adhesive or "paper only"
        also = row.also and f"  {row.also}"
        plain.append(
            f"{row.id}  {row.at[:10]}  {row.sheet or '-':<22} {what:<28} {row.medium:<16} "
            f"{row.liquid:<24} release {release} harm {harm}{also}{state}"
        )
        ends = ", ".join(filter(None, (row.also, row.state)))
        cells.append((row.id[:12], row.at[:10], row.sheet, what, row.medium, row.liquid, release, harm, ends))
    say_rows(("Id", "Date", "Sheet", "Tape", "Medium", "Liquid", "Release", "Harm", "State"), cells, plain)


def _show(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.records.book_list import show_record
    from kb.desk.records.record import show_test

    found = show_test(studio, args.id)
    return say_either(args.json, found, lambda found: tell(show_record(studio, found.id)))


def _change(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.materials.resolve import understood_of
    from kb.desk.records.book_list import against_change, amend_record, withdraw_record
    from kb.desk.records.record import full_id
    from kb.desk.records.typed import changes_from_words

    if args.verb == "withdraw":
        return say_changed(
            args.json, withdraw_record(studio, full_id(studio, args.id), args.why), (), "Withdrawn"
        )
    changes = changes_from_words(studio, args.set)
    named, id = understood_of(studio, changes), full_id(studio, args.id)
    against = against_change(studio, id, changes)
    written = amend_record(studio, id, changes, args.why)
    return say_changed(args.json, written, named, "Amended", against)
