"""Batches in words, and the label written beside the book. Called in a thread, under the desk's lock."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from kb.desk.errors import DeskError
from kb.desk.making.batches import BatchView, Trace, all_batches, expiring, facts, label, save_svg, trace
from kb.tui.day import day_of, minute_of
from kb.tui.widgets.table import Column, TableRow

if TYPE_CHECKING:
    from kb.desk.studio import Studio

EXPORTS = "exports"
"""Folder of the studio into which drawings of labels are written."""
MOST_LABELS = 1000


class Listed(NamedTuple):
    """A batch in the list. ``due`` says why it stands on top; empty for the others."""

    batch: BatchView
    due: str


def fetch(studio: Studio, *, day: date, finished: bool) -> list[Listed]:
    """Batches, those that are bad or go off first, then the newest."""
    studio.refresh()
    known = {one.id: one for one in all_batches(studio, finished=finished)}
    due = {one.batch: one.what for one in expiring(studio, day) if one.batch in known}
    first = [Listed(known[batch_id], what) for batch_id, what in due.items()]
    return first + [Listed(one, "") for one in known.values() if one.id not in due]


COLUMNS = (
    Column("name", "Batch"),
    Column("made", "Made on"),
    Column("by", "Use by"),
    Column("mind", "To look at"),
    Column("id", "Label"),
)


def row(one: Listed) -> TableRow:
    """What it is, its two days, what to look at, and the beginning of its id, which stands on its label."""
    batch = one.batch
    words = one.due.upper() or ("withdrawn" if batch.state == "withdrawn" else "")
    if batch.finished:
        words = f"used up {batch.finished}"
    cells = (batch.name, batch.made_at, batch.expires or "not known", words, batch.short)
    return TableRow(batch.id, cells)


def batch_lines(studio: Studio, *, batch_id: str) -> tuple[str, str]:
    """Heading and text: the batch with everything in it, and where it went."""
    found = trace(studio, batch_id)
    return f"Batch {found.batch.short}", "\n".join((*_batch(found.batch), "", *_went(found)))


def _batch(one: BatchView) -> Iterator[str]:
    yield from (f"{label}: {text}" for label, text in facts(one))
    if not one.weights:
        yield "weighed: nothing was written down"
    yield f"written: {minute_of(one.at)} by {one.who}{f', {one.state}' if one.state else ''}"


def _went(found: Trace) -> Iterator[str]:
    if not (found.uses or found.made_into):
        yield "No record names this batch yet."
        return
    yield "Where it went"
    for into in found.made_into:
        yield f"- into batch {into.short}, {into.name}"
    for use in found.uses:
        sheet = f" on {use.sheet}" if use.sheet else ""
        yield f"- {use.kind} {use.id[:10]}{sheet}, {day_of(use.at)}, {use.who}"
    if found.sheets:
        yield f"Sheets: {', '.join(found.sheets)}"


def labelled(studio: Studio, *, batch_id: str) -> tuple[str, str]:
    """The text of a label, and where its drawing was written. A drawing that is there is not overwritten."""
    made = label(studio, batch_id)
    folder = studio.root / EXPORTS
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise DeskError(f"The folder {folder} cannot be made ({error.strerror}).") from error
    for number in range(1, MOST_LABELS):
        path = folder / f"label-{made.short}{'' if number == 1 else f'-{number}'}.svg"
        if _holds(path, made.svg):
            return made.text, str(path)
        if not path.exists():
            save_svg(made, path)
            return made.text, str(path)
    raise DeskError(f"There are too many drawings of this label in {folder}.")


def _holds(path: Path, svg: str) -> bool:
    try:
        return path.read_text(encoding="utf-8") == svg
    except (OSError, ValueError):
        return False
