"""Textual's own search for what handles a message, with a memory: a class has the same handlers each time.

Some three thousand messages a test go through all classes of a widget. Kept for one test alone, since a test
may put a handler of its own into a class. ``test_styles.py`` holds it against Textual's own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Any

from textual.message import Message
from textual.message_pump import MessagePump

OWN: Callable[[Any, str, Message], Iterable[tuple[type, Any]]] = MessagePump._get_dispatch_methods
PLAIN: dict[tuple[type, str, type[Message]], list[tuple[type, Any]] | None] = {}
"""By class of the widget, name and class of the message; None where a decorator asks for more."""


def handlers(pump: MessagePump, name: str, message: Message) -> Iterator[tuple[type, Any]]:
    """As ``MessagePump._get_dispatch_methods``."""
    key = type(pump), name, type(message)
    if key not in PLAIN:
        PLAIN[key] = _plain(*key)
    plain = PLAIN[key]
    if plain is None:
        yield from OWN(pump, name, message)
        return
    for cls, method in plain:
        # One handler may tell the next ones to stay away.
        if message._no_default_action:
            return
        yield cls, method.__get__(pump, cls)


def _plain(kind: type, name: str, message: type[Message]) -> list[tuple[type, Any]] | None:
    found = []
    for cls in kind.__mro__:
        if _decorated(cls, message):
            return None
        method = cls.__dict__.get(f"_{name}") or cls.__dict__.get(name)
        if method is not None and not getattr(method, "_textual_on", None):
            found.append((cls, method))
    return found


def _decorated(cls: type, message: type[Message]) -> bool:
    return any(one in cls.__dict__.get("_decorated_handlers", ()) for one in message.__mro__)
