"""Sentences of the catalogue that stand word for word in a text that was read.

The texts lie in a folder of one's own (any .txt files); none of them belongs into the project. A sentence
counts from five words on; capitals and punctuation are no difference. Exit 1 if one is shared.
"""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import yaml

LEAST_WORDS = 5
DATA = Path(__file__).parents[1] / "data"
# What must be quoted to the letter: official statements, titles, figures of the demo, names.
QUOTED = frozenset({"cite", "url", "extent", "name", "also", "id"})
_WORD = re.compile(r"[^\W_]+")
OFFICIAL = ("sources/", "demo/", "air/hazards.yaml")


def words(text: str) -> str:
    """Small letters and digits with single blanks, and one at each end, so that whole words are compared."""
    return f" {' '.join(_WORD.findall(text.casefold()))} "


def sentences(text: str) -> Iterator[str]:
    """The sentences of a text that have as many words as count."""
    for one in re.split(r"(?<=[.!?;:])\s+", text):
        if len(words(one).split()) >= LEAST_WORDS:
            yield one


def texts(tree: Any, key: str = "") -> Iterator[str]:
    """All prose below a node of YAML."""
    if isinstance(tree, dict):
        for name, value in tree.items():
            yield from texts(value, name)
    elif isinstance(tree, list):
        for value in tree:
            yield from texts(value, key)
    elif isinstance(tree, str) and key not in QUOTED:
        yield tree


def catalogue(data: Path = DATA) -> Iterator[tuple[str, str]]:
    """File and sentence, for all prose that this project wrote."""
    for path in sorted(data.rglob("*.yaml")):
        where = path.relative_to(data).as_posix()
        if not where.startswith(OFFICIAL):
            for text in texts(yaml.load(path.read_text("utf-8"), Loader=yaml.CSafeLoader)):
                for one in sentences(text):
                    yield where, one


def shared(own: Iterator[tuple[str, str]], folder: Path) -> Iterator[tuple[str, str, str]]:
    """File, sentence and the text in which it stands too."""
    read = {
        path.name: words(path.read_text("utf-8", errors="replace")) for path in sorted(folder.glob("*.txt"))
    }
    for where, one in own:
        for name, text in read.items():
            if words(one) in text:
                yield where, one, name


def main() -> int:
    """Print what is shared."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path, help="folder with the texts that were read, as .txt")
    folder = parser.parse_args().folder
    number = len(list(folder.glob("*.txt")))
    if not number:
        print(f"{folder}: no .txt file there", file=sys.stderr)
        return 2
    own = list(catalogue())
    found = list(shared(iter(own), folder))
    for where, one, name in found:
        print(f"{where}: {one}\n   stands in {name}")
    print(f"{len(own)} sentences, {number} texts: {len(found)} shared.")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
