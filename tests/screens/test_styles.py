"""What the screen tests put in the place of Textual is held against it: styles, handlers, and the cursor."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from textual.css.stylesheet import Stylesheet
from textual.dom import DOMNode
from textual.message import Message
from textual.message_pump import MessagePump
from textual.widgets import Input

from kb.tui.app import BenchleafApp
from tests.screens import handlers, styles
from tests.screens.screen_help import keys, settle, write


async def test_what_is_remembered_is_what_textual_works_out(
    new_app: Callable[[], BenchleafApp], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two apps after each other, from screen to screen, with focus, classes, colours and size changed."""
    taken, worked_out = 0, 0

    def state(node: DOMNode) -> tuple[dict[str, Any], list[bool], dict[str, Any]]:
        parts = {name: dict(one.base._rules) for name, one in node._component_styles.items()}
        return dict(node.styles.base._rules), [getattr(node, name) for name in styles.FLAGS], parts

    def both(sheet: Stylesheet, node: DOMNode, *, animate: bool = False, cache: Any = None) -> None:
        nonlocal taken, worked_out
        before = sum(len(place.found) for place in styles.PLACES.values())
        styles.apply(sheet, node, animate=animate)
        mine = state(node)
        new = sum(len(place.found) for place in styles.PLACES.values()) > before
        worked_out, taken = worked_out + new, taken + (not new)
        with monkeypatch.context() as own:
            own.setattr(Stylesheet, "replace_rules", classmethod(styles.OWN_REPLACE))
            styles.OWN_APPLY(sheet, node)
        assert mine == state(node), node

    monkeypatch.setattr(styles, "PLACES", {})
    monkeypatch.setattr(Stylesheet, "apply", both)
    for _ in range(2):
        async with new_app().run_test(size=(80, 24)) as pilot:
            await settle(pilot)
            await keys(pilot, "tab", "f4")
            await write(pilot, "cellulose")
            await keys(pilot, "tab", "tab", "down", "f8", "tab", "f6", "question_mark", "escape", "f3")
            pilot.app.theme = "lamp"
            await pilot.resize_terminal(120, 40)
            await keys(pilot, "f4", "tab")
    assert taken > worked_out > 200


async def test_what_handles_a_message_is_what_textual_finds(
    new_app: Callable[[], BenchleafApp], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each message of an app that goes from screen to screen, those with decorated handlers among them."""
    plain, decorated = 0, 0

    def both(pump: MessagePump, name: str, message: Message) -> Any:
        nonlocal plain, decorated
        mine = list(handlers.handlers(pump, name, message))
        assert mine == list(handlers.OWN(pump, name, message)), (pump, name, message)
        more = handlers.PLAIN[type(pump), name, type(message)] is None
        plain, decorated = plain + (not more), decorated + more
        return handlers.handlers(pump, name, message)

    monkeypatch.setattr(MessagePump, "_get_dispatch_methods", both)
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await keys(pilot, "tab", "f4")
        await write(pilot, "cellulose")
        await keys(
            pilot, "tab", "down", "f8", "tab", "f6", "question_mark", "escape", "f3", "ctrl+p", "escape"
        )
    assert plain > 1_000
    assert decorated


async def test_a_cursor_is_lit_however_long_a_picture_takes(new_app: Callable[[], BenchleafApp]) -> None:
    """Half a second on a busy machine, and the stored picture of a form was another."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await keys(pilot, "f4")
        field = pilot.app.screen.query(Input).first()
        assert field._blink_timer is not None
        await field._blink_timer._tick(next_timer=0.0, count=1)
        await settle(pilot)
        assert field._cursor_visible
