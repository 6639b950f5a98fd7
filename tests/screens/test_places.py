"""The table of places names screens that are there, by keys that are free."""

from __future__ import annotations

from collections import Counter

import pytest

from kb.tui.actions import APP
from kb.tui.places import PLACES, Place
from kb.tui.screens.note import EVERYWHERE


def test_no_two_places_or_actions_of_the_app_have_one_key() -> None:
    """The second of two would never be reached, and nothing says so."""
    taken = Counter(act.key for act in APP)
    assert [key for key, often in taken.items() if often > 1] == [], "two places or actions have this key"


@pytest.mark.parametrize("place", PLACES, ids=lambda one: one.mode)
def test_a_place_is_there_and_explains_itself(place: Place) -> None:
    """Its module and class are found, F1 has something to say there, and every help lists its key."""
    screen = place.make()
    assert getattr(screen, "HELP", ""), "what F1 says: HELP of the screen"
    assert getattr(screen, "TITLE_WORDS", ""), "what the help is headed by: TITLE_WORDS of the screen"
    listed = any(line.startswith(f"{place.key.upper()} ") for line in EVERYWHERE.splitlines())
    assert listed, "its line in EVERYWHERE of kb/tui/screens/note.py"
