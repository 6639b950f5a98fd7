"""The shipped liquids, families and hazard statements: they convert, and every reference is met."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec
import pytest
import yaml

from kb.model.base import Source
from kb.model.guidance import Hazard
from kb.model.liquid import ExposureLimit, Family, Liquid

DATA = Path(__file__).resolve().parents[2] / "data"
AGENTS = {"", "water", "ethanol", "acetone", "aromatics", "aliphatics"}
SOURCE_KEYS = {"from", "cas_sources", "supplier_sources"}
FIGURES = ("twa_ppm", "twa_mg_m3", "short_term_ppm", "short_term_mg_m3", "ceiling_ppm")


def rows(pattern: str, key: str) -> list[dict[str, Any]]:
    """The entries under one key of all files that match, as plain maps."""
    found: list[dict[str, Any]] = []
    for file in sorted(DATA.glob(pattern)):
        found += yaml.load(file.read_text("utf-8"), Loader=yaml.CSafeLoader)[key]
    return found


RAW = rows("liquids/*.yaml", "liquids")
LIQUIDS = [msgspec.convert(row, Liquid) for row in RAW]
FAMILIES = [msgspec.convert(row, Family) for row in rows("materials/families.yaml", "families")]
HAZARDS = [msgspec.convert(row, Hazard) for row in rows("air/hazards.yaml", "hazards")]
WEIGHT = {hazard.id: hazard.weight for hazard in HAZARDS}


def base_code(statement: str) -> str:
    """``H372 (nervous system)`` -> H372, ``H360FD`` -> H360, ``EUH066`` unchanged."""
    found = re.match(r"(EUH\d{3}|H\d{3})[A-Za-z]{0,2}( \(.+\))?$", statement)
    assert found is not None, statement
    return found[1]


def codes(liquid: Liquid) -> Iterator[str]:
    """All statement codes of a liquid without suffix, those of suppliers included."""
    labels = liquid.classification
    if labels is not None:
        yield from map(base_code, (*labels.statements, *labels.supplier_statements, *labels.euh))


def named_sources(node: Any) -> Iterator[str]:
    """Every source id anywhere in a tree of maps and lists."""
    if isinstance(node, dict):
        for key, child in node.items():
            if key in SOURCE_KEYS:
                yield from child
            else:
                yield from named_sources(child)
    elif isinstance(node, list):
        for child in node:
            yield from named_sources(child)


def nulls_and_empty_sources(node: Any, path: str = "") -> Iterator[str]:
    """Paths of values that are null and of source lists that are empty."""
    if node is None or (path.rsplit("/", 1)[-1] in SOURCE_KEYS and not node):
        yield path
    pairs = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    for key, child in pairs:
        yield from nulls_and_empty_sources(child, f"{path}/{key}")


def test_there_are_69_liquids_with_distinct_ids_and_cas_numbers() -> None:
    assert len(LIQUIDS) == 69
    assert len({liquid.id for liquid in LIQUIDS}) == 69
    assert len({liquid.cas for liquid in LIQUIDS}) == 69
    assert all(re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", liquid.id) for liquid in LIQUIDS)


def test_nothing_is_null_and_no_source_list_is_empty() -> None:
    trees = [*RAW, *rows("materials/families.yaml", "families"), *rows("air/hazards.yaml", "hazards")]
    assert [path for tree in trees for path in nulls_and_empty_sources(tree, tree["id"])] == []


def test_every_source_that_is_named_exists() -> None:
    known = {msgspec.convert(row, Source).id for row in rows("sources/*.yaml", "sources")}
    trees = [*RAW, *rows("materials/families.yaml", "families"), *rows("air/hazards.yaml", "hazards")]
    assert {source for tree in trees for source in named_sources(tree)} - known == set()


def test_every_source_of_this_file_is_used_and_memory_is_never_called_seen() -> None:
    own = [msgspec.convert(row, Source) for row in rows("sources/liquids.yaml", "sources")]
    trees = [*RAW, *rows("materials/families.yaml", "families"), *rows("air/hazards.yaml", "hazards")]
    assert {source.id for source in own} <= {name for tree in trees for name in named_sources(tree)}
    assert all(source.seen is (source.basis != "memory") for source in own)


def test_every_family_exists_and_is_used() -> None:
    assert {liquid.family for liquid in LIQUIDS} == {family.id for family in FAMILIES}


def test_families_read_a_known_column_and_have_a_wider_group_and_a_reason() -> None:
    for family in FAMILIES:
        assert family.agent in AGENTS
        assert family.related
        assert family.note


def test_every_hazard_code_has_a_statement() -> None:
    assert {code for liquid in LIQUIDS for code in codes(liquid)} <= WEIGHT.keys()


def test_whatever_forms_peroxides_by_its_label_is_stored_as_such() -> None:
    """The line on storage names liquids, since slow formers bear no such statement."""
    (line,) = (one for one in rows("air/precautions.yaml", "precautions") if one["id"] == "store-peroxides")
    assert {liquid.id for liquid in LIQUIDS if "EUH019" in codes(liquid)} <= set(line["when"]["liquids"])


def test_hazard_weights_keep_the_order_of_harm() -> None:
    """Cancer outranks suspected cancer, which outranks fire, which outranks irritation."""
    assert all(0 <= weight <= 1 for weight in WEIGHT.values())
    for graver, lighter in [("H350", "H351"), ("H351", "H304"), ("H304", "H225"), ("H225", "H319")]:
        assert WEIGHT[graver] > WEIGHT[lighter]


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [("water", 0, 0), ("acetone", 0.25, 0.35), ("ethanol", 0.25, 0.35), ("n-heptane", 0.4, 0.5)],
)
def test_the_gravest_code_of_a_common_liquid_stays_sensible(name: str, low: float, high: float) -> None:
    liquid = next(one for one in LIQUIDS if one.id == name)
    gravest = max((WEIGHT[code] for code in codes(liquid)), default=0)
    assert low <= gravest <= high


def test_each_figure_says_something() -> None:
    """A figure has a value, a range or words why there is none; a range runs upwards."""
    for liquid in LIQUIDS:
        for field in liquid.__struct_fields__:
            figure = getattr(liquid, field)
            if hasattr(figure, "none_known"):
                assert figure.best is not None or figure.none_known, (liquid.id, field)
            if hasattr(figure, "low") and figure.low is not None and figure.high is not None:
                assert figure.low < figure.high, (liquid.id, field)


def test_limits_name_a_known_authority_and_carry_a_figure_or_a_reason() -> None:
    authorities = {row["id"] for row in rows("air/authorities.yaml", "authorities")}
    for liquid in LIQUIDS:
        for limit in liquid.limits:
            assert limit.authority in authorities
            assert limit.note or any(getattr(limit, field) is not None for field in FIGURES)


def test_a_verified_limit_rests_first_on_a_source_that_was_seen() -> None:
    seen = {row["id"] for row in rows("sources/*.yaml", "sources") if row["seen"]}
    for liquid in LIQUIDS:
        for limit in liquid.limits:
            assert not limit.verified or limit.sources[0] in seen, (liquid.id, limit)


def test_no_limit_is_told_twice() -> None:
    def told(limit: ExposureLimit) -> tuple[object, ...]:
        return (limit.authority, *(getattr(limit, field) for field in FIGURES))

    for liquid in LIQUIDS:
        assert len({told(limit) for limit in liquid.limits}) == len(liquid.limits), liquid.id


def test_short_term_limits_are_not_below_the_eight_hour_limit() -> None:
    for liquid in LIQUIDS:
        for limit in liquid.limits:
            if limit.twa_ppm is not None and limit.short_term_ppm is not None:
                assert limit.short_term_ppm >= limit.twa_ppm, (liquid.id, limit)


ODD_PAIRS = {
    ("dichloromethane", "US-EPA"): "8 mg/m3 stands beside 2 ppm (about 7 mg/m3); the note says so",
    (
        "isopropyl-acetate",
        "US-OSHA",
    ): "950 mg/m3 beside 250 ppm (about 1050 mg/m3), from memory; the note says so",
}


def test_ppm_and_mg_pairs_belong_together() -> None:
    """Within 8.5 %: lists use 20 or 25 C (24.06 or 24.45 litres per mole) and round to one figure."""
    for liquid in LIQUIDS:
        if liquid.molar_mass_g_mol is None or liquid.molar_mass_g_mol.value is None:
            continue
        for limit in liquid.limits:
            if (liquid.id, limit.authority) in ODD_PAIRS:
                continue
            for ppm, mg_m3 in (
                (limit.twa_ppm, limit.twa_mg_m3),
                (limit.short_term_ppm, limit.short_term_mg_m3),
            ):
                if ppm is not None and mg_m3 is not None:
                    expected = ppm * liquid.molar_mass_g_mol.value / 24.25
                    assert mg_m3 == pytest.approx(expected, rel=0.085), (liquid.id, limit)


def test_note_p_cuts_give_the_codes_that_suppliers_print() -> None:
    """The harmonised entry speaks of the benzene in a cut, which a purified white spirit does not hold."""
    cuts = [one for one in LIQUIDS if one.classification and "P" in one.classification.notes]
    assert len(cuts) == 4
    for cut in cuts:
        assert cut.classification is not None
        assert cut.classification.supplier_sources == ("memory",)
        assert not {"H340", "H350"} & set(map(base_code, cut.classification.supplier_statements))
