"""Twelve typical questions, what the trade would say, and the page of docs that shows the answers.

What the trade would say is common practice without a source; no conservator has read the page yet.
``python -m tests.choose.twelve`` in a checkout writes the page anew.
"""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import NamedTuple

from kb.desk.choose.choose import choose
from kb.desk.studio import Studio
from kb.model.question import Answer, Question

PAGE = Path(__file__).parents[2] / "docs" / "twelve-questions.md"
LINES = 5


class Asked(NamedTuple):
    """A question, in words and in ids, and what the trade would say."""

    words: str
    question: Question
    trade: str


def _on(adhesive: str, stage: str, medium: str, paper: str, carrier: str = "") -> Question:
    return Question(adhesive=adhesive, stage=stage, medium=medium, paper=paper, carrier=carrier)


QUESTIONS = (
    Asked(
        "Fresh rubber tape on letterpress, wood pulp",
        _on("natural-rubber-resin", "induction", "letterpress-oil", "paper-woodpulp"),
        "White spirit or heptane first, then an aromatic.",
    ),
    Asked(
        "The same, oily",
        _on("natural-rubber-resin", "oily", "letterpress-oil", "paper-woodpulp"),
        "The same ladder, sooner to aromatic and polar.",
    ),
    Asked(
        "The same, cross-linked, carrier gone",
        _on("natural-rubber-resin", "crosslinked", "letterpress-oil", "paper-woodpulp", "none-transfer"),
        "Acetone, ethanol or a mixture early; much may stay.",
    ),
    Asked(
        "Masking tape, oily, on iron gall ink, rag",
        _on("natural-rubber-resin", "oily", "iron-gall", "paper-rag", "crepe-paper"),
        "An aliphatic, then an aromatic; no water, alcohol with caution.",
    ),
    Asked(
        "Acrylic tape with acetate carrier, aged, on watercolour, rag",
        _on("acrylic", "aged", "watercolour", "paper-rag", "cellulose-acetate-film"),
        "Lift the carrier with warmth, then acetone or an ester.",
    ),
    Asked(
        "Starch paste on bare rag",
        _on("starch-dextrin", "", "bare-paper", "paper-rag"),
        "A damp gel or poultice.",
    ),
    Asked(
        "Animal glue on iron gall ink, rag",
        _on("animal-glue", "", "iron-gall", "paper-rag"),
        "Dry removal, or a specialist's confined gel with little water.",
    ),
    Asked(
        "Hot melt on letterpress, wood pulp",
        _on("hot-melt-sbc", "oily", "letterpress-oil", "paper-woodpulp"),
        "Warmth first, then hydrocarbons.",
    ),
    Asked(
        "Silicone residue on graphite, rag",
        _on("silicone", "", "graphite", "paper-rag"),
        "Aliphatics or aromatics.",
    ),
    Asked(
        "PVAc on letterpress, wood pulp",
        _on("pvac-emulsion", "", "letterpress-oil", "paper-woodpulp"),
        "Damp or ethanol to swell, acetone if ink and paper bear it.",
    ),
    Asked(
        "Acetate laminate on iron gall ink, rag",
        _on("cellulose-acetate-laminate", "", "iron-gall", "paper-rag"),
        "Acetone baths.",
    ),
    Asked(
        "Heat-set acrylic tissue on letterpress, wood pulp",
        _on("heat-activated-acrylic", "", "letterpress-oil", "paper-woodpulp"),
        "A warm spatula, then ethanol or acetone.",
    ),
)


def answers(studio: Studio) -> list[Answer]:
    """The answer to each question."""
    return [choose(studio, one.question, limit=1000) for one in QUESTIONS]


def page(studio: Studio) -> str:
    """The page."""
    lines = [
        "# Twelve typical questions",
        "",
        "An empty book answers: the first lines with release / harm in per cent. What the trade would say",
        "is common practice without a source, from memory; no conservator has read this page yet.",
        "A test of the project makes this page anew and compares.",
        "",
        "| question | first lines | series | the trade would say |",
        "|---|---|---|---|",
    ]
    for asked, answer in zip(QUESTIONS, answers(studio), strict=True):
        whole = answer.expected_spots
        series = answer.carrier_first or "none"
        if whole is not None:
            chances = f"{whole.release:.0%} released, {whole.harm:.0%} harmed"
            series = f"{whole.spots:.1f} spots, {chances}"
        if answer.next_step.startswith("With warmth"):
            series = f"{answer.next_step.split('. ')[0]}; {series}"
        lines.append(f"| {asked.words} | {_first(answer)} | {series} | {asked.trade} |")
    return "\n".join(lines) + "\n"


def _first(answer: Answer) -> str:
    found = {one.liquid: one for one in (*answer.suggestions, *answer.refused)}
    said = []
    for line in answer.groups[:LINES]:
        one = found[line.liquid]
        alike = f" +{len(line.members) - 1}" if len(line.members) > 1 else ""
        held = f", {line.looks} look" if line.looks else ", held" if line.held else ""
        said.append(f"{line.name} {one.release.p * 100:.0f}/{one.harm.p * 100:.0f}{alike}{held}")
    return "; ".join(said) or "nothing: stop"


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        PAGE.write_text(page(Studio(Path(folder))), encoding="utf-8")
