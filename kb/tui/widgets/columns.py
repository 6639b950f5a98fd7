"""Columns of a table: how wide each is in the room there is, and words shortened so that rows differ."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

from rich.cells import cell_len, set_cell_size
from rich.text import Text

from kb.tui.text import LONGEST, cut, tidy

GAP = 2
"""Cells between two columns."""
LEAST = 8
"""Cells to which words are shortened at most, unless their heading is longer."""
HEAD = 3
"""Cells that are left of the beginning, at least, where the middle of words is left out."""
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
    widest = max(_measured(place, rows)[1], default=0)
    return min(widest, one.most) if one.most else widest


def _measured(place: int, rows: Sequence[TableRow]) -> tuple[list[str], list[int]]:
    """What stands in a column, and how many cells each takes."""
    words = [cell if isinstance(cell, str) else cell.plain for cell in (row.cells[place] for row in rows)]
    # Nearly always plain letters, which is told of all at once: this is done at every letter that one types.
    joined = "".join(words)
    if joined.isascii() and joined.isprintable() and len(joined) <= LONGEST:
        return words, list(map(len, words))
    words = [plain_of(row.cells[place]) for row in rows]
    return words, list(map(cell_len, words))


def _shared(natural: dict[str, int], least: dict[str, int], room: int) -> dict[str, int]:
    """Short words whole; the longer ones share what is left, none with less than its least."""
    found: dict[str, int] = {}
    for left, key in enumerate(sorted(natural, key=lambda one: natural[one])):
        share = (room - sum(found.values())) // (len(natural) - left)
        found[key] = min(natural[key], max(share, least[key]))
    return found


def plain_of(cell: Cell) -> str:
    return cell.plain if isinstance(cell, Text) else tidy(cell, multiline=False)


def in_order(columns: Sequence[Column], rows: list[TableRow], order: tuple[str, bool]) -> list[TableRow]:
    """The rows by the column of that key, or as they are; ``order`` also says whether from the end."""
    key, backward = order
    place = next((n for n, one in enumerate(columns) if one.key == key), None)
    if place is None:
        return rows
    return sorted(rows, key=lambda row: _sort_key(row, place), reverse=backward)


def heading(one: Column, width: int, order: tuple[str, bool]) -> str:
    """Its words, with an arrow where the rows stand in its order."""
    key, backward = order
    words = one.heading
    if one.key == key:
        # The arrow takes the place of a letter rather than that of the column beside.
        words = f"{cut(words, max(1, width - 1))}{'↓' if backward else '↑'}"
    return words.rjust(width) if one.figure else words


def _sort_key(row: TableRow, place: int) -> tuple[int, float, str]:
    """Numbers before words, and words without regard to case; nothing comes last."""
    value: Sort = row.sort[place] if row.sort else plain_of(row.cells[place])
    if isinstance(value, str):
        return (1 if value.strip() else 2), 0.0, value.casefold()
    return 0, value, ""


def shortened(
    columns: Sequence[Column], rows: Sequence[TableRow], wide: dict[str, int]
) -> dict[str, dict[str, str]]:
    """By the key of each column, its words that have no room: what stands there instead."""
    found: dict[str, dict[str, str]] = {}
    for place, one in enumerate(columns):
        if one.fixed or one.key not in wide:
            continue
        width = wide[one.key]
        each = zip(rows, *_measured(place, rows), strict=True)
        long = [text for row, text, cells in each if cells > width and isinstance(row.cells[place], str)]
        found[one.key] = apart({text: cut(one.shorten(text, width), width) for text in long}, width)
    return found


def apart(short: dict[str, str], width: int) -> dict[str, str]:
    """Shortened words by the whole ones, in ``width`` cells.

    Where two would look alike, what is alike in them gives way: ``Wheat st…thick`` and ``Wheat st…thin``.
    """
    groups: dict[str, list[str]] = {}
    for word, said in short.items():
        groups.setdefault(said, []).append(word)
    for alike in groups.values():
        if len(alike) > 1:
            signs = enumerate(zip(*alike, strict=False))
            at = next((n for n, each in signs if len({*each}) > 1), min(map(len, alike)))
            # From the beginning of the word in which they differ, if that word has room.
            begun = at - len(alike[0][:at].rpartition(" ")[2])
            for start in (begun, at):
                told = {word: _without_middle(word, start, width) for word in alike}
                if len(set(told.values())) > 1:
                    short |= apart(told, width)
                    break
    return short


def _without_middle(word: str, start: int, width: int) -> str:
    """Its first letters, three dots, and it again from ``start`` on."""
    tail = cut(word[start:], max(1, width - 1 - HEAD))
    return f"{set_cell_size(word, width - 1 - cell_len(tail)).rstrip()}…{tail}"
