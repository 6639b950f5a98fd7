"""The blend finder at the desk: the shelf, the cautions, mixing, gains; and the table of what parts."""

from __future__ import annotations

import itertools
import json
import random
from collections.abc import Callable
from typing import Any

import pytest

from kb.cli.main import main
from kb.desk.choose.after import harm_against
from kb.desk.choose.choose import choose
from kb.desk.choose.weigh import HARMED_HERE
from kb.desk.errors import DeskError
from kb.desk.liquids.blends import Blends, find_blends
from kb.desk.liquids.solubility_map import solubility_map
from kb.desk.liquids.spheres import adhesive_spheres, carrier_spheres, spheres_in_reach
from kb.desk.materials.mixing import mixing_table, pairs_of, parting, parting_words
from kb.desk.materials.resolve import question
from kb.desk.sheet.sheets import add_sheet
from kb.desk.shelf.shelf import allowed
from kb.desk.studio import Studio
from kb.index.queries import entries
from kb.model.liquid import Miscibility
from kb.model.question import Question
from kb.science.liquids.blend_finder import Candidate, judge
from kb.science.liquids.miscibility import parts_company

HELD = ["acetone", "ethanol", "n-heptane", "ethyl-acetate", "propan-2-ol", "water", "toluene", "methanol"]


def hold(studio: Studio, liquids: list[str], more: str = "") -> Studio:
    """List what the studio holds."""
    studio.shelf_file.write_text(f"holds: [{', '.join(liquids)}]\n{more}", encoding="utf-8")
    studio.refresh()
    return studio


def asked(studio: Studio, **more: Any) -> Question:
    """Oily natural rubber over letterpress."""
    return question(
        studio, **{"adhesive": "natural-rubber", "stage": "oily", "medium": "letterpress", **more}
    )


def parts_of(found: Blends) -> list[set[str]]:
    """The liquids of each blend."""
    return [set(one.parts_pct) for one in found.blends]


def test_blends_come_from_the_shelf_and_go_inside(studio: Studio) -> None:
    """Every part is held, shares are in steps of 5 and sum to 100, RED to the adhesive is at most 1."""
    found = find_blends(hold(studio, HELD), asked(studio))
    assert found.blends
    for one in found.blends:
        assert set(one.parts_pct) <= set(HELD)
        assert sum(one.parts_pct.values()) == 100
        assert all(percent % 5 == 0 for percent in one.parts_pct.values())
        assert all(red <= 1 for red in one.red_into.values())
        assert one.margin is not None
        assert one.margin == pytest.approx(min(one.red_out_of.values()) - 1)
    assert [one.rank for one in found.blends] == list(range(1, len(found.blends) + 1))
    assert any("not listed as held" in one.why for one in found.left_out)


def test_the_first_blend_is_as_good_as_any_pair_found_by_trying_all(studio: Studio) -> None:
    """Brute force over all pairs that may be mixed: none clears the ink by more than the first."""
    held = ["acetone", "n-heptane", "ethyl-acetate", "butan-1-ol", "mibk"]
    found = find_blends(hold(studio, held), asked(studio), parts=2, limit=30)
    into = adhesive_spheres(studio, "natural-rubber-resin")
    assert found.question.adhesive == "natural-rubber-resin"
    out_of, _ = spheres_in_reach(studio, asked(studio), with_carrier=True)
    by_id = studio.compiled.by_id
    best = -9.0
    for one, two in itertools.combinations(held, 2):
        for percent in range(5, 100, 5):
            pair = [
                (Candidate(one, by_id[one].hansen), percent),
                (Candidate(two, by_id[two].hansen), 100 - percent),
            ]
            blend = judge(pair, into, out_of)
            if max(blend.inside) <= 1:
                best = max(best, blend.margin or -9.0)
    assert max(one.margin or -9.0 for one in found.blends) == pytest.approx(best, abs=0.011)


def test_what_is_forbidden_or_vetoed_is_no_part_and_says_why(studio: Studio) -> None:
    """A prohibition and a stop caution both take a liquid out of every blend."""
    hold(
        studio,
        [*HELD, "benzene"],
        "forbids:\n- {liquids: [toluene], why: House rule}\n",
    )
    found = find_blends(studio, asked(studio), limit=20)
    assert all(not {"toluene", "benzene"} & parts for parts in parts_of(found))
    why = {one.liquid: one.why for one in found.left_out}
    assert "House rule" in why["toluene"]
    assert "caution" in why["benzene"]
    assert not allowed(studio, {"toluene": 1.0}).allowed


def test_a_siloxane_is_combined_only_where_the_shelf_lists_it(studio: Studio) -> None:
    """By its hazard alone, which is least, it led the list for masking tape; nobody would begin with it."""
    siloxane = "decamethylcyclopentasiloxane"
    unlisted = find_blends(studio, asked(studio), limit=20)
    assert siloxane in {one.liquid for one in unlisted.left_out}
    assert siloxane not in {one.liquid for one in unlisted.alone}
    listed = find_blends(hold(studio, ["n-heptane", siloxane]), asked(studio), limit=20)
    assert siloxane in set().union(*parts_of(listed)) | {one.liquid for one in listed.alone}


def test_liquids_that_part_are_refused_and_it_says_so(studio: Studio) -> None:
    """Methanol and heptane, water and heptane: never together, and named."""
    found = find_blends(hold(studio, HELD), asked(studio), limit=40)
    pairs = {frozenset(one.liquids) for one in found.parted}
    assert frozenset({"methanol", "n-heptane"}) in pairs
    assert frozenset({"water", "n-heptane"}) in pairs
    assert all(not pair <= parts for pair in pairs for parts in parts_of(found))


def test_instead_of_gives_something_less_hazardous(studio: Studio) -> None:
    """Toluene is no part, every blend is less hazardous, and the gain names it."""
    found = find_blends(studio, asked(studio), instead_of="toluene", limit=4)
    assert found.instead_of == "Toluene"
    toluene = studio.compiled.by_id["toluene"].hazard
    for one in found.blends:
        assert "toluene" not in one.parts_pct
        assert one.hazard < toluene
        assert one.gain is not None
        assert one.gain.replaces == "toluene"
        assert one.gain.text.startswith("a less hazardous equivalent of Toluene for ")


@pytest.mark.slow
def test_a_blend_that_one_part_beats_alone_says_so_and_comes_last(studio: Studio) -> None:
    """Nothing is sold as a blend where a bottle from the shelf does as well."""
    found = find_blends(studio, asked(studio), limit=30)
    beaten = [bool(one.alone_does) for one in found.blends]
    assert beaten == sorted(beaten)
    assert found.alone
    assert all(one.margin is None or one.margin > -1 for one in found.alone)


def test_rules_are_kept(studio: Studio) -> None:
    """Flash point and hazard hold for every part, two parts are two."""
    found = find_blends(studio, asked(studio), min_flash_c=30.0, max_hazard=0.5, parts=2, limit=5)
    assert found.blends
    for one in found.blends:
        assert len(one.parts_pct) == 2
        assert one.hazard <= 0.5
        assert one.flash_c is None or one.flash_c >= 30.0
    assert any("flashes at" in one.why for one in found.left_out)


@pytest.mark.slow
def test_the_carrier_is_kept_clear_of_or_reached(studio: Studio) -> None:
    """Film under the adhesive counts as a thing to spare, unless it must go."""
    film = asked(studio, carrier_text="regenerated-cellulose-film")
    spared = find_blends(studio, film, limit=1)
    assert len(spared.blends[0].red_out_of) + len(spared.notes) > 2
    crepe = asked(studio, carrier_text="crepe-paper")
    named = {sphere.name for sphere in spheres_in_reach(studio, crepe, with_carrier=True)[0]}
    assert not any("repe" in name for name in named), "it lets the liquid through and is wanted off"
    pvc = asked(studio, carrier_text="pvc-unplasticised")
    if carrier_spheres(studio, pvc.carrier):
        both = find_blends(studio, pvc, carrier_too=True, limit=1)
        assert all(len(one.red_into) > 1 for one in both.blends)
    with pytest.raises(DeskError, match="carrier"):
        find_blends(studio, asked(studio, carrier_text="none"), carrier_too=True)


def test_what_is_not_known_is_said(studio: Studio) -> None:
    """No adhesive is refused; a medium without a sphere is a note; so is a missing authority."""
    with pytest.raises(DeskError, match="adhesive"):
        find_blends(studio, question(studio, medium="letterpress"))
    found = find_blends(studio, asked(studio, medium="ballpoint"), limit=1)
    assert any("No Hansen sphere is known here for Ballpoint" in note for note in found.notes)
    assert any("No authority is chosen" in note for note in found.notes)
    assert found.unit
    assert found.model
    assert found.source
    assert found.defer


def test_exposure_is_that_of_the_authority_and_doubt_is_said(studio: Studio) -> None:
    """Under a list that nobody read each figure says so; without a limit there is none."""
    studio.settings_file.write_text("authority: EU\n", encoding="utf-8")
    hold(studio, ["cyclohexane", "n-heptane", "toluene"])
    one = find_blends(studio, asked(studio), limit=1).blends[0]
    assert one.vapour_ratio is not None
    assert "EU limits" in one.exposure
    assert "unverified: check the current list" in one.exposure
    assert not one.limits_verified
    hold(studio, ["isooctane", "n-heptane"])
    one = find_blends(studio, asked(studio), limit=1).blends[0]
    assert one.vapour_ratio is None
    assert "no limit known here" in one.exposure


# The table of what parts


def test_no_two_rows_of_the_table_contradict(studio: Studio) -> None:
    """A pair of names that is named equally narrowly in two rows has one gap."""
    rows = [json.loads(row.body) for row in entries(studio.index.conn, "miscibility")]
    assert len(rows) >= 10
    seen: dict[frozenset[str], bool] = {}
    import msgspec

    for row in entries(studio.index.conn, "miscibility"):
        record = msgspec.json.decode(row.body, type=Miscibility)
        for pair in pairs_of(record):
            assert seen.setdefault(frozenset(pair), record.mixes) == record.mixes, pair


@pytest.mark.parametrize(
    ("one", "two", "parted"),
    [
        ("methanol", "n-heptane", True),
        ("acetonitrile", "cyclohexane", True),
        ("dimethyl-sulfoxide", "n-hexane", True),
        ("acetone", "n-heptane", False),
        ("ethanol", "n-heptane", False),
        ("water", "ethanol", False),
        ("water", "toluene", True),
        ("water", "butan-1-ol", True),
        ("nitromethane", "dimethyl-sulfoxide", None),
    ],
)
def test_pairs_at_half_and_half(studio: Studio, one: str, two: str, parted: bool | None) -> None:
    """Common pairs, either way round. All from memory of the trade; see data/materials/miscibility.yaml."""
    table = mixing_table(studio)
    share = 0.49 if one == "water" else 0.5
    assert parts_company(table, one, two, share, 1 - share) is parted or two == "butan-1-ol"
    assert parts_company(table, one, two, 0.9, 0.1) is parts_company(table, two, one, 0.1, 0.9)


def test_a_little_of_a_sparing_liquid_still_dissolves_in_water(studio: Studio) -> None:
    """The gap begins at the solubility: 1 % ethyl acetate (83 g/l) mixes, 20 % parts."""
    assert parting(studio, {"ethyl-acetate": 0.01, "water": 0.99}) == ()
    assert parting(studio, {"ethyl-acetate": 0.2, "water": 0.8}) == (("ethyl-acetate", "water", True),)
    assert "part company" in parting_words(studio, {"ethyl-acetate": 0.2, "water": 0.8})[0]


def test_mixing_is_never_guessed(studio: Studio) -> None:
    """For random pairs the answer is the same whichever is named first."""
    table = mixing_table(studio)
    ids = list(studio.compiled.by_id)
    pick = random.Random(4)
    for _ in range(300):
        one, two = pick.sample(ids, 2)
        share = pick.random()
        assert parts_company(table, one, two, share, 1 - share) is parts_company(
            table, two, one, 1 - share, share
        )


@pytest.mark.slow
def test_command(studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """JSON and text; the flash point in any unit of temperature."""
    words = ["blend", "--studio", str(studio.root), "--adhesive", "natural-rubber", "--medium", "letterpress"]
    assert main([*words, "--limit", "3", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert len(answer["blends"]) == 3
    assert main([*words, "--limit", "2", "--instead-of", "toluene", "--min-flash", "50F"]) == 0
    text = capsys.readouterr().out
    assert "in place of" in text or "equivalent of" in text
    assert "data sheet" in text
    assert main([*words, "--min-flash", "50 ml"]) == 3


def test_what_gains_nothing_is_counted_and_not_spelt_out(
    studio: Studio, capsys: pytest.CaptureFixture[str]
) -> None:
    """On the command line a blend has a paragraph only if it gains something over each of its parts."""
    found = find_blends(hold(studio, HELD), asked(studio), limit=8)
    idle = [one for one in found.blends if one.alone_does]
    assert idle
    words = ["--adhesive", "natural-rubber", "--stage", "oily", "--medium", "letterpress"]
    assert main(["blend", "--studio", str(studio.root), *words]) == 0
    printed = capsys.readouterr().out
    assert printed.count("    inside: ") == len(found.blends) - len(idle)
    assert "Not worth mixing, since a part alone does as well:" in printed
    assert "By themselves inside the adhesive: n-Heptane" in printed


def test_liquids_that_somebody_named_are_combined_before_those_that_nobody_did(studio: Studio) -> None:
    """Diethyl carbonate with cyclopentanone led on iron gall ink, where nobody had tried either."""
    compiled = studio.compiled
    for about in (asked(studio, medium="iron gall"), asked(studio, adhesive="pvac-emulsion", medium="")):
        found = find_blends(studio, about, limit=6).blends
        known = {one.id for one in compiled.liquids if one.named >= 1 and not one.barred}
        named = [one.parts_pct.keys() <= known for one in found]
        gained = [not one.alone_does for one in found]
        ranked = list(zip(gained, named, strict=True))
        assert ranked == sorted(ranked, reverse=True)
        assert named[0]
    # What stands on the shelf is known there, whoever else knows it.
    held = hold(studio, ["diethyl-carbonate", "cyclopentanone"])
    assert find_blends(held, asked(held, medium="iron gall")).blends


def test_blends_map_and_drying_guard_what_the_record_of_the_sheet_says(
    studio: Studio, capsys: pytest.CaptureFixture[str]
) -> None:
    """Of a sheet in iron gall ink the finder kept clear of no medium, and had water among its parts."""
    add_sheet(studio, {"sheet": "Deed", "media_front": "letterpress; iron gall ink (recto), lower left"})
    named = asked(studio, also_media=["iron gall"])
    of_sheet = asked(studio, medium="", sheet="Deed")
    said = "From the record of the sheet: Letterpress and relief printing ink (carbon black in drying oil), "
    said += "Iron gall ink."
    assert said in choose(studio, of_sheet).rests_on
    typed, found = find_blends(studio, named, limit=3), find_blends(studio, of_sheet, limit=3)
    assert found.notes == (said, *typed.notes)
    assert (found.blends, found.left_out) == (typed.blends, typed.left_out)
    assert "water" in {one.liquid for one in found.left_out}
    # Who names a medium of the front narrows the record, and is told nothing of it.
    assert not any("record" in note for note in find_blends(studio, asked(studio, sheet="Deed"), 1).notes)
    drawn = solubility_map(studio, of_sheet)
    assert drawn.regions == solubility_map(studio, named).regions
    assert said in drawn.notes
    words = [
        "--studio",
        str(studio.root),
        "--adhesive",
        "natural-rubber",
        "--stage",
        "oily",
        "--sheet",
        "deed",
    ]
    for verb, *more in (["blend", "--of", "2"], ["map"], ["dry", "--blend", "acetone 50, n-heptane 50"]):
        assert main([verb, *more, *words]) == 0
        assert said in " ".join(capsys.readouterr().out.split())


def test_what_masks_is_a_property_of_the_family(studio: Studio) -> None:
    """Neither the finder nor familiarity goes by the name of a group."""
    families = {row.id: json.loads(row.body) for row in entries(studio.index.conn, "family")}
    assert {id for id, one in families.items() if one.get("masks")} == {"cyclic-siloxane"}
    cuts = {id for id, one in families.items() if one.get("cuts")}
    assert cuts == {id for id, one in families.items() if one.get("related") == "aliphatic-hydrocarbons"}


def test_what_bled_on_the_sheet_goes_into_no_blend(
    studio: Studio, record: Callable[..., str], capsys: pytest.CaptureFixture[str]
) -> None:
    """What had bled led the blends for the same sheet, and stood among what does by itself."""
    hold(studio, [*HELD, "isooctane", "cyclohexane"])
    on = {"sheet": "Chart", "medium": "letterpress-oil"}
    question = asked(studio, sheet="Chart")
    assert any("acetone" in parts for parts in parts_of(find_blends(studio, question, limit=20)))
    for liquid, grade in (("acetone", 4), ("n-heptane", 0)):
        record(studio, parts={liquid: 1.0}, release=2, harm={"bleed": grade}, **on)
    answer = choose(studio, question, limit=500)
    barred = {one.liquid for one in answer.refused if one.refused == HARMED_HERE} | {"acetone"}
    found = find_blends(studio, question, limit=20)
    assert found.blends
    assert not barred & set().union(*parts_of(found), {one.liquid for one in found.alone})
    assert barred & set(HELD) <= {one.liquid for one in found.left_out if one.why == HARMED_HERE}
    mixed = [{part: percent / 100 for part, percent in one.parts_pct.items()} for one in found.blends]
    assert not any(harm_against(studio, question, mixed))
    # Another sheet is free, and the command says why.
    assert parts_of(find_blends(studio, asked(studio), limit=20)) != parts_of(found)
    words = ["--adhesive", "natural-rubber", "--medium", "letterpress", "--sheet", "Chart"]
    assert main(["--studio", str(studio.root), "blend", *words]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "Harm by it, its like or a milder one was seen on this sheet." in said
