"""Long work inside the app: a bar with a percentage, a key that stops it, and all is whole then."""

from __future__ import annotations

from collections.abc import Callable
from threading import Event
from typing import Any

import pytest
from textual.widgets import ProgressBar

from kb.desk.keep import verify
from kb.desk.studio import Studio
from kb.tui.screens import long_work
from kb.tui.screens.long_work import WORKS, LongWork, Work
from tests.screens.invented import NewApp
from tests.screens.screen_help import flat, keys, settle, store

Progress = Callable[[str], None]


@pytest.fixture
def backups(monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory) -> Any:
    """Backups go into a folder of this test."""
    folder = tmp_path_factory.mktemp("backups")
    monkeypatch.setattr("kb.desk.backup.backup.default_target", lambda _: folder)
    return folder


def watched(work: Work, reached: Event, go_on: Event) -> Work:
    """The same work, held up at its first step until the test lets it go on."""

    def verb(studio: Studio, progress: Progress) -> str:
        def told(words: str) -> None:
            progress(words)
            reached.set()
            assert go_on.wait(30)

        return work.verb(studio, told)

    return work._replace(verb=verb)


async def test_the_palette_offers_it_and_it_says_what_came_of_it(
    new_app: NewApp, studio: Studio, backups: Any
) -> None:
    """Each is found by its words, runs to its end and closes."""
    store(studio, 1)
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        offered = {one.title: one for one in pilot.app.get_system_commands(pilot.app.screen)}
        for title, said in (
            ("Verify the book", "The book is whole."),
            ("Derive the index anew", "The index is derived anew: 1 test."),
            ("Back up the studio", "Backed up to"),
        ):
            offered[title].callback()
            await settle(pilot)
            assert isinstance(pilot.app.screen, LongWork)
            assert said in flat(pilot.app)
            assert "100%" in flat(pilot.app)
            await keys(pilot, "escape")
            assert not isinstance(pilot.app.screen, LongWork)
    assert len(list(backups.iterdir())) == 1


@pytest.mark.parametrize("work", WORKS, ids=lambda one: one.title)
async def test_stopped_in_the_middle_all_is_whole(
    new_app: NewApp, studio: Studio, backups: Any, work: Work
) -> None:
    """Esc stops it at its next step and says how things stand; book, index and backups are as they were."""
    records = [store(studio, hours) for hours in (1, 2, 3)]
    reached, go_on = Event(), Event()
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        index = studio.index_file
        assert index is not None
        pilot.app.push_screen(LongWork(watched(work, reached, go_on)))
        while not reached.is_set():
            await pilot.pause(0.01)
        await pilot.pause()
        bar = pilot.app.screen.query_one(ProgressBar)
        assert bar.total == 100
        assert not pilot.app.screen.over  # type: ignore[attr-defined]
        await pilot.press("escape")
        assert "Stopping ..." in flat(pilot.app)
        go_on.set()
        await settle(pilot)
        assert f"Stopped. {work.stopped}" in flat(pilot.app)
        await keys(pilot, "escape")
        assert not isinstance(pilot.app.screen, LongWork)
        assert index.exists()
        assert verify(studio) == []
        assert [one.id for one in long_work_tests(studio)] == records[::-1]
    assert not list(backups.iterdir())


def long_work_tests(studio: Studio) -> Any:
    """What the studio still answers."""
    from kb.desk.records.record import list_tests

    assert long_work.PER_CENT.search("Copying the studio, 25 %")
    return list_tests(studio)
