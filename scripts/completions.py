#!/usr/bin/env python3
"""Write completion for bash, zsh and fish, and the man page, from the options as the command declares them.

    scripts/completions.py FOLDER    # benchleaf.bash, _benchleaf, benchleaf.fish, benchleaf.1

Run by hand after an installation or an update, so that nothing of it costs time when the command runs.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path

from kb import __version__
from kb.cli.main import EPILOG, Parser, _studio_options, declared, nouns


def whole() -> Parser:
    """One parser with every word and its options, which the command itself never makes at once."""
    parser = Parser(prog="benchleaf", description="Bench reference and bench book for paper conservators.")
    _studio_options(parser)
    words = parser.add_subparsers(dest="word", metavar="word")
    for noun, what in nouns().items():
        below = words.add_parser(noun, help=what.replace("%", "%%"), description=what.replace("%", "%%"))
        _studio_options(below)
        declared(noun, below)
    return parser


def below(parser: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    """Words that may follow, by name."""
    found: dict[str, argparse.ArgumentParser] = {}
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            found |= action.choices
    return found


def options(parser: argparse.ArgumentParser) -> Iterator[argparse.Action]:
    """Its own options and arguments, without the words that follow."""
    for action in parser._actions:
        if not isinstance(action, argparse._SubParsersAction) and action.help != argparse.SUPPRESS:
            yield action


def fish(parser: argparse.ArgumentParser) -> str:
    """Completion for fish: each word after its own words, each option with what it means."""

    def quoted(text: object) -> str:
        return "'" + " ".join(str(text).replace("%%", "%").split()).replace("'", "\\'") + "'"

    lines = ["# Completion of benchleaf, written by scripts/completions.py", "complete -c benchleaf -f"]

    def walk(one: argparse.ArgumentParser, path: tuple[str, ...]) -> None:
        words = below(one)
        seen = " and ".join(f"__fish_seen_subcommand_from {word}" for word in path)
        if words:
            none = f"not __fish_seen_subcommand_from {' '.join(words)}"
            when = f"{seen} and {none}" if seen else none
            for word, following in words.items():
                says = quoted(following.description or word)
                lines.append(f"complete -c benchleaf -n {quoted(when)} -a {word} -d {says}")
        for action in options(one):
            for name in action.option_strings:
                if name.startswith("--"):
                    when = f" -n {quoted(seen)}" if seen else ""
                    needs = "" if action.nargs == 0 else " -r"
                    lines.append(f"complete -c benchleaf{when} -l {name[2:]}{needs} -d {quoted(action.help)}")
        for word, following in words.items():
            walk(following, (*path, word))

    walk(parser, ())
    return "\n".join(lines) + "\n"


def italic(text: str) -> str:
    """Something one puts a word of one's own for, as man shows it."""
    return rf"\fI{roff(text)}\fR"


def roff(text: object) -> str:
    """Plain text for man, in which a dash is a dash and nothing is a command."""
    said = " ".join(str(text).replace("%%", "%").split()).replace("\\", r"\e").replace("-", r"\-")
    return rf"\&{said}" if said.startswith((".", "'")) else said


def told(one: argparse.ArgumentParser, left_out: frozenset[str] = frozenset()) -> Iterator[str]:
    """Options and arguments of a word."""
    for action in options(one):
        if action.dest in left_out:
            continue
        named = italic(action.metavar if isinstance(action.metavar, str) else action.dest.upper())
        value = "" if action.nargs == 0 else f" {named}"
        names = ", ".join(rf"\fB{roff(name)}\fR{value}" for name in action.option_strings)
        yield f".TP\n{names or named}\n{roff(action.help or '')}"


SHARED = frozenset({"help", "studio", "demo", "debug"})
"""Options that every word takes; the page tells them once."""


def words(one: argparse.ArgumentParser, path: str) -> Iterator[str]:
    """Every word below one, with its options, and those below it."""
    for name, following in below(one).items():
        yield f".SS {roff(f'{path} {name}')}\n{roff(following.description or name)}"
        yield from told(following, SHARED)
        yield from words(following, f"{path} {name}")


def man(parser: argparse.ArgumentParser) -> str:
    """The man page: what the command is for, each word with its options, and the exit codes."""
    opening = "Without a word the terminal app opens. Options that every word takes may stand anywhere."
    return "\n".join(
        (
            f'.TH BENCHLEAF 1 "" "benchleaf {__version__}"',
            ".SH NAME",
            r"benchleaf \- bench reference and bench book for paper conservators",
            ".SH SYNOPSIS",
            ".B benchleaf",
            f"[{italic('options')}] [{italic('word')}] ...",
            ".SH DESCRIPTION",
            roff(opening),
            *told(parser),
            ".SH WORDS",
            *words(parser, "benchleaf"),
            ".SH NOTES",
            roff(EPILOG),
            "",
        )
    )


def main(folder: Path) -> None:
    """Write all four."""
    import shtab

    folder.mkdir(parents=True, exist_ok=True)
    parser = whole()
    for shell, name in (("bash", "benchleaf.bash"), ("zsh", "_benchleaf")):
        (folder / name).write_text(shtab.complete(parser, shell), "utf-8")
    (folder / "benchleaf.fish").write_text(fish(parser), "utf-8")
    (folder / "benchleaf.1").write_text(man(parser), "utf-8")


if __name__ == "__main__":
    reader = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    reader.add_argument("folder", type=Path, help="where the four files are written; made if it is not there")
    main(reader.parse_args().folder)
