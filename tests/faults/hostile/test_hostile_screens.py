"""Hostile text on the screens: typed into every line, and shown from catalogue and book. Few app starts."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Iterator, Sequence
from itertools import cycle, islice
from pathlib import Path
from typing import Any

import pytest
from textual import events
from textual.app import App, ComposeResult
from textual.pilot import Pilot
from textual.screen import Screen
from textual.widgets import Input

from kb.book.kinds.spot_test import SpotTest
from kb.book.text import clean_text
from kb.catalogue.problems import UNSAFE
from kb.desk.records.record import list_tests, show_test
from kb.desk.sheet.names import found_sheet
from kb.desk.studio import Studio
from kb.tui.app import BenchleafApp
from kb.tui.screens.few_lines import FewLines
from kb.tui.screens.making.batch_form import BatchDraft, BatchFormScreen
from kb.tui.screens.records.record_view import RecordScreen
from kb.tui.screens.records.spot_test import SpotTestScreen
from kb.tui.screens.sheet.sheet import SheetScreen
from kb.tui.screens.shelf.shelf import NEW_BOTTLE, new_bottle
from kb.tui.screens.water.wash import WashScreen
from kb.tui.text import cut, tidy
from kb.tui.widgets.field import Field
from tests.faults import figures
from tests.faults.hostile.checks import unclean
from tests.faults.hostile.corpus import ALL, CORPUS, SHORT, Hostile
from tests.faults.hostile.entries import as_yaml, entries_of
from tests.faults.hostile.foreign import TYPES, record_id, write_lines
from tests.faults.hostile.stage import Stage, staged
from tests.screens.conftest import exact_waiting
from tests.screens.drafts import a_draft
from tests.screens.screen_help import flat, keys, settle, shown

__all__ = ["exact_waiting"]

SIZE = (140, 50)
STEP = 1 if ALL else 24
"""One string of so many is tried in each line of a screen."""
Opens = Callable[[Pilot[Any]], Any]


@pytest.fixture(scope="module")
def stage(tmp_path_factory: pytest.TempPathFactory, blank_index: Path) -> Iterator[Stage]:
    """A studio with hostile entries of its own and a hostile book from another program."""
    with staged(tmp_path_factory.mktemp("hostile"), blank_index) as made:
        folder = made.studio.catalogue_dir
        folder.mkdir()
        for number, one in enumerate(CORPUS):
            if one in NAMES:
                entries = entries_of(number, one.text)
                text = "".join(f"{kind}: {as_yaml([entry])}\n" for kind, entry in entries.items())
                (folder / f"{number}.yaml").write_text(text, encoding="utf-8")
        bodies = ((kind, make(one.text), "AB") for one in SHOWN for kind, make in TYPES.items())
        write_lines(made.studio.book_dir / "foreign.jsonl", bodies)
        made.studio.close()
        yield made


def _sound(one: Hostile) -> bool:
    return bool(one.text.strip()) and not UNSAFE.search(one.text)


NAMES = [one for one in SHORT if one.kind in {"markup", "html", "format", "combining"} and _sound(one)]
"""Strings that are names in the catalogue."""
SHOWN = [one for one in SHORT if one.storable and len(one.text) < 300]
"""Strings that are in every field of records."""


def all_is_well(pilot: Pilot[Any], what: object) -> None:
    """The app runs, and the screen holds nothing that steers a terminal."""
    assert pilot.app.is_running, what
    assert pilot.app._exception is None, what
    assert not unclean(shown(pilot.app)), what


async def put(pilot: Pilot[Any], field: Input, one: Hostile) -> None:
    """Paste a text into a line, as a terminal hands it over; what stands there is the text made plain."""
    if CORPUS.index(one) % 4 == 0:
        field.value = ""
        field.post_message(events.Paste(one.text))
        await pilot.pause()
        pasted = " ".join(filter(str.strip, one.text.splitlines()))
        assert field.value == tidy(pasted, multiline=False), one
    field.value = one.text
    await settle(pilot)
    assert field.value == tidy(one.text, multiline=False), one
    all_is_well(pilot, one)


async def through_every_line(pilot: Pilot[Any], texts: Iterator[Hostile], each: int) -> int:
    """Put the next texts into each line of the screen, and press Enter behind the last; how many were put."""
    tried = 0
    screen: Screen[Any] = pilot.app.screen
    for field in list(screen.query(Input)):
        for one in islice(texts, each):
            await put(pilot, field, one)
            tried += 1
            if pilot.app.screen is not screen:
                return tried
    return tried


async def test_finding_boxes(stage: Stage) -> None:
    """The blank of the question, the filter of the book and the finding boxes take any string."""
    tried = 0
    async with BenchleafApp(stage.studio).run_test(size=SIZE) as pilot:
        await settle(pilot)
        await keys(pilot, "x")
        tried += await through_every_line(pilot, iter(SHORT[::STEP]), len(SHORT))
        await keys(pilot, "escape", "f3", "slash")
        tried += await through_every_line(pilot, iter(SHORT[1 % STEP :: STEP]), len(SHORT))
        await keys(pilot, "f4", "slash")
        tried += await through_every_line(pilot, iter(SHORT[2 % STEP :: STEP]), len(SHORT))
        await keys(pilot, "f6")
        tried += await through_every_line(pilot, iter(SHORT[3 % STEP :: STEP]), len(SHORT) // 2 // STEP)
    figures.add("hostile text in finding boxes", tried=tried, surfaces=5, crashes=0)
    assert tried > 3 * len(SHORT) // STEP


async def spot_test(pilot: Pilot[Any]) -> None:
    """The form of a spot test."""
    app = pilot.app
    assert isinstance(app, BenchleafApp)
    app.draft = a_draft(release="1", harm={"bleed": "0"})
    app.push_screen(SpotTestScreen(app.draft))


def pushes(make: Callable[[], Screen[Any]]) -> Opens:
    """Opens a screen over the one that is shown."""

    async def push(pilot: Pilot[Any]) -> None:
        pilot.app.push_screen(make())

    return push


FORMS: dict[str, tuple[Opens, Sequence[str]]] = {
    "spot test": (spot_test, ("ctrl+s",)),
    "batch": (pushes(lambda: BatchFormScreen(BatchDraft("", "paste"))), ("ctrl+s",)),
    "bottle": (pushes(lambda: FewLines("New bottle", NEW_BOTTLE, new_bottle)), ("enter",)),
    "sheet": (pushes(lambda: SheetScreen("[/b] \x1b[2J sheet")), ("enter",)),
}


async def test_forms(stage: Stage) -> None:
    """Every line of every form takes text of every class; storing it works or says why not."""
    texts = cycle([one for one in SHORT if len(one.text) < 2_000][5::2])
    tried = lines = 0
    async with BenchleafApp(stage.studio).run_test(size=SIZE) as pilot:
        await settle(pilot)
        for opening in (("f8",), ("f7",), ("escape", "w")):
            await keys(pilot, *opening)
            lines += len(pilot.app.screen.query(Input))
            tried += await through_every_line(pilot, texts, 40 if ALL else 1)
            await keys(pilot, "enter")
            all_is_well(pilot, opening)
        assert isinstance(pilot.app.screen, WashScreen)
        await keys(pilot, "escape", "f2")
        for name, (opens, store) in FORMS.items():
            await opens(pilot)
            await settle(pilot)
            lines += len(pilot.app.screen.query(Input))
            tried += await through_every_line(pilot, texts, 40 if ALL else 1)
            await keys(pilot, *store)
            all_is_well(pilot, name)
            while len(pilot.app.screen_stack) > 1:
                pilot.app.pop_screen()
            await settle(pilot)
    figures.add("hostile text in forms", tried=tried, surfaces=lines, crashes=0)
    assert lines > 40


class OneLine(App[None]):
    """Nothing but a line of a form: what a line does with a text does not hang on what stands beside it."""

    def compose(self) -> ComposeResult:
        """The line."""
        yield Field("remarks", "Remarks", "", "any words")


async def test_a_line_of_a_form_takes_every_string() -> None:
    """Every string of the corpus in one line of a form: made plain, drawn, no crash."""
    taken = [*SHORT, next(one for one in CORPUS if one.name == "megabyte wide")]
    async with OneLine().run_test(size=SIZE) as pilot:
        field = pilot.app.screen.query_one("#field-remarks", Input)
        field.focus()
        for number, one in enumerate(taken):
            field.value = one.text
            await pilot.pause()
            assert field.value == tidy(one.text, multiline=False), one
            if number % 8 == 0:
                all_is_well(pilot, one)
        all_is_well(pilot, "all")
    figures.add("hostile text in one line", tried=len(taken), surfaces=1, crashes=0)


async def test_remarks_of_a_spot_test_come_back(studio: Studio) -> None:
    """What is typed into the form is stored and shown as it was typed, made plain."""
    wanted = [one for one in SHORT if one.kind in {"markup", "terminal", "html", "direction"}]
    groups = range(0, len(wanted) - 4, 5 if ALL else 25)
    fields = ("sheet", "site", "magnification", "light", "remarks")
    async with BenchleafApp(studio).run_test(size=SIZE) as pilot:
        await settle(pilot)
        for start in groups:
            share = dict(zip(fields, wanted[start : start + len(fields)], strict=False))
            found_sheet(studio, clean_text(share["sheet"].text, multiline=False).strip())
            await spot_test(pilot)
            await settle(pilot)
            for name, one in share.items():
                pilot.app.screen.query_one(f"#field-{name}", Input).value = one.text
            pilot.app.screen.query_one("#field-round-0-dwell", Input).value = "30"
            await settle(pilot)
            await keys(pilot, "ctrl+s")
            all_is_well(pilot, share)
            found = show_test(studio, list_tests(studio, limit=1)[0].id).test
            kept = (found.sheet, found.site.words, found.magnification, found.light, found.remarks)
            typed = [clean_text(one.text, multiline=False).strip() for one in share.values()]
            assert [text.strip() for text in kept[: len(typed)]] == typed
            assert not isinstance(pilot.app.screen, SpotTestScreen)


async def test_hostile_records_are_shown_as_they_are(stage: Stage) -> None:
    """Lists and single records of another program: the cleaned text or its cut, to the letter."""
    seen = 0
    async with BenchleafApp(stage.studio).run_test(size=SIZE) as pilot:
        await settle(pilot)
        await keys(pilot, "f3")
        for key in ("pagedown",) * 9:
            await keys(pilot, key)
            all_is_well(pilot, key)
        await keys(pilot, "e", "pagedown", "pagedown")
        all_is_well(pilot, "everything")
        places = {kind: place for place, kind in enumerate(TYPES)}
        for number, one in enumerate(SHOWN):
            if number % STEP:
                continue
            kind = ("test", "mend", "batch")[number // STEP % 3]
            pilot.app.push_screen(RecordScreen(record_id(number * len(TYPES) + places[kind])))
            await settle(pilot)
            all_is_well(pilot, one)
            wanted = words_of(one.text)
            assert wanted[:30] in words_of(flat(pilot.app)), (kind, one)
            pilot.app.pop_screen()
            seen += 1
    figures.add("hostile records on screen", tried=seen + 11, crashes=0)


def words_of(text: str) -> str:
    """Text made plain, without any blanks: they may be line ends on a screen."""
    return "".join(unicodedata.normalize("NFC", tidy(text, multiline=False)).split())


async def test_hostile_entries_are_shown_as_they_are(stage: Stage) -> None:
    """Lists, readings, the ranking and notices: every name is there, none acts as markup."""
    async with BenchleafApp(stage.studio).run_test(size=SIZE) as pilot:
        app = pilot.app
        assert isinstance(app, BenchleafApp)
        await settle(pilot)
        await keys(pilot, "f4")
        field = app.screen.query_one("#material-typed", Input)
        for one in NAMES[:: 1 if ALL else 3]:
            field.value = f"h-{CORPUS.index(one)}"
            await settle(pilot)
            all_is_well(pilot, one)
            assert words_of(cut(one.text, 20))[:15] in words_of(flat(app)), one
        await keys(pilot, "enter")
        all_is_well(pilot, "reading")
        for one in SHORT:
            app.say(one.text, title=one.text[:40])
            if CORPUS.index(one) % 12 == 0:
                await settle(pilot)
                all_is_well(pilot, one)
                app.clear_notifications()
        await settle(pilot)
        await keys(pilot, "f2")
        all_is_well(pilot, "home")
    figures.add("hostile names on screen", tried=len(NAMES) + len(SHORT), crashes=0)


async def test_a_hostile_studio_name_is_a_name(tmp_path: Path, blank_index: Path) -> None:
    """The title bar shows the studio's name as text."""
    (tmp_path / "studio.yaml").write_text('name: "[/b] [@click=app.quit]x[/] [TODO]"\n', encoding="utf-8")
    async with BenchleafApp(Studio(tmp_path)).run_test(size=SIZE) as pilot:
        await settle(pilot)
        all_is_well(pilot, "name")
        assert "[/b] [@click" in shown(pilot.app)


def test_records_for_this_file_are_many() -> None:
    """The lists above do try what they say."""
    assert len(NAMES) > 70
    assert len(SHOWN) > 300
    assert SpotTest(parts={"x": 1.0})
