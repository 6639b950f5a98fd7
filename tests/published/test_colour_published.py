"""CIEDE2000 against the pairs of Sharma G., Wu W., Dalal E.N. (2005), Color Res. Appl. 30, 21-30.

33 of the 34 pairs are read from the tests that the library colour-science carries; it leaves out the 14th,
which is given here from memory. The library's own function is an independent second check.
"""

from __future__ import annotations

import ast
import importlib.util
import random
import warnings
from pathlib import Path

import pytest

from kb.science.sheet.colour import Lab, delta_e_2000

pytestmark = pytest.mark.published

FOURTEENTH = (Lab(50.0, -0.0010, 2.4900), Lab(50.0, 0.0010, -2.4900), 4.8045)
"""From memory: hues exactly opposite, where the last digit of an arc tangent decides."""


def carried_pairs():
    """First colour, second colour and printed difference, out of the library's test file."""
    spec = importlib.util.find_spec("colour")
    assert spec is not None, "install the dev extra: colour-science is missing"
    assert spec.origin is not None
    path = Path(spec.origin).parent / "difference" / "tests" / "test_delta_e.py"
    tree = ast.parse(path.read_text(encoding="utf-8"))
    test = next(
        node
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef) and node.name == "test_delta_E_CIE2000_Sharma2004"
    )
    tables = [
        ast.literal_eval(call.args[0])
        for call in ast.walk(test)
        if isinstance(call, ast.Call)
        and getattr(call.func, "attr", "") == "array"
        and isinstance(call.args[0], ast.List)
    ]
    colours = [table for table in tables if isinstance(table[0], list)]
    differences = [table for table in tables if not isinstance(table[0], list)]
    assert (len(colours), len(differences)) == (2, 1)
    return [
        (Lab(*first), Lab(*second), printed)
        for first, second, printed in zip(*colours, differences[0], strict=True)
    ]


def test_all_printed_pairs():
    """34 pairs to the four decimals printed, in both directions."""
    pairs = [*carried_pairs(), FOURTEENTH]
    assert len(pairs) == 34
    assert (pairs[0][2], FOURTEENTH in pairs[:-1]) == (2.0425, False)
    for first, second, printed in pairs:
        assert delta_e_2000(first, second) == pytest.approx(printed, abs=1e-4), (first, second)
        assert delta_e_2000(second, first) == pytest.approx(printed, abs=1e-4), (second, first)


def test_against_the_library():
    """500 pairs all over the space, grey ones among them, against colour-science's own function."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from colour.difference import delta_E_CIE2000
    dice = random.Random(2005)
    for turn in range(500):
        first = Lab(dice.uniform(0, 100), dice.uniform(-100, 100), dice.uniform(-100, 100))
        second = Lab(dice.uniform(0, 100), dice.uniform(-100, 100), dice.uniform(-100, 100))
        if turn % 10 == 0:
            second = Lab(second.lightness, 0.0, 0.0)
        assert delta_e_2000(first, second) == pytest.approx(float(delta_E_CIE2000(first, second)), abs=1e-9)
