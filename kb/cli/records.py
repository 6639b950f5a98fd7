"""Every kind of record that has a word of its own - mend, tone, frame: to add one, and to list them.

The options come from the declaration of the kind, so that a new kind or field has its option at once.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from kb.book.kinds.field import Field, asked, find
from kb.book.kinds.kind import Kind, plain_of
from kb.book.kinds.table import KINDS
from kb.cli.options import SHARED, asks, asks_often, flag, verb, verbs_of
from kb.cli.out import OK, say, say_each, say_json

if TYPE_CHECKING:
    from kb.desk.studio import Studio


SCALE = 14
"""Where a scale ends at most, pH or grades, whose ends are said."""


def kinds_by_verb() -> dict[str, Kind]:
    """The words of this command, in the order of the table of kinds."""
    return {kind.verb: kind for kind in KINDS.values() if kind.verb}


class Command(NamedTuple):
    kind: Kind

    def options(self, parser: argparse.ArgumentParser) -> None:
        kind, verbs = self.kind, verbs_of(parser, "add", "list")
        about = f"write down {kind.a_noun}"
        asked_for(verb(verbs, "add", partial(_add, kind), about, description=kind.about or None), kind)
        told = f"{kind.table.replace('_', ' ')}, the oldest first"
        listing = verb(verbs, "list", partial(_list, kind), told)
        listing.add_argument("sheet", nargs="?", default="", metavar=kind.subject)


def asked_for(add: argparse.ArgumentParser, kind: Kind) -> None:
    """An argument for each thing that the kind asks: what must be given has a place, the rest an option."""
    for key, group in plain_of(kind).items():
        if key in kind.least and group[0].says.needed:
            add.add_argument(key, help=_about(key, group[0]))
        else:
            _option(add, key, group[0])
        if group[0].says.reads == "sheet":
            new_sheet(add)


def in_words(add: argparse.ArgumentParser, kind: Kind, names: Iterable[str]) -> None:
    """An option for each of these fields of a kind, named as in the book or as it is asked for."""
    for name in names:
        field = find(kind.type, name) or asked(kind.type)[name][0]
        _option(add, name, field)


def _option(add: argparse.ArgumentParser, key: str, field: Field) -> None:
    name, about = key.replace("_", "-"), _about(key, field)
    if field.item is str:
        asks(add, name, "TEXT", f"{about}; between commas")
    elif field.item is not None:
        asks_often(add, name, "TEXT", f"{about}; or several times")
    else:
        asks(add, name, "TEXT", about)


def _about(key: str, field: Field) -> str:
    """How a field is typed; else what it means, between what bounds, and in what unit a bare number is."""
    says = field.says
    whole = says.meaning if says.meaning.endswith("...") else says.meaning.removesuffix(".")
    meaning = whole[:1].lower() + whole[1:]
    # Of these it speaks to readers of a table: an id of the catalogue, remarks as typed.
    shared = SHARED.get(key) if says.entries or says.record or key == "remarks" or not meaning else ""
    words = says.hint or shared or meaning or says.label * (not field.choices)
    if not says.hint and field.is_figure and not shared:
        words += (
            f", from {says.low:g} to {says.high:g}" * (says.high <= SCALE) + field.label[len(says.label) :]
        )
    # What each word means is said with it.
    if field.choices and not all(f" {word} " in words for word in field.choices):
        words = "; ".join(filter(None, (", ".join(field.choices), words)))
    return words if words == shared else words.replace("%", "%%")


def _add(kind: Kind, studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.materials.resolve import understood
    from kb.desk.records import work_records as work
    from kb.desk.records.record import write
    from kb.desk.records.typed_fields import checked_from_words

    body = checked_from_words(studio, kind, on_known_sheet(studio, args))
    # Before it is stored, as `say_stored` says.
    named, warnings = understood(studio, body), work.warnings(studio, kind, body)
    follows = {} if not args.json else work.answer(studio, kind, body)
    said = () if args.json else (work.words_of(studio, kind, body), *work.notes(studio, kind, body))
    found_if_new(studio, args, body)
    written = write(studio, kind.key, body)
    if args.json:
        return say_json({"written": written, **follows, "understood": named, "warnings": warnings})
    say(f"Stored and on disk: {kind.noun} {written.id}")
    _tell((*named, *said), warnings)
    return OK


def _list(kind: Kind, studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.records import work_records as work

    if kind.subject == "sheet" or not args.sheet:
        wanted = sheet_meant(studio, args.sheet)
    else:
        from kb.desk.records.typed_fields import record_from_words

        wanted = getattr(record_from_words(studio, kind, {kind.subject: args.sheet}), kind.subject)
    found = work.views(studio, kind, wanted)
    if args.json:
        return say_json([work.as_told(studio, kind, view) for view in found])
    for view in found:
        state = f"  [{view.state}]" if view.state else ""
        say(f"{view.id}  {view.at[:10]}  {view.sheet and f'{view.sheet}: '}{view.words}{state}")
        _tell(view.notes, view.warnings)
    if not found:
        say(f"No {kind.noun} is written down.")
    return OK


def _tell(lines: Iterable[str], warnings: Iterable[str]) -> None:
    say_each((*lines, *(f"! {text}" for text in warnings)))


def new_sheet(add: argparse.ArgumentParser) -> None:
    """The option that founds a sheet, for commands that write down what lies on one."""
    flag(add, "new-sheet", "the sheet is not in the book yet: found it")


def on_known_sheet(studio: Studio, args: argparse.Namespace) -> dict[str, Any]:
    """What was typed, with the sheet that is meant by it. Raises NoSheet for one that is not in the book."""
    typed = vars(args)
    if not hasattr(args, "new_sheet"):
        return typed
    from kb.desk.sheet.names import sheet_for_record

    return {**typed, "sheet": sheet_for_record(studio, args.sheet, new=args.new_sheet)}


def found_if_new(studio: Studio, args: argparse.Namespace, body: Any) -> None:
    """Write the sheet down before its first record, if the option says that it is new."""
    if getattr(args, "new_sheet", False):
        from kb.desk.sheet.names import found_sheet

        found_sheet(studio, body.sheet)


def sheet_meant(studio: Studio, typed: str) -> str:
    """The sheet that a list is narrowed to, by any part of its name; empty for none.

    Raises NoSheet, since an empty list for a name that no sheet bears would say that nothing was done to it.
    """
    from kb.desk.sheet.names import sheet_named

    return sheet_named(studio, typed) if typed.strip() else ""


def typed_of(args: argparse.Namespace, fields: Iterable[str]) -> dict[str, str]:
    return {name: getattr(args, name) for name in fields}


def photographs(add: argparse.ArgumentParser) -> None:
    """The option that names photographs, for commands of records that have a word of their own."""
    add.add_argument("--photo", action="append", default=[], type=Path, metavar="FILE", help="one or several")
