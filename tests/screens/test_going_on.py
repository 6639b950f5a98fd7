"""What outlives the program and the slip of a finger: drafts, looks, the last minute."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot
from textual.widgets import DataTable, Input, Static

from kb.desk.drafts import drafts
from kb.desk.errors import DeskError
from kb.desk.memory import Memory, memory, remember, set_line
from kb.desk.records.book_list import list_records
from kb.desk.records.record import show_test
from kb.desk.sheet.sheets import add_sheet
from kb.desk.studio import Studio
from kb.model.question import Question
from kb.tui.app import BenchleafApp
from kb.tui.form import FORM, FormScreen
from kb.tui.going_on import _once_nothing_is_typed, as_it_was
from kb.tui.screens.ask_why import LINES, by_name
from kb.tui.screens.choose.home import HomeScreen
from kb.tui.screens.few_lines import FewLines
from kb.tui.screens.long_work import ASKING, Where, ask_for
from kb.tui.screens.note import AskScreen
from kb.tui.screens.records.amend import AMENDS, AmendScreen
from kb.tui.screens.records.draft import Chosen, Draft
from kb.tui.screens.records.spot_test import SpotTestScreen
from kb.tui.screens.settings import SettingsScreen
from kb.tui.screens.shelf.shelf import NEW_BOTTLE, new_bottle
from kb.tui.screens.welcome import STOPS, TourScreen, WelcomeScreen
from kb.tui.widgets.blank import Blank
from kb.tui.widgets.field import FormInput
from kb.tui.widgets.frame import KeyBar, Sheet
from tests.screens.conftest import HandClock, ask, popped_up
from tests.screens.drafts import a_draft
from tests.screens.invented import NewApp
from tests.screens.screen_help import flat, keys, settle, shown, store, write

FORMS = ("mend", "toning", "housing")
"""Kinds of record that the one form writes down from the screens."""
KILLED = """
import asyncio, os, signal, sys
# Whoever starts the tests in the background has it ignored, and with it all that they start.
signal.signal(signal.SIGHUP, signal.SIG_DFL)
from pathlib import Path
from kb.desk.studio import Studio
from kb.tui.app import BenchleafApp
from kb.model.question import Question
from kb.tui.form import FormScreen
from kb.tui.screens.few_lines import FewLines
from kb.tui.screens.making.batch_form import BatchDraft
from kb.tui.screens.making.batch_form import BatchFormScreen
from kb.tui.screens.records.amend import AmendScreen, draft_of
from kb.tui.screens.records.draft import Chosen, Draft
from kb.tui.screens.records.spot_test import SpotTestScreen
from kb.tui.screens.shelf.shelf import NEW_BOTTLE
from tests.screens.screen_help import settle, still, write
from textual.widgets import Input
import textual.app, textual.pilot
# As for every screen test: else each key waits until the processor seems idle, which it never is here.
textual.app.wait_for_idle = textual.pilot.wait_for_idle = still

async def typed(pilot, screen, found):
    await pilot.app.push_screen(screen)
    await settle(pilot)
    line = found(screen)
    line.focus()
    await write(pilot, "half")
    assert line.value.endswith("half"), (type(screen).__name__, pilot.app.focused, line.value)

async def main(root, kinds):
    app = BenchleafApp(Studio(Path(root)))
    async with app.run_test(size=(100, 40)) as pilot:
        while not app.opened:
            await settle(pilot)
        for kind in kinds:
            form = FormScreen(kind, "Letter 9")
            await typed(pilot, form, lambda one: [it for it in one.query(Input) if it.name != "sheet"][-1])
        app.draft = Draft.begin(Question(), Chosen("Acetone", {"acetone": 1.0}), "nothing")
        await typed(pilot, SpotTestScreen(app.draft), lambda one: one.query_one("#field-site", Input))
        batch = BatchFormScreen(BatchDraft("", "paste", {"starch": ""}, {"starch": "20 g"}))
        await typed(pilot, batch, lambda one: one.query(Input).first())
        bottle = FewLines("New bottle", NEW_BOTTLE, print)
        await typed(pilot, bottle, lambda one: one.query_one("#field-label", Input))
        amended = AmendScreen(draft_of(app.studio, os.environ["AMENDED"]))
        await typed(pilot, amended, lambda one: one.query_one("#amend-why", Input))
        os.kill(os.getpid(), int(sys.argv[2]))

asyncio.run(main(sys.argv[1], sys.argv[3:]))
"""


async def store_new(pilot: Pilot[Any]) -> None:
    """Store what is on the form; a sheet that the book does not know is said to be new."""
    await keys(pilot, "ctrl+s")
    if isinstance(pilot.app.screen, AskScreen):
        await keys(pilot, "ctrl+y")


@pytest.mark.slow
@pytest.mark.parametrize("sent", [signal.SIGKILL, signal.SIGHUP], ids=["kill", "hang up"])
def test_a_kill_in_the_middle_of_each_form_loses_nothing(studio: Studio, sent: signal.Signals) -> None:
    """Each kind of record has its form half filled in when the program or its terminal ends; drafts stay."""
    amended = store(studio, 1)
    studio.close()
    place = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[2]), "AMENDED": amended}
    ended = subprocess.run(
        [sys.executable, "-c", KILLED, str(studio.root), str(int(sent)), *FORMS],
        env=place,
        capture_output=True,
        timeout=100,
        check=False,
    )
    assert ended.returncode == -sent, ended.stderr.decode()[-2000:]
    kept = drafts(studio.root)
    others = {
        "spot-test",
        "batch",
        f"{AMENDS}{amended}",
        FewLines("New bottle", NEW_BOTTLE, print).draft_name,
    }
    assert set(kept) == {*(f"{FORM}{kind}" for kind in FORMS), *others}
    for one in kept.values():
        assert "half" in str(one.values)
    assert all(kept[f"{FORM}{kind}"].values["sheet"] == "Letter 9" for kind in FORMS)


async def test_a_dwell_measured_after_a_kill_goes_into_the_next_round(
    new_app: NewApp, studio: Studio, hand_clock: HandClock
) -> None:
    """The dwell of before stays in its round, and the new one is not lost."""
    async with new_app().run_test(size=(100, 40)) as pilot:
        await _spot_test_form(pilot)
        await keys(pilot, "ctrl+t")
        hand_clock.on(4)
        await keys(pilot, "ctrl+t")
    async with new_app().run_test(size=(100, 40)) as pilot:
        await settle(pilot)
        await keys(pilot, "ctrl+b", "ctrl+t")
        hand_clock.on(3)
        await keys(pilot, "ctrl+t")
        screen = pilot.app.screen
        assert isinstance(screen, SpotTestScreen)
        assert [one.dwell for one in screen.draft.rounds] == ["4", "3", ""]
        values = [screen.query_one(f"#field-round-{place}-dwell", Input).value for place in range(3)]
        assert values == ["4", "3", ""]


async def test_a_draft_comes_back_at_the_next_start(new_app: NewApp, studio: Studio) -> None:
    """It is named at the start; Ctrl+B goes on with it; stored, it is gone from the disk."""
    async with new_app().run_test(size=(100, 40)) as pilot:
        await settle(pilot)
        pilot.app.push_screen(FormScreen("mend", "Letter 9"))
        await settle(pilot)
        pilot.app.screen.query_one("#field-site", Input).focus()
        await write(pilot, "lower edge")
    again = BenchleafApp(Studio(studio.root))
    async with again.run_test(size=(100, 40)) as pilot:
        await settle(pilot)
        said = " ".join(one.message for one in again._notifications)
        assert "Kept from before: a mend for Letter 9. Ctrl+B goes on." in said
        again.say("Another word.")
        assert "Kept from before" in " ".join(one.message for one in again._notifications), "not read yet"
        await keys(pilot, "ctrl+b")
        assert isinstance(again.screen, FormScreen)
        assert again.screen.query_one("#field-site", Input).value == "lower edge"
        assert again.screen.query_one("#field-sheet", Input).value == "Letter 9"
        await store_new(pilot)
        assert drafts(studio.root) == {}
    assert len(list_records(studio, kinds=("mend",))) == 1


async def test_a_bottle_and_a_correction_that_were_begun_come_back(new_app: NewApp, studio: Studio) -> None:
    """After the program ended: the form of the bottle holds what was typed, Ctrl+B opens the correction."""
    amended = store(studio, 1)
    async with new_app().run_test(size=(100, 40)) as pilot:
        await settle(pilot)
        pilot.app.push_screen(FewLines("New bottle", NEW_BOTTLE, new_bottle))
        await settle(pilot)
        pilot.app.screen.query_one("#field-label", Input).focus()
        await write(pilot, "by the window")
    again = BenchleafApp(Studio(studio.root))
    async with again.run_test(size=(100, 40)) as pilot:
        await settle(pilot)
        again.push_screen(FewLines("New bottle", NEW_BOTTLE, new_bottle))
        await settle(pilot)
        assert again.screen.query_one("#field-label", Input).value == "by the window"
        again.screen.query_one("#field-liquid", Input).focus()
        await write(pilot, "acetone")
        await keys(pilot, "ctrl+s")
        assert drafts(studio.root) == {}
        await keys(pilot, "f3", "a")
        assert isinstance(again.screen, AmendScreen)
        await keys(pilot, "down", "enter")
        await write(pilot, "2")
        await keys(pilot, "enter")
        await write(pilot, "looked agai")
    once_more = BenchleafApp(Studio(studio.root))
    async with once_more.run_test(size=(100, 40)) as pilot:
        await settle(pilot)
        await keys(pilot, "ctrl+b")
        assert isinstance(once_more.screen, AmendScreen)
        assert once_more.screen.field.label == "bleeding"
        assert once_more.screen.query_one("#amend-value", Input).value.endswith("2")
        once_more.screen.query_one("#amend-why", Input).focus()
        await keys(pilot, "end", "n", "enter")
        assert drafts(studio.root) == {}
    assert show_test(studio, amended).history[-1].why == "looked again"


@pytest.mark.parametrize(
    "steps",
    [
        ("f4", "down", "h", "x"),
        ("f4", "down", "h", "n"),
        ("f4", "down", "h", "o", "a"),
        ("f4", "down", "h", "o", "g"),
        ("f4", "down", "n", "enter"),
        ("f10", '"Letter 1', "c"),
        ("f10", '"Letter 1', "slash"),
        ("f10", '"Letter 1', "o", "a"),
    ],
    ids=["forbid", "bottle", "pool", "give", "own", "damage", "facts", "photographs"],
)
async def test_a_small_form_that_was_left_is_opened_from_anywhere(
    new_app: NewApp, studio: Studio, steps: tuple[str, ...]
) -> None:
    """Also after the program was closed, with what was written in it and what it stores by."""
    store(studio, 1)
    async with new_app().run_test(size=(100, 40)) as pilot:
        await settle(pilot)
        for step in steps:
            if step[0] == '"':
                await write(pilot, step[1:])
            await keys(pilot, "enter" if step[0] == '"' else step)
        form = pilot.app.screen
        assert isinstance(form, FewLines), form
        typed = form.focused
        assert isinstance(typed, FormInput)
        await write(pilot, "abc")
        await keys(pilot, "escape", "f5", "ctrl+b")
        assert isinstance(pilot.app.screen, FewLines)
    again = BenchleafApp(Studio(studio.root))
    async with again.run_test(size=(100, 40)) as pilot:
        await settle(pilot)
        await keys(pilot, "ctrl+b")
        opened = again.screen
        assert type(opened) is type(form)
        assert (opened.heading, opened.says, opened.lines) == (form.heading, form.says, form.lines)
        assert opened.query_one(f"#{typed.id}", Input).value.endswith("abc")
        assert by_name(opened.store) == by_name(form.store)
        assert callable(opened.store)


async def test_the_lines_before_long_work_are_opened_from_anywhere(new_app: NewApp) -> None:
    """What they ask is looked up anew; what was written stands there."""
    app = new_app()
    async with app.run_test(size=(100, 40)) as pilot:
        await settle(pilot)
        ask_for(app, next(one for one in ASKING if one.title == "Import a data package"))
        await settle(pilot)
        assert isinstance(app.screen, Where)
        await write(pilot, "abc")
        await keys(pilot, "escape", "f5", "ctrl+b")
        assert isinstance(app.screen, Where)
        assert app.screen.values["package"] == "abc"


async def test_a_draft_names_only_what_small_forms_store_by(new_app: NewApp, studio: Studio) -> None:
    """A draft is a file: a name in it that no form marked is not called, and nothing of it is lost, nor among
    many others."""
    again = {"store": "kb.tui.screens.long_work:_rebuild", "args": [], "given": {}}
    app = new_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        app.keep_draft(
            f"{LINES}1", 'the form "X"', {"a": "b"}, again | {"title": "X", "says": "", "does": "Y"}
        )
        await keys(pilot, "ctrl+b")
        assert isinstance(app.screen, HomeScreen)
        assert any("where you began it" in notice.message for notice in app._notifications)
        for place in range(2, 11):
            app.keep_draft(f"{LINES}{place}", f'the form "{place}{" of a long name" * 9}"', {"a": "b"})
        # Eight in two lines each are what a low screen has room for.
        as_it_was(app, Memory(welcomed=True))
        await settle(pilot)
        last = [notice.message for notice in app._notifications][-1]
        assert last.endswith(", and 9 more. Ctrl+B lists them."), "all their names were too long to be read"
        await keys(pilot, "ctrl+b")
        text = shown(app)
        assert text.index('1    the form "10') < text.index('2    the form "9') < text.index("Press the key")
        assert "2 more, begun earlier" in text
        assert "│        name of a long name of" in text, "a line that is broken runs on under its words"
        await keys(pilot, "m")
        assert '2    the form "X"' in shown(app), "what was begun first could not be opened"
        await keys(pilot, "escape")
        for place in range(2, 11):
            app.drop_draft(f"{LINES}{place}")
    assert list(drafts(studio.root)) == [f"{LINES}1"]


async def test_a_greeting_that_waited_does_not_come_while_the_program_closes(new_app: NewApp) -> None:
    """Its timer may go off when the screens are gone already."""
    app = new_app()
    async with app.run_test(size=(100, 40)) as pilot:
        await settle(pilot)
        app.first_words = True
        app.screen.query(Blank).first().show("masking tape")
        as_it_was(app, Memory(welcomed=True))
        kept, app._screen_stacks = app._screen_stacks, {app.current_mode: []}
        _once_nothing_is_typed(app, Memory(welcomed=True))
        app._screen_stacks = kept


async def test_the_sheet_of_the_last_time_is_one_key_away(new_app: NewApp, studio: Studio) -> None:
    """Where a sheet is asked for one stands on the last one, also after the program was closed."""
    for number, name in enumerate(("Letter 1", "Letter 2", "Letter 3"), 1):
        store(studio, number, sheet=name)
    async with new_app().run_test(size=(100, 40)) as pilot:
        await settle(pilot)
        await keys(pilot, "escape", "ctrl+l")
        await write(pilot, "Letter 2")
        await keys(pilot, "enter")
        assert "Plan of Letter 2" in shown(pilot.app)
    again = BenchleafApp(Studio(studio.root))
    async with again.run_test(size=(100, 40)) as pilot:
        await settle(pilot)
        await keys(pilot, "escape", "ctrl+l", "enter")
        assert "Plan of Letter 2" in shown(again)


OILY = Question(adhesive="natural-rubber", stage="oily")


async def _spot_test_form(pilot: Pilot[Any], site: str = "") -> SpotTestScreen:
    """The form of a spot of acetone on oily rubber, as it is opened, with its site typed."""
    await settle(pilot)
    app: Any = pilot.app
    app.draft = Draft.begin(OILY, Chosen("Acetone", {"acetone": 1.0}), "natural rubber, oily")
    form = SpotTestScreen(app.draft)
    app.push_screen(form)
    await settle(pilot)
    if site:
        form.query_one("#field-site").focus()
        await write(pilot, site)
    return form


async def test_a_spot_test_comes_back_with_its_question(new_app: NewApp, studio: Studio) -> None:
    """Grades and rounds too: the draft is the whole form."""
    async with new_app().run_test(size=(100, 40)) as pilot:
        form = await _spot_test_form(pilot, "corner")
        form.query_one("#release").focus()
        await keys(pilot, "3")
    again = BenchleafApp(Studio(studio.root))
    async with again.run_test(size=(100, 40)) as pilot:
        await settle(pilot)
        await keys(pilot, "ctrl+b")
        assert isinstance(again.screen, SpotTestScreen)
        assert again.draft is not None
        assert (again.draft.site, again.draft.release, again.draft.question) == ("corner", "3", OILY)
        assert again.draft.parts == {"acetone": 1.0}


async def test_what_was_just_stored_is_taken_back_by_one_key(
    new_app: NewApp, studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A withdrawal with its reason in the book; after a minute there is nothing to take back."""
    async with new_app().run_test(size=(100, 40)) as pilot:
        await settle(pilot)
        for _ in range(2):
            pilot.app.push_screen(FormScreen("mend", "Letter 9"))
            await settle(pilot)
            pilot.app.screen.query_one("#field-site", Input).focus()
            await write(pilot, "edge")
            await store_new(pilot)
        await keys(pilot, "ctrl+z", "ctrl+z")
        said = " ".join(one.message for one in pilot.app._notifications)
        assert "Taken back: mend" in said
        assert "nothing to take back" in said
        assert len([one for one in list_records(studio, kinds=("mend",)) if one.state != "withdrawn"]) == 1
        assert studio.last_written is None
        pilot.app.push_screen(FormScreen("mend", "Letter 9"))
        await settle(pilot)
        pilot.app.screen.query_one("#field-site", Input).focus()
        await write(pilot, "edge")
        await store_new(pilot)
        monkeypatch.setattr("kb.desk.records.book_list.monotonic", lambda: 1e12)
        await keys(pilot, "ctrl+z")
        assert len([one for one in list_records(studio, kinds=("mend",)) if one.state != "withdrawn"]) == 2


async def test_settings_are_set_inside_the_program(new_app: NewApp, studio: Studio) -> None:
    """Who writes and whose limits go into studio.yaml; colours hold at the next start. What is long or has
    commas is asked back once as a name; nothing is stored before."""
    question = "old masking tape, sticky, on newsprint"
    studio.make()
    async with new_app().run_test(size=(100, 40)) as pilot:
        await settle(pilot)
        await keys(pilot, "f12")
        assert isinstance(pilot.app.screen, SettingsScreen)
        await write(pilot, "QR")
        await keys(pilot, "down", "down", "down")
        await write(pilot, "nowhere")
        await keys(pilot, "ctrl+s")
        assert studio.settings.who != "QR", "half of it was stored"
        await keys(pilot, "ctrl+u")
        await write(pilot, "osha")
        await keys(pilot, "escape")
        assert isinstance(pilot.app.screen, SettingsScreen)
        assert "Settings: Who writes, Limits of as typed here is not stored yet." in flat(pilot.app)
        await keys(pilot, "ctrl+q")
        assert popped_up(pilot.app).startswith("Settings: Who writes, Limits of")
        await keys(pilot, "s", "down", "d", "ctrl+s")
        assert studio.settings.who == "QR"
        assert studio.settings.authority == "US-OSHA"
        assert studio.who == "QR"
        await keys(pilot, "f12", "end", "X", "f3", "f12", "down", "down", "down", "ctrl+u", *"EU", "ctrl+s")
        assert studio.settings.authority == "EU"
        await keys(pilot, "f2", "ctrl+s")
        assert (studio.settings.who, studio.settings.authority) == ("QRX", "EU"), "an older page took it back"
        await keys(pilot, "f12")
        # The terminal loses the focus behind a key: no line has it when the screen hears of that key.
        pilot.app.screen.focus_next()
        pilot.app.app_focus = False
        await settle(pilot)
        pilot.app.app_focus = True
        pilot.app.screen.query_one("#field-who", Input).value = question
        await keys(pilot, "ctrl+s")
        assert isinstance(pilot.app.screen, SettingsScreen)
        assert "Is this who writes" in flat(pilot.app)
        assert studio.settings.who == "QRX"
        await keys(pilot, "ctrl+s")
        assert studio.settings.who == question
    again = BenchleafApp(Studio(studio.root))
    async with again.run_test(size=(100, 40)) as pilot:
        await settle(pilot)
        assert again.theme == "lamp"


def test_other_lines_of_the_settings_stay(studio: Studio) -> None:
    """Remarks and lines that are not set here are as they were; an empty value takes a line out."""
    studio.make()
    text = studio.settings_file.read_text("utf-8") + "dials:\n  ceiling: 0.5 # careful\n"
    studio.settings_file.write_text(text)
    studio.close()
    set_line(studio, "who", 'A "B"')
    assert studio.settings.who == 'A "B"'
    assert studio.settings.dials.ceiling == 0.5
    assert "# careful" in studio.settings_file.read_text("utf-8")
    set_line(studio, "who", "")
    assert studio.settings.who == ""


@pytest.mark.parametrize(
    ("line", "said", "remark"),
    [
        (b"who: B # c", b'who: "Zed" # c', b"# c"),
        (b"who: A#B\t# c: d # e\r", b'who: "Zed"\t# c: d # e\r', b"# c: d # e\r"),
        (b'who: "A # \\" B"  # c', b'who: "Zed"  # c', b"# c"),
        (b"who: 'A # '' B' # c", b'who: "Zed" # c', b"# c"),
        (b"who: # nobody yet", b'who: "Zed" # nobody yet', b"# nobody yet"),
        (b'who: "A # B"', b'who: "Zed"', b""),
        (b"who: A#B", b'who: "Zed"', b""),
    ],
)
def test_the_comment_behind_a_setting_stays(studio: Studio, line: bytes, said: bytes, remark: bytes) -> None:
    """It went with the value; of a line that is taken out it stands alone."""
    studio.make()
    for value, put in (("Zed", said), ("", remark)):
        studio.settings_file.write_bytes(line + b"\nname: x")
        studio.close()
        set_line(studio, "who", value)
        assert studio.settings_file.read_bytes() == (put + b"\n" if put else b"") + b"name: x"


@pytest.mark.parametrize(
    "text",
    [
        b"name: Caf\xe9\n",
        b"name: x\0y\n",
        b"name: [\n",
        b"{name: x, who: AB}\n",
        b"who:\n  AB\n",
        b"name: x\nname: y\n",
        # Its second line would become one of who, and with bare returns all lines are one.
        b"who: AB\nbench: x\nwho\n",
        b"who: AB\rname: Lab\rbench: x\r",
        b"who: AB\n  CD\nname: x\n",
    ],
)
@pytest.mark.parametrize("who", ["CD", ""])
def test_settings_that_cannot_be_set_stay_as_they_are(studio: Studio, text: bytes, who: str) -> None:
    """A file that does not read, or would not any more, is told of in words and not written over."""
    studio.make()
    studio.settings_file.write_bytes(text)
    studio.close()
    with pytest.raises(DeskError, match=r"studio\.yaml"):
        set_line(studio, "who", who)
    assert studio.settings_file.read_bytes() == text


def test_the_line_itself_is_set_though_its_example_stands_above(studio: Studio) -> None:
    """Refused: the example was set, and then it stood there twice."""
    studio.make()
    studio.settings_file.write_bytes(b"# who: your mark\nwho: AB\nname: Foo\n  Bar\n")
    studio.close()
    set_line(studio, "who", "CD")
    assert studio.settings_file.read_bytes() == b'# who: your mark\nwho: "CD"\nname: Foo\n  Bar\n'
    # Its second line would go to the line above.
    with pytest.raises(DeskError, match="by hand"):
        set_line(studio, "name", "")


def test_settings_kept_elsewhere_stay_there(studio: Studio, tmp_path: Path) -> None:
    studio.make()
    elsewhere = studio.settings_file.rename(tmp_path / "elsewhere.yaml")
    studio.settings_file.symlink_to(elsewhere)
    set_line(studio, "who", "CD")
    assert studio.settings_file.is_symlink()
    assert 'who: "CD"' in elsewhere.read_text("utf-8")


def test_lines_of_the_settings_end_as_they_did(studio: Studio) -> None:
    """A file written on Windows is not turned over for one line."""
    studio.make()
    studio.settings_file.write_bytes(b"name: x\r\nwho: AB\r\n# last\r\n")
    studio.close()
    set_line(studio, "who", "CD")
    assert studio.settings_file.read_bytes() == b'name: x\r\nwho: "CD"\r\n# last\r\n'
    set_line(studio, "bench", "b2")
    assert studio.settings_file.read_bytes().endswith(b'# last\r\nbench: "b2"\r\n')


def test_a_damaged_memory_is_none(studio: Studio) -> None:
    """What cannot be read counts as nothing remembered."""
    remember(studio.root, theme="lamp")
    assert memory(studio.root).theme == "lamp"
    (studio.root / "working" / "screen.json").write_bytes(b"{half")
    assert memory(studio.root) == Memory()


async def test_who_writes_is_asked_once(new_app: NewApp, studio: Studio) -> None:
    """At the first start of a studio where nobody has said so; left open, it is not asked again."""
    for asked in (True, False):
        app = new_app()
        app.first_words = True
        async with app.run_test(size=(80, 24)) as pilot:
            await settle(pilot)
            assert isinstance(app.screen, SettingsScreen) == asked
            if asked:
                assert "Who writes here?" in flat(app)
                assert "(F12 asks later)." in shown(app), "at 80 columns it ended in the middle of the key"
                await keys(pilot, "escape")
                assert isinstance(app.screen, WelcomeScreen)
                assert "No spot test stands in this bench book yet." in flat(app), "sheets may stand there"
                await keys(pilot, "escape")


async def test_who_writes_waits_until_nothing_is_typed(new_app: NewApp) -> None:
    """Asked over a question that is being typed, it would take the rest of it for a name. A greeting popped
    up over the book, where its letters mean other things, after minutes of work."""
    app = new_app()
    async with app.run_test(size=(100, 40)) as pilot:
        await settle(pilot)
        app.first_words = True
        await keys(pilot, "f3")
        as_it_was(app, Memory())
        await settle(pilot)
        assert not isinstance(app.screen, WelcomeScreen | SettingsScreen)
        await keys(pilot, "f2")
        blank = app.screen.query(Blank).first()
        blank.show("masking tape")
        as_it_was(app, Memory(welcomed=True))
        await settle(pilot)
        assert not isinstance(app.screen, SettingsScreen)
        blank.show("")
        as_it_was(app, Memory(welcomed=True))
        await settle(pilot)
        assert isinstance(app.screen, SettingsScreen)


async def test_the_first_screen_offers_three_things_and_an_example(new_app: NewApp, studio: Studio) -> None:
    """Ask, identify, look up, each by its figure; the example has an answer; it does not come again."""
    for key, mode in (("1", "home"), ("2", "identify"), ("3", "materials"), ("4", "home")):
        remember(studio.root, welcomed=False, asked_who=True)
        app = new_app()
        app.first_words = True
        async with app.run_test(size=(100, 40)) as pilot:
            await settle(pilot)
            assert isinstance(app.screen, WelcomeScreen)
            await keys(pilot, key)
            assert app.current_mode == mode
            if key == "4":
                assert isinstance(app.screen, HomeScreen)
                assert app.screen.ranked is not None
                assert app.screen.ranked.rows
    app = new_app()
    app.first_words = True
    async with app.run_test(size=(100, 40)) as pilot:
        await settle(pilot)
        assert not isinstance(app.screen, WelcomeScreen)


async def test_a_question_typed_over_the_first_screen_is_asked(new_app: NewApp, studio: Studio) -> None:
    """In one burst, as hands do: no letter of it is obeyed, none is lost, and T then tests the first row."""
    from textual.events import Key

    from kb.tui.screens.records.spot_test import SpotTestScreen

    remember(studio.root, asked_who=True)
    app = new_app()
    app.first_words = True
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        assert isinstance(app.screen, WelcomeScreen)
        for letter in "oily masking tape on newsprint":
            app.post_message(Key("space" if letter == " " else letter, letter))
        app.post_message(Key("enter", "\r"))
        await settle(pilot)
        await settle(pilot)
        assert isinstance(app.screen, HomeScreen)
        assert app.current_mode == "home"
        assert {"tape", "stage", "paper"} <= set(app.screen.asked.filled)
        assert app.screen.ranked is not None
        first = app.screen.ranked.rows[0].liquid
        # No medium was named; the answer is there all the same, and T is meant for it.
        await keys(pilot, "t")
        assert isinstance(app.screen, SpotTestScreen)
        assert first in app.screen.draft.parts


async def test_a_studio_that_its_first_settings_make_greets_once(new_app: NewApp, tmp_path: Path) -> None:
    """The greeting was noted where no folder was yet, and came again at the second start."""
    root = tmp_path / "new studio"
    for again in (False, True):
        app = BenchleafApp(Studio(root))
        app.first_words = True
        async with app.run_test(size=(80, 24)) as pilot:
            await settle(pilot)
            await settle(pilot)
            if again:
                assert isinstance(app.screen, HomeScreen)
                break
            await write(pilot, "AB")
            await keys(pilot, "ctrl+s")
            assert isinstance(app.screen, WelcomeScreen)
            await keys(pilot, "escape")


async def test_a_draft_opened_over_the_greeting_leads_back_to_the_question(
    new_app: NewApp, studio: Studio
) -> None:
    """Who stored a mend found a greeting that offers to begin."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await pilot.app.push_screen(FormScreen("mend", "Letter 9"))
        await settle(pilot)
        pilot.app.screen.query_one("#field-site", Input).focus()
        await write(pilot, "edge")
    remember(studio.root, welcomed=False, asked_who=True)
    app = BenchleafApp(Studio(studio.root))
    app.first_words = True
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        assert isinstance(app.screen, WelcomeScreen)
        await keys(pilot, "ctrl+b")
        assert isinstance(app.screen, FormScreen)
        await keys(pilot, "escape")
        assert isinstance(app.screen, HomeScreen)


async def test_a_key_before_the_studio_is_open_is_not_told_that_nothing_was_begun(new_app: NewApp) -> None:
    """Ctrl+B at the start said that no form was left, while one lay on the disk; F12 said nothing."""
    app = new_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        app.opened = False
        for action in (app.action_drafts, app.action_settings):
            action()
            await settle(pilot)
            assert [one.message for one in app._notifications][-1].startswith("The studio is not open yet")
        app.opened = True
        app.action_drafts()
        await settle(pilot)
        assert [one.message for one in app._notifications][-1] == "No form was begun and left."


async def test_what_is_typed_behind_f12_before_the_studio_is_open_is_no_name_of_a_tape(
    new_app: NewApp, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At the start F12 did nothing, and the initials typed behind it were looked up as a tape."""
    app = new_app()
    monkeypatch.setattr(app, "open_studio", lambda: None)
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await keys(pilot, "f12")
        await write(pilot, "AB")
        assert isinstance(app.screen, HomeScreen)
        monkeypatch.undo()
        app.open_studio()
        await settle(pilot)
        assert isinstance(app.screen, SettingsScreen)
        await keys(pilot, "escape")
        assert isinstance(app.screen, HomeScreen)


async def test_keys_of_places_work_over_a_text_that_is_read(new_app: NewApp) -> None:
    """Over the help, or over why a liquid was left out, F3 did nothing, though the title line names it."""
    app = new_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await keys(pilot, "f1", "f4")
        assert (app.current_mode, len(app.screen_stack)) == ("materials", 1)
        await keys(pilot, "f2")
        assert isinstance(app.screen, HomeScreen)


async def test_keys_of_places_work_over_the_first_screen(new_app: NewApp, studio: Studio) -> None:
    """It names them, and they did nothing there; a letter right behind one is for the place."""
    for key, mode in (("f2", "home"), ("f4", "materials"), ("f5", "identify")):
        remember(studio.root, welcomed=False, asked_who=True)
        app = new_app()
        app.first_words = True
        async with app.run_test(size=(80, 24)) as pilot:
            await settle(pilot)
            assert isinstance(app.screen, WelcomeScreen)
            await keys(pilot, "f12")
            assert isinstance(app.screen, SettingsScreen)
            await keys(pilot, "escape", key)
            assert (app.current_mode, len(app.screen_stack)) == (mode, 1)


async def test_f2_over_settings_is_the_question(new_app: NewApp) -> None:
    """From every other place its key closed them; here it did nothing."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await keys(pilot, "f12", "f2")
        assert isinstance(pilot.app.screen, HomeScreen)
        await keys(pilot, "f12", "x", "f2")
        assert isinstance(pilot.app.screen, SettingsScreen), "what is typed would be lost"


async def test_what_is_typed_in_settings_takes_the_place_of_what_stood_there(
    new_app: NewApp, studio: Studio
) -> None:
    """Who took over the bench typed MK, and the records were by ABMK; the studio was My studioNorth Room."""
    set_line(studio, "who", "AB")
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await keys(pilot, "f12")
        await write(pilot, "MK")
        await keys(pilot, "down")
        await write(pilot, "North Room")
        await keys(pilot, "ctrl+s")
    assert (studio.settings.who, studio.settings.name) == ("MK", "North Room")


async def test_the_tour_goes_through_the_places(new_app: NewApp) -> None:
    """Each stop stands over the place that it speaks of; Enter goes on; it ends where it began."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await settle(pilot)
        await keys(pilot, "ctrl+g")
        for stop in STOPS:
            assert isinstance(pilot.app.screen, TourScreen)
            assert pilot.app.current_mode == stop.mode
            assert str(pilot.app.screen.query_one(Static).content) == stop.text
            await keys(pilot, "enter")
        assert isinstance(pilot.app.screen, HomeScreen)


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_the_tour_covers_nothing(new_app: NewApp, size: tuple[int, int]) -> None:
    """Its box lies on lines of its own: what is open, the line one types in and the keys stay in sight."""
    app = new_app()
    async with app.run_test(size=size) as pilot:
        await settle(pilot)
        below = await _spot_test_form(pilot)
        below.query_one("#field-remarks", FormInput).focus()
        await settle(pilot)
        await write(pilot, "Lamp was low")
        await keys(pilot, "ctrl+g")
        for _ in STOPS:
            tour = app.screen
            assert isinstance(tour, TourScreen)
            box = tour.query_one(Sheet).region
            seen = [one for one in tour.shown.query("*") if one.id != "tour-room" and one.visible]
            parts = [one for one in seen if one.parent is tour.shown and one.region]
            assert all(not box.overlaps(one.region) for one in parts), [
                one for one in parts if box.overlaps(one.region)
            ]
            if tour.shown is below:
                assert "Lamp was low" in shown(app)
                assert "stays as it is" in flat(app)
            await keys(pilot, "enter")
        assert app.screen is below
        assert not below.query("#tour-room")
        assert "Lamp was low" in shown(app)


async def test_y_copies_what_one_stands_on(new_app: NewApp) -> None:
    """The value goes where it can be pasted, and is said."""
    async with new_app().run_test(size=(100, 40)) as pilot:
        await settle(pilot)
        await keys(pilot, "f4")
        await write(pilot, "acetone")
        await keys(pilot, "down", "y")
        assert "Acetone" in pilot.app.clipboard


async def test_gloves_hold_at_once_in_a_list_that_is_there(
    new_app: NewApp, invented: Callable[..., None]
) -> None:
    """Rows and lines of a form farther apart, and fewer keys at the foot; bare hands have those of before."""
    invented()
    async with new_app().run_test(size=(80, 24)) as pilot:
        await ask(pilot, method="")

        def apart() -> int:
            rows = [n for n, row in enumerate(shown(pilot.app).split("\n")) if "Invented liquid" in row[:24]]
            return rows[1] - rows[0]

        assert apart() == 1
        await keys(pilot, "f12", *["down"] * 5)
        before = shown(pilot.app)
        await keys(pilot, "g")
        assert pilot.app.has_class("-gloves")
        assert before != shown(pilot.app)
        assert "Hands with gloves on: rows farther apart" in flat(pilot.app), "what the line does had no room"
        await keys(pilot, "u")
        assert before == shown(pilot.app)
        await keys(pilot, "g", "escape")
        assert isinstance(pilot.app.screen, HomeScreen)
        assert apart() == 2
        assert pilot.app.screen.query_one(KeyBar).size.height == 2, "the foot kept its height below"
        await keys(pilot, "f4", "down", "n", "enter", *["down"] * 3)
        assert "terpene-mixture, water." in flat(pilot.app), "the families were cut behind their key"
        await keys(pilot, "escape", "f2", "down", "f12", *["down"] * 5, "u", "escape")
        assert apart() == 1


async def test_gloves_hold_in_the_table_of_a_sheet(new_app: NewApp, studio: Studio) -> None:
    """It is the library's own, and its rows stayed as narrow as before."""
    add_sheet(studio, {"sheet": "Map 7", "size": "200 x 300 mm"})
    async with new_app().run_test(size=(80, 24)) as pilot:
        app: Any = pilot.app
        await settle(pilot)
        app.gloves = True
        await keys(pilot, "f10", *"Map 7", "enter")
        await settle(pilot)
        table = app.screen.query_one(DataTable)
        assert [row.height for row in table.rows.values()] == [2]


async def test_t_asks_about_a_spot_test_of_before_the_program_was_closed(
    new_app: NewApp, studio: Studio
) -> None:
    """Who missed the notice at the start loses no word: T goes on with it, and nothing writes it over."""
    async with new_app().run_test(size=(120, 40)) as pilot:
        await _spot_test_form(pilot, "corner")
    again = BenchleafApp(Studio(studio.root))
    async with again.run_test(size=(120, 40)) as pilot:
        await ask(pilot)
        assert "T: go on with the unfinished test of Acetone, or begin one of this row." in flat(again)
        home = again.screen
        assert isinstance(home, HomeScreen)
        assert home.ranks is not None
        assert home.ranks.here is not None
        row = home.ranks.here.name
        await keys(pilot, "escape", "t")
        assert isinstance(again.screen, AskScreen)
        assert "A spot test of Acetone is on the form and not stored." in popped_up(again)
        assert f"Put it aside and start one of {row}; Ctrl+B goes on with it" in flat(again)
        assert drafts(studio.root)["spot-test"].values["site"] == "corner"
        await keys(pilot, "g")
        assert isinstance(again.screen, SpotTestScreen)
        assert again.screen.draft.site == "corner"


async def test_a_test_that_gave_way_to_another_is_got_back(new_app: NewApp, studio: Studio) -> None:
    """N threw away what was typed without asking twice; a dwell that ran is kept with it."""
    async with new_app().run_test(size=(120, 40)) as pilot:
        app: Any = pilot.app
        await ask(pilot)
        await keys(pilot, "escape", "t", "down")
        await write(pilot, "corner")
        await keys(pilot, "ctrl+t", "escape", "t", "n")
        assert any("Its clock ran, and was stopped" in one.message for one in app._notifications)
        assert isinstance(app.screen, SpotTestScreen)
        assert app.screen.draft.site == ""
        await keys(pilot, "down")
        await write(pilot, "second")
        await keys(pilot, "escape", "ctrl+b")
        assert "put aside" in flat(app)
        aside = next(one for one in app.drafts if one != "spot-test")
        await keys(pilot, str(list(app.drafts).index(aside) + 1))
        assert isinstance(app.screen, SpotTestScreen)
        assert (app.screen.draft.site, app.screen.draft.rounds[0].dwell) == ("corner", "0")
        # The other gave way in its turn, on disk too.
        assert sorted(one.values["site"] for one in drafts(studio.root).values()) == ["corner", "second"]
        await keys(pilot, "f9", "delete")
        assert [one.values["site"] for one in drafts(studio.root).values()] == ["second"]


async def test_a_test_taken_back_is_on_the_form_again(new_app: NewApp, studio: Studio) -> None:
    """Ctrl+Z after a slip: T holds all that was stored, to be mended and stored again."""
    add_sheet(studio, {"sheet": "Map 7"})
    async with new_app().run_test(size=(120, 40)) as pilot:
        await settle(pilot)
        app: Any = pilot.app
        app.draft = a_draft(sheet="Map 7", site="corner", release="3", harm={"bleed": "0"})
        app.draft.rounds[0].dwell = "30"
        app.screen._open_form()
        await settle(pilot)
        await keys(pilot, "ctrl+s")
        assert app.draft is None
        await keys(pilot, "ctrl+z")
        assert "T goes on with it on the form." in " ".join(one.message for one in app._notifications)
        assert drafts(studio.root)["spot-test"].says == "a spot test of Acetone on Map 7"
        app.screen.action_test()
        await settle(pilot)
        await keys(pilot, "g")
        assert isinstance(app.screen, SpotTestScreen)
        assert app.screen.query_one("#field-site", Input).value == "corner"
        await keys(pilot, "ctrl+s")
        assert drafts(studio.root) == {}
    states = sorted(one.state for one in list_records(studio, kinds=("test",)))
    assert states == ["", "withdrawn"]
