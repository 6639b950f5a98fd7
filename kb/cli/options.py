"""What options name that commands share: the studio, and the question that is asked; and what they mean.

The nearest word is named where one is misspelt.
"""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from kb.cli.out import step, warn

if TYPE_CHECKING:
    from kb.desk.studio import Studio
    from kb.model.question import Question
import re
from collections.abc import Callable, Iterable, Iterator


def studio_of(args: argparse.Namespace) -> Studio:
    if args.demo:
        from kb.desk.demo import open_demo

        studio = open_demo(args.studio)
    else:
        from kb.desk.studio import open_studio

        studio = open_studio(args.studio, progress=step)
    studio.notice = warn
    return studio


Does = Callable[["Studio", argparse.Namespace], int]
"""What a verb does with a studio and what was typed; the exit code."""


def verb(verbs: Any, name: str, does: Does, about: str, **more: Any) -> argparse.ArgumentParser:
    """A verb of a word that asks the studio: `main` calls what it does."""
    made: argparse.ArgumentParser = verbs.add_parser(name, help=about, **more)
    made.set_defaults(does=does)
    return made


def verbs_of(parser: argparse.ArgumentParser, *names: str, usual: Does | None = None) -> Any:
    """Where the verbs of a word are added; ``usual`` is done where none is typed."""
    parser.set_defaults(does=usual)
    return parser.add_subparsers(dest="verb", required=usual is None, metavar="|".join(names))


def correcting(verbs: Any, named: str, does: Does, amend: str, withdraw: str) -> None:
    """The verbs that correct a record and take it back, and what each does; both ask why."""
    amending = verb(verbs, "amend", does, f"{amend}; the first record stays")
    taking = verb(verbs, "withdraw", does, f"{withdraw}; the record stays")
    for one in (amending, taking):
        one.add_argument(named)
    amending.add_argument("--set", action="append", default=[], metavar="FIELD=VALUE", required=True)
    for one in (amending, taking):
        one.add_argument("--why", required=True)


def day_of(text: str) -> str:
    """A date as typed; "today" is today's."""
    from datetime import date

    return date.today().isoformat() if text.strip().lower() == "today" else text.strip()


def tell_of_signs(args: argparse.Namespace, adhesive: str) -> None:
    """Say that signs were left out, where an adhesive is named or known of the tape."""
    if args.sign and adhesive:
        warn("The signs were left out: they are for a tape that is not known, and its adhesive is named.")


def asks(add: argparse._ActionsContainer, name: str, metavar: str = "TEXT", about: str | None = None) -> None:
    """An option of words, empty where it is not typed."""
    add.add_argument(f"--{name}", default="", metavar=metavar, help=about)


def asks_often(add: argparse._ActionsContainer, name: str, metavar: str, about: str | None = None) -> None:
    """One that may be given several times."""
    add.add_argument(f"--{name}", action="append", default=[], metavar=metavar, help=about)


def flag(add: argparse._ActionsContainer, name: str, about: str | None = None) -> None:
    """One without words, off where it is not typed."""
    add.add_argument(f"--{name}", action="store_true", help=about)


def question_options(parser: argparse.ArgumentParser) -> None:
    """Every feature by id or by words, as in ``benchleaf choose``."""
    for name in ("tape", "adhesive", "carrier", "stage", "paper", "method"):
        asks(parser, name, "TEXT")
    asks_often(parser, "medium", "TEXT", "once per medium within reach")
    asks_often(parser, "medium-back", "TEXT", "a medium on the other face")
    asks(parser, "sheet", "NAME", "its record and spots count, where the rest is left open")


def question_of(studio: Studio, args: argparse.Namespace) -> Question:
    """The question that the options ask. Raises Unclear for a word that fits several entries or none."""
    from kb.desk.materials.resolve import question

    same = ("tape", "adhesive", "stage", "paper", "method")
    return question(
        studio,
        carrier_text=args.carrier,
        medium=args.medium[0] if args.medium else "",
        also_media=args.medium[1:],
        back_media=args.medium_back,
        sheet=sheet_asked(studio, args.sheet),
        **{name: getattr(args, name) for name in same},
    )


def sheet_asked(studio: Studio, typed: str) -> str:
    """The sheet that a question is about, by any part of its name; else what was typed, and a warning.

    Without it a number of a sheet had the answer leave out the very inks that lie on it, without a word.
    """
    if not typed.strip():
        return ""
    from kb.desk.sheet.names import NoSheet, sheet_named, sheet_row

    # Whole names need not wait for those of all tests of a long book.
    if sheet_row(studio, typed.strip()) is not None:
        return typed.strip()
    try:
        return sheet_named(studio, typed)
    except NoSheet as none:
        warn(str(none))
        return typed


SHARED = {
    "json": "print JSON instead of text",
    "why": "the reason, which stands beside the change",
    "set": "a field and its new value; may be given several times",
    "id": "the record, by the beginning of its id",
    "batch": "the batch, by the beginning of its id",
    "bottle": "the bottle, by the beginning of its id",
    "reading": "the reading, by the beginning of its id",
    "sheet": "the sheet, by its name",
    "kind": "the kind of entry: liquid, recipe, paper ...",
    "liquid": "a liquid, by its id, a name of it, or its CAS number",
    "blend": 'parts by volume, such as "acetone 50, n-heptane 50"',
    "tape": "the tape, by its id or a name of it",
    "adhesive": "the adhesive, by its id or a name of it",
    "stage": "how far it has aged: fresh, tacky, oily, brittle ...",
    "carrier": "the carrier of the tape, by its id or a name of it",
    "medium": "the ink, colour or print within reach",
    "paper": "the paper, by its id or a name of it",
    "method": "how the liquid is brought on: swab, poultice, gel ...",
    "who": "who wrote it",
    "remarks": "anything else, in words",
    "wait": "seconds to wait for another program that holds the folder",
    "on": "the day, such as 2026-05-31; today, if left out",
    "strength": "with its unit: 10 %% w/v, 0.01 mol/l ...",
    "stock": "its strength, with a unit",
    "wanted": "the strength that is wanted, with a unit",
    "first": "the first amount or strength, with a unit",
    "second": "the second amount or strength, with a unit",
    "total": "how much is made in all, with a unit",
    "amounts": "the amounts that are mixed, with units",
    "before": "as it was before, with a unit; or the photograph of before",
    "after": "as it was after, with a unit; or the photograph of after",
    "to": "the unit that is wanted",
    "grammage": "weight of the sheet: 80 g/m2",
    "text": "what one remembers of the name, in any spelling near it",
    "family": "a family of liquids: alcohol, ketone, ester ...",
    "hazard": "a statement on labels: H225, EUH019 ...",
    "held": "only what this studio holds; or the humidity that is held, such as 45-55 %%",
    "not_held": "only what this studio does not hold",
    "allowed": "only what is allowed here",
    "forbidden": "only what is forbidden here",
    "evaporation": "how fast it goes",
    "recipe": "the recipe, by its id or a name of it",
    "density": "of what is weighed or measured: 0.95 g/ml",
    "ph": "the pH that was read",
    "water": "which water: deionised, tap ...",
    "temperature": "such as 18 C or 64 F",
    "size": "width x height: 420 x 594 mm",
    "mass": "of the dry sheet: 25 g",
    "thickness": "of the sheet: 0.12 mm",
    "humidity": "of the room: 45-55 %%",
    "file": "the file",
    "limit": "how many to show",
    "carrier_present": "whether the carrier was still on the spot",
    "face": "front or back",
    "x": "from the left edge, in mm",
    "y": "from the upper edge, in mm",
    "control": "a spot without tape or adhesive",
    "photo_before": "a photograph taken before; it is copied in",
    "photo_after": "a photograph taken after; it is copied in",
    "label": "what stands on the bottle",
    "lot": "lot of the maker",
    "grade": "of purity",
    "result": "what the test showed",
    "severity": "only rules of this weight",
    "area": "the area to cover, with a unit",
    "name": "its name",
    "expires": "the last day on which it may be used",
    "volume": "of the bath: 5 L",
    "target_ph": "the pH to reach",
    "tray": "width x height of the tray: 700 x 500 mm",
    "blotter": "which blotter",
    "conductivity": "of the water: 180 uS",
    "colour": "of the water, in words, against white",
    "into": "the sheet that it becomes",
    "decision": "what was decided, in words",
    "sensitivity": "how the colours stand light",
    "lux": "light on the sheet",
    "days": "how long it is shown",
    "theirs": "take what the others wrote",
    "weight": "from 0 (left out) to 1 (as an own test)",
    "which": "the studio, by its name or the beginning of its id",
    "what": "which, by the beginning of its id or by its name",
    "words": "what to do, and with which copy",
}
"""By the name under which the program knows them; what a word says of its own option comes first."""


def explained(action: argparse.Action) -> None:
    """Give an option that says nothing of itself the words that it shares with others."""
    if action.help is None:
        action.help = SHARED.get(action.dest)


def near_words(parser: argparse.ArgumentParser, message: str) -> str:
    """The nearest option or word to what was not understood, as a sentence; empty if none is near."""
    unknown = re.match(r"unrecognized arguments: (.*)", message)
    if unknown:
        typed = [one.partition("=")[0] for one in unknown[1].split() if one.startswith("--")]
        options = set(_options(parser)) - {"--help"}
        # "--colour" of a toning is nearer to --colourant than to a kind of harm.
        begun = any(option.startswith(one) for one in typed for option in options)
        return ("" if begun else _of_harm(typed)) or _sentence(typed, options)
    lone = re.search(r"(--[\w-]+): expected one argument", message)
    if lone:
        return f" What begins with a minus is written {lone[1]}=-5."
    choice = re.search(r"invalid choice: '([^']*)' \(choose from (.*)\)", message)
    if choice:
        near = _sentence([choice[1]], {one.strip(" '") for one in choice[2].split(",")})
        # "show acetone": all kinds are longer than a sentence, and any shows how it goes.
        kind = message.startswith("argument kind") and f'{parser.prog} liquid "{choice[1]}"'
        return near or (f" The kind stands before the name, for instance: {kind}." if kind else "")
    return ""


def _of_harm(typed: Iterable[str]) -> str:
    """How a kind of harm is said: by ``--harm``, of a spot; it is no option of its own."""
    from kb.book.kinds.spot_test import HARM_KINDS

    kind = next((one for name in typed if (one := name.removeprefix("--")) in HARM_KINDS), "")
    return f" Harm that was seen is said of a spot: benchleaf test add ... --harm {kind}=1." if kind else ""


def _options(parser: argparse.ArgumentParser) -> Iterator[str]:
    for action in parser._actions:
        yield from (one for one in action.option_strings if one.startswith("--"))
        if isinstance(action, argparse._SubParsersAction):
            for below in action.choices.values():
                yield from _options(below)


def _sentence(typed: Iterable[str], known: Iterable[str]) -> str:
    from difflib import get_close_matches

    typed = list(typed)
    # Another word may have an option of just that name, which is no help here.
    candidates = sorted(set(known) - set(typed))
    near = [found[0] for one in typed if (found := get_close_matches(one, candidates, 1, 0.6))]
    return f" Did you mean {', '.join(near)}?" if near else ""
