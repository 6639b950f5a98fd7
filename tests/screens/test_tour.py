"""The tour in docs/tour.md: every question, its keys, and the words that the screen answers with."""

from __future__ import annotations

import re
import shutil
from pathlib import Path
from typing import NamedTuple

import pytest
from textual import events

from kb.desk.demo import open_demo
from kb.tui.app import BenchleafApp
from tests.screens.screen_help import flat, settle

TOUR = Path(__file__).parents[2] / "docs" / "tour.md"
KEY_OR_WORDS = re.compile(r"`([^`]+)`|\"([^\"]+)\"")
ANSWER = re.compile(r"\*([^*]+)\*")
NAMES = {"/": "slash", "Esc": "escape", "Del": "delete", "Space": "space", "PgDn": "pagedown"}


class Stop(NamedTuple):
    """One question of the tour: keys are key names, or words to type (marked by ``typed``)."""

    title: str
    keys: tuple[tuple[str, bool], ...]
    answers: tuple[str, ...]


def stops() -> list[Stop]:
    """All questions of the tour."""
    found = []
    for section in TOUR.read_text(encoding="utf-8").split("\n### ")[1:]:
        title, _, rest = section.partition("\n")
        keys, _, answer = rest.partition("The screen answers:")
        pressed = tuple(
            (typed, True) if typed else (NAMES.get(key, key.lower().replace("^", "ctrl+")), False)
            for key, typed in KEY_OR_WORDS.findall(keys)
        )
        answers = tuple(" ".join(one.split()) for one in ANSWER.findall(answer))
        found.append(Stop(title.strip(), pressed, answers))
    return found


def test_the_tour_has_twenty_questions() -> None:
    """Each with keys and with words that the screen answers."""
    found = stops()
    assert len(found) >= 20
    assert all(stop.keys and stop.answers for stop in found)


@pytest.mark.parametrize("stop", stops(), ids=lambda stop: stop.title.split(".")[0])
async def test_the_screen_answers(stop: Stop, blank_index: Path, tmp_path: Path) -> None:
    """The keys lead to a screen that shows the words."""
    demo = open_demo(tmp_path / "demo")
    # The catalogue is that of every studio; only the book is read anew.
    shutil.copy(blank_index, demo.root / "index.db")
    app = BenchleafApp(demo)
    async with app.run_test(size=(120, 40)) as pilot:
        await settle(pilot)
        for words, typed in stop.keys:
            if not typed:
                await pilot.press(words)
            else:
                for letter in words:
                    app.post_message(events.Key("space" if letter == " " else letter, letter))
            await settle(pilot)
            await settle(pilot)
        seen = flat(app)
        for answer in stop.answers:
            assert answer in seen, f"{stop.title}: {answer!r} not in {seen}"
