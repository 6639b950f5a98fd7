"""Broken looks: each fault is told with its line and a way out, and the good looks still load."""

from __future__ import annotations

from pathlib import Path

import pytest

from kb.catalogue.load import load
from kb.model.identification import Look

BASE = """\
sources: [{id: memory, cite: From memory, basis: memory, seen: false}]
stages: [{id: fresh, name: Fresh, position: 0, text: fresh, from: [memory]}]
adhesives: [{id: acrylic, name: Acrylic, group: acrylic, from: [memory]}]
carriers: [{id: film, name: Film, lets_liquid_through: film, from: [memory]}]
tapes:
- id: clear
  name: Clear tape
  carrier: film
  adhesive: acrylic
  era: {text: late, from: [memory]}
  from: [memory]
looks:
- id: gloss
  name: Outer face
  how: Tilt it.
  findings: [{id: glossy, words: glossy}, {id: matt, words: matt}]
  signs: [{tapes: [clear], finds: {glossy: nearly always}, from: [memory]}]
"""
LOOK = """\
looks:
- id: sound
  name: Sound
  how: Bend it.
  findings:
  - {id: quiet, words: quiet}
  - {id: loud, words: loud}
  signs:
"""
DATED = """\
looks:
- id: year
  name: Year
  how: Read it.
  dated: true
  findings:
"""


@pytest.mark.parametrize(
    ("text", "line", "said"),
    [
        (
            LOOK + "  - {tapes: [clear], finds: {quit: usually}, from: [memory]}\n",
            9,
            'no finding "quit"; did you',
        ),
        (
            LOOK + "  - {tapes: [clear], finds: {quiet: mostly}, from: [memory]}\n",
            9,
            '"mostly" is not one of',
        ),
        (
            LOOK + "  - {tapes: [clear], finds: {quiet: 0.9}, from: [memory]}\n",
            9,
            "the number 0.9 is not one of",
        ),
        (LOOK + "  - {tapes: [clear], finds: {}, from: [memory]}\n", 9, "names no finding"),
        (LOOK + "  - {tapes: [clear], finds: {quiet: usually}}\n", 9, "no source is given"),
        (LOOK + "  - {tapes: [clear], finds: {quiet: usually}, from: []}\n", 9, "no source is given"),
        (LOOK + "  - {tapes: [clear], from: [memory]}\n", 9, 'the key "finds" is missing'),
        (LOOK + "  - {finds: {quiet: usually}, from: [memory]}\n", 9, "does not say of what"),
        (
            LOOK + "  - {tapes: [cleer], finds: {quiet: usually}, from: [memory]}\n",
            9,
            'no tape "cleer"; did you',
        ),
        (LOOK + "  - {carriers: [foil], finds: {quiet: usually}, from: [memory]}\n", 9, 'no carrier "foil"'),
        (
            LOOK + "  - {adhesives: [acryl], finds: {quiet: usually}, from: [memory]}\n",
            9,
            'no adhesive "acryl"',
        ),
        (LOOK + "  - {stages: [old], finds: {quiet: usually}, from: [memory]}\n", 9, 'no stage "old"'),
        (
            LOOK + "  - {tapes: [clear], finds: {quiet: nearly always, loud: usually}, from: [memory]}\n",
            9,
            "add up to 1.60",
        ),
        (
            LOOK
            + "  - {tapes: [clear], finds: {quiet: usually}, from: [memory]}\n"
            + "  - {tapes: [clear], finds: {loud: usually}, from: [memory]}\n",
            10,
            'a sign about "clear" stands above already',
        ),
        (
            LOOK + f"  - {{tapes: [{', '.join(f't{n}' for n in range(60))}], stages: "
            f"[{', '.join(f's{n}' for n in range(60))}], finds: {{quiet: usually}}, from: [memory]}}\n",
            9,
            "names 3600 combinations",
        ),
        ("looks:\n- {id: one, name: One, how: Look., findings: [{id: a, words: a}]}\n", 2, "fewer than two"),
        ("looks:\n- {id: one, name: One, how: Look., findings: []}\n", 2, "fewer than two"),
        (
            "looks:\n- {id: one, name: One, findings: [{id: a, words: a}, {id: b, words: b}]}\n",
            2,
            '"how" is missing',
        ),
        (
            "looks:\n- id: one\n  name: One\n  how: Look.\n  findings:\n"
            "  - {id: Very Shiny, words: shiny}\n  - {id: b, words: b}\n",
            6,
            'the id "Very Shiny" is not in plain form',
        ),
        (
            "looks:\n- id: one\n  name: One\n  how: Look.\n  findings:\n"
            "  - {id: a, words: shiny}\n  - {id: b, words: dull, also: [Shiny]}\n",
            7,
            '"Shiny" stands for two findings',
        ),
        (
            "looks:\n- id: one\n  name: One\n  how: Look.\n  findings:\n"
            "  - {id: a, words: shiny}\n  - {id: a, words: dull}\n",
            7,
            '"a" stands for two findings',
        ),
        (
            "looks:\n- id: one\n  name: One\n  how: Look.\n  cost: an arm\n"
            "  findings: [{id: a, words: a}, {id: b, words: b}]\n",
            5,
            '"an arm" is not one of the known words',
        ),
        (
            "looks:\n- id: one\n  name: One\n  how: Look.\n  findings:\n"
            "  - {id: a, words: a, first_year: 1950}\n  - {id: b, words: b}\n",
            6,
            "a year stands in a look that is not dated",
        ),
        (
            DATED + "  - {id: a, words: a, last_year: 1950}\n  - {id: b, words: b, first_year: 1950}\n",
            8,
            "begins before the one above it has ended (1950)",
        ),
        (
            DATED
            + "  - {id: a, words: a, last_year: 1950}\n"
            + "  - {id: b, words: b, first_year: 1970, last_year: 1960}\n"
            + "  - {id: c, words: c, first_year: 1980}\n",
            8,
            "the span is reversed: 1970 is after 1960",
        ),
        (
            DATED + "  - {id: a, words: a, first_year: 1940}\n  - {id: b, words: b, first_year: 1950}\n",
            7,
            "only the first span may be open before",
        ),
    ],
)
def test_fault_of_a_look_is_told_with_its_line(text: str, line: int, said: str, tmp_path: Path) -> None:
    """One problem, at the line where it stands; the look is left out and the sound one stays."""
    folder = tmp_path / "data"
    folder.mkdir()
    (folder / "base.yaml").write_text(BASE, encoding="utf-8")
    (folder / "broken.yaml").write_text(text, encoding="utf-8")
    catalogue, problems = load([folder])
    told = [(one.path, one.line) for one in problems if said in one.message]
    assert told == [("data/broken.yaml", line)], problems
    assert all(one.expected for one in problems)
    assert list(catalogue.of("looks", Look)) == ["gloss"]


def test_example_of_a_missing_find_can_be_copied(tmp_path: Path) -> None:
    """What is shown for a missing list of findings is itself of the right form."""
    folder = tmp_path / "data"
    folder.mkdir()
    (folder / "base.yaml").write_text(BASE, encoding="utf-8")
    (folder / "broken.yaml").write_text(LOOK + "  - {tapes: [clear], from: [memory]}\n", encoding="utf-8")
    _, problems = load([folder])
    assert [one.example for one in problems] == ["finds: {glossy: as often as not}"]
    assert problems[0].expected == "finds, a map of ids and words"


def test_words_of_a_dated_look_need_not_add_up(tmp_path: Path) -> None:
    """They say in which spans a tape was on sale, not how often it shows a finding."""
    folder = tmp_path / "data"
    folder.mkdir()
    (folder / "base.yaml").write_text(BASE, encoding="utf-8")
    spans = "  - {id: a, words: to 1950, last_year: 1950}\n  - {id: b, words: later, first_year: 1951}\n"
    sign = "  signs: [{tapes: [clear], finds: {a: usually, b: nearly always}, from: [memory]}]\n"
    (folder / "dated.yaml").write_text(DATED + spans + sign, encoding="utf-8")
    catalogue, problems = load([folder])
    assert problems == []
    assert set(catalogue.of("looks", Look)) == {"gloss", "year"}
