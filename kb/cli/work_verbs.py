"""What the nouns for work on a sheet share - mend, tone, frame: to add one, and to list them."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Protocol, TypeVar

from kb.cli.out import OK, say, say_json, wrap


class Kept(Protocol):
    """What every such record has in a list."""

    @property
    def id(self) -> str: ...
    @property
    def at(self) -> str: ...
    @property
    def state(self) -> str: ...
    @property
    def words(self) -> str: ...
    @property
    def warnings(self) -> tuple[str, ...]: ...


T = TypeVar("T", bound=Kept)


def add_and_list(
    parser: argparse.ArgumentParser, adds: str, lists: str, about: Mapping[str, str]
) -> argparse.ArgumentParser:
    """The two verbs; ``about`` are the options of ``add`` that take any text. Returns ``add``."""
    verbs = parser.add_subparsers(dest="verb", required=True, metavar="add|list")
    add = verbs.add_parser("add", help=adds)
    for name, words in about.items():
        add.add_argument(f"--{name}", default="", metavar="TEXT", help=words)
    listing = verbs.add_parser("list", help=f"{lists}, the oldest first")
    listing.add_argument("sheet", nargs="?", default="")
    for verb in verbs.choices.values():
        verb.add_argument("--json", action="store_true")
    return add


def photographs(add: argparse.ArgumentParser) -> None:
    """The option that names photographs."""
    add.add_argument("--photo", action="append", default=[], type=Path, metavar="FILE", help="one or several")


def tell_stored(what: str, record_id: str, lines: Iterable[str], warnings: Iterable[str]) -> int:
    """That it is on disk, and what to know of it."""
    say(f"Stored and on disk: {what} {record_id}")
    _tell(lines, warnings)
    return OK


def tell_list(
    found: Sequence[T],
    *,
    as_json: bool,
    what: str,
    sheet: Callable[[T], str],
    lines: Callable[[T], Iterable[str]],
) -> int:
    """All of them, with what is to be known of each."""
    if as_json:
        say_json(found)
        return OK
    for one in found:
        state = f"  [{one.state}]" if one.state else ""
        of = f"{sheet(one)}: " if sheet(one) else ""
        say(f"{one.id}  {one.at[:10]}  {of}{one.words}{state}")
        _tell(lines(one), one.warnings)
    if not found:
        say(f"No {what} is written down.")
    return OK


def _tell(lines: Iterable[str], warnings: Iterable[str]) -> None:
    for text in (*lines, *(f"! {text}" for text in warnings)):
        say(wrap(text, indent="  "))
