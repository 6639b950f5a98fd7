"""What could hurt someone: each danger that an audit of the catalogue found missing, by name."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from kb.cli.main import main
from kb.desk.air.air import air
from kb.desk.air.inputs import hours_of, room_of, use_of
from kb.desk.choose.cautions import cautions
from kb.desk.liquids.blends import find_blends
from kb.desk.making.recipe import recipe
from kb.desk.materials.lookup import read
from kb.desk.materials.mixing import danger_words, pairs_met
from kb.desk.materials.physical import all_records
from kb.desk.materials.resolve import question
from kb.desk.materials.safety import SafetyNote, safety_note, sections
from kb.desk.studio import Studio
from kb.model.guidance import carries
from kb.model.liquid import labelled


def note(studio: Studio, *liquids: str) -> SafetyNote:
    """The safety note of equal parts."""
    return safety_note(studio, dict.fromkeys(liquids, 1 / len(liquids)))


def caution(studio: Studio, id: str, **about: str) -> str:
    """Severity, text and what to do instead, of one caution among those that speak of these things."""
    found = {one.id: f"{one.severity}: {one.text} {one.instead}" for one in cautions(studio, **about)}
    return found[id]


@pytest.fixture
def studio(untouched: Studio) -> Studio:
    """Nobody writes in it; who does makes one of their own."""
    return untouched


@pytest.mark.parametrize(
    ("liquid", "says"),
    [
        ("nitromethane", "2B"),
        ("dimethylformamide", "2A"),
        ("dichloromethane", "2A"),
        ("tetrachloroethylene", "2A"),
        ("ethylbenzene", "2B"),
        ("pyridine", "2B"),
        ("1-2-dichloroethane", "2B"),
    ],
)
def test_an_evaluation_of_cancer_is_on_the_note(studio: Studio, liquid: str, says: str) -> None:
    """Groups of IARC as the open library chemicals 1.5.2 tabulates them."""
    assert any(line.startswith("IARC") and f"group {says}:" in line for line in note(studio, liquid).cancer)


def test_every_note_speaks_of_cancer(studio: Studio) -> None:
    """Silence would read as harmless."""
    assert all(note(studio, one.id).cancer for one in all_records(studio))


def test_xylene_bears_what_suppliers_declare(studio: Studio) -> None:
    """H304 is not in the harmonised entry; the caution about aspiration must fire all the same."""
    assert any(line.startswith("H304") for line in note(studio, "xylene").statements)
    assert "lungs" in caution(studio, "aspiration", liquid="xylene")


def test_cyclohexanone_shows_harm_to_eyes_and_skin(studio: Studio) -> None:
    """Supplier's sheet: corneal injury, irritates skin."""
    said = " ".join(note(studio, "cyclohexanone").statements)
    assert "H318" in said
    assert "H315" in said


@pytest.mark.parametrize("liquid", ["dimethylformamide", "diacetone-alcohol", "octamethylcyclotetrasiloxane"])
def test_a_flash_point_up_to_60_c_brings_the_cautions_of_fire(studio: Studio, liquid: str) -> None:
    """Whatever its label says."""
    said = note(studio, liquid)
    assert any("flame" in sign for sign in said.pictograms)
    assert any("cabinet" in line for line in said.storage)
    assert caution(studio, "bath-flammable", liquid=liquid, method="bath")
    assert caution(studio, "dome-flammable", liquid=liquid, method="vapour-dome")


@pytest.mark.parametrize(
    ("liquid", "flash", "lower"),
    [
        ("n-pentane", "-49.4", None),
        ("butan-1-ol", "28.9", None),
        ("diacetone-alcohol", "51.7", None),
        ("n-hexane", "-23", None),
        ("isobutyl-acetate", None, "1.3"),
        ("cyclohexanone", None, "1.1"),
        ("butanone", None, "1.4"),
        ("dichloromethane", None, "12"),
    ],
)
def test_the_worst_printed_figure_is_on_the_note(
    studio: Studio, liquid: str, flash: str | None, lower: str | None
) -> None:
    """Of several lists the lowest flash point and the lowest lower limit."""
    (fire,) = note(studio, liquid).fire
    assert flash is None or f"flash point {flash} °C" in fire
    assert lower is None or f"explosive range {lower} to" in fire


def test_every_liquid_speaks_of_gloves_and_thin_nitrile_fails_with_methanol(studio: Studio) -> None:
    """A polymer, or that none is known here."""
    for one in all_records(studio):
        first = note(studio, one.id).gloves[0]
        assert first.startswith(("Named for it:", "No polymer is named here")), one.id
    assert any(
        line.startswith("Avoid:") and "nitrile, thin" in line for line in note(studio, "methanol").gloves
    )


@pytest.mark.parametrize("liquid", ["propan-2-ol", "butan-2-ol", "benzyl-alcohol", "mibk", "diethyl-ether"])
def test_peroxide_formers_are_dated(studio: Studio, liquid: str) -> None:
    """List of a university."""
    assert any("date of opening" in line for line in note(studio, liquid).storage)


@pytest.mark.parametrize("liquid", ["acetone", "chloroform"])
def test_acetone_with_chloroform_warns_from_either_side(studio: Studio, liquid: str) -> None:
    """Whichever bottle is in hand; together it is the first line."""
    assert any(
        "Chloroform and acetone" in line and "alkali" in line for line in note(studio, liquid).incompatible
    )
    both = note(studio, "acetone", "chloroform").handling
    assert both[0].startswith("STOP, both are in this blend: Chloroform and acetone")


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("acetone", "hydrogen-peroxide-30"),
        ("butanone", "hydrogen-peroxide-30"),
        ("nitromethane", "aqueous-ammonia-25"),
        # Of alcohols it was said beside the bottle, and not where both were in one vessel.
        *((one, "hydrogen-peroxide-30") for one in ("ethanol", "diethyl-ether", "nitromethane")),
        *((one, "hydrogen-peroxide-30") for one in ("n-heptane", "toluene", "pyridine", "d-limonene")),
    ],
)
def test_a_solution_on_the_shelf_meets_what_must_not_meet_it(studio: Studio, one: str, other: str) -> None:
    """Acetone with peroxide was told to "shake a little in a tube first"."""
    title, lines = sections(note(studio, one, other))[0]
    assert title == "Not together"
    assert lines[0].startswith("STOP, both are in this blend")
    assert not any("shake" in line for line in note(studio, one, other).handling)


def test_hexane_with_butanone_warns_of_the_nerves(new_studio: Callable[[str], Studio]) -> None:
    """In the note of the blend, of either part, and where a blend is proposed."""
    studio = new_studio("own")
    assert note(studio, "n-hexane", "butanone").handling[0].startswith("WARNING, both are in this blend")
    for liquid in ("n-hexane", "butanone"):
        assert any("nerves" in line for line in note(studio, liquid).incompatible)
    studio.shelf_file.write_text("holds: [n-hexane, butanone]\n", encoding="utf-8")
    studio.refresh()
    asked = question(studio, adhesive="natural-rubber", stage="oily", medium="graphite")
    blends = [
        one for one in find_blends(studio, asked).blends if set(one.parts_pct) == {"n-hexane", "butanone"}
    ]
    assert blends
    assert all("nerves" in one.mixing for one in blends)


def test_what_must_not_meet_is_proposed_in_no_blend(
    new_studio: Callable[[str], Studio], capsys: pytest.CaptureFixture[str]
) -> None:
    """Nitromethane with pyridine led the list where both were held, with STOP in its last line."""
    studio = new_studio("own")
    studio.shelf_file.write_text("holds: [nitromethane, pyridine, chloroform, acetone]\n", encoding="utf-8")
    studio.refresh()
    for adhesive in ("natural-rubber", "acrylic"):
        found = find_blends(studio, question(studio, adhesive=adhesive, medium="toner"), limit=30)
        assert not [one.name for one in found.blends if "STOP" in one.mixing]
        assert {pair.names: pair.why for pair in found.parted}["Nitromethane", "Pyridine"].startswith(
            "STOP: "
        )
    words = ["--adhesive", "acrylic", "--medium", "toner", "--studio", str(studio.root)]
    assert main(["blend", *words]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "Not combined: Nitromethane with Pyridine. STOP: An amine such as pyridine" in said


def test_dimethylformamide_in_an_open_dish_is_stopped_by_its_label(studio: Studio) -> None:
    """What is breathed comes with what it does to the unborn child."""
    parts = {"dimethylformamide": 1.0}
    answer = air(
        studio,
        parts,
        use_of(studio, parts, amount="20 ml", area="100 cm2", how="dish"),
        room_of(room="60 m3", air_changes="2"),
        hours_of("4"),
    )
    assert any("H360" in line and "no figure here makes it fit" in line for line in answer.notes)
    assert any("unborn" in line for line in note(studio, "dimethylformamide").people)


def test_nitromethane_says_cancer_and_explosion(studio: Studio) -> None:
    """Both on one note."""
    said = " ".join(line for _, lines in sections(note(studio, "nitromethane")) for line in lines)
    assert "IARC" in said
    assert "explode" in said


@pytest.mark.parametrize("liquid", ["acetone", "methyl-acetate", "n-pentane", "diethyl-ether", "chloroform"])
def test_what_boils_low_needs_another_filter(studio: Studio, liquid: str) -> None:
    """An ordinary filter lets it through."""
    assert any("low-boiling" in line for line in note(studio, liquid).breathing)


def test_every_note_has_first_aid_and_spill(studio: Studio) -> None:
    """For every liquid with a hazard on its label."""
    for one in all_records(studio):
        if labelled(one):
            said = note(studio, one.id)
            assert said.first_aid, one.id
            assert said.spill, one.id


def test_peroxide_waste_vents(studio: Studio) -> None:
    """A tight can bursts."""
    assert any("vents" in line for line in note(studio, "hydrogen-peroxide-30").waste)


@pytest.mark.parametrize(
    ("made", "word"),
    [
        ("aged-paste", "asthma"),
        ("acrylic-blend-tissue", "never both"),
        ("gellan-soft-gel", "extraction"),
        ("calcium-phytate", "goggles"),
        ("amylase-poultice", "asthma"),
        ("magnesium-bicarbonate-soda", "pressure"),
        ("limewater-stock", "cost the sight"),
    ],
)
def test_a_recipe_says_what_can_hurt(studio: Studio, made: str, word: str) -> None:
    """Among its hazards or cautions, and there are hazards."""
    found = recipe(studio, made).recipe
    said = " ".join((*found.hazards, *(one.text for one in found.cautions)))
    assert found.hazards
    assert word.casefold() in said.casefold()


def test_cautions_about_the_object_and_the_tools(studio: Studio) -> None:
    """Mould, poisonous pigments, nitrate film, heat after solvent, blades."""
    assert "asthma" in caution(studio, "mould-dust", method="dry-eraser")
    assert "wakes" in caution(studio, "mould-damp", method="humidification-chamber")
    assert "cancer" in caution(studio, "arsenic-on-the-sheet", medium="arsenic-pigment")
    assert "unborn" in caution(studio, "lead-on-the-sheet", medium="lead-pigment")
    assert "fire" in caution(studio, "nitrate-film-fire", carrier="cellulose-nitrate-film")
    heated = caution(studio, "nitrate-film-heat", carrier="cellulose-nitrate-film", method="heated-spatula")
    assert heated.startswith("stop")
    wet = caution(studio, "heat-with-solvent", liquid="acetone", method="heated-spatula")
    assert wet.startswith("stop")
    assert "sharps" in caution(studio, "blade", method="scalpel-scraping")
    assert "allergic" in caution(studio, "rosin-residue", adhesive="natural-rubber-resin", method="swab")


def test_whatever_burns_must_not_meet_strong_peroxide(studio: Studio) -> None:
    """Every liquid labelled flammable (H224 to H226), by its flash point too: of the carbonates nothing was
    said, nor of 1,2-dichloroethane and a siloxane."""
    liquids = {one.id: one for one in all_records(studio)}
    burning = [
        one
        for one in liquids.values()
        if any(carries(code, labelled(one)) for code in ("H224", "H225", "H226"))
    ]
    assert len(burning) > 30
    assert {"1-2-dichloroethane", "octamethylcyclotetrasiloxane"} <= {one.id for one in burning}
    for one in burning:
        met = pairs_met(studio, [one, liquids["hydrogen-peroxide-30"]])
        assert "stop" in {pair.severity for pair in met}, one.name


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("dimethyl-sulfoxide", "hydrogen-peroxide-30"),
        ("n-methyl-2-pyrrolidone", "hydrogen-peroxide-30"),
        ("aqueous-ammonia-25", "hydrogen-peroxide-30"),
        ("aqueous-ammonia-25", "dichloromethane"),
        ("aqueous-ammonia-25", "chloroform"),
        ("aqueous-ammonia-25", "trichloroethylene"),
        ("aqueous-ammonia-25", "1-2-dichloroethane"),
        ("dimethylformamide", "chloroform"),
        ("petroleum-ether", "butanone"),
    ],
)
def test_what_reacts_slowly_or_hurts_together_is_warned_of(studio: Studio, one: str, other: str) -> None:
    """Of none of these pairs a word was said."""
    said = danger_words(studio, {one: 0.5, other: 0.5})
    assert [words.split(",")[0] for words in said] == ["WARNING"]


@pytest.mark.parametrize("method", ["heated-spatula", "hot-air", "laser"])
def test_heat_is_barred_with_what_it_makes_poison_of_and_on_nitrate(studio: Studio, method: str) -> None:
    """Phosgene stood in a warning alone, and of the nitrate in a picture of collodion was said nothing."""
    poison = caution(studio, "heat-with-chlorinated", liquid="dichloromethane", method=method)
    assert poison.startswith("stop: Heat and ultraviolet make phosgene")
    for medium in ("collodion-print", "wet-collodion-plate"):
        assert caution(studio, "collodion-heat", medium=medium, method=method).startswith("stop")


@pytest.mark.parametrize(
    ("made", "word"),
    [
        ("old-hypochlorite", "nor with ammonia"),
        ("old-peroxide-bleach", "acetone"),
        ("old-chlorine-dioxide", "acid: it frees chlorine dioxide"),
    ],
)
def test_what_hurts_the_reader_of_an_old_record_stands_first(studio: Studio, made: str, word: str) -> None:
    """Before what harms the sheet; of the gas and the explosion was read last."""
    first = recipe(studio, made).recipe.cautions[0].text
    assert first.startswith("Never with ")
    assert word in first


def test_bleach_is_kept_from_solvents(studio: Studio) -> None:
    """Acid, ammonia and peroxide were named, acetone and alcohols were not."""
    second = recipe(studio, "old-hypochlorite").recipe.cautions[1].text
    assert "acetone, an alcohol" in second


BLEND = ["--blend", "ethanol 50, hydrogen-peroxide-30 50"]
BATH, LYE = ["bath", "--reagent", "calcium-hydroxide", "--volume"], "! Fresh, this is a lye"
USE = ["--amount", "2ml", "--room", "60m3", "--hours", "1", "--air-changes", "2"]


@pytest.mark.parametrize(
    "words",
    [
        # Its drying cannot be worked out, and nothing was said of the danger.
        ["dry", *BLEND],
        ["dry", "--blend", "acetone 50, chloroform 50"],
        ["air", "--blend", "acetone 50, chloroform 50", *USE],
    ],
)
def test_what_warns_comes_first(studio: Studio, words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """Behind a table, or a list of liquids, it was read last."""
    main([*words, "--studio", str(studio.root)])
    said = capsys.readouterr().out
    assert said.startswith("! STOP, both are in this blend: ")
    assert said.count("both are in this blend") == 1


@pytest.mark.parametrize(
    ("words", "danger", "done"),
    [
        (["recipe", "limewater-stock"], "mind: The powder burns eyes", "calcium hydroxide\n"),
        (["recipe", "old-hypochlorite"], "mind: Never with acid", "store: "),
        ([*BATH, "5 L", "--target-ph", "8", "--air", "open", "--temperature", "18 C"], LYE, "weigh: "),
    ],
)
def test_what_burns_is_told_before_it_is_weighed(
    studio: Studio, words: list[str], danger: str, done: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """It stood behind all steps and figures."""
    assert main([*words, "--studio", str(studio.root)]) == 0
    said = capsys.readouterr().out
    assert 0 < said.find(danger) < said.find(done)


def test_what_a_sheet_asks_for_comes_before_the_list(
    studio: Studio, capsys: pytest.CaptureFixture[str]
) -> None:
    """That a photograph wants its own conservator was read behind all liquids."""
    main(["choose", "tape on a silver gelatin print", "--studio", str(studio.root)])
    said = capsys.readouterr().out
    assert 0 < said.find("! This sheet: A photograph needs") < said.find("release ")


def test_a_blend_that_must_not_be_is_told_when_its_test_is_stored(
    new_studio: Callable[[str], Studio], capsys: pytest.CaptureFixture[str]
) -> None:
    """It was stored without a word."""
    tape = ["--adhesive", "acrylic", "--carrier", "none", "--medium", "letterpress", "--method", "swab"]
    seen = ["--release", "1", "--harm", "bleed=0", "--studio", str(new_studio("own").root)]
    assert main(["test", "add", *tape, *BLEND, *seen]) == 0
    assert "STOP, both are in this blend: Alcohols" in capsys.readouterr().err


def test_a_lamp_asks_for_goggles(studio: Studio) -> None:
    """The practice that stands with the cautions, and the look that is taken under an ultraviolet lamp."""
    (lamp,) = (one for one in read(studio, "practice", "lamp-eyes").lines if "goggles" in one.value)
    assert "never look into it" in lamp.value
    (how,) = (one for one in read(studio, "look", "uv").lines if "goggles" in one.value)
    assert "UV" in how.value


def test_nothing_flammable_is_proposed_for_a_hot_tool(studio: Studio) -> None:
    """The veto of heat on solvent reaches the ranking."""
    from kb.desk.choose.choose import choose

    asked = question(studio, adhesive="wax-mount", stage="", medium="graphite", method="heated-spatula")
    suggested = {row.liquid for row in choose(studio, asked).suggestions}
    flammable = {
        one.id for one in all_records(studio) if {"H224", "H225", "H226"} & {c[:4] for c in labelled(one)}
    }
    assert not suggested & flammable
