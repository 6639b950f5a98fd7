"""The blend finder: its objective, its rules, what it refuses and what a blend gains."""

from __future__ import annotations

import math

import pytest

from kb.science.liquids.blend_finder import Candidate, Rules, Sphere, find, gain, judge, vapour_index
from kb.science.liquids.miscibility import (
    MIX,
    PART,
    Gap,
    MixingTable,
    check_gap,
    gap_with_water,
    mixing_by,
    parts_company,
)
from kb.science.liquids.solubility import red

ACETONE = Candidate("acetone", (15.5, 10.4, 7.0), 0.4, 74.0, 24.7, -20.0, limit_ppm=500.0)
ETHANOL = Candidate("ethanol", (15.8, 8.8, 19.4), 0.2, 58.5, 5.9, 12.0, limit_ppm=1000.0)
HEPTANE = Candidate("n-heptane", (15.3, 0.0, 0.0), 0.3, 147.4, 4.7, -7.0, limit_ppm=500.0)
TOLUENE = Candidate("toluene", (18.0, 1.4, 2.0), 0.9, 106.8, 2.9, 4.0, limit_ppm=50.0)
WATER = Candidate("water", (15.5, 16.0, 42.3), 0.0, 18.0, 2.34, None, never_flashes=True)
LIMONENE = Candidate("limonene", (17.2, 1.8, 4.3), 0.5, 162.9, 0.2, 48.0)
SHELF = [ACETONE, ETHANOL, HEPTANE, TOLUENE, WATER, LIMONENE]
RUBBER = Sphere("rubber", (17.0, 3.0, 3.5), 5.0)
INK = Sphere("ink", (16.0, 10.0, 14.0), 9.0)


def ids(found):
    """The sets of liquids, best first."""
    return [tuple(name for name, _ in blend.parts) for blend in found.blends]


def test_every_blend_goes_inside_and_says_how_far_it_stays_out():
    """Shares in steps of 5 % that sum to 100, RED inside at most 1, the margin that of the nearest sphere."""
    found = find(SHELF, [RUBBER], [INK], count=50)
    assert found.blends
    for blend in found.blends:
        assert sum(share for _, share in blend.parts) == 100
        assert all(share % 5 == 0 and share > 0 for _, share in blend.parts)
        assert len(blend.parts) in (2, 3)
        assert blend.inside[0] == pytest.approx(red(blend.hansen, RUBBER.centre, RUBBER.r0))
        assert blend.inside[0] <= 1 + 1e-6
        assert (blend.nearest, blend.margin) == (
            "ink",
            pytest.approx(red(blend.hansen, INK.centre, INK.r0) - 1),
        )
    assert len(set(ids(found))) == len(found.blends)


def test_the_harm_margin_goes_first():
    """Best first, in hundredths of RED."""
    margins = [round(blend.margin, 2) for blend in find(SHELF, [RUBBER], [INK], count=50).blends]
    assert margins == sorted(margins, reverse=True)


def test_hazard_decides_between_equal_margins():
    """Two liquids at one place, one more hazardous: the milder one is in the better blend."""
    mild = HEPTANE._replace(id="z-mild", hazard=0.0)
    best = find([HEPTANE, mild, TOLUENE._replace(hazard=0.1)], [RUBBER], [INK], Rules(max_parts=2)).blends[0]
    assert {name for name, _ in best.parts} == {"z-mild", "toluene"}
    assert best.hazard == 0.1


def test_fewer_liquids_decide_between_equals():
    """Beyond the cap every margin counts alike, and then two parts come before three."""
    far = Sphere("far", (15.0, 60.0, 60.0), 4.0)
    found = find([HEPTANE, TOLUENE, LIMONENE], [RUBBER], [far])
    assert [len(blend.parts) for blend in found.blends] == sorted(len(blend.parts) for blend in found.blends)
    assert all(blend.margin > 2 for blend in found.blends)


def test_without_a_medium_in_reach_there_is_no_margin():
    """Hazard, simplicity and depth decide."""
    found = find(SHELF, [RUBBER], [])
    assert all((blend.margin, blend.nearest) == (None, "") for blend in found.blends)
    hazards = [blend.hazard for blend in found.blends]
    assert hazards == sorted(hazards)


def test_all_spheres_to_go_into_must_hold():
    """A second sphere leaves fewer sets, and each blend is in both."""
    carrier = Sphere("carrier", (16.0, 6.0, 6.0), 4.0)
    both = find(SHELF, [RUBBER, carrier], [INK], count=50)
    assert both.blends
    assert all(max(blend.inside) <= 1 + 1e-6 for blend in both.blends)
    assert set(ids(both)) < set(ids(find(SHELF, [RUBBER], [INK], count=50)))


@pytest.mark.parametrize(
    ("rules", "why"),
    [
        (Rules(forbid=frozenset({"toluene"})), {"toluene": "not allowed here"}),
        (Rules(max_hazard=0.5), {"toluene": "more hazardous than allowed"}),
        (
            Rules(min_flash_c=0.0),
            {
                "acetone": "it flashes at -20 °C, below 0 °C",
                "n-heptane": "it flashes at -7 °C, below 0 °C",
                "mystery": "its flash point is not known here",
            },
        ),
    ],
)
def test_liquids_that_the_rules_leave_out_are_named(rules, why):
    """With the reason, and in no blend. Water never flashes, which is not the same as not known."""
    mystery = Candidate("mystery", (16.0, 5.0, 5.0))
    found = find([*SHELF, mystery], [RUBBER], [INK], rules, count=100)
    assert {refusal.ids[0]: refusal.why for refusal in found.refused} == why
    assert not {name for blend in ids(found) for name in blend} & set(why)


def test_a_liquid_without_hansen_parameters_is_left_out():
    """It cannot be placed."""
    found = find([*SHELF, Candidate("spirit", None)], [RUBBER], [INK])
    assert found.refused[0] == (("spirit",), "its Hansen parameters are not known here")


def test_two_that_part_are_refused_and_it_says_so():
    """Heptane and water at all shares; acetone and toluene in a gap; acetone and heptane not known."""
    table = MixingTable(
        names={},
        pairs={
            ("n-heptane", "water"): PART,
            ("acetone", "toluene"): Gap(0.0, 0.5),
            ("acetone", "water"): MIX,
        },
        with_water={},
    )
    shelf = [ACETONE, HEPTANE, TOLUENE, WATER]
    found = find(shelf, [RUBBER], [INK], mixing=mixing_by(table), count=50)
    assert (("n-heptane", "water"), "they part company") in found.refused
    for blend in found.blends:
        shares = dict(blend.parts)
        assert not {"n-heptane", "water"} <= shares.keys()
        if {"acetone", "toluene"} <= shares.keys():
            assert shares["acetone"] >= shares["toluene"]
    assert any({"acetone", "n-heptane"} <= dict(blend.parts).keys() for blend in found.blends)


def test_a_blend_says_what_it_could_replace_and_what_is_gained():
    """Toluene is forbidden: limonene and heptane go where it goes, milder and with more margin."""
    found = find(SHELF, [RUBBER], [INK], Rules(forbid=frozenset({"toluene"})), count=50)
    blend = next(one for one in found.blends if {name for name, _ in one.parts} == {"limonene", "n-heptane"})
    gained = gain(blend, SHELF, [RUBBER], [INK])
    assert gained.replaces == "toluene"
    assert gained.hazard == pytest.approx(0.5 - 0.9)
    assert gained.flash_c == -7 - 4
    assert gained.vapour_index_ratio is None
    assert gain(judge([(TOLUENE, 100)], [RUBBER], [INK]), [TOLUENE, ACETONE], [RUBBER], [INK]) is None


def test_a_pure_liquid_and_a_given_blend_are_judged_in_the_same_terms():
    """Any shares that sum to 100, inside or not."""
    pure = judge([(TOLUENE, 100)], [RUBBER], [INK])
    assert (pure.parts, pure.hazard, pure.flash_c) == ((("toluene", 100),), 0.9, 4)
    assert pure.vapour_index == pytest.approx(1e6 * 2.9 / 101.325 / 50)
    mixed = judge([(WATER, 33), (ACETONE, 67)], [RUBBER], [INK])
    assert mixed.parts == (("acetone", 67), ("water", 33))
    assert mixed.flash_c == -20
    assert mixed.vapour_index is None
    with pytest.raises(ValueError, match="sum to 100"):
        judge([(WATER, 33)], [RUBBER], [INK])
    with pytest.raises(ValueError, match="Hansen parameters of spirit"):
        judge([(Candidate("spirit", None), 100)], [RUBBER], [INK])


def test_vapour_hazard_of_a_blend_by_hand():
    """Equal moles: half of each ratio."""
    one, two = (TOLUENE._replace(id=name, molar_volume_cm3_mol=100.0) for name in "ab")
    assert vapour_index([one, two._replace(limit_ppm=100.0)], [50, 50]) == pytest.approx(
        1e6 * 2.9 / 101.325 * (0.5 / 50 + 0.5 / 100)
    )


@pytest.mark.parametrize(
    ("make", "why"),
    [
        (lambda: find(SHELF, [], [INK]), "inside at least one sphere"),
        (lambda: find(SHELF, [RUBBER._replace(r0=0)], []), "radius of rubber"),
        (lambda: find(SHELF, [RUBBER], [INK._replace(r0=math.nan)]), "radius of ink"),
        (lambda: find(SHELF, [RUBBER], [], Rules(step_percent=3)), "divide 100"),
        (lambda: find(SHELF, [RUBBER], [], Rules(max_parts=4)), "2 or 3 parts"),
        (lambda: find(SHELF, [RUBBER], [], count=0), "at least one blend"),
        (lambda: find([ACETONE, ACETONE], [RUBBER], []), "twice"),
    ],
)
def test_questions_that_cannot_be_are_refused(make, why):
    """Each with its sentence."""
    with pytest.raises(ValueError, match=why):
        make()


def test_an_empty_shelf_gives_no_blends():
    """Nor does a single liquid."""
    assert find([], [RUBBER], [INK]).blends == ()
    assert find([TOLUENE], [RUBBER], [INK]).blends == ()


TABLE = MixingTable(
    names={
        "methanol": ("methanol", "alcohol"),
        "ethanol": ("ethanol", "alcohol"),
        "n-heptane": ("n-heptane", "alkane"),
        "acetone": ("acetone", "ketone"),
    },
    pairs={("alcohol", "alkane"): MIX, ("n-heptane", "methanol"): Gap(0.1, 0.9), ("alkane", "alkane"): MIX},
    with_water={"n-heptane": PART, "ethanol": MIX, "butanone": Gap(0.25, 0.5, 1.0)},
)


@pytest.mark.parametrize(
    ("a", "b", "share_a", "answer"),
    [
        ("ethanol", "n-heptane", 0.5, False),
        ("methanol", "n-heptane", 0.5, True),
        ("methanol", "n-heptane", 0.95, False),
        ("n-heptane", "methanol", 0.05, False),
        ("n-heptane", "water", 0.5, True),
        ("water", "ethanol", 0.5, False),
        ("butanone", "water", 0.2, False),
        ("butanone", "water", 0.4, True),
        ("butanone", "water", 0.9, None),
        ("acetone", "n-heptane", 0.5, None),
        ("acetone", "mystery", 0.5, None),
        ("acetone", "acetone", 0.5, False),
        ("n-heptane", "water", 0.0, False),
    ],
)
def test_parting_by_the_narrowest_row_then_by_water(a, b, share_a, answer):
    """A row for the liquid beats one for its family; the order of the two does not matter."""
    assert parts_company(TABLE, a, b, share_a, 1 - share_a) is answer
    assert parts_company(TABLE, b, a, 1 - share_a, share_a) is answer
    assert mixing_by(TABLE)(a, b, 3 * share_a, 3 * (1 - share_a)) is answer


def test_gap_with_water_from_the_words_of_the_catalogue():
    """Every proportion, in part (with its doubt), sparing, nothing said."""
    assert gap_with_water("mixes with water in every proportion", None, None) == MIX
    assert gap_with_water("mixes with water in part", 275, 0.8) == (pytest.approx(343.75 / 1343.75), 0.5, 1.0)
    assert gap_with_water("mixes with water in part", None, None) == (0.0, 0.5, 1.0)
    assert gap_with_water("sparingly soluble in water", 19, 0.8) == (
        pytest.approx(0.0232, abs=1e-4),
        1.0,
        0.0,
    )
    assert gap_with_water("", None, None) is None


def test_a_gap_runs_from_less_to_more():
    """Within 0 to 1."""
    assert check_gap(PART) is PART
    for gap in (Gap(0.5, 0.4), Gap(-0.1, 0.4), Gap(0.0, 1.1), Gap(0.0, 0.5, 2.0)):
        with pytest.raises(ValueError, match="gap"):
            check_gap(gap)
    with pytest.raises(ValueError, match="shares of two liquids"):
        parts_company(TABLE, "acetone", "water", 0, 0)
