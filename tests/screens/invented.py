"""An answer that no catalogue has, so that pictures and checks of layout do not change with the data."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from textual.app import App
from textual.pilot import Pilot

from kb.desk.materials.safety import SafetyNote
from kb.model.question import Answer, Chance, Evidence, Question, Suggestion, Vetoed
from kb.tui.app import BenchleafApp
from kb.tui.screens.choose.asked import Asked, Filled
from kb.tui.screens.choose.home import HomeScreen
from kb.tui.screens.choose.ranking import Ranked
from tests.screens.screen_help import settle

SIZES = [(80, 24), (120, 40)]
NewApp = Callable[[], BenchleafApp]


def home(app: App[Any]) -> HomeScreen:
    """The home screen, which must be the one that is shown."""
    assert isinstance(app.screen, HomeScreen)
    return app.screen


def suggestion(rank: int, name: str, **fields: Any) -> Suggestion:
    """A row with made-up figures."""
    usual: dict[str, Any] = {
        "rank": rank,
        "liquid": f"invented-{rank}",
        "name": name,
        "parts": {f"invented-{rank}": 1.0},
        "method": "swab",
        "release": Chance(p=0.62, low=0.31, high=0.88),
        "harm": Chance(p=0.08, low=0.0, high=0.2),
        "release_general": Chance(p=0.62, low=0.31, high=0.88),
        "harm_general": Chance(p=0.08, low=0.0, high=0.2),
        "harm_by_medium": {"invented-ink": Chance(p=0.08, low=0.0, high=0.2)},
        "worst_medium": "invented-ink",
        "red_adhesive": 0.8,
        "red_medium": None,
        "index": 5.0,
        "hazard": 0.4,
        "evidence": Evidence(own=2, similar=14, print=1.5),
        "cautions": ("warn: Highly flammable.", "note: Lingers in the sheet."),
        "reason": "2 earlier tests on 1 similar tape: released 2 (chemistry alone expected 1.1)",
        "details": ("Same class here: 2 tests, 2 released.", "In print: 2 outcomes."),
    }
    return Suggestion(**{**usual, **fields})


def invented_answer(names: Mapping[int, str] | None = None) -> Ranked:
    """An answer that no catalogue has, so that pictures do not change with the data."""
    listed = {place: f"Invented liquid {place}" for place in range(1, 13)} | dict(names or {})
    rows = tuple(suggestion(place, name) for place, name in listed.items())
    answer = Answer(
        question=Question(),
        suggestions=rows,
        refused=(suggestion(0, "Invented refused", refused="harm could be as high as 74%"),),
        vetoed=(Vetoed(liquid="x", name="Invented vetoed", caution="c", text="Melts the carrier."),),
        left_out=(),
        stop=None,
        rests_on="Rests on own tests of the same class, chemistry.",
        next_step="Test first: Invented liquid 1, by swab.",
        mock_up="",
        disclaimer="A proposal for a test, not a treatment.",
    )
    note = SafetyNote(
        name="Invented liquid",
        signal_word="Danger",
        statements=("H225 Highly flammable liquid and vapour",),
        limits=("EU 500 ppm (8 h)",),
        fire=("flash point -20 °C",),
        restrictions=(),
        defer="Screening only.",
    )
    return Ranked(answer, rows, {one.liquid: note for one in rows})


async def asked(pilot: Pilot[Any]) -> None:
    """Fill the blanks with invented names, without the picker."""
    await settle(pilot)
    screen = home(pilot.app)
    screen.asked = Asked(
        {
            "tape": Filled("adhesive", "invented-adhesive", "Invented rubber (with more in brackets)"),
            "stage": Filled("stage", "invented-stage", "Invented stage"),
            "medium": Filled("medium", "invented-ink", "Invented ink"),
            "paper": Filled("paper", "invented-paper", "Invented paper"),
        }
    )
    screen._question_changed()
    await settle(pilot)
    screen.action_to_list()
    await settle(pilot)
