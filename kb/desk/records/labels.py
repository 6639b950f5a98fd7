"""Labels for batches, bottles and sheets: lines, and a QR code that holds the id of the record."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

from kb.book.kinds.bottle import Bottle
from kb.book.kinds.sheet import Sheet, size_words
from kb.desk.errors import DeskError, Unclear
from kb.desk.making.batches import all_batches, label_lines, show
from kb.desk.records.book_list import kind_of, record_id
from kb.desk.records.work_records import SHORT, name_of
from kb.desk.studio import Studio
from kb.index.kept_rows import KeptRow, kept, one_kept
from kb.model.question import Plain

ACROSS, DOWN = 2, 5
"""Labels on a page of A4, each of 80 by 50 mm."""
RULE = "-" * 40


class Line(Plain, frozen=True, kw_only=True):
    """One line of a label, and whether it is set bold."""

    text: str
    bold: bool


class Label(Plain, frozen=True, kw_only=True):
    """A label. ``qr`` is an SVG drawing of a code that holds ``id`` and nothing else; empty if undrawn."""

    id: str
    kind: str
    lines: tuple[Line, ...]
    qr: str


def labels(studio: Studio, typed: Iterable[str], *, drawn: bool = True) -> list[Label]:
    """A label for each record that is meant by the beginning of its id, or by the name of its sheet.

    Lines of text bear no drawing: then the code need not be ``drawn``.

    Raises DeskError for a record that bears no label, and for one that is not there.
    """
    return [_label(studio, one, drawn=drawn) for one in typed]


def in_use(studio: Studio) -> list[str]:
    """Ids of the batches and bottles that are not used up, the newest batch first."""
    bottles = [row.id for row in kept(studio.index.conn, "bottle") if not row.body.finished]
    return [*(one.id for one in all_batches(studio)), *bottles]


def _label(studio: Studio, typed: str, *, drawn: bool) -> Label:
    meant, kind = _meant(studio, typed)
    if kind not in _LINES:
        raise DeskError(f"A record of the kind {kind} bears no label; batches, bottles and sheets do.")
    row = one_kept(studio.index.conn, kind, meant)
    said = _LINES[kind](studio, row) if row is not None else []
    lines = tuple(Line(text=text, bold=bold) for text, bold in said if text)
    return Label(id=meant, kind=kind, lines=lines, qr=_qr(meant) if drawn else "")


def _meant(studio: Studio, typed: str) -> tuple[str, str]:
    from kb.desk.sheet.names import NoSheet, exactly, known_sheets, sheet_named, sheet_row

    # Every id begins with 01, and so may the name of a sheet.
    if name := exactly(typed, known_sheets(studio)):
        row = sheet_row(studio, name)
    else:
        try:
            meant = record_id(studio, typed)
            return meant, kind_of(studio, meant)
        except Unclear:
            raise
        except DeskError as unknown:
            try:
                row = sheet_row(studio, sheet_named(studio, typed))
            except NoSheet:
                raise unknown from None
    if row is None:
        raise DeskError(f'"{typed}" has no record of its own yet: benchleaf sheet amend')
    return row.id, "sheet"


def _qr(record: str) -> str:
    # Loaded late: nothing but a drawn label needs it, and it loads half a browser.
    import segno

    return str(segno.make(record, error="m", micro=False).svg_inline(border=4, scale=4))


def _bottle(studio: Studio, row: KeptRow) -> list[tuple[str, bool]]:
    body: Bottle = row.body
    return [
        (name_of(studio, ("liquid",), body.liquid), True),
        (body.label, False),
        (f"opened {body.opened}" if body.opened else "opened: not known", False),
        (f"use by {body.expires}" if body.expires else "use by: not known", True),
        (f"lot {body.lot}" if body.lot else "", False),
        (f"bottle {row.id[:SHORT]}", True),
    ]


def _sheet(_: Studio, row: KeptRow) -> list[tuple[str, bool]]:
    body: Sheet = row.body
    return [
        (body.sheet, True),
        (body.number, True),
        (body.owner, False),
        (size_words(body), False),
        (f"sheet {row.id[:SHORT]}", True),
    ]


_LINES: dict[str, Callable[[Studio, KeptRow], list[tuple[str, bool]]]] = {
    "batch": lambda studio, row: label_lines(show(studio, row.id)),
    "bottle": _bottle,
    "sheet": _sheet,
}


# -- out -----------------------------------------------------------------------------------------------------


def as_html(made: Iterable[Label]) -> str:
    """Labels on pages of A4, two across and five down; one page that needs nothing else."""
    from kb.desk.sheet.report import page

    return page(Path(__file__).with_name("labels.html.j2"), labels=list(made), page=ACROSS * DOWN)


def as_text(made: Iterable[Label]) -> str:
    """Labels one under the other, to be cut apart; the whole id stands where the code would be."""
    parts = [[*(line.text for line in label.lines), label.id] for label in made]
    return "\n".join("\n".join([RULE, *lines]) for lines in parts) + f"\n{RULE}\n"


def save_pdf(made: Iterable[Label], path: Path) -> str:
    """The same pages as PDF. Raises DeskError if it cannot be made or written."""
    from kb.desk.sheet.report import write_pdf

    return write_pdf(Path(__file__).with_name("labels.typ"), {"labels": list(made)}, path)
