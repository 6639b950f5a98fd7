"""Mends and infills on a sheet: written down as they were made, and listed."""

from __future__ import annotations

from kb.book.kinds.mend import MEND, Mend
from kb.book.kinds.parts import ADHESIVE, TISSUE
from kb.desk.records import work_records as work
from kb.desk.studio import Studio
from kb.index.kept_rows import KeptRow
from kb.index.rows import STATES
from kb.model.question import Plain


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


def mends(studio: Studio, sheet: str = "") -> list[MendView]:
    """Mends that were not withdrawn, of one sheet or of all, in the order they were written down."""
    return [_view(studio, row) for row in work.work_rows(studio, "mend", sheet)]


def _view(studio: Studio, row: KeptRow) -> MendView:
    mend: Mend = row.body
    tissue = work.name_of(studio, TISSUE, mend.tissue)
    adhesive = work.name_of(studio, ADHESIVE, mend.adhesive)
    return MendView(
        id=row.id,
        at=row.at,
        who=row.who,
        state=STATES[row.state],
        mend=mend,
        tissue=tissue,
        adhesive=adhesive,
        words=work.words_of(studio, MEND, mend),
        warnings=tuple(work.against(studio, MEND, mend, row.at)),
    )
