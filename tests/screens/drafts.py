"""A draft of a spot test, as a row of the ranking begins it."""

from __future__ import annotations

from typing import Any

from kb.model.question import Question
from kb.tui.screens.records.draft import Draft
from tests.screens.invented import suggestion

QUESTION = Question(
    adhesive="natural-rubber-resin", stage="fresh", medium="bare-paper", paper="paper-rag", method="gel"
)


def a_draft(**fields: Any) -> Draft:
    """A draft as a row of the ranking begins it."""
    one = suggestion(1, "Acetone", liquid="acetone", parts={"acetone": 1.0})
    draft = Draft.begin(QUESTION, one, "Lift rubber, fresh, from nothing on rag", "Bare paper, no medium")
    for name, value in fields.items():
        setattr(draft, name, value)
    return draft
