"""What must hold for every blend."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.science.liquids.blends import blend_id, mix_hansen, normalise, parse_blend
from kb.science.liquids.solubility import distance

# No time limit: a busy machine is not a failure.
steady = settings(deadline=None)

NAMES = st.from_regex(r"[a-z0-9]{1,4}(-[a-z0-9]{1,4}){0,2}", fullmatch=True).filter(
    lambda name: any(letter.isalpha() for letter in name)
)
AMOUNTS = st.floats(min_value=1e-9, max_value=1e9)
PARTS = st.dictionaries(NAMES, AMOUNTS, min_size=1, max_size=7)
# Rounding only matters near tenths and halves of a tenth, which random floats never hit.
ROUND_PARTS = st.dictionaries(NAMES, st.integers(1, 40).map(lambda n: n * 0.05), min_size=1, max_size=7)
PARAMETERS = st.tuples(st.floats(12, 22), st.floats(0, 20), st.floats(0, 45))


@steady
@given(PARTS, st.randoms())
def test_shares_sum_to_one_in_any_order_of_the_parts(parts, source):
    """Exactly 1, positive, largest first, equals by name; the order of the parts leaves no trace."""
    shares = normalise(parts)
    assert math.fsum(shares.values()) == 1.0
    assert all(share > 0 for share in shares.values())
    assert list(shares.items()) == sorted(shares.items(), key=lambda item: (-item[1], item[0]))
    shuffled = list(parts.items())
    source.shuffle(shuffled)
    assert list(normalise(dict(shuffled)).items()) == list(shares.items())


@steady
@given(PARTS)
def test_shares_keep_the_proportions(parts):
    """Each share is the amount over the total, to rounding."""
    total = math.fsum(parts.values())
    for name, share in normalise(parts).items():
        assert share == pytest.approx(parts[name] / total, rel=1e-12, abs=1e-15)


@steady
@given(PARTS)
def test_shares_of_shares_are_the_same(parts):
    """Once is enough."""
    once = normalise(parts)
    assert list(normalise(once).items()) == list(once.items())


@steady
@given(st.one_of(PARTS, ROUND_PARTS), st.randoms())
def test_the_text_of_a_blend_reads_back_to_the_same_text(parts, source):
    """What a screen shows can be typed in again and means the same blend, whatever the order."""
    text = blend_id(parts)
    assert blend_id(parse_blend(text)) == text
    shuffled = list(parts.items())
    source.shuffle(shuffled)
    assert blend_id(dict(shuffled)) == text


@steady
@given(st.one_of(PARTS, ROUND_PARTS))
def test_reading_the_text_back_moves_no_share_by_more_than_the_rounding(parts):
    """Up to a tenth of a per cent per part: its own rounding and that of the others."""
    read = parse_blend(blend_id(parts))
    for name, share in normalise(parts).items():
        assert abs(read.get(name, 0.0) - share) < 0.0005 * (len(parts) + 1)


@steady
@given(st.one_of(PARTS, ROUND_PARTS), st.sampled_from([2.0, 0.001, 7.0]))
def test_the_unit_of_the_amounts_does_not_matter(parts, factor):
    """Millilitres or drops: the same text, unless a share sits on the edge of rounding."""
    scaled = normalise({name: amount * factor for name, amount in parts.items()})
    for name, share in normalise(parts).items():
        assert scaled[name] == pytest.approx(share, rel=1e-12)


@steady
@given(st.text(max_size=60))
def test_reading_never_fails_in_another_way(text):
    """Any text is either a blend or a ValueError."""
    try:
        shares = parse_blend(text)
    except ValueError:
        return
    assert math.fsum(shares.values()) == 1.0


@steady
@given(st.lists(st.tuples(PARAMETERS, AMOUNTS), min_size=1, max_size=6))
def test_a_blend_lies_between_its_parts(parts):
    """Each parameter stays within the range of the parts, and one part alone stays what it is."""
    total = math.fsum(amount for _, amount in parts)
    mixed = mix_hansen([hansen for hansen, _ in parts], [amount / total for _, amount in parts])
    for axis in range(3):
        values = [hansen[axis] for hansen, _ in parts]
        assert min(values) - 1e-9 <= mixed[axis] <= max(values) + 1e-9


@steady
@given(PARAMETERS, PARAMETERS, PARAMETERS)
def test_a_detour_is_never_shorter(a, b, c):
    """Hansen's distance obeys the triangle inequality."""
    assert distance(a, c) <= distance(a, b) + distance(b, c) + 1e-9
