"""The command ``benchleaf``. Each noun's own file is imported only when that noun is used."""

from __future__ import annotations

import argparse
import atexit
import gc
import io
import math
import os
import re
import sys
from collections.abc import Mapping
from importlib import import_module
from pathlib import Path
from types import ModuleType
from typing import Any, NoReturn

from kb.cli import Later, load
from kb.cli.out import FAILED, FOUND, OK, UNCLEAR, Unprinted, columns, flush, say_key, warn

NOUNS = {
    "app": "open the terminal app (the same as no word at all)",
    "web": "the app in a browser, for a tablet beside the sheet",
    "choose": "which liquid to test next on this tape, and why",
    "identify": "what a tape is and how old its adhesive, from what you see",
    "find": "find a material by a half-remembered or misspelt name",
    "show": "read one entry with its figures and sources",
    "test": "spot tests: add, list, show, amend, withdraw",
    "safety": "the safety note of a liquid or blend",
    "blend": "blends from the shelf that dissolve the adhesive and spare what lies near",
    "dry": "what is left of a blend while it dries",
    "map": "the triangular solubility map, as text or SVG",
    "sphere": "a material's sphere fitted to own crumb tests, beside the printed one",
    "air": "what a person would breathe, and fire, in a room",
    "shelf": "what the studio holds and forbids, its bottles, and what is due",
    "cautions": "all caution rules, or those that apply",
    "compare": "up to four entries side by side",
    "liquids": "liquids by family, hazard, evaporation, or what is held and allowed here",
    "recipe": "pastes, gels, baths and coated tissue, in the amount that is wanted",
    "batch": "what was made up: label, what goes off, and what it touched",
    "dilute": "stock to working strength, blends, solids, dry load",
    "bath": "an alkaline bath from equilibrium: amount, pH, drift, reserve",
    "wash": "which washing is possible, the gentlest first; readings of each bath",
    "tissue": "repair tissue for a sheet: weight, strips, what it adds",
    "infill": "colour of toned infills against the sheet",
    "press": "pressing and drying, step by step",
    "sheet": "sheets as records: add, show, list, amend, merge",
    "condition": "what is wrong with a sheet, and what became of it",
    "strip": "tape and weak zones on the two faces of a sheet",
    "report": "the record of a sheet that is handed over: HTML, PDF/A, text",
    "label": "labels of batches, bottles and sheets with a code that holds the id",
    "open": "a record by its id, typed or scanned from a label",
    "patch": "in which order to lift tape from two faces, patch by patch",
    "photo": "photographs of a sheet: take them in, pair them; did the ink move",
    "plan": "one page for a sheet: tests, washing, tissue, drying, housing, what is missing",
    "house": "gap, hinges, depth, light and climate for a framed sheet",
    "sources": "what the catalogue rests on, and what of it was read",
    "own": "entries of your own: liquids, recipes, papers ... written as YAML, comments kept",
    "check": "check all catalogue files",
    "verify": "check that no record of the book was lost or altered",
    "rebuild": "derive the index anew from catalogue and book",
    "book": "all records of the book, of every kind: list, show, amend, withdraw",
    "share": "join the studio folder with others through git",
    "pool": "counts of tests from other studios: export, add, list, weigh, drop",
    "export": "everything as an open data package: tables, schema, photographs, checksums",
    "import": "bring a data package back",
    "backup": "a dated copy of the studio, read back and compared",
}
ROOMS = {
    "air": ("air", "safety"),
    "backup": ("backup", "rebuild", "verify"),
    "choose": ("cautions", "choose"),
    "liquids": ("blend", "dry", "map", "sphere"),
    "making": ("batch", "dilute", "label", "recipe"),
    "materials": ("check", "compare", "find", "liquids", "own", "show", "sources"),
    "package": ("export", "import"),
    "sheet": (
        *("condition", "house", "infill", "patch", "photo", "plan", "press", "report", "sheet", "strip"),
        "tissue",
    ),
    "water": ("bath", "wash"),
}
"""The folder of a noun's file. What has one file in its room stands beside this one."""
FILES = {"import": "bring_back"}
"""Nouns whose file bears another name, because theirs is a word of the language."""
WITHOUT_JSON = ("app", "web")
"""Words that show something and answer nothing."""
EPILOG = """\
exit codes: 0 done; 1 done, and something wrong or due was found (check, verify, shelf due, batch due, batch
trace), or nothing goes by the name that was given;
2 not understood: an option is wrong or a word fits several entries; 3 could not be done.
The studio folder is --studio, else BENCHLEAF_STUDIO, else your own data folder; it is made on the
first write.
"""


USUAL = gc.get_threshold()
LARGEST = 1_000_000
"""Largest number that any option takes: rows, columns, days and seconds beyond it mean nothing."""
COUNTS = frozenset({"limit", "width", "within", "keep", "max_hazard", "wait"})
"""Options below zero that no verb refuses by itself: a list of -1 lines would leave out the last."""
PATIENCE = 100_000
"""Objects that may be made before the collector first looks for cycles: more than an answer makes."""


def layout(prog: str) -> argparse.HelpFormatter:
    """Made anew for each option that a parser is given, so it asks for the width without loading more."""
    return argparse.RawDescriptionHelpFormatter(prog, width=columns() - 2)


def _number(text: str) -> float:
    """A number of an option, with point or with comma as in amounts: 1,000 may be two."""
    if "," not in text:
        return float(text)
    from kb.science.quantities import parse_number

    try:
        return parse_number(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error)) from None


class Parser(argparse.ArgumentParser):
    """Says in one sentence what is wrong, and exits 2."""

    def __init__(self, **settings: Any) -> None:
        # A beginning decides no more than a near name does: --colour is not --colourant.
        super().__init__(**{"formatter_class": layout, "allow_abbrev": False, **settings})
        self.register("type", float, _number)

    def _get_values(self, action: argparse.Action, arg_strings: list[str]) -> Any:
        """``--name=--`` gives the option a text of two dashes; some versions of Python lose it."""
        if action.option_strings and action.nargs is None and arg_strings == ["--"]:
            value = self._get_value(action, "--")
            self._check_value(action, value)
            return value
        return super()._get_values(action, arg_strings)

    def _add_action(self, action: Any) -> Any:
        """Every option is explained, also those that many words share."""
        from kb.cli.options import explained

        explained(action)
        return super()._add_action(action)

    def error(self, message: str) -> NoReturn:
        from kb.cli.options import near_words

        near = near_words(self, message)
        # The list of all that may be chosen is longer than a sentence.
        said = re.sub(r" \(choose from .{80,}\)", "", message)
        said = re.sub(r"invalid int value: (.*)", r"\1 is not a whole number", said, flags=re.DOTALL)
        said = re.sub(r"invalid float value: (.*)", r"\1 is not a number, such as 0.5", said, flags=re.DOTALL)
        warn(f"{said[:1].upper()}{said[1:]}.{near} See: {self.prog} --help")
        sys.exit(UNCLEAR)


def run() -> None:
    """Entry point of the installed command."""
    _open_what_is_closed()
    if isinstance(sys.stdout, io.TextIOWrapper):
        # A terminal that is not in UTF-8 gets a mark for what it cannot show.
        sys.stdout.reconfigure(errors="replace")
    # The collector would take a seventh of an answer's time and free nothing before the program ends.
    gc.set_threshold(PATIENCE)
    code = main(sys.argv[1:], alone=True)
    gc.freeze()
    _end(code)


def _end(code: int) -> NoReturn:
    """End the program; without taking its modules apart one by one, where nothing else hangs on that.

    That took a twentieth of an answer. What is to be done at the end (`atexit`: the index is sealed) is done.
    """
    threading = sys.modules.get("threading")
    watched = sys.gettrace() or sys.getprofile()
    if watched or (threading is not None and threading.active_count() > 1):
        sys.exit(code)
    atexit._run_exitfuncs()
    try:
        sys.stdout.flush()
        sys.stderr.flush()
    except (OSError, ValueError):
        sys.exit(code)
    os._exit(code)


def _load_records() -> None:
    """Load msgspec with the names of Python's own typing, and without types that no record holds.

    It asks typing_extensions first, which loads inspect and ast: a tenth of the time of a short answer. Every
    Python that runs this program has the same names itself. Its schemas are not used here, and no record
    holds a decimal or an id of Python's own kind, which take as long to load as the library itself.
    """
    later = {name: Later(name) for name in ("msgspec.inspect", "textwrap")}
    unmet = {"decimal": _of_types("decimal", "Decimal"), "uuid": _of_types("uuid", "UUID", "SafeUUID")}
    load("msgspec", {"typing_extensions": None, **unmet, **later})


def _of_types(name: str, *types: str) -> ModuleType:
    """Stands for a module while its types are taken note of that nothing here is ever one of."""
    module = Later(name)
    for one in types:
        setattr(module, one, type(one, (), {"unknown": None}))
    return module


def _open_what_is_closed() -> None:
    """Give a program that was started with its input or output closed nothing in their place.

    Else the first file that it opens, the bench book perhaps, takes that number and is printed to.
    """
    for number, name in enumerate(("stdin", "stdout", "stderr")):
        if getattr(sys, name) is None:
            opened = os.open(os.devnull, os.O_RDWR)
            if opened != number:
                os.dup2(opened, number)
            setattr(sys, name, os.fdopen(number, "w" if number else "r"))


def main(arguments: list[str], *, alone: bool = False) -> int:
    """Run one command; returns its exit code. ``alone``: this process does nothing else."""
    shared, arguments = _anywhere(arguments)
    if alone and arguments and arguments[0] not in WITHOUT_JSON:
        _load_records()
    noun, rest = _noun(arguments)
    parser = Parser(prog=f"benchleaf {noun}", description=nouns()[noun] if noun not in NOUNS else NOUNS[noun])
    _studio_options(parser)
    command = declared(noun, parser)
    if alone and hasattr(os, "nice"):
        os.nice(getattr(command, "STEPS_BACK", 0))
    args = parser.parse_args(rest)
    for name in ("studio", "demo", "debug"):
        setattr(args, name, getattr(shared, name))
    if unfit := _unfit(vars(args)):
        warn(unfit)
        return UNCLEAR
    return _guarded(getattr(command, "run", _do), args)


def _do(args: argparse.Namespace) -> int:
    """The verb that was typed, of a word whose verbs all ask the studio."""
    from kb.cli.options import studio_of

    return int(args.does(studio_of(args), args))


def declared(noun: str, parser: argparse.ArgumentParser) -> Any:
    """Give the parser the options of a word; what does it: a module, or the command of a kind of record."""
    command = _command(noun)
    command.options(parser)
    if noun not in WITHOUT_JSON:
        _json_options(parser)
    return command


def _command(noun: str) -> Any:
    if noun in NOUNS:
        return import_module(module_of(noun))
    from kb.cli.records import Command, kinds_by_verb

    return Command(kinds_by_verb()[noun])


def module_of(noun: str) -> str:
    """The module of one of `NOUNS`."""
    room = next((f"{room}." for room, nouns in ROOMS.items() if noun in nouns), "")
    return f"kb.cli.{room}{FILES.get(noun, noun)}"


def nouns() -> dict[str, str]:
    """All words and what they do. Those of kinds of records are asked for last, because few need them."""
    from kb.cli.records import kinds_by_verb

    kinds = kinds_by_verb().items()
    return {**NOUNS, **{verb: f"write down {kind.a_noun}, and list them" for verb, kind in kinds}}


def _unfit(typed: Mapping[str, object]) -> str:
    """Why the arguments cannot be taken: not UTF-8, no path, no number or one beyond all sense; else nothing.

    A path may hold bytes that are not UTF-8, because the file system takes them.
    """
    for name, value in typed.items():
        for one in value if isinstance(value, list) else (value,):
            if isinstance(one, float) and math.isnan(one):
                return f"{one} is no number; type it again."
            if name in COUNTS and isinstance(one, int | float) and one < 0:
                return f"--{name.replace('_', '-')} is a number from 0 up, not {one:g}."
            if isinstance(one, int | float) and abs(one) > LARGEST:
                return f"{str(one)[:30]} is too large a number; at most {LARGEST:,} is taken."
            if isinstance(one, str | Path) and not _can_be(one):
                what = "a path" if isinstance(one, Path) else "text in UTF-8"
                return f'"{str(one)[:60]}" is not {what}; type it again.'
    return ""


def _can_be(typed: str | Path) -> bool:
    """Whether a text is whole characters, or a path what the file system takes. Neither holds a NUL."""
    try:
        return b"\x00" not in (os.fsencode(typed) if isinstance(typed, Path) else typed.encode())
    except UnicodeEncodeError:
        return False


def _anywhere(arguments: list[str]) -> tuple[argparse.Namespace, list[str]]:
    """The options that every command shares, wherever they stand, and all else in its order."""
    parser = Parser(prog="benchleaf", add_help=False, allow_abbrev=False)
    _studio_options(parser)
    return parser.parse_known_args(arguments)


def _noun(arguments: list[str]) -> tuple[str, list[str]]:
    """The word, "app" if there is none, and what follows it."""
    if not arguments:
        # To list all words loads every kind of record: 40 modules before the first paint.
        return "app", []
    if arguments[0] in NOUNS or arguments[0] in nouns():
        return arguments[0], arguments[1:]
    chosen = _outer().parse_args(arguments)
    return chosen.noun, chosen.rest


def _outer() -> Parser:
    from kb import __version__

    parser = Parser(
        prog="benchleaf",
        description="Bench reference and bench book for paper conservators.",
        epilog="words:\n"
        + "".join(f"  {noun:<8} {what}\n" for noun, what in nouns().items())
        + "\n"
        + EPILOG,
    )
    parser.add_argument("--version", action="version", version=f"benchleaf {__version__}")
    _studio_options(parser)
    parser.add_argument("noun", nargs="?", choices=tuple(nouns()), default="app", metavar="word")
    parser.add_argument("rest", nargs=argparse.REMAINDER, help=argparse.SUPPRESS)
    return parser


def _studio_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--studio", type=Path, metavar="FOLDER", help="the studio folder")
    parser.add_argument("--demo", action="store_true", help="use the invented demo studio")
    parser.add_argument("--debug", action="store_true", help="show the whole error when something fails")


def _json_options(parser: argparse.ArgumentParser) -> None:
    """Every word answers a program as well; one that needs no verb takes it before and after the verb."""
    taken = "--json" in parser._option_string_actions
    verbs = next((one for one in parser._actions if isinstance(one, argparse._SubParsersAction)), None)
    for verb in (parser,) if verbs is None else verbs.choices.values():
        if "--json" not in verb._option_string_actions:
            usual = argparse.SUPPRESS if taken else False
            verb.add_argument("--json", action="store_true", default=usual)


def _guarded(function: object, args: argparse.Namespace) -> int:
    from kb.desk.errors import DeskError, Unclear

    try:
        code = function(args) if callable(function) else FAILED
        say_key()
        flush()
        return int(code)
    except Unclear as error:
        warn(str(error))
        return UNCLEAR if error.borne else FOUND
    except DeskError as error:
        warn(str(error))
        return FAILED
    except KeyboardInterrupt:
        warn("Stopped. Records that were acknowledged are on disk.")
        return 130
    except BrokenPipeError:
        _print_no_more()
        return OK
    except Unprinted as error:
        _print_no_more()
        # To try again would store a second record of one spot.
        warn(
            f"The answer could not be printed ({error}). A record that was to be stored is on disk; look "
            "before you type it again: benchleaf book list"
        )
        return FOUND
    except Exception as error:
        if args.debug:
            raise
        if isinstance(error, OSError) and error.strerror:
            place = f": {str(error.filename)[:200]}" if error.filename else ""
            warn(
                f"{error.strerror}{place}. Records that were acknowledged are on disk. "
                "See to the file, the folder or the disk and try again."
            )
            return FAILED
        warn(
            f"Something went wrong inside the program ({type(error).__name__}: {error}). "
            "Records that were acknowledged are on disk. Run again with --debug for the whole error."
        )
        return FAILED


def _print_no_more() -> None:
    """Let what is still to be printed go nowhere, so that the program does not fail again as it ends."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


if __name__ == "__main__":
    run()
