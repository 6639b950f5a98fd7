"""Bottles in the book: written down, amended, withdrawn, and what is due on a day."""

from __future__ import annotations

import itertools
import json
import random
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from kb.book.append import BookError, append
from kb.book.check import make_amend, make_kept, make_record
from kb.book.fold import fold
from kb.book.kinds.bottle import Bottle
from kb.book.kinds.table import KINDS
from kb.book.verify import verify
from kb.cli.main import main
from kb.desk.errors import DeskError, Unclear
from kb.desk.keep import rebuild
from kb.desk.records.book_list import amend_record, withdraw_record
from kb.desk.records.record import add_test, list_tests, show_test, write
from kb.desk.shelf.bottles import (
    Due,
    all_bottles,
    bottle_id,
    due,
    finish,
    first_day,
    last_day,
    later,
    open_bottle,
    peroxide_tested,
)
from kb.desk.studio import Studio
from kb.model.record import Amend, Withdraw
from tests.conftest import spot
from tests.whole_book import all_lines

TODAY = date(2026, 6, 15)


def put(studio: Studio, liquid: str = "acetone", **fields: Any) -> str:
    """Write down a bottle; returns its id."""
    return open_bottle(studio, Bottle(liquid=liquid, **fields), TODAY).id


def whats(found: list[Due]) -> list[tuple[str, str]]:
    """Liquid and reason of each thing that is due."""
    return [(one.liquid, one.what) for one in found]


# The record


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"liquid": " "}, "names no liquid"),
        ({"liquid": "acetone", "opened": "31.5.2024"}, "is not a date"),
        ({"liquid": "acetone", "opened": "2024-02-30"}, "is not a date"),
        ({"liquid": "acetone", "opened": "20240531"}, "is not a date"),
        ({"liquid": "acetone", "expires": "2024-13"}, "is not a date"),
        ({"liquid": "acetone", "expires": "0000"}, "is not a date"),
        ({"liquid": "acetone", "expires": "9999-12-31"}, "is not a date"),
        ({"liquid": "acetone", "finished": "2024-05-31T10:00"}, "is not a date"),
        ({"liquid": "acetone", "colour": "brown"}, "colour"),
        ({"opened": "2024"}, "liquid"),
    ],
)
def test_a_bottle_that_cannot_be(fields: dict[str, Any], said: str) -> None:
    """A body that is no sound bottle is refused in a sentence."""
    with pytest.raises(ValueError, match=said):
        make_kept("bottle", fields)


def test_partial_dates_are_taken() -> None:
    """Labels give months and years."""
    assert make_kept("bottle", {"liquid": "acetone", "expires": "2026-03"}).expires == "2026-03"


def test_every_amendable_kind_has_a_least_body_that_is_whole() -> None:
    """What amends are checked against passes its own check."""
    for kind, known in KINDS.items():
        make_record(kind, known.least)
        assert set(known.type.__struct_fields__).issuperset(known.least)


def test_an_amend_may_be_of_a_test_or_of_a_bottle_but_not_of_both() -> None:
    """Fields decide; a mixture or an unknown field is refused as before."""
    of, why = "01HZ0000000000000000000000", "typed wrong"
    make_amend({"of": of, "set": {"opened": "2024-05"}, "why": why})
    make_amend({"of": of, "set": {"remarks": "fits both"}, "why": why})
    for fields, said in (
        ({"opened": "soon"}, "is not a date"),
        ({"opened": "2024", "release": 2}, "has no field"),
        ({"flavour": "red"}, "A spot test has no field 'flavour'"),
    ):
        with pytest.raises(ValueError, match=said):
            make_amend({"of": of, "set": fields, "why": why})


def test_an_amend_of_the_wrong_kind_has_no_effect_and_is_named(studio: Studio) -> None:
    """Whatever wrote the line, a test gets no date of opening and a bottle no release."""
    test, bottle = add_test(studio, spot(release=2)).id, put(studio)
    for of, fields in ((test, {"opened": "2026-01"}), (bottle, {"release": 4})):
        append(
            studio.book_dir,
            bench="other",
            who="x",
            kind="amend",
            body=Amend(of=of, set=fields, why="mixed up"),
        )
    book = fold(all_lines(studio.book_dir))
    assert book.tests[test].body.release == 2
    assert book.kept["bottle"][bottle].body == Bottle(liquid="acetone")
    assert len([one for one in book.troubles.values() if "cannot be worked in" in one]) == 2
    assert list_tests(studio)[0].release == 2
    assert all_bottles(studio)[0].opened == ""
    with pytest.raises(DeskError, match="spot test has no field 'opened'"):
        amend_record(studio, test, {"opened": "2026"}, "no")
    with pytest.raises(DeskError, match="bottle has no field 'release'"):
        amend_record(studio, bottle, {"release": 1}, "no")


def test_the_outcome_does_not_depend_on_the_order(studio: Studio) -> None:
    """Bottles fold as tests do, from the records in any order."""
    one, two = put(studio, opened="2026-01"), put(studio, "ethanol")
    peroxide_tested(studio, one, on="2026-02-01", result="none", today=TODAY)
    amend_record(studio, one, {"opened": "2025-12"}, "read again")
    withdraw_record(studio, two, "not ours")
    lines = all_lines(studio.book_dir)
    made = [fold(order).kept["bottle"] for order in itertools.permutations(lines)]
    assert all(one == made[0] for one in made)
    assert made[0][one].body.opened == "2025-12"
    assert len(made[0][one].history) == 2
    assert made[0][two].withdrawn
    assert made[0][two].why == "not ours"
    assert fold(lines).others == ()
    assert verify(studio.book_dir) == []


def test_a_damaged_bottle_is_named_and_the_rest_is_served(studio: Studio) -> None:
    """The book's check and the index both say which line it is."""
    put(studio)
    with pytest.raises(BookError, match="names no liquid"):
        append(studio.book_dir, bench="bench-a", who="x", kind="bottle", body={"liquid": ""})
    path = studio.book_dir / "bench-a.jsonl"
    path.write_bytes(path.read_bytes().replace(b'"liquid":"acetone"', b'"liquid":""'))
    assert any("no sound bottle record" in one.sentence for one in verify(studio.book_dir))
    assert any("bottle that cannot be read" in text for text in studio.unread())
    assert all_bottles(studio) == []


# The index


@pytest.mark.slow
def test_index_is_the_same_whether_read_at_once_or_bit_by_bit(studio: Studio) -> None:
    """Amendments that arrive before, with or after their bottle come out alike."""
    rng = random.Random(3)
    ids: list[str] = []
    for number in range(30):
        ids.append(put(studio, rng.choice(["acetone", "ethanol"]), opened="2026-01"))
        if rng.random() < 0.5:
            write(studio, "amend", Amend(of=rng.choice(ids), set={"lot": str(number)}, why="lot"))
        if rng.random() < 0.2:
            write(studio, "withdraw", Withdraw(of=rng.choice(ids), why="no"))
        if number % 4 == 0:
            studio.refresh()
    sql = "SELECT id, at, who, subject, body, state FROM kept ORDER BY id"
    before = studio.index.conn.execute(sql).fetchall()
    rebuild(studio)
    assert studio.index.conn.execute(sql).fetchall() == before
    assert {row[-1] for row in before} == {0, 1, 2}


def test_an_amend_that_arrives_first_waits_for_its_bottle(
    studio: Studio, new_studio: Callable[[str], Studio]
) -> None:
    """From another bench the change may come before the record; it takes effect when that arrives."""
    bottle = put(studio)
    change = amend_record(studio, bottle, {"lot": "7"}, "lot").id
    source = studio.book_dir / "bench-a.jsonl"
    first, second = source.read_bytes().splitlines(keepends=True)
    other = new_studio("other")
    other.book_dir.mkdir()
    (other.book_dir / "late.jsonl").write_bytes(second)
    assert all_bottles(other) == []
    (other.book_dir / "early.jsonl").write_bytes(first)
    other.refresh()
    assert [one.lot for one in all_bottles(other)] == ["7"]
    assert change > bottle


def test_bottles_do_not_count_as_tests(studio: Studio) -> None:
    """A bottle is no evidence, and an id of one is no id of a test."""
    bottle = put(studio)
    assert list_tests(studio) == []
    with pytest.raises(DeskError, match="No test has an id"):
        show_test(studio, bottle)


# What is due


@pytest.mark.parametrize(
    ("expires", "what"),
    [
        ("2026-06-14", "expired"),
        ("2026-06-15", "expires soon"),
        ("2026-07-15", "expires soon"),
        ("2026-07-16", ""),
        ("2026-06", "expires soon"),
        ("2026-05", "expired"),
        ("2025", "expired"),
        ("2026", ""),
    ],
)
def test_expiry(studio: Studio, expires: str, what: str) -> None:
    """The day itself still counts; a month means its last day; thirty days ahead is told."""
    put(studio, opened="2026-01-01", expires=expires)
    assert whats(due(studio, TODAY)) == ([("acetone", what)] if what else [])


@pytest.mark.parametrize(
    ("fields", "isdue"),
    [
        ({"opened": "2026-03-15"}, False),
        ({"opened": "2026-03-14"}, True),
        ({"opened": "2026-03"}, True),
        ({"opened": "2025-01-01", "peroxide_tested": "2026-03-15"}, False),
        ({"opened": "2025-01-01", "peroxide_tested": "2026-03-14"}, True),
        ({"peroxide_tested": "2026-06-01"}, False),
        ({}, True),
    ],
)
def test_peroxide_formers(studio: Studio, fields: dict[str, str], isdue: bool) -> None:
    """Three months after opening or the last test; an unknown day counts as due, and the basis is told."""
    put(studio, "tetrahydrofuran", **fields)
    found = due(studio, TODAY)
    assert whats(found) == ([("tetrahydrofuran", "peroxide test")] if isdue else [])
    assert all(one.mark == "common practice, no source" for one in found)


def test_what_forms_peroxides_is_what_its_label_says(studio: Studio) -> None:
    """EUH019 on the label decides: diethyl ether, tetrahydrofuran and dioxane do, acetone does not."""
    for liquid in ("diethyl-ether", "tetrahydrofuran", "1-4-dioxane", "acetone", "propan-2-ol"):
        put(studio, liquid, opened="2020-01-01")
    formers = {one.liquid for one in all_bottles(studio) if one.forms_peroxides}
    assert formers == {"diethyl-ether", "tetrahydrofuran", "1-4-dioxane"}
    assert {one.liquid for one in due(studio, TODAY)} == formers


def test_the_interval_is_the_studio_s(studio: Studio) -> None:
    """shelf.yaml sets the months and the notice."""
    put(studio, "diethyl-ether", opened="2026-04-30", expires="2026-07-01")
    assert whats(due(studio, TODAY)) == [("diethyl-ether", "expires soon")]
    studio.shelf_file.write_text("peroxide_test_months: 1.5\nexpiry_notice_days: 5\n")
    studio.refresh()
    assert whats(due(studio, TODAY)) == [("diethyl-ether", "peroxide test")]


def test_a_test_and_the_end_of_the_bottle_settle_it(studio: Studio) -> None:
    """A test starts the interval anew, and of a bottle that is gone nothing is due."""
    bottle = put(studio, "diethyl-ether", opened="2025-01-01", expires="2026-01")
    assert [one.what for one in due(studio, TODAY)] == ["peroxide test", "expired"]
    peroxide_tested(studio, bottle, on="2026-06-10", result=" below 1 mg/l ", today=TODAY)
    assert [one.what for one in due(studio, TODAY)] == ["expired"]
    assert all_bottles(studio)[0].peroxide_result == "below 1 mg/l"
    finish(studio, bottle, on="2026-06-15", today=TODAY)
    assert due(studio, TODAY) == []
    assert all_bottles(studio) == []
    assert all_bottles(studio, finished=True)[0].finished == "2026-06-15"


def test_a_bottle_of_which_no_day_is_known(studio: Studio) -> None:
    """It is listed until a day is given."""
    bottle = put(studio)
    assert whats(due(studio, TODAY)) == [("acetone", "undated")]
    amend_record(studio, bottle, {"expires": "2027"}, "read on the label")
    assert due(studio, TODAY) == []


def test_the_most_pressing_comes_first(studio: Studio) -> None:
    """Peroxides before expiry, the unknown before the late, the later before the less late."""
    put(studio, "acetone", opened="2026-01-01", expires="2026-06-01")
    put(studio, "ethanol", opened="2026-01-01", expires="2026-01-01")
    put(studio, "diethyl-ether", opened="2026-01-01")
    put(studio, "tetrahydrofuran")
    put(studio, "water", opened="2026-01-01", expires="2026-06-20")
    assert [one.liquid for one in due(studio, TODAY)] == [
        "tetrahydrofuran",
        "diethyl-ether",
        "ethanol",
        "acetone",
        "water",
    ]
    assert [one.days for one in due(studio, TODAY)] == [None, 75, 165, 14, -5]


def test_days_ahead_are_refused(studio: Studio) -> None:
    """Nothing was opened, tested or used up tomorrow."""
    with pytest.raises(DeskError, match="lies ahead"):
        put(studio, opened="2026-06-16")
    bottle = put(studio, opened="2026-06-15")
    with pytest.raises(DeskError, match="lies ahead"):
        peroxide_tested(studio, bottle, on="2027", result="none", today=TODAY)
    with pytest.raises(DeskError, match="is not a date"):
        finish(studio, bottle, on="next week", today=TODAY)
    with pytest.raises(DeskError, match="Say what the test showed"):
        peroxide_tested(studio, bottle, on="2026-06-15", result=" ", today=TODAY)
    assert len(all_lines(studio.book_dir)) == 1


def test_reading_of_dates() -> None:
    """First and last day of what a label says; months are counted by the calendar."""
    assert first_day("") is last_day("") is None
    assert first_day("2024-02") == date(2024, 2, 1)
    assert last_day("2024-02") == date(2024, 2, 29)
    assert last_day("2024") == date(2024, 12, 31)
    assert first_day("2024") == date(2024, 1, 1)
    assert last_day("2024-05-30") == first_day("2024-05-30") == date(2024, 5, 30)
    assert later(date(2025, 11, 30), 3) == date(2026, 2, 28)
    assert later(date(2026, 1, 31), 1.5) == date(2026, 3, 15)
    assert later(date(2026, 1, 1), 12) == date(2027, 1, 1)


def test_which_bottle_is_meant(studio: Studio) -> None:
    """By the start of its id, or by its liquid if only one is in use."""
    one = put(studio, "acetone")
    assert bottle_id(studio, one[:20].lower()) == one
    assert bottle_id(studio, "Acetone") == one
    two = put(studio, "acetone")
    with pytest.raises(Unclear):
        bottle_id(studio, "acetone")
    finish(studio, one, on="2026-06-01", today=TODAY)
    assert bottle_id(studio, "acetone") == two
    for text in ("ethanol", "nonsense words", ""):
        with pytest.raises(DeskError, match="No bottle is known"):
            bottle_id(studio, text)


# The command


def test_the_command(studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """open, due, tested, finish, amend, withdraw; exit 1 while something is due."""

    def run(*words: str) -> tuple[int, str]:
        capsys.readouterr()
        code = main(["shelf", "--studio", str(studio.root), *words])
        return code, capsys.readouterr().out

    code, out = run("open", "thf", "--opened", "2020-01-31", "--lot", "A 7", "--label", "red cap", "--json")
    assert code == 0
    bottle = json.loads(out)["id"]
    code, out = run("due")
    assert code == 1
    assert "peroxide" in out
    assert "red cap" in out
    assert "common practice, no source" in out
    code, out = run("due", "--json")
    assert code == 1
    assert json.loads(out)[0]["bottle"] == bottle
    assert run("tested", "thf", "--result", "none found")[0] == 0
    assert run("due") == (0, "Nothing is due.\n")
    assert run("amend", bottle[:14], "--set", "expires=2020-02", "--why", "read on the label")[0] == 0
    assert run("due")[0] == 1
    code, out = run()
    assert f"bottle {bottle}  Tetrahydrofuran (red cap): opened 2020-01-31" in out
    assert "none found" in out
    assert run("finish", bottle)[0] == 0
    assert run("due")[0] == 0
    assert bottle in run("--all")[1]
    assert bottle not in run()[1]
    assert run("withdraw", bottle, "--why", "not ours")[0] == 0
    assert bottle not in run("--all")[1]
    assert verify(Path(studio.book_dir)) == []


def test_open_says_so_if_the_liquid_is_forbidden_or_not_listed(
    studio: Studio, capsys: pytest.CaptureFixture[str]
) -> None:
    """The bottle is written down all the same: it is there."""
    studio.root.mkdir(exist_ok=True)
    studio.shelf_file.write_text("holds: [water]\nforbids:\n- {liquids: [acetone], why: No hood.}\n")
    assert main(["shelf", "--studio", str(studio.root), "open", "acetone", "--opened", "unknown"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "Acetone is forbidden here (local rule): No hood;" in out
    assert "not listed as held" in out
    assert len(all_bottles(Studio(studio.root))) == 1


def test_withdrawing_a_withdrawal_brings_the_bottle_back(studio: Studio) -> None:
    """As for tests."""
    bottle = put(studio)
    gone = withdraw_record(studio, bottle, "wrong").id
    assert all_bottles(studio) == []
    append(
        studio.book_dir, bench="bench-a", who="x", kind="withdraw", body=Withdraw(of=gone, why="was right")
    )
    studio.mark_stale()
    assert [one.id for one in all_bottles(studio)] == [bottle]
