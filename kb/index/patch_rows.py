"""Patches that were lifted, as evidence beside spot tests.

A patch says with what liquid it was lifted and what came of it. What it lay on stands in the record of its
strip, and paper and media in that of its sheet: the patches of a sheet are counted anew whenever one of
these records or a change of one arrives, so that the counts never depend on the order of writing.

Patches of one strip lifted with the same liquid in the same way are nearly one observation: one tape, one
paper, one hand, and a liquid that was taken because a spot had shown that it works. So one patch counts
half a test, and k of them k / (k + 1) of a test between them: what k observations are worth of which any
two agree half of the time by kinship alone. However long the strip, it never counts as a whole test.
"""

from __future__ import annotations

import sqlite3
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from kb.index.rows import BARE_PAPER, CURRENT, HARM_FROM, WHOLE, Row, shares_of, shares_of_tape, shares_text
from kb.model.kinds import plain_id

if TYPE_CHECKING:
    from kb.book.kinds.patch import Strip
    from kb.book.kinds.sheet import Sheet
    from kb.index.compiled import Compiled
    from kb.index.kept_rows import KeptRow
    from kb.index.tally import Tally

SPEAKING = ("patch", "strip", "sheet")
"""Kinds of record from which the evidence of a patch is put together."""


class PatchRow(NamedTuple):
    """One patch as evidence. ``strip`` is the id of its strip's record, or the face if none is there."""

    id: str
    sheet: str
    strip: str
    liquid: str
    parts: str
    """Shares by id, as JSON."""
    method: str
    medium: str
    paper: str
    release: int | None
    harm: int | None
    tapes: str
    """What it lay on, with the part of a test that it counts for each, as :func:`shares_text` writes it."""
    harm_share: int
    """The part of a look for harm that it counts, in WHOLE-ths."""


_COLUMNS = ", ".join(PatchRow._fields)


def recount_patches(
    conn: sqlite3.Connection, compiled: Compiled, tally: Tally, sheets: Collection[str]
) -> None:
    """Bring the evidence of all patches of these sheets up to date, counts and all."""
    sql = f"SELECT {_COLUMNS} FROM patch_evidence WHERE sheet = ?"
    # All old ones go before a new one is put: a patch may have moved from one of these sheets to another.
    # As sets, so that what did not change is neither taken out nor put in again.
    old = {PatchRow(*row) for sheet in sheets for row in conn.execute(sql, (sheet,))}
    new = {row for sheet in sheets for row in _rows(conn, compiled, sheet)}
    for row in old - new:
        _count(tally, row, -1)
        conn.execute("DELETE FROM patch_evidence WHERE id = ?", (row.id,))
    for row in new - old:
        _count(tally, row, 1)
        conn.execute(f"INSERT INTO patch_evidence VALUES ({', '.join('?' * len(row))})", row)


def _count(tally: Tally, row: PatchRow, step: int) -> None:
    from kb.index.tally import HARM_PATCH, PATCH, stored_parts

    if row.release is not None:
        for tape, share in shares_of(row.tapes):
            tally.count((*tape, row.method, row.liquid), PATCH, row.release, step * share)
    if row.harm is not None:
        # Nobody noted what was harmed: it may have been the paper, as well as what it lay on.
        for medium in dict.fromkeys((row.medium, BARE_PAPER)):
            key = (medium, row.paper, row.method, row.liquid)
            tally.count(key, HARM_PATCH, row.harm, step * row.harm_share)
    parts = stored_parts(row.parts)
    if len(parts) > 1:
        tally.use(row.liquid, parts, step)


def _rows(conn: sqlite3.Connection, compiled: Compiled, sheet: str) -> list[PatchRow]:
    """The patches of a sheet that say something of a known liquid."""
    # Only whoever counts anew loads the kinds of records; a question has none of them to read.
    from kb.index.kept_rows import kept_as_written

    found = [
        (row, parts)
        for row in kept_as_written(conn, "patch", sheet)
        if (row.body.release is not None or row.body.harm is not None)
        and (parts := _parts(compiled, row.body.liquid))
    ]
    # Most sheets hold patches that nobody has graded yet.
    if not found:
        return []
    # The record written last, where two benches founded the same sheet.
    record: Sheet | None = next((row.body for row in kept_as_written(conn, "sheet", sheet)[-1:]), None)
    strips = [row for row in kept_as_written(conn, "strip", sheet) if not row.body.weak]
    on = {face: _medium(conn, compiled, record, face) for face in {row.body.face for row, _ in found}}
    paper = plain_id(record.paper) if record else ""
    drafts = [_draft(row, parts, on[row.body.face], paper, strips) for row, parts in found]
    # Release and harm are counted apart: a patch may be graded for one alone.
    released = Counter(_kin(one) for one in drafts if one.release is not None)
    looked = Counter(_kin(one) for one in drafts if one.harm is not None)
    tape_of = {row.id: row.body for row in strips}
    return [
        one._replace(
            tapes=shares_text(_tapes(compiled, tape_of.get(one.strip), record, share_of(released[_kin(one)])))
            if one.release is not None
            else "",
            harm_share=share_of(looked[_kin(one)]) if one.harm is not None else 0,
        )
        for one in drafts
    ]


def _parts(compiled: Compiled, typed: str) -> dict[str, float]:
    """The liquid or blend by ids of the catalogue; empty where it is none that is known."""
    from kb.science.liquids.blends import parse_blend

    try:
        parts = parse_blend(typed)
    except ValueError:
        return {}
    return parts if all(part in compiled.by_id for part in parts) else {}


def _draft(
    row: KeptRow, parts: dict[str, float], medium: str, paper: str, strips: Sequence[KeptRow]
) -> PatchRow:
    # Here, for an answer only counts what was written.
    import json

    from kb.science.liquids.blends import blend_id

    patch = row.body
    strip = _strip_of(patch, strips)
    return PatchRow(
        row.id,
        patch.sheet,
        strip.id if strip else patch.face,
        next(iter(parts)) if len(parts) == 1 else blend_id(parts),
        json.dumps(parts),
        plain_id(patch.method),
        medium,
        paper,
        patch.release,
        patch.harm,
        "",
        0,
    )


def _kin(row: PatchRow) -> tuple[str, str, str]:
    return row.strip, row.liquid, row.method


def share_of(alike: int) -> int:
    """What one patch counts, in WHOLE-ths of a test, where so many of a strip were lifted alike."""
    return round(WHOLE / (alike + 1))


def _tapes(
    compiled: Compiled, strip: Strip | None, record: Sheet | None, share: int
) -> dict[tuple[str, str, str], int]:
    """What the patch lay on: the tape of its strip; else what the sheet says that its tape may be."""
    # A sheet may carry several tapes; the strip under the patch is surer than what the sheet says.
    stage = plain_id(strip.stage) if strip else ""
    _, adhesive, carrier = compiled.tapes.get(plain_id(strip.tape), ("", "", "")) if strip else ("", "", "")
    if adhesive:
        return {(adhesive, stage, carrier): share}
    may_be: Mapping[str, float] = record.may_be if record else {}
    return shares_of_tape(may_be, stage, "", share)


def _medium(conn: sqlite3.Connection, compiled: Compiled, record: Sheet | None, face: str) -> str:
    """The medium of that face, where the sheet names one alone; nobody noted which of several it lay on."""
    names = () if record is None else record.media_front if face == "front" else record.media_back
    if len(names) != 1:
        return ""
    if (medium := plain_id(names[0])) in compiled.media:
        return medium
    # As it is called: who writes down a sheet has no ids at hand.
    from kb.index.search import exactly

    called = exactly(conn, names[0], "medium")
    return called[0].id if len(called) == 1 else ""


def _strip_of(patch: Any, strips: Sequence[KeptRow]) -> KeptRow | None:
    """The strip, last written, in which the middle of the patch lies."""
    from kb.book.kinds.parts import corners
    from kb.science.sheet.polygons import inside

    outline = corners(patch.outline)
    middle = (sum(x for x, _ in outline) / len(outline), sum(y for _, y in outline) / len(outline))
    # The last written strip: outlines are corrected by drawing them again.
    row: KeptRow
    for row in reversed(strips):
        if row.body.face == patch.face and inside(middle, corners(row.body.outline)):
            return row
    return None


class Counted(NamedTuple):
    """Patches with one liquid, and what they count together, in tests."""

    patches: int
    weight: float


def patches_bearing(
    conn: sqlite3.Connection, adhesives: Sequence[str], media: Sequence[str]
) -> dict[str, Counted]:
    """By liquid, the patches that lay, or may have lain, on these adhesives or on one of these media.

    The weight of a patch is that of its release, or of its look for harm where only that was graded.
    """
    found: dict[str, Counted] = {}
    for row in map(PatchRow._make, conn.execute(f"SELECT {_COLUMNS} FROM patch_evidence ORDER BY id")):
        # A patch on an unknown tape counts for each adhesive by its share, as a test does.
        released = sum(share for tape, share in shares_of(row.tapes) if tape[0] in adhesives)
        looked = row.harm_share if (row.medium and row.medium in media) or BARE_PAPER in media else 0
        if released or looked:
            patches, weight = found.get(row.liquid, Counted(0, 0.0))
            found[row.liquid] = Counted(patches + 1, weight + max(released, looked) / WHOLE)
    return found


def strips_as_spots(conn: sqlite3.Connection, sheet: str) -> list[Row]:
    """On its own sheet a strip lifted in one way is one spot: how most of it went, and the worst harm."""
    alike: dict[tuple[str, str, str], list[PatchRow]] = {}
    sql = f"SELECT {_COLUMNS} FROM patch_evidence WHERE sheet = ? ORDER BY id"
    for row in map(PatchRow._make, conn.execute(sql, (sheet,))):
        alike.setdefault(_kin(row), []).append(row)
    return [_as_spot(rows) for rows in alike.values()]


def _as_spot(rows: Sequence[PatchRow]) -> Row:
    first = rows[0]
    worst = max((row.harm for row in rows if row.harm is not None), default=None)
    # The lower middle: of an even number the less hopeful one is taken.
    releases = sorted(row.release for row in rows if row.release is not None)
    return Row(
        first.id, 0, 0, 0, "", "", first.sheet, "", "", "", "", first.medium, first.paper, first.liquid,
        first.method, releases[(len(releases) - 1) // 2] if releases else None,
        worst, 0, CURRENT,
        # The worst of any kind: whoever grades a patch has looked at all of it. But of no ink, clean, where
        # nobody noted on which of several media it lay.
        harms="" if first.medium or worst is None or worst >= HARM_FROM else f"surface={worst}",
    )  # fmt: skip
