"""Every kind of record that has a word of its own - mend, tone, frame: to add one, and to list them.

The options come from the declaration of the kind, so that a new kind or field has its option at once.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable
from pathlib import Path
from typing import Any, NamedTuple

from kb.book.kinds.field import asked
from kb.book.kinds.kind import Kind
from kb.book.kinds.table import KINDS
from kb.cli.opened import studio_of
from kb.cli.out import OK, say, say_json, wrap


def kinds_by_verb() -> dict[str, Kind]:
    """The words of this command, in the order of the table of kinds."""
    return {kind.verb: kind for kind in KINDS.values() if kind.verb}


class Command(NamedTuple):
    """The command of one kind."""

    kind: Kind

    def options(self, parser: argparse.ArgumentParser) -> None:
        """To add one, and to list them."""
        verbs = parser.add_subparsers(dest="verb", required=True, metavar="add|list")
        add = verbs.add_parser(
            "add", help=f"write down {self.kind.a_noun}", description=self.kind.about or None
        )
        asked_for(add, self.kind)
        listing = verbs.add_parser("list", help=f"{self.kind.table.replace('_', ' ')}, the oldest first")
        listing.add_argument("sheet", nargs="?", default="")
        for verb in verbs.choices.values():
            verb.add_argument("--json", action="store_true")

    def run(self, args: argparse.Namespace) -> int:
        """Do what the verb says."""
        return _add(self.kind, args) if args.verb == "add" else _list(self.kind, args)


def asked_for(add: argparse.ArgumentParser, kind: Kind) -> None:
    """An argument for each thing that the kind asks: what must be given has a place, the rest an option."""
    for key, group in asked(kind.type).items():
        needed = key in kind.least and group[0].says.needed
        _option(add, key, group[0].says.hint, group[0], needed=needed)


def _option(add: argparse.ArgumentParser, key: str, hint: str, field: Any, *, needed: bool) -> None:
    about = ", ".join(field.choices) + (f"; {hint}" if hint else "") if field.choices else hint
    about = (about or field.says.label).replace("%", "%%")
    if needed:
        add.add_argument(key, help=about)
    elif field.item is not None:
        add.add_argument(
            f"--{key.replace('_', '-')}",
            action="append",
            default=[],
            metavar="TEXT",
            help=f"{about}; or several times",
        )
    else:
        add.add_argument(f"--{key.replace('_', '-')}", default="", metavar="TEXT", help=about)


def _add(kind: Kind, args: argparse.Namespace) -> int:
    from kb.desk.materials.said_back import understood
    from kb.desk.records import work_records as work
    from kb.desk.records.record import write
    from kb.desk.records.typed_fields import record_from_words

    studio = studio_of(args)
    body = record_from_words(studio, kind, vars(args))
    written = write(studio, kind.key, body)
    warnings = work.warnings(studio, kind, body)
    named = understood(studio, body)
    if args.json:
        more = {**work.answer(studio, kind, body), "understood": named, "warnings": warnings}
        say_json({"written": written, **more})
        return OK
    say(f"Stored and on disk: {kind.noun} {written.id}")
    _tell((*named, work.words_of(studio, kind, body), *work.notes(studio, kind, body)), warnings)
    return OK


def _list(kind: Kind, args: argparse.Namespace) -> int:
    from kb.desk.records import work_records as work

    studio = studio_of(args)
    found = work.views(studio, kind, args.sheet)
    if args.json:
        say_json([work.as_told(studio, kind, view) for view in found])
        return OK
    for view in found:
        state = f"  [{view.state}]" if view.state else ""
        say(f"{view.id}  {view.at[:10]}  {view.sheet and f'{view.sheet}: '}{view.words}{state}")
        _tell(view.notes, view.warnings)
    if not found:
        say(f"No {kind.noun} is written down.")
    return OK


def _tell(lines: Iterable[str], warnings: Iterable[str]) -> None:
    for text in (*lines, *(f"! {text}" for text in warnings)):
        say(wrap(text, indent="  "))


def photographs(add: argparse.ArgumentParser) -> None:
    """The option that names photographs, for commands of records that have a word of their own."""
    add.add_argument("--photo", action="append", default=[], type=Path, metavar="FILE", help="one or several")
