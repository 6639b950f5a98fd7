"""One table for all lists in columns: widths from the widest cell, sorting by heading or key, a click picks.

Each cell starts where its heading starts, and a figure ends where its heading ends. Words are shortened where
there is no room for them; figures never are. Only lines in sight are made: Textual's own table measures and
renders each cell of each row by itself, which is felt at every letter that one types to find something.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from textwrap import wrap
from typing import ClassVar

from rich.cells import set_cell_size
from rich.console import Console
from rich.segment import Segment
from rich.style import Style
from rich.text import Text
from textual import events
from textual.binding import Binding, BindingType
from textual.geometry import Region, Size
from textual.message import Message
from textual.reactive import reactive
from textual.strip import Strip

from kb.tui.inside_textual import Barred
from kb.tui.text import tidy
from kb.tui.widgets.columns import GAP, Column, TableRow, heading, in_order, plain_of, shortened, widths

KEPT = 300
"""Lines that are kept as they were painted."""


class Table(Barred, can_focus=True, inherit_bindings=False):
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
    COMPONENT_CLASSES: ClassVar[set[str]] = {"table--head", "table--row", "table--none", "table--here"}
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "select_cursor", "Open"),
        Binding("up", "cursor_up", show=False),
        Binding("down", "cursor_down", show=False),
        Binding("pageup", "page(-1)", show=False),
        Binding("pagedown", "page(1)", show=False),
        Binding("home,ctrl+home", "end", show=False),
        Binding("end,ctrl+end", "end(True)", show=False),
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

    def __init__(
        self, columns: Sequence[Column], *, id: str | None = None, nothing: str = "", opens: bool = True
    ) -> None:
        super().__init__(id=id)
        self.opens = opens
        """Whether there is more to a row; where not, the foot shows no key for it."""
        self.of_columns = tuple(columns)
        self.of_rows: list[TableRow] = []
        self.nothing = nothing
        """What is said where there are no rows."""
        self.in_order: list[TableRow] = []
        """The rows as they stand."""
        self.order: tuple[str, bool] = ("", False)
        """The column that it is sorted by, "" for the order in which rows came; and whether from the end."""
        self.wide: dict[str, int] = {}
        self.cells: dict[str, int] = {}
        """Cells of each column that is shown, by its key; and the same with the blanks behind it."""
        self.short: dict[str, dict[str, str]] = {}
        """Words that have no room, by the key of their column and by the words: what stands there instead."""
        self._seen: set[str] = set()
        self._strips: dict[int, Strip] = {}
        """Lines as they are painted, from the headings down."""
        self._made = Lines(self)
        self._drawn_for = 0

    @property
    def row_count(self) -> int:
        return len(self.of_rows)

    @property
    def sorted_by(self) -> str:
        """The heading that rows are sorted by; empty where they stand as they came."""
        return next((one.heading for one in self.of_columns if one.key == self.order[0]), "")

    @property
    def key_here(self) -> str:
        """The key of the row under the cursor; empty where there is none."""
        return self.in_order[self.cursor_row].key if 0 <= self.cursor_row < self.row_count else ""

    @property
    def value_here(self) -> str:
        """The row under the cursor as one line, for copying."""
        cells = self.in_order[self.cursor_row].cells if self.key_here else ()
        return "  ".join(filter(None, (plain_of(cell) for cell in cells)))

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
        self.in_order = in_order(self.of_columns, self.of_rows, self.order)
        place = next((n for n, row in enumerate(self.in_order) if row.key == kept), 0)
        # Where the rows are others, another row is told even if it stands in the same place.
        self.set_reactive(Table.cursor_row, -1 if nowhere or not self.in_order else place)
        if self.cursor_row <= 0 and self.scroll_offset.y:
            self.scroll_to(y=0, animate=False)
        self._lay_out()
        self._into_sight()
        if self.key_here and self.key_here != before:
            self.post_message(self.RowHighlighted())

    def _lay_out(self) -> None:
        """Widths for the rows there are, and how far one can scroll."""
        if self._drawn_for != self.size.width:
            self._drawn_for = self.size.width
            self._made = Lines(self)
        # The last cell is the scrollbar's, shown or not: it may come only after the rows were measured.
        unseen = {one.key for one in self.of_columns if one.seldom} - self._seen
        self.wide = widths(self.of_columns, self.of_rows, max(20, self._drawn_for - 1), unseen)
        last = [*self.wide][-1:]
        self.cells = {key: cells + (0 if key in last else GAP) for key, cells in self.wide.items()}
        self.short = shortened(self.of_columns, self.of_rows, self.wide)
        self.virtual_size = Size(self.size.width, 1 + self.row_count * self.high)
        self._scroll_update(self.virtual_size)
        self._see()
        self._renew()

    def _see(self) -> None:
        """A column that has come in sight by its first word stays."""
        columns = enumerate(self.of_columns)
        if not (places := [(n, one.key) for n, one in columns if one.seldom and one.key not in self.wide]):
            return
        first = self.scroll_offset.y // self.high
        rows = self.in_order[first : first + max(1, self.size.height // self.high)]
        seen = {key for n, key in places if any(plain_of(row.cells[n]) for row in rows)}
        if seen - self._seen:
            self._seen |= seen
            self._lay_out()

    @property
    def high(self) -> int:
        """Lines of a row; in an app of its own, without gloves, one."""
        return int(getattr(self.app, "row_lines", 1))

    # -- drawing ----------------------------------------------------------------------------------

    def render_lines(self, crop: Region) -> list[Strip]:
        """Whole lines as they are kept; Textual puts each together anew at every paint."""
        if len(self._strips) != self.size.height:
            self._strips = dict(enumerate(self._made.in_sight()))
        if (edge := self.styles.gutter).height or edge.width != self.styles.padding.width:
            return super().render_lines(crop)
        found = [self._strips[y] for y in crop.line_range]
        if self._drawn_for != self.size.width:
            # The room is another already, and the lines are drawn for it in a moment.
            found = [one.adjust_cell_length(self.outer_size.width, self._made.look("row")) for one in found]
        found = [one.crop(*crop.column_span) for one in found]
        background = self.background_colors[1]
        for one in self.get_line_filters():
            found = [strip.apply_filter(one, background) for strip in found]
        return found

    def render_line(self, y: int) -> Strip:
        """A line without what pads it, for a table in a box."""
        left = self.styles.padding.left
        return self._strips[y].crop(left, left + self.size.width)

    def _renew(self) -> None:
        """Paint the lines that have changed, and only they."""
        before, self._strips = self._strips, dict(enumerate(self._made.in_sight()))
        others = [y for y, strip in self._strips.items() if before.get(y) != strip]
        # Lines below each other as one: each region is cut, moved and counted by itself.
        begun = [y for y in others if y - 1 not in others]
        ended = [y for y in others if y + 1 not in others]
        if others:
            width = self.size.width
            self.refresh(*(Region(0, y, width, end + 1 - y) for y, end in zip(begun, ended, strict=True)))

    def notify_style_update(self) -> None:
        """Other colours, or the focus came or went."""
        super().notify_style_update()
        self._strips.clear()
        self._made = Lines(self)

    @property
    def heads(self) -> Iterable[str]:
        """The headings, each over all the cells of its column."""
        return (
            heading(one, self.wide[one.key], self.order).ljust(self.cells[one.key]) for one in self._shown
        )

    @property
    def _shown(self) -> list[Column]:
        return [one for one in self.of_columns if one.key in self.wide]

    # -- moving -----------------------------------------------------------------------------------

    def validate_cursor_row(self, row: int) -> int:
        """Within the rows there are."""
        return max(0, min(row, self.row_count - 1)) if self.row_count else -1

    def watch_cursor_row(self, before: int, now: int) -> None:
        """The two rows are painted, and only they."""
        self._into_sight()
        self._renew()
        if now >= 0 and now != before:
            self.post_message(self.RowHighlighted())

    def _into_sight(self) -> None:
        if self.cursor_row < 0 or self.size.height < 2:
            return
        top, room = self.cursor_row * self.high, self.size.height - 1
        if top < self.scroll_offset.y:
            self.scroll_to(y=top, animate=False)
        elif top + self.high > self.scroll_offset.y + room:
            self.scroll_to(y=top + self.high - room, animate=False)

    def watch_scroll_y(self, old_value: float, new_value: float) -> None:
        """Other rows are in sight."""
        super().watch_scroll_y(old_value, new_value)
        self._strips.clear()
        self._see()

    def action_cursor_up(self) -> None:
        self.cursor_row -= 1

    def action_cursor_down(self) -> None:
        self.cursor_row += 1

    def action_page(self, step: int) -> None:
        self.cursor_row += step * max(1, (self.size.height - 1) // self.high)

    def action_end(self, last: bool = False) -> None:
        self.cursor_row = self.row_count - 1 if last else 0

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        return self.opens or action != "select_cursor"

    def action_select_cursor(self) -> None:
        if self.key_here:
            self.post_message(self.RowSelected())

    def on_resize(self) -> None:
        """Columns follow the width, and the row one stands on stays in sight."""
        if self.size.width != self._drawn_for:
            self._lay_out()
        self._into_sight()
        self._see()

    def on_click(self, event: events.Click) -> None:
        """One click selects a row, two open it; on a heading it sorts."""
        event.stop()
        if (offset := event.get_content_offset(self)) is None:
            return
        if offset.y == 0:
            left = 0
            for one in self._shown:
                left += self.cells[one.key]
                if offset.x < left:
                    self.sort_by(one.key)
                    return
            return
        row = (offset.y - 1 + self.scroll_offset.y) // self.high
        if row < self.row_count:
            self.cursor_row = row
            if event.chain > 1 and self.opens:
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
        # The row one stands on stays so; shown from there, the list would look as if it were not sorted.
        self.scroll_to(y=0, animate=False)
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


class Lines:
    """Lines as they are painted, between what pads them; what comes again is the same as it was.

    For each line Textual works out what a terminal gets for it, and remembers that with the line.
    """

    def __init__(self, table: Table) -> None:
        self._table = table
        self._known: dict[tuple[str, str], Strip] = {}
        """By look and words."""
        self._looks: dict[str, Style] = {}
        self._pads: tuple[Segment, Segment] | None = None

    def look(self, name: str) -> Style:
        """The style of headings, rows, the row one stands on, or what is said where there are none."""
        if name not in self._looks:
            self._looks[name] = self._table.get_component_rich_style(f"table--{name}")
        return self._looks[name]

    def in_sight(self) -> Iterable[Strip]:
        """Headings, and rows or what is said where there are none."""
        table, (width, height) = self._table, self._table.size
        if not height:
            return
        yield self.plain("head", "".join(table.heads))
        if not table.in_order:
            said = wrap(tidy(table.nothing), max(10, width))
            for y in range(height - 1):
                yield self.plain("none", "".join(said[y : y + 1]))
            return
        top, high = table.scroll_offset.y, table.high
        for y in range(top, top + height - 1):
            at, part = divmod(y, high)
            if at >= table.row_count or part:
                yield self.plain("row", "")
            else:
                yield self.row(table.in_order[at], "here" if at == table.cursor_row else "row")

    def row(self, row: TableRow, look: str) -> Strip:
        """A row under its headings."""
        found, plain, style = list[Segment](), "", self.look(look)
        for one, cell in zip(self._table.of_columns, row.cells, strict=True):
            if (width := self._table.wide.get(one.key)) is None:
                continue
            cells = self._table.cells[one.key]
            if isinstance(cell, Text):
                found.append(Segment(plain, style))
                # On the row one stands on the colours of the cursor alone can be read.
                here = look == "here"
                parts = _parts(cell, width if one.figure else 0, cells, self._table.app.console)
                found += Segment.apply_style(parts, None if here else style, style if here else None)
                plain = ""
                continue
            words = plain_of(cell)
            words = words.rjust(width) if one.figure else self._table.short.get(one.key, {}).get(words, words)
            # One piece for all cells of one look: each piece is coloured, cut and written by itself.
            plain += words.ljust(cells)[:cells] if words.isascii() else set_cell_size(words, cells)
        return self.framed([*found, Segment(plain, style)], look) if found else self.plain(look, plain)

    def plain(self, look: str, words: str) -> Strip:
        """A line of one look; words that have no room are cut off."""
        if (line := self._known.get((look, words))) is None:
            if len(self._known) > KEPT:
                self._known.clear()
            line = self._known[look, words] = self.framed([Segment(words, self.look(look))], look)
        return line

    def framed(self, parts: list[Segment], look: str) -> Strip:
        """A line of these parts."""
        table, room, whole = self._table, self._table.size.width, self._table.outer_size.width
        if self._pads is None:
            left, inner = table.styles.padding.left, Style(bgcolor=table.background_colors[1].rich_color)
            self._pads = Segment(" " * left, inner), Segment(" " * (whole - room - left), inner)
        before, after = self._pads
        cells = sum(part.cell_length for part in parts)
        if cells < room:
            parts = [*parts, Segment(" " * (room - cells), self.look(look))]
        elif cells > room:
            parts = Segment.adjust_line_length(parts, room)
        return Strip([one for one in (before, *parts, after) if one.text], whole)


def _parts(cell: Text, width: int, cells: int, console: Console) -> Iterable[Segment]:
    """A cell in colours of its own, over all its cells; a figure ends where its ``width`` ends."""
    made = cell.copy()
    made.no_wrap, made.end = True, ""
    made.pad_left(max(0, width - made.cell_len))
    made.truncate(cells, pad=True)
    return made.render(console)
