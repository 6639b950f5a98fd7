"""A studio's own entry - local, shared or imported - cannot weaken a shipped stop or hazard unseen."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest
import yaml

from kb.catalogue.load import load
from kb.catalogue.paths import shipped_data
from kb.cli.main import main
from kb.desk.choose.choose import choose
from kb.desk.studio import Studio
from kb.model.guidance import Caution
from kb.model.liquid import Liquid
from kb.model.question import Question

MEMORY = {"from": ["memory"]}
CAUTION = {"id": "benzene", "text": "Fine.", **MEMORY}
CAUTIONS = {
    "another severity": {**CAUTION, "severity": "note", "when": {"liquids": ["benzene"]}},
    "a narrower condition": {
        **CAUTION,
        "severity": "stop",
        "when": {"liquids": ["benzene"], "media": ["iron-gall"]},
    },
}


def own(studio: Studio, text: str) -> None:
    studio.close()
    studio.catalogue_dir.mkdir(exist_ok=True)
    (studio.catalogue_dir / "own.yaml").write_text(text)


def ranked(studio: Studio) -> list[str]:
    asked = Question(
        adhesive="natural-rubber-resin", stage="oily", medium="letterpress-oil", paper="paper-woodpulp"
    )
    found = choose(studio, asked, studio.settings.dials, 10_000)
    assert "benzene" in {one.liquid for one in found.vetoed}
    return [one.liquid for one in (*found.suggestions, *found.refused)]


@pytest.fixture(scope="module")
def benzene() -> Liquid:
    found = load([shipped_data()])[0].get("liquids", "benzene")
    assert isinstance(found, Liquid)
    return found


@pytest.mark.parametrize("name", CAUTIONS)
def test_a_shipped_stop_stays_and_is_told(name: str, studio: Studio) -> None:
    own(studio, yaml.safe_dump({"cautions": [CAUTIONS[name]]}))
    assert "benzene" not in ranked(studio)
    assert any("own.yaml" in text and "stop that ships" in text for text in studio.unread()), studio.unread()
    heard: list[str] = []
    again = Studio(studio.root)
    again.notice = heard.append
    again.refresh()
    assert [text for text in heard if text.endswith("See: benchleaf check")] == heard != []


def test_hazards_and_stops_stay_when_a_liquid_is_written_anew(
    studio: Studio, benzene: Liquid, capsys: pytest.CaptureFixture[str]
) -> None:
    plain = {"id": "benzene", "name": "Benzene", "family": benzene.family}
    own(studio, yaml.safe_dump({"liquids": [plain]}))
    assert any("classification" in text and "own.yaml" in text for text in studio.unread()), studio.unread()
    assert "benzene" not in ranked(studio)
    studio.close()
    assert main(["safety", "benzene", "--studio", str(studio.root)]) == 0
    said = capsys.readouterr().out
    assert "danger" in said.lower()
    assert "H350" in said


def test_no_stop_or_hazard_of_the_whole_catalogue_can_be_taken_away(tmp_path: Path) -> None:
    shipped, _ = load([shipped_data()])
    stops = [one for one in shipped.of("cautions", Caution).values() if one.severity == "stop"]
    liquids = [one for one in shipped.of("liquids", Liquid).values() if one.classification]
    assert len(stops) > 10
    assert len(liquids) > 50
    text = {
        "cautions": [
            {
                "id": one.id,
                "severity": "note",
                "when": {"liquids": ["water"]},
                "text": "x",
                "from": ["memory"],
            }
            for one in stops
        ],
        "liquids": [{"id": one.id, "name": one.name, "family": "water"} for one in liquids],
    }
    (tmp_path / "own.yaml").write_text(yaml.safe_dump(text))
    found, problems = load([shipped_data(), tmp_path])
    assert len(problems) >= len(stops) + len(liquids)
    for one in stops:
        assert found.get("cautions", one.id) == one
    for liquid in liquids:
        now = found.get("liquids", liquid.id)
        assert isinstance(now, Liquid)
        assert now.classification is not None
        assert liquid.classification is not None
        assert set(liquid.classification.statements) <= set(now.classification.statements)
        assert now.classification.signal_word == liquid.classification.signal_word
        assert now.family == liquid.family


def test_what_is_added_counts_without_a_word(tmp_path: Path, benzene: Liquid) -> None:
    more = msgspec.to_builtins(benzene)
    more["classification"]["statements"] = [*more["classification"]["statements"], "H412"]
    (tmp_path / "own.yaml").write_text(yaml.safe_dump({"liquids": [more]}))
    found, problems = load([shipped_data(), tmp_path])
    now = found.get("liquids", "benzene")
    assert isinstance(now, Liquid)
    assert now.classification is not None
    assert "H412" in now.classification.statements
    assert not [one for one in problems if "taken away" in str(one)]
