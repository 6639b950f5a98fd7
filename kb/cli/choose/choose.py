"""benchleaf choose: the ranked list for a question."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from kb.cli.options import asks_often, flag, question_of, question_options, studio_of, tell_of_signs
from kb.cli.out import FOUND, OK, Lines, say, say_each, say_json
from kb.model.question import HARM_AVERSIONS, degrees
from kb.science.numbers import percent

if TYPE_CHECKING:
    from kb.desk.choose.lexicon import Spoken
    from kb.model.question import Answer, Chance, Group, Suggestion


def options(parser: argparse.ArgumentParser) -> None:
    """Every feature by id or by words; what is not given is not known and is averaged over."""
    parser.add_argument(
        "words", nargs="*", metavar="WORDS", help='the question as one speaks: "sticky tape over toner"'
    )
    flag(parser, "closest", "take the closest name for a word that was not understood")
    question_options(parser)
    flag(parser, "card", "print the series as a card for the bench")
    asks_often(
        parser,
        "sign",
        "LOOK=FINDING",
        "where the tape is not known: what it shows (see: benchleaf identify --looks)",
    )
    parser.add_argument(
        "--book", type=Path, metavar="FILE", help="use this book file instead of the studio's"
    )
    parser.add_argument("--limit", type=int, default=12, metavar="N", help="how many to show (0: all)")
    flag(parser, "no-print", "leave out reports in print")
    parser.add_argument("--harm-aversion", type=float, metavar="N", help=degrees(HARM_AVERSIONS))
    parser.add_argument("--ceiling", type=float, metavar="P", help="highest bearable bound of harm, 0 to 1")
    parser.add_argument("--worth", type=float, metavar="N", help="what a safe release is worth, in spots")
    parser.add_argument(
        "--why", "--parts", action="store_true", help="the chemistry, figures and counts behind each liquid"
    )


def run(args: argparse.Namespace) -> int:
    import msgspec

    from kb.desk.choose.choose import choose, dials_of
    from kb.desk.studio import with_book

    studio = studio_of(args)
    if args.book is not None:
        studio = with_book(studio, args.book)
    asked = question_of(studio, args)
    if args.sign and not asked.adhesive:
        from kb.desk.choose.may_be import with_signs
        from kb.desk.identify.identify import signs

        asked = with_signs(studio, asked, signs(studio, args.sign))
    else:
        tell_of_signs(args, asked.adhesive)
    said = None
    if args.words:
        from kb.desk.choose.spoken import spoken

        said = spoken(studio, " ".join(args.words), asked)
        if args.closest and said.closest:
            said = spoken(studio, said.closest, asked)
        asked = said.question
    dials = dials_of(
        studio.settings.dials,
        harm_aversion=args.harm_aversion,
        ceiling=args.ceiling,
        worth=args.worth,
        use_print=False if args.no_print else None,
    )
    limit = args.limit if args.limit > 0 else 10_000
    answer = choose(studio, asked, dials, limit)
    # As where nothing bears a name: a script must not take such an answer for a whole one.
    done = FOUND if said is not None and said.without else OK
    if args.json:
        say_json(answer if said is None else msgspec.structs.replace(answer, not_understood=said.left))
        return done
    if studio.settings.invented:
        say("Invented demo studio: its sheets, people and tests are made up.")
    if said is not None:
        _print_understood(said)
    if args.card:
        from kb.desk.choose.explain import card

        say(Lines(card(answer)))
        return done
    _print(answer, dials.ceiling, why=args.why)
    return done


def _print_understood(said: Spoken) -> None:
    """What was not understood stands alone and first, since the answer looks the same without it."""
    if said.closest:
        say(f"! {said.missed}--closest takes what stands in brackets.", indent="")
    say(said.sentence.removeprefix(said.missed) if said.closest else said.sentence, indent="")


def _print(answer: Answer, ceiling: float, *, why: bool) -> None:
    """For people: what stops, what the sheet asks for, what happened here, the lines with their figures in
    words, the series, what to do."""
    from kb.desk.choose.words import HERE, barred, before, numbers, warnings

    minded = warnings(answer)
    here = [one for one in minded if one.startswith(HERE)]
    if answer.stop:
        say(answer.stop.text, indent="")
    say_each(here, indent="", before="! ")
    say_each((*(worked.text for worked in answer.worked_here), *answer.other_ways), indent="")
    for place, line in zip(numbers(answer), answer.groups, strict=True):
        _print_line(place, line, before(answer, line, ceiling), why=why)
    if why:
        for one in answer.suggestions:
            _print_why(one)
    _print_series(answer)
    # These name lines by their numbers, so they stand behind them.
    say_each((one for one in minded if one not in here), indent="", before="! ")
    for text in barred(answer):
        say(text, indent="")
    if answer.left_out:
        say("Left out: " + "; ".join(one.why for one in answer.left_out[:8]), indent="")
    # After a spot the next step is what was said first.
    said = answer.stop or answer.worked_here or answer.other_ways
    closing = (answer.rests_on, "" if said else answer.next_step, answer.mock_up, answer.disclaimer)
    for text in closing:
        if text:
            say(text, indent="")


def _print_line(place: int, line: Group, comes_first: str, *, why: bool) -> None:
    """One way of acting: its leader, how likely it releases and harms, what comes first; 0: not proposed."""
    from kb.desk.choose.words import alike

    one = line.lead
    assert one is not None
    say(f"{f'{place}.' if place else '-':>3} {line.name}{alike(line)}")
    say(f"release {_chance(one.release)}, harm {_chance(one.harm)}{comes_first}", indent="    ")
    if why:
        _print_why(one)


def _chance(chance: Chance) -> str:
    from kb.science.choose.evidence import in_words

    return f"{percent(chance.p)} ({in_words(chance.p)})"


def _print_why(one: Suggestion) -> None:
    """The figures and the chemistry behind one liquid."""
    say(f"{one.name}: {one.reason}", indent="      ")
    say_each((*one.details, *(f"! {caution}" for caution in one.cautions)), indent="        ")


def _print_series(answer: Answer) -> None:
    from kb.desk.choose.words import series

    text = series(answer)
    if text:
        say(f"{text} (--card prints it, to be filled in).", indent="")
