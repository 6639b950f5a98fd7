"""What a line typed above a list of the book means: a sheet, entries, a kind of record, a person."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import partial
from typing import TYPE_CHECKING, NamedTuple

from kb.book.kinds.table import KINDS
from kb.desk.errors import DeskError

if TYPE_CHECKING:
    from kb.desk.records.book_list import RecordSummary
    from kb.desk.records.record import TestSummary
    from kb.desk.studio import Studio
    from kb.tui.screens.records.record_words import Row

ENTRIES = ("adhesive", "medium", "liquid", "method", "tape", "paper", "stage", "carrier")
PERSON = ("by", "who")
KINDS_HINT = 'it takes a sheet, "by AB" and kinds: mends, batches, readings, toning, housing, bottles, tests'
BY = 'write "by AB" for a person'
LONGEST_NAME = 6
"""Words that one name may have."""
SHORTEST = 3
"""Letters and digits from which on a part of a name counts."""
SURE = 84.0
"""Score from which the beginning of a name, or words of it, narrow a list; a like spelling never does."""
EXACT = 99.5
"""Score of a whole name or other name."""
WORDS_READ = 24
"""Words of the line that are tried; a pasted page is not."""


class Understood(NamedTuple):
    """Columns to narrow by, and the same in words with what was not understood."""

    filters: dict[str, str]
    words: str


class Known(NamedTuple):
    """Names that stand in the book and not in the catalogue."""

    sheets: tuple[str, ...]
    people: tuple[str, ...]


def known_to(studio: Studio, sheets: Iterable[str], recent: Iterable[TestSummary | RecordSummary]) -> Known:
    """Sheets, and people: who writes here, then those who wrote the ``recent`` records."""
    people = {one.who for one in recent} - {studio.who}
    return Known(tuple(sheets), (studio.who, *sorted(people)))


class Page(NamedTuple):
    """One page of the list as fetched."""

    rows: list[Row]
    more: bool
    understood: Understood
    known: Known


class Part(NamedTuple):
    """One thing that was understood: the column, its value, and the value in words."""

    column: str
    value: str
    name: str


def understand(studio: Studio, text: str, known: Known) -> Understood:
    """Split the line into the longest pieces that mean something; say what each was taken for."""
    return taken_apart(text, known, partial(_one, studio, known=known))


def taken_apart(
    text: str, known: Known, means: Callable[[list[str]], Part | None], hint: str = BY
) -> Understood:
    """The longest pieces that mean something, by ``means``; a name of a sheet may hold commas."""
    parts: list[Part] = []
    lost: list[str] = []
    whole = sheet(text.strip(), known.sheets)
    pieces = [] if whole else [piece.split() for piece in text.replace(";", ",").split(",")]
    parts.extend([whole] if whole else [])
    for words in pieces:
        for found in split(words[:WORDS_READ], partial(_named, known, means)):
            if isinstance(found, Part):
                parts.append(found)
            else:
                lost.append(found)
    filters = {part.column: part.value for part in parts}
    return Understood(filters, told(parts, lost, filters, hint))


def told(parts: Iterable[Part], lost: list[str], filters: Mapping[str, str], hint: str = BY) -> str:
    """How the line was understood, and what of it was not, with a hint at what would be."""
    used: list[str] = []
    dropped: list[str] = []
    for part in parts:
        word = "by" if part.column == "who" else part.column
        (used if filters[part.column] == part.value else dropped).append(f"{word} {part.name}")
    said = [f"Only {'; '.join(dict.fromkeys(used))}" if used else ""]
    said.append(f"left out: {'; '.join(dropped)} (one of a kind at a time)" if dropped else "")
    said.append(f'not understood: "{" ".join(lost)}" ({hint})' if lost else "")
    return ". ".join(one[:1].upper() + one[1:] for one in said if one)


def split(words: list[str], one: Callable[[list[str]], Part | None]) -> Iterator[Part | str]:
    """The longest pieces that ``one`` makes something of, in their order; other words as they are."""
    start = 0
    while start < len(words):
        for end in range(min(len(words), start + LONGEST_NAME), start, -1):
            found = one(words[start:end])
            if found is not None:
                yield found
                start = end
                break
        else:
            yield words[start]
            start += 1


def _named(known: Known, means: Callable[[list[str]], Part | None], words: list[str]) -> Part | None:
    """A person or a sheet that is called so, else what ``means`` makes of the words."""
    first, rest = words[0].lower().rstrip(":"), " ".join(words[1:])
    if rest and first in PERSON:
        return person(rest, known.people)
    if rest and first == "sheet":
        return sheet(rest, known.sheets) or begun(rest, known.sheets)
    return means(words)


def _one(studio: Studio, words: list[str], known: Known) -> Part | None:
    """What these words mean together, or None."""
    text, first, rest = " ".join(words), words[0].lower().rstrip(":"), " ".join(words[1:])
    named = _entry(studio, rest, (first,)) if rest and first in ENTRIES else None
    if named is not None:
        return named
    exact = sheet(text, known.sheets)
    if exact is not None:
        return exact
    if name := same(text, known.people):
        return Part("who", name, name)
    if "+" in words:
        return _blend(studio, text)
    return _entry(studio, text, ENTRIES) or begun(text, known.sheets)


def person(text: str, people: Iterable[str]) -> Part | None:
    """Who is meant by the words after "by"; one word is a name even if nobody of that name is known."""
    name = same(text, people) or ("" if " " in text else text)
    return Part("who", name, name) if name else None


def same(text: str, names: Iterable[str]) -> str:
    """The name that differs in capitals at most; empty if there is none."""
    return next((name for name in names if name.casefold() == text.casefold()), "")


def sheet(text: str, sheets: Iterable[str]) -> Part | None:
    """The sheet of exactly this name."""
    found = same(text, sheets) if text else ""
    return Part("sheet", found, found) if found else None


def begun(text: str, sheets: Iterable[str]) -> Part | None:
    """The only sheet whose name begins so; else the only one with a word that does."""
    names, first = list(sheets), text.casefold()
    found = [name for name in names if name.casefold().startswith(first)]
    if not found and len(text) >= SHORTEST:
        found = [name for name in names if f" {first}" in f" {name.casefold()}"]
    return Part("sheet", found[0], found[0]) if len(found) == 1 else None


def _entry(studio: Studio, text: str, kinds: tuple[str, ...]) -> Part | None:
    from kb.desk.materials.lookup import find

    hits = find(studio, text, kinds, limit=1)
    # Words as short as "or" stand in many names; alone they must be a whole name.
    least = SURE if sum(map(str.isalnum, text)) >= SHORTEST else EXACT
    if not hits or hits[0].near or hits[0].score < least:
        return None
    return Part(hits[0].kind, hits[0].id, hits[0].name)


def _blend(studio: Studio, text: str) -> Part | None:
    from kb.desk.materials.resolve import parts
    from kb.desk.records.record import blend_name

    try:
        named = blend_name(parts(studio, blend=text))
    except DeskError:
        return None
    return Part("liquid", named, named)


def understand_kinds(text: str, known: Known) -> Understood:
    """What the line means: a sheet, a kind of record, 'by AB'; what is not understood is said."""
    return taken_apart(text, known, partial(_kind, known=known), KINDS_HINT)


def _kind(words: list[str], known: Known) -> Part | None:
    text = " ".join(words)
    if exact := sheet(text, known.sheets):
        return exact
    for kind in KINDS.values():
        if text.casefold() in kind.names:
            return Part("kind", kind.key, kind.noun)
    if name := same(text, known.people):
        return Part("who", name, name)
    return begun(text, known.sheets)
