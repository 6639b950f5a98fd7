"""Single checks and the advice that goes with them."""

from __future__ import annotations

from typing import Any

import msgspec
import pytest

from kb.catalogue.checks import check
from kb.catalogue.form import advice, convert, faults
from kb.catalogue.problems import nearest, parts, printable, quoted
from kb.catalogue.references import references, statement_code
from kb.model.guidance import Report
from kb.model.kinds import KINDS
from kb.model.liquid import Liquid
from kb.model.material import Polymer

FROM = {"from": ["memory"]}


def liquid(**fields: Any) -> Liquid:
    """A liquid with these YAML fields."""
    found = convert({"id": "x", "name": "X", "family": "ketones", **fields}, Liquid)
    assert isinstance(found, Liquid)
    return found


def messages(**fields: Any) -> list[str]:
    """What the checks say of a liquid with these fields."""
    return [fault.message for fault in check(tuple(parts(liquid(**fields))))]


@pytest.mark.parametrize(
    # Registry numbers of acetone, ethanol, water, toluene, butanone, and three commercial cuts; from memory.
    "cas",
    ["67-64-1", "64-17-5", "7732-18-5", "108-88-3", "78-93-3", "8052-41-3", "64742-82-1", "1330-20-7"],
)
def test_cas_numbers_in_use_pass(cas: str) -> None:
    """The check digit agrees with numbers that are in use."""
    assert messages(cas=cas, cas_sources=["memory"]) == []


@pytest.mark.parametrize(
    "field", ["molar_mass_g_mol", "density_g_ml", "flash_point_c", "evaporation_rate_butyl_acetate_1"]
)
def test_nothing_known_in_words_is_a_figure(field: str) -> None:
    """A figure may say why there is no number."""
    assert messages(**{field: {"none_known": "a mixture", **FROM}}) == []


@pytest.mark.parametrize(
    ("fields", "sound"),
    [
        ({"boiling_point_c": {"value": -99, **FROM}}, True),
        ({"boiling_point_c": {"low": 150, "high": 150, **FROM}}, True),
        ({"boiling_point_c": {"value": 155, "low": 150, "high": 160, **FROM}}, True),
        ({"evaporation_rate_butyl_acetate_1": {"value": 0, **FROM}}, True),
        ({"evaporation_rate_butyl_acetate_1": {"value": -1, **FROM}}, False),
        ({"teas": {"d": 47, "p": 32, "h": 22.5, **FROM}}, True),
        ({"teas": {"d": 47, "p": 32, "h": 22.6, **FROM}}, False),
        ({"teas": {"d": 101, "p": -1, "h": 0, **FROM}}, False),
        ({"hansen": {"d": 15.5, "p": 0, "h": 0, **FROM}}, True),
        ({"hansen": {"d": 0, "p": 1, "h": 1, **FROM}}, False),
        ({"lower_explosive_limit_vol_pct": {"value": 2, **FROM}}, True),
        ({"vapour_pressure_20c_kpa": {"value": 101.4, **FROM}}, True),
        (
            {
                "vapour_pressure_20c_kpa": {"value": 24.6, **FROM},
                "vapour_pressure_25c_kpa": {"value": 24.6, **FROM},
            },
            True,
        ),
        ({"water": {"text": "Mixes", "solubility_g_l": 0, **FROM}}, True),
    ],
)
def test_edges_of_what_can_be(fields: dict[str, Any], sound: bool) -> None:
    """Limits of the checks lie where they are said to lie."""
    assert (messages(**fields) == []) is sound


def test_parts_of_a_report_within_rounding() -> None:
    """Thirds written with two digits are a whole."""
    made = convert(
        {
            "id": "r",
            "title": "R",
            "evidence": "A",
            "liquids": [{"parts": {"a": 0.33, "b": 0.33, "c": 0.34}, "result": "released"}],
            **FROM,
        },
        Report,
    )
    assert isinstance(made, Report)
    assert check(tuple(parts(made))) == []
    assert {(one.kind, one.id) for one in references(tuple(parts(made)))} == {
        ("liquids", "a"),
        ("liquids", "b"),
        ("liquids", "c"),
        ("sources", "memory"),
    }


@pytest.mark.parametrize(
    ("statement", "code"),
    [
        ("H336", "H336"),
        ("H361f", "H361"),
        ("H360FD", "H360"),
        ("H372 (nervous system)", "H372"),
        ("EUH066", "EUH066"),
        ("EUH 066", "EUH 066"),
        ("nonsense", "nonsense"),
    ],
)
def test_statement_code(statement: str, code: str) -> None:
    """Suffix letters and organs narrow a statement; the code is what is looked up."""
    assert statement_code(statement) == code


@pytest.mark.parametrize(
    ("text", "example"),
    [
        ("56", "boiling_point_c: 56"),
        ("56 C", "boiling_point_c: 56"),
        ("-4.5°C", "boiling_point_c: -4.5"),
        ("56 degrees", "boiling_point_c: 56"),
        ("56,1", "boiling_point_c: 56.1"),
        ("56,1 C", "boiling_point_c: 56.1"),
        ("150-160", "{low: 150, high: 160}"),
        ("150 – 160 C", "{low: 150, high: 160}"),
        ("150 to 160", "{low: 150, high: 160}"),
        ("< 21", "high: 21"),
        (">=60 C", "low: 60"),
        ("~56", "boiling_point_c: 56"),
        ("ca. 56", "boiling_point_c: 56"),
        ("056", "boiling_point_c: 56"),
        ("warm", ""),
        ("", ""),
        ("12:30", ""),
    ],
)
def test_advice_for_text_in_place_of_a_number(text: str, example: str) -> None:
    """The example is what the reader most likely meant to write."""
    assert advice(text, "boiling_point_c").example == example


def test_advice_says_that_the_unit_is_in_the_name() -> None:
    """Nobody needs to look up in which unit to write."""
    assert "only the number; the unit (kPa at 20 degrees Celsius) is in the field's name" in advice(
        "24 kPa", "vapour_pressure_20c_kpa"
    )


@pytest.mark.parametrize("kind", [kind.type for kind in KINDS], ids=[kind.key for kind in KINDS])
def test_example_of_a_missing_field_is_right(kind: type[msgspec.Struct]) -> None:
    """The YAML shown for each missing field is itself accepted: a user may copy it."""
    from kb.catalogue.yaml_reader import parse

    shown: dict[str, Any] = {}
    for fault in faults({}, kind):
        document = parse(fault.example)
        assert document.faults == [], fault
        shown.update(document.value)
    assert isinstance(convert(shown, kind), kind), faults(shown, kind)


def test_all_faults_of_form_at_once() -> None:
    """One look tells all, each at its own place."""
    value = {"id": 1, "name": "P", "sphere": {"d": "x", "p": 1, "h": None, "r": 2}, "roles": "binder"}
    places = [fault.at for fault in faults(value, Polymer)]
    assert places == [
        ("id",),
        ("sphere", "d"),
        ("sphere", "h"),
        ("sphere", "r"),
        ("sphere",),
        ("sphere",),
        ("roles",),
    ]


@pytest.mark.parametrize(
    ("word", "known", "found"),
    [
        ("ketone", ["ketones", "esters"], "ketones"),
        ("Memory", ["memory"], "memory"),
        ("a", ["carriers"], ""),
        ("x", [], ""),
        ("natural_rubber", ["natural-rubber"], "natural-rubber"),
    ],
)
def test_nearest(word: str, known: list[str], found: str) -> None:
    """A guess is offered only where it is a near one."""
    assert nearest(word, known) == found


def test_text_from_files_is_made_safe_to_show() -> None:
    """Escapes, direction marks and line breaks cannot act; long text is cut."""
    assert printable("a\x1b[2J\n b\u202ec") == "a\ufffd[2J b\ufffdc"
    assert quoted("x" * 100) == '"' + "x" * 57 + '..."'
