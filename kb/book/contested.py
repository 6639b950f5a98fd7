"""Records that came with the id of one that was known here before, and said something else.

An id is a name that anybody can write, and no rule about two contents of one id could not be forged: not the
earlier date, not the name of the bench. What a machine knew first is the one thing that others cannot set.
So what arrives against it is noted here, beside the book, and gives way wherever the book is read.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path

from kb.book.line import hash_of
from kb.book.storage import put_whole
from kb.model.record import Line

FILE = os.path.join("working", "contested.txt")
HEAD = (
    "# Records from other benches that bear an id known here before: the id, SHA-256 of what they say.\n"
    "# They do not count. Take a line away if that other record is the right one.\n"
)
Contested = frozenset[tuple[str, str]]
"""Id and fingerprint of each record that gives way."""


Content = tuple[str, str, str, str, bytes]


def content(line: Line) -> Content:
    """All of a record but its id and its place in a file, in an order that can be compared."""
    return line.at, line.bench, line.who, line.kind, bytes(line.body)


def fingerprint(line: Line) -> str:
    """SHA-256, in hex, of what a record says."""
    # With noughts between: two records must not say the same by moving a word from one field to the next.
    *head, body = content(line)
    return hash_of("\0".join(head).encode() + b"\0" + body)


def contested(book_dir: Path) -> Contested:
    """What was noted beside a book; nothing if there is no such note."""
    # Text with a damaged line must not hide the other lines.
    try:
        text = (book_dir.parent / FILE).read_text(encoding="utf-8", errors="replace")
    except OSError:
        return frozenset()
    rows = (line.split() for line in text.splitlines() if not line.startswith("#"))
    # By white space, since people may edit the file as its head says.
    return frozenset((row[0], row[1]) for row in rows if len(row) == 2)


def is_contested(line: Line, against: Contested) -> bool:
    """Whether a record gives way to another of its id."""
    # Most books have none, and hashing every record would be for nothing.
    return bool(against) and (line.id, fingerprint(line)) in against


def note(book_dir: Path, lines: Iterable[Line]) -> None:
    """Note records that give way. Raises OSError."""
    found = contested(book_dir) | {(line.id, fingerprint(line)) for line in lines}
    # Sorted, so that the file is the same however the lines came.
    text = HEAD + "".join(f"{record_id} {said}\n" for record_id, said in sorted(found))
    put_whole(book_dir.parent / FILE, text.encode())
