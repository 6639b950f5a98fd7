"""A page of headings and lines: the first lines are open, the rest is folded under number keys."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from textwrap import wrap
from typing import ClassVar, TypeVar

from textual import events, getters
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.style import Style
from textual.widgets import Static

from kb.desk.signs import Signs
from kb.science.numbers import counted
from kb.tui.screens.at_desk import DeskScreen
from kb.tui.text import cut, tidy

T = TypeVar("T")
Section = tuple[str, list[str]]
MOST = 12
"""Lines that are open without being asked for; on a tall screen more, by SHARE."""
SHARE = 0.4
WIDEST = 84
"""Cells of a line of prose at most: a longer one loses the eye on its way back."""
HEAD = 4
"""Cells before a heading and its lines: a mark and the key that opens."""
LEAST = 20
"""Cells from which the beginning of a line tells something of what is folded."""
KEYS = 9
WARNS = {
    "STOP": "bold $error",
    "NO.": "bold $error",
    "TOO": "bold $error",
    "WARN": "$warning",
    "!": "$warning",
}
"""How lines look that begin so. The word itself says it where there is no colour."""
OPENS = "1-9, 0   Open or fold the part of that number; 0 opens or folds all"


class Page(VerticalScroll):
    """Text only: nothing stored acts as markup. What one opened or folded stays so while figures change."""

    DEFAULT_CSS = """
    Page { padding: 0 0 0 1; }
    Page > Static { height: auto; width: 100%; padding: 0 1 0 0; }
    Page > Static { link-style: none; link-color: $foreground; link-background: transparent; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        *(Binding(str(key), f"fold({key})", show=False) for key in range(KEYS + 1))
    ]

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.parts: list[Section] = []
        self._first: list[Content] = []
        self._signs = Signs()
        self._turned: dict[str, bool] = {}
        """By heading: whether the reader opened a part, or folded it."""

    @property
    def text(self) -> str:
        """What is open, folded and said first, as it is drawn."""
        return str(self.query_one(Static).content)

    def compose(self) -> ComposeResult:
        yield Static("", markup=False)

    def show(
        self,
        sections: Iterable[Section],
        *,
        top: bool = False,
        first: Iterable[Content] = (),
        signs: Signs | None = None,
    ) -> None:
        """Put sections here, below what is seen first; empty ones are left out.

        ``signs`` are those that the first lines use already.
        """
        self._signs = signs or Signs()
        self.parts = [
            (tidy(heading), [self._signs.short(tidy(one)) for one in lines])
            for heading, lines in sections
            if lines
        ]
        self._first = list(first)
        self._draw()
        if top:
            self.scroll_home(animate=False)

    def say(self, words: str) -> None:
        self.parts, self._first = [], []
        self.query_one(Static).update(Content(tidy(words)))

    def on_resize(self, event: events.Resize) -> None:
        if self.parts:
            self._draw()

    def action_fold(self, number: int) -> None:
        """Open or fold one part; 0 opens all, or folds all if all are open."""
        if not number:
            opens = not all(self._turned.get(heading) for heading, _ in self.parts)
            self._turned = {heading: opens for heading, _ in self.parts}
        elif number <= len(self.parts):
            heading = self.parts[number - 1][0]
            shown = self._shown()[number - 1]
            self._turned[heading] = shown < len(self._broken(self.parts[number - 1][1]))
        self._draw()

    def to_parts(self) -> None:
        """Move to the first heading, below what is seen first."""
        lines = sum(len(one.plain.split("\n")) for one in self._first)
        self.scroll_to(y=lines, animate=False)

    @property
    def _room(self) -> int:
        return max(20, min(WIDEST, (self.size.width or WIDEST) - 2) - HEAD)

    def _broken(self, lines: Sequence[str]) -> list[Content]:
        """Lines in the width there is; what goes on stands under itself."""
        found: list[Content] = []
        for one in lines:
            found += [_piece(f"{'':<{HEAD}}{piece}", _warns(one)) for piece in _in_width(one, self._room)]
        return found

    def _shown(self) -> list[int]:
        """How many lines of each part are open: in their order while there is room, then none."""
        left = max(MOST, int(self.size.height * SHARE))
        found: list[int] = []
        for heading, lines in self.parts:
            count = len(self._broken(lines))
            turned = self._turned.get(heading)
            if turned is None:
                # A part is open whole or folded, except the first, which is the answer.
                fits = count <= left or not found
                open_now = min(count, left) if fits else 0
                left = max(0, left - open_now) if fits else 0
                found.append(open_now)
            else:
                found.append(count if turned else 0)
        return found

    def _draw(self) -> None:
        label = min(28, max((len(heading) for heading, _ in self.parts), default=0))
        drawn = list(self._first)
        for number, ((heading, lines), shown) in enumerate(zip(self.parts, self._shown(), strict=True), 1):
            broken = self._broken(lines)
            drawn.append(self._heading(number, heading, lines, len(broken), shown, label))
            drawn += broken[:shown]
            if 0 < shown < len(broken):
                drawn.append(self._rest(number, lines, broken[shown:]))
        if self._signs.used:
            drawn += [Content(""), Content.styled(self._signs.key, "$secondary")]
        self.query_one(Static).update(Content("\n").join(drawn))

    def _rest(self, number: int, lines: Sequence[str], hidden: Sequence[Content]) -> Content:
        """How much of a part is not open, which key opens it, and how many of it warn."""
        behind = "\n".join(one.plain for one in hidden)
        warns = sum(bool(_warns(one)) and one.strip(" -")[:12] in behind for one in lines)
        key = f"   {number} opens them" if number <= KEYS else ""
        said = f"{'':<{HEAD}}… {counted(len(hidden), 'more line')}{key}"
        return Content.assemble((said, "$secondary"), (f"   {warns} to mind" if warns else "", "$warning"))

    def _heading(
        self, number: int, heading: str, lines: Sequence[str], count: int, shown: int, label: int
    ) -> Content:
        """A heading of what is open; of what is folded, with its gist beside it."""
        key = str(number) if number <= KEYS else " "
        mark = f"{'▾' if shown else '▸'} {key} "
        press = Style.from_meta({"@click": f"fold({number})"})
        said = Content.assemble((mark, "$secondary"), (heading, "bold"))
        if not shown:
            # What warns is not folded away: it is the gist of its part.
            gist = next((one for one in lines if _warns(one)), lines[0]).strip(" -")
            more = f"  +{count - 1}" if count > 1 else ""
            room = max(0, self.size.width - 2 - HEAD - label - 2 - len(more))
            if room < LEAST and not _warns(gist):
                gist = ""
            said = Content.assemble(
                (mark, "$secondary"),
                (cut(heading, label).ljust(label), "bold"),
                ("  ", ""),
                _piece(cut(gist, room).ljust(room), _warns(gist)),
                (more, "$secondary"),
            )
        return said.stylize(press)


class PageScreen(DeskScreen[T]):
    """A screen whose answer is one page."""

    page = getters.query_one(Page)


def _warns(words: str) -> str:
    return next((style for start, style in WARNS.items() if words.lstrip(" -").startswith(start)), "")


def _piece(words: str, style: str) -> Content:
    return Content.styled(words, style) if style else Content(words)


@lru_cache(maxsize=1_000)
def _in_width(text: str, room: int) -> list[str]:
    """One line as it is broken; kept, for a page is measured several times before it is painted."""
    # Columns within a line are kept; a dash or a mark hangs.
    indent = " " * (len(text) - len(text.lstrip(" -!")))
    return wrap(text, room, subsequent_indent=indent, break_on_hyphens=False) or [""]
