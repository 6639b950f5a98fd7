"""benchleaf backup: a dated copy of the whole studio, read back and compared; check it later; put it back."""

from __future__ import annotations

import argparse
import shlex
from pathlib import Path
from typing import TYPE_CHECKING

from kb.cli.options import studio_of
from kb.cli.out import FOUND, OK, say, say_each, say_either, step
from kb.science.numbers import counted

if TYPE_CHECKING:
    from kb.desk.backup.backup import BackedUp

VERBS = ("check", "restore")
ABOUT = """\
The studio is copied into a new folder in FOLDER, named after the studio and the time. If no FOLDER is named,
that is the folder backups beside the studio folder; a disk of its own is a better place. "check FOLDER"
compares one backup with its check sums, "restore FOLDER --into NEW" puts it into a new folder. A folder that
is called check or restore is written ./check or ./restore.
"""


def options(parser: argparse.ArgumentParser) -> None:
    parser.epilog = ABOUT
    parser.usage = f"{parser.prog} [FOLDER] | check FOLDER | restore FOLDER --into NEW"
    parser.add_argument("words", nargs="*", metavar="FOLDER | check FOLDER | restore FOLDER")
    parser.add_argument(
        "--into", type=Path, metavar="NEW", help="restore: a folder that is empty or not there yet"
    )
    parser.add_argument(
        "--keep",
        type=int,
        metavar="N",
        help="take own older backups away but the newest N; without it all stay",
    )


def run(args: argparse.Namespace) -> int:
    """Exit 1 if something differs or has to be looked at."""
    from kb.desk.errors import DeskError

    verb = args.words[0] if args.words and args.words[0] in VERBS else ""
    folders = [Path(word) for word in args.words[1 if verb else 0 :]]
    if len(folders) > 1 or (verb and not folders):
        raise DeskError("Name one folder. See: benchleaf backup --help")
    if (args.into is not None) != (verb == "restore"):
        raise DeskError("Say restore FOLDER --into NEW, the two together. See: benchleaf backup --help")
    if verb == "check":
        return _check(folders[0], as_json=args.json)
    if verb == "restore":
        return _restore(folders[0], args.into, as_json=args.json)
    from kb.desk.backup.backup import back_up

    done = back_up(studio_of(args).root, *folders, keep=args.keep, progress=step)
    say_either(args.json, done, _tell)
    return FOUND if done.told else OK


def _tell(done: BackedUp) -> None:
    say(f"Backed up to {done.folder}")
    files, lines = counted(done.files, "file"), counted(done.records, "line")
    say(f"{files}, {done.bytes / 1e6:,.1f} MB, {lines} of the book; read back and compared.")
    if done.photographs:
        say(f"With {counted(done.photographs, 'photograph')} from outside the studio folder.")
    if done.photographs_missing:
        missing = counted(done.photographs_missing, "photograph")
        say(f"Not on this machine as recorded: {missing} that records name.")
    for name in done.removed:
        say(f"taken away: {name}")
    if done.same_disk:
        say("It is on the same disk as the studio. A folder on another disk outlives the loss of this one.")
    say_each(done.told, indent="", before="! ")


def _check(folder: Path, *, as_json: bool) -> int:
    from kb.desk.backup.check import check_backup

    found = check_backup(folder)
    state = f"{counted(len(found.problems), 'problem')}" if found.problems else "whole"
    files, lines = counted(found.files, "file"), counted(found.records, "line")
    for problem in () if as_json else found.problems:
        say(problem)
    say_either(as_json, found, f"{files}, {lines} of the book, made {found.made_at}: {state}.")
    return FOUND if found.problems else OK


def _restore(folder: Path, into: Path, *, as_json: bool) -> int:
    from kb.desk.backup.check import restore

    done = restore(folder, into, step)
    say_either(
        as_json,
        done,
        f"Put back: {counted(done.files, 'file')}, {counted(done.records, 'line')} of the book.",
    )
    if not as_json:
        say(f"Use it with: benchleaf --studio {shlex.quote(done.folder)}")
    return OK
