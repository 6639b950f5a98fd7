"""Links in both directions, the side-by-side table and the filters of liquids."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from kb.book.kinds.bottle import Bottle
from kb.cli.main import main
from kb.desk.errors import DeskError
from kb.desk.materials.compare import Comparison, compare
from kb.desk.materials.filter import evaporation_word, liquids
from kb.desk.materials.links import depends, links, resting
from kb.desk.materials.links_near import Link
from kb.desk.materials.lookup import all_of
from kb.desk.shelf.bottles import open_bottle
from kb.desk.studio import Studio
from kb.index.catalogue_rows import mentioned_by, mentions_of
from kb.model.kinds import BY_WORD

Record = Callable[..., str]


def of(found: list[Link], kind: str, relation: str = "") -> dict[str, Link]:
    """Links of one kind (and relation) by id."""
    return {one.id: one for one in found if one.kind == kind and relation in {"", one.relation}}


# Links


@pytest.fixture
def studio(untouched: Studio) -> Studio:
    """Nobody writes in it; who does makes one of their own."""
    return untouched


@pytest.mark.slow
@pytest.mark.parametrize("kind", BY_WORD)
def test_every_link_of_every_entry_leads_somewhere(studio: Studio, kind: str) -> None:
    """No link hangs, none is said twice, and each says what it is to the entry."""
    known = {(one, entry.id) for one in BY_WORD for entry in all_of(studio, one)}
    for entry in all_of(studio, kind):
        found = links(studio, kind, entry.id)
        keys = [(one.kind, one.id, one.relation) for one in found]
        assert len(set(keys)) == len(keys)
        for one in found:
            assert one.relation, one
            assert one.name, one
            assert one.kind == "test" or (one.kind, one.id) in known, one


def test_what_a_liquid_is_inside_of_knows_it_too(studio: Studio) -> None:
    """Liquid to adhesive and adhesive to liquid give the same relation and the same distance."""
    of_adhesive = {
        one.id: of(links(studio, "adhesive", one.id), "liquid") for one in all_of(studio, "adhesive")
    }
    for liquid in all_of(studio, "liquid"):
        for id, link in of(links(studio, "liquid", liquid.id), "adhesive").items():
            back = of_adhesive[id][liquid.id]
            assert (link.relation, link.red) == (back.relation, back.red)


@pytest.mark.parametrize("kind", ["medium", "paper", "carrier"])
def test_materials_and_liquids_agree_in_both_directions(studio: Studio, kind: str) -> None:
    """The grade or distance is one figure, whichever end it is read from."""
    acetone = of(links(studio, "liquid", "acetone"), kind)
    for one in all_of(studio, kind):
        back = of(links(studio, kind, one.id), "liquid").get("acetone")
        link = acetone.get(one.id)
        assert (link and (link.relation, link.red)) == (back and (back.relation, back.red))


def test_a_liquid_by_distance_grade_report_and_rule(studio: Studio) -> None:
    """The agreed things stand among the links of acetone, the nearest and most severe first."""
    found = links(studio, "liquid", "acetone")
    adhesives = [one for one in found if one.kind == "adhesive" and one.red is not None]
    assert [one.red for one in adhesives] == sorted(one.red or 0 for one in adhesives)
    assert {one.relation for one in adhesives} == {"inside", "outside"}
    assert all((one.relation == "inside") == ((one.red or 0) < 1) for one in adhesives)
    assert of(found, "adhesive")["starch-dextrin"].relation == "rarely releases"
    grades = [one.relation for one in found if one.kind == "medium"]
    assert grades[0] == "usually bleeds"
    assert grades[-1] == "stable"
    assert of(found, "medium")["toner"].relation == "usually bleeds"
    assert "matte-acetate-acrylic" in of(found, "tape", "inside its adhesive")
    assert of(found, "carrier")["cellulose-acetate-film"].relation == "inside"
    assert of(found, "report")["r03"].note.startswith("partly; evidence A")
    severities = [one.relation for one in found if one.kind == "caution"]
    assert severities == sorted(severities, key=["caution: stop", "caution: warn", "caution: note"].index)
    assert "lone-work" in of(found, "caution")
    assert "family" in {one.kind for one in found}
    assert of(found, "hazard", "labelled").keys() >= {"H225", "EUH066"}
    assert of(found, "source", "rests on")["it-annex-xxxviii"].note == "read"
    assert of(links(studio, "liquid", "isoparaffin"), "source", "rests on")["memory"].note == "from memory"


def test_an_adhesive_names_tapes_polymers_reports_and_what_is_inside_its_sphere(studio: Studio) -> None:
    """The liquids come in the order of distance."""
    found = links(studio, "adhesive", "natural-rubber-resin")
    assert "masking-rubber" in of(found, "tape", "tape with it")
    assert "natural-rubber" in of(found, "polymer", "made of")
    assert "r02" in of(found, "report")
    assert "crosslinked-rubber" in of(found, "caution")
    inside = [one for one in found if one.relation == "inside"]
    assert [one.red for one in inside] == sorted(one.red or 0 for one in inside)
    assert "cyclohexane" in {one.id for one in inside}
    assert of(found, "liquid")["water"].relation == "outside"


def test_polymers_and_blocks(studio: Studio) -> None:
    """A block copolymer and its blocks know each other; a liquid must reach the farthest block."""
    assert "sis-sbs-block-copolymer" in of(links(studio, "polymer", "polystyrene"), "polymer", "block in")
    found = links(studio, "polymer", "sis-sbs-block-copolymer")
    assert "polystyrene" in of(found, "polymer", "has the block")
    for id, link in of(found, "liquid", "inside").items():
        assert link.red == studio.compiled.red_adhesive("hot-melt-sbc", studio.compiled.by_id[id].hansen)
    assert of(links(studio, "polymer", "dried-oil"), "medium", "binds").keys() >= {"intaglio", "oil-on-paper"}


def test_a_tape_carries_what_is_said_of_its_adhesive_and_carrier(studio: Studio) -> None:
    """Rules and reports are about adhesives and carriers; a person holds a tape."""
    found = links(studio, "tape", "clear-cellulose-film-rubber")
    assert "cellulose-film-water" in of(found, "caution", "caution: warn (its carrier)")
    assert "r01" in of(found, "report", "report (its adhesive)")
    assert "cyclohexane" in of(found, "liquid", "inside its adhesive")


def test_a_caution_and_the_liquids_it_is_about(studio: Studio) -> None:
    """By family or label as well as by name, in both directions."""
    found = of(links(studio, "caution", "lone-work"), "liquid", "applies to")
    assert "acetone" in found
    assert "water" not in found
    for liquid in all_of(studio, "liquid"):
        has = "lone-work" in of(links(studio, "liquid", liquid.id), "caution")
        assert has == (liquid.id in found)


def test_a_source_and_what_rests_on_it(studio: Studio) -> None:
    """Every entry that names the source is there, and nothing else."""
    found = links(studio, "source", "smith84")
    expected = {(one.kind, one.id) for one in mentioned_by(studio.index.conn, "source", "smith84")}
    assert {(one.kind, one.id) for one in found} == expected
    assert {one.relation for one in found} == {"rests on it"}
    assert len(found) > 20


def test_mentions_are_kept_for_blends_and_suffixed_statements(studio: Studio) -> None:
    """Parts of a reported blend are liquids, and H361f leads to H361."""
    conn = studio.index.conn
    assert {one.to_id for one in mentions_of(conn, "report", "r02") if one.field == "parts"} >= {
        "toluene",
        "cyclohexane",
    }
    assert "H361" in {one.to_id for one in mentions_of(conn, "liquid", "n-hexane")}


def test_the_book_speaks_too(new_studio: Callable[[str], Studio], record: Record) -> None:
    """Counts, best release and worst harm, alone and in blends; withdrawn bottles and tests do not count."""
    studio = new_studio("own")
    assert not of(links(studio, "liquid", "acetone"), "test")
    record(studio, parts={"acetone": 1.0}, release=3, harm={"bleed": 0})
    record(studio, parts={"acetone": 1.0}, release=1, harm={"bleed": 2, "gloss": 1})
    record(studio, parts={"acetone": 1.0}, release=None, harm={"bleed": 1})
    record(studio, parts={"acetone": 0.5, "ethanol": 0.5}, release=4, harm={})
    bottle = open_bottle(
        studio, Bottle(liquid="acetone", label="by the window", opened="2026-01"), date(2026, 6, 1)
    )
    found = links(studio, "liquid", "acetone")
    lines = {one.name: one.note for one in found if one.kind == "test"}
    assert lines == {
        "tests here": "release graded in 2, best 3 of 4; looks for harm: 4, worst 2 of 4",
        "tests here in blends": "release graded in 1, best 4 of 4",
    }
    assert of(found, "bottle")[bottle.id].name == "by the window"
    (medium,) = (one.note for one in links(studio, "medium", "letterpress-oil") if one.kind == "test")
    assert medium == "looks for harm: 3, worst 2 of 4"
    (adhesive,) = (
        one.note for one in links(studio, "adhesive", "natural-rubber-resin") if one.kind == "test"
    )
    assert adhesive == "release graded in 3, best 4 of 4"
    (tape,) = (one for one in links(studio, "tape", "clear-cellulose-film-rubber") if one.kind == "test")
    assert tape.name == "tests here on such a tape"


@pytest.mark.parametrize(("kind", "id"), [("liquid", "no-such"), ("nonsense", "acetone"), ("liquid", "")])
def test_no_such_entry(studio: Studio, kind: str, id: str) -> None:
    """One sentence says how to look for it."""
    with pytest.raises(DeskError, match="There is no"):
        links(studio, kind, id)


# Side by side


def cell(table: Comparison, label: str) -> list[str]:
    """Texts of one row."""
    return [one.text for row in table.rows if row.label == label for one in row.cells]


def test_figures_side_by_side(studio: Studio) -> None:
    """Cells in the order asked for, units once, marks where nothing was read, gaps where nothing is known."""
    table = compare(studio, "liquid", ["ethanol", "acetone", "white-spirit-low-aromatic"])
    assert [one.name for one in table.columns][:2] == ["Ethanol", "Acetone"]
    rows = {row.label: row for row in table.rows}
    assert rows["boiling point"].unit == "°C"
    assert cell(table, "boiling point")[:2] == ["78.2", "56.1"]
    # The temperature stands in the label and is not said again in each cell.
    assert cell(table, "vapour pressure at 20 °C") == ["5.88", "24.7", ""]
    assert [one.sources for one in rows["Teas fractions"].cells] == [
        ("computed",),
        ("computed",),
        ("computed", "memory"),
    ]
    assert rows["molar mass"].cells[0].sources == ("chemicals-identifiers",)
    assert cell(table, "flash point")[0] == "12 (also printed: 13)"
    assert rows["limits: EU"].cells[1].text.endswith("unverified: check the current list")
    assert "H350" not in rows["on the label"].cells[2].text
    assert cell(table, "in this studio") == ["held, allowed"] * 3
    assert not rows["in this studio"].differs
    assert rows["boiling point"].differs
    known = {one.id for one in table.sources}
    assert known >= {source for row in table.rows for one in row.cells for source in one.sources}


def test_grades_side_by_side(studio: Studio) -> None:
    """One row for each class of liquid."""
    table = compare(studio, "medium", ["toner", "ballpoint", "graphite", "iron-gall"])
    assert cell(table, "sensitivity: acetone")[0].startswith("usually bleeds: ")
    assert cell(table, "sensitivity: acetone")[2].startswith("stable")
    table = compare(studio, "adhesive", ["acrylic", "starch-dextrin"])
    assert cell(table, "sphere to reach")[0].startswith("dD 16.2")
    assert cell(table, "sphere to reach")[1] == ""
    assert next(row for row in table.rows if row.label == "sphere to reach").cells[0].sources
    assert cell(table, "responses: water") == ["", "usually releases"]


@pytest.mark.parametrize("kind", BY_WORD)
def test_any_kind_can_be_compared(studio: Studio, kind: str) -> None:
    """Every row has a cell for each entry and is not empty."""
    wanted = [one.id for one in all_of(studio, kind)][:4]
    table = compare(studio, kind, wanted)
    assert [one.id for one in table.columns] == wanted
    for row in table.rows:
        assert len(row.cells) == len(wanted)
        assert any(one.text for one in row.cells)


@pytest.mark.parametrize(
    ("ids", "said"),
    [
        (["acetone"], "Two to 4"),
        (["acetone", "ethanol", "water", "toluene", "xylene"], "Two to 4"),
        (["acetone", "acetone"], "named twice"),
        (["acetone", "no-such"], "There is no liquid"),
    ],
)
def test_what_cannot_be_compared(studio: Studio, ids: list[str], said: str) -> None:
    """It is said in one sentence."""
    with pytest.raises(DeskError, match=said):
        compare(studio, "liquid", ids)


# Filters


def test_filters(studio: Studio) -> None:
    """Each narrows, together they narrow more, and none of them guesses a rate."""
    every = liquids(studio)
    assert len(every) == len(studio.compiled.liquids)
    assert {one.id for one in liquids(studio, family="ketone")} >= {"acetone", "butanone", "cyclohexanone"}
    assert {one.id for one in liquids(studio, family="ethers")} >= {"diethyl-ether", "tetrahydrofuran"}
    assert "dimethylformamide" in {one.id for one in liquids(studio, hazard="H360")}
    assert "white-spirit-low-aromatic" not in {one.id for one in liquids(studio, hazard="H350")}
    fast = liquids(studio, evaporation="fast")
    assert "acetone" in {one.id for one in fast}
    assert all((one.evaporation_rate or 0) > 3 for one in fast)
    known = [one for word in ("fast", "medium", "slow") for one in liquids(studio, evaporation=word)]  # type: ignore[arg-type]
    assert len(known) == len([one for one in every if one.evaporation_rate is not None])
    both = liquids(studio, family="ketone", evaporation="fast")
    assert {one.id for one in both} == {one.id for one in fast} & {
        one.id for one in liquids(studio, family="ketone")
    }
    with pytest.raises(DeskError, match="fast, medium or slow"):
        liquids(studio, evaporation="quick")  # type: ignore[arg-type]


def test_bounds_of_evaporation() -> None:
    """Above 3.0 fast, below 0.8 slow, between and on the bounds medium, unknown no word."""
    assert [evaporation_word(rate) for rate in (3.01, 3.0, 1.0, 0.8, 0.79, None)] == [
        "fast",
        "medium",
        "medium",
        "medium",
        "slow",
        "",
    ]


def test_filters_by_what_this_studio_holds_and_allows(new_studio: Callable[[str], Studio]) -> None:
    """The shelf decides; the reason stands beside what is left out."""
    studio = new_studio("own")
    studio.root.mkdir(exist_ok=True)
    studio.shelf_file.write_text(
        "holds: [acetone, toluene]\nforbids:\n- {liquids: [toluene], why: No hood.}\n"
    )
    studio.refresh()
    assert [one.id for one in liquids(studio, held=True)] == ["acetone", "toluene"]
    assert [one.id for one in liquids(studio, held=True, allowed=True)] == ["acetone"]
    (out,) = liquids(studio, allowed=False)
    assert (out.id, out.why) == ("toluene", "Toluene is forbidden here (local rule): No hood")
    assert len(liquids(studio, held=False)) == len(liquids(studio)) - 2


# The commands


@pytest.fixture
def run(studio: Studio, capsys: pytest.CaptureFixture[str]) -> Any:
    """Runs a command on the studio; gives its exit code and output."""

    def command(noun: str, *words: str) -> tuple[int, str]:
        capsys.readouterr()
        code = main([noun, "--studio", str(studio.root), *words])
        return code, capsys.readouterr().out

    return command


def test_show_links(run: Any) -> None:
    """Text groups by kind and relation; JSON is the list of links."""
    code, out = run("show", "adhesive", "acrylic", "--links")
    assert code == 0
    assert "liquid, inside:\n" in out
    assert "RED 0." in out
    code, out = run("show", "liquid", "propanone", "--links", "--json")
    assert code == 0
    found = json.loads(out)
    assert set(found[0]) == {"kind", "id", "name", "relation", "note", "red"}
    assert "toner-stop" in {one["id"] for one in found}


def test_compare_and_liquids(run: Any) -> None:
    """Names may be typed loosely; rows that do not differ can be left out."""
    code, out = run("compare", "liquid", "acetone", "ethyl alcohol")
    assert code == 0
    assert "56.1" in out
    assert "held, allowed" in out
    assert "held, allowed" not in run("compare", "liquid", "acetone", "ethyl alcohol", "--differ")[1]
    code, out = run("compare", "liquid", "acetone", "ethanol", "--json")
    assert [one["id"] for one in json.loads(out)["columns"]] == ["acetone", "ethanol"]
    code, out = run("liquids", "--family", "ketone", "--evaporation", "fast")
    assert code == 0
    assert out.startswith("acetone ")
    assert run("liquids", "--family", "ketone", "--hazard", "h350")[0] == 1
    assert json.loads(run("liquids", "--not-held", "--json")[1]) == []


# What rests on what


def test_sources_by_what_rests_on_them(studio: Studio) -> None:
    """The heaviest first, each with the kinds that name it; what nobody read can be had alone."""
    found = resting(studio)
    assert [one.entries for one in found] == sorted((one.entries for one in found), reverse=True)
    assert found[0].source.id == "common-practice"
    assert all(one.entries == sum(one.kinds.values()) for one in found)
    unread = resting(studio, unread=True)
    assert unread
    assert not any(one.source.seen for one in unread)
    assert len(unread) < len(found)


def test_what_depends_on_an_entry_and_what_to_read(studio: Studio) -> None:
    """Rankings, blends, cautions and reports of a liquid; texts with an address before those without."""
    found = depends(studio, "liquid", "acetone")
    assert found.lines[0].startswith("rankings: every one")
    assert any(line.startswith("cautions: ") for line in found.lines)
    assert any(line.startswith("reports: ") for line in found.lines)
    assert not any(line.startswith(("media: ", "adhesives: ")) for line in found.lines)
    addresses = [bool(one.url) for one in found.reading]
    assert addresses == sorted(addresses, reverse=True)
    assert {one.mark for one in found.unread} <= {"from memory", "common practice, no source", "read"}
    assert (
        depends(studio, "liquid", "hydrogen-peroxide-30")
        .lines[0]
        .endswith("no Hansen parameters are known here")
    )
    assert depends(studio, "source", "clp-annex-vi").lines[-1].startswith("liquids: ")


def test_sources_command(studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """Text and JSON; the entry's own command lists what depends on it."""
    root = ["--studio", str(studio.root)]
    assert main(["sources", *root, "--unread"]) == 0
    assert "0 of them read." in capsys.readouterr().out
    assert main(["sources", *root, "--json"]) == 0
    assert {"source", "entries", "kinds"} == set(json.loads(capsys.readouterr().out)[0])
    assert main(["show", *root, "liquid", "acetone", "--links"]) == 0
    out = capsys.readouterr().out
    assert "depends on it:" in out
    assert "to read:" in out
