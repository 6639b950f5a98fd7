"""Where a figure comes from."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from kb.desk.materials.cited import BASIS
from kb.tui.screens.note import NoteScreen

if TYPE_CHECKING:
    from kb.desk.materials.cited import Cited, Line
    from kb.desk.materials.lookup import Reading


class SourceView(NoteScreen):
    """The sources of one line."""

    TITLE_WORDS = "Sources"
    HELP = (
        "What the line says in full, and for each of its sources: the citation, what it rests on, whether "
        "it was read for this catalogue, and how much of it. Esc or Enter closes."
    )


def source_words(reading: Reading, one: Line | None) -> str:
    """The line in full and its sources; those of the whole entry if the line names none of its own."""
    parts = []
    cited: Iterable[Cited] = reading.sources
    if one is not None:
        parts.append(f"{one.label}: {one.value}")
        wanted = set(one.sources)
        cited = [source for source in reading.sources if source.id in wanted]
    if not cited:
        cited = reading.sources
        parts.append("This line names no source of its own. The sources of the whole entry:")
    parts.extend(cited_words(source) for source in cited)
    if not reading.sources:
        parts[-1:] = ["This entry names no source."]
    return "\n\n".join(parts)


def cited_words(source: Cited) -> str:
    """The citation, what it rests on, whether and how far it was read."""
    read = "read for this catalogue" if source.seen else "not read for this catalogue"
    lines = [source.cite, f"  Rests on: {BASIS.get(source.basis, source.basis)}", f"  Read: {read}"]
    if source.extent:
        lines.append(f"  How much: {source.extent}")
    if source.url:
        lines.append(f"  Where: {source.url}")
    lines.append(f"  Entry: {source.id}")
    return "\n".join(lines)
