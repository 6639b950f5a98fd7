"""Cautions in words and narrowed, and the check of the rules against the rest of the catalogue."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from kb.catalogue.load import load
from kb.catalogue.paths import shipped_data
from kb.cli.main import main
from kb.desk.choose.cautions import CautionView, cautions, where
from kb.desk.choose.rule import KEYS, _met, _rules
from kb.desk.materials.cited import cited_source, mark_of
from kb.desk.studio import Studio
from kb.model.guidance import ABOUT_LIQUID, Caution, When
from kb.model.question import Question


def ids(found: list[CautionView]) -> set[str]:
    """Ids of the rules."""
    return {one.id for one in found}


# The list


@pytest.mark.parametrize("key", When.__struct_fields__)
def test_every_key_of_a_condition_is_weighed_and_said(key: str) -> None:
    """A new key would else be met by nothing, or by everything, and be read as "everywhere"."""
    assert (key in ABOUT_LIQUID) != (key in KEYS), "it is about the liquid (ABOUT_LIQUID) or the sheet (KEYS)"
    said = where(When(**{key: ("some-id",)}), {})
    assert "some-id" in said, "its words: kb/desk/choose/cautions.py"


@pytest.mark.parametrize(
    ("key", "field", "asked"),
    [
        *((key, field, {field: "some-id"}) for key, field in KEYS.items() if field != "reach"),
        ("media", "reach", {"medium": "some-id"}),
        ("media", "reach", {"back_media": ("other", "some-id")}),
        ("media", "back_media", {"back_media": ("other", "some-id")}),
    ],
)
def test_a_rule_is_met_by_what_it_asks_for(
    monkeypatch: pytest.MonkeyPatch, key: str, field: str, asked: dict[str, Any]
) -> None:
    """Also where the question holds several values, any of which is enough; else a stop would bar nothing."""
    monkeypatch.setitem(KEYS, key, field)
    when = When(**{key: ("some-id",)})
    found = _rules([Caution(id="one", severity="stop", when=when, text="", sources=())])
    assert set(_met(found, [(1.0, Question(**asked))])) == {"one"}
    assert not _met(found, [(1.0, Question())])


def test_all_rules_are_listed_with_words_and_sources(studio: Studio) -> None:
    """At least thirty; each has a condition in words, a text and sources, and the most severe come first."""
    found = cautions(studio)
    assert len(found) >= 30
    assert ids(found) == {one.id for one in studio.compiled.cautions}
    order = ["stop", "warn", "note"]
    assert [one.severity for one in found] == sorted((one.severity for one in found), key=order.index)
    for one in found:
        assert one.where
        assert one.text
        assert one.sources
        assert one.file.startswith("data/")
        assert one.line > 0
        assert all(source.cite != "not in the catalogue" for source in one.sources)


def test_a_rule_from_memory_says_so(studio: Studio) -> None:
    """Memory beside a text that was read shows; no rule rests on it now. What was read has no mark."""
    by_id = {one.id: one for one in cautions(studio)}
    cited = {id: cited_source(studio, id) for id in ("smith84", "memory")}
    assert mark_of(("smith84", "memory"), cited) == "from memory"
    assert [id for id, one in by_id.items() if one.mark == "from memory"] == []
    assert by_id["silicone-gap"].mark == "this project's own choice"
    assert by_id["waste-solvent"].mark == "common practice, no source"
    assert by_id["iron-gall-water"].mark == ""


@pytest.mark.parametrize(
    ("narrowed", "inside", "outside"),
    [
        ({"medium": "toner"}, {"toner-stop", "toner-other"}, {"lone-work", "ballpoint-alcohol"}),
        (
            {"liquid": "water"},
            {"iron-gall-water", "parchment-water"},
            {"benzene", "toner-stop", "gel-residue"},
        ),
        ({"liquid": "acetone"}, {"toner-stop", "lone-work"}, {"benzene", "dyed-paper-alcohol", "static"}),
        (
            {"liquid": "acetone", "medium": "toner"},
            {"toner-stop", "lone-work"},
            {"toner-other", "ballpoint-ketone"},
        ),
        ({"liquid": "1-3-dioxolane"}, {"peroxides", "harms-unborn", "eye-damage"}, {"peroxides-slow"}),
        ({"liquid": "d-limonene"}, {"turpentine-rags", "terpene-sensitiser"}, {"static"}),
        ({"medium": "iron-gall", "method": "microemulsion-gel"}, {"water-by-the-method"}, {"lone-work"}),
        ({"paper": "parchment", "method": "enzyme-poultice"}, {"water-by-the-method-paper"}, {"silk-alkali"}),
        ({"medium": "toner", "liquid": "d-limonene", "severity": "stop"}, {"toner-stop"}, {"toner-other"}),
        ({"medium": "toner", "liquid": "dimethyl-sulfoxide"}, {"toner-other"}, {"toner-stop"}),
        ({"medium": "toner", "method": "heated-spatula"}, {"heat-melts-marks"}, {"seal-heat"}),
        ({"paper": "parchment", "method": "hot-air"}, {"heat-shrinks-sheet"}, {"coating-alkali"}),
        ({"medium": "arsenic-pigment", "method": "laser"}, {"arsenic-heat"}, {"seal-heat"}),
        ({"medium": "varnish", "liquid": "turpentine"}, {"varnish-solvents"}, {"resin-oil-alkali"}),
        ({"medium": "oil-on-paper", "liquid": "benzyl-alcohol"}, {"oil-paint-swelling"}, {"toner-other"}),
        ({"medium": "woodblock-colour", "liquid": "water"}, {"woodblock-colour-water"}, {"dye-ink-water"}),
        ({"paper": "paper-tracing-cloth", "liquid": "water"}, {"tracing-cloth-water"}, {"tracing-water"}),
        ({"carrier": "cellulose-nitrate-film"}, {"nitrate-film-dissolves"}, {"acetate-film-dissolves"}),
        (
            {"medium": "acrylic-paint", "liquid": "ethanol"},
            {"acrylic-paint-alcohol"},
            {"acrylic-paint-solvents"},
        ),
        ({"medium": "sealing-wax"}, {"seal-alkali"}, {"photograph-alkali", "colours-alkali"}),
        ({"adhesive": "silicone"}, {"silicone-gap"}, {"lone-work", "alum-paste"}),
        ({"carrier": "cellulose-acetate-film"}, {"acetate-film-dissolves", "facing-strips"}, {"pvc-water"}),
        ({"stage": "oily"}, {"oily-adhesive-bleeding", "facing-strips"}, {"alum-paste", "carcinogen"}),
        ({"paper": "parchment"}, {"parchment-water", "bath-size-and-dye"}, {"coated-paper-water"}),
        ({"method": "bath"}, {"bath-flammable", "gouache-water"}, {"gel-residue", "iron-gall-water"}),
        ({"severity": "stop"}, {"benzene", "toner-stop"}, {"lone-work", "static"}),
        ({"medium": "toner", "severity": "warn"}, {"toner-other"}, {"toner-stop"}),
        (
            {"adhesive": "starch-dextrin", "stage": "aged", "liquid": "water"},
            {"alum-paste"},
            {"black-cement"},
        ),
        ({"adhesive": "starch-dextrin", "stage": "aged", "liquid": "acetone"}, {"lone-work"}, {"alum-paste"}),
    ],
)
def test_narrowing(studio: Studio, narrowed: dict[str, str], inside: set[str], outside: set[str]) -> None:
    """A rule stays if it agrees with all that is named and is about some of it."""
    found = ids(cautions(studio, **narrowed))
    assert inside <= found
    assert not outside & found


def test_unknown_liquid_meets_no_rule(studio: Studio) -> None:
    """Nothing is said of what is not known, and nothing is raised."""
    assert cautions(studio, liquid="no-such-thing") == []


def test_a_condition_in_words() -> None:
    """Each part is said in the order liquid, sheet, way of work; what has no name keeps its id."""
    names = {("liquid", "water"): "Water", ("medium", "toner"): "Toner", ("method", "swab"): "Swab"}
    said = where(When(liquids=("water",), media=("toner", "x"), methods=("swab",)), names)
    assert said == "Water; on Toner or x; put on by Swab"
    assert where(When(), {}) == "everywhere"
    assert where(When(families=("a", "b", "c"), hazards=("H350",)), {}) == (
        "a liquid of the family a, b or c and at once a liquid labelled H350"
    )


def test_the_command(studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """Words are resolved, text says what to do instead, and JSON carries the same rules."""

    def run(*words: str) -> tuple[int, str]:
        capsys.readouterr()
        code = main(["cautions", "--studio", str(studio.root), *words])
        return code, capsys.readouterr().out

    code, out = run("--medium", "laser print", "--severity", "stop")
    assert code == 0
    assert "STOP  toner-stop" in out
    assert "instead: Test aliphatic hydrocarbons." in out
    assert out.rstrip().splitlines()[-1] == "2 rules."
    assert "~ from memory." not in out
    code, out = run("--liquid", "acetone", "--json")
    assert code == 0
    found: list[dict[str, Any]] = json.loads(out)
    assert {one["id"] for one in found} == ids(cautions(studio, liquid="acetone"))
    assert set(found[0]) >= {"id", "severity", "where", "text", "instead", "sources", "mark", "file", "line"}
    assert run("--medium", "graphite", "--paper", "rag", "--severity", "stop") == (0, "")


# The check of the rules


CATALOGUE = """
sources:
- {id: memory, cite: Memory, basis: memory, seen: false}
families:
- {id: ketones, name: Ketones, agent: acetone, from: [memory]}
- {id: alcohols, name: Alcohols, agent: ethanol, from: [memory]}
hazards:
- {id: H225, text: Highly flammable, weight: 0.3, from: [memory]}
- {id: H360, text: May damage, weight: 0.9, from: [memory]}
liquids:
- id: acetone
  name: Acetone
  family: ketones
  classification: {statements: [H225], from: [memory]}
- id: ethanol
  name: Ethanol
  family: alcohols
  classification: {statements: [H225], from: [memory]}
- id: toxol
  name: Toxol
  family: alcohols
  classification: {statements: [H360D], from: [memory]}
- {id: mystery, name: Mystery, family: ketones}
stages:
- {id: fresh, name: Fresh, position: 0, text: New, from: [memory]}
- {id: aged, name: Aged, position: 1, text: Old, from: [memory]}
adhesives:
- {id: acrylic, name: Acrylic, group: a, stages: [{stage: fresh}], from: [memory]}
- {id: rubber, name: Rubber, group: r, from: [memory]}
carriers:
- {id: film, name: Film, lets_liquid_through: film, from: [memory]}
- {id: paper, name: Paper, lets_liquid_through: porous, from: [memory]}
- {id: gone, name: Gone, lets_liquid_through: none, from: [memory]}
tapes:
- {id: clear, name: Clear, carrier: film, adhesive: acrylic, era: {text: now, from: [memory]}, from: [memory]}
"""


def problems_of(tmp_path: Path, *rules: str) -> list[str]:
    """What is told of a small catalogue with these cautions, by place in the file."""
    data = tmp_path / "data"
    data.mkdir()
    (data / "base.yaml").write_text(CATALOGUE)
    lines = ["cautions:"]
    for number, rule in enumerate(rules, 1):
        severity, _, when = rule.partition(" ")
        lines.append(f"- {{id: r{number}, severity: {severity}, when: {when}, text: Mind, from: [memory]}}")
    (data / "rules.yaml").write_text("\n".join(lines) + "\n")
    catalogue, problems = load([data])
    assert len(catalogue.all("cautions")) == len(rules)
    return [str(one) for one in problems]


@pytest.mark.parametrize(
    ("rule", "said"),
    [
        ("note {liquids: [ethanol], families: [ketones]}", "no liquid can meet liquids and families at once"),
        ("note {families: [ketones], agents: [ethanol]}", "no liquid can meet families and agents at once"),
        ("note {liquids: [acetone, ethanol], families: [ketones]}", '"ethanol" in liquids can never be met'),
        (
            "note {liquids: [ethanol], families: [ketones, alcohols]}",
            '"ketones" in families can never be met',
        ),
        (
            "note {families: [alcohols], hazards: [H225, H360], liquids: [toxol]}",
            '"H225" in hazards can never be',
        ),
        ("note {liquids: [ethanol], hazards: [H360]}", "no liquid can meet liquids and hazards at once"),
        ("note {tapes: [clear], carriers: [paper]}", 'the tape "clear" has the carrier "film"'),
        ("note {tapes: [clear], adhesives: [rubber]}", 'the tape "clear" has the adhesive "acrylic"'),
        (
            "note {adhesives: [acrylic], stages: [aged]}",
            'the stage "aged" is none of those described for acrylic',
        ),
        ("note {tapes: [clear], stages: [fresh, aged]}", 'the stage "aged" is none of those described'),
        ("note {liquids: [acetone, acetone]}", '"acetone" is listed twice in liquids'),
    ],
)
def test_a_condition_that_can_never_be_met_is_told(tmp_path: Path, rule: str, said: str) -> None:
    """With file and line, what is wrong and what is expected; the rule itself stays."""
    (found,) = problems_of(tmp_path, rule)
    assert found.startswith("data/rules.yaml:2: cautions/r1: ")
    assert said in found
    assert "Expected: " in found


@pytest.mark.parametrize(
    "rule",
    [
        "note {liquids: [acetone], families: [ketones], agents: [acetone], hazards: [H225]}",
        "note {families: [alcohols], hazards: [H225, H360]}",
        "note {liquids: [mystery], hazards: [H360]}",
        "note {hazards: [H360]}",
        "note {tapes: [clear], carriers: [film], adhesives: [acrylic], stages: [fresh]}",
        "note {tapes: [clear], carriers: [gone]}",
        "note {adhesives: [acrylic, rubber], stages: [aged]}",
        "note {carriers: [paper], stages: [aged]}",
    ],
)
def test_a_condition_that_can_be_met_is_not_told(tmp_path: Path, rule: str) -> None:
    """What is not known - a label, a stage - is no contradiction, and a tape may have lost its carrier."""
    assert problems_of(tmp_path, rule) == []


def test_one_condition_with_two_severities_is_a_contradiction(tmp_path: Path) -> None:
    """The order in which values stand does not hide it."""
    (found,) = problems_of(
        tmp_path, "stop {liquids: [acetone, ethanol]}", "note {liquids: [ethanol, acetone]}", "note {}"
    )
    assert found.startswith("data/rules.yaml:3: cautions/r2: ")
    assert 'that of "r1", which says stop where this one says note' in found


def test_one_condition_said_twice_is_told(tmp_path: Path) -> None:
    """Two rules of one severity for one condition are one rule."""
    (found,) = problems_of(tmp_path, "stop {liquids: [acetone]}", "stop {liquids: [acetone]}")
    assert 'data/rules.yaml:3: cautions/r2: the condition repeats that of "r1"' in found


def test_a_liquid_left_out_for_its_own_fault_blames_no_rule(tmp_path: Path) -> None:
    """Only the cause is told, not what follows from it."""
    data = tmp_path / "data"
    data.mkdir()
    text = CATALOGUE.replace("statements: [H360D]", "statements: [H999]")
    (data / "base.yaml").write_text(text)
    rule = "{id: r, severity: note, when: {families: [alcohols], hazards: [H360]}, text: T, from: [memory]}"
    (data / "rules.yaml").write_text(f"cautions:\n- {rule}\n")
    _, problems = load([data])
    assert [one.entry for one in problems] == ["liquids/toxol"]


def test_the_shipped_rules_are_free_of_contradictions() -> None:
    """The shipped catalogue has no problem of any kind with its cautions."""
    _, problems = load([shipped_data()])
    assert [str(one) for one in problems if one.entry.startswith("cautions/")] == []
