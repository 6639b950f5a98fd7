"""One table for all lists in columns: widths from the widest cell, sorting by heading or key, a click picks.

Each cell starts where its heading starts, and a figure ends where its heading ends. Words are shortened where
there is no room for them; figures never are. Only lines in sight are made: Textual's own table measures and
renders each cell of each row by itself, which is felt at every letter that one types to find something.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import ClassVar, NamedTuple

from rich.cells import cell_len, set_cell_size
from rich.segment import Segment
from rich.style import Style
from rich.text import Text
from textual import events
from textual.binding import Binding, BindingType
from textual.geometry import Region, Size
from textual.message import Message
from textual.reactive import reactive
from textual.scroll_view import ScrollView
from textual.strip import Strip

from kb.tui.text import cut, tidy

GAP = 2
"""Cells between two columns."""
LEAST = 8
"""Cells to which words are shortened at most, unless their heading is longer."""
Cell = str | Text
Sort = float | str


class Column(NamedTuple):
    """A column. ``figure``: right-aligned and never shortened; ``spare``: left out where there is no room.

    ``whole``: words that are never shortened, a date or a grade. Where no row has a word, there is no column.
    """

    key: str
    heading: str
    figure: bool = False
    spare: bool = False
    most: int = 0
    """Cells that it never goes beyond, where what stands beside it tells more; 0: as wide as its widest."""
    shorten: Callable[[str, int], str] = cut
    whole: bool = False
    seldom: bool = False
    """Most rows have nothing here: it has no room before a row with it is in sight, unless all fits."""

    @property
    def fixed(self) -> bool:
        """Whether it takes its widest cell, come what may."""
        return self.figure or self.whole


class TableRow(NamedTuple):
    """A row: what tells it apart, its cells in the order of the columns, and by what it is sorted."""

    key: str
    cells: Sequence[Cell]
    sort: Sequence[Sort] = ()


def widths(
    columns: Sequence[Column], rows: Sequence[TableRow], total: int, unseen: Iterable[str] = ()
) -> dict[str, int]:
    """The width of each column that is shown in ``total`` cells, by its key.

    What fits is shown whole. Else those in ``unseen`` go, then spare ones, the last one first, and then the
    longest words are shortened, all to the same width.
    """
    natural = {one.key: _widest(one, place, rows) for place, one in enumerate(columns)}
    shown = [one for one in columns if not rows or natural[one.key]]
    natural = {one.key: max(natural[one.key], cell_len(one.heading)) for one in shown}
    gone = [one for one in shown if one.spare] + [one for one in shown if one.key in unseen]
    while sum(natural[one.key] + GAP for one in shown) - GAP > total and gone:
        shown.remove(gone.pop())
    room = total - GAP * (len(shown) - 1) - sum(natural[one.key] for one in shown if one.fixed)
    words = [one for one in shown if not one.fixed]
    least = {one.key: min(natural[one.key], max(LEAST, cell_len(one.heading))) for one in words}
    shared = _shared({one.key: natural[one.key] for one in words}, least, room)
    return {one.key: shared.get(one.key, natural[one.key]) for one in shown}


def _widest(one: Column, place: int, rows: Sequence[TableRow]) -> int:
    widest = max((cell_len(_plain(row.cells[place])) for row in rows), default=0)
    return min(widest, one.most) if one.most else widest


def _shared(natural: dict[str, int], least: dict[str, int], room: int) -> dict[str, int]:
    """Short words whole; the longer ones share what is left, none with less than its least."""
    found: dict[str, int] = {}
    for left, key in enumerate(sorted(natural, key=lambda one: natural[one])):
        share = (room - sum(found.values())) // (len(natural) - left)
        found[key] = min(natural[key], max(share, least[key]))
    return found


def _plain(cell: Cell) -> str:
    return cell.plain if isinstance(cell, Text) else tidy(cell, multiline=False)


class Table(ScrollView, can_focus=True, inherit_bindings=False):
    """Rows of text under headings. The row one stands on is kept when the order or the width changes."""

    DEFAULT_CSS = """
    Table { overflow-x: hidden; height: 1fr; scrollbar-size-vertical: 1; }
    Table > .table--head { text-style: bold; background: $panel; color: $foreground; }
    Table > .table--none { color: $secondary; }
    Table > .table--here { background: $block-cursor-blurred-background; }
    Table > .table--here { color: $block-cursor-blurred-foreground; }
    Table:focus > .table--here { background: $block-cursor-background; color: $block-cursor-foreground; }
    Table:focus > .table--here { text-style: bold; }
    """
    COMPONENT_CLASSES: ClassVar[set[str]] = {"table--head", "table--none", "table--here"}
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "select_cursor", "Open"),
        Binding("up", "cursor_up", show=False),
        Binding("down", "cursor_down", show=False),
        Binding("pageup", "page(-1)", show=False),
        Binding("pagedown", "page(1)", show=False),
        Binding("home,ctrl+home", "first", show=False),
        Binding("end,ctrl+end", "last", show=False),
        Binding(
            "full_stop", "sort_next", "Sort", show=False, tooltip="Sort by the next column, up then down"
        ),
    ]
    cursor_row: reactive[int] = reactive(-1, repaint=False)
    """The row one stands on, from 0; -1 where one stands on none."""

    class RowHighlighted(Message):
        """One stands on another row."""

    class RowSelected(Message):
        """Enter, or a second click, on a row."""

    class Sorted(Message):
        """The rows stand in another order."""

    def __init__(self, columns: Sequence[Column], *, id: str | None = None, nothing: str = "") -> None:
        super().__init__(id=id)
        self.of_columns = tuple(columns)
        self.of_rows: list[TableRow] = []
        self.nothing = nothing
        """What is said where there are no rows."""
        self.in_order: list[TableRow] = []
        """The rows as they stand."""
        self.order: tuple[str, bool] = ("", False)
        """The column that it is sorted by, "" for the order in which rows came; and whether from the end."""
        self.wide: dict[str, int] = {}
        """Cells of each column that is shown, by its key."""
        self._seen: set[str] = set()
        self._lines: dict[tuple[int, Style], list[Segment]] = {}
        self._drawn_for = 0

    @property
    def row_count(self) -> int:
        """How many rows there are."""
        return len(self.of_rows)

    @property
    def sorted_by(self) -> str:
        """The heading of the column that rows are sorted by; empty where they stand as they came."""
        return next((one.heading for one in self.of_columns if one.key == self.order[0]), "")

    @property
    def key_here(self) -> str:
        """The key of the row under the cursor; empty where there is none."""
        return self.in_order[self.cursor_row].key if 0 <= self.cursor_row < self.row_count else ""

    @property
    def value_here(self) -> str:
        """The row under the cursor as one line, for copying."""
        cells = self.in_order[self.cursor_row].cells if self.key_here else ()
        return "  ".join(filter(None, (_plain(cell) for cell in cells)))

    # -- rows -------------------------------------------------------------------------------------

    def show(self, rows: Sequence[TableRow], at: str = "", *, nowhere: bool = False) -> None:
        """Put rows here; the cursor goes to the row ``at``, else stays on the row it is on, else the first.

        ``nowhere``: on none of them, until one goes down.
        """
        kept = at or self.key_here
        self.of_rows = list(rows)
        self._seen.clear()
        self._draw(kept, nowhere=nowhere)

    def _draw(self, kept: str, *, nowhere: bool = False) -> None:
        before = self.key_here
        self._put_in_order()
        place = next((n for n, row in enumerate(self.in_order) if row.key == kept), 0)
        # Where the rows are others, another row is told even if it stands in the same place.
        self.set_reactive(Table.cursor_row, -1 if nowhere or not self.in_order else place)
        if self.cursor_row <= 0:
            self.scroll_to(y=0, animate=False)
        self._lay_out()
        self._into_sight()
        if self.key_here and self.key_here != before:
            self.post_message(self.RowHighlighted())

    def _put_in_order(self) -> None:
        key, backward = self.order
        place = next((n for n, one in enumerate(self.of_columns) if one.key == key), None)
        self.in_order = self.of_rows
        if place is not None:
            self.in_order = sorted(self.of_rows, key=lambda row: _sort_key(row, place), reverse=backward)

    def _lay_out(self) -> None:
        """Widths for the rows there are, and how far one can scroll."""
        self._drawn_for = self.size.width
        total = max(20, (self.scrollable_content_region.width or self.size.width) - 1)
        unseen = {one.key for one in self.of_columns if one.seldom} - self._seen
        self.wide = widths(self.of_columns, self.of_rows, total, unseen)
        self._lines.clear()
        self.virtual_size = Size(self.size.width, 1 + self.row_count * self._high)
        self._see()
        self.refresh()

    def _see(self) -> None:
        """A column that has come in sight by its first word stays."""
        places = [
            (n, one.key) for n, one in enumerate(self.of_columns) if one.seldom and one.key not in self.wide
        ]
        if not places:
            return
        first = self.scroll_offset.y // self._high
        rows = self.in_order[first : first + max(1, self.size.height // self._high)]
        seen = {key for n, key in places if any(_plain(row.cells[n]) for row in rows)}
        if seen - self._seen:
            self._seen |= seen
            self._lay_out()

    @property
    def _high(self) -> int:
        """Lines of a row: fingers in gloves want a larger aim."""
        return 2 if getattr(self.app, "gloves", False) else 1

    # -- drawing ----------------------------------------------------------------------------------

    def render_line(self, y: int) -> Strip:
        """One line in sight: headings, or a row."""
        width, style = self.size.width, self.rich_style
        if y == 0:
            style = self.get_component_rich_style("table--head")
            line = [Segment(self._heading(one).ljust(self._cells(one)), style) for one in self._shown]
            return Strip(line).adjust_cell_length(width, style)
        if not self.in_order:
            said = cut(self.nothing, width) if y == 1 else ""
            return Strip([Segment(said, self.get_component_rich_style("table--none"))]).adjust_cell_length(
                width, style
            )
        at, part = divmod(y - 1 + self.scroll_offset.y, self._high)
        if at >= self.row_count or part:
            return Strip.blank(width, style)
        if at == self.cursor_row:
            style = self.get_component_rich_style("table--here")
        if (at, style) not in self._lines:
            self._lines[at, style] = self._line(self.in_order[at], style, here=at == self.cursor_row)
        return Strip(self._lines[at, style]).adjust_cell_length(width, style)

    def _line(self, row: TableRow, style: Style, *, here: bool) -> list[Segment]:
        found: list[Segment] = []
        for one, cell in zip(self.of_columns, row.cells, strict=True):
            if (width := self.wide.get(one.key)) is None:
                continue
            if isinstance(cell, Text):
                made = cell.copy()
                made.no_wrap, made.end = True, ""
                made.pad_left(max(0, width - made.cell_len) if one.figure else 0)
                made.truncate(self._cells(one), pad=True)
                parts = made.render(self.app.console)
                # On the row one stands on the colours of the cursor alone can be read.
                found += Segment.apply_style(parts, None if here else style, style if here else None)
                continue
            words = _plain(cell)
            words = words.rjust(width) if one.figure else cut(one.shorten(words, width), width)
            found.append(Segment(set_cell_size(words, self._cells(one)), style))
        return found

    @property
    def _shown(self) -> list[Column]:
        return [one for one in self.of_columns if one.key in self.wide]

    def _cells(self, one: Column) -> int:
        """Its width, with the blanks behind it."""
        return self.wide[one.key] + (0 if one.key == [*self.wide][-1] else GAP)

    def _heading(self, one: Column) -> str:
        (key, backward), width = self.order, self.wide[one.key]
        words = one.heading
        if one.key == key:
            # The arrow takes the place of a letter rather than that of the column beside.
            words = f"{cut(words, max(1, width - 1))}{'↓' if backward else '↑'}"
        return words.rjust(width) if one.figure else words

    # -- moving -----------------------------------------------------------------------------------

    def validate_cursor_row(self, row: int) -> int:
        """Within the rows there are."""
        return max(0, min(row, self.row_count - 1)) if self.row_count else -1

    def watch_cursor_row(self, before: int, now: int) -> None:
        """The two rows are painted, and only they."""
        for row in (before, now):
            y = 1 + row * self._high - self.scroll_offset.y
            self.refresh(Region(0, y, self.size.width, 1))
        self._into_sight()
        if now >= 0 and now != before:
            self.post_message(self.RowHighlighted())

    def _into_sight(self) -> None:
        if self.cursor_row < 0 or self.size.height < 2:
            return
        top, room = self.cursor_row * self._high, self.size.height - 1
        if top < self.scroll_offset.y:
            self.scroll_to(y=top, animate=False)
        elif top + self._high > self.scroll_offset.y + room:
            self.scroll_to(y=top + self._high - room, animate=False)

    def watch_scroll_y(self, old_value: float, new_value: float) -> None:
        """Other rows are in sight."""
        super().watch_scroll_y(old_value, new_value)
        self._see()

    def move_cursor(self, *, row: int) -> None:
        """Go to a row."""
        self.cursor_row = row

    def action_cursor_up(self) -> None:
        """The row above."""
        self.cursor_row -= 1

    def action_cursor_down(self) -> None:
        """The row below."""
        self.cursor_row += 1

    def action_page(self, step: int) -> None:
        """As many rows as are in sight."""
        self.cursor_row += step * max(1, (self.size.height - 1) // self._high)

    def action_first(self) -> None:
        """The first row."""
        self.cursor_row = 0

    def action_last(self) -> None:
        """The last row."""
        self.cursor_row = self.row_count - 1

    def action_select_cursor(self) -> None:
        """Enter."""
        if self.key_here:
            self.post_message(self.RowSelected())

    def on_resize(self, event: events.Resize) -> None:
        """Columns follow the width, and the row one stands on stays in sight."""
        if event.size.width != self._drawn_for:
            self._lay_out()
        self._into_sight()
        self._see()

    def on_click(self, event: events.Click) -> None:
        """One click selects a row, two open it; on a heading it sorts."""
        event.stop()
        offset = event.get_content_offset(self)
        if offset is None:
            return
        if offset.y == 0:
            left = 0
            for one in self._shown:
                left += self._cells(one)
                if offset.x < left:
                    self.sort_by(one.key)
                    return
            return
        row = (offset.y - 1 + self.scroll_offset.y) // self._high
        if row < self.row_count:
            self.cursor_row = row
            if event.chain > 1:
                self.action_select_cursor()

    # -- sorting ----------------------------------------------------------------------------------

    def sort_by(self, key: str) -> None:
        """By a column; once more from the other end, and once more as the rows came."""
        now, backward = self.order
        if now != key:
            self._sort(key)
        else:
            self._sort("" if backward else key, backward=not backward)

    def _sort(self, key: str, *, backward: bool = False) -> None:
        kept = self.key_here
        self.order = key, backward and bool(key)
        self._draw(kept, nowhere=not kept)
        self.post_message(self.Sorted())

    def action_sort_next(self) -> None:
        """The keyboard's way through all orders."""
        now, backward = self.order
        keys = ["", *(one.key for one in self._shown if one.heading)]
        if now and not backward:
            self._sort(now, backward=True)
        else:
            at = keys.index(now) if now in keys else 0
            self._sort(keys[(at + 1) % len(keys)])


def _sort_key(row: TableRow, place: int) -> tuple[int, float, str]:
    """Numbers before words, and words without regard to case; nothing comes last."""
    value: Sort = row.sort[place] if row.sort else _plain(row.cells[place])
    if isinstance(value, str):
        return (1 if value.strip() else 2), 0.0, value.casefold()
    return 0, value, ""
