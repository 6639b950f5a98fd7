"""Putting a record at the end of a bench's file. It counts as recorded when `append` returns."""

from __future__ import annotations

import os
import re
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path
from typing import Any

import msgspec

from kb.book import disk, pieces
from kb.book.check import BookError, body_bytes
from kb.book.disk import NOTHING
from kb.book.kinds.table import KINDS
from kb.book.line import KIND_SHAPE, MAX_LINE_BYTES, encode_line
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

_BENCH = re.compile(r"[a-z0-9][a-z0-9-]{0,47}")
# Names that some systems keep for devices; a shared folder must be readable on all of them.
_DEVICES = re.compile(r"con|prn|aux|nul|com[0-9]|lpt[0-9]")


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
    path = _path(book_dir, bench)
    try:
        who = _checked_who(who)
        raw_body = _checked_body(kind, body)
        now_ms, written_at = _moment(at)
        for given in (record_id, after or None):
            if given is not None and not is_ulid(given):
                raise ValueError(f"{given[:40]!r} is not a record id.")
    except ValueError as error:
        raise BookError(f"{error} {NOTHING}") from None
    fd = -1
    try:
        # Locked before the tail is read: the new line names the hash of the one before it.
        opened, size, path = pieces.open_last(path)
        fd = opened[0]
        tail = pieces.tail_of(fd, size, path)
        line = Line(
            id=record_id or _next_id(tail.last_id, after, now_ms),
            at=written_at,
            who=who,
            bench=bench,
            kind=kind,
            body=msgspec.Raw(raw_body),
            prev=tail.prev,
        )
        # A torn line stays as it is, on a line of its own: gluing onto it would spoil both.
        raw = _line_bytes(line, after_torn=tail.torn)
        disk.add(fd, path, size, raw)
        pieces.wrote(path, raw, line.id)
        fd = -1
        disk.leave_open(path, opened)
    except OSError as error:
        raise disk.refusal(error, path) from error
    finally:
        if fd >= 0:
            os.close(fd)
    return line


def is_bench(name: str) -> bool:
    """Whether a bench may have this name: lower-case letters, digits and hyphens, at most 48."""
    return _BENCH.fullmatch(name) is not None and _DEVICES.fullmatch(name) is None


def bench_path(book_dir: Path, bench: str) -> Path:
    """The file that a bench writes in now. Raises BookError if the name could not be one everywhere."""
    return Path(pieces.last_piece(_path(book_dir, bench)))


@lru_cache(maxsize=16)
# Keyed by both names: a program writes to one or two files all its life.
def _path(book_dir: Path, bench: str) -> str:
    if not is_bench(bench):
        raise BookError(
            f"{bench[:60]!r} cannot name a bench. {NOTHING} "
            "Use lower-case letters, digits and hyphens, for instance bench-1."
        )
    # Joined as text: a Path is dear to make, and this runs for every record.
    return os.path.join(book_dir, f"{bench}.jsonl")


def _checked_who(who: str) -> str:
    # Names of people are shown in lists, so they hold one line.
    cleaned = clean_text(who, limit=WHO_LIMIT, multiline=False).strip()
    if not cleaned:
        raise ValueError("The entry does not say who made it.")
    return cleaned


def _checked_body(kind: str, body: msgspec.Struct | dict[str, Any]) -> bytes:
    if kind not in KINDS and KIND_SHAPE.fullmatch(kind) is None:
        raise ValueError(f"{kind[:40]!r} is not a kind of record.")
    return body_bytes(kind, body)


def _line_bytes(line: Line, *, after_torn: bool) -> bytes:
    raw = encode_line(line)
    # Readers take a line as a whole; without a bound one record could fill the memory of every reader.
    if len(raw) > MAX_LINE_BYTES:
        raise BookError(
            f"The entry takes {len(raw):,} bytes; a record holds {MAX_LINE_BYTES:,}. {NOTHING} Shorten it."
        )
    return (b"\n" + raw + b"\n") if after_torn else raw + b"\n"


def _moment(at: datetime | None) -> tuple[int, str]:
    """The time in ms since 1970, and as it is written."""
    if at is not None and at.tzinfo is None:
        raise ValueError("The time of the entry has no time zone.")
    try:
        at = datetime.now(UTC) if at is None else at.astimezone(UTC)
    except (OverflowError, OSError, ValueError):
        raise ValueError(NO_TIME) from None
    # An id holds the milliseconds since 1970 and none before.
    now_ms = int(at.timestamp() * 1000)
    if now_ms < 0:
        raise ValueError(NO_TIME)
    # UTC in the file, since benches in two time zones write one book; screens turn it into local time.
    return now_ms, at.isoformat(timespec="milliseconds")[:-6] + "Z"


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
