"""The shelf: what is held and forbidden, how the file is read and rewritten, and the command for it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
from pathlib import Path
from typing import Any

import pytest

from kb.catalogue.own_files import parse_shelf
from kb.cli.main import main
from kb.desk.errors import DeskError
from kb.desk.keep import check
from kb.desk.records.record import add_test
from kb.desk.shelf import shelf_text
from kb.desk.shelf.shelf import allow, allowed, forbid, hold, shelf, unhold
from kb.desk.studio import Studio
from kb.model.studio import Forbidden, Shelf
from tests.conftest import spot


@pytest.fixture
def run(studio: Studio, capsys: pytest.CaptureFixture[str]) -> Any:
    """Runs a shelf command on the studio; gives its exit code, output and errors."""

    def command(*words: str) -> tuple[int, str, str]:
        capsys.readouterr()
        try:
            code = main(["shelf", "--studio", str(studio.root), *words])
        except SystemExit as stop:
            code = int(stop.code or 0)
        out, err = capsys.readouterr()
        return code, out, err

    return command


def write(studio: Studio, text: str) -> None:
    """Write shelf.yaml by hand and let the index see it."""
    studio.root.mkdir(exist_ok=True)
    studio.shelf_file.write_text(text, encoding="utf-8")
    studio.refresh()


# What the shelf says of a liquid


def test_no_shelf_holds_all_and_forbids_nothing(studio: Studio) -> None:
    """Without a file every liquid counts as held and allowed, and no reason is given."""
    view = shelf(studio)
    assert not view.listed
    assert all(one.held and one.allowed and not one.why for one in view.liquids)
    assert view.forbids == view.problems == ()


def test_only_what_is_listed_is_held(studio: Studio) -> None:
    """One listed liquid ends the time when all were held; the verdict says what is missing."""
    write(studio, "holds: [acetone, water]\n")
    assert allowed(studio, {"acetone": 1.0}).held
    verdict = allowed(studio, {"toluene": 1.0})
    assert not verdict.held
    assert verdict.allowed
    assert verdict.why == "Toluene is not listed as held"


@pytest.mark.parametrize(
    ("names", "out", "kept"),
    [
        ("liquids: [toluene]", "toluene", "xylene"),
        ("families: [aromatic-hydrocarbon]", "xylene", "acetone"),
        ("hazards: [H350]", "benzene", "toluene"),
        ("hazards: [H360]", "dimethylformamide", "acetone"),
        ("liquids: [acetone]\n  hazards: [H350]", "benzene", "toluene"),
        ("liquids: [acetone]\n  hazards: [H350]", "acetone", "toluene"),
    ],
)
def test_prohibition_by_name_family_or_label(studio: Studio, names: str, out: str, kept: str) -> None:
    """Any one of the keys is enough, suffixed codes count, and the reason names whose rule it is."""
    write(studio, f"forbids:\n- {names}\n  why: Not in this room.\n  rule: building\n")
    verdict = allowed(studio, {out: 1.0})
    assert not verdict.allowed
    assert verdict.held
    assert "(rule of the building): Not in this room" in verdict.why
    assert allowed(studio, {kept: 1.0}).allowed


def test_a_cut_without_benzene_is_not_forbidden_by_its_harmonised_label(studio: Studio) -> None:
    """Petroleum cuts carry what suppliers print, as in the ranking, so H350 does not take them out."""
    write(studio, "forbids:\n- {hazards: [H350], why: Carcinogens., rule: health}\n")
    assert allowed(studio, {"white-spirit-low-aromatic": 1.0}).allowed


def test_a_blend_needs_every_part(studio: Studio) -> None:
    """A trace of something forbidden or missing takes the blend out; both reasons are told."""
    write(studio, "holds: [acetone]\nforbids:\n- {liquids: [benzene], why: Poison.}\n")
    verdict = allowed(studio, {"acetone": 0.97, "benzene": 0.01, "toluene": 0.02})
    assert not verdict.allowed
    assert not verdict.held
    assert "Benzene is forbidden here (local rule): Poison" in verdict.why
    assert "Toluene is not listed as held" in verdict.why
    assert allowed(studio, {"acetone": 1.0}) == allowed(studio.compiled, {"acetone": 1.0})


def test_a_liquid_that_the_catalogue_does_not_know(studio: Studio) -> None:
    """It is held only if listed, and forbidden only by name."""
    write(studio, "holds: [acetone, mystery]\nforbids:\n- {liquids: [riddle], why: Unknown.}\n")
    assert allowed(studio, {"mystery": 1.0}).held
    assert not allowed(studio, {"riddle": 1.0}).allowed


# Reading the file


def test_every_fault_has_file_and_line_and_takes_out_only_itself(studio: Studio) -> None:
    """Wrong ids, words and rules are told; above all, no prohibition is lifted by a slip."""
    write(
        studio,
        "holds:\n- acetone\n- acetonne\n- acetone\n"
        "forbids:\n- liquids: [benzene]\n  why: Poison.\n  rule: loca\n- families: [keytone]\n  why: Smell.\n"
        "- why: Nothing named.\nperoxide_test_months: 0\ncolour: red\n",
    )
    problems = shelf(studio).problems
    for start, said in (
        ("shelf.yaml:3:", 'there is no liquid "acetonne"; did you mean "acetone"?'),
        ("shelf.yaml:4:", "is listed twice"),
        ("shelf.yaml:8:", 'did you mean "local"?'),
        ("shelf.yaml:9:", 'there is no family "keytone"'),
        ("shelf.yaml:11:", "names nothing"),
        ("shelf.yaml:12:", "peroxide_test_months cannot be 0"),
        ("shelf.yaml:13:", 'the key "colour" is not known'),
    ):
        assert any(text.startswith(start) and said in text for text in problems), (start, said, problems)
    assert set(problems) <= set(studio.unread())
    assert set(problems) <= set(check(studio).problems)
    verdict = allowed(studio, {"benzene": 1.0})
    assert not verdict.allowed
    assert not verdict.held
    assert studio.compiled.shelf.peroxide_test_months == 3


@pytest.mark.parametrize("text", ["", "# nothing yet\n", "holds:\n# - acetone\nforbids:\n", "holds: []\n"])
def test_an_empty_file_is_an_empty_shelf(studio: Studio, text: str) -> None:
    """Comments alone, and keys with nothing below them, are no fault."""
    write(studio, text)
    view = shelf(studio)
    assert view.problems == ()
    assert not view.listed


@pytest.mark.parametrize(
    "text", ["holds: [acetone\n", "- acetone\n", "holds: *x\n", "a: 1\n---\nb: 2\n", "\0"]
)
def test_a_file_that_cannot_be_read_says_that_nothing_applies(studio: Studio, text: str) -> None:
    """A torn or hostile file never raises; what follows from it is said in words."""
    write(studio, text)
    assert any("shelf.yaml:" in problem for problem in shelf(studio).problems)
    assert shelf(studio).liquids


def test_other_problems_of_the_shelf_are_not_told_twice(studio: Studio) -> None:
    """After mending, the old problems are gone from the index."""
    write(studio, "holds: [nonsense]\n")
    assert len(studio.unread()) == 1
    write(studio, "holds: [acetone]\n")
    assert studio.unread() == []


# The index


def test_a_change_of_the_shelf_leaves_catalogue_and_book_alone(studio: Studio) -> None:
    """Taking in the shelf reads no catalogue file and no record of the book again."""
    add_test(studio, spot(release=2))
    studio.refresh()
    conn = studio.index.conn
    conn.execute("UPDATE entry SET name = 'Mark' WHERE kind = 'liquid' AND id = 'acetone'")
    conn.execute("UPDATE test SET who = 'mark'")
    write(studio, "holds: [water]\n")
    assert not allowed(studio, {"acetone": 1.0}).held
    assert studio.index.conn.execute("SELECT name FROM entry WHERE id = 'acetone'").fetchone()[0] == "Mark"
    assert studio.index.conn.execute("SELECT who FROM test").fetchone()[0] == "mark"
    studio.close()
    assert Studio(studio.root).compiled.shelf != Shelf()


def test_a_warm_start_parses_no_yaml(studio: Studio) -> None:
    """The shelf is compiled into the index: an answer that needs it loads neither PyYAML nor the reader."""
    write(studio, "holds: [water]\n")
    studio.close()
    code = (
        "import sys\nfrom pathlib import Path\n"
        "from kb.desk.shelf.shelf import allowed\nfrom kb.desk.studio import Studio\n"
        "held = allowed(Studio(Path(sys.argv[1])), {'acetone': 1.0}).held\n"
        "heavy = [one for one in ('yaml', 'sqlite_utils', 'numpy', 'textual') if one in sys.modules]\n"
        "print(held, heavy)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(studio.root)],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
        cwd=Path(__file__).parent.parent.parent,
    )
    assert done.stdout.strip() == "False []", done.stderr


# Changing it


def test_hold_and_unhold(studio: Studio) -> None:
    """The first listing warns that the rest no longer counts; the last removal that all counts again."""
    first = hold(studio, ["water", "acetone"])
    assert first.changed
    assert "From now on only what is listed counts as held." in first.text
    assert not hold(studio, ["water"]).changed
    assert "From now on" not in hold(studio, ["ethanol"]).text
    assert studio.compiled.shelf.holds == ("water", "acetone", "ethanol")
    assert unhold(studio, ["ethanol"]).text == "No longer listed as held: Ethanol."
    assert not unhold(studio, ["ethanol"]).changed
    assert "all liquids count as held again" in unhold(studio, ["water", "acetone"]).text
    with pytest.raises(DeskError, match="all count as held"):
        unhold(studio, ["water"])


def test_forbid_and_allow(studio: Studio) -> None:
    """What was forbidden by name is allowed by name; a family's prohibition stays and says so."""
    done = forbid(studio, families=["aromatic-hydrocarbon"], why="No extraction.", rule="health")
    assert "Toluene" in done.text
    forbid(studio, liquids=["toluene", "acetone"], why="Out of stock: do not ask")
    assert not forbid(studio, liquids=["toluene", "acetone"], why="Out of stock: do not ask").changed
    back = allow(studio, liquids=["toluene"])
    assert back.changed
    assert "Still in force: Toluene is forbidden here (health): No extraction" in back.text
    assert not allowed(studio, {"toluene": 1.0}).allowed
    assert not allowed(studio, {"acetone": 1.0}).allowed
    allow(studio, families=["aromatic-hydrocarbon"])
    assert allowed(studio, {"toluene": 1.0}).allowed
    allow(studio, liquids=["acetone"])
    assert studio.compiled.shelf.forbids == ()
    assert not allow(studio, liquids=["acetone"]).changed


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ({"liquids": ["acetone"], "why": "  "}, "Say why"),
        ({"why": "No."}, "Say what is forbidden"),
        ({"liquids": ["acetone"], "why": "No.", "rule": "mine"}, "no kind of rule"),
        ({"liquids": ["acetone"], "why": "x" * 2000}, "characters long"),
    ],
)
def test_a_prohibition_that_cannot_be_kept(studio: Studio, words: dict[str, Any], said: str) -> None:
    """It is refused in one sentence and nothing is written."""
    with pytest.raises(DeskError, match=said):
        forbid(studio, **words)
    assert not studio.shelf_file.exists()


@pytest.mark.parametrize(
    "why",
    [
        'He said: "no" # really',
        "yes",
        "12:30",
        "- a list",
        "Straße, façade",
        "{curly} [square]",
        "\x1b[31mred\u202e",
        "a\nb\tc",
        "'",
        "null",
    ],
)
def test_any_reason_survives_the_file(studio: Studio, why: str) -> None:
    """Text is quoted where YAML would take it for something else, and cannot steer a terminal."""
    forbid(studio, liquids=["acetone"], why=why)
    kept = studio.compiled.shelf.forbids[0].why
    assert shelf(studio).problems == ()
    assert "\x1b" not in kept
    assert "\n" not in kept
    assert "\u202e" not in kept
    if why.isprintable():
        assert kept == why


def test_comments_stay_where_they_belong(studio: Studio) -> None:
    """The head, comments above and behind an entry, and the end are kept; those of removed entries go."""
    write(
        studio,
        "# Our own head.\n\nholds:\n- acetone  # by the window\n# keep cool\n- ethanol\n- water\n\n"
        "# agreed in May\nforbids:\n# old rule\n- liquids: [benzene]\n  why: Poison.\n# the end\n",
    )
    hold(studio, ["toluene"])
    text = studio.shelf_file.read_text()
    assert text.startswith(
        "# Our own head.\n\nholds:\n- acetone  # by the window\n# keep cool\n- ethanol\n- water\n"
    )
    assert "# agreed in May\nforbids:\n# old rule\n- liquids: [benzene]\n" in text
    assert text.endswith("\n# the end\n")
    hold(studio, ["xylene"])
    assert studio.shelf_file.read_text().count("#") == text.count("#")
    unhold(studio, ["ethanol"])
    assert "keep cool" not in studio.shelf_file.read_text()


def test_numbers_of_the_file_are_kept(studio: Studio) -> None:
    """A rewrite keeps what it does not change."""
    write(studio, "peroxide_test_months: 1.5\nexpiry_notice_days: 7\n")
    hold(studio, ["acetone"])
    found = studio.compiled.shelf
    assert (found.peroxide_test_months, found.expiry_notice_days) == (1.5, 7)


def test_a_faulty_file_is_not_rewritten(studio: Studio) -> None:
    """What cannot be read for certain would be lost; the sentence says file and line."""
    before = "holds: [acetone]\ncolour: red\n"
    write(studio, before)
    with pytest.raises(DeskError, match=r"shelf\.yaml:2: .*Nothing was changed"):
        hold(studio, ["water"])
    assert studio.shelf_file.read_text() == before


def test_a_failed_write_leaves_the_old_file(studio: Studio, monkeypatch: pytest.MonkeyPatch) -> None:
    """A full disk: the old shelf stays whole, and no part file is left."""
    hold(studio, ["acetone"])
    before = studio.shelf_file.read_bytes()

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(DeskError, match="No space left"):
        hold(studio, ["water"])
    assert studio.shelf_file.read_bytes() == before
    assert not list(studio.root.glob(".*part*"))


def test_two_writers_at_once_lose_nothing(studio: Studio) -> None:
    """Each change is made on what the other left."""
    ids = [one.id for one in studio.compiled.liquids][:24]
    studio.make()
    studio.close()

    def work(share: list[str]) -> None:
        own = Studio(studio.root)
        for one in share:
            shelf_text.rewrite(own, lambda old, one=one: Shelf(holds=(*old.holds, one)))  # type: ignore[misc]

    threads = [threading.Thread(target=work, args=(ids[n::3],)) for n in range(3)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert sorted(Studio(studio.root).compiled.shelf.holds) == sorted(ids)


def test_what_is_written_reads_back() -> None:
    """The text of a shelf gives that shelf again."""
    made = Shelf(
        holds=("acetone", "water"),
        forbids=(
            Forbidden(liquids=("benzene",), hazards=("H350",), why="A: b", rule="other"),
            Forbidden(families=("ketone",), why="ok"),
        ),
        peroxide_test_months=6,
        expiry_notice_days=0,
    )
    text = shelf_text.text_of(made, shelf_text.Comments((), {}, {}, ()))
    assert parse_shelf(text) == made
    assert text.startswith("# The shelf of this studio")


# The command


def test_list_hold_forbid_by_words(run: Any, studio: Studio) -> None:
    """Names may be typed loosely; the list shows held, forbidden with why, and JSON says the same."""
    assert "all 69 liquids count as held" in run()[1]
    assert run("hold", "acetone", "white spirit low aromatic")[0] == 0
    code, out, _ = run("forbid", "DCM", "--why", "No hood", "--rule", "building", "--json")
    assert code == 0
    assert json.loads(out)["changed"]
    code, out, _ = run()
    assert "held: Acetone, White spirit" in out
    assert "forbidden (rule of the building): Dichloromethane: No hood" in out
    found = json.loads(run("--json")[1])
    assert found["shelf"]["listed"] is True
    assert found["shelf"]["forbids"][0]["covers"] == ["dichloromethane"]
    assert found["bottles"] == found["due"] == []
    assert run("allow", "dichloromethane")[0] == 0
    assert run("unhold", "acetone")[0] == 0


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("hold", "nosuchthing"), 1, "nothing by that name"),
        (("forbid", "acetone"), 2, "--why"),
        (("forbid", "--family", "nosuch", "--why", "x"), 1, "nothing by that name"),
        (("forbid", "acetone", "--why", "x", "--rule", "mine"), 2, "invalid choice"),
        (("unhold", "acetone"), 3, "all count as held"),
        (("allow",), 3, "Say what is allowed"),
    ],
)
def test_errors_are_one_sentence_and_a_code(run: Any, words: tuple[str, ...], code: int, said: str) -> None:
    """Nothing is written and nothing is a traceback."""
    found, out, err = run(*words)
    assert found == code
    assert said in err
    assert out == ""
    assert len(err.strip().splitlines()) == 1
