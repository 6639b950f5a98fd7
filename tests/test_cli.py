"""The command line: stable JSON, exit codes, one sentence on standard error."""

from __future__ import annotations

import json
import os
import shlex
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from kb.cli.main import main
from kb.desk.errors import DeskError
from kb.desk.records.fill import store
from kb.desk.studio import Studio
from kb.index import open as index

CHOOSE = shlex.split("""
choose --adhesive natural-rubber --stage oily --medium letterpress --paper wood-pulp --json
""")
ADD = shlex.split("""
test add --adhesive natural-rubber-resin --stage oily --carrier none --medium letterpress_oil
--paper paper_woodpulp --liquid n-heptane --method swab --dwell 30s --dwell 1min --release 3
--harm bleed=0 --harm tideline=1 --json
""")


@pytest.fixture
def run(studio: Studio, capsys: pytest.CaptureFixture[str]) -> Any:
    """Runs a command on the studio; gives its exit code, output and errors."""

    def command(*words: str) -> tuple[int, str, str]:
        capsys.readouterr()
        try:
            code = main([*words[:1], "--studio", str(studio.root), *words[1:]])
        except SystemExit as stop:
            code = int(stop.code or 0)
        out, err = capsys.readouterr()
        return code, out, err

    return command


def test_choose_json_has_the_agreed_shape(run: Any) -> None:
    """The fields that other programs may rely on."""
    code, out, _ = run(*CHOOSE)
    answer = json.loads(out)
    assert code == 0
    assert len(answer["suggestions"]) >= 8
    assert {"tape", "adhesive", "carrier", "stage", "medium", "paper"} <= set(answer["question"])
    one = answer["suggestions"][0]
    assert one["rank"] == 1
    assert isinstance(one["liquid"], str)
    assert sum(one["parts"].values()) == pytest.approx(1.0)
    for event in ("release", "harm"):
        assert one[event]["low"] <= one[event]["p"] <= one[event]["high"]
    assert set(one["evidence"]) == {
        "own",
        "similar",
        "pooled",
        "print",
        "in_part",
        "patches",
        "patches_count_as",
        "book_release",
        "book_harm",
    }
    assert isinstance(one["red_adhesive"], float)
    assert isinstance(one["red_medium"], float)
    assert isinstance(one["cautions"], list)
    assert one["reason"]
    assert {"liquid", "caution"} <= set(answer["vetoed"][0])
    assert answer["stop"] is None


def test_a_decimal_comma_is_read_in_every_option(run: Any) -> None:
    """As in every amount; a share of a blend may say that it is one by volume."""
    for said in (("--ceiling", "0.5"), ("--harm-aversion", "16.5"), ("--worth", "8.25")):
        with_comma = (said[0], said[1].replace(".", ","))
        assert run(*CHOOSE, *with_comma) == run(*CHOOSE, *said)
        assert run(*CHOOSE, *said)[0] == 0
    assert run("blend", "--adhesive", "natural-rubber", "--max-hazard", "0,3")[0] == 0
    for blend in ("acetone 12,500 vol%, water 87.5 % v/v", "acetone 12,500 % vol; water 87,5 vol. %"):
        assert run("dry", "--blend", blend) == run("dry", "--blend", "acetone 12.5, water 87.5")


def test_test_add_prints_the_id_and_list_shows_it(run: Any) -> None:
    """The id of add is the id in list; show names what was not looked at."""
    code, out, _ = run(*ADD)
    written = json.loads(out)
    assert code == 0
    code, out, _ = run("test", "list", "--limit", "0", "--json")
    rows = json.loads(out)
    assert [row["id"] for row in rows] == [written["id"]]
    assert (rows[0]["release"], rows[0]["harm"]) == (3, 1)
    code, out, _ = run("test", "show", written["id"][:10], "--json")
    shown = json.loads(out)
    assert shown["not_looked"] == ["offset", "gloss", "surface", "colour"]
    assert [one["dwell_s"] for one in shown["test"]["rounds"]] == [30.0, 60.0]


def test_amend_and_withdraw(run: Any) -> None:
    """Both need a reason; the record stays."""
    _, out, _ = run(*ADD)
    test_id = json.loads(out)["id"]
    assert (
        run("test", "amend", test_id, "--set", "release=1", "--set", "harm=gloss=2", "--why", "misread")[0]
        == 0
    )
    shown = json.loads(run("test", "show", test_id, "--json")[1])
    assert shown["state"] == "amended"
    assert shown["test"]["release"] == 1
    assert run(*ADD, "--control")[::2] == (3, "Release is not graded on a control. Nothing was recorded.\n")
    assert run("test", "withdraw", test_id, "--why", "wrong bottle")[0] == 0
    assert json.loads(run("test", "list", "--json")[1])[0]["state"] == "withdrawn"
    assert run("test", "withdraw", test_id)[0] == 2
    assert run("test", "withdraw", test_id, "--why", "  ")[0] == 3


def test_a_look_that_passes_the_ink_by_is_stored_and_says_so(run: Any) -> None:
    """By one test and by a card; the list says what was graded, and the liquid counts as looked at."""
    on = (
        "--adhesive",
        "natural-rubber",
        "--medium",
        "iron gall ink",
        "--paper",
        "wood-pulp",
        "--sheet",
        "M 1",
    )
    none = "leeding, offset and colour were not looked at, so that is no clean look at the ink"
    test = ("test", "add", *on, "--new-sheet", "--liquid", "acetone", "--dwell", "30s", "--harm")
    code, _, said = run(*test, "gloss=0")
    assert (code, none in said) == (0, True)
    assert json.loads(run(*test, "tideline=1", "--json")[1])["warnings"] == [f"B{none}."]
    # What an ink can show, harm that was seen, and bare paper: nothing to be said.
    for more in (("bleed=0",), ("gloss=2",), ("gloss=0", "--medium", "bare paper")):
        assert none not in "".join(map(str, run(*test, *more)))
    assert f"Spot 1: B{none}." in run("test", "card", *on, "acetone: 30s, gloss 0")[2]
    assert none not in run("test", "card", *on, "acetone: 30s, all 0")[1]
    graded = [one["harm"] for one in json.loads(run("test", "list", "--sheet", "M 1", "--json")[1])]
    assert graded == [0, 0, 0, 2, 0, 1, 0]
    # By a correction too: what was bare paper was an ink, or its bleeding was not looked at after all.
    margin, looked = (
        json.loads(run(*test, *more, "--json")[1])["id"]
        for more in (("gloss=0", "--medium", "bare paper"), ("bleed=0",))
    )
    gone = "Taken out of harm, so that it counts as not looked at: bleed (0 none seen)."
    amend = ("--why", "slip", "--json")
    for id, change, says in (
        (margin, "medium=iron gall ink", [f"B{none}."]),
        (looked, "harm=gloss=0", None),
        (looked, "harm=bleed=-", [gone, f"B{none}."]),
        (looked, "harm=bleed=0", None),
        (looked, "stage=oily", None),
    ):
        for word in ("test", "book"):
            told = json.loads(run(word, "amend", id, "--set", change, *amend)[1]).get("warnings")
            assert told == (says if word == "test" else says and says[-1:])
    # Of a card every spot has its words, for another program too.
    (spot,) = json.loads(run("test", "card", *on, "--json", "acetone: 30s, gloss 0")[1])
    assert (spot["understood"][-1], spot["warnings"]) == ("harm: gloss 0 none seen", [f"B{none}."])


def test_a_correction_of_one_kind_of_harm_leaves_the_others(run: Any) -> None:
    """As on the form; what is taken out is said."""
    id = json.loads(run(*ADD)[1])["id"]
    assert json.loads(run("test", "show", id, "--json")[1])["test"]["harm"] == {"bleed": 0, "tideline": 1}
    for word, change, harm in (
        ("test", ("harm=bleed=1",), {"bleed": 1, "tideline": 1}),
        ("book", ("harm=gloss=0; surface=2", "harm=surface=3"), {"gloss": 0, "surface": 3}),
        ("test", ("harm=tideline=-, colour=0",), {"tideline": None, "colour": 0}),
        ("book", ("harm=gloss=-",), {"gloss": None}),
    ):
        sets = [part for one in change for part in ("--set", one)]
        before = json.loads(run("test", "show", id, "--json")[1])["test"]["harm"]
        code, _, said = run(word, "amend", id, *sets, "--why", "misread")
        merged = {kind: grade for kind, grade in {**before, **harm}.items() if grade is not None}
        assert (code, json.loads(run("test", "show", id, "--json")[1])["test"]["harm"]) == (0, merged)
        assert ("Taken out" in said) == (None in harm.values()), said
    assert run("test", "amend", id, "--set", "harm=-", "--why", "misread")[0] == 3


def test_what_must_not_meet_is_told_wherever_a_blend_is_stored(run: Any) -> None:
    """A card, a correction and a patch, as one test and drying do."""
    stop = "STOP, both are in this blend: Chloroform and acetone"
    blend = "acetone 50, chloroform 50"
    on = ("--adhesive", "natural-rubber", "--sheet", "M 1")
    card = ("test", "card", *on, f"{blend}: 30s, release 1")
    assert run("sheet", "add", "M 1", "--size", "100 x 100 mm")[0] == 0
    assert "warnings" not in json.loads(run(*card[:-1], "acetone: 30s, release 1", "--json")[1])[0]
    assert f"Spot 1: {stop}" in run(*card)[2]
    (spot,) = json.loads(run(*card, "--json")[1])
    assert spot["warnings"][0].startswith(stop)
    for word in ("test", "book"):
        id = json.loads(run(*ADD)[1])["id"]
        change = ("amend", id, "--set", f"blend={blend}", "--why", "wrong bottle")
        assert stop in run(word, *change)[2]
        assert json.loads(run(word, *change, "--json")[1])["warnings"][0].startswith(stop)
    lay = ("strip", "add", "M 1", "front", "--at", "10, 10", "--size", "60 x 20 mm")
    assert run(*lay)[0] == 0
    assert run("patch", "start", "M 1", "--liquid", "n-heptane")[0] == 0
    done = ("patch", "done", "M 1", "--liquid", blend, "--release", "2")
    code, out, said = run(*done)
    assert (code, stop in said) == (0, True), (out, said)
    patch = json.loads(run("book", "list", "--kind", "patch", "--json")[1])[0]["id"]
    assert run("book", "amend", patch, "--set", "liquid=n-heptane", "--why", "slip")[2] == ""
    assert stop in run("book", "amend", patch, "--set", f"liquid={blend}", "--why", "slip")[2]


def test_no_day_to_come_is_set_by_an_amendment(run: Any) -> None:
    """As when it is first written, by either word that amends; and what was withdrawn is not changed."""
    ids = {
        "test": json.loads(run(*ADD, "--json")[1])["id"],
        "batch": json.loads(run("batch", "add", "--name", "paste", "--json")[1])["id"],
        "shelf": json.loads(run("shelf", "open", "acetone", "--json")[1])["id"],
    }
    fields = {"test": "tested_at", "batch": "made_at", "shelf": "opened"}
    for of, noun in (*zip(ids, ids, strict=True), *((one, "book") for one in ids)):
        code, _, said = run(noun, "amend", ids[of], "--set", f"{fields[of]}=2199-01-01", "--why", "slip")
        assert (code, "lies ahead of today" in said) == (3, True), (of, noun)
        assert run(noun, "amend", ids[of], "--set", f"{fields[of]}=2025-05-31", "--why", "slip")[0] == 0
    assert run("shelf", "amend", ids["shelf"], "--set", "liquid=qqqq", "--why", "slip")[0] == 1
    assert (
        "neither yes nor no" in run("test", "amend", ids["test"], "--set", "control=ja", "--why", "slip")[2]
    )
    assert run("shelf", "amend", ids["shelf"], "--set", "expires=2199-01", "--why", "label")[0] == 0
    for of, meant in ids.items():
        assert run(of, "withdraw", meant, "--why", "twice")[0] == 0
        # Both were stored, and the first said "Amended".
        again = [
            ("amend", meant, "--set", "remarks=x", "--why", "again"),
            ("withdraw", meant, "--why", "again"),
        ]
        again += [("bad", meant, "--why", "mould"), ("finish", meant)] if of == "batch" else []
        again += [("finish", meant)] if of == "shelf" else []
        for words in again:
            code, _, said = run(of, *words)
            assert (code, "withdrawn" in said) == (3, True), (of, words)


def test_blends_by_volume(run: Any) -> None:
    """Parts are normalised and names resolved."""
    words = [word if word != "--liquid" else "--blend" for word in ADD]
    words[words.index("n-heptane")] = "acetone 1, heptane 3"
    _, out, _ = run(*words)
    rows = json.loads(run("test", "list", "--json")[1])
    assert rows[0]["liquid"] == "n-heptane 75 + acetone 25"
    assert json.loads(out)["id"] == rows[0]["id"]


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["choose", "--adhesive", "rubber"], 1, "natural-rubber-resin"),
        (["choose", "--ceiling", "7"], 3, "ceiling"),
        (["blend", "--adhesive", "natural-rubber", "--max-hazard", "nan"], 2, "nan is no number"),
        (["share", "--wait", "inf"], 2, "inf is too large a number"),
        (["photo", "compare", "--swab", "nan,1,2"], 2, "radius above zero"),
        (["choose", "--limit", "many"], 2, "'many' is not a whole number. See"),
        (["choose", "--ceiling", "1,000"], 2, "'1,000' can be read as 1000 or as 1.000; write it without"),
        ([*ADD, "--dwell", "200000h"], 3, "more than 10,000,000 s"),
        (["choose", "--worth", "much"], 2, "'much' is not a number, such as 0.5. See"),
        (["choose", "--limit", "-1"], 2, "--limit is a number from 0 up, not -1."),
        (["blend", "--adhesive", "rubber", "--max-hazard", "-1"], 2, "--max-hazard is a number from 0 up"),
        (["test", "card", "--from", "."], 3, ". cannot be read (Is a directory); name a file. Nothing"),
        (["recipe", "wheat starch paste", "--density", "0", "--make", "1 l"], 3, "is not a density"),
        ([*ADD, "--tested-at", "0000-01-01"], 3, "is not a date; write"),
        ([*ADD, "--tested-at", "9999-12-31"], 3, "lies ahead of today"),
        ([*ADD, "--photo-before", "no.jpg"], 3, "cannot be opened (No such file or directory); check"),
        (["sheet", "add", " "], 3, "names no sheet"),
        (["tissue", "--grammage", "90", "--length", "0"], 3, '"0" must be above zero; leave it out'),
        (["tissue", "--grammage", "90", "--tear", "loss", "--area", "0 cm2"], 3, "must be above zero"),
        (["house", "--size", "40 x 50 cm", "--mass", "0 g"], 3, "must be above zero"),
        (["wash", "plan", "--mass", "0"], 3, "must be above zero"),
        (["photo", "compare", "--swab", "a"], 2, "such as 480,360,120. See"),
        (["import", "nowhere/"], 3, "No such file or directory. Nothing was brought in."),
        (["choose", "--tideline", "1"], 2, "test add ... --harm tideline=1."),
        (["test", "show", "01ZZZZ"], 3, "the book lists them"),
        ([*ADD, "--release", "9"], 3, "0, 1, 2, 3, 4"),
        ([*ADD, "--harm", "smell=1"], 3, "bleed, offset"),
        ([*ADD, "--dwell", "a while"], 3, "30s"),
        ([*ADD, "--blend", "acetone 50, water 50"], 3, "either one liquid or one blend"),
        (["test", "add", "--liquid", "water", "--dwell", "30s"], 3, "Nothing that was seen is said"),
        (["test", "add", "--liquid", "water", "--control"], 3, "why in --remarks"),
        (["find", "qqqqqqqq"], 1, "nothing by that name"),
        (["show", "liquid", "qqqqqq"], 1, "nothing by that name"),
    ],
)
def test_errors_are_one_sentence_and_a_code(run: Any, words: list[str], code: int, said: str) -> None:
    """Nothing on standard output, no traceback."""
    found, out, err = run(*words)
    assert found == code
    assert said in err
    assert out == ""
    assert "Traceback" not in err
    assert len(err.strip().splitlines()) == 1


@pytest.mark.parametrize("place", [0, 1, 2, 4])
def test_studio_may_stand_anywhere(studio: Studio, capsys: pytest.CaptureFixture[str], place: int) -> None:
    """Before the word, after it, after the verb, at the end."""
    words = ["test", "list", "--limit", "0", "--json"]
    assert main([*words[:place], "--studio", str(studio.root), *words[place:]]) == 0
    assert json.loads(capsys.readouterr().out) == []


def test_unknown_word_exits_2(capsys: pytest.CaptureFixture[str]) -> None:
    """And says where help is."""
    with pytest.raises(SystemExit) as stop:
        main(["dance"])
    assert stop.value.code == 2
    assert "--help" in capsys.readouterr().err


def test_verify_names_the_line(run: Any, studio: Studio) -> None:
    """Exit 1, with file and line, when a line was altered."""
    for _ in range(3):
        run(*ADD)
    assert run("verify")[0] == 0
    file = next(studio.book_dir.glob("*.jsonl"))
    file.write_bytes(file.read_bytes().replace(b'"release":3', b'"release":4', 1))
    code, out, _ = run("verify", "--json")
    found = json.loads(out)
    assert code == 1
    assert not found["ok"]
    assert {one["line"] for one in found["findings"]} & {1, 2}
    assert len(found["findings"]) == 1
    assert "\n1 problem; the rest" in run("verify")[1]


@pytest.mark.slow
def test_check_and_rebuild(run: Any, studio: Studio) -> None:
    """A broken entry of the studio's own is named with file and line; the rest still loads."""
    assert run("check")[0] == 0
    studio.catalogue_dir.mkdir()
    (studio.catalogue_dir / "mine.yaml").write_text(
        "liquids:\n- id: my-liquid\n  nmae: Mine\n", encoding="utf-8"
    )
    code, out, _ = run("check")
    assert code == 1
    assert "mine.yaml:3" in out
    assert json.loads(run("rebuild", "--json")[1]) == {"tests": 0}
    assert run("find", "acetone")[0] == 0


@pytest.mark.slow
def test_own_entry_can_be_chosen(run: Any, studio: Studio) -> None:
    """A studio's own liquid is a candidate like any other."""
    studio.catalogue_dir.mkdir()
    (studio.catalogue_dir / "mine.yaml").write_text(
        "liquids:\n- id: bench-heptane\n  name: Heptane, our drum\n  family: aliphatic-hydrocarbon\n"
        "  hansen: {d: 15.3, p: 0, h: 0, from: [project]}\n",
        encoding="utf-8",
    )
    code, out, _ = run("check")
    assert code == 0, out
    answer = json.loads(run(*CHOOSE, "--limit", "0")[1])
    assert "bench-heptane" in {one["liquid"] for one in answer["suggestions"]}


def test_signs_of_a_known_tape_are_not_lost_without_a_word(run: Any) -> None:
    """They answer what the tape may be; beside an adhesive they went, and nobody heard of it."""
    for words in ((*CHOOSE, "--sign", "gloss=glossy"), (*ADD, "--sign", "gloss=glossy")):
        code, _, err = run(*words)
        assert code == 0
        assert err.startswith("The signs were left out")


def test_a_test_that_was_broken_off_says_so_and_is_stored(run: Any) -> None:
    """Without a grade and without a word why, a hurried hand made an empty record."""
    assert run("test", "add", "--liquid", "water", "--remarks", "broken off: the bottle leaked")[0] == 0
    assert run("test", "add", "--liquid", "water", "--dwell", "30s", "--wet", "darkens")[0] == 0


@pytest.mark.parametrize(
    "words",
    [
        ADD[:-1],
        ("mend", "add", "Chart", "--adhesive", "wheat starch paste"),
        ("test", "card", "--sheet", "Chart", "water: look, all 0", "acetone: look, all 0"),
        ("test", "card", "--sheet", "Other", "--new-sheet", "water: look, all 0"),
        (*ADD[:-1], "--sheet", "Other", "--new-sheet"),
        ("shelf", "open", "acetone"),
        ("wash", "read", "Chart", "--ph", "7"),
    ],
)
def test_what_is_said_of_a_record_is_found_before_it_is_stored(
    run: Any, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...]
) -> None:
    """The index is brought up to date once; and nobody is refused who would then type it twice."""
    assert run("sheet", "add", "Chart")[0] == 0
    taken: list[object] = []
    refresh = index._refresh
    monkeypatch.setattr(index, "_refresh", lambda *given: taken.append(1) or refresh(*given))
    assert "stored and on disk" in run(*words)[1].lower()
    assert len(taken) == 1


def test_a_record_that_is_refused_founds_no_sheet(run: Any, studio: Studio) -> None:
    """It was refused where it was stored, and the sheet that it would have been the first of stayed."""
    code, _, said = run(*ADD, "--sheet", "Chart", "--new-sheet", "--tested-at", "xx")
    assert (code, "is not a date" in said) == (3, True)
    for words in (
        *(
            "wash read --ph 20",
            "wash read",
            "wash read --temperature 200C --ph 7",
            "wash read --bath 0 --ph 7",
        ),
        *("wash read --minutes 200000 --ph 7", "mend add --length 99999999mm", "frame add --light 300000lux"),
        *("frame add --hinges=-1", "frame add --humidity 40-160%", "frame add --remarks " + "x" * 70_000),
    ):
        code, _, said = run(*words.split(" ", 2)[:2], "Chart", "--new-sheet", *words.split(" ")[2:])
        assert (code, said.count("Nothing was recorded.")) == (3, 1), words
    for words in ("--thickness 300mm", "--size 2x3cm --length 120mm", "--grammage 90 --length 9xy"):
        assert run("plan", "Chart", "--new-sheet", "--keep", "--tear", "plain", *words.split())[0] == 3, words
    long = "x" * 70_000
    for words in ([*ADD, "--remarks", long], ["test", "card", f"water: look, all 0 at {long}"]):
        assert "Nothing was recorded" in run(*words, "--sheet", "Chart", "--new-sheet")[2]
    with pytest.raises(DeskError, match="Nothing was recorded"):
        store(studio, kind="mend", values={"sheet": "Chart", "new_sheet": "yes", "length": "99999999 mm"})
    assert "Chart" not in run("sheet", "list")[1]
    code, _, said = run("crumb", "add", "acrylic", "acetone", "5")
    assert (code, "is not a grade" in said) == (3, True)


def test_hostile_text_cannot_steer_the_terminal(run: Any) -> None:
    """Escape sequences and direction overrides never reach the output raw."""
    sheet = ("--sheet", "[red]\x1b[2J", "--new-sheet")
    assert run(*ADD, "--remarks", "a\x1b]0;title\x07b\u202ec\x9b31m", *sheet)[0] == 0
    for words in (["test", "list"], ["test", "list", "--json"]):
        _, out, _ = run(*words)
        assert "[red]" in out
        assert not any(ord(c) < 32 and c != "\n" for c in out)
        assert "\u202e" not in out
        assert "\x9b" not in out


def test_installed_command_from_another_folder(tmp_path: Path) -> None:
    """The program runs as a module from anywhere and knows its version."""
    done = subprocess.run(
        [sys.executable, "-m", "kb.cli.main", "--version"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[1])},
    )
    assert done.stdout.startswith("benchleaf ")


def test_a_control_without_a_medium_says_what_it_counts_as(run: Any) -> None:
    """It was stored as one of the paper without a word."""
    words = ("--liquid", "n-heptane", "--harm", "bleed=0", "--control", "--sheet", "Mock-up")
    code, out, err = run("test", "add", *words, "--new-sheet")
    of_paper = "this control counts as one on bare paper"
    assert (code, of_paper in " ".join((out + err).split())) == (0, True)
    id = out.split("on disk: ")[1].split()[0]
    _, out, err = run("test", "add", *words, "--medium", "letterpress")
    assert of_paper not in " ".join((out + err).split())
    _, out, err = run("test", "amend", id, "--set", "harm=bleed:1", "--why", "slip")
    assert of_paper in " ".join((out + err).split())
