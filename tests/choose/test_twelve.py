"""The twelve questions of docs: the page says what the tool says, and the tool what the trade would."""

from __future__ import annotations

from kb.desk.studio import Studio
from tests.choose.twelve import PAGE, QUESTIONS, answers, page


def test_the_page_says_what_the_tool_says(studio: Studio) -> None:
    """``python -m tests.choose.twelve`` writes it anew."""
    assert PAGE.read_text(encoding="utf-8") == page(studio)


def test_the_first_lines_are_those_of_the_trade(studio: Studio) -> None:
    """By the agent of the first line; common practice, no source. None: the tool stops."""
    first = [
        studio.compiled.by_id[answer.groups[0].liquid].agent if answer.groups else None
        for answer in answers(studio)
    ]
    ladder = dict(zip((one.words for one in QUESTIONS), first, strict=True))
    assert ladder["Fresh rubber tape on letterpress, wood pulp"] == "aliphatics"
    assert ladder["The same, oily"] == "aliphatics"
    assert ladder["Masking tape, oily, on iron gall ink, rag"] == "aliphatics"
    assert ladder["Starch paste on bare rag"] == "water"
    assert ladder["Animal glue on iron gall ink, rag"] is None
    assert ladder["Acetate laminate on iron gall ink, rag"] == "acetone"
    assert ladder["Silicone residue on graphite, rag"] in {"aliphatics", "aromatics"}
