"""The UK limits of the catalogue against rows of EH40/2005, Table 1, as they were read (uk_limits.yaml)."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml

from kb.catalogue.load import load
from kb.catalogue.paths import shipped_data
from kb.model.liquid import Liquid

pytestmark = pytest.mark.published

ROWS: dict[str, list[float | bool | None]] = yaml.load(
    Path(__file__).with_name("uk_limits.yaml").read_text("utf-8"), Loader=yaml.CSafeLoader
)["rows"]
LIQUIDS = load([shipped_data()])[0].of("liquids", Liquid).values()


@pytest.mark.parametrize("cas", ROWS)
def test_row(cas: str) -> None:
    """One limit, figure for figure, dated and marked as read."""
    (liquid,) = (row for row in LIQUIDS if row.cas == cas)
    (limit,) = (row for row in liquid.limits if row.authority == "UK")
    figures = limit.twa_ppm, limit.twa_mg_m3, limit.short_term_ppm, limit.short_term_mg_m3
    assert [*figures, limit.skin] == ROWS[cas]
    assert (limit.verified, limit.year) == (True, 2020)


def test_no_uk_limit_is_without_a_row() -> None:
    """Denatured ethanol bears the limit of ethanol and says so; it has no number of its own."""
    held = {row.id: row.cas for row in LIQUIDS if any(one.authority == "UK" for one in row.limits)}
    assert {id for id, cas in held.items() if cas not in ROWS} == {"denatured-ethanol"}
