"""The drying path at the desk: mass is kept, the last liquid is named, what is missing is refused."""

from __future__ import annotations

import json
import math

import pytest

from kb.cli.main import main
from kb.desk.errors import DeskError
from kb.desk.liquids.drying import drying_path
from kb.desk.liquids.spheres import adhesive_spheres, medium_spheres
from kb.desk.materials.physical import physical, vapour_pressure_kpa
from kb.desk.studio import Studio

BLEND = {"acetone": 0.5, "n-heptane": 0.5}


def test_what_is_left_adds_up_and_nothing_is_created(studio: Studio) -> None:
    """Shares sum to 100, what is left of each part falls, and the loss is that of the step."""
    path = drying_path(studio, {"acetone": 0.4, "ethanol": 0.4, "n-heptane": 0.2})
    assert [step.lost_pct for step in path.steps] == pytest.approx([0, 50, 80, 95])
    before = dict.fromkeys(path.parts_pct, 100.0001)
    for step in path.steps:
        assert sum(step.shares_pct.values()) == pytest.approx(100)
        left = sum(path.parts_pct[one] * share / 100 for one, share in step.left_pct.items())
        assert left == pytest.approx(100 - step.lost_pct)
        assert all(share <= before[one] + 1e-9 for one, share in step.left_pct.items())
        before = step.left_pct


def test_the_first_loss_follows_raoult(studio: Studio) -> None:
    """Logarithms of what is left stand as the vapour pressures: n = n0 exp(-p s), from Raoult's law."""
    path = drying_path(studio, BLEND)
    first = path.curve[1]
    one, two = (physical(studio, name) for name in BLEND)
    ratio = math.log(first.left_pct["acetone"] / 100) / math.log(first.left_pct["n-heptane"] / 100)
    assert one.vapour_pressure_kpa is not None
    assert two.vapour_pressure_kpa is not None
    assert ratio == pytest.approx(one.vapour_pressure_kpa / two.vapour_pressure_kpa, rel=1e-6)


def test_the_last_liquid_and_the_order_are_named(studio: Studio) -> None:
    """Heptane stays behind acetone; a pure liquid is its own last."""
    path = drying_path(studio, BLEND)
    assert path.order == ("acetone", "n-heptane")
    assert path.last == ("n-heptane",)
    assert "Last on the sheet: n-Heptane." in path.notes
    assert drying_path(studio, {"acetone": 1.0}).last == ("acetone",)


def test_it_warns_when_the_strong_liquid_stays_last(studio: Studio) -> None:
    """Heptane leaves before butyl acetate, which lies inside the ink: said only when the ink is near."""
    ink = medium_spheres(studio, "letterpress-oil")
    assert ink
    strong = drying_path(studio, {"n-heptane": 0.8, "n-butyl-acetate": 0.2}, out_of=ink)
    assert any("The last on the sheet is the strong one: n-Butyl acetate" in one for one in strong.warnings)
    mild = drying_path(studio, BLEND, out_of=ink)
    assert not any("strong one" in one for one in mild.warnings)
    assert mild.steps[-1].red[ink[0].name] > 1
    assert not drying_path(studio, {"n-heptane": 0.8, "n-butyl-acetate": 0.2}).warnings


def test_it_warns_when_the_adhesive_is_left_on_the_way(studio: Studio) -> None:
    """A blend that starts inside the adhesive and ends outside asks to be used wet."""
    rubber = adhesive_spheres(studio, "natural-rubber-resin")
    path = drying_path(studio, {"n-heptane": 0.6, "propan-2-ol": 0.2, "benzyl-alcohol": 0.2}, into=rubber)
    assert path.steps[0].red[rubber[0].name] < 1
    assert any("leaves the sphere" in one for one in path.warnings)


def test_a_blend_that_parts_is_warned_of(studio: Studio) -> None:
    """Two layers do not dry as one liquid."""
    path = drying_path(studio, {"n-heptane": 0.5, "methanol": 0.5})
    assert any("part company" in one for one in path.warnings)


def test_what_is_missing_is_refused_by_name(studio: Studio) -> None:
    """Ethyl lactate has no vapour pressure here; both missing figures are named at once."""
    with pytest.raises(DeskError, match="vapour pressure of Ethyl lactate"):
        drying_path(studio, {"acetone": 0.5, "ethyl-lactate": 0.5})
    with pytest.raises(DeskError, match=r"vapour pressure of Ethyl lactate.*Stoddard"):
        drying_path(studio, {"ethyl-lactate": 0.5, "stoddard-solvent": 0.5})
    with pytest.raises(DeskError, match="not to 80"):
        drying_path(studio, BLEND, 80.0)


def test_vapour_pressure_between_and_beyond_the_two_known(studio: Studio) -> None:
    """Acetone at 30 C: 37.9 kPa by the Antoine equation of handbooks (from memory), within 2 %."""
    acetone = physical(studio, "acetone").record
    assert vapour_pressure_kpa(acetone, 20.0) == 24.7
    assert vapour_pressure_kpa(acetone, 25.0) == 30.7
    middle = vapour_pressure_kpa(acetone, 22.5)
    assert middle is not None
    assert 24.7 < middle < 30.7
    assert vapour_pressure_kpa(acetone, 30.0) == pytest.approx(37.9, rel=0.02)
    xylene = physical(studio, "xylene").record
    assert vapour_pressure_kpa(xylene, 20.0) is not None
    assert vapour_pressure_kpa(xylene, 22.0) is None


def test_warmer_dries_in_the_same_order(studio: Studio) -> None:
    """Temperature moves the figures, not the sense; Fahrenheit is understood."""
    assert drying_path(studio, BLEND, 30.0).order == ("acetone", "n-heptane")


def test_command(studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """JSON and text; an unknown vapour pressure is one sentence."""
    words = ["dry", "--studio", str(studio.root)]
    blend = ["--blend", "acetone 50, n-heptane 50", "--temp", "68F"]
    assert main([*words, *blend, "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["temp_c"] == pytest.approx(20)
    assert [round(step["lost_pct"]) for step in answer["steps"]] == [0, 50, 80, 95]
    assert {"unit", "model", "source", "defer"} <= set(answer)
    assert main([*words, *blend, "--adhesive", "natural-rubber", "--medium", "letterpress"]) == 0
    text = capsys.readouterr().out
    assert "95 % gone" in text
    assert "Raoult" in text
    assert main([*words, "--blend", "acetone 50, ethyl-lactate 50"]) == 3
    assert "Ethyl lactate" in capsys.readouterr().err
