"""What is known of a sheet as an object, as one types it: kept in its record and its condition."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path
from typing import NamedTuple

import msgspec

from kb.book.kinds.condition import Condition
from kb.book.kinds.housing import Housing
from kb.book.kinds.sheet import Sheet, size_words
from kb.desk.sheet.names import sheet_record
from kb.desk.studio import Studio
from kb.index.kept_rows import KeptRow, kept
from kb.index.queries import spot_tests
from kb.index.rows import BARE_PAPER

MOST_TESTS = 200
"""Tests of a sheet that are looked at, the newest."""
TORN = {"tear", "loss"}
"""Damages that a tissue is chosen for."""


class SheetFacts(msgspec.Struct, kw_only=True):
    """What is known of a sheet, as it is typed. Empty: not known.

    ``media`` are ids of every medium within reach of water on the front, ``media_back`` on the back. The tear
    is the first that is still open in the condition of the sheet.
    """

    size: str = ""
    grammage: str = ""
    mass: str = ""
    thickness: str = ""
    grain: str = ""
    humidity: str = ""
    tear: str = ""
    tear_length: str = ""
    media: tuple[str, ...] = ()
    media_back: tuple[str, ...] = ()
    paper: str = ""
    unknown: tuple[str, ...] = ()
    """Media as typed of which the catalogue knows nothing."""

    @property
    def all_media(self) -> tuple[str, ...]:
        """Media of both faces, each once, the front first: water reaches both."""
        return tuple(dict.fromkeys((*self.media, *self.media_back)))


class _Noted(msgspec.Struct, kw_only=True):
    """The file in which older versions noted them beside the book."""

    sheet: str
    facts: SheetFacts


class _Tear(NamedTuple):
    kind: str
    length: str
    row: KeptRow | None


def sheet_facts(studio: Studio, sheet: str) -> SheetFacts:
    """What the book knows of a sheet. Reading writes nothing.

    Gaps of its record are filled from how it was put away, then from an older version's note, then from what
    its tests were made on.
    """
    from kb.desk.choose.recorded import recorded

    name = sheet.strip()
    body, tear = sheet_record(studio, name), open_tear(studio, name)
    media, unknown = recorded(studio, "medium", body.media_front)
    media_back, more = recorded(studio, "medium", body.media_back)
    paper, open_ = recorded(studio, "paper", (body.paper,))
    known = SheetFacts(
        size=size_words(body),
        grammage=with_unit(body.grammage_g_m2, "g/m2"),
        mass=with_unit(body.mass_g, "g"),
        thickness=with_unit(body.thickness_mm, "mm"),
        grain=body.grain,
        humidity=_span(body),
        tear=tear.kind,
        tear_length=tear.length,
        media=_inks(media) or tuple(media),
        media_back=_inks(media_back),
        # Which of several it is, nobody said.
        paper=paper[0] if len(paper) == 1 and not open_ else "",
        unknown=(*unknown, *more, *open_),
    )
    for other in (_housed(studio, name), _noted(studio, name)):
        known = _with_gaps_filled(known, other)
    known = with_tests(studio, name, known)
    # What is not understood of it is no gap for a test to fill.
    return msgspec.structs.replace(known, paper="") if open_ else known


def with_tests(studio: Studio, name: str, known: SheetFacts) -> SheetFacts:
    """Media that the tests of the sheet name lie on it too; the paper is theirs where it is not known."""
    found, named = tested(studio, name), known.all_media
    more = tuple(one for one in found.media if one not in named and not (named and one == BARE_PAPER))
    return msgspec.structs.replace(known, media=(*known.media, *more), paper=known.paper or found.paper)


def _with_gaps_filled(known: SheetFacts, other: SheetFacts) -> SheetFacts:
    gaps = {field: getattr(other, field) for field in known.__struct_fields__ if not getattr(known, field)}
    return msgspec.structs.replace(known, **gaps)


def tested(studio: Studio, name: str) -> SheetFacts:
    tests = spot_tests(studio.index.conn, {"sheet": name}, limit=MOST_TESTS, withdrawn=False) if name else []
    media = list(entry_ids(studio, "medium", dict.fromkeys(test.medium for test in tests)))
    return SheetFacts(
        media=_inks(media) or tuple(media),
        paper=next(iter(entry_ids(studio, "paper", dict.fromkeys(test.paper for test in tests))), ""),
    )


def _inks(media: Iterable[str]) -> tuple[str, ...]:
    """All but the bare paper, which is judged by itself."""
    return tuple([one for one in media if one != BARE_PAPER])


def _housed(studio: Studio, name: str) -> SheetFacts:
    """What was written down of the sheet and its climate when it was last put away."""
    found = SheetFacts()
    for row in kept(studio.index.conn, "housing", name):
        body: Housing = row.body
        sides = (body.sheet_width_mm, body.sheet_height_mm)
        found = SheetFacts(
            size=" x ".join(f"{side:g}" for side in sides) + " mm" if None not in sides else found.size,
            humidity=_span(body) or found.humidity,
        )
    return found


def conditions(studio: Studio, name: str) -> list[KeptRow]:
    """What is wrong with a sheet, the oldest first; a mend that names it settles it as long as it stands."""
    rows = kept(studio.index.conn, "condition", name)
    mended = {row.body.mends: row for row in kept(studio.index.conn, "mend", name)} if rows else {}
    return [_settled(row, mended.get(row.id)) for row in rows]


def _settled(row: KeptRow, mend: KeptRow | None) -> KeptRow:
    if mend is None or row.body.treated:
        return row
    words = f"mended {(mend.body.mended_at or mend.at)[:10]}"
    return row._replace(body=msgspec.structs.replace(row.body, treated=words, treated_by=mend.id))


def open_tear(studio: Studio, name: str) -> _Tear:
    """The first tear or loss that is not treated yet; empty words and no row if there is none.

    A layer that lifts comes behind all others: it takes no strips, and a plan for it would hide the tear.
    """
    found = (row for row in conditions(studio, name) if row.body.damage in TORN and not row.body.treated)
    row = min(found, key=lambda row: row.body.tear == "lifting", default=None)
    if row is None:
        return _Tear("", "", None)
    body: Condition = row.body
    sides = [side for side in (body.width_mm, body.height_mm) if side is not None]
    length = with_unit(max(sides), "mm") if sides else ""
    return _Tear("loss" if body.damage == "loss" else body.tear, length, row)


def with_unit(figure: float | None, unit: str) -> str:
    return "" if figure is None else f"{figure:g} {unit}"


def _span(body: Sheet | Housing) -> str:
    low, high = body.humidity_low, body.humidity_high
    return "" if low is None or high is None else f"{low:g}-{high:g} %"


def entry_ids(studio: Studio, kind: str, words: Iterable[str]) -> Iterable[str]:
    """Ids of the entries that the words name; words that no entry bears are read by people only."""
    from kb.index.queries import entry
    from kb.index.search import exactly

    for word in filter(None, words):
        if entry(studio.index.conn, kind, word) is not None:
            yield word
        elif len(found := exactly(studio.index.conn, word, kind)) == 1:
            yield found[0].id


# -- notes of older versions ---------------------------------------------------------------------------------


def _noted(studio: Studio, sheet: str) -> SheetFacts:
    try:
        noted = msgspec.json.decode(note_file(studio, sheet).read_bytes(), type=_Noted)
    except (OSError, msgspec.MsgspecError, ValueError):
        return SheetFacts()
    return noted.facts if noted.sheet == sheet else SheetFacts()


def plain_name(sheet: str) -> str:
    """A name for a file: letters and figures of the sheet's name, and a mark that no other sheet has."""
    from kb.book.line import hash_of

    name = re.sub(r"[^a-z0-9]+", "-", sheet.strip().lower()).strip("-")[:40] or "sheet"
    return f"{name}-{hash_of(sheet.strip().encode('utf-8', 'replace'))[:6]}"


def note_file(studio: Studio, sheet: str) -> Path:
    """Where an older version noted what was known of a sheet."""
    return studio.root / "working" / f"sheet-{plain_name(sheet)}.json"
