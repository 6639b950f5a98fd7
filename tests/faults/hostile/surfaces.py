"""Every place on the command line that takes text, found from the parsers themselves.

A new command or option is taken in by itself. What it needs beside the text in question stands in
`EXAMPLES` (values by the name of the argument) and `BESIDE` (words that a verb cannot do without).
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from importlib import util
from pathlib import Path
from typing import Any, NamedTuple

from kb.cli.main import NOUNS, Parser, declared, module_of

APART = {
    "app": "needs a terminal; tests/faults/hostile/test_hostile_screens.py drives it",
    "web": "takes no text, and serves until it is stopped; tests/test_web.py drives it",
    "rebuild": "takes no text",
    "verify": "takes no text",
    "check": "takes no text",
    "sources": "takes no text",
}
"""Nouns without a surface of their own, and why."""

EXAMPLES: dict[str, str] = {
    "liquid": "acetone",
    "kind": "liquid",
    "text": "acetone",
    "why": "misread",
    "set": "remarks=x",
    "sheet": "Letter 1",
    "size": "420 x 594 mm",
    "amount": "2 ml",
    "room": "60 m3",
    "air_changes": "2",
    "reagent": "calcium-hydroxide",
    "volume": "5 L",
    "grammage": "100 g/m2",
    "result": "negative",
    "after": "wash",
    "infill.sheet": "88 1 12",
    "infill.infill": "87 1 12",
    "id": "{test}",
    "batch": "{batch}",
    "bottle": "{bottle}",
    "reading": "{reading}",
    "record": "{test}",
    "label.record": "{batch}",
}
"""Values of required arguments by name, or by command and name. Ids in braces are those of the stage."""

BESIDE: dict[str, list[str]] = {
    "test add": ["--liquid=acetone", "--dwell=30s", "--release=1", "--new-sheet"],
    "dry": ["--blend=acetone 50, n-heptane 50"],
    "air": ["--liquid=acetone"],
    "safety": ["--blend=acetone 50, n-heptane 50"],
    "bath": ["--strength=0.01 mol/l"],
    "wash read": ["--ph=7", "--new-sheet"],
    "plan": ["--new-sheet"],
    "batch add": ["--recipe=wheat", "--make=120 ml"],
    "tissue": ["--length=120 mm"],
    "recipe": ["--make=120 ml"],
    "shelf forbid": ["acetone"],
    "shelf allow": ["acetone"],
    "compare": ["ethanol"],
}
"""Words that a verb needs though its parser does not say so; the one under trial takes their place."""

INSTEAD = {
    "liquid": "blend",
    "blend": "liquid",
    "target_ph": "strength",
    "have": "make",
    "mends": "make",
    "area": "make",
    "name": "",
}
"""Options that exclude one of BESIDE."""
PATHS = {"backup words", "share join remote", "share settle file"}
"""Arguments that are paths though their parser does not say so: a test must not write just anywhere."""


class Surface(NamedTuple):
    """One argument of one command. ``words`` is all that stands before it."""

    command: str
    name: str
    words: tuple[str, ...]
    option: str
    """How it is given, with two dashes; empty if it stands by its place."""
    sort: str
    """``text``, ``number`` or ``path``."""
    has_json: bool

    def argv(self, text: str, *, as_json: bool) -> list[str]:
        """The command line with a text at this place."""
        tail = ["--json"] if as_json and self.has_json else []
        return [*self.words, *tail, *([f"{self.option}={text}"] if self.option else [text])]


def present(noun: str) -> bool:
    """Whether the file of a noun is there."""
    return util.find_spec(module_of(noun)) is not None


def surfaces(ids: dict[str, str]) -> Iterator[Surface]:
    """Every surface of every command; ``ids`` are records that stand for those in braces."""
    for noun in NOUNS:
        if noun in APART or not present(noun):
            continue
        parser = Parser(prog=noun)
        declared(noun, parser)
        for words, leaf in _leaves(parser, (noun,)):
            yield from _of(words, leaf, ids)


def _leaves(
    parser: argparse.ArgumentParser, words: tuple[str, ...]
) -> Iterator[tuple[tuple[str, ...], argparse.ArgumentParser]]:
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for name, inner in action.choices.items():
                yield from _leaves(inner, (*words, name))
            if action.required:
                return
    yield words, parser


def _of(words: tuple[str, ...], leaf: argparse.ArgumentParser, ids: dict[str, str]) -> Iterator[Surface]:
    actions = [
        one
        for one in leaf._actions
        if one.nargs != 0 and not isinstance(one, argparse._SubParsersAction) and one.dest != "help"
    ]
    has_json = any("--json" in one.option_strings for one in leaf._actions)
    command = " ".join(words)
    for action in actions:
        option = action.option_strings[-1] if action.option_strings else ""
        before = [*words, *_beside(command, action, option)]
        places = []
        for other in actions:
            if other is action or not other.required:
                continue
            value = _example(words[0], other).format(**ids)
            if other.option_strings:
                before.append(f"{other.option_strings[-1]}={value}")
            else:
                places.append((actions.index(other), value))
        here = actions.index(action)
        if not option:
            before += [value for place, value in places if place < here]
            # What stands behind by its place is given by the text itself being the last of them.
        else:
            before += [value for _, value in places]
        yield Surface(command, action.dest, tuple(before), option, _sort(command, action), has_json)


def _beside(command: str, action: argparse.Action, option: str) -> list[str]:
    taken = {f"--{action.dest}", f"--{INSTEAD.get(action.dest, action.dest)}", option}
    kept = [word for word in BESIDE.get(command, []) if word.partition("=")[0] not in taken]
    # A word by its place takes the place of the one under trial.
    return [word for word in kept if option or word.startswith("--")]


def _example(noun: str, action: argparse.Action) -> str:
    if action.choices is not None:
        known = [str(one) for one in action.choices]
        wanted = EXAMPLES.get(action.dest, "")
        return wanted if wanted in known else known[0]
    return EXAMPLES.get(f"{noun}.{action.dest}", EXAMPLES.get(action.dest, "acetone"))


def _sort(command: str, action: argparse.Action) -> str:
    kind: Any = action.type
    if f"{command} {action.dest}" in PATHS:
        return "path"
    return "path" if kind is Path else "text" if kind is None else "number"
