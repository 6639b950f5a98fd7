"""The shipped tissues, guidelines and their sources hold together."""

from __future__ import annotations

from collections import Counter
from functools import cache
from pathlib import Path
from typing import Any

import msgspec
import pytest
import yaml

from kb.catalogue.load import Catalogue, load
from kb.catalogue.paths import shipped_data
from kb.catalogue.problems import Problem
from kb.model.base import Source
from kb.model.guidance import Guideline
from kb.model.material import Tissue
from kb.science.cited import SOURCES

DATA = Path(__file__).parents[2] / "data"
SOURCE_IDS = {
    *("handbook-sol", "pb1982", "pdb", "kf1978", "astm4988", "loc-perm", "re1982", "t553", "dimstab"),
    *("thomson-msg", "cci-light", "bookrepair"),
}


def raw(name: str, key: str) -> list[dict[str, Any]]:
    """The entries of one file as YAML says them."""
    document = yaml.load((DATA / name).read_text("utf-8"), Loader=yaml.CSafeLoader)
    return list(document[key])


@cache
def tissues() -> tuple[Tissue, ...]:
    """All shipped tissues."""
    return tuple(msgspec.convert(one, Tissue, strict=True) for one in raw("sheet/tissues.yaml", "tissues"))


@cache
def shipped() -> tuple[Catalogue, list[Problem]]:
    """The whole shipped catalogue and what is wrong in it."""
    return load([shipped_data()])


@cache
def guides() -> tuple[Guideline, ...]:
    """All shipped guidelines."""
    return tuple(
        msgspec.convert(one, Guideline, strict=True) for one in raw("sheet/guidelines.yaml", "guidelines")
    )


def test_the_catalogue_has_no_problem_in_them() -> None:
    """References, ids, ranges: nothing is reported for these files."""
    catalogue, problems = shipped()
    ours = (
        "sheet/tissues.yaml",
        "sheet/guidelines.yaml",
        "sources/making.yaml",
        "making/practice-making.yaml",
        "choose/cautions.yaml",
    )
    assert [str(one) for one in problems if str(one.path).endswith(ours)] == []
    assert len(catalogue.all("tissues")) == len(tissues())
    assert len(catalogue.all("guidelines")) == len(guides())


def test_at_least_fifteen_tissues_all_sourced() -> None:
    """Each with grammage, thickness, fibre, a use and sources."""
    assert len(tissues()) >= 15
    for one in tissues():
        assert one.sources
        assert one.uses
        for figure in (one.grammage_g_m2, one.thickness_um):
            assert figure.sources
            assert figure.low is not None
            assert figure.high is not None
            assert 0 < figure.low <= figure.high


def test_thickness_goes_with_grammage() -> None:
    """An apparent density between 0.05 and 0.8 g/cm3, or a figure is mistyped."""
    for one in tissues():
        grammage, um = one.grammage_g_m2.best, one.thickness_um.best
        assert grammage is not None
        assert um is not None
        # A cast film has no pores; solid cellulose is 1.5 g/cm3 (handbook knowledge, from memory).
        most = 1.5 if one.id == "nanocellulose-film" else 0.8
        assert 0.05 < grammage / um < most, one.id


def test_every_band_of_sheets_has_a_tissue() -> None:
    """From newsprint to drawing paper there is something to mend and to fill with."""
    uses = Counter(use for one in tissues() for use in one.uses)
    assert uses["mend"] >= 6
    assert uses["infill"] >= 6
    assert uses["hinge"] >= 4


def test_wood_pulp_is_marked() -> None:
    """Only paper with wood pulp is not pure."""
    assert [one.id for one in tissues() if not one.pure] == ["mitsumata-wood-pulp"]


def test_ids_and_names_are_unique() -> None:
    """One name, one entry."""
    for entries in (tissues(), guides()):
        assert max(Counter(one.id for one in entries).values()) == 1
    assert max(Counter(one.name for one in tissues()).values()) == 1


def test_guidelines_say_their_unit_and_source() -> None:
    """A figure without number says in words why; every one has sources, and the topics are all there."""
    for one in guides():
        assert one.sources
        assert set(one.figure.sources) <= set(one.sources)
        assert one.unit, one.id
        if one.figure.best is None:
            assert one.figure.none_known
    topics = {one.topic for one in guides()}
    assert {"washing", "bath", "pressing", "hinging", "movement", "light", "climate", "stack"} <= topics


@pytest.mark.parametrize("id", sorted(SOURCE_IDS))
def test_sources_of_the_formulas_are_in_the_catalogue(id: str) -> None:
    """Every id that kb.science cites can be looked up there."""
    catalogue, _ = shipped()
    source = catalogue.get("sources", id)
    assert isinstance(source, Source)
    assert source.cite
    assert source.extent


def test_no_source_of_the_formulas_is_missing() -> None:
    """Also those that are shared with the rest of the catalogue."""
    catalogue, _ = shipped()
    assert set(SOURCES) <= set(catalogue.of("sources", Source))


def test_what_was_not_read_stays_not_read() -> None:
    """The paper of 1982 on solubilities was not seen; its coefficients were, in another text."""
    known = {one["id"]: one for one in raw("sources/making.yaml", "sources")}
    assert known["pb1982"]["seen"] is False
    assert "not seen" in known["pb1982"]["extent"]
