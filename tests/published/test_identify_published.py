"""Facts that print states of tapes, put to identification as a conservator would meet them.

Each case names the publication as data/sources/tapes.yaml cites it, and what stands there was read (the
extent read is given there). What is not in the source is not among the findings, unless the case says so.
The numbers of the table are this project's own, so these cases check that the answers agree with print, not
that the numbers are right.
"""

from __future__ import annotations

from typing import NamedTuple

import msgspec
import pytest

from kb.desk.identify.identify import identify, signs
from kb.desk.studio import Studio
from kb.index.queries import entry
from kb.model.base import Source
from kb.model.identification import Identification

pytestmark = pytest.mark.published


class Fact(NamedTuple):
    """What print says: findings as typed, and the tapes, adhesives or stages that must lead."""

    source: str
    says: str
    signs: tuple[str, ...]
    tapes: frozenset[str] = frozenset()
    adhesives: frozenset[str] = frozenset()
    stage: str = ""


def first(*tapes: str) -> frozenset[str]:
    """The tapes one of which must come first, and all of which must lead."""
    return frozenset(tapes)


MASKING = first("masking-rubber", "masking-synthetic")
REPAIR = first("document-repair-paper", "document-repair-paper-water")
GUMMED = first("gummed-paper", "gummed-paper-starch", "gummed-linen")
PVC = first("pvc-insulating", "pvc-acrylic", "upvc-packaging")
ACRYLICS = frozenset({"acrylic", "acrylic-water-dispersible", "heat-activated-acrylic"})
RUBBERS = frozenset({"natural-rubber-resin", "synthetic-rubber", "zinc-oxide-rubber", "hot-melt-sbc"})

FACTS = (
    Fact(
        "dict",
        "clear plastic strip, glossy outside, that goes yellow to brown with its adhesive",
        ("made-of=film", "gloss=glossy", "colour=clear", "visible=stands-out"),
        first("clear-cellulose-film-rubber"),
    ),
    Fact(
        "dict",
        "matt, frosted outside, colourless, nearly vanishes on white paper",
        ("gloss=frosted", "colour=clear", "visible=hardly"),
        first("matte-acetate-acrylic"),
    ),
    Fact(
        "dict",
        "acetone dissolves cellulose acetate film (entry delamination)",
        ("made-of=film", "acetone=dissolves"),
        first("matte-acetate-acrylic"),
    ),
    Fact(
        "cdl97",
        "acetone dissolves the acetate film, here with the matt outside of the dictionary's entry",
        ("acetone=dissolves", "gloss=frosted"),
        first("matte-acetate-acrylic"),
    ),
    Fact(
        "dict",
        "strong tan to brown paper with a crinkled surface",
        ("made-of=paper", "crinkled=yes", "colour=tan"),
        first("masking-rubber"),
    ),
    Fact("dict", "a crinkled surface is the mark of masking tape", ("crinkled=yes",), MASKING),
    Fact(
        "bookhut",
        "aged masking tape often comes off by itself and leaves its adhesive",
        ("crinkled=yes", "loose=off"),
        MASKING,
        stage="crosslinked",
    ),
    Fact(
        "baldwin99",
        "strips of regenerated cellulose on a work of 1966: brittle, curled, lifting by themselves",
        ("year=1966", "made-of=film", "state=brittle", "loose=lifts", "gloss=glossy"),
        first("clear-cellulose-film-rubber"),
        stage="crosslinked",
    ),
    Fact(
        "alibris98",
        "old clear tape: carrier brittle and loose, residue hard and brown",
        ("made-of=film", "colour=clear", "state=brittle", "hardness=brittle", "adhesive-colour=brown"),
        first("clear-cellulose-film-rubber"),
        stage="crosslinked",
    ),
    Fact(
        "smith84",
        "stage three, here under clear glossy film: tack lost, the mass hard, brittle and discoloured",
        (
            "made-of=film",
            "gloss=glossy",
            "colour=clear",
            "adhesive-colour=amber",
            "hardness=brittle",
            "tack=none",
        ),
        first("clear-cellulose-film-rubber"),
        stage="crosslinked",
    ),
    Fact(
        "mick88",
        "thin paper that water turns milky so that it peels; adhesive swells and lifts as one elastic layer",
        ("made-of=paper", "water-strip=milky", "water-adhesive=white-elastic"),
        first("document-repair-paper-water"),
    ),
    Fact(
        "mick88",
        "in the case of 1988 the paper had yellowed and the adhesive was pale yellow",
        ("year=1988", "state=yellowed", "adhesive-colour=pale-yellow", "water-adhesive=white-elastic"),
        first("document-repair-paper-water"),
        stage="aged",
    ),
    Fact(
        "nyu14",
        "not sticky dry; water makes the adhesive soft and slimy: gummed tape",
        ("tack=none", "water-adhesive=slimy"),
        GUMMED,
    ),
    Fact(
        "nyu14",
        "brown paper with a hard, brownish, glassy adhesive",
        ("made-of=paper", "tack=none", "hardness=glassy", "adhesive-colour=amber"),
        first("gummed-paper"),
    ),
    Fact(
        "olough",
        "stage one of a rubber tape, here crinkled: works, looks clean, nothing discoloured, carrier sound",
        ("crinkled=yes", "tack=strong", "oil=clean", "state=sound", "halo=clean", "inks=unchanged"),
        MASKING,
        stage="induction",
    ),
    Fact(
        "smith84",
        "stage two: sudden softening, stringy, oily, yellowing; carrier in place, paper translucent",
        ("oil=stringy", "halo=see-through", "loose=holds", "tack=strong"),
        adhesives=RUBBERS,
        stage="oily",
    ),
    Fact(
        "smith84",
        "stage two: goes right through into the next sheet, and inks begin to run",
        ("through=next-sheet", "inks=run"),
        adhesives=RUBBERS,
        stage="oily",
    ),
    Fact(
        "smith84",
        "stage three: no stick, carrier off or loose, residue hard and brown, stain fixed",
        ("tack=none", "loose=off", "hardness=brittle", "adhesive-colour=brown", "halo=stain"),
        adhesives=RUBBERS | {"natural-rubber-uncured-cement"},
        stage="crosslinked",
    ),
    Fact(
        "smith84",
        "acrylic stays clear, lies on the surface and does not soak in",
        ("adhesive-colour=clear", "halo=clean", "through=no", "oil=clean", "tack=strong"),
        adhesives=ACRYLICS,
        stage="fresh",
    ),
    Fact(
        "smith84",
        "repair tapes of thin paper were under debate in 1983 and 1984; here a strip that feels dry",
        ("year=1984", "made-of=paper", "form=strip", "tack=slight"),
        REPAIR,
    ),
    Fact(
        "smith84",
        "in 1845 rubber was spread on strips of cloth as plaster: no other sticky tape is that old",
        ("year=1900", "tack=strong"),
        first("cloth-surgical"),
    ),
    Fact(
        "tna",
        "masking tape is on sale from 1925, before clear film",
        ("year=1926", "tack=strong", "made-of=paper"),
        first("masking-rubber"),
    ),
    Fact(
        "hist",
        "coated cloth tape from the Second World War; plastic face over a scrim",
        ("year=1948", "weave=against-light"),
        first("cloth-pe-coated"),
    ),
    Fact(
        "cdl95a",
        "rubber cement ends as a hard skin or black residue",
        ("made-of=none", "layer=skin", "adhesive-colour=black", "hardness=hard"),
        first("rubber-cement"),
        stage="crosslinked",
    ),
    Fact(
        "cdl2000",
        "rubber cement in paste-up that still has its tack; the sheet may go transparent",
        ("made-of=none", "tack=strong", "halo=see-through", "form=spread"),
        first("rubber-cement"),
        stage="tacky",
    ),
    Fact(
        "cdl2010",
        "transfer tape leaves a strip of clear gel",
        ("made-of=none", "layer=gel"),
        first("transfer"),
    ),
    Fact(
        "watts",
        "zinc white glows bright lemon yellow under long-wave UV (the plaster holds zinc oxide)",
        ("uv=lemon", "made-of=cloth"),
        first("cloth-surgical"),
    ),
    Fact(
        "watts",
        "acrylic resins show little light or none under long-wave UV",
        ("uv=dull", "halo=clean"),
        adhesives=ACRYLICS,
    ),
    Fact(
        "tnaabf",
        "laminates of the 1970s and 1980s: synthetic tissue with acrylic adhesive over the leaf",
        ("year=1975", "made-of=tissue", "form=whole-leaf"),
        first("heat-set"),
    ),
    Fact(
        "varga15",
        "heat-set tissue: the adhesive softens with gentle heat",
        ("made-of=tissue", "warmth=much"),
        first("heat-set"),
    ),
    Fact(
        "cdl08w",
        "old PVC film turns opaque and white with water",
        ("made-of=film", "water-strip=white"),
        PVC,
    ),
    Fact(
        "pygc",
        "among tapes on works on paper: polypropylene with a styrene block copolymer",
        ("infrared-strip=polypropylene", "infrared-adhesive=styrene"),
        first("bopp-hotmelt"),
    ),
    Fact(
        "pygc",
        "among tapes on works on paper: PVC with an acrylic adhesive",
        ("infrared-strip=pvc", "infrared-adhesive=acrylate"),
        first("pvc-acrylic"),
    ),
    Fact(
        "piftir",
        "polyisoprene: bands at 2962-2966, 1374-1377 and 837-849",
        ("infrared-adhesive=polyisoprene", "crinkled=yes"),
        first("masking-rubber"),
    ),
    Fact(
        "ku13",
        "warmth frees the carrier and leaves tacky, stringy adhesive that can be rolled up",
        ("warmth=a-little", "tack=strong", "oil=stringy"),
        adhesives=RUBBERS,
        stage="oily",
    ),
)


@pytest.fixture
def studio(untouched: Studio) -> Studio:
    """Nobody here writes in it."""
    return untouched


@pytest.mark.parametrize("fact", FACTS, ids=lambda fact: f"{fact.source}: {fact.says[:40]}")
def test_print_and_identification_agree(fact: Fact, studio: Studio) -> None:
    """The tapes, the adhesive and the stage that the source speaks of lead the answer."""
    answer = identify(studio, signs(studio, fact.signs))
    assert answer.fits, answer.verdict
    if fact.tapes:
        assert {tape.tape for tape in answer.ranked[: len(fact.tapes)]} == fact.tapes, answer.verdict
    if fact.adhesives:
        assert weight(answer, fact.adhesives) > 0.5
    if fact.stage:
        assert likeliest_stage(answer, fact) == fact.stage


def weight(answer: Identification, adhesives: frozenset[str]) -> float:
    """Chance that the adhesive is one of these."""
    return sum(tape.p for tape in answer.ranked if tape.adhesive in adhesives)


def likeliest_stage(answer: Identification, fact: Fact) -> str:
    """The stage of the first tape, or over all tapes that the source may mean."""
    sums: dict[str, float] = {}
    for tape in answer.ranked:
        if tape.tape in fact.tapes or tape.adhesive in fact.adhesives:
            for stage in tape.stages:
                sums[stage.stage] = sums.get(stage.stage, 0.0) + tape.p * stage.p
    return max(sums, key=lambda stage: sums[stage])


def test_every_source_of_these_facts_was_read(studio: Studio) -> None:
    """A fact whose source nobody opened proves nothing."""
    assert len(FACTS) >= 20
    for name in {fact.source for fact in FACTS}:
        row = entry(studio.index.conn, "source", name)
        assert row is not None, name
        source = msgspec.json.decode(row.body, type=Source)
        assert source.seen, name
        assert source.basis == "published", name
