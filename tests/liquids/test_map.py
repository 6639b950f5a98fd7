"""The solubility map: data, characters and SVG; labels keep apart and every text is escaped."""

from __future__ import annotations

import json
from pathlib import Path
from xml.etree import ElementTree

import msgspec
import pytest

from kb.book.kinds.swelling import Swelling
from kb.cli.main import main
from kb.desk.errors import DeskError
from kb.desk.liquids.map_svg import map_svg
from kb.desk.liquids.map_text import (
    ALL,
    AS_PRINTED,
    AS_PRINTED_WORDS,
    BLEND_WORDS,
    DRY,
    DRYING,
    FRESH,
    draw,
    drawn_of,
    region_letters,
    render_text,
    sign,
)
from kb.desk.liquids.solubility_map import SolubilityMap, solubility_map, zoom_of
from kb.desk.materials.resolve import question
from kb.desk.records.record import write
from kb.desk.studio import Studio

BLEND = {"acetone": 0.5, "n-heptane": 0.5}
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def drawn(studio: Studio) -> SolubilityMap:
    """Natural rubber over letterpress, with a blend that dries towards the adhesive."""
    asked = question(studio, adhesive="natural-rubber", medium="letterpress")
    return solubility_map(studio, asked, BLEND)


def test_fractions_are_shares_of_the_hansen_parameters(drawn: SolubilityMap) -> None:
    """Each sums to 100, and acetone lies where Burke's table has it within two per cent (47/32/21)."""
    for one in drawn.liquids:
        assert sum(one.fractions) == pytest.approx(100)
    acetone = next(one for one in drawn.liquids if one.id == "acetone")
    assert acetone.fractions == pytest.approx((47, 32, 21), abs=2)
    assert acetone.red[drawn.regions[0].name] > 0


def test_regions_blend_and_path_are_there(drawn: SolubilityMap) -> None:
    """Adhesive and ink have regions; the path runs from the blend to its last liquid."""
    assert [one.kind for one in drawn.regions] == ["adhesive", "medium"]
    assert drawn.blend is not None
    assert drawn.blend.path[0] == pytest.approx(drawn.blend.fractions)
    assert drawn.blend.path[-1][0] > drawn.blend.fractions[0]
    assert [round(lost) for lost, _ in drawn.blend.steps] == [0, 50, 80, 95]
    assert drawn.unit
    assert drawn.model
    assert drawn.source


def test_what_has_no_place_is_said(studio: Studio) -> None:
    """A liquid or medium without Hansen figures is named; a blend of one is refused."""
    asked = question(studio, adhesive="natural-rubber", medium="ballpoint")
    drawn = solubility_map(studio, asked, {"acetone": 0.5, "ethyl-lactate": 0.5})
    said = " ".join(drawn.notes)
    assert "Denatured ethanol" in said
    assert "Ballpoint" in said
    assert "vapour pressure of Ethyl lactate" in said
    assert drawn.blend is not None
    assert drawn.blend.path == ()
    with pytest.raises(DeskError, match="Denatured ethanol"):
        solubility_map(studio, asked, {"denatured-ethanol": 1.0})


def test_the_text_is_the_drawing_of_the_screen_with_its_key(drawn: SolubilityMap) -> None:
    """Within the width; every liquid is in the key with the sign that it bears in the picture."""
    lines = render_text(drawn, 100, 40)
    picture, key = "\n".join(lines[:40]), "\n".join(lines[40:])
    assert max(map(len, lines[:40])) <= 100
    assert lines[:40] == tuple(line.rstrip() for line in draw(drawn_of(drawn), 100, 40, ALL).lines)
    assert {FRESH, DRYING, DRY, AS_PRINTED} <= set(picture)
    for place, one in enumerate(drawn.liquids):
        assert f"{sign(place)} {one.name} (" in key
    assert "filled: reach" in key
    assert "outline: SPARE" in key


def test_a_blend_is_placed_both_ways(drawn: SolubilityMap) -> None:
    """Averaged parameters lean to the stronger liquid; averaged fractions are those of a printed chart.

    Acetone 47/32/21 and heptane 100/0/0 in equal volumes: 74/16/11 by the fractions that Burke's table gives
    (1984, from memory) and arithmetic.
    """
    assert drawn.blend is not None
    assert drawn.blend.fractions_as_printed == pytest.approx((73.5, 16, 10.5), abs=1.5)
    assert drawn.blend.fractions[0] < drawn.blend.fractions_as_printed[0] - 5
    svg = " ".join(one.text or "" for one in ElementTree.fromstring(map_svg(drawn)).iter(f"{SVG}text"))
    for text in ("\n".join(render_text(drawn, 100, 40)), " ".join(svg.split())):
        assert BLEND_WORDS in text
        assert AS_PRINTED_WORDS.split(",", maxsplit=1)[0] in text


def test_a_sphere_from_own_crumbs_stands_beside_the_printed_one(studio: Studio) -> None:
    """Six crumbs let a sphere be fitted; the printed region stays what it was."""
    asked = question(studio, adhesive="natural-rubber", medium="letterpress")
    before = solubility_map(studio, asked).regions
    for liquid, grade in (("n-heptane", 4), ("toluene", 4), ("xylene", 4), ("acetone", 0), ("ethanol", 0)):
        write(studio, "swelling", Swelling(material=asked.adhesive, liquid=liquid, grade=grade))
    studio.refresh()
    assert solubility_map(studio, asked).regions == before
    write(studio, "swelling", Swelling(material=asked.adhesive, liquid="water", grade=0))
    studio.refresh()
    regions = solubility_map(studio, asked).regions
    assert regions[: len(before)] == before
    assert [one.kind for one in regions[len(before) :]] == ["own"]
    key = "\n".join(render_text(solubility_map(studio, asked))[40:])
    assert "own crumbs, to compare" in key


@pytest.mark.parametrize(("columns", "rows"), [(40, 16), (80, 32), (120, 48), (200, 80)])
def test_every_size_can_be_drawn(drawn: SolubilityMap, columns: int, rows: int) -> None:
    """Small terminals too."""
    assert render_text(drawn, columns, rows)


def test_zoom_shows_a_part(studio: Studio) -> None:
    """A window around acetone shows acetone and not water, and labels more of its neighbours."""
    asked = question(studio, adhesive="natural-rubber")
    near = solubility_map(studio, asked, zoom=zoom_of("47,32,21,24"))
    picture = "\n".join(render_text(near, 100, 40)[:40])
    assert "Acetone" in picture
    assert "Butanone" in picture
    assert "Water" not in picture


@pytest.mark.parametrize(
    "text", ["", "1,2,3", "a,b,c,d", "0,0,0,10", "50,30,20,0", "-1,30,20,10", "nan,1,1,9"]
)
def test_a_zoom_that_is_no_place_is_refused(text: str) -> None:
    """With an example."""
    with pytest.raises(DeskError, match="60,25,15,30"):
        zoom_of(text)


def test_only_what_is_held_and_allowed(studio: Studio) -> None:
    """Others are open marks, or left away on request."""
    studio.shelf_file.write_text("holds: [acetone, water]\n", encoding="utf-8")
    studio.refresh()
    asked = question(studio, adhesive="natural-rubber")
    assert {one.id for one in solubility_map(studio, asked, held_only=True).liquids} == {"acetone", "water"}
    every = solubility_map(studio, asked)
    assert {one.id for one in every.liquids if one.held} == {"acetone", "water"}
    svg = map_svg(every)
    assert svg.count("<circle") > 2
    assert svg.count("<rect") > 20


def test_the_svg_is_well_formed_and_shapes_differ(drawn: SolubilityMap) -> None:
    """It parses, has no script or outside reference, and adhesive and medium differ by dash."""
    svg = map_svg(drawn)
    root = ElementTree.fromstring(svg)
    assert root.tag == f"{SVG}svg"
    dashes = {
        one.get("stroke-dasharray") for one in root.iter(f"{SVG}polygon") if one.get("stroke-dasharray")
    }
    assert len(dashes) == 2
    assert "script" not in svg
    assert "href" not in svg
    texts = [one.text or "" for one in root.iter(f"{SVG}text")]
    assert "A" in texts
    assert "M" in texts
    assert any("50 % gone" in one for one in texts)
    for one in drawn.liquids:
        assert any(one.name.split("(")[0].strip()[:20] in text for text in texts), one.name


def test_svg_labels_do_not_cover_each_other(drawn: SolubilityMap) -> None:
    """No two labels of the picture share a place, at nine units high and five and a half wide."""
    root = ElementTree.fromstring(map_svg(drawn))
    boxes = [
        (float(one.get("x", 0)), float(one.get("y", 0)), len(one.text or ""))
        for one in root.iter(f"{SVG}text")
        if one.get("font-size") == "9" and float(one.get("x", 0)) < 880 and len((one.text or "").strip()) > 1
    ]
    assert len(boxes) > 25
    for number, (x, y, length) in enumerate(boxes):
        for other_x, other_y, other_length in boxes[number + 1 :]:
            apart = x + 5.5 * length <= other_x + 0.1 or other_x + 5.5 * other_length <= x + 0.1
            assert apart or abs(y - other_y) >= 9


def test_hostile_names_are_escaped(drawn: SolubilityMap) -> None:
    """Names from a studio's catalogue cannot write tags or control characters into the file or terminal."""
    bad = '<script>&"\x1b[2J\u202e'
    worse = msgspec.structs.replace(
        drawn,
        liquids=(msgspec.structs.replace(drawn.liquids[0], name=bad), *drawn.liquids[1:]),
        regions=tuple(msgspec.structs.replace(one, name=bad) for one in drawn.regions),
        notes=(bad,),
    )
    svg = map_svg(worse)
    ElementTree.fromstring(svg)
    assert "<script" not in svg
    assert "\x1b" not in svg
    assert "\x1b" not in "".join(render_text(worse, 100, 40)[:40])


def test_regions_of_one_kind_have_signs_of_their_own(studio: Studio) -> None:
    """Two media are told apart."""
    asked = question(
        studio, adhesive="natural-rubber", medium="letterpress", also_media=["toner"], back_media=[]
    )
    letters = region_letters(solubility_map(studio, asked).regions)
    assert len(set(letters)) == len(letters)


def test_command(studio: Studio, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Text, JSON and SVG; a folder that is not there is one sentence, and no file is written over."""
    words = ["map", "--studio", str(studio.root), "--adhesive", "natural-rubber", "--medium", "letterpress"]
    assert main([*words, "--blend", "acetone 50, n-heptane 50", "--width", "90"]) == 0
    assert "A filled: reach" in capsys.readouterr().out
    assert main([*words, "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)["regions"]) == 2
    file = tmp_path / "map.svg"
    assert main([*words, "--svg", str(file), "--zoom", "60,25,15,40"]) == 0
    ElementTree.fromstring(file.read_text(encoding="utf-8"))
    capsys.readouterr()
    drawn = file.read_bytes()
    assert main([*words, "--svg", str(file)]) == 3
    assert capsys.readouterr().err.endswith("map.svg exists already; name a new file.\n")
    assert file.read_bytes() == drawn
    assert main([*words, "--svg", str(tmp_path / "no" / "map.svg")]) == 3
    assert capsys.readouterr().err.count("\n") == 1
