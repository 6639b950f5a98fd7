"""A question as it is typed: what each word is taken for, and what is said not to be understood."""

from __future__ import annotations

from typing import NamedTuple

import pytest

from kb.desk.choose.choose import choose
from kb.desk.choose.spoken import LINKS, SIGNS, WHICH, spoken
from kb.desk.studio import Studio


class Line(NamedTuple):
    """A typed line, what it must fill, the signs in it, and what is said not to be understood."""

    typed: str
    fills: dict[str, str]
    signs: frozenset[str] = frozenset()
    left: tuple[str, ...] = ()


# Words of the trade as one says them. Common practice, no source.
LINES = (
    Line(
        "old masking tape, adhesive sticky, on newsprint with ballpoint and pencil notes",
        {"tape": "masking-rubber", "stage": "oily", "medium": "ballpoint", "paper": "paper-woodpulp"},
    ),
    Line(
        "gummed strip over hand coloring on rag paper",
        {"medium": "watercolour", "paper": "paper-rag"},
        frozenset({"water-adhesive=slimy"}),
    ),
    Line("goo over iron gall ink", {"medium": "iron-gall"}, frozenset({"hardness=soft"})),
    Line(
        "sticky residue over toner",
        {"carrier": "none-transfer", "medium": "toner"},
        frozenset({"tack=strong"}),
    ),
    Line(
        "colored pencil and watercolor under duct tape",
        {"tape": "cloth-pe-coated", "medium": "coloured-pencil"},
    ),
    Line("glue strip on a print", {"tape": "transfer"}, left=("print (which?)",)),
    Line(
        "brittle glue over red pencil",
        {"medium": "coloured-pencil"},
        frozenset({"hardness=brittle"}),
        ("glue (which?)",),
    ),
    Line("matte tape over typed notes", {"medium": "typewriter"}, frozenset({"gloss=frosted"})),
    Line(
        "kraft tape on a map with watercolour wash", {"carrier": "flat-paper-kraft", "medium": "watercolour"}
    ),
    Line(
        "fresh clear packing tape over a laser print",
        {"tape": "bopp-hotmelt", "stage": "fresh", "medium": "toner"},
    ),
    Line(
        "brittle rubber adhesive, carrier gone, on rag paper",
        {"adhesive": "natural-rubber-resin", "stage": "crosslinked", "carrier": "none-transfer"},
    ),
    Line("hard residue on a newspaper clipping", {"stage": "crosslinked", "paper": "paper-woodpulp"}),
    Line(
        "dried out rubber adhesive on a poster", {"stage": "crosslinked", "adhesive": "natural-rubber-resin"}
    ),
    Line(
        "oily rubber tape over letterpress on wood pulp paper",
        {
            "adhesive": "natural-rubber-resin",
            "stage": "oily",
            "medium": "letterpress-oil",
            "paper": "paper-woodpulp",
        },
    ),
    Line("rubber stamp under masking tape", {"tape": "masking-rubber", "medium": "stamp-pad"}),
    Line("wheat paste over pen and ink", {"adhesive": "starch-dextrin"}, left=("pen (which?)",)),
    Line("acrylic tape on paper", {"adhesive": "acrylic"}, left=("paper (which?)",)),
    Line(
        "duct tape over dyeline, zebra", {"tape": "cloth-pe-coated", "medium": "blueprint"}, left=("zebra",)
    ),
)


@pytest.mark.parametrize("line", LINES, ids=lambda line: line.typed[:40])
def test_a_typed_line_is_understood(line: Line, studio: Studio) -> None:
    """Fillers are passed over, signs are signs, and only what fills nothing is given back."""
    said = spoken(studio, line.typed)
    assert {name: getattr(said.question, name) for name in line.fills} == line.fills
    assert frozenset(said.question.signs) == line.signs
    assert said.left == line.left


# What is misspelt is asked about and never taken.
@pytest.mark.parametrize(
    ("typed", "left"),
    [
        (
            "masking tape, oily, over watercolur on wove papr",
            ("watercolur (Watercolour?)", "wove", "papr (paper?)"),
        ),
        ("duct tape over graphit", ("graphit (Graphite pencil?)",)),
        ("duct tape over zebra", ("zebra",)),
        ("duct tape on office paper", ("office", "paper (which?)")),
    ],
)
def test_a_slip_of_spelling_is_asked_back(typed: str, left: tuple[str, ...], studio: Studio) -> None:
    """The list is ranked without the word, so the nearest name stands in front of it."""
    said = spoken(studio, typed)
    assert said.left == left
    assert said.question.medium == ""
    assert said.sentence.startswith(f"Not understood and left out: {', '.join(left)}. ")


def test_a_name_that_two_glues_bear_may_be_either(studio: Studio) -> None:
    """Hot melt is on parcel tape and in spines of paperbacks: both are weighed, and the sentence says so."""
    said = spoken(studio, "hot melt on newsprint with watercolor")
    assert said.left == ()
    assert {one.adhesive: one.weight for one in said.question.may_be} == {
        "hot-melt-sbc": 0.5,
        "eva-hot-melt": 0.5,
    }
    assert "Ethylene-vinyl acetate hot glue or Hot-melt styrenic block copolymer" in said.sentence
    assert choose(studio, said.question).question.may_be == said.question.may_be
    surely = spoken(studio, "EVA hot melt on newsprint").question
    assert (surely.adhesive, surely.may_be) == ("eva-hot-melt", ())


def test_no_word_is_said_twice_in_what_was_understood(studio: Studio) -> None:
    """ "Paper Rag paper with gelatin size" was read as a slip."""
    said = spoken(studio, "masking tape on rag paper over ballpoint").sentence
    assert "rag paper = Rag paper with gelatin size" in said
    assert "ballpoint = medium Ballpoint pen ink" in said


def test_words_that_need_no_answer_are_no_signs_and_ask_nothing() -> None:
    """Each word is of one sort, so that the order of the tests in the code decides nothing."""
    assert not SIGNS.keys() & LINKS
    assert not SIGNS.keys() & WHICH.keys()
    assert not WHICH.keys() & LINKS
