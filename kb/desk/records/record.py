"""Write in the bench book, and read what was written."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING, Any, TypeVar

import msgspec

from kb.book.kinds.parts import Photo
from kb.book.kinds.spot_test import HARM_KINDS, HARM_WORDS, SpotTest
from kb.book.kinds.table import KINDS
from kb.desk.errors import Choice, DeskError, Unclear, in_a_sentence, the_one
from kb.desk.studio import LastWritten, Studio
from kb.index.book_lines import latest_about, lines_about, own_words
from kb.index.kept_rows import one_kept
from kb.index.queries import FILTERS, count_tests, ids_starting, sheets, spot_test, spot_tests
from kb.index.rows import (
    BARE_PAPER,
    HARM_FROM,
    SHOWN_BY_PAPER,
    STATES,
    WITHDRAWN,
    Row,
    ink_looked,
    passes_ink_by,
)
from kb.model.question import Plain
from kb.model.record import Amend, Line, Withdraw

if TYPE_CHECKING:
    from kb.book.fold import Change, Fold

LONGEST_PHOTO = 512 * 1024 * 1024
Body = TypeVar("Body", bound=msgspec.Struct)


NO_LOOK_AT_INK = "bleeding, offset and colour were not looked at, so that is no clean look at the ink"
PAPER_ONLY = "paper only"
"""The same in the column of a list."""

NO_MEDIUM_NAMED = "No medium is named, so that is no clean look at any ink; name the medium it was made on."
NO_LOOK_AT_PAPER = "Tideline, gloss and surface were not looked at, so that is no look at the paper."
CONTROL_OF_PAPER = (
    "No medium is named, so on its sheet this control counts as one on bare paper; name the medium if it was "
    "made on one."
)


class Written(Plain, frozen=True, kw_only=True):
    """What was stored: its id, its file and the time it bears."""

    id: str
    bench: str
    at: str


class TestSummary(Plain, frozen=True, kw_only=True, omit_defaults=True):
    """One test in a list. ``harm`` is the worst grade looked at, None if nothing was looked at that could be
    harmed there: bare paper does not bleed.

    ``also`` is what declared fields say in the line of a list; left out where none has words for it.
    ``passes_ink_by``: nothing was looked at that the ink it lies on can show, so its harm of 0 or 1 is no
    look at the ink; left out where that is not so.
    """

    id: str
    at: str
    who: str
    sheet: str
    tape: str
    adhesive: str
    stage: str
    carrier: str
    medium: str
    paper: str
    liquid: str
    method: str
    release: int | None
    harm: int | None
    control: bool
    state: str
    also: str = ""
    passes_ink_by: bool = False


class Step(Plain, frozen=True, kw_only=True):
    """One line of a record's history.

    ``of`` is the id of the record or change that it is about, empty for the record's own line.
    ``in_force`` is False for what was withdrawn later or cannot be worked in; ``note`` says why.
    """

    id: str
    at: str
    who: str
    kind: str
    why: str
    changed: dict[str, Any]
    of: str
    in_force: bool
    note: str = ""


class TestDetail(Plain, frozen=True, kw_only=True):
    """A test as it stands now, as it was first written, and how the one came from the other."""

    id: str
    at: str
    who: str
    bench: str
    state: str
    test: SpotTest
    first: SpotTest
    not_looked: tuple[str, ...]
    history: tuple[Step, ...]


def add_test(studio: Studio, test: SpotTest) -> Written:
    """Store a spot test; returns only after it is on disk.

    Ids are not resolved here: use :mod:`kb.desk.materials.resolve` on typed words first.
    """
    return write(studio, "test", test)


def looks_missed(medium: str, harm: Mapping[str, int], *, control: bool) -> tuple[str, ...]:
    """What to mind of a test on this medium that would pass for a clean look at ink or paper and is none."""
    worst = max(harm.values(), default=None)
    if control and not medium:
        return (CONTROL_OF_PAPER,)
    if medium == BARE_PAPER and worst is not None and worst < HARM_FROM and SHOWN_BY_PAPER.isdisjoint(harm):
        return (NO_LOOK_AT_PAPER,)
    if not medium and ink_looked(harm) and worst is not None and worst < HARM_FROM:
        return (NO_MEDIUM_NAMED,)
    if not medium or not passes_ink_by(medium, worst, ink_looked(harm)):
        return ()
    return (f"{NO_LOOK_AT_INK[0].upper()}{NO_LOOK_AT_INK[1:]}.",)


AWAY = "That record was withdrawn: bring it back first. Nothing was recorded."


def note_on(studio: Studio, kind: str, record_id: str, changes: dict[str, Any], why: str) -> Written:
    """Add what happened to a thing: used up, tested, gone bad. Not to one that was withdrawn."""
    row = one_kept(studio.index.conn, kind, record_id)
    if row is not None and row.state == WITHDRAWN:
        raise DeskError(AWAY)
    return write(studio, "amend", Amend(of=record_id, set=changes, why=why))


def storable(kind: str, body: Body) -> Body:
    """The same, if it can be stored: asked before a sheet is founded for it or words are made of it."""
    from kb.book.check import body_bytes

    with in_a_sentence("Nothing was recorded."):
        body_bytes(kind, body)
    return body


def write(studio: Studio, kind: str, body: msgspec.Struct) -> Written:
    """Append one record of any kind to this bench's file; returns only after it is on disk."""
    # The rules of the book are loaded by what writes, and not by every list.
    from kb.book import seen
    from kb.book.append import BookError, append, bench_path

    studio.make()
    try:
        # A correction sorts behind all that was said before, whatever the clock of this bench says.
        after = latest_about(studio.index.conn, body.of) if isinstance(body, Amend | Withdraw) else ""
        bench, who = studio.bench, studio.who
    except DeskError as error:
        raise DeskError(f"Nothing was recorded. {error}") from error
    if photos := _named_photos(body):
        from kb.desk.records.photographs import take_in

        take_in(studio.root.absolute(), photos)
    try:
        line = append(studio.book_dir, bench=bench, who=who, kind=kind, body=body, after=after)
    except (BookError, ValueError) as error:
        raise DeskError(str(error)) from error
    seen.note(studio.root, bench_path(studio.book_dir, line.bench))
    studio.mark_stale(by_a_record=True)
    studio.last_written = LastWritten(line.id, kind, monotonic())
    return Written.taken_from(line)


def _named_photos(body: msgspec.Struct) -> tuple[Photo, ...]:
    if isinstance(body, Amend):
        return msgspec.convert(body.set.get("photos") or (), tuple[Photo, ...])
    return tuple(getattr(body, "photos", ()))


def photo(path: Path, when: str) -> Photo:
    """A photograph tied to its content. Only plain files are taken, links are not followed."""
    import hashlib
    import os
    import stat

    from kb.book.storage import PLAIN

    try:
        handle = os.open(path, os.O_RDONLY | PLAIN)
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", "") or error
        raise DeskError(f"The photograph {path} cannot be opened ({why}); check the path.") from error
    found = os.fstat(handle)
    if not stat.S_ISREG(found.st_mode) or found.st_size > LONGEST_PHOTO:
        # Looked at first: a folder cannot be made into a stream at all.
        os.close(handle)
        raise DeskError(f"{path} is not a photograph that can be taken in; name a plain file.")
    with os.fdopen(handle, "rb") as stream:
        digest = hashlib.file_digest(stream, "sha256").hexdigest()
    return msgspec.convert({"path": str(path), "sha256": digest, "when": when}, Photo)


def full_id(studio: Studio, start: str) -> str:
    """The one id that begins with what was typed. A short start is enough if it is unique."""
    start = start.strip().upper()
    found = ids_starting(studio.index.conn, "test", start) if start else []
    if len(found) == 1:
        return found[0]
    if not found:
        raise DeskError(f'No test has an id that begins with "{start}"; the book lists them.')
    raise Unclear("id", start, tuple(Choice(one, "test") for one in found))


def list_tests(
    studio: Studio, filters: dict[str, str] | None = None, *, limit: int = 50, before: str = ""
) -> list[TestSummary]:
    """Tests, newest first. ``limit`` 0 lists all; ``before`` goes on from an id."""
    unknown = set(filters or {}) - set(FILTERS)
    if unknown:
        raise DeskError(
            f"A list cannot be narrowed by {sorted(unknown)[0]}; use one of {', '.join(FILTERS)}."
        )
    rows = spot_tests(studio.index.conn, filters or {}, limit=limit, before=before)
    return [_summary(row, own_words(studio.index.conn, row.id)) for row in rows]


def _summary(row: Row, also: str) -> TestSummary:
    passes_by = bool(row.medium) and row.passes_ink_by
    return TestSummary.taken_from(
        row,
        control=bool(row.control),
        state=STATES[row.state],
        also=also,
        passes_ink_by=passes_by,
        harm=row.worst,
    )


def harm_in_words(one: TestSummary) -> str:
    """``worst harm 0 none seen``, and that this is no look at the ink where none was taken at it."""
    if one.harm is None:
        return "harm not looked at"
    worst = f"worst harm {HARM_WORDS[one.harm]}"
    return f"{worst}; {NO_LOOK_AT_INK}" if one.passes_ink_by else worst


def record_named(
    studio: Studio, kind: str, typed: str, noun: str = "", where: str = "the book lists them"
) -> str:
    """The record of a kind that is meant by the beginning of its id. Raises DeskError, or Unclear."""
    start, noun = typed.strip().upper(), noun or KINDS[kind].noun
    found = ids_starting(studio.index.conn, kind, start) if start else []
    none = f'No {noun} has an id that begins with "{typed.strip()}"; {where}.'
    return the_one(found, noun, typed, none)


def gone(record_id: str) -> DeskError:
    """What is said of a record that the index knows and the book no longer gives."""
    return DeskError(f"The record {record_id} can no longer be read in the book; check the book for damage.")


def show_test(studio: Studio, test_id: str) -> TestDetail:
    from kb.book.check import decode_test
    from kb.book.fold import fold

    conn = studio.index.conn
    root = full_id(studio, test_id)
    row = spot_test(conn, root)
    lines = lines_about(conn, root)
    book = fold(lines)
    current = book.tests.get(root)
    if row is None or current is None:
        raise gone(root)
    return TestDetail.taken_from(
        current.line,
        state=STATES[row.state],
        test=current.body,
        first=decode_test(current.line),
        not_looked=tuple(kind for kind in HARM_KINDS if kind not in current.body.harm),
        history=tuple(steps(root, current.history, lines, book)),
    )


def steps(root: str, history: Iterable[Change], lines: Iterable[Line], book: Fold) -> Iterator[Step]:
    """The own line of the record ``root`` and all that was said about it later, in the order of ids."""
    changes = {one.line.id: one for one in history}
    for line in sorted(lines, key=lambda line: line.id):
        change = changes.get(line.id)
        if change is not None:
            in_force, note = change.in_force, change.note
        else:
            # A change that is not among those worked in could not be read.
            in_force, note = line.id == root and root not in book.withdrawn, book.troubles.get(line.id, "")
        body = msgspec.json.decode(line.body)
        changed = body.get("set")
        yield Step.taken_from(
            line,
            why=str(body.get("why", "")),
            changed=changed if isinstance(changed, dict) else {},
            of="" if line.id == root else str(body.get("of", "")),
            in_force=in_force,
            note=note,
        )


def book_size(studio: Studio) -> tuple[int, int]:
    """Tests in the book, and how many of them were withdrawn."""
    return count_tests(studio.index.conn)


def blend_name(parts: Mapping[str, float]) -> str:
    """The text by which lists of tests name what was put on: ``acetone``, or ``acetone 50 + water 50``."""
    from kb.science.liquids.blends import blend_id

    return blend_id(parts)


def sheet_names(studio: Studio) -> list[tuple[str, int]]:
    """Sheets that tests were made on, with the number of tests, the most recent first."""
    return sheets(studio.index.conn)


def now_words(moment: datetime) -> str:
    """A time as people write it: 25 Nov 2026 14:05."""
    return moment.strftime("%d %b %Y %H:%M").lstrip("0")
