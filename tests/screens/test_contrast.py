"""Text stands out from what is behind it, in every theme and without colour; fields can be seen."""

from __future__ import annotations

import re
from functools import cache
from typing import Any

import pytest
from rich.color import Color as RichColor
from rich.color_triplet import ColorTriplet
from textual.app import App
from textual.color import Color
from textual.pilot import Pilot

from kb.tui.app import BenchleafApp
from kb.tui.themes import THEMES
from scripts.pictures import NO_COLOUR, turn_to
from tests.screens.screen_help import settle

LEAST = 4.5
"""WCAG 2.2, success criterion 1.4.3: contrast of text of ordinary size. Checked against the standard's own
pairs below; the standard itself: https://www.w3.org/TR/WCAG22/#contrast-minimum (as known, not opened)."""


def luminance(colour: ColorTriplet) -> float:
    """Relative luminance as WCAG defines it, 0 to 1."""
    parts = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4
        for part in (value / 255 for value in colour)
    )
    red, green, blue = parts
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@cache
def ratio(one: ColorTriplet, other: ColorTriplet) -> float:
    """Contrast of two colours, 1 to 21."""
    dark, bright = sorted((luminance(one), luminance(other)))
    return (bright + 0.05) / (dark + 0.05)


def pale(app: App[Any]) -> list[str]:
    """Pieces of text that are seen with less contrast than text must have."""
    found = []
    for strip in app.screen._compositor.render_strips():
        for segment in strip.apply_filter(app._filters[-1], Color(0, 0, 0)) if app.no_color else strip:
            style = segment.style
            if not re.search(r"[^\W_]", segment.text) or style is None:
                continue
            front, back = (_triplet(one) for one in (style.color, style.bgcolor))
            if front and back and ratio(front, back) < LEAST:
                found.append(f"{segment.text.strip()!r} {front.hex} on {back.hex}: {ratio(front, back):.2f}")
    return found


def _triplet(colour: RichColor | None) -> ColorTriplet | None:
    return colour.get_truecolor() if colour is not None and not colour.is_default else None


@pytest.mark.parametrize(
    ("one", "other", "known"),
    [("#000000", "#ffffff", 21.0), ("#777777", "#ffffff", 4.48), ("#ff0000", "#ffffff", 4.0)],
)
def test_contrast_is_reckoned_as_the_standard_does(one: str, other: str, known: float) -> None:
    """Black on white, and the two greys and reds that are often given as examples (from memory)."""
    front, back = (Color.parse(text).rich_color.get_truecolor() for text in (one, other))
    assert ratio(front, back) == pytest.approx(known, abs=0.01)


@pytest.mark.parametrize("theme", THEMES, ids=[theme.name for theme in THEMES])
def test_every_pair_of_a_theme_can_be_read(theme: Any) -> None:
    """Each colour of text on each of the grounds on which it is put, and cursors on theirs."""
    made = theme.to_color_system().generate()
    grounds = ("background", "surface", "panel")
    texts = ("foreground", "primary", "secondary", "accent", "warning", "error", "success")
    pairs = [(text, ground) for text in (*texts, "text-disabled") for ground in grounds]
    pairs += [("block-cursor-foreground", "block-cursor-background")]
    pairs += [("block-cursor-blurred-foreground", "block-cursor-blurred-background")]
    pairs += [("footer-key-foreground", "panel")]
    for text, ground in pairs:
        back = Color.parse(made[ground])
        front = back.blend(Color.parse(made[text]), Color.parse(made[text]).a)
        seen = ratio(front.rich_color.get_truecolor(), back.rich_color.get_truecolor())
        assert seen >= LEAST, f"{theme.name}: {text} on {ground}: {seen:.2f}"
    assert made["surface"] != made["background"], "a line to type in cannot be told from what is round it"


async def check_contrast(app: BenchleafApp, pilot: Pilot[Any], scene: str) -> None:
    """Every piece of text of a screen in every theme: called for every screen by ``test_every_screen.py``."""
    for theme in (*(one.name for one in THEMES), NO_COLOUR):
        turn_to(app, theme)
        await settle(pilot)
        app.clear_notifications()
        await settle(pilot)
        assert not (found := pale(app)), f"{scene}, {theme}: {found}"
