"""Text and figures on their way to the screen."""

from __future__ import annotations

import ast
import re
import unicodedata
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.model.question import Chance
from kb.tui.screens.choose.ranking import bar, figure, header, ordinal, row
from kb.tui.text import cut, fit, line, plain, tidy
from tests.screens.invented import suggestion
from tests.screens.screen_help import HOSTILE, STEERING


@pytest.mark.slow
@settings(max_examples=300, deadline=None)
@given(st.text(st.characters(), max_size=60) | st.sampled_from([HOSTILE, STEERING, "\ud800x", "[/]", "\\"]))
def test_tidy_never_raises_and_lets_no_control_through(text: str) -> None:
    """Whatever is stored, what is shown holds no control, surrogate or direction character."""
    for made in (tidy(text), plain(text).plain, line(text).plain, cut(text, 20), fit(text, 20)):
        assert all(c in "\n\t" or unicodedata.category(c) not in {"Cc", "Cs"} for c in made)
        assert not set(made) & set("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
    assert "\n" not in line(text).plain


@pytest.mark.slow
@settings(max_examples=200, deadline=None)
@given(st.text("[]\\/ab TODO=link{}'\"", max_size=30))
def test_brackets_stay_brackets(text: str) -> None:
    """No text is ever read as markup."""
    assert plain(text).plain == text


def test_bar_shows_range_and_figure_by_shape() -> None:
    """The mark lies within the range, and both ends of the scale can be told apart."""
    assert bar(Chance(p=0.5, low=0.2, high=0.8), 10) == "··───●───·"
    assert bar(Chance(p=1.0, low=1.0, high=1.0), 5) == "····●"
    assert bar(Chance(p=0.0, low=0.0, high=0.1), 5) == "●····"


@pytest.mark.parametrize(
    ("p", "words"), [(0.0, "<1 "), (1.0, ">99"), (0.62, "62 "), (0.09, "9  "), (0.995, "99 ")]
)
def test_figures_never_claim_certainty(p: float, words: str) -> None:
    """A chance next to 0 or 1 is shown as nearly so."""
    assert figure(p) == words


@pytest.mark.parametrize("width", [60, 70, 77, 120])
def test_rows_and_header_keep_their_columns(width: int) -> None:
    """Every row is as wide as asked, with wide characters and long names too."""
    from rich.cells import cell_len

    for name in ("Acetone", "A very long name of a liquid that goes on and on", "紙の溶剤", HOSTILE):
        assert cell_len(row(suggestion(1, name), width)) <= width
    assert row(suggestion(7, "Acetone"), width).index("62 ") == header(width).index("release")


@pytest.mark.parametrize(
    ("number", "words"), [(1, "1st"), (2, "2nd"), (3, "3rd"), (4, "4th"), (11, "11th"), (22, "22nd")]
)
def test_ordinals(number: int, words: str) -> None:
    """Places in words."""
    assert ordinal(number) == words


@pytest.mark.slow
def test_no_screen_tells_one_to_type_a_command() -> None:
    """Whoever works by keys has no command line at hand: neither commands nor their options are named. And
    one of a thing is not "1 problems": what is counted goes through ``counted`` (or ``grouped``)."""
    command = re.compile(r"\bbenchleaf [a-z]+|(?<![\w-])--[a-z]{2,}")
    many = re.compile(
        r" (more )?(blend|day|draft|entrie|file|line|link|liquid|look|note|pair|patche|photograph|"
        r"possibilitie|problem|recipe|record|row|strip|studio|test)s\b"
    )
    for file in (Path(__file__).parents[2] / "kb" / "tui").rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            words = node.value if isinstance(node, ast.Constant) else ""
            if isinstance(words, str) and "option-list" not in words:
                assert not command.search(words), f"{file.name}, line {node.lineno}: {words}"
            parts = node.values if isinstance(node, ast.JoinedStr) else []
            for number, after in pairwise(parts):
                said = after.value if isinstance(after, ast.Constant) else ""
                fixed = isinstance(number, ast.FormattedValue) and ast.unparse(number.value).isupper()
                assert fixed or not many.match(str(said)), f"{file.name}, line {node.lineno}: {said}"
