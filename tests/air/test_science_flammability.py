"""Explosive limits, closed spaces, mixtures and flash points."""

from __future__ import annotations

import pytest

from kb.science.air.flammability import (
    Filling,
    FlashPart,
    blend_flash_point,
    enclosed,
    enclosed_blend,
    lel_per_cent,
    max_blend_volume_ml,
)

ACETONE = Filling(1.0, 0.784, 58.08, 30.7, 2.5)
BENZYL_ALCOHOL = Filling(1.0, 1.045, 108.14, 0.01, 1.3)
DICHLOROMETHANE = Filling(1.0, 1.33, 84.93, 57.0, None)


def test_a_closed_space_stops_at_saturation():
    """A litre of acetone in 30 l: 30 % by volume and no more."""
    found = enclosed(ACETONE._replace(volume_ml=1000), 30, 25)
    assert found.saturated
    assert found.vol_pct == pytest.approx(100 * 30.7 / 101.325)
    assert found.lel_pct == pytest.approx(found.vol_pct / 2.5 * 100)
    assert not enclosed(ACETONE, 30, 25).saturated
    assert enclosed(ACETONE._replace(volume_ml=0), 30, 25) == (0, False, 0)


def test_no_known_limit_in_a_closed_space():
    """The vapour is told, its share of the limit is not; a blend with it is a lower bound."""
    assert enclosed(DICHLOROMETHANE, 30, 25).lel_pct is None
    parts, lel_pct = enclosed_blend([ACETONE, DICHLOROMETHANE], 30, 25)
    assert lel_pct == enclosed(ACETONE, 30, 25).lel_pct
    assert parts[1].lel_pct is None
    assert enclosed_blend([DICHLOROMETHANE], 30, 25)[1] is None


def test_the_most_of_a_blend_adds_up():
    """Le Chatelier on both parts, in the proportions given, also where one part saturates."""
    parts = [ACETONE._replace(volume_ml=3.0), BENZYL_ALCOHOL._replace(volume_ml=1.0)]
    most = max_blend_volume_ml(parts, 30, 25)
    used = [part._replace(volume_ml=part.volume_ml / 4 * most) for part in parts]
    inside, lel_pct = enclosed_blend(used, 30, 25)
    assert lel_pct == pytest.approx(10)
    assert inside[1].saturated


def part(name, share, flash, **flags):
    """A part of a blend."""
    return FlashPart(name, share, flash, **flags)


def test_flash_point_is_that_of_the_lowest_part_from_5_per_cent_on():
    """Below that a part is let go, and named."""
    blend = [part("white spirit", 0.9, 38), part("acetone", 0.05, -20), part("pentane", 0.05, -40)]
    assert blend_flash_point(blend)[:2] == (-40, "pentane")
    less = [part("white spirit", 0.93, 38), part("acetone", 0.05, -20), part("pentane", 0.02, -40)]
    found = blend_flash_point(less)
    assert found[:2] == (-20, "acetone")
    assert found.small_parts == ("pentane",)


def test_parts_that_hide_a_flash_are_warned_of():
    """A halogenated part and water each bring their caution; pure water none."""
    found = blend_flash_point(
        [
            part("dichloromethane", 0.5, None, never_flashes=True, halogenated=True),
            part("ethanol", 0.3, 12),
            part("water", 0.2, None, never_flashes=True, aqueous=True),
        ]
    )
    assert found[:3] == (12, "ethanol", ())
    assert len(found.cautions) == 2
    assert "dichloromethane" in found.cautions[0]
    assert blend_flash_point([part("water", 1.0, None, never_flashes=True, aqueous=True)]) == (
        None, "", (), (), (),
    )  # fmt: skip


def test_an_unknown_flash_point_is_named():
    """It is not the same as none."""
    found = blend_flash_point([part("xylene", 0.5, 25), part("mystery", 0.5, None)])
    assert (found.flash_c, found.unknown) == (25, ("mystery",))


@pytest.mark.parametrize(
    ("make", "why"),
    [
        (lambda: enclosed(ACETONE, 0, 25), "free space"),
        (lambda: enclosed(ACETONE._replace(volume_ml=-1), 30, 25), "volume of the liquid"),
        (lambda: enclosed(ACETONE._replace(density_g_ml=0), 30, 25), "density"),
        (lambda: enclosed(ACETONE._replace(lower_limit_vol_pct=0), 30, 25), "explosive limit"),
        (lambda: lel_per_cent(-1, 2.5), "concentration"),
        (lambda: max_blend_volume_ml([ACETONE], 30, 25, 0), "share of the lower"),
        (lambda: max_blend_volume_ml([ACETONE], 30, 25, 1.5), "share of the lower"),
        (lambda: blend_flash_point([]), "at least one part"),
        (lambda: blend_flash_point([part("a", 1.5, 1)]), "share of a"),
    ],
)
def test_impossible_figures_are_named(make, why):
    """A message, never a number."""
    with pytest.raises(ValueError, match=why):
        make()
