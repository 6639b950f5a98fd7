"""The shipped entries on media, papers, methods, cautions, reports and practice hold together."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any

import msgspec
import pytest
import yaml

from kb.desk.studio import Studio
from kb.model.base import UNSTATED, Record, Source
from kb.model.guidance import Caution, Practice, Report, When
from kb.model.kinds import BY_KEY, plain_id
from kb.model.liquid import Liquid
from kb.model.material import AgentSensitivity, Medium, Method, Paper

DATA = Path(__file__).parents[2] / "data"
AGENTS = ("water", "alkaline", "ethanol", "acetone", "aromatics", "aliphatics", "heat")
COUNTS = {"media": 59, "papers": 18, "methods": 16, "cautions": 156, "reports": 42, "practice": 93}
COATED = {"thermal-fax", "carbonless-copy"}
"""Coats that carry their own colour former: like no other medium."""
LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
COMMON_QUESTION = {
    "adhesives": "natural-rubber-resin",
    "stages": "oily",
    "carriers": "regenerated-cellulose-film",
    "media": "letterpress-oil",
    "papers": "paper-woodpulp",
    "methods": "swab",
}


@cache
def _document(path: Path) -> Mapping[str, Any]:
    loaded: Mapping[str, Any] = yaml.load(path.read_text("utf-8"), Loader=LOADER)
    return loaded


@cache
def _own(key: str) -> tuple[Any, ...]:
    """The entries of one of the files under test, converted strictly."""
    document = _document(next(DATA.rglob(f"{key}.yaml")))
    assert list(document) == [key]
    return tuple(msgspec.convert(item, BY_KEY[key].type, strict=True) for item in document[key])


@cache
def _shipped(key: str) -> Mapping[str, Mapping[str, Any]]:
    """All shipped entries of a kind, wherever they stand, as plain maps by id."""
    found: list[Mapping[str, Any]] = []
    for path in sorted(DATA.rglob("*.yaml")):
        if "demo" not in path.parts:
            found += _document(path).get(key, [])
    return {item["id"]: item for item in found}


@cache
def _liquids() -> tuple[Liquid, ...]:
    return tuple(msgspec.convert(item, Liquid, strict=True) for item in _shipped("liquids").values())


def _media() -> dict[str, Medium]:
    return {one.id: one for one in _own("media")}


def _papers() -> dict[str, Paper]:
    return {one.id: one for one in _own("papers")}


def _materials() -> tuple[Medium | Paper, ...]:
    """Whatever has a table of sensitivities."""
    return (*_media().values(), *_papers().values())


def _methods() -> dict[str, Method]:
    return {one.id: one for one in _own("methods")}


def _cautions() -> dict[str, Caution]:
    return {one.id: one for one in _own("cautions")}


def _reports() -> dict[str, Report]:
    return {one.id: one for one in _own("reports")}


def _inside(value: object) -> Iterator[Record]:
    """The record and every record inside it."""
    if isinstance(value, Record):
        yield value
        for name in value.__struct_fields__:
            yield from _inside(getattr(value, name))
    elif isinstance(value, tuple):
        for item in value:
            yield from _inside(item)


def _statements(liquid: Liquid) -> tuple[str, ...]:
    """The codes a caution is matched against: what suppliers print where that is listed."""
    classed = liquid.classification
    if classed is None:
        return ()
    return (*(classed.supplier_statements or classed.statements), *classed.euh)


def _meets(when: When, liquid: Liquid, question: Mapping[str, str]) -> bool:
    """Whether a caution holds for a pure liquid in a question."""
    for key, found in question.items():
        wanted = getattr(when, key)
        if wanted and found not in wanted:
            return False
    if when.tapes or (when.liquids and liquid.id not in when.liquids):
        return False
    if when.families and liquid.family not in when.families:
        return False
    if when.agents and _shipped("families")[liquid.family].get("agent", "") not in when.agents:
        return False
    codes = [statement.split(" ", 1)[0] for statement in _statements(liquid)]
    return not when.hazards or any(code.startswith(when.hazards) for code in codes)


def _stopped(question: Mapping[str, str]) -> dict[str, set[str]]:
    """Liquids that a stop takes out, and by which cautions."""
    stops = [caution for caution in _cautions().values() if caution.severity == "stop"]
    met = {one.id: {c.id for c in stops if _meets(c.when, one, question)} for one in _liquids()}
    return {id: cautions for id, cautions in met.items() if cautions}


@pytest.mark.parametrize("key", COUNTS)
def test_every_entry_has_the_shape_of_its_kind_and_none_is_lost(key: str) -> None:
    assert len(_own(key)) == COUNTS[key]


@pytest.mark.parametrize("key", COUNTS)
def test_ids_are_canonical_and_used_once(key: str) -> None:
    ids = [entry.id for entry in _own(key)]
    assert [i for i, n in Counter(ids).items() if n > 1] == []
    assert [i for i in ids if plain_id(i) != i] == []


@pytest.mark.parametrize("key", ["media", "papers", "methods"])
def test_no_name_or_alias_means_two_entries_of_a_kind(key: str) -> None:
    words = [w for e in _own(key) for w in {plain_id(x) for x in (e.id, e.name, *e.also)}]
    assert [w for w, n in Counter(words).items() if n > 1] == []
    assert [e.id for e in _own(key) if len({plain_id(a) for a in e.also}) != len(e.also)] == []


@pytest.mark.parametrize("key", COUNTS)
def test_every_claim_names_sources_that_exist(key: str) -> None:
    for record in (r for entry in _own(key) for r in _inside(entry)):
        sources = getattr(record, "sources", None)
        if sources is not None:
            assert sources, record
            assert [s for s in sources if s not in _shipped("sources")] == [], record


def test_sources_of_these_entries_are_used_and_unseen_ones_are_marked() -> None:
    """No citation is carried along for nothing; a text that was not seen counts as memory."""
    items = _document(DATA / "sources" / "media.yaml")["sources"]
    sources = [msgspec.convert(item, Source, strict=True) for item in items]
    used = {s for k in COUNTS for e in _own(k) for r in _inside(e) for s in getattr(r, "sources", ())}
    assert [s.id for s in sources if s.id not in used] == []
    assert {s.id for s in sources if not s.seen} == {
        "cfr-1910-134",
        "daniels95",
        "murphy88",
    }
    assert [s.id for s in sources if (s.basis == "published") != s.seen or not s.extent] == []


def test_every_source_stands_in_one_file_only() -> None:
    paths = sorted((DATA / "sources").glob("*.yaml"))
    ids = [item["id"] for path in paths for item in _document(path)["sources"]]
    assert [i for i, n in Counter(ids).items() if n > 1] == []


def test_grades_stand_once_in_order_with_words_and_a_source_of_their_own() -> None:
    """Of 76 materials by 7 agents 352 grades rest on something, 181 are the rule's.

    What was graded as bleeding is all there: only grades that ask for no more than a test, and some that
    called a thing stable on no ground, are left to the rule of UNSTATED.
    """
    rows: list[AgentSensitivity] = []
    for entry in _materials():
        agents = [row.agent for row in entry.sensitivity]
        assert agents == [agent for agent in AGENTS if agent in agents], entry.id
        rows += entry.sensitivity
    assert len(rows) == 352
    assert [row for row in rows if not row.text] == []
    assert [row.text for row in rows if row.text.startswith("Nothing found in writing")] == []
    assert Counter(row.grade for row in rows) == {
        "stable": 52,
        "test with care": 145,
        "usually bleeds": 149,
        "unknown": 6,
    }


def test_a_grade_without_a_row_is_answered_as_unstated(studio: Studio) -> None:
    """Gel pen with ethanol has no row: the chance of harm is that of "test with care", as with acetone."""
    compiled = studio.compiled
    medium = compiled.media["gel-pen"]
    assert "ethanol" not in medium.grades
    assert medium.grades["acetone"] == UNSTATED
    ethanol, acetone = (compiled.candidate(one, {one: 1.0}) for one in ("ethanol", "acetone"))
    assert compiled.medium_p0("gel-pen", "", ethanol) == compiled.medium_p0("gel-pen", "", acetone)


def test_bare_paper_has_nothing_that_could_bleed() -> None:
    bare = _media()["bare-paper"]
    assert (bare.name, bare.group, bare.kin) == ("Bare paper, no medium", "none", "")
    assert bare.sensitivity == ()
    assert bare.polymers == ()


def test_kin_groups_are_the_agreed_ones() -> None:
    groups: dict[str, set[str]] = {}
    for one in _media().values():
        groups.setdefault(one.kin, set()).add(one.id)
    assert set(groups) == {"", "aqueous", "alcohol-soluble", "oil", "wax", "thermoplastic", "dry", "gelatin"}
    assert set(_media()) >= COATED
    assert groups["alcohol-soluble"] == {"ballpoint", "felt-tip-solvent", "sealing-wax", "varnish"}
    mixed = {"copying-pencil", "gel-pen", "inkjet-pigment", "blueprint", "diazo", "uncoated-photograph"}
    assert groups[""] == {"bare-paper", *mixed, *COATED}
    assert {"iron-gall", "carbon-ink", "dye-writing"} <= groups["aqueous"]


def test_polymers_of_media_and_papers_exist() -> None:
    for entry in _materials():
        assert [p for p in entry.polymers if p not in _shipped("polymers")] == [], entry.id


def test_words_people_type_lead_to_one_entry() -> None:
    media = {plain_id(word): m.id for m in _media().values() for word in (m.name, *m.also)}
    papers = {plain_id(word): p.id for p in _papers().values() for word in (p.name, *p.also)}
    assert media["letterpress"] == media["printing-ink"] == "letterpress-oil"
    assert media["ballpoint-pen"] == "ballpoint"
    assert media["typescript"] == "typewriter"
    assert media["photocopy"] == media["laser-print"] == "toner"
    assert media["chromolithograph"] == "lithographic"
    assert (media["cyanotype"], media["dyeline"]) == ("blueprint", "diazo")
    assert papers["newsprint"] == papers["wood-pulp"] == papers["mechanical-wood-paper"] == "paper-woodpulp"


def test_methods_say_whether_the_liquid_is_held() -> None:
    contact = {one.id: one.contact for one in _methods().values()}
    assert {i for i, word in contact.items() if word == "confined"} == {
        "local-poultice",
        "vapour-dome",
        "gel",
        "suction",
        "heated-spatula",
        "humidification-chamber",
        "microemulsion-gel",
        "enzyme-poultice",
    }
    assert {i for i, word in contact.items() if word == "free"} == {
        "swab",
        "brush",
        "drop",
        "bath",
        "hot-air",
        "dry-eraser",
        "scalpel-scraping",
        "laser",
    }
    assert all(one.dwell and one.amount and one.risk for one in _methods().values())


@pytest.mark.parametrize("key", [k for k in When.__struct_fields__ if k != "agents"])
def test_conditions_of_cautions_name_things_that_exist(key: str) -> None:
    known = _shipped(key)
    for caution in _cautions().values():
        assert [id for id in getattr(caution.when, key) if id not in known] == [], caution.id


def test_every_caution_has_a_condition_and_every_stop_and_warning_a_way_out() -> None:
    for caution in _cautions().values():
        conditions = [getattr(caution.when, key) for key in When.__struct_fields__]
        assert any(conditions), caution.id
        assert set(caution.when.agents) <= set(AGENTS)
        if caution.severity != "note" and caution.id != "ozone-depleter":
            assert caution.instead, caution.id


def test_no_caution_is_dead() -> None:
    """Each rule about liquids meets at least one liquid of the catalogue, its context granted."""
    for caution in _cautions().values():
        when = caution.when
        if when.liquids or when.families or when.hazards:
            assert any(_meets(when, liquid, {}) for liquid in _liquids()), caution.id


def test_common_question_loses_only_liquids_that_are_dangerous_to_people() -> None:
    """Letterpress on wood pulp under oily rubber on film: nine liquids go, each for health or law."""
    stopped = _stopped(COMMON_QUESTION)
    assert set(stopped) == {
        "benzene",
        "1-4-dioxane",
        "trichloroethylene",
        "1-1-1-trichloroethane",
        "2-ethoxyethanol",
        "dimethylformamide",
        "n-methyl-2-pyrrolidone",
        "1-2-dichloroethane",
        "1-3-dioxolane",
    }
    assert len(_liquids()) == 69


@pytest.mark.slow
def test_no_medium_on_any_paper_loses_nearly_everything() -> None:
    """Even colour photographs keep 25 liquids, and every question but theirs keeps more than half."""
    for medium in _media():
        for paper in _papers():
            lost = len(_stopped({**COMMON_QUESTION, "media": medium, "papers": paper}))
            assert len(_liquids()) - lost >= 25, (medium, paper)
            if medium != "photo-dye":
                assert 2 * lost < len(_liquids()), (medium, paper)


def test_petroleum_cuts_without_benzene_are_not_taken_for_carcinogens() -> None:
    """Their harmonised entry says H350 with a note that it need not apply; suppliers print otherwise."""
    question = {**COMMON_QUESTION, "media": "bare-paper"}
    for id in ("petroleum-ether", "white-spirit-low-aromatic", "white-spirit-aromatic", "stoddard-solvent"):
        assert id not in _stopped(question)


@pytest.mark.parametrize(
    ("change", "liquid", "caution"),
    [
        ({"media": "copying-pencil"}, "water", "copying-pencil-water"),
        ({"media": "iron-gall"}, "water", "iron-gall-water"),
        ({"media": "dye-writing"}, "water", "dye-ink-water"),
        ({"media": "ballpoint"}, "ethanol", "ballpoint-alcohol"),
        ({"media": "toner"}, "acetone", "toner-stop"),
        ({"media": "toner"}, "toluene", "toner-stop"),
        ({"media": "wax-crayon"}, "n-heptane", "wax-hydrocarbon"),
        ({"media": "hectograph"}, "methanol", "hectograph-alcohol"),
        ({"media": "photo-dye"}, "acetone", "dye-photograph-solvents"),
        ({"papers": "paper-coated"}, "water", "coated-paper-water"),
        ({"papers": "paper-tracing-natural"}, "water", "tracing-water"),
        ({"papers": "parchment"}, "water", "parchment-water"),
        ({"papers": "paper-tracing-cloth"}, "water", "tracing-cloth-water"),
        ({"papers": "paper-tracing-prepared"}, "dichloromethane", "prepared-sheets-chlorinated"),
        ({"papers": "drafting-film-polyester"}, "dichloromethane", "prepared-sheets-chlorinated"),
        ({"media": "iron-gall", "methods": "microemulsion-gel"}, "acetone", "water-by-the-method"),
        ({"papers": "paper-coated", "methods": "enzyme-poultice"}, "water", "water-by-the-method-paper"),
        ({"media": "toner"}, "d-limonene", "toner-stop"),
        ({"media": "collodion-print"}, "acetonitrile", "collodion-solvents"),
        ({}, "benzene", "benzene"),
        ({}, "dimethylformamide", "harms-unborn"),
        ({}, "1-4-dioxane", "carcinogen"),
    ],
)
def test_known_traps_are_stopped(change: dict[str, str], liquid: str, caution: str) -> None:
    assert caution in _stopped({**COMMON_QUESTION, **change}).get(liquid, set())


def test_stops_on_media_follow_the_grades() -> None:
    """A stop names a medium and a family only where the medium's table does not call them stable."""
    agents = {id: family.get("agent", "") for id, family in _shipped("families").items()}
    for caution in _cautions().values():
        when = caution.when
        if caution.severity != "stop" or not when.media:
            continue
        families = set(when.families) | {one.family for one in _liquids() if one.id in when.liquids}
        wanted = {agents[family] for family in families} - {""}
        for medium in when.media:
            rows = {row.agent: row.grade for row in _media()[medium].sensitivity}
            assert [a for a in wanted if rows[a] == "stable"] == [], (caution.id, medium)


def test_skin_notes_follow_the_limits() -> None:
    """The caution names exactly the liquids to which an authority in the catalogue adds a skin mark."""
    marked = {one.id for one in _liquids() if any(limit.skin for limit in one.limits)}
    assert set(_cautions()["skin-notation"].when.liquids) == marked


def test_reports_name_things_that_exist() -> None:
    pairs = (
        ("adhesive", "adhesives"),
        ("stage", "stages"),
        ("carrier", "carriers"),
        ("medium", "media"),
        ("paper", "papers"),
        ("method", "methods"),
    )
    for report in _reports().values():
        for name, key in pairs:
            id = getattr(report, name)
            assert id is None or id in _shipped(key), (report.id, name)
        for said in report.liquids:
            assert [p for p in said.parts if p not in _shipped("liquids")] == [], report.id


def test_reports_are_numbered_without_a_gap() -> None:
    assert list(_reports()) == [f"r{number:02}" for number in range(1, 43)]


def test_parts_of_reported_liquids_sum_to_one_and_equal_shares_are_marked_as_assumed() -> None:
    for report in _reports().values():
        for said in report.liquids:
            assert math.isclose(sum(said.parts.values()), 1.0, abs_tol=1e-9), report.id
            assert said.parts_assumed == (len(said.parts) > 1), report.id
        made = [tuple(sorted(said.parts)) for said in report.liquids]
        assert len(made) == len(set(made)), report.id


def test_counts_of_reported_outcomes() -> None:
    """Outcomes as the reports give them; none says that a liquid of the catalogue did harm."""
    results = Counter(said.result for report in _reports().values() for said in report.liquids)
    assert results == {"released": 21, "partly": 7, "not released": 8, "named only": 23}
    grades = Counter(report.evidence for report in _reports().values())
    assert grades == {"A": 11, "B": 16, "C": 14, "D": 1}


def test_assumed_adhesives_are_marked_and_given() -> None:
    assumed = {report.id for report in _reports().values() if report.adhesive_assumed}
    assert assumed == {"r10", "r11", "r13", "r14", "r15", "r30", "r36", "r41", "r42"}
    assert all(_reports()[id].adhesive for id in assumed)


def test_practice_covers_what_a_tester_asks() -> None:
    entries: tuple[Practice, ...] = _own("practice")
    topics = Counter(entry.topic for entry in entries)
    assert {"before", "sites", "order", "dwell", "amounts", "controls"} <= set(topics)
    assert {"looking", "grading", "record", "two-sided", "safety"} <= set(topics)
    assert len({entry.claim.text for entry in entries}) == len(entries)
