"""The stages that are offered while one asks: those of the adhesive, each with what one sees."""

from __future__ import annotations

import pytest

from kb.desk.studio import Studio
from kb.tui.screens.choose.asked import Asked, Filled
from kb.tui.screens.choose.find import Offer, offers


def offered(studio: Studio, adhesive: str) -> dict[str, Offer]:
    """What the blank of the stage lists before anything is typed, but for "not known"."""
    asked = Asked()
    if adhesive:
        asked.put("tape", Filled("adhesive", adhesive, adhesive))
    return {one.what.id: one for one in offers(studio, "stage", "", asked) if one.what is not None}


@pytest.mark.parametrize(
    ("adhesive", "stages"),
    [
        ("animal-glue", ["fresh", "aged"]),
        ("starch-dextrin", ["fresh", "aged"]),
        ("acrylic", ["fresh", "aged"]),
        ("natural-rubber-resin", ["induction", "oily", "crosslinked"]),
        ("natural-rubber-uncured-cement", ["induction", "tacky", "crosslinked"]),
    ],
)
def test_only_stages_of_the_adhesive_are_offered(adhesive: str, stages: list[str], studio: Studio) -> None:
    """In order of age; with no adhesive named all of them."""
    assert list(offered(studio, adhesive)) == stages
    assert len(offered(studio, "")) >= 6


def test_a_stage_says_what_one_sees_and_no_glue_of_water_creeps(studio: Studio) -> None:
    """The words of the trade for a stage tell nobody how to judge it."""
    rubber = offered(studio, "natural-rubber-resin")
    assert rubber["oily"].words == "stage: very sticky, stringy, oily and beginning to yellow"
    assert rubber["crosslinked"].words == "stage: No tack is left"
    assert offered(studio, "animal-glue")["aged"].name == "Aged"
