"""No brand of a tape, solvent, paper, film, gel or pen stands in what this project wrote.

``brands.txt`` holds the first 12 digits of salted SHA-256 sums of brand names in small letters, so that the
names themselves stand nowhere. The list is from memory: what is not on it is not found. Titles of cited texts
and addresses are exempt, since they are quoted to the letter.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SUMS = frozenset((Path(__file__).parent / "brands.txt").read_text("utf-8").split())
SALT = "no brand in the catalogue: "
CANARY = "Quonzibrand"
"""An invented word whose sum is on the list, to show that a hit is seen."""
_WORD = re.compile(r"[^\W\d_]+(?:-[^\W\d_]+)*")
_QUOTED = re.compile(r"https?://\S+|^\s*cite:.*|(?<=cite: )\"[^\"]*\"")


@cache
def listed(word: str) -> bool:
    return hashlib.sha256((SALT + word).encode()).hexdigest()[:12] in SUMS


def brands(text: str) -> Iterator[str]:
    """Listed words of a text; one with hyphens is looked at whole, without them, and in its parts."""
    for found in _WORD.findall(text):
        word = found.casefold()
        if any(map(listed, {word.replace("-", ""), *word.split("-")})):
            yield found


def files() -> Iterator[Path]:
    for folder, ending in (("data", "*.yaml"), ("kb", "*.py"), ("docs", "*.md")):
        yield from sorted((ROOT / folder).rglob(ending))
    yield from (ROOT / name for name in ("README.md", "CHANGELOG.md", "DEVELOPERS.md"))


@pytest.mark.slow
def test_no_brand_stands_in_data_code_or_docs() -> None:
    found = [
        f"{path.relative_to(ROOT)}:{number}: {word}"
        for path in files()
        for number, line in enumerate(path.read_text("utf-8").splitlines(), 1)
        for word in brands(_QUOTED.sub("", line))
    ]
    assert found == []


@pytest.mark.parametrize(
    "text", [CANARY, f"with {CANARY.upper()} on it", "Quonzi-brand", "old quonzibrand-tape"]
)
def test_a_brand_is_seen_in_any_case_and_with_hyphens(text: str) -> None:
    assert list(brands(text)) != []


def test_the_list_is_long_and_common_words_are_not_on_it() -> None:
    assert len(SUMS) > 150
    assert (
        list(brands("pressure-sensitive tape of cellulose acetate film, wheat starch paste, kozo tissue"))
        == []
    )
