"""Size of molecules, parting from paper, harm by words, the edge of a sphere, and the stage as a mixture."""

from __future__ import annotations

import math

import pytest

from kb.science.choose import acting, learnt
from kb.science.choose.evidence import Posterior, further_cost
from kb.science.choose.groups import Step, expected


def test_size_follows_the_mixing_parameter():
    """RED^2 V: 400 cm3/mol doubles what 100 leaves alone; an unknown volume changes nothing."""
    assert acting.sized_red(0.7, 100.0) == pytest.approx(0.7)
    assert acting.sized_red(0.7, 400.0) == pytest.approx(1.4)
    assert acting.sized_red(0.7, None) == 0.7


def test_volume_of_a_blend_is_volume_over_amount():
    """Half 50 and half 100 cm3/mol: 0.01 + 0.005 mol in 1 cm3, 66.7 cm3/mol; not 75."""
    assert acting.blend_volume([50.0, 100.0], [0.5, 0.5]) == pytest.approx(200 / 3)


def test_parting_is_best_halfway_to_the_paper():
    """At the middle (1/4 + 1/4) / 0.8; at the adhesive 1 / 0.8."""
    adhesive = (17.0, 3.0, 4.0)
    middle = tuple((a + c) / 2 for a, c in zip(adhesive, acting.CELLULOSE, strict=True))
    assert acting.parting(middle, adhesive) == pytest.approx(0.625)
    assert acting.parting(adhesive, adhesive) == pytest.approx(1.25)


def test_parting_counts_more_with_age_and_never_for_what_is_fused():
    """0.3, 0.5 and 0.8 of it; without parting the dissolving stands alone."""
    found = [acting.acting_red(2.0, 1.0, position) for position in range(3)]
    assert found == pytest.approx([1.7, 1.5, 1.2])
    assert acting.acting_red(2.0, None, 2) == 2.0


def test_the_same_word_means_the_same_chance():
    """Without a sphere the grade alone speaks, of several the worst."""
    free = 0.8 * 0.15
    care = acting.medium_harm(None, ["stable", "test with care"], "free")
    assert care == pytest.approx(acting.logistic(math.log(0.15 / 0.85) + free))
    assert acting.paper_harm(["stable", "test with care"]) == 0.15
    assert acting.paper_harm(["usually bleeds"]) == 0.5


def test_grade_and_sphere_meet_halfway_in_logits():
    """The sphere of fluid oil alone would foresee far more harm to dry print than the handbook grade."""
    grade = acting.medium_harm(None, ["test with care"], "free")
    both = acting.medium_harm(0.3, ["test with care"], "free")
    sphere = acting.medium_harm(0.3, [], "free")
    assert grade < both < sphere
    assert acting.logit(both) == pytest.approx((acting.logit(grade) + acting.logit(sphere)) / 2)


def test_a_cured_binder_swells_and_is_harmed_less_than_its_fluid_oil():
    """Less within the sphere, with a grade and without; nothing changes where no sphere is known."""
    for grades in ([], ["test with care"]):
        fluid = acting.medium_harm(0.3, grades, "free")
        assert acting.medium_harm(0.3, grades, "free", cured=True) < fluid
        unknown = acting.medium_harm(None, grades, "free")
        assert acting.medium_harm(None, grades, "free", cured=True) == unknown
    ordered = [acting.medium_harm(red, [], "free", cured=True) for red in (0.1, 0.9, 1.5, 2.5)]
    assert ordered == sorted(ordered, reverse=True)


@pytest.mark.parametrize(
    ("red", "words"),
    [
        (0.0, "inside"),
        (0.899, "inside"),
        (0.9, "at the edge of"),
        (1.1, "at the edge of"),
        (1.101, "outside"),
    ],
)
def test_the_edge_of_a_sphere_is_neither_in_nor_out(red, words):
    """RED 0.9 to 1.1."""
    assert acting.side(red) == words


def test_a_dissolved_carrier_counts_evenly_across_the_edge():
    """1 inside, 0 outside, a half on the surface."""
    assert [acting.dissolves(red) for red in (None, 0.5, 1.0, 1.5)] == pytest.approx([0, 1, 0.5, 0])


def test_water_on_a_dispersion_goes_by_stage_but_never_against_the_handbook():
    """Where the table says rarely, a fresh stage does not make water release: silicone."""
    fresh, aged, late = (acting.water_release(0.5, position, disperses=True) for position in range(3))
    assert fresh > aged > late
    assert acting.water_release(-2.0, 0, disperses=True) == acting.water_release(-2.0, 2, disperses=False)
    assert acting.water_release(-2.0, 0, disperses=True) < 0.15


def test_harm_of_several_things_is_never_less_than_of_one():
    """1 - (1 - a)(1 - b)."""
    assert acting.any_harm([0.1, 0.2]) == pytest.approx(0.28)
    assert acting.any_harm([0.1]) == pytest.approx(0.1)


def test_familiarity_costs_less_with_each_report():
    """2, 1, 2/3, and two more for what stays in the sheet."""
    assert [further_cost(named, lingers=False) for named in (0, 1, 2)] == pytest.approx([2, 1, 2 / 3])
    assert further_cost(1, lingers=True) == 3


def test_a_failed_aliphatic_speaks_for_a_later_stage_and_polar_liquids_rise():
    """Chances at the three stages: heptane .7 .5 .2, ethanol .3 .35 .5; heptane fails."""
    before = (0.2, 0.6, 0.2)
    after = learnt.reweighed(before, [((0.7, 0.5, 0.2), False)])
    assert after == pytest.approx((0.06 / 0.52, 0.3 / 0.52, 0.16 / 0.52))
    one = Posterior(1.2, 2.0)
    assert learnt.moved(one, (0.3, 0.35, 0.5), before, after).mean > one.mean
    assert learnt.moved(one, (0.7, 0.5, 0.2), before, after).mean < one.mean
    assert learnt.moved(one, (0.3, 0.35, 0.5), before, before).mean == pytest.approx(one.mean)


def test_expected_spots_by_hand():
    """Step one: a look that stays clean in .9, then .5 / .1; step two without a look, .4 / .2."""
    spots, release, harm = expected([Step(1, 0.9, 0.5, 0.1), Step(0, 1.0, 0.4, 0.2)])
    reach = 0.9 * 0.5 * 0.9 + 0.1
    assert spots == pytest.approx(1 + 0.9 + reach)
    assert release == pytest.approx(0.9 * 0.5 * 0.9 + reach * 0.4 * 0.8)
    assert harm == pytest.approx(0.9 * 0.1 + reach * 0.2)
    assert expected([]) == (0, 0, 0)
