"""What the command palette lists: every action of the screen, of the app, and the looks."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import partial
from typing import Any

from textual.app import App, SystemCommand
from textual.binding import Binding
from textual.command import CommandPalette
from textual.css.query import NoMatches
from textual.screen import Screen

from kb.tui.actions import key_name
from kb.tui.themes import THEMES
from kb.tui.widgets.table import Table


class Palette(CommandPalette):
    """The palette, for fingers that are faster than the first layout of its list."""

    def _action_command_list(self, action: str) -> None:
        """Pass on a key to the list; before it is laid out there is no page to turn."""
        try:
            super()._action_command_list(action)
        except (KeyError, IndexError, NoMatches):
            return


def commands(app: App[Any], screen: Screen[Any]) -> Iterator[SystemCommand]:
    """Actions by name, each with its key; those of the screen come first."""
    for node in (screen, app):
        for binding in _own(type(node).BINDINGS):
            if binding.action in {"command_palette", "help_quit"} or not binding.description:
                continue
            says = f"{binding.tooltip or binding.description} (key: {key_name(binding.key)})"
            call = partial(node.run_action, binding.action)
            yield SystemCommand(binding.description, says, call)
    for table in list(screen.query(Table))[:1]:
        says = "Sort the list by the next column, up then down (key: .)"
        yield SystemCommand("Sort", says, table.action_sort_next)
    for theme in (one.name for one in THEMES):
        call_theme = partial(setattr, app, "theme", theme)
        yield SystemCommand(f"Look: {theme}", "Change the colours of the screen", call_theme)


def _own(found: Iterable[Any]) -> Iterator[Binding]:
    """Bindings as objects; short forms without a description are left out."""
    for one in found:
        if isinstance(one, Binding):
            yield one
        elif isinstance(one, tuple) and len(one) >= 3:
            yield Binding(one[0], one[1], one[2])
