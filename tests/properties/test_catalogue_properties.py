"""What holds for any catalogue file, however odd."""

from __future__ import annotations

import copy
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec
import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.catalogue.checks import check
from kb.catalogue.form import faults
from kb.catalogue.load import load
from kb.catalogue.problems import UNSAFE, parts
from kb.catalogue.yaml_reader import parse, resolve
from kb.model.kinds import BY_KEY, KINDS
from kb.model.liquid import Liquid

BASE = Path(__file__).parents[1] / "faults" / "broken_catalogue" / "base.yaml"
TREE: dict[str, Any] = parse(BASE.read_text(encoding="utf-8")).value
QUICK = settings(max_examples=60, deadline=None)

safe_text = st.text(st.characters(exclude_categories=("Cs", "Cc", "Cn", "Co")), max_size=20).filter(
    lambda text: not UNSAFE.search(text)
)
scalars = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(2**60), 2**60),
    st.floats(allow_nan=False, allow_infinity=False),
    safe_text,
    st.sampled_from(["no", "12:30", "010", "56 C", "0,79", "1e3", "=1+1", "<<", "[x]", "memory"]),
)
trees = st.recursive(
    scalars,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(safe_text, inner, max_size=3),
    max_leaves=8,
)


def places(value: Any, at: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Every place inside a tree."""
    yield at
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, item in inner:
        yield from places(item, (*at, key))


PLACES = [at for at in places(TREE) if len(at) > 1]


@st.composite
def damaged(draw: st.DrawFn) -> tuple[str, int, Any]:
    """One entry of the base with one place replaced, taken out or given a new neighbour."""
    at = draw(st.sampled_from([at for at in PLACES if len(at) > 2]))
    entry = copy.deepcopy(TREE[at[0]][at[1]])
    holder = entry
    for key in at[2:-1]:
        holder = holder[key]
    how = draw(st.sampled_from(["replace", "drop", "add"]))
    if how == "replace":
        holder[at[-1]] = draw(trees)
    elif how == "drop":
        del holder[at[-1]]
    elif isinstance(holder, dict):
        holder[draw(safe_text)] = draw(trees)
    else:
        holder.append(draw(trees))
    return at[0], at[1], entry


@QUICK
@given(damaged())
def test_explanation_agrees_with_msgspec(case: tuple[str, int, Any]) -> None:
    """Faults of form are found exactly where the record type itself refuses the value."""
    kind = BY_KEY[case[0]].type
    try:
        msgspec.convert(case[2], kind, strict=True)
        refused = False
    except msgspec.ValidationError:
        refused = True
    found = faults(case[2], kind)
    assert bool(found) == refused
    for fault in found:
        assert fault.message


@QUICK
@given(damaged())
def test_damage_to_one_entry_never_raises_and_names_a_line(case: tuple[str, int, Any]) -> None:
    """Any damage loads, and every problem points into the file."""
    tree = copy.deepcopy(TREE)
    tree[case[0]][case[1]] = case[2]
    text = yaml.safe_dump(tree, allow_unicode=True, sort_keys=False)
    with tempfile.TemporaryDirectory() as name:
        Path(name, "x.yaml").write_text(text, encoding="utf-8")
        catalogue, problems = load([Path(name)])
    lines = text.count("\n")
    for problem in problems:
        assert 1 <= problem.line <= lines
        assert problem.path.endswith("/x.yaml")
        assert not UNSAFE.search(str(problem))
        assert "\n" not in str(problem)
    assert problems or len(catalogue.where) == sum(map(len, TREE.values()))


@QUICK
@given(st.binary(max_size=200) | st.text(max_size=200).map(lambda text: text.encode("utf-8", "replace")))
def test_any_bytes_load_without_raising(content: bytes) -> None:
    """Whatever a file holds, the answer is entries or problems."""
    with tempfile.TemporaryDirectory() as name:
        Path(name, "x.yaml").write_bytes(content)
        catalogue, problems = load([Path(name)])
    assert catalogue.where == {}
    for problem in problems:
        assert 1 <= problem.line <= content.count(b"\n") + content.count(b"\r") + 1


BITS = (
    "a",
    "b: ",
    "- ",
    "\n",
    "  ",
    "'",
    '"',
    "[",
    "]",
    "{",
    "}",
    ",",
    "&x ",
    "*x",
    "!!str ",
    "? ",
    ": ",
    "|\n",
)
MORE = ("#", "---\n", "<<: ", "1.5", "~", "\t", "liquids:", "%", "@")
yaml_like = st.lists(st.sampled_from(BITS + MORE), max_size=30).map("".join)


@QUICK
@given(yaml_like)
def test_both_parsers_agree(text: str) -> None:
    """With or without the C library, the same values come out, or the file is refused."""
    if not hasattr(yaml, "CSafeLoader"):
        pytest.skip("no C parser here")
    one, other = parse(text, yaml.SafeLoader), parse(text, yaml.CSafeLoader)
    if not one.faults and not other.faults:
        assert one.value == other.value
        assert one.lines == other.lines


@QUICK
@given(st.dictionaries(safe_text.filter(lambda key: key != "<<"), trees, min_size=1, max_size=4))
def test_values_written_in_quotes_come_back(tree: dict[str, Any]) -> None:
    """Text that is quoted stays text; numbers, truth values and null keep their type."""
    import unicodedata

    text = msgspec.json.encode(tree).decode()
    document = parse(text)
    if len({unicodedata.normalize("NFC", key) for key in tree}) == len(tree) and not document.faults:
        assert document.value == msgspec.json.decode(unicodedata.normalize("NFC", text))
    for fault in document.faults:
        assert "twice" in fault.message or "characters" in fault.message


@given(st.integers(-(10**17), 10**17))
def test_whole_numbers(number: int) -> None:
    """Any whole number reads back as itself."""
    assert resolve(str(number)) == number


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_decimal_numbers(number: float) -> None:
    """Any finite decimal number reads back as itself."""
    assert resolve(repr(number)) == number


@given(st.integers(10, 9_999_999), st.integers(0, 99))
def test_exactly_one_check_digit_passes(first: int, second: int) -> None:
    """Of the ten possible last digits of a CAS number one is right."""
    sound = []
    for digit in range(10):
        cas = f"{first}-{second:02d}-{digit}"
        liquid = Liquid(id="x", name="X", family="f", cas=cas, cas_sources=("memory",))
        sound.append(not check(tuple(parts(liquid))))
    assert sound.count(True) == 1


@QUICK
@given(st.permutations([kind.key for kind in KINDS]))
def test_order_of_kinds_does_not_matter(order: list[str]) -> None:
    """References may run forwards and backwards: the same entries load in any order."""
    text = yaml.safe_dump({key: TREE[key] for key in order}, sort_keys=False, allow_unicode=True)
    with tempfile.TemporaryDirectory() as name:
        Path(name, "x.yaml").write_text(text, encoding="utf-8")
        catalogue, problems = load([Path(name)])
    assert problems == []
    assert {key: len(entries) for key, entries in catalogue.entries.items()} == {
        key: len(entries) for key, entries in TREE.items()
    }
