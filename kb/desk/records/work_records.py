"""What mends, toning tests and housing share: ids and days from typed words, warnings about batches."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any

from kb.desk.errors import DeskError
from kb.desk.records.record import Written, photo, write
from kb.desk.shelf.bottles import last_day
from kb.desk.studio import Studio
from kb.index.kept_rows import KeptRow, kept, one_kept
from kb.index.queries import entry
from kb.index.rows import WITHDRAWN
from kb.index.search import EXACT, exactly
from kb.model.record import Batch, Housing, Mend, Photo, Toning

TISSUE = ("tissue",)
ADHESIVE = ("recipe", "adhesive")
"""Kinds of entry that a mend's adhesive may be of; a paste is a recipe before it is an adhesive."""
MOST_FIGURES = 9
"""Of a count; more is no count of strips, coats or hinges."""
SHORT = 10
"""Characters of an id that are shown in a line."""
Work = Mend | Toning | Housing


def add_work(studio: Studio, kind: str, record: Work) -> Written:
    """Write down a mend, toning test or housing; returns only after it is on disk.

    Raises DeskError for figures that cannot be.
    """
    return write(studio, kind, record)


def work_rows(studio: Studio, kind: str, sheet: str = "") -> list[KeptRow]:
    """Records of a kind that were not withdrawn, of one sheet or all, the oldest first."""
    return kept(studio.index.conn, kind, sheet.strip())


# -- from typed words ----------------------------------------------------------------------------------------


def text(words: Mapping[str, Any], name: str) -> str:
    """One typed word; empty if it is not there."""
    return str(words.get(name) or "").strip()


def whole_number(words: Mapping[str, Any], name: str) -> int | None:
    """A count; None if nothing was typed."""
    typed = text(words, name)
    if not typed:
        return None
    if len(typed) > MOST_FIGURES or not re.fullmatch(r"[+-]?\d+", typed, re.ASCII):
        raise DeskError(f'"{typed}" ({name}) is not a whole number. Nothing was recorded.')
    return int(typed)


def batch_named(studio: Studio, words: Mapping[str, Any]) -> str:
    """The batch that is meant by the beginning of its id. Raises DeskError if there is none."""
    typed = text(words, "batch")
    if not typed:
        return ""
    from kb.desk.making.batches import batch_id

    return batch_id(studio, typed)


def known_or_words(studio: Studio, kinds: Sequence[str], typed: str, *, loosely: bool = True) -> str:
    """The id of an entry that bears exactly this id or name; else the words as they were typed.

    With ``loosely`` other names count too. Without it they do not: "wheat paste" is the other name of one
    recipe among many, and a record must not say more than was said.
    """
    for kind in kinds:
        hits = exactly(studio.index.conn, typed, kind)
        if len(hits) == 1 and (loosely or hits[0].score >= EXACT):
            return hits[0].id
    return typed


def name_of(studio: Studio, kinds: Sequence[str], entry_id: str) -> str:
    """The name of an entry of one of these kinds; else the words as they are."""
    for kind in kinds if entry_id else ():
        row = entry(studio.index.conn, kind, entry_id)
        if row is not None:
            return row.name
    return entry_id


def done_at(words: Mapping[str, Any]) -> str:
    """The day or time of the work; empty: when it is written down. Raises DeskError for one to come."""
    typed = text(words, "at")
    if not typed:
        return ""
    if typed.lower() == "today":
        return date.today().isoformat()
    try:
        moment = datetime.fromisoformat(typed)
    except ValueError:
        raise DeskError(
            f'"{typed}" is not a date; write 2024-05-31 or 2024-05-31T14:30. Nothing was recorded.'
        ) from None
    if moment.date() > date.today():
        raise DeskError(f"{typed} lies ahead of today. Nothing was recorded.")
    return typed


def photos(words: Mapping[str, Any]) -> tuple[Photo, ...]:
    """The photographs named, each tied to its content. Raises DeskError for one that cannot be read."""
    named = words.get("photo") or ()
    several: Iterable[Any] = (named,) if isinstance(named, str | Path) else named
    return tuple(photo(Path(one), "after") for one in several if str(one).strip())


# -- what is said of a record --------------------------------------------------------------------------------


def as_typed(studio: Studio, kinds: Sequence[str], what: str, said: str) -> Iterator[str]:
    """A sentence if the words are no entry of the catalogue."""
    if said and all(entry(studio.index.conn, kind, said) is None for kind in kinds):
        yield f'The {what} "{said}" is kept as typed: the catalogue has no entry of that name.'


def batch_warnings(studio: Studio, batch: str, done: str) -> Iterator[str]:
    """What speaks against the batch that was used, and against those it was made from.

    ``done`` is when it was used (ISO 8601); empty: today.
    """
    day = datetime.fromisoformat(done).date() if done else date.today()
    seen: set[str] = set()
    queue = [batch] if batch else []
    while queue:
        one = queue.pop(0)
        row = one_kept(studio.index.conn, "batch", one)
        if one in seen or row is None:
            continue
        seen.add(one)
        made_into = "" if one == batch else f", which went into batch {batch[:SHORT]}"
        yield from _against(row, day, made_into)
        queue += [part.batch for part in row.body.weights if part.batch]


def _against(row: KeptRow, day: date, made_into: str) -> Iterator[str]:
    body: Batch = row.body
    named = f"Batch {row.id[:SHORT]} ({body.name or body.recipe}){made_into}"
    if row.state == WITHDRAWN:
        yield f"{named}, was withdrawn." if made_into else f"{named} was withdrawn."
        return
    comma = "," if made_into else ""
    if body.bad:
        yield f"{named}{comma} must not be used: {body.bad}"
    until = last_day(body.expires)
    if until is not None and day > until:
        yield f"{named}{comma} had expired on {until.isoformat()}."
