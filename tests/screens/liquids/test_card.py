"""The safety card of a row is written as a page to print."""

from __future__ import annotations

from collections.abc import Callable

from kb.desk.studio import Studio
from kb.tui.app import BenchleafApp
from tests.screens.conftest import ask
from tests.screens.screen_help import flat, keys


async def test_card_is_written_and_never_over_another(
    new_app: Callable[[], BenchleafApp], studio: Studio
) -> None:
    """K writes one page with the signal word; a second K writes a second file."""
    async with new_app().run_test(size=(120, 40)) as pilot:
        await ask(pilot)
        await keys(pilot, "escape", "w")
        assert "The safety card is written:" in flat(pilot.app)
        await keys(pilot, "w")
        pages = sorted((studio.root / "exports").glob("safety-*.html"))
        assert len(pages) == 2
        text = pages[0].read_text(encoding="utf-8")
        assert "Signal word" in text
        assert "safety data sheet" in text
