"""The drying path of a blend, and what it leads to."""

from __future__ import annotations

import pytest

from kb.science.liquids.drying import (
    CURVE,
    LOSSES,
    DryingPart,
    approaches,
    drying_path,
    last_on_the_sheet,
)

ACETONE = DryingPart("acetone", 0.5, 24.7, 74.0, (15.5, 10.4, 7.0))
HEPTANE = DryingPart("n-heptane", 0.5, 4.73, 147.4, (15.3, 0.0, 0.0))
BENZYL = DryingPart("benzyl-alcohol", 0.1, 0.0197, 103.6, (18.4, 6.3, 13.7))


def test_a_single_liquid_stays_itself():
    """All of it is lost evenly."""
    for step in drying_path([ACETONE]):
        assert step.shares == {"acetone": pytest.approx(1)}
        assert step.left["acetone"] == pytest.approx(1 - step.lost)
        assert step.hansen == pytest.approx((15.5, 10.4, 7.0))


def test_the_volatile_part_goes_first():
    """At 95 % loss hardly any acetone is left beside heptane; the path moves towards heptane all the time."""
    path = drying_path([ACETONE, HEPTANE])
    assert [step.lost for step in path] == list(LOSSES)
    shares = [step.shares["acetone"] for step in path]
    assert shares == sorted(shares, reverse=True)
    assert shares[0] == pytest.approx(0.5)
    assert shares[-1] < 0.01
    assert path[-1].hansen[1] < 0.1


def test_the_order_of_losses_is_kept():
    """As asked, also backwards and twice."""
    path = drying_path([ACETONE, HEPTANE], [0.8, 0.2, 0.8])
    assert [step.lost for step in path] == [0.8, 0.2, 0.8]
    assert path[0] == path[2]


def test_a_part_of_share_zero_is_left_out():
    """It needs no figures either."""
    ghost = DryingPart("ghost", 0.0, None, None)
    assert drying_path([ACETONE, ghost])[0].shares == {"acetone": 1.0}


def test_what_is_missing_is_named():
    """Every part and figure in one message."""
    with pytest.raises(
        ValueError,
        match=r"vapour pressure of turpentine and the molar volume of turpentine and .* of limonene",
    ):
        drying_path(
            [
                ACETONE,
                DryingPart("turpentine", 0.2, None, None),
                DryingPart("limonene", 0.2, 0.2, None),
            ]
        )


@pytest.mark.parametrize(
    ("parts", "losses", "why"),
    [
        ([], LOSSES, "at least one part"),
        ([ACETONE, ACETONE], LOSSES, "named twice"),
        ([ACETONE], [1.0], "below 1"),
        ([ACETONE], [-0.1], "below 1"),
        ([ACETONE._replace(share=-1)], LOSSES, "the share of acetone"),
        ([ACETONE._replace(vapour_pressure_kpa=0.0)], LOSSES, "the vapour pressure of acetone"),
        ([ACETONE._replace(molar_volume_cm3_mol=-3)], LOSSES, "the molar volume of acetone"),
    ],
)
def test_impossible_figures_are_named(parts, losses, why):
    """A message, never a path."""
    with pytest.raises(ValueError, match=why):
        drying_path(parts, losses)


def test_the_last_liquid_is_the_one_that_grew():
    """A tenth of benzyl alcohol is all that stays; two that dry together have no last, nor has one alone."""
    assert last_on_the_sheet(drying_path([ACETONE, BENZYL])) == ("benzyl-alcohol",)
    twin = ACETONE._replace(name="twin")
    assert last_on_the_sheet(drying_path([ACETONE, twin])) == ()
    assert last_on_the_sheet(drying_path([ACETONE])) == ()
    with pytest.raises(ValueError, match="at least one step"):
        last_on_the_sheet([])


def test_a_strong_last_liquid_is_seen():
    """Fresh, the blend lies outside the ink; the benzyl alcohol that stays lies inside."""
    path = drying_path([HEPTANE._replace(share=0.9), BENZYL], CURVE)
    spheres = {"ink": ((18.0, 7.0, 13.0), 5.0), "rubber": ((15.5, 1.0, 1.0), 6.0)}
    ink, rubber = approaches(path, spheres)
    assert ink.red_at_start > 1 > ink.red_at_end
    assert ink.strong_at_the_end
    assert not rubber.strong_at_the_end
    assert ink.lowest_red <= ink.red_at_end


def test_without_hansen_parameters_there_is_a_path_but_no_place():
    """Shares are still told."""
    path = drying_path([ACETONE, HEPTANE._replace(hansen=None)])
    assert path[-1].hansen is None
    with pytest.raises(ValueError, match="no Hansen parameters"):
        approaches(path, {"ink": ((18.0, 7.0, 13.0), 5.0)})
