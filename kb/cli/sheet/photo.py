"""benchleaf photo: photographs of a sheet taken in, paired, and compared: did the ink move?"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from kb.cli.options import flag, studio_of
from kb.cli.out import FOUND, OK, say, say_each, say_json, say_written, step, warn
from kb.cli.records import new_sheet, sheet_meant
from kb.science.numbers import percent

if TYPE_CHECKING:
    from kb.desk.records.record import Written
    from kb.desk.sheet.pictures_paired import Pair
    from kb.desk.sheet.pictures_taken import Taken
    from kb.desk.studio import Studio

TAGS = "before, during, after; raking, transmitted, uv"
SWAB = "centre and radius in pixels of the picture before, the right way up"


def options(parser: argparse.ArgumentParser) -> None:
    verbs = parser.add_subparsers(dest="verb", required=True, metavar="add|list|pair|swab|compare")
    add = verbs.add_parser("add", help="take photographs in: files, or all of a folder or a phone's folder")
    add.add_argument("file", nargs="*", type=Path, help="pictures, or folders of them")
    add.add_argument("--sheet", required=True, metavar="NAME", help="which sheet they show")
    add.add_argument("--patch", "--area", dest="area", default="", metavar="F3", help="a patch, or a place")
    add.add_argument("--face", choices=("front", "back"), default="")
    add.add_argument("--tag", action="append", default=[], metavar="TAG", help=f"{TAGS}; or several times")
    add.add_argument("--px-per-mm", default="", metavar="N", help="pixels along 10 mm of a ruler, by 10")
    add.add_argument("--swab", default="", metavar="X,Y,R", help=SWAB)
    add.add_argument("--remarks", default="", metavar="TEXT")
    new_sheet(add)
    add.add_argument("--watch", type=Path, metavar="FOLDER", help="take in what appears there, until Ctrl+C")
    listing = verbs.add_parser("list", help="photographs and pairs of a sheet, or of all")
    listing.add_argument("sheet", nargs="?", default="")
    pair = verbs.add_parser("pair", help="pair all of a sheet by area and light, or two by id")
    pair.add_argument("what", nargs="+", metavar="SHEET | BEFORE AFTER")
    swab = verbs.add_parser("swab", help="mark the swabbed area on a photograph that is stored")
    swab.add_argument("id", help="the beginning of its id")
    swab.add_argument("area", metavar="X,Y,R", help=SWAB)
    swab.add_argument("--px-per-mm", default="", metavar="N", help="pixels along 10 mm of a ruler, by 10")
    _compare_options(verbs.add_parser("compare", help="did the ink move? Stored pairs by id, or two files"))


def _compare_options(compared: argparse.ArgumentParser) -> None:
    compared.add_argument("pair", nargs="*", help="ids of stored pairs; the answer is kept with each")
    compared.add_argument("--sheet", default="", metavar="NAME", help="all pairs of it not compared yet")
    compared.add_argument("--before", type=Path, metavar="FILE", help="two files, which needs no studio")
    compared.add_argument("--after", type=Path, metavar="FILE")
    compared.add_argument("--px-per-mm", type=float, metavar="N", help="pixels along 10 mm of a ruler, by 10")
    compared.add_argument("--swab", type=_circle, metavar="X,Y,R", help=SWAB)
    compared.add_argument(
        "--no-change", type=Path, metavar="FILE", help="a second before picture, after the camera was moved"
    )
    flag(compared, "write", "pictures and report beside the before picture")


def _circle(text: str) -> tuple[float, float, float]:
    from kb.book.kinds.photograph import circle

    try:
        return circle(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error).rstrip(".")) from error


def run(args: argparse.Namespace) -> int:
    return {"add": _add, "list": _list, "pair": _pair, "swab": _swab, "compare": _compare}[args.verb](args)


# -- taken in, listed, paired ------------------------------------------------------------------------------


def _add(args: argparse.Namespace) -> int:
    from kb.desk.errors import DeskError
    from kb.desk.sheet.pictures_taken import add, add_if_new, described, known_hashes

    if not args.file and args.watch is None:
        raise DeskError("Name a picture, a folder of pictures, or a folder to watch.")
    studio = studio_of(args)
    words = {**vars(args), "tags": args.tag}
    # What would refuse every picture is said once, before the first is read.
    described(studio, words)
    known = known_hashes(studio)
    written: list[Written] = []
    refused: list[str] = []
    try:
        for path, from_folder in _given(args):
            try:
                one = add_if_new(studio, path, words, known) if from_folder else add(studio, path, words)
            except DeskError as error:
                # Of a folder the rest is taken in all the same, and what was refused is named.
                if not from_folder:
                    raise
                refused.append(str(error))
            else:
                if one is not None:
                    written.append(one)
                    _tell_added(args, path, one)
    except KeyboardInterrupt:
        # The way to stop watching.
        if args.watch is None:
            raise
    except DeskError as error:
        stored = f" {len(written)} were stored before that." if written else ""
        raise DeskError(f"{error}{stored}") from error
    if args.json:
        say_json({"written": written, "refused": refused})
    for text in () if args.json else refused:
        say(f"! {text}", indent="")
    return FOUND if refused else OK


def _given(args: argparse.Namespace) -> Iterator[tuple[Path, bool]]:
    """Each picture, and whether it was found in a folder and not named."""
    from kb.book.storage import from_home
    from kb.desk.sheet.pictures_taken import in_turn, pictures_in, watched

    given: list[tuple[Path, bool]] = []
    for path in map(from_home, args.file):
        given += [(one, True) for one in pictures_in(path)] if path.is_dir() else [(path, False)]
    yield from in_turn(given, step)
    if args.watch is not None:
        warn(f"Watching {args.watch}; Ctrl+C ends it.")
        yield from ((one, True) for one in watched(args.watch))


def _tell_added(args: argparse.Namespace, path: Path, written: Written) -> None:
    if not args.json:
        say(f"Stored and on disk: photograph {written.id}  {path.name}")


def _list(args: argparse.Namespace) -> int:
    from kb.desk.sheet.pictures_paired import pairs
    from kb.desk.sheet.pictures_taken import taken

    studio = studio_of(args)
    sheet = sheet_meant(studio, args.sheet)
    shots, twos = taken(studio, sheet), pairs(studio, sheet)
    if args.json:
        return say_json({"photographs": shots, "pairs": twos})
    for shot in shots:
        _tell_shot(shot)
    for pair in twos:
        _tell_pair(pair)
    if not shots:
        say("No photograph is written down.")
    return OK


def _tell_shot(shot: Taken) -> None:
    gone = "" if shot.file else "  [not on this machine]"
    say(f"{shot.id}  {shot.at[:10]}  {shot.sheet}: {shot.words}{gone}")


def _tell_pair(pair: Pair) -> None:
    say(f"{pair.id}  {pair.at[:10]}  {pair.sheet}: {pair.words}")
    if pair.wants:
        say(f"! {pair.wants}", indent="  ")


def _pair(args: argparse.Namespace) -> int:
    from kb.desk.errors import DeskError
    from kb.desk.sheet.pictures_paired import one_pair, pair_by_area, pair_two

    studio = studio_of(args)
    if len(args.what) > 2:
        raise DeskError("Name a sheet, or the ids of a photograph before and one after.")
    written = pair_by_area(studio, args.what[0]) if len(args.what) == 1 else [pair_two(studio, *args.what)]
    found = [one_pair(studio, one.id) for one in written]
    if args.json:
        return say_json({"written": written, "pairs": found})
    for pair in found:
        _tell_pair(pair)
    if not found:
        say("Nothing new to pair: a pair needs a photograph before and one after of one area in one light.")
    return OK


def _swab(args: argparse.Namespace) -> int:
    from kb.desk.sheet.pictures_taken import swab

    written = swab(studio_of(args), args.id, args.area, args.px_per_mm)
    return say_written(args.json, written)


# -- compared ------------------------------------------------------------------------------------------------


def _compare(args: argparse.Namespace) -> int:
    from kb.desk.errors import DeskError

    if args.before is not None and args.after is not None and not (args.pair or args.sheet):
        return _compare_files(args)
    if args.before is not None or args.after is not None or not (args.pair or args.sheet):
        raise DeskError("Name stored pairs, a sheet, or two files with --before and --after.")
    studio = studio_of(args)
    return _compare_stored(args, studio, args.pair or _due(studio, args.sheet))


def _due(studio: Studio, sheet: str) -> list[str]:
    from kb.desk.sheet.pictures_paired import pairs

    return [pair.id for pair in pairs(studio, sheet) if not pair.verdict]


def _compare_stored(args: argparse.Namespace, studio: Studio, ids: Iterable[str]) -> int:
    from kb.desk.sheet.pictures_paired import compare_all

    found = list(compare_all(studio, ids, lambda _number, text, share: _progress(text, share)))
    refused = [one for one in found if isinstance(one, str)]
    done = [one for one in found if not isinstance(one, str)]
    if args.json:
        say_json({"pairs": done, "refused": refused})
        return FOUND if refused else OK
    for pair in done:
        say(f"{pair.id}  {pair.words}")
        say_each(pair.said.splitlines())
    for text in refused:
        say(f"! {text}", indent="")
    if not found:
        say("No pair waits to be compared.")
    return FOUND if refused else OK


def _compare_files(args: argparse.Namespace) -> int:
    from kb.desk.sheet.photo_compare import as_plain, compare_files, lines_of, write_beside

    compared = compare_files(
        args.before, args.after, args.px_per_mm, args.swab, unchanged=args.no_change, progress=_progress
    )
    written = write_beside(compared, args.before.parent) if args.write else ()
    if args.json:
        return say_json({**as_plain(compared), "written": [str(path) for path in written]})
    say_each(lines_of(compared), indent="")
    for path in written:
        say(f"  {path}")
    return OK


def _progress(text: str, share: float) -> None:
    if sys.stderr.isatty():
        warn(f"{percent(share):>5} {text}")
