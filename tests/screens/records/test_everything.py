"""The bench book's list of every kind of record, by keyboard alone."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot
from textual.widgets import Input

from kb.book.kinds.batch import Batch
from kb.book.kinds.bath_reading import BathReading
from kb.book.kinds.bottle import Bottle
from kb.book.kinds.housing import Housing
from kb.book.kinds.mend import Mend
from kb.book.kinds.parts import ColourReading, Portion, Site
from kb.book.kinds.toning import Toning
from kb.desk.records.book_list import show_record
from kb.desk.studio import Studio
from kb.model.record import Withdraw
from kb.tui.app import BenchleafApp
from kb.tui.screens.records import book
from kb.tui.screens.records.amend import AmendScreen
from kb.tui.screens.records.book import BookScreen
from kb.tui.screens.records.book_filter import Known, understand_kinds
from kb.tui.screens.records.record_view import RecordScreen
from kb.tui.screens.sheet.sheet import SheetScreen
from tests.screens.making_help import IDS, SIZES
from tests.screens.screen_help import HOSTILE, flat, keys, keys_fit, settle, shown, store, write


def every_kind(studio: Studio) -> dict[str, str]:
    """One record of each kind and a withdrawn one; ids by kind. Names are invented, so pictures stay."""
    ids = {"test": store(studio, 1, parts={"invented-liquid": 1.0}, release=2)}
    paste = Batch(name="Invented paste", weights=(Portion(name="invented starch", amount=16.3, unit="g"),))
    ids["batch"] = store(studio, 2, kind="batch", body=paste)
    ids["bottle"] = store(studio, 3, kind="bottle", body=Bottle(liquid="invented-liquid", label="shelf 2"))
    reading = BathReading(sheet="Letter 1", bath=2, ph=6.9, conductivity_us_cm=320, colour="pale straw")
    ids["reading"] = store(studio, 4, kind="reading", body=reading)
    sheet, dry = ColourReading(lightness=88.1, a=1.2, b=12.5), ColourReading(lightness=86.9, a=1.4, b=13.1)
    umber = (Portion(name="invented umber", amount=0.4, unit="g"),)
    toning = Toning(sheet="Letter 1", tissue="invented tissue", colourants=umber, aim=sheet, dry=dry)
    ids["toning"] = store(studio, 5, kind="toning", body=toning)
    mend = Mend(
        sheet="Letter 1",
        tear="plain",
        site=Site(words="lower edge", face="back"),
        length_mm=45,
        tissue="invented tissue",
        batch=ids["batch"],
        toning=ids["toning"],
        remarks=HOSTILE,
    )
    ids["mend"] = store(studio, 6, kind="mend", body=mend)
    ids["housing"] = store(studio, 7, kind="housing", body=Housing(sheet="Letter 1", place="cabinet 3"))
    ids["gone"] = store(studio, 8, who="CD", kind="mend", body=Mend(sheet="Map, 1892", tear="loss"))
    store(studio, 9, kind="withdraw", body=Withdraw(of=ids["gone"], why="another sheet"))
    return ids


@pytest.fixture(scope="module")
def still(blank_index: Path, tmp_path_factory: pytest.TempPathFactory) -> Studio:
    """A book with every kind that nobody writes in."""
    root = tmp_path_factory.mktemp("every")
    shutil.copy(blank_index, root / "index.db")
    studio = Studio(root)
    every_kind(studio)
    return studio


async def everything(pilot: Pilot[Any], text: str = "") -> BookScreen:
    """Go to the list of every kind, narrowed by a text, and stand on its first row."""
    await settle(pilot)
    await keys(pilot, "f3", "e")
    screen = pilot.app.screen
    assert isinstance(screen, BookScreen)
    if text:
        await keys(pilot, "slash")
        await write(pilot, text)
        await keys(pilot, "enter")
    return screen


def kinds(screen: BookScreen) -> list[str]:
    """Kinds in the list, from the top."""
    return [getattr(row, "kind", "") for row in screen.table.rows_shown]


async def test_every_record_is_listed_newest_first_and_e_goes_back(still: Studio) -> None:
    """Tests stay the first view, as they were; a sheet that is typed narrows both lists."""
    async with BenchleafApp(still).run_test(size=(80, 24)) as pilot:
        screen = await everything(pilot)
        assert kinds(screen) == [
            "Mend",
            "Housing",
            "Mend",
            "Toning test",
            "Bath reading",
            "Bottle",
            "Batch",
            "Spot test",
        ]
        assert "Records of every kind" in flat(pilot.app)
        assert "withdrawn" in flat(pilot.app)
        await keys(pilot, "slash")
        await write(pilot, "letter 1")
        assert len(kinds(screen)) == 5
        await keys(pilot, "enter", "e")
        assert screen.query_one("#book-filter", Input).value == "letter 1"
        assert kinds(screen) == [""]
        assert "Harm" in shown(pilot.app)
        await keys(pilot, "e", "escape")
        assert len(kinds(screen)) == 8


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("mends", ["Mend", "Mend"]),
        ("Mends Letter 1", ["Mend"]),
        ("by CD", ["Mend"]),
        ("batches by AB", ["Batch"]),
        ("toning tests", ["Toning test"]),
        ("Map, 1892", ["Mend"]),
        ("bath readings", ["Bath reading"]),
    ],
)
async def test_the_filter_takes_kinds_sheets_and_people(still: Studio, text: str, words: list[str]) -> None:
    """As people call them, one or several."""
    known = Known(("Letter 1", "Map, 1892"), ("AB", "CD"))
    found = book.fetch(still, text=text, before="", known=known, fresh=True, everything=True)
    assert [getattr(row, "kind", "") for row in found.rows] == words
    assert "not understood" not in found.understood.words


def test_what_the_filter_does_not_take_is_said() -> None:
    """With what it would take."""
    words = understand_kinds("acetone mends", Known((), ())).words
    assert words.startswith("Only kind mend")
    assert 'Not understood: "acetone" (it takes a sheet, "by AB" and kinds: mends' in words


async def test_each_kind_is_read_with_all_its_fields(still: Studio) -> None:
    """Labels with units, names, a computed difference, where a batch went, and the history."""
    wanted = {
        "mends letter 1": ("kind of tear plain", "place lower edge", "length (mm) 45", HOSTILE),
        "toning": ("invented umber 0.4 g", "88.1 1.2 12.5", "difference from the 0.9", "written 5 Jan"),
        "housing": ("put into frame", "place cabinet 3"),
        "batches": (
            "invented starch 16.3 g",
            "Where it went",
            "mend on Letter 1, 2026-01-05",
            "sheets Letter 1",
        ),
        "bottles": ("shelf 2",),
        "readings": ("pH 6.9", "conductivity (µS/cm) 320", "colour pale straw"),
    }
    async with BenchleafApp(still).run_test(size=(120, 40)) as pilot:
        screen = await everything(pilot)
        for text, words in wanted.items():
            await keys(pilot, "escape", "slash")
            await write(pilot, text)
            await keys(pilot, "enter", "enter")
            assert isinstance(pilot.app.screen, RecordScreen)
            for word in words:
                assert word in flat(pilot.app), text
            await keys(pilot, "escape")
            assert pilot.app.screen is screen


async def test_amend_withdraw_and_bring_back_a_mend(studio: Studio) -> None:
    """A field, its new value, why; the history tells old and new; what was withdrawn can come back."""
    ids = every_kind(studio)
    file = studio.book_dir / "bench-a.jsonl"
    before = file.read_bytes()
    async with BenchleafApp(studio).run_test(size=(80, 40)) as pilot:
        screen = await everything(pilot, "mends letter 1")
        await keys(pilot, "a")
        form = pilot.app.screen
        assert isinstance(form, AmendScreen)
        labels = [field.label for field in form.draft.fields]
        await keys(pilot, *["down"] * labels.index("length (mm)"), "enter", "home", "ctrl+k")
        await write(pilot, "long")
        await keys(pilot, "enter")
        assert form.query_one("#amend-why", Input).has_focus is False
        await keys(pilot, "home", "ctrl+k")
        await write(pilot, "5.4 cm")
        await keys(pilot, "enter")
        assert "length (mm): 45 -> 54" in flat(pilot.app)
        await write(pilot, "misread")
        await keys(pilot, "enter")
        assert pilot.app.screen is screen
        assert screen.table.here is not None
        assert getattr(screen.table.here, "state", "") == "amended"
        await keys(pilot, "enter")
        assert "length (mm): 45 -> 54" in flat(pilot.app)
        assert "Why: misread" in flat(pilot.app)
        await keys(pilot, "w")
        await write(pilot, "not this sheet")
        await keys(pilot, "enter", "enter")
        assert isinstance(pilot.app.screen, RecordScreen)
        assert "state withdrawn" in flat(pilot.app)
        await keys(pilot, "b")
        await write(pilot, "this sheet after all")
        await keys(pilot, "enter", "enter")
        assert "state amended" in flat(pilot.app)
        assert "Bring back" not in shown(pilot.app)
    detail = show_record(studio, ids["mend"])
    assert ("length (mm)", "54") in detail.fields
    assert [one.why for one in detail.history[1:]] == ["misread", "not this sheet", "this sheet after all"]
    assert file.read_bytes().startswith(before)


async def test_every_field_of_every_kind_can_be_named_for_amending(still: Studio) -> None:
    """Each is read back from what it says now without a change, except where it holds a list of weights."""
    from kb.tui.screens.records import amend

    for kind in ("batch", "bottle", "reading", "toning", "mend", "housing"):
        (row,) = book.fetch(
            still, text=f"{kind} by AB", before="", known=Known((), ()), fresh=False, everything=True
        ).rows
        draft = amend.draft_of(still, row.id)
        assert {field.label for field in draft.fields} >= {"remarks"}
        for field in draft.fields:
            assert amend.reading_of(still, draft, {field.label: field.now}) == "", (kind, field.label)


async def test_p_leads_from_a_mend_to_the_plan_of_its_sheet(still: Studio) -> None:
    """And says so where a record lies on no sheet."""
    async with BenchleafApp(still).run_test(size=(80, 24)) as pilot:
        await everything(pilot, "housing")
        await keys(pilot, "p")
        assert isinstance(pilot.app.screen, SheetScreen)
        assert "Plan of Letter 1" in flat(pilot.app)
        await keys(pilot, "escape", "escape", "slash")
        await write(pilot, "bottles")
        await keys(pilot, "enter", "p")
        assert any("names no sheet" in one.message for one in pilot.app._notifications)


async def test_pages_of_everything(still: Studio, monkeypatch: pytest.MonkeyPatch) -> None:
    """Only one page is fetched; past its end the next one."""
    monkeypatch.setattr(book, "PAGE", 3)
    async with BenchleafApp(still).run_test(size=(80, 24)) as pilot:
        screen = await everything(pilot)
        assert kinds(screen) == ["Mend", "Housing", "Mend"]
        await keys(pilot, "o", "o")
        assert kinds(screen) == ["Batch", "Spot test"]
        await keys(pilot, "n", "n")
        assert kinds(screen) == ["Mend", "Housing", "Mend"]


@pytest.mark.parametrize("size", SIZES, ids=IDS)
async def test_fits(still: Studio, size: tuple[int, int], monkeypatch: pytest.MonkeyPatch) -> None:
    """All keys, even where there are pages on both sides and a filter."""
    monkeypatch.setattr(book, "PAGE", 1)
    async with BenchleafApp(still).run_test(size=size) as pilot:
        screen = await everything(pilot, "letter 1")
        await keys(pilot, "o")
        assert keys_fit(pilot.app)
        assert screen.table.virtual_size.width <= screen.table.size.width
        await keys(pilot, "e")
        assert keys_fit(pilot.app)


@pytest.mark.parametrize("size", SIZES, ids=IDS)
def test_picture_of_everything(still: Studio, size: tuple[int, int], snap_compare: Any) -> None:
    """The list, alone and with a mend beside it."""

    async def before(pilot: Pilot[Any]) -> None:
        await everything(pilot)
        await keys(pilot, "down", "down")

    assert snap_compare(BenchleafApp(still), terminal_size=size, run_before=before)
