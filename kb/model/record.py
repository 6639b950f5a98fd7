"""Lines of the bench book. A record is never edited; amend and withdraw records point at it.

What the records themselves hold is declared in `kb.book.kinds`.
"""

from __future__ import annotations

import msgspec


class BookStruct(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """Base of everything written to the book."""


class Amend(BookStruct, frozen=True, kw_only=True):
    """Replaces fields of an earlier record, by name, and says why. The earlier line stays."""

    of: str
    set: dict[str, object]
    why: str


class Withdraw(BookStruct, frozen=True, kw_only=True):
    """Takes an earlier record out of all counts and says why. The earlier line stays."""

    of: str
    why: str


class Line(BookStruct, frozen=True, kw_only=True):
    """One line of a book file. ``prev`` is the SHA-256 of the line before it, 64 zeros on the first."""

    id: str
    at: str
    who: str
    bench: str
    kind: str
    body: msgspec.Raw
    prev: str
