"""Entries of one's own: what is typed becomes YAML that the catalogue takes, and comments stay."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from kb.book.kinds.kind import plain_of
from kb.book.kinds.table import KINDS as RECORDS
from kb.cli.main import main
from kb.desk.errors import DeskError
from kb.desk.making.recipe import make, recipe
from kb.desk.materials.lookup import find, read
from kb.desk.materials.own import HEADER, KINDS, OWN_FILE, lines, own_entries, store, understood
from kb.desk.studio import Studio

THINNER = {
    "name": "Bench thinner",
    "also": "our thinner, blue can",
    "family": "ketone",
    "flash_point_c": "-4 to 12",
    "hansen": "15,5 8 6,2",
    "handling": "Keep it in the hood; smells long",
    "from": "the maker's sheet of May 2026",
}


def test_a_liquid_is_written_found_and_read_with_its_source(studio: Studio) -> None:
    """Ranges, parameters and sentences each carry what was read, which becomes a source of its own."""
    assert store(studio, "liquid", THINNER).id == "bench-thinner"
    assert find(studio, "blue can")[0].id == "bench-thinner"
    reading = read(studio, "liquid", "bench-thinner")
    assert reading.origin == "studio"
    shown = {line.label: (line.value, line.sources) for line in reading.lines}
    assert shown["flash point"][0].startswith("-4 to 12")
    assert shown["Hansen parameters"][0] == "dD 15.5, dP 8, dH 6.2 MPa^0.5"
    assert shown["flash point"][1] == ("own-the-makers-sheet-of-may-2026",)
    assert {one.cite for one in reading.sources} == {"the maker's sheet of May 2026"}
    assert ("liquid", "bench-thinner") in {(kind, id) for kind, id, _, _ in own_entries(studio)}


def test_comments_and_other_entries_stay(studio: Studio) -> None:
    """By hand, by form, and again by form: only the entry itself changes."""
    store(studio, "liquid", THINNER)
    file = studio.catalogue_dir / OWN_FILE
    by_hand = file.read_text().replace("- id: bench-thinner", "# from the blue can\n- id: bench-thinner")
    by_hand += "# the last line\n"
    file.write_text(by_hand)
    store(studio, "paper", {"name": "Our rag", "claims": "soft", "from": "common-practice"})
    store(studio, "liquid", {**THINNER, "flash_point_c": "10"})
    text = file.read_text()
    for comment in ("# from the blue can", "# the last line", "# Entries of this studio's own."):
        assert text.count(comment) == 1
    assert text.count("- id: bench-thinner") == 1
    assert "value: 10" in text
    assert {id for _, id, _, _ in own_entries(studio)} >= {"bench-thinner", "our-rag"}


def test_a_recipe_scales(studio: Studio) -> None:
    """Amounts are read from words; a liquid of the catalogue is linked."""
    typed = {
        "name": "Our paste",
        "category": "starch paste",
        "basis": "w/v added",
        "ingredients": "wheat starch 20 to 25,0 g; water 100 ml; a drop of patience",
        "steps": "cook; cool",
        "read": "read",
        "from": "common-practice",
    }
    store(studio, "recipe", typed)
    own = recipe(studio, "our-paste").recipe
    assert [(one.role, one.amount, one.amount_high, one.unit) for one in own.ingredients[:2]] == [
        ("solid", 20.0, 25.0, "g"),
        ("liquid", 100.0, None, "ml"),
    ]
    assert own.ingredients[1].liquid == "water"
    assert own.ingredients[2].until == "as needed"
    assert make(studio, "our-paste", "240 g").parts


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"flash_point_c": "12x"}, "flash_point_c"),
        ({"flash_point_c": "20 to 10"}, "reversed"),
        ({"family": ""}, "still empty: family"),
        ({"from": ""}, "still empty: from"),
        ({"colour": "blue"}, "colour: not known here"),
        ({"hansen": "15 8"}, "h"),
        ({"hansen": "15,000 8 6"}, "hansen"),
        (
            {"flash_point_c": "1,000"},
            '"1,000" can be read as 1000 or as 1.000; write it without a comma; due: a number',
        ),
        ({"flash_point_c": "nan"}, "flash_point_c"),
    ],
)
def test_what_is_wrong_is_said_as_it_is_typed(studio: Studio, changed: dict[str, str], said: str) -> None:
    """Nothing is written by the check, and nothing by storing what is wrong."""
    typed = {**THINNER, **changed}
    assert any(said in one for one in understood(studio, "liquid", typed).problems)
    with pytest.raises(DeskError, match="Not stored"):
        store(studio, "liquid", typed)
    assert not (studio.catalogue_dir / OWN_FILE).exists()


def test_figures_that_may_be_two_are_refused(studio: Studio) -> None:
    """Four numbers are not three, and a thousand grams is not none of another ingredient."""
    with pytest.raises(DeskError, match="is not three numbers"):
        understood(studio, "liquid", {**THINNER, "hansen": "15,5 8 6 2"})
    for typed in ("starch 1 000 g", "starch 1 000,5 g", "starch 1 000 to 1200 g", "starch 1 00 g"):
        with pytest.raises(DeskError, match=r"two ways|without a blank"):
            understood(studio, "recipe", {"name": "Our paste", "ingredients": typed})
    for typed in ("starch 20", "starch 20; water 100 ml", "alum 5 g/l"):
        with pytest.raises(DeskError, match="without a unit"):
            understood(studio, "recipe", {"name": "Our paste", "ingredients": typed})
    typed = "starch 10–20 g; alum: 1 000 to 1 200,5 g; size as needed"
    found = understood(studio, "recipe", {"name": "Our paste", "ingredients": typed}).body["ingredients"]
    assert [(one.get("amount"), one.get("amount_high")) for one in found] == [
        *((10, 20), (1000, 1200.5), (None, None))
    ]


@pytest.mark.parametrize(("kind", "key", "word"), [("adhesive", "group", "ruber"), ("medium", "kin", "oily")])
def test_what_lends_to_a_neighbour_is_named_as_the_neighbours_are(
    studio: Studio, kind: str, key: str, word: str
) -> None:
    """A slip of one letter had an own rubber learn from no rubber, without a word."""
    wrong = [one for one in understood(studio, kind, {"name": "Ours", key: word}).problems if key in one]
    assert wrong[0].startswith(f"{key}: '{word}' is that of no entry; one of ")
    right = wrong[0].rpartition(", ")[2]
    assert not any(right in one for one in understood(studio, kind, {"name": "Ours", key: right}).problems)


def test_what_only_the_whole_catalogue_shows_is_refused(studio: Studio) -> None:
    """A family that is not there; a name that a shipped liquid bears."""
    with pytest.raises(DeskError, match='did you mean "ketone"'):
        store(studio, "liquid", {**THINNER, "family": "keton"})
    with pytest.raises(DeskError, match="has Acetone already"):
        store(studio, "liquid", {**THINNER, "name": "Acetone"})


def test_every_kind_has_lines_and_a_source(studio: Studio) -> None:
    """Derived from the records, so a new field has its line at once."""
    for kind in KINDS:
        shown = {one.key: one for one in lines(kind)}
        assert shown["name"].needed
        assert shown["from"].needed
        assert all(one.due for one in shown.values())
        heads = {one.label for one in shown.values()}
        assert heads.isdisjoint({"PH", "Cas sources", "Also", "Shared names"}), "no words of the trade"
    declared = [first.says for kind in RECORDS.values() for first, *_ in plain_of(kind).values()]
    assert all(one.form for one in declared if one.label[1:2].isupper()), 'a form would head it "PH"'
    with pytest.raises(DeskError, match="no form"):
        lines("hazard")


def test_command(studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """Check, store, list; lines that are no lines."""
    root = ["--studio", str(studio.root)]
    add = ["own", "add", *root, "carrier", "Our film", "--set", "lets_liquid_through=film"]
    assert main([*add, "--check"]) == 0
    assert "! still empty: from" in capsys.readouterr().out
    assert main([*add, "--from", "memory", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["id"] == "our-film"
    assert main(["own", "list", *root]) == 0
    assert "carrier our-film: Our film" in capsys.readouterr().out
    assert main(["own", "lines", *root, "recipe"]) == 0
    assert "ingredients: " in capsys.readouterr().out
    assert main(["own", "add", *root, "liquid", "X", "--set", "nothing"]) == 3
    assert "write --set key=text" in capsys.readouterr().err


def test_what_is_there_is_replaced_only_when_asked(
    studio: Studio, capsys: pytest.CaptureFixture[str]
) -> None:
    """It was written over without a word, with all its lines; the screen asks twice."""
    root = ["--studio", str(studio.root), "--from", "memory"]
    add = ["own", "add", "carrier", "Our film", *root, "--set"]
    assert main([*add, "lets_liquid_through=film"]) == 0
    assert "in place of" not in capsys.readouterr().out
    assert main([*add, "lets_liquid_through=porous"]) == 3
    refused = "Our film is an entry of your own; --replace puts this in its place, a new name keeps both."
    assert f"Not stored: {refused}" in capsys.readouterr().err
    assert "film" in (studio.catalogue_dir / "own.yaml").read_text(encoding="utf-8")
    assert main([*add, "lets_liquid_through=porous", "--check"]) == 0
    assert refused in " ".join(capsys.readouterr().out.split())
    assert main([*add, "lets_liquid_through=porous", "--replace"]) == 0
    assert "carrier our-film, in place of Our film" in capsys.readouterr().out


def test_what_falls_away_with_the_entry_that_is_replaced_is_named(
    studio: Studio, capsys: pytest.CaptureFixture[str]
) -> None:
    """A new density took the flash point with it, and the word of fire with that, in silence."""
    root = ["--studio", str(studio.root), "--from", "the maker's sheet"]
    add = ["own", "add", "liquid", "Bench thinner", *root, "--set", "family=ketone"]
    assert main([*add, "--set", "flash_point_c=12", "--set", "also=our thinner"]) == 0
    assert "gone" not in capsys.readouterr().err
    gone = "Not typed again, so gone: also, flash_point_c."
    assert main([*add, "--set", "density_g_ml=0.8"]) == 3
    assert gone in capsys.readouterr().err
    assert main([*add, "--set", "density_g_ml=0.8", "--check"]) == 0
    assert gone in " ".join(capsys.readouterr().out.split())
    assert main([*add, "--set", "density_g_ml=0.8", "--replace", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["lost"] == ["also", "flash_point_c"]
    assert main([*add, "--replace"]) == 0
    assert "Not typed again, so gone: density_g_ml." in capsys.readouterr().err


def test_a_file_in_another_encoding_is_named_and_stays(studio: Studio) -> None:
    """It ended in a message for programmers, and the row was not told."""
    file = studio.catalogue_dir / OWN_FILE
    file.parent.mkdir(parents=True)
    file.write_bytes(latin := b"# Entries\n# caf\xe9\nsources: []\n")
    with pytest.raises(DeskError, match=r"own.yaml, line 2: this is not text in UTF-8. Save it as such"):
        store(studio, "liquid", THINNER)
    assert file.read_bytes() == latin


def test_a_link_is_followed_and_a_lost_one_refused(studio: Studio, tmp_path: Path) -> None:
    """A file took the place of the link, and the entries kept elsewhere were no longer written."""
    file, kept = studio.catalogue_dir / OWN_FILE, tmp_path / "elsewhere.yaml"
    file.parent.mkdir(parents=True)
    file.symlink_to(kept)
    with pytest.raises(DeskError, match=r"own.yaml is a link to .*elsewhere.yaml, where nothing is"):
        store(studio, "liquid", THINNER)
    kept.write_text(HEADER)
    store(studio, "liquid", THINNER)
    assert file.is_symlink()
    assert "bench-thinner" in kept.read_text()
