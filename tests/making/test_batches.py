"""Batches: written down, labelled, amended, due on a day, and traced to the sheets they touched."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from collections.abc import Callable
from datetime import date
from typing import Any

import msgspec
import pytest

from kb.book.append import append
from kb.book.check import make_amend, make_kept
from kb.book.fold import fold
from kb.book.kinds.batch import BATCH, Batch
from kb.book.kinds.bath_reading import BathReading
from kb.book.kinds.kind import checked
from kb.book.kinds.parts import Portion
from kb.book.verify import verify
from kb.cli.main import main
from kb.desk.amounts import portion
from kb.desk.errors import DeskError, Unclear
from kb.desk.keep import rebuild
from kb.desk.making.batch_typed import changes, weights
from kb.desk.making.batches import (
    all_batches,
    batch_id,
    expiring,
    facts,
    filled,
    finish,
    keeps_until,
    keeps_words,
    label,
    mark_bad,
    named,
    portions,
    record,
    show,
    trace,
)
from kb.desk.making.recipe import make, recipe
from kb.desk.records.book_list import amend_record, withdraw_record
from kb.desk.records.record import add_test
from kb.desk.studio import Studio
from tests.conftest import spot
from tests.whole_book import all_lines

TODAY = date(2026, 6, 15)
HOT = "wheat-paste-hot-plate"


def put(studio: Studio, **fields: Any) -> str:
    """Write down a batch; returns its id."""
    return record(studio, Batch(**{"recipe": HOT, **fields}), TODAY).id


# The record


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({}, "neither a recipe nor"),
        ({"name": "  "}, "neither a recipe nor"),
        ({"name": "x", "ph": 15}, "not a pH"),
        ({"name": "x", "ph": float("nan")}, "not a pH"),
        ({"name": "x", "expires": "soon"}, "not a date"),
        ({"name": "x", "expires": "2026-02-30"}, "not a date"),
        ({"name": "x", "made_amount": -1.0}, "not an amount"),
        ({"name": "x", "weights": (Portion(name="", amount=1, unit="g"),)}, "no name"),
        ({"name": "x", "weights": (Portion(name="a", amount=float("inf"), unit="g"),)}, "not an amount"),
        ({"name": "x", "weights": (Portion(name="a", amount=1, unit="g", batch="1"),)}, "not the id"),
    ],
)
def test_what_cannot_be_is_refused(fields: dict[str, Any], said: str) -> None:
    """On the way in and out by the same rule."""
    with pytest.raises(ValueError, match=said):
        checked(BATCH, Batch(**fields))


def test_unknown_fields_are_refused() -> None:
    """A misspelt field is never dropped silently."""
    with pytest.raises(ValueError, match="does not fit"):
        make_kept("batch", {"name": "x", "colour": "red"})


def test_an_amend_of_a_batch_is_checked_by_its_rules() -> None:
    """A field that only batches have is known; its content is checked."""
    of, why = "01HZ0000000000000000000000", "typed wrong"
    make_amend({"of": of, "set": {"strength": "12 % w/w"}, "why": why})
    make_amend({"of": of, "set": {"name": ""}, "why": why})
    with pytest.raises(ValueError, match="not a date"):
        make_amend({"of": of, "set": {"made_at": "soon"}, "why": why})


def test_a_batch_takes_from_its_recipe_what_was_not_given(studio: Studio) -> None:
    """Version, name, strength, last day and hazard words; what is given stays."""
    one = show(studio, put(studio))
    assert one.name == recipe(studio, HOT).recipe.name
    assert one.version == recipe(studio, HOT).version
    assert one.strength.startswith("12.5 % w/w")
    assert (one.made_at, one.expires) == ("2026-06-15", "2026-06-18")
    given = show(studio, put(studio, name="thin paste", expires="2026-06-16", made_at="2026-06-14"))
    assert (given.name, given.expires, given.made_at) == ("thin paste", "2026-06-16", "2026-06-14")
    lime = show(studio, put(studio, recipe="limewater-stock"))
    assert "caustic" in lime.hazards
    free = filled(studio, Batch(name="own mix"), TODAY)
    assert (free.expires, free.version) == ("", "")
    assert dict(facts(msgspec.structs.replace(one, version="")))["recipe"] == HOT


def test_the_shortest_shelf_life_counts(studio: Studio) -> None:
    """Of "3 to 7 days" the safe end, of two the earlier; of hours the same day; none if none is named."""
    made = date(2026, 6, 1)
    assert keeps_until(recipe(studio, "methyl-cellulose-2").recipe, made) == "2026-07-01"
    assert keeps_until(recipe(studio, "lime-wash").recipe, made) == "2026-06-01"
    assert keeps_until(recipe(studio, "chalk-bed-water").recipe, made) == ""
    assert keeps_until(recipe(studio, HOT).recipe, made) == "2026-06-04"
    assert keeps_words(recipe(studio, HOT).recipe).startswith("3 days on, if left empty; keeps 3 to 7 days")
    assert keeps_words(recipe(studio, "lime-wash").recipe).startswith("the same day, if left empty; keeps")


def test_days_ahead_and_unknown_sources_are_refused(studio: Studio) -> None:
    """Nothing is recorded then."""
    with pytest.raises(DeskError, match="lies ahead"):
        put(studio, made_at="2026-06-16")
    with pytest.raises(DeskError, match="not a date"):
        put(studio, made_at="soon")
    with pytest.raises(DeskError, match="no recipe"):
        put(studio, recipe="no-such")
    with pytest.raises(DeskError, match="No batch"):
        put(studio, weights=(Portion(name="paste", amount=1, unit="g", batch="01HZ0000000000000000000000"),))
    assert all_batches(studio, finished=True) == []


def test_weights_are_the_recipe_s_corrected_by_the_balance(studio: Studio) -> None:
    """What was weighed goes before what was planned; what is not of the recipe is added."""
    planned = portions(make(studio, HOT, "220 g"))
    assert [(one.amount, one.unit) for one in planned] == [(28.5, "g"), (200.0, "ml")]
    found = weights(studio, HOT, "220 g", None, ["starch 28.7 g", "thymol 0.1 g"], [])
    assert [(one.name, one.amount) for one in found] == [
        ("wheat starch", 28.7),
        ("deionised water", 200.0),
        ("thymol", 0.1),
    ]
    for wrong in (["28.7"], ["starch lots"]):
        with pytest.raises(DeskError):
            weights(studio, HOT, "220 g", None, wrong, [])
    with pytest.raises(DeskError, match="needs a recipe"):
        weights(studio, "", "220 g", None, [], [])


@pytest.mark.parametrize(
    ("typed", "name", "amount"),
    [
        # The colon of a ratio begins no amount: one to one in 100 ml was stored as 1,100.
        *((f"ethanol {ratio} 100 ml", f"ethanol {ratio}", 100.0) for ratio in ("1:1", "50:50", "1 : 1")),
        *(("alum: 1 000,5 g", "alum", 1000.5), ("water:  1\u00a0 000.0 ml", "water", 1000.0)),
        *(("PEG 4000 5 g", "PEG 4000", 5.0), ("ethanol 70 % 50 ml", "ethanol 70 %", 50.0)),
        *(("lime 1.5 g/l 50 ml", "lime 1.5 g/l", 50.0), ("buffer 10x: 5 ml", "buffer 10x", 5.0)),
        *((typed, "two ways", 0.0) for typed in ("alum 1 000,5 g", "water 1  000 ml", "buffer pH 8 500 ml")),
        ("water 1 00 ml", "without a blank", 0.0),
        *(("water: 1 00 ml", "without a blank", 0.0), ("alum 1 000 to 1200 g", "two ways", 0.0)),
        *((f"alum 5 {sign} 6 g", "more than one", 0.0) for sign in ("to", "–", "or", "/", "×", "x")),
        *((typed, "more than one", 0.0) for typed in ("5 to 6 g", "starch 16,3 g in water: 100 ml")),
    ],
)
def test_one_name_and_one_amount_are_weighed(typed: str, name: str, amount: float) -> None:
    """The rest of a figure is no part of the name; what may be two is refused."""
    if not amount:
        with pytest.raises(DeskError, match=name):
            portion(typed)
    else:
        found = portion(typed)
        assert (found.name, found.amount) == (name, amount)


def test_amended_withdrawn_and_finished(studio: Studio) -> None:
    """The list follows; the first record stays; the index derived anew says the same."""
    one, other, third = put(studio), put(studio), put(studio)
    amend_record(studio, one, changes(studio, ["ph=6,8", "expires=2026-06-20", "made=118 g"]), "read again")
    withdraw_record(studio, other, "never made")
    finish(studio, third, on="2026-06-15", today=TODAY)
    before = all_batches(studio, finished=True)
    assert [(row.id, row.state) for row in before] == [(third, "amended"), (one, "amended")]
    assert (before[1].ph, before[1].expires, before[1].made) == (6.8, "2026-06-20", "118 g")
    assert [row.id for row in all_batches(studio)] == [one]
    assert show(studio, other).state == "withdrawn"
    rebuild(studio)
    assert all_batches(studio, finished=True) == before
    assert studio.unread() == []
    assert verify(studio.book_dir) == []
    assert fold(all_lines(studio.book_dir)).kept["batch"][one].body.ph == 6.8


def test_fields_that_are_no_batch_s_are_refused(studio: Studio) -> None:
    """By name, before anything is written; a text without a sign is no change."""
    one = put(studio)
    with pytest.raises(DeskError, match="no field"):
        amend_record(studio, one, {"release": 2}, "x")
    for wrong in (["expires"], ["ph=acid"], ["weights=1"], ["made=lots"]):
        with pytest.raises(DeskError):
            changes(studio, wrong)
    # All weights would give way to the one that is typed, and with them the stock that it came from.
    with pytest.raises(DeskError, match="withdraw the batch"):
        changes(studio, ["weights=wheat starch 20 g"])
    assert changes(studio, ["hazards=caustic, hot", "ph=-"]) == {"hazards": ("caustic", "hot"), "ph": None}


def test_a_change_that_arrives_before_its_batch(studio: Studio) -> None:
    """Files of two benches may be read in any order."""
    one = put(studio)
    lines = (studio.book_dir / "bench-a.jsonl").read_bytes()
    (studio.book_dir / "bench-a.jsonl").unlink()
    studio.refresh()
    body = {"of": one, "set": {"strength": "strong"}, "why": "tasted"}
    append(studio.book_dir, bench="bench-b", who="b", kind="amend", body=body)
    studio.refresh()
    (studio.book_dir / "bench-a.jsonl").write_bytes(lines)
    studio.refresh()
    assert show(studio, one).strength == "strong"


def test_a_batch_is_named_by_the_beginning_of_its_id(studio: Studio) -> None:
    """Unless two share it; other words stay words."""
    one = put(studio)
    assert batch_id(studio, one[:12].lower()) == one
    assert named(studio, show(studio, one).short) == one
    assert named(studio, "the jar by the window") == "the jar by the window"
    other = put(studio)
    with pytest.raises(Unclear):
        batch_id(studio, one[:4])
    assert show(studio, one).short != show(studio, other).short
    with pytest.raises(DeskError, match="No batch"):
        batch_id(studio, "zzzz")
    with pytest.raises(DeskError, match="no batch"):
        show(studio, "01HZ0000000000000000000000")


# The label


def test_a_label_says_what_a_jar_must_say(studio: Studio) -> None:
    """Contents, strength, day, last day, hazard words, short id; the drawing holds the same."""
    one = put(studio, recipe="limewater-stock", ph=12.4)
    made = label(studio, one)
    flat = " ".join(made.text.split())
    for text in ("saturated stock", "CAUSTIC", "pH 12.4", "made 2026-06-15", "use by 2026-12-12", made.short):
        assert text in flat
    root = ET.fromstring(made.svg)
    assert (root.get("width"), root.get("height")) == ("80mm", "50mm")
    assert [part.text for part in root if part.tag.endswith("text")] == made.text.splitlines()


def test_a_label_takes_any_text_and_loses_none(studio: Studio) -> None:
    """Markup is text, long words are broken, many words are set smaller, and all of it stays inside."""
    name = "<b>&\"' " + "x" * 90 + " \u202e]]>"
    one = put(studio, recipe="", name=name, hazards=tuple(f"hazard {n}" for n in range(40)))
    made = label(studio, one)
    root = ET.fromstring(made.svg)
    texts = [part for part in root if part.tag.endswith("text")]
    assert "".join(part.text or "" for part in texts).count("x") >= 90
    assert all(float(part.get("y") or 0) <= 49 for part in texts)
    assert "HAZARD 39" in " ".join(made.text.split())
    assert "\u202e" not in made.svg
    assert "use by: not known" in made.text


# What is due


def test_due_on_a_day(studio: Studio) -> None:
    """Bad first, then expired, then what expires soon; what is finished or keeps is not listed."""
    soon = put(studio, expires="2026-06-17")
    late = put(studio, expires="2026-06-10")
    keeps = put(studio, expires="2026-07")
    bad = put(studio, expires="2026-08-01")
    gone = put(studio, expires="2026-06-01")
    mark_bad(studio, bad, "smells sour")
    finish(studio, gone, on="2026-06-02", today=TODAY)
    found = expiring(studio, TODAY)
    assert [(one.batch, one.what) for one in found] == [
        (bad, "bad"),
        (late, "expired"),
        (soon, "expires soon"),
    ]
    assert "smells sour" in found[0].text
    assert keeps in {one.batch for one in expiring(studio, TODAY, 60)}
    with pytest.raises(DeskError, match="what is wrong"):
        mark_bad(studio, keeps, " ")


# Where it went


def test_a_bad_batch_is_traced_to_every_sheet(studio: Studio, record: Callable[..., str]) -> None:
    """By full and short id, through a batch it was made into, in tests and bath readings."""
    paste = put(studio)
    gel = put(studio, recipe="methyl-cellulose-2")
    taken = Portion(name="sieved wheat starch paste", amount=30, unit="ml", batch=paste)
    mix = put(studio, recipe="paste-and-gel-equal", weights=(taken,))
    short = show(studio, mix).short
    direct = record(studio, sheet="Map", batch=paste)
    through = record(studio, sheet="Print", batch=short.lower())
    record(studio, sheet="Drawing", batch=gel)
    record(studio, sheet="Letter", batch="the jar by the window")
    reading = BathReading(sheet="Poster", ph=8.0, batch=mix)
    append(studio.book_dir, bench=studio.bench, who="a", kind="reading", body=reading)
    other = {"sheet": "Chart", "batch": paste}
    append(studio.book_dir, bench=studio.bench, who="a", kind="mending", body=other)
    studio.refresh()
    mark_bad(studio, paste, "mould")
    found = trace(studio, paste)
    assert found.batch.bad == "mould"
    assert [one.id for one in found.made_into] == [mix]
    assert found.sheets == ("Chart", "Map", "Poster", "Print")
    assert {(one.id, one.through) for one in found.uses} >= {(direct, paste), (through, mix)}
    assert {one.kind for one in found.uses} == {"test", "reading", "mending"}


def test_withdrawn_uses_are_left_out_and_amended_ones_follow(
    studio: Studio, record: Callable[..., str]
) -> None:
    """As the book stands now."""
    one, other = put(studio), put(studio)
    wrong = record(studio, sheet="Map", batch=one)
    moved = record(studio, sheet="Print", batch=one)
    withdraw_record(studio, wrong, "not made")
    amend_record(studio, moved, {"batch": other}, "took the other jar")
    assert trace(studio, one).sheets == ()
    assert trace(studio, other).sheets == ("Print",)


def test_batches_made_of_one_another_in_a_circle_end(studio: Studio) -> None:
    """An amendment can make a circle; a trace ends all the same."""
    one = put(studio)
    other = put(studio, weights=(Portion(name="a", amount=1, unit="g", batch=one),))
    back = [{"name": "b", "amount": 1.0, "unit": "g", "batch": other}]
    amend_record(studio, one, {"weights": back}, "odd")
    assert [row.id for row in trace(studio, one).made_into] == [other]


def test_tests_without_a_batch_are_as_before(studio: Studio) -> None:
    """The column is empty where none was named."""
    add_test(studio, spot())
    studio.refresh()
    assert studio.index.conn.execute("SELECT batch FROM test").fetchall() == [("",)]


# The command


def run(studio: Studio, capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    """Exit code, standard output and standard error of a command on the studio."""
    studio.close()
    code = main([*words[:1], "--studio", str(studio.root), *words[1:]])
    out = capsys.readouterr()
    return code, out.out, out.err


def test_command_from_the_pot_to_the_sheet(studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """Add, show, label, use in a spot test, mark as bad, due, trace, finish."""
    code, out, _ = run(
        studio, capsys, "batch", "add", "--recipe", "wheat starch paste", "--make", "120 ml",
        "--weighed", "starch 16.4 g", "--made", "118 g", "--ph", "6.8", "--water", "deionised", "--json",
    )  # fmt: skip
    assert code == 0
    one = json.loads(out)["id"]
    code, out, _ = run(studio, capsys, "batch", "show", one, "--json")
    shown = json.loads(out)
    assert (shown["ph"], shown["made"], shown["weights"][0]["amount"]) == (6.8, "118 g", 16.4)
    svg = studio.root / "label.svg"
    assert run(studio, capsys, "batch", "label", one, "--svg", str(svg))[0] == 0
    assert ET.parse(svg).getroot().tag.endswith("svg")
    assert run(studio, capsys, "batch", "label", one, "--svg", str(svg))[0] == 3
    assert shown["short"] in run(studio, capsys, "batch", "label", one)[1]
    run(
        studio, capsys, "test", "add", "--medium", "letterpress", "--liquid", "water", "--dwell", "30s",
        "--release", "1", "--sheet", "Tide table", "--new-sheet", "--batch", shown["short"],
    )  # fmt: skip
    assert run(studio, capsys, "batch", "due")[0] == 0
    assert run(studio, capsys, "batch", "bad", one, "--why", "mould")[0] == 0
    assert run(studio, capsys, "batch", "due", "--json")[0] == 1
    code, out, _ = run(studio, capsys, "batch", "trace", one)
    assert (code, "sheets touched: Tide table" in out) == (1, True)
    assert run(studio, capsys, "batch", "finish", one)[0] == 0
    assert "No batch is in use" in run(studio, capsys, "batch", "list")[1]
    assert len(json.loads(run(studio, capsys, "batch", "list", "--all", "--json")[1])) == 1
    assert run(studio, capsys, "verify")[0] == 0


def test_command_refusals(studio: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing named, an unknown batch, an unknown recipe."""
    assert run(studio, capsys, "batch", "add")[0] == 3
    assert run(studio, capsys, "batch", "show", "01HZX")[0] == 3
    assert run(studio, capsys, "batch", "add", "--recipe", "qqqq")[0] == 1
    one = put(studio)
    assert run(studio, capsys, "batch", "amend", one, "--set", "ph=7.0", "--why", "read again")[0] == 0
    assert run(studio, capsys, "batch", "withdraw", one, "--why", "twice")[0] == 0
    assert run(studio, capsys, "batch", "show", one)[0] == 0
