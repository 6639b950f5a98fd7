"""Spheres fitted to crumbs: the desirability, what fits as well, the record, the command, the pane."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest
import yaml

from kb.book.kinds.swelling import Swelling
from kb.cli.main import main
from kb.desk.errors import DeskError
from kb.desk.liquids.own_sphere import own_sphere, printed_spheres
from kb.desk.materials.lookup import read
from kb.desk.records.record import write
from kb.desk.studio import Studio
from kb.science.liquids.fitting import Seen, fit_sphere, quality
from kb.science.liquids.solubility import distance

OBSERVED = Path(__file__).parents[1] / "published" / "solubility_observations.yaml"
PMMA = "poly-methyl-methacrylate"
CRUMBS = {
    **dict.fromkeys(("acetone", "butanone", "benzene", "chloroform"), 4),
    "n-heptane": 0,
    "water": 0,
    "methanol": 1,
    "cyclohexane": 0,
    "diethyl-ether": 1,
}


def test_quality_is_the_geometric_mean_of_what_lies_wrong() -> None:
    """One of four lies 0.7 outside: exp(-0.7) to the power 1/4 (the formula, by hand)."""
    at = (17.0, 5.0, 5.0)
    seen = [
        Seen((17.0, 5.0, 8.0), True),
        Seen((17.0, 9.7, 5.0), True),
        Seen((17.0, 20.0, 5.0), False),
        Seen((20.0, 5.0, 5.0), False),
    ]
    assert quality(seen, at, 4.0) == pytest.approx(math.exp(-0.7) ** 0.25)
    assert quality(seen[:1], at, 4.0) == 1.0


def test_a_made_sphere_is_found_again(studio: Studio) -> None:
    """All liquids judged by one sphere: a perfect fit, the made centre near what fits as well."""
    centre, r0 = (18.0, 9.0, 7.0), 7.0
    hansens = [one.hansen for one in studio.compiled.liquids if one.hansen is not None]
    fit = fit_sphere([Seen(one, distance(one, centre) <= r0) for one in hansens])
    assert fit.quality == 1.0
    assert fit.wrong == ()
    assert distance(fit.centre, centre) < 2.0
    for (low, high), true in zip(fit.ranges, (*centre, r0), strict=True):
        assert low - 0.5 <= true <= high + 0.5


@pytest.mark.parametrize("name", ["cis-polyisoprene", "polystyrene", "yesno-polyisobutylene", "yesno-pmma"])
def test_published_letters_give_a_sphere_that_fits_them(studio: Studio, name: str) -> None:
    """Orwoll and Arnold (2007), table 14.1, and a university page of yes and no, both read for the catalogue.

    The fit is perfect and no worse than the printed sphere's, whose centre mostly lies in what fits as well.
    The example printed with the desirability function could not be read: tests/published says what was.
    """
    sets = {one["id"]: one for one in yaml.safe_load(OBSERVED.read_text("utf-8"))["sets"]}
    by_id = studio.compiled.by_id
    seen = [
        Seen(hansen, one["label"] == "good")
        for one in sets[name]["observations"]
        if one["label"] != "borderline" and not one.get("disputed")
        if one["liquid"] in by_id and (hansen := by_id[one["liquid"]].hansen) is not None
    ]
    fit = fit_sphere(seen)
    assert fit.quality == 1.0
    ((centre, r0),) = printed_spheres(studio, sets[name]["polymer"])
    assert quality(seen, centre, r0) <= fit.quality
    inside = [low - 1 <= at <= high + 1 for (low, high), at in zip(fit.ranges, centre, strict=False)]
    assert sum(inside) >= 2


def crumble(studio: Studio, **grades: int) -> None:
    """Write down crumb tests of acrylic."""
    for liquid, grade in (grades or CRUMBS).items():
        write(studio, "swelling", Swelling(material=PMMA, liquid=liquid.replace("_", "-"), grade=grade))
    studio.refresh()


def test_own_crumbs_give_a_sphere_beside_the_printed_one(studio: Studio) -> None:
    """The printed sphere stays in the catalogue and in the ranking; both are told with how well they fit."""
    compiled = studio.compiled
    with pytest.raises(DeskError, match="needs 6 liquids"):
        own_sphere(studio, PMMA)
    crumble(studio)
    found = own_sphere(studio, PMMA)
    assert found.quality > found.printed[0].quality
    assert all(
        low <= at <= high for (low, high), at in zip(found.ranges, (*found.centre, found.r0), strict=True)
    )
    assert {one.id for one in found.liquids if one.good} == {"acetone", "butanone", "benzene", "chloroform"}
    assert studio.compiled.adhesives == compiled.adhesives
    values = [line.value for line in read(studio, "polymer", PMMA).lines if line.label == "own sphere"]
    assert len(values) == 2
    assert "fit as well" in values[1]


def test_the_mean_of_repeated_crumbs_counts_and_too_few_are_said_on_the_pane(studio: Studio) -> None:
    """Two opinions of one liquid are one liquid; the pane says how many there are so far."""
    crumble(studio, acetone=4)
    crumble(studio, acetone=1)
    (line,) = (one for one in read(studio, "polymer", PMMA).lines if one.label == "own sphere")
    assert line.value.startswith("own crumbs: 2 so far")
    assert "0 that do and 1 that do not" in line.value


def test_commands(studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """A crumb is written down and listed, also of grade 0; the sphere is printed, or why there is none."""
    root = ["--studio", str(studio.root)]
    assert main(["crumb", "add", "poly(methyl methacrylate)", "heptane", "0", "--dwell", "2 min", *root]) == 0
    assert "n-Heptane: 0 nothing in 2 min" in capsys.readouterr().out
    assert main(["crumb", "list", "poly(methyl methacrylate)", *root]) == 0
    assert "n-Heptane" in capsys.readouterr().out
    assert main(["sphere", "poly(methyl methacrylate)", *root]) == 1
    said = " ".join(capsys.readouterr().out.split())
    assert "needs 6 liquids" in said
    assert "in print: dD 18.64" in said
    crumble(studio)
    assert main(["sphere", "poly(methyl methacrylate)", *root]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "own crumbs: dD" in said
    assert "in print: dD 18.64" in said
    assert main(["sphere", "poly(methyl methacrylate)", "--json", *root]) == 0
    assert json.loads(capsys.readouterr().out)["good_from"] == 3


def test_totals_are_read_and_shown_in_both_units(studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """Acetone: 9.77 (cal/cm3)^1/2 in the tables of J. Burke (1984, from memory), 9.7 by Hansen's three."""
    (line,) = (one for one in read(studio, "liquid", "acetone").lines if one.label == "Hildebrand, total")
    assert line.value.startswith("19.9 MPa^0.5, that is 9.7 (cal/cm3)^1/2")
    root = ["--studio", str(studio.root)]
    listed = []
    for typed in ("9.7 (cal/cm3)^1/2", "19.84 MPa^0.5", "19.84"):
        assert main(["liquids", "--hildebrand", typed, *root]) == 0
        listed.append(capsys.readouterr().out)
    assert "acetone" in listed[0]
    assert listed[0] == listed[1] == listed[2]
    assert main(["liquids", "--hildebrand", "9.7 kg", *root]) == 3
