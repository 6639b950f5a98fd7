"""Putting a record at the end of a bench's file. It counts as recorded when `append` returns."""

from __future__ import annotations

import os
import re
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from pathlib import Path
from time import time_ns
from typing import Any

import msgspec

from kb.book import disk, pieces
from kb.book.check import BookError, body_bytes
from kb.book.disk import NOTHING
from kb.book.line import MAX_LINE_BYTES, encode_line
from kb.book.storage import DEVICES
from kb.book.text import clean_text
from kb.book.ulid import is_ulid, new_ulid, new_ulid_after, ulid_time_ms
from kb.model.record import Line

__all__ = ["BookError", "append", "bench_path", "is_bench"]

WHO_LIMIT = 200
NO_TIME = "The time of the entry lies outside the years 1970 to 9999; set the clock."
AHEAD_MS = 60 * 366 * 24 * 3600 * 1000
"""How far ahead of the clock the last id may lie and still be followed. A clock that lost its battery
starts in 1970 or later, and ids must stay in order then: a correction must not sort before what it
corrects. Beyond 60 years the last record was made under a wrong date, and is not followed."""

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MS = timedelta(milliseconds=1)
_BENCH = re.compile(r"[a-z0-9][a-z0-9-]{0,47}")


def append(
    book_dir: Path,
    *,
    bench: str,
    who: str,
    kind: str,
    body: msgspec.Struct | dict[str, Any],
    at: datetime | None = None,
    record_id: str | None = None,
    after: str = "",
) -> Line:
    """Record one entry and return the line as written, after it has reached the disk.

    ``at`` is when it is written down (with time zone; default now), ``record_id`` a ULID (default new).
    ``after`` is an id, perhaps of another bench's record, that a new id must sort behind.
    The text in ``body`` is cleaned and the body checked for its kind. Writers wait for each other,
    up to ten seconds. Raises BookError; then nothing was recorded, unless it says otherwise.
    """
    # All checks before the file is opened: what is refused must leave no trace and hold up no other writer.
    first = _path(book_dir, bench)
    try:
        who = _checked_who(who)
        raw_body = body_bytes(kind, body)
        now_ms, written_at = _moment(at)
        if record_id is not None or after:
            _check_ids(record_id, after or None)
    except ValueError as error:
        raise BookError(f"{error} {NOTHING}") from None
    fd, path = -1, first
    try:
        # Locked before the tail is read: the new line names the hash of the one before it.
        opened, path, (size, prev, last_id, torn) = pieces.open_last(first)
        fd = opened[0]
        line = Line(
            id=record_id or _next_id(last_id, after, now_ms),
            at=written_at,
            who=who,
            bench=bench,
            kind=kind,
            body=msgspec.Raw(raw_body),
            prev=prev,
        )
        raw = encode_line(line)
        # Readers take a line as a whole; without a bound one record could fill the memory of every reader.
        if len(raw) > MAX_LINE_BYTES:
            said = f"The entry takes {len(raw):,} bytes; a record holds {MAX_LINE_BYTES:,}."
            raise BookError(f"{said} {NOTHING} Shorten it.")
        # A torn line stays as it is, on a line of its own: gluing onto it would spoil both.
        framed = b"\n" + raw + b"\n"
        hashed = disk.add(fd, path, size, framed if torn else framed[1:], raw)
        fd = -1
        pieces.leave_open(first, (opened, path, framed, hashed, line.id))
    except OSError as error:
        raise disk.refusal(error, path) from error
    finally:
        if fd >= 0:
            os.close(fd)
    return line


def is_bench(name: str) -> bool:
    """Whether a bench may have this name: lower-case letters, digits and hyphens, at most 48."""
    return _BENCH.fullmatch(name) is not None and name not in DEVICES


def bench_path(book_dir: Path, bench: str) -> Path:
    """The file that a bench writes in now. Raises BookError if the name could not be one everywhere."""
    return Path(pieces.last_piece(_path(book_dir, bench)))


_paths: dict[str, tuple[Path, str]] = {}
"""By its bench the folder of the book that was written to last, and the first piece in it."""


def _path(book_dir: Path, bench: str) -> str:
    found = _paths.get(bench)
    # Mostly the very same; to compare two of them takes longer than all else here, and to hash one too.
    if found is not None and (found[0] is book_dir or found[0] == book_dir):
        return found[1]
    if not is_bench(bench):
        raise BookError(
            f"{bench[:60]!r} cannot name a bench. {NOTHING} "
            "Use lower-case letters, digits and hyphens, for instance bench-1."
        )
    # Joined as text: a Path is dear to make, and this runs for every record.
    first = os.path.join(book_dir, f"{bench}.jsonl")
    _paths.clear()
    _paths[bench] = (book_dir, first)
    return first


@lru_cache(maxsize=16)
def _checked_who(who: str) -> str:
    # Names of people are shown in lists, so they hold one line.
    cleaned = clean_text(who, limit=WHO_LIMIT, multiline=False).strip()
    if not cleaned:
        raise ValueError("The entry does not say who made it.")
    return cleaned


def _check_ids(*given: str | None) -> None:
    for one in given:
        if one is not None and not is_ulid(one):
            raise ValueError(f"{one[:40]!r} is not a record id.")


def _moment(at: datetime | None) -> tuple[int, str]:
    """The time in ms since 1970, and as it is written."""
    if at is not None and at.utcoffset() is None:
        raise ValueError("The time of the entry has no time zone.")
    try:
        now_ms = time_ns() // 1_000_000 if at is None else (at - _EPOCH) // _MS
        return now_ms, f"{_second(now_ms // 1000)}.{str(now_ms + 1000)[-3:]}Z"
    except (OverflowError, OSError, ValueError):
        raise ValueError(NO_TIME) from None


@lru_cache(maxsize=1)
def _second(since_1970_s: int) -> str:
    """A second as it is written. Kept, because records in a row mostly have the same."""
    # An id holds the milliseconds since 1970 and none before.
    if since_1970_s < 0:
        raise ValueError(NO_TIME)
    # UTC in the file, since benches in two time zones write one book; screens turn it into local time.
    return datetime.fromtimestamp(since_1970_s, UTC).isoformat()[:19]


def _next_id(last_id: str, after: str, now_ms: int) -> str:
    """A new id that sorts after the line before it, so amends keep their order if the clock goes back."""
    made = new_ulid(now_ms)
    if made > after and made > last_id:
        return made
    floor = after
    # An id too far ahead was made under a wrong date; following it would carry the fault on for ever.
    if last_id > floor and ulid_time_ms(last_id) - now_ms <= AHEAD_MS:
        floor = last_id
    if made > floor:
        return made
    try:
        return new_ulid_after(floor, now_ms)
    except ValueError as error:
        raise BookError(f"{error} {NOTHING}") from None
