"""Plain values and their lines out of YAML text."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml

from kb.catalogue.yaml_reader import MAX_DEPTH, parse, read, resolve

PARSERS = [yaml.SafeLoader, *([yaml.CSafeLoader] if hasattr(yaml, "CSafeLoader") else [])]
PLAIN: dict[str, Any] = {
    "1960": 1960,
    "-4": -4,
    "+5": 5,
    "0": 0,
    "1.5": 1.5,
    ".5": 0.5,
    "5.": 5.0,
    "1e3": 1000.0,
    "-1.5E-2": -0.015,
    "true": True,
    "False": False,
    "null": None,
    "~": None,
    # Other readers make numbers, dates or truth values of these.
    "no": "no",
    "on": "on",
    "y": "y",
    "Yes": "Yes",
    "12:30": "12:30",
    "12:30:45": "12:30:45",
    "010": "010",
    "0o17": "0o17",
    "0x1F": "0x1F",
    "0b1": "0b1",
    "1_000": "1_000",
    "2024-05-01": "2024-05-01",
    "67-64-1": "67-64-1",
    "1,5": "1,5",
    "inf": "inf",
    "nan": "nan",
    "-": "-",
    "+": "+",
    ".": ".",
    "1.2.3": "1.2.3",
    "=": "=",
    "tRUE": "tRUE",
    "n/a": "n/a",
}


@pytest.mark.parametrize("text", PLAIN)
def test_unquoted_word(text: str) -> None:
    """Only decimal numbers, true, false and null are not text; the type counts as well as the value."""
    found = resolve(text)
    assert found == PLAIN[text]
    assert type(found) is type(PLAIN[text])


@pytest.mark.parametrize("text", [".inf", "-.inf", ".NaN", "1e999", "-1e999", "9" * 41, str(2**63)])
def test_number_that_cannot_be_meant(text: str) -> None:
    """Infinite, undefined and endless numbers are refused."""
    with pytest.raises(ValueError, match="the number"):
        resolve(text)


@pytest.mark.parametrize("parser", PARSERS)
def test_lines_and_values(parser: Any) -> None:
    """Each place knows its line: a key's own line, a list item's first line."""
    text = "# note\nliquids:\n- id: a\n  also:\n  - b\n  - 'no'\n  figure: {value: 1, from: [m]}\n"
    text += "\n- id: |\n    c\n"
    document = parse(text, parser)
    assert document.faults == []
    assert document.value == {
        "liquids": [
            {"id": "a", "also": ["b", "no"], "figure": {"value": 1, "from": ["m"]}},
            {"id": "c\n"},
        ]
    }
    lines = {
        (): 2,
        ("liquids",): 2,
        ("liquids", 0): 3,
        ("liquids", 0, "id"): 3,
        ("liquids", 0, "also"): 4,
        ("liquids", 0, "also", 0): 5,
        ("liquids", 0, "also", 1): 6,
        ("liquids", 0, "figure"): 7,
        ("liquids", 0, "figure", "value"): 7,
        ("liquids", 0, "figure", "from"): 7,
        ("liquids", 0, "figure", "from", 0): 7,
        ("liquids", 1): 9,
        ("liquids", 1, "id"): 9,
    }
    assert document.lines == lines


@pytest.mark.parametrize("parser", PARSERS)
@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("a: '12'", "12"),
        ('a: "12"', "12"),
        ("a: !!str 12", "12"),
        ("a: !!int 12", 12),
        ("a: !!float 12", 12),
        ("a: !!null ''", None),
        ("a: |\n  12\n", "12\n"),
        ("a: ''", ""),
        ("a:", None),
        ("a: e\u0301", "\u00e9"),
    ],
)
def test_quoted_and_tagged(parser: Any, text: str, value: Any) -> None:
    """Quotes and the plain tags decide the type; text is brought to its composed form."""
    document = parse(text, parser)
    assert document.faults == []
    assert document.value == {"a": value}


@pytest.mark.parametrize("parser", PARSERS)
@pytest.mark.parametrize(
    ("text", "fragment"),
    [
        ("a: &x 1", "an anchor"),
        ("a: &x 1\nb: *x", "an anchor"),
        ("a: {<<: {b: 1}}", "a merge key"),
        ("a: !!binary aGk=", "the tag"),
        ("a: !!timestamp 2024-05-01", "the tag"),
        ("a: ! 12", "the tag"),
        ("a: 1\na: 2", "is given twice, first on line 1"),
        ("[a]: 1", "where a key is due"),
        ("a: .nan", "not finite"),
        ("a: [[", "not valid YAML"),
        ("a: 'b", "never closed"),
        ("a: b: c", "a colon and a blank"),
        ("\ta: b", "a tab stands in the indent"),
        ("a: 1\n---\nb: 2\n", "a second document"),
        ("a: " + "[" * 40 + "]" * 40, "deeper than 20"),
        ("[" * 3000, "nested"),
        ('a: "\\u202e"', "control character U+202E"),
        ("a: \x07", "valid YAML"),
    ],
    ids=lambda given: repr(given)[:30] if isinstance(given, str) else None,
)
def test_refused(parser: Any, text: str, fragment: str) -> None:
    """Both parsers of PyYAML refuse the same things in the same words."""
    document = parse(text, parser)
    assert document.faults
    assert fragment in document.faults[0].message


def test_quoted_merge_sign_is_an_ordinary_key() -> None:
    """Only the unquoted << merges; in quotes it is text."""
    document = parse("'<<': 1")
    assert (document.value, document.faults) == ({"<<": 1}, [])


def test_first_of_two_keys_is_kept() -> None:
    """What is given twice keeps its first value, and the second is told."""
    document = parse("a: 1\nb: 2\na: 3\n")
    assert document.value == {"a": 1, "b": 2}
    assert [fault.line for fault in document.faults] == [3]


def test_depth_limit_is_exact() -> None:
    """The deepest allowed nesting still loads."""
    inner = MAX_DEPTH - 1
    assert parse("a: " + "[" * inner + "]" * inner).faults == []
    assert parse("a: " + "[" * (inner + 1) + "]" * (inner + 1)).faults != []


def test_byte_order_mark_and_windows_lines(tmp_path: Path) -> None:
    """Files as some editors write them load with right lines."""
    path = tmp_path / "x.yaml"
    path.write_bytes(b"\xef\xbb\xbfa: 1\r\nb:\r\n- c\r\n")
    document = read(path)
    assert document.value == {"a": 1, "b": ["c"]}
    assert document.lines[("b", 0)] == 3


def test_missing_file(tmp_path: Path) -> None:
    """A file that has gone is told, not raised."""
    assert "cannot be read" in read(tmp_path / "gone.yaml").faults[0].message


def test_folder_in_place_of_a_file(tmp_path: Path) -> None:
    """A folder is told, not raised."""
    assert "a folder" in read(tmp_path).faults[0].message
