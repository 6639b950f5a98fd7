"""An entry of the catalogue laid out for reading, or up to four of one kind side by side."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, ClassVar

from rich.table import Table
from rich.text import Text
from textual import getters, on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from kb.desk.materials.cited import BASIS
from kb.desk.signs import SIGNS
from kb.science.numbers import counted
from kb.tui.actions import Act, bindings, keys_in_words
from kb.tui.drawing import grid
from kb.tui.screens.at_desk import DeskScreen
from kb.tui.screens.note import NoteScreen
from kb.tui.text import cut, plain, tidy
from kb.tui.widgets.two_clicks import ClickList

if TYPE_CHECKING:
    from kb.desk.materials.cited import Cited, Line
    from kb.desk.materials.compare import Cell, Comparison, Row
    from kb.desk.materials.links_near import Link
    from kb.desk.materials.lookup import Reading

IN_FULL = {"report", "caution", "test", "bottle"}
"""Kinds whose remarks are shown whole; the handbook's words on a class of liquids stand in full in the entry
of the medium or paper, and are the same for every liquid of the class."""
LONGEST = 90
NONE = "Nothing is known that this has to do with."


class LinksList(ClickList):
    """Links under what they are to the entry; headings cannot be stood on."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "select", "Follow", show=False),
        Binding("left", "group(-1)", "Group before", show=False),
        Binding("right", "group(1)", "Next group", show=False),
    ]

    def __init__(self) -> None:
        super().__init__(id="reading-links")
        self._rows: list[Link | None] = []
        """The link of each row; None for a heading."""

    @property
    def here(self) -> Link | None:
        return self.row_of(self._rows)

    @property
    def value_here(self) -> str:
        return tidy(self.here.name, multiline=False) if self.here else ""

    def show(self, found: Sequence[Link], at: int = 0) -> None:
        """Lay the links out in groups, the cursor on row ``at`` or the first link after it."""
        self._rows = []
        options = []
        for heading, links in grouped(found):
            self._rows += [None, *links]
            count = f" ({len(links)})" if len(links) > 1 else ""
            # What is said of all of a group is said once, over it.
            notes = {one.note for one in links if one.note != one.name}
            shared = f": {notes.pop()}" if len(links) > 1 and len(notes) == 1 and "" not in notes else ""
            options.append(Option(Text(tidy(f"{heading}{count}{shared}"), style="bold"), disabled=True))
            options += [Option(_link_row(one, "" if shared else one.note)) for one in links]
        places = (place for place, one in enumerate(self._rows) if one is not None and place >= at)
        self.fill(options or [Option(Text(NONE), disabled=True)], next(places, None))

    def action_group(self, step: int) -> None:
        """To the first link of the next group, or of the one before."""
        heads = [place for place, one in enumerate(self._rows) if one is None]
        here = self.highlighted or 0
        wanted = (
            [one for one in heads if one > here] if step > 0 else [one for one in heads if one < here - 1]
        )
        if wanted:
            self.highlighted = (wanted[0] if step > 0 else wanted[-1]) + 1


def grouped(found: Sequence[Link]) -> list[tuple[str, list[Link]]]:
    """Links by what they are to the entry, in the order in which the first of each group stands."""
    groups: dict[str, list[Link]] = {}
    for one in found:
        named = one.relation.startswith(one.kind)
        heading = one.relation if named else f"{one.kind}, {one.relation}"
        groups.setdefault(heading[:1].upper() + heading[1:], []).append(one)
    return list(groups.items())


def _link_row(one: Link, note: str) -> Table:
    """Name and remark side by side; what has no name but its text takes the whole row."""
    # A rule has no name but its text.
    if not note or note == one.name:
        table = grid(1, 0)
        table.add_row("", Text(tidy(one.name)))
    else:
        table = grid(1, 0, 0)
        words = note if one.kind in IN_FULL else cut(note, LONGEST)
        table.add_row("", Text(tidy(one.name)), Text(tidy(words)))
    return table


SIGN_FOR_OTHERS = "!"
LABEL_WIDTH, WIDE_LABEL = 16, 27
WIDE_FROM = 70
"""Cells from which labels are given the room to stand on one line."""
PIECE = 320
"""Characters of one value that stand in one row; more goes on in the next, so that the cursor can follow."""
_END = re.compile(r"[.;] ")


class ReadingLines(ClickList):
    """The lines of an entry; one is under the cursor."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("enter", "select", "Sources", show=False)]

    @property
    def value_here(self) -> str:
        """The value under the cursor, whole, for copying; on the last row where the entry stands."""
        pane = self.parent
        if not isinstance(pane, ReadingPane) or pane.reading is None:
            return ""
        return tidy(pane.line_here.value if pane.line_here else where(pane.reading), multiline=False)


class ReadingPane(Vertical):
    """Heading, lines, file and line; or in place of the lines what the entry has to do with others.

    The line under the cursor is the one whose sources are asked for.
    """

    DEFAULT_CSS = """
    ReadingPane #reading-called { height: auto; max-height: 5; padding: 0 1; }
    ReadingPane ReadingLines, ReadingPane LinksList { height: 1fr; scrollbar-gutter: stable; }
    ReadingPane LinksList { display: none; }
    ReadingPane.-links LinksList { display: block; }
    ReadingPane.-links ReadingLines { display: none; }
    """

    lines = getters.query_one(ReadingLines)
    linked = getters.query_one(LinksList)

    def __init__(self, *, id: str) -> None:
        super().__init__(id=id)
        self.reading: Reading | None = None
        self._places: list[Line | None] = []
        """The line that each row belongs to; None for the row about the entry itself."""

    def compose(self) -> ComposeResult:
        yield Static("", id="reading-called", markup=False)
        yield ReadingLines(id="reading-lines")
        yield LinksList()

    @property
    def in_links(self) -> bool:
        """Whether the links are shown and not the lines."""
        return self.has_class("-links")

    @property
    def front(self) -> OptionList:
        return self.linked if self.in_links else self.lines

    @property
    def line_here(self) -> Line | None:
        """The line under the cursor; None on the row about the entry itself."""
        return self.lines.row_of(self._places)

    def show(self, reading: Reading) -> None:
        """Lay out an entry from its top."""
        self.reading = reading
        self.show_lines()
        rows = [
            (one, piece, number) for one in reading.lines for number, piece in enumerate(pieces(one.value))
        ]
        self._places = [*(one for one, _, _ in rows), None]
        label = WIDE_LABEL if self.size.width >= WIDE_FROM else LABEL_WIDTH
        marks = {id(one): marked(mark_of(reading, one)) for one in reading.lines}
        lines = [
            _row((one.label, piece, marks[id(one)][:1]) if not number else ("", piece, ""), label)
            for one, piece, number in rows
        ]
        self.lines.fill([*lines, Text(tidy(where(reading)), style="italic")], 0)

    def show_lines(self) -> None:
        self.remove_class("-links")
        if self.reading is not None:
            also = cut(f"Also: {', '.join(self.reading.also)}", 230) if self.reading.also else ""
            marks = dict.fromkeys(marked(mark_of(self.reading, one)) for one in self.reading.lines)
            also = "\n".join(filter(None, (also, "; ".join(filter(None, marks)))))
            self._call(also)

    def _call(self, under: str) -> None:
        """Name and kind of the entry, and a line under them."""
        assert self.reading is not None
        name = Content.styled(tidy(self.reading.name), "bold") + plain(f" - {self.reading.kind}")
        called = Content("\n").join([name, plain(under)] if under else [name])
        self.query_one("#reading-called", Static).update(called)

    def show_links(self, found: Sequence[Link], at: int = 0) -> None:
        """What the entry has to do with others, the cursor on the link that stands at ``at``."""
        if self.reading is None:
            return
        self._call(f"{counted(len(found), 'link')}, both ways; Enter follows one; Left, Right: groups")
        self.linked.show(found, at)
        self.add_class("-links")

    def say(self, words: str) -> None:
        self.reading = None
        self._places = []
        self.remove_class("-links")
        self.query_one("#reading-called", Static).update(plain(words))
        self.lines.clear_options()


def where(reading: Reading) -> str:
    """``From data/liquids/ketones.yaml, line 12.``"""
    own = " This studio's own entry." if reading.origin == "studio" else ""
    return f"From {reading.file}, line {reading.line}.{own} Entry: {reading.id}"


def mark_of(reading: Reading, one: Line) -> str:
    """The line's mark. A line that names no source is as weak as an entry of which nothing was read."""
    if one.mark or one.sources or not reading.sources:
        return one.mark
    marks = [source.mark for source in reading.sources]
    return "" if "read" in marks else marks[0]


def marked(mark: str) -> str:
    """The mark with its sign; nothing for what was read."""
    return f"{SIGNS.get(mark, SIGN_FOR_OTHERS)} {mark}" if mark else ""


def pieces(value: str) -> list[str]:
    """A long value in pieces that end with a sentence where one ends there."""
    left, found = value, []
    while len(left) > PIECE:
        ends = [match.end() for match in _END.finditer(left, 0, PIECE)]
        blank = left.rfind(" ", 0, PIECE)
        at = ends[-1] if ends and ends[-1] > PIECE // 3 else blank + 1 if blank > 0 else PIECE
        found.append(left[:at].rstrip())
        left = left[at:]
    return [*found, left]


def _row(words: tuple[str, str, str], label: int) -> Table:
    """Label, value and the sign of its mark, which is said under the name."""
    table = grid(label, 0, 1)
    table.add_row(*(Text(tidy(word)) for word in words))
    return table


class SourceView(NoteScreen):
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


COMPARE = (
    Act("sources", "o", "Sources", "Where the figures of the row under the cursor come from"),
    Act("differing", "d", "Differing", "Only the rows in which they differ, or all again"),
    Act("dismiss", "escape", "Back", "Back to the materials"),
)
HEAD, WIDE_HEAD = 17, 34
"""Cells of a label, which is wrapped where there are few."""
MISSING = "-"
LEGEND = "- not stated here; ~ from memory; ? not read here; = common practice; # this project's own choice"


class CompareScreen(DeskScreen[None]):
    """A column for each entry, a row for each figure; the row under the cursor has its sources on one key."""

    TITLE_WORDS = "Side by side"
    HELP = (
        "Figures of two to four entries of one kind. What one of them does not state is '-': nothing that "
        "is missing is guessed. A sign and a word stand behind what rests on nothing that was read; what "
        "stands bare was read in its source. A figure in brackets is printed elsewhere and disagrees.\n\n"
        f"{keys_in_words(COMPARE)}\nEnter    The same as O"
    )
    BINDINGS = bindings(COMPARE)
    CSS = """
    CompareScreen #compare-head { height: auto; max-height: 4; padding: 0 1; text-style: bold; }
    CompareScreen #compare-rows { height: 1fr; padding: 0 0 0 1; scrollbar-gutter: stable; }
    CompareScreen #compare-legend { height: auto; max-height: 2; padding: 0 1; color: $secondary; }
    """

    listed = getters.query_one(ClickList)

    def __init__(self, table: Comparison) -> None:
        super().__init__()
        self.table = table
        self.differing = False
        self.rows: list[Row] = []

    def body(self) -> ComposeResult:
        yield Static(id="compare-head", markup=False)
        yield ClickList(id="compare-rows")
        yield Static(LEGEND, id="compare-legend", markup=False)

    def on_mount(self) -> None:
        names = grid(self._label, *(0 for _ in self.table.columns))
        kind = f"{self.table.kind} ({'differing' if self.differing else 'all'})"
        names.add_row(Text(tidy(kind)), *(Text(cut(one.name, 90)) for one in self.table.columns))
        self.query_one("#compare-head", Static).update(names)
        self._draw()
        self.listed.focus()

    @property
    def _label(self) -> int:
        """On one line where the entries leave the room."""
        return WIDE_HEAD if self.app.size.width // (len(self.table.columns) + 1) >= WIDE_HEAD else HEAD

    def _draw(self) -> None:
        self.rows = [one for one in self.table.rows if one.differs or not self.differing]
        self.listed.fill([_compared(one, self._label) for one in self.rows], 0 if self.rows else None)

    def action_differing(self) -> None:
        self.differing = not self.differing
        self.on_mount()

    @on(OptionList.OptionSelected, "#compare-rows")
    def action_sources(self) -> None:
        if row := self.listed.row_of(self.rows):
            self.app.push_screen(SourceView(f"Sources: {row.label}", row_sources(self.table, row)))


def row_sources(table: Comparison, row: Row) -> str:
    """What each entry says in a row, with the sources of each."""
    cited = {one.id: one for one in table.sources}
    parts = []
    for column, cell in zip(table.columns, row.cells, strict=True):
        unit = f" {row.unit}" if row.unit and cell.text else ""
        parts.append(f"{column.name}: {cell.text or 'not stated here'}{unit}")
        parts += [cited_words(cited[one]) for one in cell.sources if one in cited]
        if cell.text and not cell.sources:
            parts.append("  It names no source of its own; see the entry.")
    return "\n\n".join(parts)


def cell_words(cell: Cell) -> str:
    return " ".join(filter(None, (cell.text or MISSING, marked(cell.mark))))


def _compared(one: Row, label: int) -> Table:
    unit = f" ({one.unit})" if one.unit else ""
    table = grid(label, *(0 for _ in one.cells))
    table.add_row(Text(tidy(f"{one.label}{unit}")), *(Text(tidy(cell_words(cell))) for cell in one.cells))
    return table
