"""The shipped entries on polymers, carriers, stages, adhesives and tapes hold together."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import msgspec
import pytest
import yaml
from rapidfuzz import fuzz, process

from kb.model.base import Record, Source
from kb.model.kinds import BY_KEY, plain_id
from kb.model.material import Adhesive, Carrier, Polymer, Sphere, Stage, Tape

DATA = Path(__file__).parents[2] / "data"
COUNTS = {"polymers": 48, "carriers": 21, "stages": 6, "adhesives": 28, "tapes": 26}
SIGN_KINDS = {
    "By eye",
    "By touch and sound",
    "By smell",
    "With water",
    "With solvents",
    "With warmth",
    "Under long-wave UV",
    "Between crossed polarisers",
    "Infrared bands in cm-1",
    "Spot test",
    "Flame test",
    "Glass transition",
    "Analysis in print",
}
AGENTS = {"water", "ethanol", "acetone", "aromatics", "aliphatics"}


def _raw(path: Path, key: str) -> list[dict[str, Any]]:
    document = yaml.load(path.read_text("utf-8"), Loader=yaml.CSafeLoader)
    assert list(document) == [key]
    return list(document[key])


@cache
def _entries(key: str) -> tuple[Any, ...]:
    kind = BY_KEY[key].type
    found = next(DATA.rglob(f"{key}.yaml"))
    return tuple(msgspec.convert(item, kind, strict=True) for item in _raw(found, key))


def _polymers() -> dict[str, Polymer]:
    return {p.id: p for p in _entries("polymers")}


def _carriers() -> dict[str, Carrier]:
    return {c.id: c for c in _entries("carriers")}


def _stages() -> dict[str, Stage]:
    return {s.id: s for s in _entries("stages")}


def _adhesives() -> dict[str, Adhesive]:
    return {a.id: a for a in _entries("adhesives")}


def _tapes() -> dict[str, Tape]:
    return {t.id: t for t in _entries("tapes")}


@cache
def _sources() -> dict[str, Source]:
    items = [item for path in sorted((DATA / "sources").glob("*.yaml")) for item in _raw(path, "sources")]
    return {item["id"]: msgspec.convert(item, Source, strict=True) for item in items}


def _inside(value: object) -> Iterator[Record]:
    """The record and every record inside it."""
    if isinstance(value, Record):
        yield value
        for name in value.__struct_fields__:
            yield from _inside(getattr(value, name))
    elif isinstance(value, tuple):
        for item in value:
            yield from _inside(item)


@pytest.mark.parametrize("key", COUNTS)
def test_every_entry_has_the_shape_of_its_kind(key: str) -> None:
    assert len(_entries(key)) == COUNTS[key]


@pytest.mark.parametrize("key", COUNTS)
def test_ids_are_canonical_and_used_once(key: str) -> None:
    ids = [entry.id for entry in _entries(key)]
    assert [i for i, n in Counter(ids).items() if n > 1] == []
    assert [i for i in ids if plain_id(i) != i] == []


@pytest.mark.parametrize("key", COUNTS)
def test_no_name_or_alias_means_two_entries_of_a_kind(key: str) -> None:
    words = [
        (plain_id(w), e.id) for e in _entries(key) for w in {plain_id(x) for x in (e.id, e.name, *e.also)}
    ]
    assert [w for w, n in Counter(word for word, _ in words).items() if n > 1] == []
    assert [e.id for e in _entries(key) if len({plain_id(a) for a in e.also}) != len(e.also)] == []


@pytest.mark.parametrize("key", COUNTS)
def test_every_figure_and_claim_names_sources_that_exist(key: str) -> None:
    for record in (r for entry in _entries(key) for r in _inside(entry)):
        sources = getattr(record, "sources", None)
        if sources is not None:
            assert sources, record
            assert [s for s in sources if s not in _sources()] == [], record


def test_sources_of_these_entries_are_complete() -> None:
    """127 texts on tapes, glues and old repairs and one known at second hand; 8 on polymers."""
    tapes = [msgspec.convert(s, Source) for s in _raw(DATA / "sources" / "tapes.yaml", "sources")]
    polymers = [msgspec.convert(s, Source) for s in _raw(DATA / "sources" / "polymers.yaml", "sources")]
    assert (len(tapes), len(polymers)) == (128, 8)
    assert {s.id for s in (*tapes, *polymers) if not s.seen} == {"feller82", "burke1984-memory"}
    assert all(s.basis == "memory" for s in (*tapes, *polymers) if not s.seen)


def test_everything_that_points_at_an_entry_finds_it() -> None:
    for owner in (*_entries("carriers"), *_entries("adhesives")):
        assert [p for p in owner.polymers if p not in _polymers()] == [], owner.id
    for carrier in _carriers().values():
        assert [a for a in carrier.usual_adhesives if a not in _adhesives()] == [], carrier.id
    for adhesive in _adhesives().values():
        assert [s.stage for s in adhesive.stages if s.stage not in _stages()] == [], adhesive.id
        assert {r.agent for r in adhesive.responses} <= AGENTS, adhesive.id
    for tape in _tapes().values():
        assert tape.carrier in _carriers(), tape.id
        assert tape.adhesive in _adhesives(), tape.id
    for polymer in _polymers().values():
        assert [p for p in polymer.needs_all_of if p not in _polymers()] == [], polymer.id


def test_spheres_are_there_and_could_be_real() -> None:
    polymers = _polymers().values()
    assert sum(p.sphere is not None for p in polymers) == 44
    assert {p.id for p in polymers if p.sphere is None} == {
        "sis-sbs-block-copolymer",
        "wax-paraffin",
        "gum-arabic",
        "ballpoint-dye-vehicle",
    }
    assert all((p.confidence == "none") == (p.sphere is None) for p in polymers)
    for sphere in (r for p in polymers for r in _inside(p) if isinstance(r, Sphere)):
        assert 11 < sphere.d < 26
        assert 0 <= sphere.p < 19
        assert -1 < sphere.h < 25
        assert 1 < sphere.r0 < 22


def test_no_printed_row_is_given_twice_and_memory_is_never_used_for_ranking() -> None:
    for polymer in _polymers().values():
        rows = [s.row for s in (polymer.sphere, *polymer.other_spheres) if s and s.row]
        assert len(rows) == len(set(rows)), polymer.id
        if polymer.sphere:
            assert polymer.sphere.row, polymer.id
            assert _sources()[polymer.sphere.sources[0]].seen, polymer.id


def test_block_copolymers_need_every_block() -> None:
    assert _polymers()["sis-sbs-block-copolymer"].needs_all_of == ("polystyrene", "natural-rubber")
    assert all(_polymers()[i].sphere for i in _polymers()["sis-sbs-block-copolymer"].needs_all_of)


def test_carriers_say_whether_liquid_gets_through() -> None:
    passing = {c.id: c.lets_liquid_through for c in _carriers().values()}
    assert {i for i, word in passing.items() if word == "none"} == {"none-transfer"}
    assert {i for i, word in passing.items() if word == "porous"} == {
        "crepe-paper",
        "flat-paper-kraft",
        "cloth",
        "glassine-thin-paper",
        "heat-set-tissue",
        "gummed-paper-cloth",
        "silk-gossamer",
        "nylon-gossamer",
        "tracing-cloth",
    }


def test_stages_keep_their_order() -> None:
    positions = {s.id: s.position for s in _stages().values()}
    assert positions == {"induction": 0, "fresh": 0, "oily": 1, "tacky": 1, "aged": 1, "crosslinked": 2}
    assert "project" in _stages()["aged"].sources


def test_rubbers_are_one_chemistry_group() -> None:
    rubbers = {a.id for a in _adhesives().values() if a.group == "rubber"}
    assert rubbers == {
        "natural-rubber-resin",
        "synthetic-rubber",
        "hot-melt-sbc",
        "zinc-oxide-rubber",
        "natural-rubber-uncured-cement",
        "polychloroprene-contact",
    }


def test_adhesives_without_a_sphere_say_how_liquids_act() -> None:
    for adhesive in _adhesives().values():
        reachable = [p for p in adhesive.polymers if _polymers()[p].sphere or _polymers()[p].needs_all_of]
        if not reachable:
            assert {r.agent for r in adhesive.responses} == AGENTS, adhesive.id


def test_signs_begin_with_the_way_they_are_looked_for() -> None:
    for entry in (*_entries("carriers"), *_entries("adhesives")):
        assert {claim.text.split(": ")[0] for claim in entry.signs} <= SIGN_KINDS, entry.id
    assert all(c.signs for c in _entries("carriers"))


def test_sources_that_disagree_stand_side_by_side() -> None:
    """Water on old cellulose film: one correspondent for it, one against."""
    water = [c for c in _carriers()["regenerated-cellulose-film"].signs if c.text.startswith("With water")]
    assert {source for claim in water for source in claim.sources} >= {"cdl08h", "cdl08w"}


def test_natural_rubber_means_the_resin_adhesive_only() -> None:
    named = [a.id for a in _adhesives().values() if "natural rubber" in (a.id, a.name.lower(), *a.also)]
    assert named == ["natural-rubber-resin"]


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("celofane tap yelow", "clear-cellulose-film-rubber"),
        ("maskin tape", "masking-rubber"),
        ("parcel tap", "bopp-hotmelt"),
        ("electricl tape", "pvc-insulating"),
        ("duble sided tape", "polyester-double"),
        ("bok tape", "cloth-surgical"),
        ("lable", "label-acrylic"),
        ("invisable tape", "matte-acetate-acrylic"),
        ("gumed linnen", "gummed-linen"),
        ("rubber cemment", "rubber-cement"),
    ],
)
def test_everyday_and_misspelt_words_are_near_the_right_tape(typed: str, expected: str) -> None:
    """The aliases carry enough everyday words for a plain fuzzy search."""
    words = {w.lower(): t.id for t in _tapes().values() for w in (t.name, *t.also)}
    best = process.extractOne(typed, list(words), scorer=fuzz.token_sort_ratio)
    assert words[best[0]] == expected
