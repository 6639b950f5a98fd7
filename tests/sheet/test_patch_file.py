"""``benchleaf patch plan``: its contract, and what it says to a file that cannot be planned."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from kb.cli.main import main

SHEET = {
    "width_mm": 200,
    "height_mm": 300,
    "patch_mm": 20,
    "bound_mm2": 500,
    "strips": [
        {"face": "front", "polygon": [[10, 20], [110, 20], [110, 45], [10, 45]]},
        {"face": "back", "polygon": [[90, 20], [190, 20], [190, 45], [90, 45]]},
    ],
    "weak": [{"face": "front", "polygon": [[40, 0], [45, 0], [45, 300], [40, 300]]}],
}
ORDER = {"id", "face", "polygon", "area_mm2", "weak"}
METRICS = {"max_imbalance_mm2", "max_imbalance_patches", "turns", "travel_mm", "over_bound"}


def _planned(content: str, tmp_path: Path, name: str = "sheet.json") -> int:
    path = tmp_path / name
    path.write_text(content, encoding="utf-8")
    return main(["patch", "plan", "--file", str(path), "--json"])


def test_the_contract_holds_and_makes_no_studio(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BENCHLEAF_STUDIO", str(tmp_path / "none"))
    assert _planned(json.dumps(SHEET), tmp_path) == 0
    found = json.loads(capsys.readouterr().out)
    assert all(set(patch) >= ORDER for patch in found["order"])
    assert set(found["metrics"]) >= METRICS
    assert sum(patch["area_mm2"] for patch in found["order"]) == pytest.approx(5000.0)
    assert {patch["face"] for patch in found["order"]} == {"front", "back"}
    assert [patch["weak"] for patch in found["order"]].count(True) == 1
    assert found["metrics"]["over_bound"] == 0
    assert not (tmp_path / "none").exists()


def test_yaml_and_json_of_the_same_sheet_give_the_same(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    yaml = (
        "width_mm: 100\nheight_mm: 100\nstrips:\n"
        "  - face: verso\n    polygon: [[0, 0], [50, 0], [50, 20], [0, 20]]\n"
    )
    as_json = {
        "width_mm": 100.0,
        "height_mm": 100,
        "strips": [{"face": "back", "polygon": [[0, 0], [50, 0], [50, 20], [0, 20]]}],
        "weak": [],
    }
    answers = []
    for content, name in ((yaml, "a.yaml"), (json.dumps(as_json), "a.json")):
        assert _planned(content, tmp_path, name) == 0
        answers.append(json.loads(capsys.readouterr().out))
    assert answers[0] == answers[1]
    assert len(answers[0]["order"]) == 3


def _with(**changes: Any) -> str:
    return json.dumps({**SHEET, **changes})


CROSSED = {"face": "front", "polygon": [[0, 0], [10, 10], [10, 0], [0, 10]]}
BESIDE = {"face": "back", "polygon": [[190, 0], [240, 0], [240, 9], [190, 9]]}


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (_with(strips=[CROSSED]), "Strip 1 (front) crosses itself"),
        (_with(strips=[BESIDE]), "Strip 1 (back) lies 40 mm outside the sheet of 200 x 300 mm"),
        (_with(weak=[CROSSED]), "Weak zone 1 (front) crosses itself"),
        (_with(width_mm=0), "width of the sheet must be above zero"),
        (_with(patch_mm=-2), "length of a patch must be above zero"),
        (_with(bound_mm2=0), "bound must be an area above zero"),
        (_with(strips=[{"face": "top", "polygon": []}]), "top"),
        (_with(strips=[{"face": "front"}]), "polygon"),
        (_with(patchmm=3), "patchmm"),
        ("width_mm: [", "line 1"),
        ("", "the file is empty"),
        ("{}", "width_mm"),
    ],
)
def test_what_cannot_be_planned_is_told_in_a_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], content: str, says: str
) -> None:
    assert _planned(content, tmp_path) == 3
    told = capsys.readouterr()
    assert says in told.err
    assert not told.out
    assert told.err.count("\n") == 1


def test_a_file_that_is_not_there_is_named(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["patch", "plan", "--file", "nowhere.yaml"]) == 3
    assert "nowhere.yaml" in capsys.readouterr().err


def test_the_page_for_people_says_how_even_it_is(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "sheet.json"
    path.write_text(json.dumps(SHEET), encoding="utf-8")
    assert main(["patch", "plan", "--file", str(path)]) == 0
    page = capsys.readouterr().out
    assert "One face is ahead of the other by at most" in page
    assert page.count(" mm²") >= 10
