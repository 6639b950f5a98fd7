"""Long work inside the app: a bar with a percentage, a key that stops it, and all is whole then."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from threading import Event
from typing import Any

import pytest
from textual.fuzzy import Matcher
from textual.widgets import ProgressBar

from kb.desk.keep import verify
from kb.desk.package.write import export
from kb.desk.records.record import list_tests
from kb.desk.sharing.share import share
from kb.desk.studio import Studio
from kb.tui.screens import long_work
from kb.tui.screens.long_work import ASKING, WORKS, LongWork, Where, Work
from kb.tui.widgets.field import FormInput
from tests.screens.invented import NewApp
from tests.screens.screen_help import flat, keys, settle, store, write
from tests.share_help import hub

__all__ = ["hub"]

Progress = Callable[[str], None]
BACKUP, EXPORT, IMPORT, SHARE, RESTORE = (one.title for one in ASKING)


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
        ):
            offered[title].callback()
            await settle(pilot)
            assert isinstance(pilot.app.screen, LongWork)
            assert said in flat(pilot.app)
            assert "100%" in flat(pilot.app)
            await keys(pilot, "escape")
            assert not isinstance(pilot.app.screen, LongWork)
        long = Work("Long", "", lambda *_: "\n".join((*["a finding"] * 40, "what to mind")), "")
        pilot.app.push_screen(LongWork(long))
        await settle(pilot)
        await keys(pilot, "end")
        assert "what to mind" in flat(pilot.app), "the end was cut, and no key led there"


async def test_a_backup_goes_where_one_says_and_next_time_too(
    new_app: NewApp, studio: Studio, backups: Path, tmp_path: Path
) -> None:
    """It advised a folder on another disk, and nowhere could one be named."""
    store(studio, 1)
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await begin(pilot, BACKUP)
        assert "Backed up to" in flat(pilot.app)
        assert "100%" in flat(pilot.app)
        await keys(pilot, "escape")
        assert len(list(backups.iterdir())) == 1
        offered = {one.title: one for one in pilot.app.get_system_commands(pilot.app.screen)}
        offered[BACKUP].callback()
        await settle(pilot)
        await write(pilot, str(tmp_path / "stick"))
        await keys(pilot, "ctrl+s", "escape")
        await begin(pilot, BACKUP)
    assert (len(list(backups.iterdir())), len(list((tmp_path / "stick").iterdir()))) == (1, 2)


async def test_the_newest_backup_is_put_back_into_a_new_folder(
    new_app: NewApp, studio: Studio, backups: Path
) -> None:
    """Whoever has the screens alone could make a backup and not get it back."""
    record = store(studio, 1)
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await begin(pilot, BACKUP)
        await keys(pilot, "escape")
        (made,) = backups.iterdir()
        offered = {one.title: one for one in pilot.app.get_system_commands(pilot.app.screen)}
        offered[RESTORE].callback()
        await settle(pilot)
        assert pilot.app.screen.query_one("#field-backup", FormInput).value == str(made)
        into = Path(pilot.app.screen.query_one("#field-into", FormInput).value)
        await keys(pilot, "ctrl+s")
        await settle(pilot)
        assert "This studio is as it was." in flat(pilot.app)
        assert [one.id for one in list_tests(Studio(into))] == [record]
        # Another time into another folder: what was put back once is not written over.
        await keys(pilot, "escape")
        offered[RESTORE].callback()
        await settle(pilot)
        again = Path(pilot.app.screen.query_one("#field-into", FormInput).value)
        assert (again.exists(), again.name) == (False, f"{into.name}-2")


@pytest.mark.parametrize("title", [*(one.title for one in WORKS), BACKUP])
async def test_stopped_in_the_middle_all_is_whole(
    new_app: NewApp, studio: Studio, backups: Path, title: str
) -> None:
    """Esc stops it at its next step and says how things stand; book, index and backups are as they were."""
    records = [store(studio, hours) for hours in (1, 2, 3)]
    works = (*WORKS, ASKING[0].with_words({"folder": str(backups)}))
    work = next(one for one in works if one.title == title)
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


async def begin(pilot: Any, title: str, typed: str = "") -> None:
    """Choose it in the palette, type where asked, begin, and wait for its end."""
    offered = {one.title: one for one in pilot.app.get_system_commands(pilot.app.screen)}
    offered[title].callback()
    await settle(pilot)
    if isinstance(pilot.app.screen, Where):
        if typed:
            pilot.app.screen.query_one(FormInput).value = typed
        await keys(pilot, "ctrl+s")
        await settle(pilot)


@pytest.mark.parametrize(
    "word", ["package", "export", "import", "share", "photographs", "pool", "batch", "label"]
)
async def test_the_palette_finds_it_by_the_words_that_people_type(
    new_app: NewApp, studio: Studio, word: str
) -> None:
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        offered = [one.title for one in pilot.app.get_system_commands(pilot.app.screen)]
        assert any(word in title.casefold() for title in offered), offered


async def test_a_package_goes_out_to_the_folder_shown_and_comes_in_again(
    new_app: NewApp, studio: Studio, new_studio: Callable[[str], Studio], tmp_path: Path
) -> None:
    """The folder that stands there is new; a second export gets another, and none is written over."""
    store(studio, 1)
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        for number in (1, 2):
            await begin(pilot, EXPORT)
            assert "Written and on disk" in flat(pilot.app)
            await keys(pilot, "escape")
            packages = sorted(tmp_path.glob("studio-package-*"))
            assert len(packages) == number
        await begin(pilot, EXPORT, str(packages[0]))
        assert "exists already and was left as it is" in flat(pilot.app)
        await keys(pilot, "escape")
        await begin(pilot, IMPORT)
        assert "Nothing was begun: the line Package is empty." in flat(pilot.app)
        await keys(pilot, "escape")
        other = new_studio("other")
        record = store(other, 5)
        export(other, tmp_path / "theirs.zip", zipped=True)
        await begin(pilot, IMPORT, str(tmp_path / "their.zip"))
        assert "cannot be used as a package" in flat(pilot.app)
        await keys(pilot, "escape")
        await keys(pilot, "ctrl+b", "1")
        # One letter of it was wrong, and all of it was gone.
        typed = pilot.app.screen.query_one("#field-package", FormInput)
        typed.value = typed.value.replace("their.", "theirs.")
        await keys(pilot, "ctrl+s")
        assert "Brought in and on disk: 1 record, 0 photographs." in flat(pilot.app)
        assert record in [one.id for one in long_work_tests(studio)]
        await keys(pilot, "escape")
    assert verify(studio) == []


async def test_sharing_asks_for_the_other_end_once(new_app: NewApp, studio: Studio, hub: Path) -> None:
    store(studio, 1)
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await begin(pilot, SHARE, str(hub))
        assert "1 record sent, 0 received." in flat(pilot.app)
        await keys(pilot, "escape")
        await begin(pilot, SHARE)
        assert "0 records sent, 0 received." in flat(pilot.app)


@pytest.mark.parametrize("title", [EXPORT, IMPORT, SHARE])
async def test_what_was_asked_for_is_stopped_whole(
    new_app: NewApp, studio: Studio, new_studio: Callable[[str], Studio], hub: Path, title: str
) -> None:
    """Stopped at its first step: no package, no record, nothing beside the studio; sharing goes on later."""
    record = store(studio, 1)
    other = new_studio("other")
    store(other, 5)
    export(other, (tmp := hub.parent) / "theirs")
    shutil.rmtree(other.root)
    typed = {EXPORT: str(tmp / "ours"), IMPORT: str(tmp / "theirs"), SHARE: str(hub)}[title]
    asking = next(one for one in ASKING if one.title == title)
    reached, go_on = Event(), Event()
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        before = sorted(path.name for path in tmp.iterdir())
        words = {one.name: typed for one in asking.lines(studio)} | ({"how": "bring in"})
        pilot.app.push_screen(LongWork(watched(asking.with_words(words), reached, go_on)))
        while not reached.is_set():
            await pilot.pause(0.01)
        await pilot.press("escape")
        go_on.set()
        await settle(pilot)
        assert f"Stopped. {asking.stopped}" in flat(pilot.app)
        assert sorted(path.name for path in tmp.iterdir()) == before
        assert [one.id for one in long_work_tests(studio)] == [record]
        assert verify(studio) == []
    if title == SHARE:
        assert share(studio).sent == 1


def test_the_palette_makes_a_backup_before_it_puts_one_back() -> None:
    """Whoever typed backup and pressed Enter was asked which one to put back."""
    found = Matcher("backup")
    titles = [one.title for one in (*WORKS, *ASKING)]
    assert max(titles, key=found.match) == "Backup of the studio"
