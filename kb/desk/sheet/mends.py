"""Mends and infills on a sheet: written down as they were made, and listed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, get_args

import msgspec

from kb.desk.errors import Choice, DeskError, Unclear
from kb.desk.records.record import Written
from kb.desk.records.typed_amounts import millimetres, minutes
from kb.desk.records.work_records import (
    ADHESIVE,
    TISSUE,
    add_work,
    as_typed,
    batch_named,
    batch_warnings,
    done_at,
    known_or_words,
    name_of,
    photos,
    text,
    whole_number,
    work_rows,
)
from kb.desk.studio import Studio
from kb.index.kept_rows import KeptRow, kept_ids_starting, one_kept
from kb.index.rows import STATES
from kb.model.question import Plain
from kb.model.record import Face, Mend, Site, TearKind

TEAR_KINDS: tuple[str, ...] = tuple(one for one in get_args(TearKind) if one)
TEAR_WORDS = {
    "": "",
    "plain": "plain tear",
    "scarfed": "scarfed tear",
    "through": "tear from edge to edge",
    "inside": "tear that reaches no edge",
    "loss": "loss",
    "lifting": "lifting layer",
}


class MendView(Plain, frozen=True, kw_only=True):
    """A mend as it stands. ``tissue`` and ``adhesive`` are names; ``warnings`` speak against its batch."""

    id: str
    at: str
    who: str
    state: str
    mend: Mend
    tissue: str
    adhesive: str
    words: str
    """The mend in one line."""
    warnings: tuple[str, ...]


def add_mend(studio: Studio, mend: Mend) -> Written:
    """Write down a mend; returns only after it is on disk. Raises DeskError for figures that cannot be."""
    return add_work(studio, "mend", mend)


def mends(studio: Studio, sheet: str = "") -> list[MendView]:
    """Mends that were not withdrawn, of one sheet or of all, in the order they were written down."""
    return [_view(studio, row) for row in work_rows(studio, "mend", sheet)]


def warnings(studio: Studio, mend: Mend) -> tuple[str, ...]:
    """What to know before or after storing it: a bad or expired batch, words that no entry bears."""
    return (
        *batch_warnings(studio, mend.batch, mend.mended_at),
        *as_typed(studio, TISSUE, "tissue", mend.tissue),
        *as_typed(studio, ADHESIVE, "adhesive", mend.adhesive),
    )


def mend_from_words(studio: Studio, words: Mapping[str, Any]) -> Mend:
    """A mend from typed words; a key that is missing or empty was not said.

    Keys: sheet, tear, site, face, length, width, tissue, strips, adhesive, batch, toning, pressed, at,
    remarks, photo (one or several paths). Where a batch is named and no adhesive, the adhesive is the
    batch's recipe. Raises DeskError for what cannot be, for a batch or toning test that does not exist.
    """
    batch = batch_named(studio, words)
    return Mend(
        sheet=text(words, "sheet"),
        tear=_tear(text(words, "tear")),
        site=Site(words=text(words, "site"), face=_face(text(words, "face"))),
        length_mm=millimetres(typed) if (typed := text(words, "length")) else None,
        width_mm=millimetres(typed) if (typed := text(words, "width")) else None,
        tissue=known_or_words(studio, TISSUE, text(words, "tissue")),
        strips=whole_number(words, "strips"),
        adhesive=_adhesive(studio, text(words, "adhesive"), batch),
        batch=batch,
        toning=toning_id(studio, typed) if (typed := text(words, "toning")) else "",
        pressed_minutes=minutes(typed) if (typed := text(words, "pressed")) else None,
        photos=photos(words),
        mended_at=done_at(words),
        remarks=text(words, "remarks"),
    )


def _tear(typed: str) -> TearKind:
    plain = typed.lower()
    if plain and plain not in TEAR_KINDS:
        raise DeskError(f'"{typed}" is no kind of tear; there are {", ".join(TEAR_KINDS)}.')
    found: TearKind = msgspec.convert(plain, TearKind)
    return found


def _face(typed: str) -> Face:
    plain = typed.lower()
    if plain not in {"", "front", "back"}:
        raise DeskError(f'"{typed}" is no face of a sheet; there are front and back.')
    found: Face = msgspec.convert(plain, Face)
    return found


def _adhesive(studio: Studio, typed: str, batch: str) -> str:
    if not typed and batch:
        row = one_kept(studio.index.conn, "batch", batch)
        return str(row.body.recipe or row.body.name) if row else ""
    return known_or_words(studio, ADHESIVE, typed, loosely=False)


def toning_id(studio: Studio, typed: str) -> str:
    """The toning test that is meant by the beginning of its id."""
    start = typed.strip().upper()
    found = kept_ids_starting(studio.index.conn, "toning", start) if start else []
    if len(found) == 1:
        return found[0]
    if not found:
        raise DeskError(f'No toning test has an id that begins with "{typed}"; the book lists them.')
    raise Unclear("toning test", typed, tuple(Choice(one, "toning test") for one in found))


def mend_words(mend: Mend, tissue: str, adhesive: str) -> str:
    """``plain tear 45 mm, Tengujo, wheat starch paste (batch 01J0ABCDEF)``, with the names given."""
    return ", ".join(_parts(mend, tissue, adhesive)) or "nothing is said of it"


def _parts(mend: Mend, tissue: str, adhesive: str) -> Iterator[str]:
    size = " x ".join(f"{one:g}" for one in (mend.length_mm, mend.width_mm) if one is not None)
    tear = " ".join(part for part in (TEAR_WORDS[mend.tear], f"{size} mm" if size else "") if part)
    if tear:
        yield tear
    if mend.site.words or mend.site.face:
        yield " ".join(part for part in (mend.site.words, mend.site.face and f"({mend.site.face})") if part)
    if tissue:
        yield f"{mend.strips} strips of {tissue}" if mend.strips and mend.strips > 1 else tissue
    batch = f"batch {mend.batch[:10]}" if mend.batch else ""
    if adhesive or batch:
        yield f"{adhesive} ({batch})" if adhesive and batch else adhesive or batch
    if mend.toning:
        yield f"toned as {mend.toning[:10]}"
    if mend.pressed_minutes is not None:
        yield f"pressed {mend.pressed_minutes:g} min"


def _view(studio: Studio, row: KeptRow) -> MendView:
    mend: Mend = row.body
    tissue = name_of(studio, TISSUE, mend.tissue)
    adhesive = name_of(studio, ADHESIVE, mend.adhesive)
    return MendView(
        id=row.id,
        at=row.at,
        who=row.who,
        state=STATES[row.state],
        mend=mend,
        tissue=tissue,
        adhesive=adhesive,
        words=mend_words(mend, tissue, adhesive),
        warnings=tuple(batch_warnings(studio, mend.batch, row.at)),
    )
