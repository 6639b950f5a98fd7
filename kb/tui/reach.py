"""From a widget to the app with the type it really has."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

from textual.message_pump import MessagePump

if TYPE_CHECKING:
    from kb.tui.app import BenchleafApp


def app_of(node: MessagePump) -> BenchleafApp:
    """The app that the node belongs to."""
    return cast("BenchleafApp", node.app)
