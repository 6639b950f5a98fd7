"""Looks and an answer that no catalogue has, and finding one's way to a look by the keyboard."""

from __future__ import annotations

from typing import Any

import pytest
from textual.app import App
from textual.pilot import Pilot

from kb.model.identification import (
    Alike,
    Identification,
    NextLook,
    OnDocuments,
    Option,
    RankedTape,
    Reason,
    Seen,
    StageChance,
)
from kb.tui.screens.identify import looking
from kb.tui.screens.identify.looking import Weighed
from kb.tui.screens.identify.screen import IdentifyScreen
from tests.screens.screen_help import keys, settle

NAMES = {1: "Invented creased tape", 2: "Invented shiny tape", 3: "Invented cloth tape"}


def here(app: App[Any]) -> IdentifyScreen:
    """The screen, which must be the one that is shown."""
    assert isinstance(app.screen, IdentifyScreen)
    return app.screen


async def opened(pilot: Pilot[Any]) -> None:
    """Go to the screen."""
    await settle(pilot)
    await keys(pilot, "f5")


async def go_to(pilot: Pilot[Any], look: str) -> None:
    """Down the list until one stands on the look."""
    screen = here(pilot.app)
    await keys(pilot, "escape", "home")
    for _ in range(len(screen.looks.rows)):
        if screen.looks.here is not None and screen.looks.here.look == look:
            return
        await pilot.press("down")
    raise AssertionError(f"no look {look}")


async def answer(pilot: Pilot[Any], look: str, *pressed: str) -> None:
    """Open a look and press the keys of its finding."""
    await go_to(pilot, look)
    await keys(pilot, "enter", *pressed)


async def five_looks(pilot: Pilot[Any]) -> None:
    """Paper, finely wrinkled, tan, oily with threads, put on in 1935: masking tape as it is at its worst."""
    await answer(pilot, "made-of", "2")
    await answer(pilot, "crinkled", "1")
    await answer(pilot, "colour", "3")
    await answer(pilot, "oil", "3")
    await answer(pilot, "year", *"1935", "enter")


def look(name: str, question: str, bits: float, *words: str, cost: str = "none") -> NextLook:
    """A look with made-up findings."""
    return NextLook(
        look=name,
        question=question,
        how=f"Invented way of looking: {question}",
        cost=cost,
        bits=bits,
        tape_bits=bits,
        findings=tuple(Option(id=f"f{place}", words=said) for place, said in enumerate(words)),
    )


def invented_looks(question: str = "Invented question, is it so?") -> tuple[NextLook, ...]:
    """Looks of every group; some are named in the list of places, some a studio's own."""
    return (
        look("gloss", question, 0.9, "Invented shine", "Invented dullness"),
        look("weave", "Invented weave", 0.6, "woven", "not woven"),
        look("own-finger", "Invented pull", 0.4, "far", "a little", cost="needs a loose end"),
        look("water-strip", "Invented drop", 0.3, "limp", "nothing", cost="removes a crumb"),
        look("uv", "Invented lamp", 0.2, "bright", "dark", cost="needs a lamp or filter"),
        look("own-laboratory", "Invented spectrum", 1.4, "one", "two", cost="needs a laboratory"),
        look("own-year", "Invented year", 0.1, "before 1950", "1950 or later"),
    )


def invented_tape(rank: int, name: str, p: float) -> RankedTape:
    """A tape with made-up reasons."""
    reasons = (
        Reason(
            look="gloss",
            finding="f0",
            factor=4.0,
            sources=(),
            mark="from memory",
            text="Shine speaks for it.",
        ),
        Reason(
            look="weave", finding="f1", factor=0.4, sources=("s",), mark="", text="Weave speaks against it."
        ),
        Reason(look="uv", finding="f1", factor=1.0, sources=("s",), mark="", text="Lamp says nothing."),
    )
    return RankedTape(
        rank=rank,
        tape=f"invented-{rank}",
        name=name,
        adhesive="invented-adhesive",
        carrier="invented-carrier",
        p=p,
        words="likely" if p > 0.5 else "unlikely",
        stages=(
            StageChance(stage="a", name="Invented fresh (first)", p=0.7),
            StageChance(stage="b", name="Invented old", p=0.3),
        ),
        on_documents=OnDocuments(
            how="usual", weight=9.0, sources=("s",), mark="", text="taken as usual on documents"
        ),
        reasons=reasons,
    )


def invented_weighed(names: dict[int, str] | None = None, **fields: Any) -> Weighed:
    """An answer that no catalogue has, so that pictures do not change with the data."""
    named = NAMES | (names or {})
    looks = invented_looks(named.get(0, "Invented question, is it so?"))
    chances = (0.66, 0.2, 0.1)
    usual: dict[str, Any] = {
        "findings": (Seen(look="gloss", question="Invented question", finding="f0", words="Invented shine"),),
        "ranked": tuple(invented_tape(rank, named[rank], p) for rank, p in enumerate(chances, start=1)),
        "unknown": 0.04,
        "unknown_words": "very unlikely",
        "stages": (StageChance(stage="a", name="Invented fresh", p=0.7),),
        "fits": True,
        "flat": False,
        "entropy_bits": 1.0,
        "evenness": 0.5,
        "verdict": f"{named[1]}: likely, 66 %.",
        "next_looks": looks[1:],
        "alike": (Alike(tapes=("invented-1", "invented-2"), text="No look left tells these two apart."),),
        "prior": "Invented start: all alike.",
        "scale": "Invented scale of words.",
        "disclaimer": "Invented disclaimer: no analysis.",
    }
    return Weighed(looks, Identification(**{**usual, **fields}))


def weigh_as_invented(
    monkeypatch: pytest.MonkeyPatch, names: dict[int, str] | None = None, **fields: Any
) -> None:
    """Every question to the desk answers with invented tapes."""
    monkeypatch.setattr(looking, "weigh", lambda *_, **__: invented_weighed(names, **fields))
