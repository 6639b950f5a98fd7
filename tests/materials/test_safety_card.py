"""The safety note in full and its card: gloves, storage, waste, people; one page, every text escaped."""

from __future__ import annotations

import json
from html.parser import HTMLParser
from pathlib import Path

import msgspec
import pytest

from kb.cli.main import main
from kb.desk.materials.cited import cited_source
from kb.desk.materials.physical import all_records
from kb.desk.materials.safety import CHART, glove_lines, pictograms, safety_note
from kb.desk.materials.safety_card import card_html, card_text, sections
from kb.desk.studio import Studio

HEADINGS = (
    "Pictograms",
    "Hazards",
    "Limits in air",
    "Fire",
    "Gloves",
    "Storage",
    "Keep apart from",
    "Waste",
    "Pregnancy and young workers",
)


def test_every_liquid_has_a_full_note_with_sources(studio: Studio) -> None:
    """No field is empty where a line is due, sources are in the catalogue, the text defers."""
    for liquid in all_records(studio):
        note = safety_note(studio, {liquid.id: 1.0})
        assert note.gloves[-1] == CHART
        assert note.storage
        assert note.waste
        assert note.people
        assert note.sources
        assert all(cited_source(studio, one).cite != "not in the catalogue" for one in note.sources)
        assert "data sheet" in note.defer


def test_pictograms_are_named_in_words(studio: Studio) -> None:
    """Toluene carries flame, exclamation mark and health hazard (label as catalogued)."""
    signs = safety_note(studio, {"toluene": 1.0}).pictograms
    assert {"flame (GHS02)", "exclamation mark (GHS07)", "health hazard (GHS08)"} <= set(signs)
    assert safety_note(studio, {"water": 1.0}).pictograms == ()


def test_a_stronger_pictogram_takes_the_exclamation_mark_away() -> None:
    """Article 26 of the EU regulation on labels (from memory): skull for acute, corrosion for skin."""
    skull = {"H301": "GHS06", "H332": "GHS07"}
    assert pictograms(tuple(skull), skull.items()) == ("skull and crossbones (GHS06)",)
    kept = {**skull, "H336": "GHS07"}
    assert "exclamation mark (GHS07)" in pictograms(tuple(kept), kept.items())
    burn = {"H318": "GHS05", "H315": "GHS07"}
    assert pictograms(tuple(burn), burn.items()) == ("corrosion (GHS05)",)


def test_gloves_speak_of_polymers_and_promise_no_minutes(studio: Studio) -> None:
    """Thin nitrile is warned of for acetone; a blend takes only what serves all; no promise of time."""
    acetone = safety_note(studio, {"acetone": 1.0}).gloves
    assert "butyl rubber" in acetone[0]
    assert any(line.startswith("Avoid:") and "nitrile, thin" in line for line in acetone)
    both = safety_note(studio, {"acetone": 0.5, "n-heptane": 0.5}).gloves
    assert "butyl rubber" not in both[0]
    assert "laminate" in both[0]
    assert any("butyl rubber" in line for line in both if line.startswith("Avoid:"))
    # Minutes stand only where a source prints how soon a glove fails, never as a time that one may rely on.
    assert not any(" min" in line for line in (*acetone, *both) if not line.startswith("Avoid:"))
    odd = safety_note(studio, {"pyridine": 1.0}).gloves
    assert "ask the glove maker" in odd[0]
    assert any("No class list here speaks of Pyridine" in line for line in odd)
    assert glove_lines(studio, []) == ()


def test_people_storage_and_waste_follow_the_label(studio: Studio) -> None:
    """Unborn child, peroxides, halogenated waste."""
    assert any("pregnant" in line for line in safety_note(studio, {"toluene": 1.0}).people)
    assert any("no risk" in line for line in safety_note(studio, {"n-heptane": 1.0}).people)
    assert any("peroxides" in line for line in safety_note(studio, {"diethyl-ether": 1.0}).storage)
    organic = [one for one in all_records(studio) if one.id != "water"]
    assert all("down the drain" in " ".join(safety_note(studio, {one.id: 1.0}).waste) for one in organic)
    assert any("halogenated" in line for line in safety_note(studio, {"dichloromethane": 1.0}).waste)
    assert any("oxidisers" in line for line in safety_note(studio, {"acetone": 1.0}).incompatible)


def test_a_blend_tells_its_flash_rule_and_whether_it_parts(studio: Studio) -> None:
    """The most flammable part of 5 % or more decides; a little less is told apart."""
    note = safety_note(studio, {"acetone": 0.03, "n-butyl-acetate": 0.97})
    assert any("22 °C, that of n-Butyl acetate" in line for line in note.handling)
    assert any("below 5 %, but flashes lower: Acetone" in line for line in note.handling)
    parted = safety_note(studio, {"n-heptane": 0.5, "water": 0.5})
    assert any("part company" in line for line in parted.handling)


class _Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.open = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.open += tag != "meta"

    def handle_endtag(self, tag: str) -> None:
        self.open -= 1


def test_the_card_has_every_heading_and_closes_its_tags(studio: Studio) -> None:
    """Text and HTML alike; nothing from outside is needed."""
    note = safety_note(studio, {"acetone": 0.5, "n-heptane": 0.5})
    page = card_html(note, "2026-01-02")
    reader = _Tags()
    reader.feed(page)
    assert reader.open == 0
    assert not {"script", "img", "link", "iframe"} & set(reader.tags)
    text = card_text(note, "2026-01-02")
    for heading in HEADINGS:
        assert f"<h2>{heading}</h2>" in page
        assert heading.upper() in text
    assert max(map(len, text.splitlines())) <= 80
    assert "2026-01-02" in text
    assert all(items for _, items in sections(note))


def test_the_card_is_one_page_of_text_for_every_pure_liquid(studio: Studio) -> None:
    """At most 100 lines of 78 characters, which two columns of an A4 page hold."""
    for liquid in all_records(studio):
        assert card_text(safety_note(studio, {liquid.id: 1.0})).count("\n") <= 100, liquid.id


def test_hostile_text_is_escaped(studio: Studio) -> None:
    """A studio's own catalogue cannot write tags or control characters into the card."""
    bad = '<img src=x onerror="a()">&\x1b[2J\u202e'
    note = msgspec.structs.replace(safety_note(studio, {"acetone": 1.0}), name=bad, gloves=(bad,), defer=bad)
    page = card_html(note, bad)
    assert "<img" not in page
    assert "&lt;img" in page
    assert "\x1b" not in page + card_text(note, bad)
    assert "\u202e" not in page + card_text(note, bad)


def test_an_empty_note_says_that_nothing_is_known(studio: Studio) -> None:
    """Never a blank that could be read as harmless."""
    empty = msgspec.structs.replace(
        safety_note(studio, {"water": 1.0}), statements=(), limits=(), gloves=(), pictograms=()
    )
    assert "no limit known here" in card_text(empty)
    assert "nothing known here; read the data sheet" in card_text(empty)


def test_command(studio: Studio, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The note in text and JSON, the card as HTML and text; a bad path is one sentence."""
    words = ["safety", "--studio", str(studio.root), "acetone"]
    assert main([*words, "--card", str(tmp_path / "card.html")]) == 0
    out = capsys.readouterr().out
    assert "gloves:" in out
    assert "pregnancy and young workers:" in out
    assert (tmp_path / "card.html").read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert main([*words, "--card", str(tmp_path / "card.txt"), "--json"]) == 0
    assert {"gloves", "storage", "waste", "people", "pictograms"} <= set(json.loads(capsys.readouterr().out))
    assert "ACETONE" in (tmp_path / "card.txt").read_text(encoding="utf-8")
    assert (
        main(["safety", "--studio", str(studio.root), "heptane", "--card", str(tmp_path / "card.txt")]) == 3
    )
    assert capsys.readouterr().err.endswith("card.txt exists already; name a new file.\n")
    assert "ACETONE" in (tmp_path / "card.txt").read_text(encoding="utf-8")
    assert main([*words, "--card", str(tmp_path / "no" / "card.html")]) == 3
    assert capsys.readouterr().err.count("\n") == 1
