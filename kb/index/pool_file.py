"""Counts of spot tests as studios share them: how often each grade was given, and nothing else.

Written so that the same counts give the same bytes, read with suspicion.
"""

from __future__ import annotations

import re
import stat
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

import msgspec

from kb.book.text import clean_text
from kb.science.liquids.blends import blend_id, normalise

FORMAT = "benchleaf-counts"
VERSION = 2
"""Since 2 a look at nothing that an ink can show, clean or not, counts as one at the paper under it; files
of 1 count it for the ink and are not read."""
MOST_BYTES = 100_000_000
"""A larger file is refused unread. A row takes about 90 bytes, so this is a million of them."""
MOST_TESTS = 2_000_000
"""Tests in one file, of release and of harm each. More than any studio makes."""
MOST_STUDIOS = 4_000
"""Counted studios. With MOST_TESTS each, every sum still fits into 64 bits."""
LABEL_LIMIT = 80
ID_LIMIT = 80
STUDIO_ID = re.compile(r"[0-9a-f]{32}")
MOST_PARTS = 8
_ID = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")


class ReleaseCount(msgspec.Struct, frozen=True, array_like=True, forbid_unknown_fields=True):
    """Release grades 0 to 4 given on one kind of tape. ``parts`` are per cent by volume; "" is not known."""

    adhesive: str
    stage: str
    carrier: str
    method: str
    parts: dict[str, float]
    grades: tuple[int, int, int, int, int]


class HarmCount(msgspec.Struct, frozen=True, array_like=True, forbid_unknown_fields=True):
    """Worst harm grades 0 to 4 seen on one medium. ``parts`` are per cent by volume; "" is not known."""

    medium: str
    paper: str
    method: str
    parts: dict[str, float]
    grades: tuple[int, int, int, int, int]


class CountsFile(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """What one studio gives to others.

    ``studio`` is a random id of 32 hexadecimal digits, ``label`` what its owner wants it to be called.
    ``checksum`` is the SHA-256 of all but itself and ``added``, the day on which the receiver took it in.
    """

    format: str
    version: int
    studio: str
    label: str
    added: str = ""
    release: tuple[ReleaseCount, ...]
    harm: tuple[HarmCount, ...]
    checksum: str


Counted = ReleaseCount | HarmCount


class NotCounts(ValueError):
    """The file is not one of counts, or not a sound one; the text is a sentence that says why."""

    label = ""
    """Of the studio, where only the version is another: it is asked for a new file."""


def counts_file(
    studio: str, label: str, release: Sequence[ReleaseCount], harm: Sequence[HarmCount], added: str = ""
) -> CountsFile:
    # The label is shown on other people's screens, so it goes through the same sieve as any typed text.
    """A counts file with its rows in order and its checksum. Raises NotCounts for too long a label."""
    try:
        label = clean_text(label, limit=LABEL_LIMIT, multiline=False).strip()
    except ValueError as error:
        raise NotCounts(f"The label cannot be used. {error}") from None
    # In a fixed order: the same counts give the same bytes, and so the same checksum.
    release = tuple(sorted(release, key=_order))
    harm = tuple(sorted(harm, key=_order))
    return CountsFile(
        format=FORMAT,
        version=VERSION,
        studio=studio,
        label=label,
        added=added,
        release=release,
        harm=harm,
        checksum=_checksum(studio, label, release, harm),
    )


def text_of(counts: CountsFile) -> bytes:
    """The file's bytes: one JSON document with one row on each line."""
    lines = ["{"]
    for name in ("format", "version", "studio", "label", "added"):
        # The day it came in is this studio's note and not part of what the sender vouched for.
        value = getattr(counts, name)
        if value or name != "added":
            lines.append(f'"{name}": {_json(value)},')
    for name in ("release", "harm"):
        rows = [_json(row) for row in getattr(counts, name)]
        lines += [f'"{name}": [', *(f"{row}," for row in rows[:-1]), *rows[-1:], "],"]
    lines += [f'"checksum": {_json(counts.checksum)}', "}", ""]
    return "\n".join(lines).encode()


def _json(value: object) -> str:
    return msgspec.json.encode(value, order="deterministic").decode()


def _order(row: Counted) -> tuple[object, ...]:
    ids = tuple(getattr(row, name) for name in row.__struct_fields__[:-2])
    return (*ids, liquid_of(row), row.grades)


def _checksum(studio: str, label: str, release: tuple[ReleaseCount, ...], harm: tuple[HarmCount, ...]) -> str:
    # Only what writes a file needs it, and this module is read at every start.
    from hashlib import sha256

    return sha256(_json([FORMAT, VERSION, studio, label, release, harm]).encode()).hexdigest()


def read_bytes(path: Path) -> bytes:
    """The bytes of an ordinary file of bearable size. Raises NotCounts otherwise."""
    try:
        found = path.stat()
        # A named pipe would be read for ever.
        if not stat.S_ISREG(found.st_mode):
            raise NotCounts("It is not an ordinary file.")
        # By the size on disk, before a byte is read: a file made to fill the memory is refused.
        if found.st_size > MOST_BYTES:
            raise NotCounts(f"It has {found.st_size:,} bytes; at most {MOST_BYTES:,} are read.")
        return path.read_bytes()
    except OSError as error:
        raise NotCounts(f"It cannot be read ({error.strerror or error}).") from None
    except ValueError as error:
        raise NotCounts(str(error)) from None


# Format and version before the rest: a newer file should be called newer and not broken.
def parse(raw: bytes) -> CountsFile:
    """Read and check a counts file. Raises NotCounts with a sentence; nothing is taken in half."""
    try:
        head = msgspec.json.decode(raw, type=_Head)
        if head.format != FORMAT:
            raise NotCounts("It is no file of counts: its format is not named.")
        if head.version != VERSION:
            other = "counts looks that could show nothing of an ink; ask for it anew"
            why = other if head.version < VERSION else "is newer than this program"
            error = NotCounts(
                f"It has version {head.version} of the format, which {why} (read is {VERSION})."
            )
            error.label = head.label[:LABEL_LIMIT] if isinstance(head.label, str) else ""
            raise error
        counts = msgspec.json.decode(raw, type=CountsFile)
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as error:
        raise NotCounts(f"It is no file of counts: {_short(error)}.") from None
    if STUDIO_ID.fullmatch(counts.studio) is None:
        raise NotCounts("The studio's id is not one of 32 hexadecimal digits.")
    try:
        clean_text(counts.label, limit=LABEL_LIMIT, multiline=False)
    except ValueError as error:
        raise NotCounts(f"Its label cannot be used. {error}") from None
    if counts.added and _DAY.fullmatch(counts.added) is None:
        raise NotCounts("The day on which it was added is not a date.")
    for what, rows in (("release", counts.release), ("harm", counts.harm)):
        _check_rows(what, rows)
    # Last, since the other refusals say more exactly what is wrong.
    if _checksum(counts.studio, counts.label, counts.release, counts.harm) != counts.checksum:
        raise NotCounts("The checksum does not fit: it was altered or cut short. Ask for it again.")
    return counts


class _Head(msgspec.Struct):
    """What is looked at first, so that a newer format is told from a broken file."""

    format: str = ""
    version: int = 0
    label: Any = ""


def _short(error: Exception) -> str:
    # The message quotes the file, which may hold anything, also what moves a terminal's cursor.
    text = clean_text(str(error)[:200].encode(errors="replace").decode(), multiline=False)
    # Signs that no script has yet are let through there, and a terminal shows them as it likes.
    return "".join(one if one.isprintable() else "\N{REPLACEMENT CHARACTER}" for one in text).rstrip(".")


def _check_rows(what: str, rows: Sequence[Counted]) -> None:
    """Ids, grades and shares of every row, and that no row comes twice."""
    total, seen = 0, set[tuple[str, ...]]()
    for number, row in enumerate(rows, start=1):
        grades = row.grades
        tests = sum(grades)
        if min(grades) < 0 or tests == 0:
            raise NotCounts(f"Row {number} of {what} has no tests, or less than none.")
        # Summed while reading: a forged file may claim numbers that overflow the packed sums.
        total += tests
        if total > MOST_TESTS or max(grades) > MOST_TESTS:
            raise NotCounts(f"It claims more than {MOST_TESTS:,} tests of {what}.")
        ids = ids_of(row)
        for one in ids:
            if not _is_id(one):
                raise NotCounts(f"Row {number} of {what} names something that is not an id.")
        if what == "release" and not ids[0]:
            raise NotCounts(f"Row {number} of {what} names no adhesive.")
        try:
            key = (*ids, liquid_of(row))
        except ValueError:
            raise NotCounts(f"Row {number} of {what} has parts that are no blend.") from None
        if key in seen:
            raise NotCounts(f"Row {number} of {what} comes twice.")
        seen.add(key)


def ids_of(row: Counted) -> tuple[str, ...]:
    """The ids of a row but for its liquids."""
    # By identity of the type: this runs for each of up to a million rows.
    if type(row) is ReleaseCount:
        return row.adhesive, row.stage, row.carrier, row.method
    assert isinstance(row, HarmCount)
    return row.medium, row.paper, row.method


def liquid_of(row: Counted) -> str:
    """The liquid, or the text that names the blend. Raises ValueError for parts that are no blend."""
    parts = row.parts
    return _blend(tuple(parts.items()))


@lru_cache(maxsize=16_384)
def _blend(parts: tuple[tuple[str, float], ...]) -> str:
    if not 1 <= len(parts) <= MOST_PARTS:
        raise ValueError(f"a blend has 1 to {MOST_PARTS} parts")
    if not all(_is_id(name) and name and 0 < share <= 100 for name, share in parts):
        raise ValueError("a part is not an id with per cent by volume")
    # A tenth of a per cent per part is what rounding in the text can lose.
    if not abs(sum(share for _, share in parts) - 100) < 0.1 * MOST_PARTS:
        raise ValueError("the parts do not make up a whole")
    return blend_id(dict(parts))


def shares_of(row: Counted) -> dict[str, float]:
    """Volume shares that sum to 1."""
    return {next(iter(row.parts)): 1.0} if len(row.parts) == 1 else normalise(row.parts)


@lru_cache(maxsize=16_384)
def _is_id(text: str) -> bool:
    return not text or (len(text) <= ID_LIMIT and _ID.fullmatch(text) is not None)


def percents(liquid: str) -> dict[str, float]:
    """Per cent by volume from the text that names a liquid or blend, as blend_id writes it.

    Raises ValueError for any other text.
    """
    if " + " not in liquid:
        return {liquid: 100.0}
    parts = {}
    for piece in liquid.split(" + "):
        name, amount = piece.rsplit(" ", 1)
        parts[name] = float(amount)
    # Written back and compared: two spellings of one blend would be counted as two.
    if blend_id(parts) != liquid:
        raise ValueError(f"{liquid!r} does not name a blend")
    return parts
