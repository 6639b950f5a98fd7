"""What is worked out once, read from a table or passed over says what working it out each time says."""

from __future__ import annotations

from itertools import product

import msgspec
import pytest

from kb.desk.choose.choose import _lines_for
from kb.desk.choose.gather import kernel_of
from kb.desk.choose.lines import MOST_LOOKS
from kb.desk.choose.spots import Spots
from kb.desk.studio import Studio
from kb.index.compiled import Foreseen, key_of
from kb.model.question import Dials, Question


def test_the_table_says_what_chemistry_says(studio: Studio) -> None:
    """Every liquid from every adhesive and on every medium, to the last digit; an unlisted method too."""
    kept = studio.compiled
    anew = msgspec.structs.replace(kept, foreseen=Foreseen())
    liquids = [kept.candidate(one.id, {one.id: 1.0}) for one in kept.liquids]
    carriers = {through: carrier for carrier, through in kept.carriers.items()}
    methods = {contact: method for method, contact in kept.methods.items()}
    for adhesive, carrier, method in product(kept.adhesives, ("", *carriers.values()), methods.values()):
        key = key_of(adhesive, kept.carriers.get(carrier, ""), kept.methods[method])
        assert key in kept.foreseen.release
        for what in liquids:
            assert kept.stage_chances(adhesive, carrier, method)(what) == anew.stage_chances(
                adhesive, carrier, method
            )(what)
    for medium, method in product(kept.media, (*methods.values(), "no such method")):
        for what in liquids:
            assert kept.medium_chance(medium, method)(what) == anew.medium_p0(medium, method, what)
    for paper, what in product(("", *kept.papers), liquids):
        assert paper in kept.foreseen.paper
        assert kept.paper_chance(paper)(what) == anew.paper_p0(paper, what)
    for one, other in zip(kernel_of(kept, liquids), kernel_of(anew, liquids), strict=True):
        assert one == other


@pytest.mark.parametrize("ceiling", [0.4, 0.6, 1.0])
def test_no_look_frees_what_is_called_hopeless(studio: Studio, ceiling: float) -> None:
    """Passing it over spares the weighing and never an answer."""
    hopeless = 0
    compiled, dials = studio.compiled, Dials(ceiling=ceiling)
    for adhesive, medium in zip(sorted(compiled.adhesives), sorted(compiled.media), strict=False):
        asked = Question(adhesive=adhesive, medium=medium, paper="paper-rag")
        found = _lines_for(studio, asked, dials, asked)
        for line in found.lines:
            for one in line.members:
                if found.sheet.hopeless(one):
                    hopeless += 1
                    looks = Spots().with_look(one.place, 10 * MOST_LOOKS)
                    assert found.sheet.weighed([one.place], looks)[0].refused
    assert hopeless
