"""All that reaches into parts of Textual which it does not promise to keep; KNOWN is the version it is for.

A test holds the installed version against it; with another one, read this file and screen_help.py first.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator

    from textual.app import App
    from textual.screen import Screen

KNOWN = "8.2"


def screens_at(app: App[Any], mode: str) -> tuple[Screen[Any], ...]:
    """The screens of a mode, the one on top last; none if it was not opened yet."""
    return tuple(app._screen_stacks.get(mode, ()))


def desktop_notice(app: App[Any], words: str) -> None:
    """Ask the terminal for a notice of the desktop (OSC 9); one that does not know the code shows nothing.

    The words have to be tidy: nothing in them may end the code.
    """
    if app._driver is not None:
        app._driver.write(f"\x1b]9;{words}\x07")


def every_screen(app: App[Any]) -> Iterator[Screen[Any]]:
    """The screens of all modes."""
    return (screen for mode in list(app._screen_stacks) for screen in screens_at(app, mode))


def bind(screen: Screen[Any], key: str, action: str, words: str = "") -> None:
    """One key more on this screen alone; without words it stands in no list of keys."""
    screen._bindings.bind(key, action, words, show=bool(words))


def forget_painted() -> None:
    """Let go of what closed screens looked like.

    A cache of colours counts the painter of each widget among its arguments and so keeps up to 1,024 of them,
    each with its painted lines: 14 MB of 40 that four thousand random keys took.
    """
    from textual._styles_cache import StylesCache

    StylesCache.get_inner_outer.cache_clear()
