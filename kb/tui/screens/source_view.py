"""Where a figure comes from, and which other entries an entry names."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import TYPE_CHECKING, ClassVar, NamedTuple

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.screen import ModalScreen
from textual.widgets import OptionList
from textual.widgets.option_list import Option

from kb.tui.screens.note import NoteScreen
from kb.tui.text import line
from kb.tui.widgets.frame import Sheet

if TYPE_CHECKING:
    from kb.desk.lookup import Cited, Line, Reading
    from kb.desk.studio import Studio

BASIS = {
    "published": "a published text",
    "library": "open data that a named software package carries",
    "computed": "arithmetic on other figures here",
    "common-practice": "trade knowledge without a text",
    "memory": "handbook knowledge from memory, not looked up",
    "project": "a choice of this project, not a measurement",
    "": "not known: the catalogue has no such source",
}
LINKED = {
    "family": "family",
    "carrier": "carrier",
    "adhesive": "adhesive",
    "usual adhesives": "adhesive",
    "polymers": "polymer",
    "needs all of": "polymer",
    "stage": "stage",
    "medium": "medium",
    "paper": "paper",
    "method": "method",
}
"""Lines that are nothing but ids of one kind."""
WITH_IDS = {
    "when": (
        "liquid",
        "family",
        "adhesive",
        "tape",
        "carrier",
        "stage",
        "medium",
        "paper",
        "method",
        "hazard",
    ),
    "liquids": ("liquid",),
    "stages": ("stage",),
    "classification": ("hazard",),
}
"""Lines with ids among other words, and the kinds they may be of."""
_ID = re.compile(r"[A-Za-z0-9]+(?:-[A-Za-z0-9]+)*")


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
    parts.extend(_cited(source) for source in cited)
    if not reading.sources:
        parts[-1:] = ["This entry names no source."]
    return "\n\n".join(parts)


def _cited(source: Cited) -> str:
    read = "read for this catalogue" if source.seen else "not read for this catalogue"
    lines = [source.cite, f"  Rests on: {BASIS.get(source.basis, source.basis)}", f"  Read: {read}"]
    if source.extent:
        lines.append(f"  How much: {source.extent}")
    if source.url:
        lines.append(f"  Where: {source.url}")
    lines.append(f"  Entry: {source.id}")
    return "\n".join(lines)


class Link(NamedTuple):
    """Another entry that this one names."""

    kind: str
    id: str
    name: str
    label: str


def links(studio: Studio, reading: Reading) -> list[Link]:
    """Every other entry of the catalogue that the lines of this one name."""
    from kb.desk.lookup import names

    known: dict[str, dict[str, tuple[str, str]]] = {}
    found: dict[tuple[str, str], Link] = {}
    for one in reading.lines:
        single = LINKED.get(one.label)
        kinds = (single,) if single else WITH_IDS.get(one.label, ())
        words = one.value.split(", ") if single else _ID.findall(one.value)
        for kind in kinds:
            if kind not in known:
                known[kind] = {each: (each, name) for each, name in names(studio, kind)}
                known[kind] |= {each.lower(): pair for each, pair in list(known[kind].items())}
            for word in words:
                pair = known[kind].get(word) or known[kind].get(word.lower())
                if pair and (kind, pair[0]) != (reading.kind, reading.id):
                    name = f"{pair[0]} {pair[1]}" if kind == "hazard" else pair[1]
                    found.setdefault((kind, pair[0]), Link(kind, pair[0], name, one.label))
    return list(found.values())


class LinksScreen(ModalScreen[Link]):
    """Entries that an entry names; Enter goes there."""

    TITLE_WORDS = "Links"
    HELP = "The other entries that this one names. Arrow keys move, Enter reads the entry, Esc closes."
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "close", "Close")]
    CSS = """
    LinksScreen { align: center middle; background: $background 60%; }
    LinksScreen OptionList { height: auto; max-height: 16; }
    """

    def __init__(self, title: str, found: list[Link]) -> None:
        super().__init__()
        self.heading = title
        self.found = found

    def compose(self) -> ComposeResult:
        """A list."""
        options = [Option(line(f"{one.name} - {one.kind} ({one.label})")) for one in self.found]
        with Sheet(f"{self.heading} names", "Enter reads the entry; Esc closes"):
            yield OptionList(*options, markup=False, compact=True)

    @on(OptionList.OptionSelected)
    def chosen(self, event: OptionList.OptionSelected) -> None:
        """Go there."""
        self.dismiss(self.found[event.option_index])

    def action_close(self) -> None:
        """Stay here."""
        self.dismiss(None)
