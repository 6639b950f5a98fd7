"""Recipes in the amount that is wanted, and the ticks of their steps."""

from __future__ import annotations

import json
import math
from datetime import UTC, datetime
from typing import Any

import pytest

from kb.cli.main import main
from kb.desk.errors import DeskError, Unclear
from kb.desk.making.recipe import (
    Made,
    make,
    recipe,
    recipe_id,
    recipes,
    steps_state,
    words,
    work,
)
from kb.desk.making.steps import start_over, tick, untick
from kb.desk.materials.lookup import find, read
from kb.desk.studio import Studio
from kb.science.making import in_unit

HOT = "wheat-paste-hot-plate"


def amounts(made: Made) -> dict[str, float]:
    """Middle amount of each ingredient that has one."""
    return {part.name: (part.low + (part.high or 0)) / 2 for part in made.parts if part.low is not None}


# How much


def test_by_yield_by_weight(studio: Studio) -> None:
    """440 g are written, 220 g are half of everything."""
    made = make(studio, HOT, "220 g")
    assert made.factor == pytest.approx(0.5)
    assert amounts(made) == {"wheat starch": pytest.approx(28.5), "deionised water": pytest.approx(200)}
    assert made.makes == pytest.approx(220)


def test_by_yield_by_volume_takes_a_density_and_says_so(studio: Studio) -> None:
    """120 ml of paste at 1.04 g/ml are 124.8 g; a density that is given goes before it."""
    made = make(studio, HOT, "120 ml")
    assert made.makes == pytest.approx(124.8)
    assert any("1.04 g/ml" in note and "from memory" in note for note in made.notes)
    given = make(studio, HOT, "120 ml", density_g_ml=1.1)
    assert given.makes == pytest.approx(132)
    assert any("as given" in note for note in given.notes)


def test_a_missing_density_is_named(studio: Studio) -> None:
    """A gel in ethanol has none: grams of it are refused in a sentence that says what to give."""
    with pytest.raises(DeskError, match=r"density of the mix is missing.*give the density in g/ml"):
        make(studio, "hpc-solvent-gel", "100 g")
    assert make(studio, "hpc-solvent-gel", "100 g", density_g_ml=1.0).factor == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("recipe_id", "by"),
    [
        ("agarose-gel", "100 ml"),
        ("gelatin-size", "100 ml"),
        ("gelatin-mend", "100 ml"),
        ("isinglass", "100 ml"),
        ("methyl-cellulose-2", "100 g"),
        ("xanthan-gel", "100 g"),
    ],
)
def test_water_with_little_in_it_is_as_dense_as_water(studio: Studio, recipe_id: str, by: str) -> None:
    """Nine recipes refused it. What is taken is said, and whose word it is."""
    made = make(studio, recipe_id, by)
    assert made.makes == pytest.approx(100)
    assert any("taken as that of water, 1 g/ml ~ this project's own choice" in one for one in made.notes)


def test_by_what_is_at_hand(studio: Studio) -> None:
    """20 g of starch decide; a litre of water does, by its name or part of it."""
    made = make(studio, HOT, "wheat starch 20 g")
    assert amounts(made)["wheat starch"] == pytest.approx(20)
    assert amounts(made)["deionised water"] == pytest.approx(20 / 57 * 400)
    assert make(studio, HOT, "water 0,2 l").factor == pytest.approx(0.5)
    assert make(studio, HOT, "water 199.62 g").factor == pytest.approx(0.5)


def test_by_times(studio: Studio) -> None:
    """Parts stay parts where no amount is named."""
    made = make(studio, "rice-paste", "x 3")
    assert [(part.low, part.unit) for part in made.parts] == [(3, "part"), (15, "part")]
    assert make(studio, "rice-paste", "2.5 times").factor == 2.5


def test_parts_become_grams_or_millilitres_by_their_basis(studio: Studio) -> None:
    """One to five by weight in 600 g is 100 g and 500 g; one to two by volume in 90 ml is 30 and 60 ml."""
    made = make(studio, "rice-paste", "600 g")
    assert [(part.words, part.unit) for part in made.parts] == [("100 g", "g"), ("500 g", "g")]
    made = make(studio, "paste-and-gel-one-to-two", "90 ml")
    assert [part.words for part in made.parts] == ["30 ml", "60 ml"]


def test_parts_of_an_unknown_kind_say_how_they_are_read(studio: Studio) -> None:
    """The source does not say by weight or volume; the answer does say what was taken."""
    made = make(studio, "wheat-paste-one-to-five", "120 g")
    assert amounts(made)["wheat starch"] == pytest.approx(20)
    assert any("taken by weight here" in note for note in made.notes)


def test_dry_powder_by_volume_is_what_it_is(studio: Studio) -> None:
    """Spoonfuls scale by volume; their weight is a range from memory and is refused as a starting point."""
    made = make(studio, "wheat-paste-microwave", "starch 30 ml")
    assert [part.words for part in made.parts] == ["30 ml", "150 ml"]
    assert made.total is None
    assert all(part.share is None for part in made.parts)
    with pytest.raises(DeskError, match="packing"):
        make(studio, "wheat-paste-microwave", "starch 10 g")
    with pytest.raises(DeskError, match="density of the mix is missing"):
        make(studio, "wheat-paste-microwave", "100 ml")
    assert any(
        "8 to 10 g (from memory)" in note for note in make(studio, "wheat-paste-microwave", "100 g").notes
    )


def test_only_what_is_cooked_is_told_to_boil_off(studio: Studio) -> None:
    """An emulsion and a poultice with an enzyme, which heat would kill, were told that water boils off."""
    boils = "before water boils off"
    assert any(boils in note for note in make(studio, "agarose-gel", "100 g").notes)
    for cold in ("oil-in-water-microemulsion", "amylase-poultice", "polyoxazoline-tissue"):
        notes = make(studio, cold, "100 g").notes
        assert "what is put together" in notes
        assert not any(boils in note for note in notes)


def test_a_mix_of_measured_liquids_is_made_by_millilitres(studio: Studio) -> None:
    """By hand: 300 ml of gel in half alcohol take 6.1 g and 153 ml of each; 150 ml of 0.99 g/ml, 148.5 g."""
    half = make(studio, "hydroxypropyl-cellulose-half-ethanol", "300 ml")
    assert amounts(half) == pytest.approx(
        {"hydroxypropyl cellulose": 6.12, "ethanol": 153.1, "cold water": 153.1}, rel=0.001
    )
    assert sum(amounts(make(studio, "oil-in-water-microemulsion", "150 ml")).values()) == pytest.approx(148.5)


def test_by_area_and_by_mends(studio: Studio) -> None:
    """100 um over a square metre are 100 ml; twelve strips of 60 by 8 mm are 57.6 cm2."""
    name = "remoistenable-tissue"
    assert amounts(make(studio, name, "0.5 m2"))["thin Asian paper"] == pytest.approx(0.5)
    mix = "paste and methyl cellulose one to two"
    assert amounts(make(studio, name, "12 mends of 60 x 8 mm"))[mix] == pytest.approx(0.576)
    for typed in ("12 strips 6 x 0.8 cm", "12 strips 60 mm x 0.8 cm", "12 mends of 6 cm by 8 mm"):
        assert amounts(make(studio, name, typed))[mix] == pytest.approx(0.576), "each side in its own unit"
    with pytest.raises(DeskError, match=r"can be read as 1200 or as 1\.200"):
        make(studio, name, "12 mends of 1,200 x 8 mm")
    with pytest.raises(DeskError, match="no coverage"):
        make(studio, HOT, "300 cm2")
    film = make(studio, HOT, "1 m2", wet_film_um=104)
    assert film.makes == pytest.approx(104 * 1.04)


@pytest.mark.parametrize(
    ("by", "said"),
    [
        ("0 g", "above zero"),
        ("x 0", "above zero"),
        ("-3 g", "below zero|not an amount"),
        ("1,000 g", "can be read as"),
        ("3 h", "amount of time"),
        ("lots", "not an amount"),
        ("7 fl oz", "fluid ounce"),
        ("", ""),
    ],
)
def test_what_is_no_amount_is_refused(studio: Studio, by: str, said: str) -> None:
    """In a sentence; nothing at all gives the recipe as written."""
    if not said:
        assert make(studio, HOT, by).factor == 1.0
        return
    with pytest.raises(DeskError, match=said):
        make(studio, HOT, by)


def test_an_unclear_ingredient_lists_what_there_is(studio: Studio) -> None:
    """A word that fits none, and the volume that is made up to, are no ingredient at hand."""
    with pytest.raises(Unclear) as caught:
        make(studio, HOT, "flour 3 g")
    assert [one.id for one in caught.value.choices] == ["wheat starch", "deionised water"]
    with pytest.raises(DeskError, match="made up to"):
        make(studio, "methyl-cellulose-2", "water 50 ml")
    with pytest.raises(DeskError, match="guide to read"):
        make(studio, "paste-consistencies", "10 g")


# Sums


def every_recipe(studio: Studio) -> list[str]:
    """Ids of all recipes that can be made up."""
    return [one.id for one in recipes(studio) if recipe(studio, one.id).recipe.ingredients]


@pytest.mark.slow
@pytest.mark.parametrize("times", ["0.1", "1", "10"])
def test_every_shipped_recipe_closes_at_a_tenth_and_ten_times(studio: Studio, times: str) -> None:
    """Amounts, yield and total scale together; shares stay; w/w and v/v shares come to 100."""
    factor, closed = float(times), 0
    for name in every_recipe(studio):
        base, made = make(studio, name), make(studio, name, f"x {times}")
        for one, other in zip(base.parts, made.parts, strict=True):
            assert other.share == (None if one.share is None else pytest.approx(one.share, rel=1e-12)), name
            if one.low is not None and one.high is not None:
                assert (other.low, other.high) == pytest.approx((one.low * factor, one.high * factor)), name
        if base.makes is not None:
            assert made.makes == pytest.approx(base.makes * factor), name
        closed += _closes(made)
    assert closed >= 25


def _closes(made: Made) -> bool:
    """Whether there is a sum to close, which then must."""
    bases = {part.share_basis for part in made.parts} - {""}
    if made.total is not None and made.total_unit == "g":
        weights = [part.grams for part in made.parts if part.grams is not None]
        assert math.fsum(weights) == pytest.approx(made.total, rel=1e-12), made.id
    if bases & {"w/w", "v/v"}:
        assert math.fsum(part.share or 0 for part in made.parts) == pytest.approx(100, rel=1e-12), made.id
    if "w/v" in bases:
        whole = next(part for part in made.parts if part.whole)
        volume_ml = in_unit(whole.low or 0, whole.unit, "mL")
        for part in made.parts:
            if part.share is not None:
                assert part.share * volume_ml / 100 == pytest.approx(part.grams, rel=1e-12), made.id
    return bool(bases) or made.total is not None


def test_bases_are_kept_apart(studio: Studio) -> None:
    """57 g in 400 ml are 12.5 % w/w of the whole; 2 g made up to 100 ml are 2 % w/v and have no w/w."""
    paste = make(studio, HOT, "100 g")
    assert {part.share_basis for part in paste.parts} == {"w/w"}
    assert paste.parts[0].share == pytest.approx(12.49, abs=0.01)
    gel = make(studio, "methyl-cellulose-2", "250 ml")
    assert [(part.share, part.share_basis, part.whole) for part in gel.parts] == [
        (pytest.approx(2.0), "w/v", False),
        (None, "", True),
    ]
    assert gel.total is None


def test_amounts_are_read_off_in_handy_units() -> None:
    """A range keeps one unit; counts keep their word."""
    assert words(0.22, 0.44, "g") == "220 to 440 mg"
    assert words(1500, 1500, "ml") == "1.5 l"
    assert words(2, 2, "bath") == "2 baths"
    assert words(1, 1, "part") == "1 part"
    assert words(0.00576, 0.00576, "m2") == "57.6 cm2"
    assert words(0.5, 0.5, "m2") == "0.5 m2"
    assert words(None, None, "g") == ""


def test_an_answer_carries_version_and_sources(studio: Studio) -> None:
    """The version is that of the entry, and every source of every step is listed once."""
    made = make(studio, HOT)
    assert made.version == recipe(studio, HOT).version
    cited = [one.id for one in made.sources]
    assert {"bpg-adhesive-recipes", "memory", "common-practice"} <= set(cited)
    assert len(set(cited)) == len(cited)


def test_recipes_are_found_by_name_and_read_as_entries(studio: Studio) -> None:
    """By another name, by a misspelt one, and with the sources on the page."""
    assert recipe_id(studio, "furunori") == "aged-paste"
    assert any(one.id == "isinglass" for one in find(studio, "isingglas", ("recipe",)))
    assert "rylands18" in {one.id for one in read(studio, "recipe", "isinglass").sources}
    assert {one.category for one in recipes(studio, "rigid gel")} == {"rigid gel"}
    with pytest.raises(DeskError, match="no recipe"):
        recipe(studio, "no-such-thing")


# Ticks


def test_ticks_survive_a_restart(studio: Studio) -> None:
    """Another program on the same folder finds them, with their time and the amount."""
    now = datetime(2026, 6, 15, 9, 30, tzinfo=UTC)
    tick(studio, work(studio, HOT), 1, by="120 ml", now=now)
    tick(studio, work(studio, HOT), 2, now=now)
    studio.close()
    state = steps_state(Studio(studio.root), HOT)
    assert state.ticked == {1: "2026-06-15T09:30:00+00:00", 2: "2026-06-15T09:30:00+00:00"}
    assert (state.next, state.by, state.changed, state.problem) == (3, "120 ml", False, "")
    assert [path.name for path in (studio.root / "working").iterdir()] == [f"recipe-{HOT}.json"]


def test_ticks_are_taken_back(studio: Studio) -> None:
    """One of them, or all; a tick is kept with its first time."""
    first = tick(studio, work(studio, HOT), 1, now=datetime(2026, 6, 15, tzinfo=UTC))
    assert tick(studio, work(studio, HOT), 1, now=datetime(2026, 6, 16, tzinfo=UTC)).ticked == first.ticked
    assert untick(studio, work(studio, HOT), 1).ticked == {}
    for step in range(1, 5):
        state = tick(studio, work(studio, HOT), step)
    assert state.next == 0
    assert start_over(studio, work(studio, HOT)).ticked == {}


def test_reading_the_state_writes_nothing(studio: Studio) -> None:
    """And a step that is not there is refused before anything is written."""
    assert steps_state(studio, HOT).next == 1
    for step in (0, 5):
        with pytest.raises(DeskError, match="4 steps"):
            tick(studio, work(studio, HOT), step)
    assert not (studio.root / "working").exists()


@pytest.mark.parametrize(
    "damage", [b"", b"{", b'{"recipe": 3}', b"\xff\xfe", b'{"recipe":"isinglass","version":"x"}']
)
def test_a_damaged_file_counts_as_none_and_is_replaced(studio: Studio, damage: bytes) -> None:
    """What cannot be read is told; the next tick writes the file anew."""
    tick(studio, work(studio, HOT), 1)
    path = studio.root / "working" / f"recipe-{HOT}.json"
    path.write_bytes(damage)
    state = steps_state(studio, HOT)
    assert state.ticked == {}
    assert bool(state.problem) == (b"isinglass" not in damage)
    assert tick(studio, work(studio, HOT), 2).ticked.keys() == {2}


def test_a_recipe_that_changed_since_the_first_tick_is_told(studio: Studio) -> None:
    """Ticks stay; the reader is told that the text is another."""
    tick(studio, work(studio, HOT), 1)
    path = studio.root / "working" / f"recipe-{HOT}.json"
    kept = json.loads(path.read_text())
    path.write_text(json.dumps({**kept, "version": "000000000000"}))
    state = steps_state(studio, HOT)
    assert state.changed
    assert state.ticked.keys() == {1}
    assert not start_over(studio, work(studio, HOT)).changed


# The command


def run(studio: Studio, capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    """Exit code, standard output and standard error of a command on the studio."""
    studio.close()
    code = main([*words[:1], "--studio", str(studio.root), *words[1:]])
    out = capsys.readouterr()
    return code, out.out, out.err


def test_command_makes_lists_and_ticks(studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """Text and JSON; every recipe is listed."""
    code, out, _ = run(studio, capsys, "recipe", "wheat", "starch", "paste", "--make", "120 ml")
    assert code == 0
    assert "makes 125 g" in out
    code, out, _ = run(studio, capsys, "recipe", HOT, "--have", "wheat starch 20 g", "--json")
    made: dict[str, Any] = json.loads(out)
    assert made["parts"][0]["low"] == pytest.approx(20)
    code, out, _ = run(studio, capsys, "recipe", "--list", "--json")
    assert len(json.loads(out)) >= 25
    code, out, _ = run(studio, capsys, "recipe", HOT, "--tick", "1", "--make", "120 ml")
    assert (code, "[x] 1." in out, "120 ml" in out) == (0, True, True)
    code, out, _ = run(studio, capsys, "recipe", HOT, "--steps", "--json")
    assert json.loads(out)["next"] == 2
    code, out, _ = run(
        studio, capsys, "recipe", "remoistenable-tissue", "--mends", "12 x 60 x 8 mm", "--json"
    )
    assert json.loads(out)["makes"] == pytest.approx(0.00576)
    assert run(studio, capsys, "recipe", "paste-consistencies")[0] == 0


def test_command_exit_codes(studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """1 for what nothing is called, 3 for what cannot be done, each with one sentence."""
    code, _, err = run(studio, capsys, "recipe", "qqqqqq")
    assert (code, "nothing by that name" in err) == (1, True)
    code, _, err = run(studio, capsys, "recipe", "hpc-solvent-gel", "--make", "100 g")
    assert (code, "density" in err) == (3, True)
    code, _, err = run(studio, capsys, "recipe", HOT, "--have", "flour 3 g")
    assert (code, "nothing by that name" in err) == (1, True)
