"""A page of headings and lines to read; the arrow keys move it."""

from __future__ import annotations

from collections.abc import Iterable

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widgets import Static

from kb.tui.text import tidy


class Page(VerticalScroll):
    """Text only: nothing stored can act as markup."""

    DEFAULT_CSS = """
    Page { padding: 0 1; }
    Page > Static { height: auto; width: 100%; }
    """

    def compose(self) -> ComposeResult:
        """One text."""
        yield Static("", markup=False)

    def show(
        self,
        sections: Iterable[tuple[str, list[str]]],
        *,
        top: bool = False,
        first: Iterable[Content] = (),
    ) -> None:
        """Put sections here, below what is seen first; empty ones are left out."""
        parts = list(first)
        for heading, lines in sections:
            if lines:
                parts.append(Content.styled(tidy(heading), "bold"))
                parts.extend(Content(tidy(one)) for one in lines)
        self.query_one(Static).update(Content("\n").join(parts))
        if top:
            self.scroll_home(animate=False)

    def say(self, words: str) -> None:
        """Put a sentence here instead."""
        self.query_one(Static).update(Content(tidy(words)))
