"""Pressing and drying by keyboard alone: steps, ticks, timers for the blotters, and what a restart keeps."""

from __future__ import annotations

from typing import Any

import pytest
from textual.app import App
from textual.pilot import Pilot

from kb.desk.making.recipe import steps_state
from kb.desk.making.steps import KeptTimer, kept_timers
from kb.desk.materials.measured import Measured, Told
from kb.desk.sheet.press import Pressing, PressPlan, PressStep, pressing
from kb.desk.studio import Studio
from kb.tui.app import BenchleafApp
from kb.tui.clock import Timers
from kb.tui.screens.making.recipe_words import time_words
from kb.tui.screens.note import AskScreen
from kb.tui.screens.sheet import press
from kb.tui.screens.sheet.press import PRESS, PressScreen, rough_words
from kb.tui.screens.sheet.sheet import SheetScreen
from tests.screens.conftest import HandClock
from tests.screens.making_help import IDS, SIZES, NewApp, invented_opened, opened, to_step
from tests.screens.screen_help import HOSTILE, flat, keys, keys_fit, settle, shown, write


def notices(app: App[Any]) -> str:
    """All notices in the corner."""
    return " ".join(notice.message for notice in app._notifications)


async def pressed(pilot: Pilot[Any], *after: str) -> PressScreen:
    """From the first screen to the plan of a sheet and on to pressing it."""
    await settle(pilot)
    await keys(pilot, "escape", "ctrl+l")
    await write(pilot, "Map 2")
    await keys(pilot, "enter", "d", *after)
    screen = pilot.app.screen
    assert isinstance(screen, PressScreen)
    return screen


async def restored(pilot: Pilot[Any]) -> None:
    """Until the studio is open and the timers that were kept run again; then the clocks tick twice."""
    app = pilot.app
    assert isinstance(app, BenchleafApp)
    for _ in range(200):
        if app.timers.any_runs:
            break
        await settle(pilot)
    app.tick()
    app.tick()
    await settle(pilot)


async def test_a_timer_asks_for_one_notice_of_the_desktop(
    new_app: NewApp, hand_clock: HandClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Once, in one code that what the timer is called cannot end or open anew."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        app = pilot.app
        assert isinstance(app, BenchleafApp)
        await settle(pilot)
        written: list[str] = []
        monkeypatch.setattr(app._driver, "write", written.append)
        app.timers.toggle("any", "4;1 \x1b]0;x\x07 \x9c\nMap", 30)
        hand_clock.on(31)
        app.tick()
        app.tick()
        asked = [code for code in written if code.startswith("\x1b]9;")]
        assert len(asked) == 1
        words = asked[0].removeprefix("\x1b]9;").removesuffix("\x07")
        assert words.startswith("Timer: 4;1")
        assert words.endswith("Map: the time is reached.")
        assert words.isprintable()


async def test_steps_are_ticked_and_the_bell_rings_for_fresh_blotters(
    new_app: NewApp, studio: Studio, hand_clock: HandClock
) -> None:
    """On whatever screen one is; each job has its own ticks, and they can all be taken back."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        app = pilot.app
        assert isinstance(app, BenchleafApp)
        screen = await pressed(pilot, "m")
        assert "Pressing of Map 2 after a mend" in flat(app)
        await keys(pilot, "t", "f3")
        assert "timer 00:00" in shown(app)
        hand_clock.on(301)
        app.tick()
        app.tick()
        await settle(pilot)
        assert notices(app).count("Map 2, step 1 of pressing - change the blotters: the time is reached") == 1
        await keys(pilot, "f8", "f10", "space")
        app.tick()
        await settle(pilot)
        assert screen.pane.here is not None
        assert screen.pane.here.step == 1
        assert "[x] 1." in flat(app)
        assert "timer" not in flat(app)
        await keys(pilot, "f")
        assert "Pressing of Map 2 after flattening" in flat(app)
        assert "Steps: 0 of 3 ticked" in flat(app)
        screen.action_job("mend")
        # As keys typed ahead: the plan after a mend is not shown yet.
        screen.action_tick_here()
        screen.action_timer()
        await settle(pilot)
        assert list(pressing(studio, "Map 2", "mend").state.ticked) == [1], "a step that was not shown"
        app.timers.toggle("press/mend/Map 2/3/1", "another sheet", None)
        await keys(pilot, "z")
        assert isinstance(app.screen, AskScreen)
        await keys(pilot, "delete")
        assert "Steps: 0 of 3 ticked" in flat(app)
        assert app.timers.words("press/mend/Map 2/3/1"), "the timer of Map 2/3 went too"
        await keys(pilot, "t")
        assert app.timers.of("press/mend/Map 2")
        await keys(pilot, "z", "delete")
        assert not app.timers.of("press/mend/Map 2"), (
            "on the wrong step, and there was no way to be rid of it"
        )
        await keys(pilot, "home", "t")
        assert "Stand on a step to time it" in notices(app)
        await keys(pilot, "escape")
        assert isinstance(app.screen, SheetScreen)
    assert not pressing(studio, "Map 2", "mend").state.ticked


async def test_a_second_space_takes_the_tick_back_and_what_is_done_is_a_record(
    new_app: NewApp, studio: Studio
) -> None:
    """Nobody ticks what was not done yet by pressing once more; the last tick asks to write it down."""
    async with new_app().run_test(size=(80, 24)) as pilot:
        await pressed(pilot, "h")
        await keys(pilot, "space")
        assert isinstance(pilot.app.screen, AskScreen)
        await keys(pilot, "l", "space")
        assert not pressing(studio, "Map 2", "hinge").state.ticked
        await keys(pilot, "m", "space", "space")
        assert not pressing(studio, "Map 2", "mend").state.ticked
        await keys(pilot, "space", "down", "space", "down", "space", "s")
        assert "Stored and on disk: pressing " in notices(pilot.app)
        assert not pressing(studio, "Map 2", "mend").state.ticked
        await keys(pilot, "escape")
        assert "Pressing: after a mend, 3 steps, fresh blotters 3 times" in flat(pilot.app)


async def test_ticks_and_running_timers_outlive_the_program(studio: Studio, hand_clock: HandClock) -> None:
    """An overnight press goes on by the time on the wall; the plan that is under way is shown first."""

    def app() -> BenchleafApp:
        return BenchleafApp(studio, now=HandClock(), wall=hand_clock)

    async with app().run_test(size=(80, 24)) as pilot:
        await pressed(pilot, "m")
        await keys(pilot, "space", "down", "t", "down", "t", "t")
    hand_clock.on(19 * 60)
    async with app().run_test(size=(80, 24)) as pilot:
        await restored(pilot)
        assert "timer 19:00" in shown(pilot.app)
        await pressed(pilot)
        text = flat(pilot.app)
        assert "[x] 1." in text
        assert "timer 19:00 of 20:00, running" in text
        assert "timer 00:00 of 4:00:00, paused" in text
    hand_clock.on(8 * 3600)
    async with app().run_test(size=(80, 24)) as pilot:
        await restored(pilot)
        assert notices(pilot.app).count("Map 2, step 2 of pressing - change the blotters") == 1
        await pressed(pilot)
        await keys(pilot, "space")
    assert [key.rpartition("/")[2] for key in kept_timers(studio)] == ["3"]


async def test_the_timer_of_a_recipe_outlives_the_program_too(studio: Studio, hand_clock: HandClock) -> None:
    """Paused as it was, running by the time that has passed; a tick or starting over ends it."""
    async with BenchleafApp(studio, now=HandClock(), wall=hand_clock).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await to_step(pilot, screen, 2)
        await keys(pilot, "t")
    hand_clock.on(600)
    async with BenchleafApp(studio, now=HandClock(), wall=hand_clock).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        assert "timer 10:00 of 15:00, running" in flat(pilot.app)
        await to_step(pilot, screen, 2)
        await keys(pilot, "t")
        (kept,) = kept_timers(studio).values()
        assert (kept.counted_s, kept.since, kept.aim_s) == (600.0, "", 900.0)
        await keys(pilot, "space")
    assert kept_timers(studio) == {}
    assert list(steps_state(studio, "wheat-paste-hot-plate").ticked) == [2]


def test_what_is_no_timer_on_disk_is_left_alone(studio: Studio, hand_clock: HandClock) -> None:
    """Half a file, a time that lies ahead or is none: nothing counts down wrongly, nothing is raised."""
    folder = studio.root / "working"
    folder.mkdir(parents=True)
    (folder / "press-wash-a-000000.json").write_text('{"recipe": "press/wash/a", "version"')
    (folder / "recipe-x.json").write_text('{"recipe": "x", "version": "", "timers": {"1": 3}}')
    assert kept_timers(studio) == {}
    timers = Timers(hand_clock, hand_clock)
    ahead = "2999-01-01T00:00:00+00:00"
    timers.take_up(
        {
            "a/1": KeptTimer(about="a", aim_s=60.0, counted_s=-5.0, since=ahead),
            "a/2": KeptTimer(about="b", aim_s=60.0, counted_s=70.0),
            "a/3": KeptTimer(about="c", since="yesterday"),
        }
    )
    assert timers.words("a/1") == "00:00 of 01:00, running"
    assert timers.words("a/2") == "01:10 of 01:00, paused, REACHED"
    assert timers.words("a/3") == "00:00, running"
    assert list(timers.due()) == []


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (20, 30, "20 to 30 min"),
        (60, 120, "60 to 120 min"),
        (120, 240, "2 to 4 h"),
        (720, 1440, "12 to 24 h"),
        (10080, 30240, "1 to 3 weeks"),
        (30, 720, "30 min to 12 h"),
        (100, 200, "100 to 200 min"),
        (5, None, "5 min"),
        (None, None, ""),
    ],
)
def test_times_in_words(low: float | None, high: float | None, words: str) -> None:
    """Hours and days only where both ends are whole."""
    assert time_words(low, high) == words


def test_a_sum_of_times_is_rounded() -> None:
    """To days or hours."""
    assert rough_words(10960, 32010) == "about 8 to 22 days"
    assert rough_words(265, 1515) == "about 4 to 25 h"
    assert rough_words(10, 15) == "10 to 15 min"


@pytest.mark.parametrize("size", SIZES, ids=IDS)
async def test_fits(new_app: NewApp, size: tuple[int, int]) -> None:
    """No key is cut off, and help names every key."""
    async with new_app().run_test(size=size) as pilot:
        await pressed(pilot, "space")
        assert keys_fit(pilot.app)
        if size[1] > 30:
            await keys(pilot, "f1")
            for act in PRESS:
                assert act.says in flat(pilot.app)


def invented_pressing() -> Pressing:
    """Two steps with hostile words, the first ticked."""
    usual = {"unit": "min", "model": "guideline", "sources": ("invented",), "mark": "from memory"}
    minutes = Measured(low=5.0, high=60.0, **usual)
    state = invented_opened().state
    steps = tuple(
        PressStep(number=number, text=one.text, minutes=minutes, blotters=number, timer_s=300.0)
        for number, one in enumerate(state.steps, 1)
    )
    plan = PressPlan(
        after="mend",
        steps=steps,
        blotter_changes=2,
        in_all=minutes,
        rules=(Told(text=HOSTILE, sources=("invented",), mark="from memory"),),
        note="An invented note.",
    )
    return Pressing(plan=plan, state=state)


@pytest.mark.parametrize("size", SIZES, ids=IDS)
def test_picture_of_pressing(
    new_app: NewApp, size: tuple[int, int], snap_compare: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Steps, ticks, a timer, and what to mind, with invented words."""
    monkeypatch.setattr(press, "fetch", lambda *_, **__: invented_pressing())
    monkeypatch.setattr("kb.desk.making.steps.keep_timer", lambda *_, **__: None)

    async def before(pilot: Pilot[Any]) -> None:
        await pressed(pilot, "t", "t")

    assert snap_compare(new_app(), terminal_size=size, run_before=before)
