"""Text on its way into the book: controls out, a mark in their place, the rest as typed."""

import unicodedata

import pytest

from kb.book.text import KEY_LIMIT, MARK, clean_text, clean_tree


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("plain", "plain"),
        ("two\nlines\tand a tab", "two\nlines\tand a tab"),
        ("\x1b[2J", f"{MARK}[2J"),
        ("\x1b]0;t\x07", f"{MARK}]0;t{MARK}"),
        ("\x1b]52;c;AAAA\x07", f"{MARK}]52;c;AAAA{MARK}"),
        ("\x9b31m", f"{MARK}31m"),
        ("a\x00\x01\x02b", f"a{MARK}b"),
        ("a\x7fb\x85c", f"a{MARK}b{MARK}c"),
        ("a\rb", f"a{MARK}b"),
        ("a\r\nb", "a\nb"),
        ("a\u202egnp.exe", f"a{MARK}gnp.exe"),
        ("a\u2066b\u2069", f"a{MARK}b{MARK}"),
        ("a\u200bb\ufeffc", f"a{MARK}b{MARK}c"),
    ],
)
def test_unwanted_characters_leave_a_mark(typed: str, kept: str) -> None:
    assert clean_text(typed) == kept


def test_joiners_that_scripts_need_stay() -> None:
    text = "می\u200cخواهم क\u094d\u200dष"
    assert clean_text(text) == unicodedata.normalize("NFC", text)


def test_text_is_composed() -> None:
    assert clean_text("cafe\u0301") == "caf\u00e9"


def test_one_line_texts_have_no_breaks() -> None:
    assert clean_text("a\r\nb\tc\u2028d", multiline=False) == "a b c d"


def test_too_long_a_text_is_refused_in_a_sentence() -> None:
    assert clean_text("x" * 20_000) == "x" * 20_000
    with pytest.raises(
        ValueError, match=r"^The text is 20,001 characters long; at most 20,000 fit\. Shorten it\.$"
    ):
        clean_text("x" * 20_001)


def test_a_text_that_grows_too_long_when_composed_is_refused() -> None:
    """U+0958 is one character that the composed form spells with two."""
    with pytest.raises(ValueError, match="characters long"):
        clean_text("\u0958" * 10, limit=12)


def test_half_a_character_is_refused() -> None:
    with pytest.raises(ValueError, match="half a character at place 3"):
        clean_text("ab\ud800")


def test_a_tree_is_cleaned_through_and_other_values_pass() -> None:
    tree = {"a\x1b": ["b\x00", ("c\x07", 1, 2.5, None, True)], "d": {"e": "f\x9b"}}
    assert clean_tree(tree) == {
        f"a{MARK}": [f"b{MARK}", (f"c{MARK}", 1, 2.5, None, True)],
        "d": {"e": f"f{MARK}"},
    }
    assert tree["d"] == {"e": "f\x9b"}, "the caller's own tree is left alone"


def test_names_that_become_equal_are_refused() -> None:
    with pytest.raises(ValueError, match="read the same"):
        clean_tree({"a\x00": 1, "a\x01": 2})


def test_long_names_and_deep_nesting_are_refused() -> None:
    with pytest.raises(ValueError, match="characters long"):
        clean_tree({"n" * (KEY_LIMIT + 1): 1})
    deep: object = "x"
    for _ in range(2_000):
        deep = [deep]
    with pytest.raises(ValueError, match="nested"):
        clean_tree(deep)
