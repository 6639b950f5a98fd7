"""Hazard statements of the catalogue against the official wording.

Source: United Nations, Globally Harmonized System of Classification and Labelling of Chemicals, hazard
statements, and Annex III of Regulation (EC) No 1272/2008 for the EUH codes, as read in public data copies
(H300 to H420 and EUH). The texts of the H200 series and all pictograms and signal words are from memory and
say so: hazard_statements.yaml beside this file.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml

from kb.catalogue.load import load
from kb.catalogue.paths import shipped_data
from kb.model.guidance import Hazard
from kb.model.liquid import Liquid, base_code, labelled

pytestmark = pytest.mark.published

LIST: dict[str, dict[str, Any]] = yaml.load(
    Path(__file__).with_name("hazard_statements.yaml").read_text("utf-8"), Loader=yaml.CSafeLoader
)
SEEN, MEMORY, LINKS = LIST["seen"], LIST["from-memory"], LIST["links-from-memory"]
CATALOGUE, _ = load([shipped_data()])
HAZARDS = CATALOGUE.of("hazards", Hazard)


def test_the_list_is_whole() -> None:
    """Every statement of the catalogue is in the list, and the other way round."""
    assert set(HAZARDS) == set(SEEN) | set(MEMORY) == set(LINKS)
    assert len(SEEN) >= 38


@pytest.mark.parametrize("code", [*SEEN, *MEMORY])
def test_text(code: str) -> None:
    """Word for word."""
    assert HAZARDS[code].text == {**SEEN, **MEMORY}[code]


@pytest.mark.parametrize("code", LINKS)
def test_pictogram_and_signal_word(code: str) -> None:
    """From memory on both sides: a check against slips of the pen only."""
    found = HAZARDS[code]
    assert [found.pictogram or "none", found.signal_word or "none"] == LINKS[code]


def test_what_was_seen_and_what_is_from_memory_is_said_in_the_catalogue() -> None:
    """A text that was read names the list; one from memory does not."""
    for code, one in HAZARDS.items():
        named = {"ghs-statement-texts", "euh-statement-texts"} & set(one.sources)
        assert bool(named) == (code in SEEN), code


def test_every_statement_of_a_liquid_has_a_text() -> None:
    """Whatever suffix or organ stands behind the code."""
    for liquid in CATALOGUE.of("liquids", Liquid).values():
        if liquid.classification is not None:
            said = liquid.classification
            for statement in (*said.statements, *said.supplier_statements, *said.euh):
                assert base_code(statement) in HAZARDS, (liquid.id, statement)


STRICTER = {
    # Note of a distributor (undated) on tests that the European Chemicals Agency asked for.
    "diacetone-alcohol": "H361d",
    # Registration dossier 15807, irritation (frozen 19 May 2023).
    "1-3-dioxolane": "H318",
}


@pytest.mark.parametrize("id", STRICTER)
def test_what_registrants_add_to_an_entry_reaches_the_safety_note(id: str) -> None:
    """The harmonised entry of diacetone alcohol is older and knows the eyes alone."""
    assert STRICTER[id] in labelled(CATALOGUE.of("liquids", Liquid)[id])
