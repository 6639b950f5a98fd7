"""The blend finder against plain trial of every composition, and what its rules promise."""

from __future__ import annotations

import itertools
import math

from hypothesis import given, settings
from hypothesis import strategies as st

from kb.science.liquids.blend_finder import MARGIN_CAP, Candidate, Rules, Sphere, find
from kb.science.liquids.blends import mix_hansen
from kb.science.liquids.solubility import red

# Round figures hit edges and ties, which random floats never do.
ROUND = st.integers(0, 60).map(lambda n: n * 0.5)
ANY = st.floats(0, 30)
PLACES = st.one_of(st.tuples(ROUND, ROUND, ROUND), st.tuples(st.floats(14, 20), ANY, ANY))
HAZARDS = st.sampled_from([0.0, 0.2, 0.5, 1.0])


@st.composite
def shelves(draw, least=2):
    """Up to six liquids, some at one place."""
    places = draw(st.lists(PLACES, min_size=least, max_size=6))
    return [
        Candidate(
            f"l{number}",
            place,
            draw(HAZARDS),
            draw(st.floats(20, 200)),
            draw(st.floats(0.01, 50)),
            draw(st.floats(-40, 60)),
            limit_ppm=draw(st.floats(1, 1000)),
        )
        for number, place in enumerate(places)
    ]


@st.composite
def questions(draw, into=(1, 2), out_of=(0, 3), least=2):
    """A shelf, spheres within reach of its mixtures to go into, and spheres anywhere to keep out of."""
    liquids = draw(shelves(least))
    reachable = []
    for number in range(draw(st.integers(*into))):
        one, two = draw(st.sampled_from(liquids)).hansen, draw(st.sampled_from(liquids)).hansen
        share = draw(st.integers(0, 10)) / 10
        centre = tuple(share * a + (1 - share) * b for a, b in zip(one, two, strict=True))
        reachable.append(Sphere(f"in-{number}", centre, draw(st.sampled_from([1.0, 3.0, 5.0, 8.0, 12.0]))))
    away = [
        Sphere(f"out-{number}", draw(PLACES), draw(st.floats(2, 25)))
        for number in range(draw(st.integers(*out_of)))
    ]
    return liquids, reachable, away


def parts_by_number(a, b, share_a, share_b):
    """A made-up answer about mixing that depends on names and shares."""
    kind = (int(a[1:]) * 7 + int(b[1:]) * 3) % 5
    if kind == 0:
        return True
    if kind == 1:
        return share_a > 0.4
    return None if kind == 2 else False


def brute_force(liquids, into, out_of, rules, mixing, count):
    """Every composition of every set, one by one; the best of each set, in the documented order."""
    steps = 100 // rules.step_percent
    best = {}
    kept = [one for one in sorted(liquids, key=lambda one: one.id) if one.id not in rules.forbid]
    for size in range(2, rules.max_parts + 1):
        for members in itertools.combinations(kept, size):
            for counts in itertools.product(range(1, steps), repeat=size):
                if sum(counts) != steps:
                    continue
                key = key_of(members, counts, into, out_of, rules)
                if key is not None and mixes(members, counts, mixing):
                    ids = tuple(one.id for one in members)
                    best[ids] = min(best.get(ids, key), key)
    return [tuple(zip(key[4], key[5], strict=True)) for key in sorted(best.values())[:count]]


def key_of(members, counts, into, out_of, rules):
    """The order of the objective, or None if the blend does not go inside."""
    total = sum(counts)
    place = mix_hansen([one.hansen for one in members], [count / total for count in counts])
    inside = [red(place, sphere.centre, sphere.r0) for sphere in into]
    if max(inside) > 1 + 1e-8:
        return None
    margin = min([MARGIN_CAP, *(red(place, sphere.centre, sphere.r0) - 1 for sphere in out_of)])
    return (
        -math.floor(margin / 0.01 + 0.5 + 1e-7),
        max(one.hazard for one in members),
        len(members),
        round(max(inside), 9),
        tuple(one.id for one in members),
        tuple(count * rules.step_percent for count in counts),
    )


def mixes(members, counts, mixing):
    """No pair parts."""
    if mixing is None:
        return True
    for (one, a), (two, b) in itertools.combinations(zip(members, counts, strict=True), 2):
        if mixing(one.id, two.id, a / (a + b), b / (a + b)):
            return False
    return True


@settings(deadline=None, max_examples=300)
@given(
    questions(),
    st.sampled_from([10, 20, 25]),
    st.sampled_from([2, 3]),
    st.sampled_from([None, parts_by_number]),
    st.sampled_from([1, 3, 100]),
)
def test_the_finder_is_an_exhaustive_search(question, step, parts, mixing, count):
    """The same blends in the same order as trying everything, on more than 200 small shelves."""
    liquids, into, out_of = question
    rules = Rules(frozenset({"l1"}), step_percent=step, max_parts=parts)
    found = find(liquids, into, out_of, rules, mixing, count)
    expected = brute_force(liquids, into, out_of, rules, mixing, count)
    assert [blend.parts for blend in found.blends] == expected


@settings(deadline=None, max_examples=100)
@given(
    questions(least=4),
    st.sets(st.sampled_from(["l0", "l2", "l3", "l5", "none"])),
    st.sampled_from([1, 3, 100]),
)
def test_blends_of_the_first_alone_come_before_the_best_of_all(question, first, count):
    """What a search among them alone finds, and behind it what one among all finds beside that."""
    liquids, into, out_of = question
    rules = Rules(step_percent=10)
    found = find(liquids, into, out_of, rules, parts_by_number, count, first)
    alone = find([one for one in liquids if one.id in first], into, out_of, rules, parts_by_number, count)
    everything = find(liquids, into, out_of, rules, parts_by_number, count)
    assert found.blends == tuple(dict.fromkeys((*alone.blends, *everything.blends)))
    assert found.refused == everything.refused


@settings(deadline=None, max_examples=25)
@given(questions())
def test_the_finder_is_an_exhaustive_search_in_steps_of_five(question):
    """The step of practice, on fewer shelves, since trying everything takes its time."""
    liquids, into, out_of = question
    found = find(liquids[:4], into, out_of)
    assert [one.parts for one in found.blends] == brute_force(liquids[:4], into, out_of, Rules(), None, 10)


@settings(deadline=None, max_examples=50)
@given(questions(out_of=(1, 2)), st.randoms())
def test_the_order_of_the_shelf_does_not_matter(question, source):
    """Nor does that of the spheres to keep out of."""
    liquids, into, out_of = question
    mixed = list(liquids)
    source.shuffle(mixed)
    rules = Rules(step_percent=10)
    assert find(mixed, into, out_of[::-1], rules).blends == find(liquids, into, out_of, rules).blends


@settings(deadline=None, max_examples=50)
@given(questions(out_of=(1, 2), least=5), st.floats(0, 1))
def test_rules_are_kept(question, max_hazard):
    """Hazard and flash point at once."""
    liquids, into, out_of = question
    rules = Rules(max_hazard=max_hazard, min_flash_c=0.0, step_percent=10)
    for blend in find(liquids, into, out_of, rules, count=50).blends:
        assert blend.hazard <= max_hazard
        assert blend.flash_c >= 0
