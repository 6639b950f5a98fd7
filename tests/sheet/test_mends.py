"""Mends: from typed words to the book and back, ids of the catalogue, and batches that speak against them."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date
from errno import ENOSPC
from hashlib import sha256
from pathlib import Path
from typing import Any

import msgspec
import pytest

from kb.book.check import make_amend
from kb.book.kinds.batch import Batch
from kb.book.kinds.mend import ADHESIVE, Mend
from kb.book.kinds.parts import Portion, Site
from kb.book.kinds.toning import Toning
from kb.book.verify import verify
from kb.cli.main import main
from kb.desk.errors import DeskError, Unclear
from kb.desk.keep import rebuild
from kb.desk.making import steps
from kb.desk.making.batches import mark_bad, record, touched, trace
from kb.desk.records.book_list import amend_record, withdraw_record
from kb.desk.records.fill import begin, like, understood
from kb.desk.sheet import press
from kb.desk.sheet.facts import SheetFacts, sheet_facts
from kb.desk.sheet.plan import sections, sheet_plan
from kb.desk.sheet.press import last_done
from kb.desk.sheet.report import report
from kb.desk.sheet.report import text as text_of
from kb.desk.sheet.sheets import add_condition, add_sheet, condition_list
from kb.desk.studio import Studio
from kb.index.kept_rows import kept
from tests.work_help import add_mend, add_toning, mend_from_words, mends, warnings

TODAY = date(2026, 6, 10)
FULL = {
    "sheet": "S1",
    "tear": "Plain",
    "site": "lower edge",
    "face": "back",
    "length": "4.5 cm",
    "width": "8",
    "tissue": "tengujo",
    "strips": "3",
    "adhesive": "wheat starch paste",
    "pressed": "1 h",
    "at": "2026-05-31T14:30",
    "remarks": "laid dry",
}


def paste(studio: Studio, **fields: Any) -> str:
    """A batch of paste; returns its id."""
    usual: dict[str, Any] = {"name": "wheat starch paste", "made_at": "2026-06-01", "expires": "2026-06-08"}
    return record(studio, Batch(**{**usual, **fields}), TODAY).id


def test_typed_words_become_a_mend(studio: Studio) -> None:
    """Amounts are brought to the unit of the field, a tissue to its id, an adhesive stays as called."""
    mend = mend_from_words(studio, FULL)
    assert msgspec.to_builtins(mend) == {
        "sheet": "S1",
        "tear": "plain",
        "site": {"words": "lower edge", "face": "back"},
        "length_mm": 45.0,
        "width_mm": 8.0,
        "tissue": "tengujo-5",
        "strips": 3,
        "adhesive": "wheat starch paste",
        "pressed_minutes": 60.0,
        "mended_at": "2026-05-31T14:30",
        "remarks": "laid dry",
    }


def test_what_is_not_said_is_left_out(studio: Studio) -> None:
    """A sheet alone is enough, and nothing else stands for nothing."""
    assert mend_from_words(studio, {"sheet": " S1 "}) == Mend(sheet="S1")


@pytest.mark.slow
def test_words_to_book_to_index_to_view(studio: Studio) -> None:
    """What was stored is what is listed, also after the index was derived anew."""
    mend = mend_from_words(studio, FULL)
    written = add_mend(studio, mend)
    other = add_mend(studio, Mend(sheet="S2"))
    first = mends(studio, "S1")
    assert [one.mend for one in first] == [mend]
    assert (first[0].id, first[0].at, first[0].state) == (written.id, "2026-05-31T14:30", "")
    assert (first[0].tissue, first[0].adhesive) == ("Tengujo", "wheat starch paste")
    assert first[0].words == (
        "plain tear 45 x 8 mm, lower edge (back), 3 strips of Tengujo, wheat starch paste, pressed 60 min"
    )
    rebuild(studio)
    assert mends(studio, "S1") == first
    assert [one.id for one in mends(studio)] == [written.id, other.id]
    assert verify(studio.book_dir) == []


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"tear": "rip"}, "plain, scarfed, through"),
        ({"face": "side"}, "front and back"),
        ({"length": "5 kg"}, "cm, mm"),
        ({"strips": "a few"}, "whole number"),
        ({"pressed": "5 mm"}, "min"),
        ({"at": "yesterday"}, "2024-05-31"),
        ({"at": "2999-01-01"}, "ahead of today"),
        ({"batch": "01ZZZZZZZZ"}, "No batch"),
        ({"toning": "01ZZZZZZZZ"}, "No toning test"),
        ({"photo": ["/nowhere/at/all.jpg"]}, "photograph"),
    ],
)
def test_what_cannot_be_is_refused_before_it_is_stored(
    studio: Studio, typed: dict[str, Any], said: str
) -> None:
    """A sentence that makes sense on a screen, and no record."""
    with pytest.raises(DeskError, match=said) as caught:
        mend_from_words(studio, {"sheet": "S1", **typed})
    assert "--" not in str(caught.value)
    assert mends(studio) == []


def test_a_mend_without_a_sheet_is_refused(studio: Studio) -> None:
    """The check of the book is the last word."""
    with pytest.raises(DeskError, match="names no sheet"):
        add_mend(studio, mend_from_words(studio, {}))


def test_batch_by_the_beginning_of_its_id(studio: Studio) -> None:
    """The whole id is stored; a beginning that two share is asked about."""
    one, two = paste(studio), paste(studio)
    shared = next(end for end in range(26) if one[:end] != two[:end]) - 1
    assert mend_from_words(studio, {"sheet": "S1", "batch": one.lower()}).batch == one
    with pytest.raises(Unclear):
        mend_from_words(studio, {"sheet": "S1", "batch": one[:shared]})


def test_a_batch_of_another_adhesive_speaks_against_the_mend(studio: Studio) -> None:
    """One key fills the batch, and the two lines then contradict each other in the owner's paper."""
    made = paste(studio), paste(studio, name="Hydroxypropyl cellulose in ethanol")
    told = [
        warnings(
            studio, mend_from_words(studio, {"sheet": "S", "adhesive": "wheat starch paste", "batch": one})
        )
        for one in made
    ]
    assert not any("one is wrong" in words for words in told[0])
    assert any("is Hydroxypropyl cellulose in ethanol, and the adhesive" in words for words in told[1])


def test_adhesive_of_the_batch_where_none_is_said(studio: Studio) -> None:
    """A recipe's id from a batch made by one; the batch's name otherwise; words that were said go before."""
    made, plain = paste(studio, recipe="rice-paste", name=""), paste(studio)
    assert mend_from_words(studio, {"sheet": "S", "batch": made}).adhesive == "rice-paste"
    assert mend_from_words(studio, {"sheet": "S", "batch": plain}).adhesive == "wheat starch paste"
    said = mend_from_words(studio, {"sheet": "S", "batch": made, "adhesive": "thin paste"})
    assert said.adhesive == "thin paste"


@pytest.mark.slow
def test_other_names_of_one_recipe_do_not_claim_it(studio: Studio) -> None:
    """ "Wheat paste" is the other name of one of many recipes; its full name and its id are it."""
    found = {
        text: mend_from_words(studio, {"adhesive": text}).adhesive
        for text in ("wheat paste", "Rice starch paste")
    }
    assert found == {"wheat paste": "wheat paste", "Rice starch paste": "rice-paste"}
    told = warnings(studio, Mend(sheet="S", adhesive="wheat paste", tissue="some tissue"))
    assert [text for text in told if "kept as typed" in text] == list(told)
    assert ['"some tissue"' in told[0], '"wheat paste"' in told[1]] == [True, True]
    assert warnings(studio, Mend(sheet="S", adhesive="rice-paste", tissue="tengujo-5")) == ()


def seen(studio: Studio, batch: str, **fields: Any) -> tuple[str, ...]:
    """Warnings of a mend with a batch, as it is listed."""
    written = add_mend(studio, Mend(sheet="S1", batch=batch, **fields))
    found = next(one for one in mends(studio) if one.id == written.id)
    return found.warnings


def test_bad_expired_and_withdrawn_batches_are_told_and_stored(studio: Studio) -> None:
    """The record of what was done is kept; what speaks against it stands beside it."""
    fine = paste(studio)
    assert seen(studio, fine, mended_at="2026-06-08") == ()
    late = seen(studio, fine, mended_at="2026-06-09")
    assert len(late) == 1
    assert "had expired on 2026-06-08" in late[0]
    mark_bad(studio, fine, "smells sour")
    assert any("must not be used: smells sour" in text for text in seen(studio, fine, mended_at="2026-06-08"))
    withdraw_record(studio, fine, "written twice")
    assert any("was withdrawn" in text for text in seen(studio, fine, mended_at="2026-06-08"))
    assert len(mends(studio)) == 4


def test_a_batch_made_from_a_bad_one_is_told(studio: Studio) -> None:
    """The way back through what it was mixed from."""
    stock = paste(studio, name="stock")
    thinned = paste(
        studio, name="thinned", weights=(Portion(name="stock", amount=10.0, unit="g", batch=stock),)
    )
    mark_bad(studio, stock, "mould")
    told = seen(studio, thinned, mended_at="2026-06-02")
    assert len(told) == 1
    assert "stock" in told[0]
    assert f"went into batch {thinned[:10]}" in told[0]


def test_a_batch_made_from_a_bad_one_is_bad_wherever_it_is_shown(
    studio: Studio, capsys: pytest.CaptureFixture[str]
) -> None:
    """List, what is due and the batch itself called it good, and a test made with it was not warned."""
    stock = paste(studio, name="stock")
    thinned = paste(
        studio, name="thinned", weights=(Portion(name="stock", amount=10.0, unit="g", batch=stock),)
    )
    mark_bad(studio, stock, "mould")
    at = ("--studio", str(studio.root))
    for words in (["batch", "list"], ["batch", "due"], ["batch", "show", thinned]):
        main([words[0], *at, *words[1:]])
        out = capsys.readouterr().out
        assert "mould" in out or out.count("BAD") == 2, words
        assert "made from batch" in out.replace("\n", " ") or out.count("BAD") == 2, words
    main(["test", *at, "add", "--liquid", "water", "--release", "1", "--dwell", "30s", "--batch", thinned])
    said = " ".join(capsys.readouterr().err.split())
    assert (
        f"Batch {stock[:10]} (stock), which went into batch {thinned[:10]}, must not be used: mould" in said
    )


def test_trace_finds_mends_and_the_colours_of_toning_tests(studio: Studio) -> None:
    """From a batch to every sheet, and from the sheet back to the batch; withdrawn ones do not count."""
    stock = paste(studio, name="stock")
    colour = paste(
        studio, name="colour", weights=(Portion(name="stock", amount=10.0, unit="g", batch=stock),)
    )
    mend = add_mend(studio, Mend(sheet="S1", batch=stock)).id
    gone = add_mend(studio, Mend(sheet="S9", batch=stock)).id
    withdraw_record(studio, gone, "another sheet")
    tone = add_toning(
        studio,
        Toning(
            sheet="S2",
            tissue="tengujo-5",
            colourants=(Portion(name="colour", amount=1.0, unit="g", batch=colour),),
        ),
    ).id
    found = trace(studio, stock)
    assert [(one.kind, one.id, one.through) for one in found.uses] == [
        ("mend", mend, stock),
        ("toning", tone, colour),
    ]
    assert found.sheets == ("S1", "S2")
    assert [one.id for one in touched(studio, "S1")] == [stock]
    assert [one.id for one in touched(studio, "S2")] == [colour, stock]
    assert touched(studio, "S9") == []


def test_sheet_batches_are_those_that_a_trace_finds(studio: Studio, record: Callable[..., str]) -> None:
    """Both ways agree for tests, readings, records of unknown kinds and names by a beginning."""
    made = [paste(studio, name=f"paste {number}") for number in range(5)]
    into = paste(studio, weights=(Portion(name="p", amount=1.0, unit="g", batch=made[0]),))
    record(studio, sheet="S1", batch=into)
    record(studio, sheet="S2", batch=made[1])
    record(studio, sheet="S1", batch=made[2].lower())
    record(studio, sheet="S1", batch="gel of Monday")
    add_mend(studio, Mend(sheet="S1", batch=made[3]))
    from kb.book.append import append

    append(studio.book_dir, bench="b", who="x", kind="tea", body={"sheet": "S1", "batch": made[4]})
    studio.mark_stale()
    for sheet in ("S1", "S2", "S3"):
        back = {one.id for one in touched(studio, sheet)}
        assert back == {one for one in (*made, into) if sheet in trace(studio, one).sheets}
    assert len(touched(studio, "S1")) == 5


def test_the_sheets_page_lists_what_was_done(studio: Studio) -> None:
    """Mends and toning tests under the tissue, with their warnings; of this sheet only."""
    batch = paste(studio)
    add_mend(studio, Mend(sheet="S1", length_mm=45.0, batch=batch, mended_at="2026-06-09"))
    add_mend(studio, Mend(sheet="S2", length_mm=99.0))
    add_toning(studio, Toning(sheet="S1", tissue="tengujo-5"))
    plan = sheet_plan(studio, "S1", SheetFacts())
    assert [len(plan.mends), len(plan.tonings), len(plan.housings)] == [1, 1, 0]
    assert [one.id for one in plan.batches] == [batch]
    lines = dict(sections(studio, plan))["Repair tissue"]
    text = "\n".join(lines)
    assert "Mends so far:" in text
    assert "- 2026-06-09 45 mm" in text
    assert "! Batch" in text
    assert "99 mm" not in text
    assert "Toning tests so far:" in text
    empty = dict(sections(studio, sheet_plan(studio, "S3", SheetFacts())))
    assert not any("so far" in one for one in (*empty["Repair tissue"], *empty["Housing"]))


def test_a_toning_test_named_by_its_id(studio: Studio) -> None:
    """The mend points at the trial that its tissue was matched by."""
    tone = add_toning(studio, Toning(sheet="S1", tissue="tengujo-5")).id
    mend = mend_from_words(studio, {"sheet": "S1", "toning": tone[:20]})
    assert mend.toning == tone


def test_a_photograph_is_tied_to_its_content(studio: Studio, tmp_path: Path) -> None:
    """One path or several."""
    path = tmp_path / "mend.jpg"
    path.write_bytes(b"as if")
    for named in (str(path), [path], [str(path)]):
        (one,) = mend_from_words(studio, {"sheet": "S1", "photo": named}).photos
        assert one.sha256 == sha256(b"as if").hexdigest()


def test_amended_and_withdrawn(studio: Studio) -> None:
    """The list shows what holds now."""
    one = add_mend(studio, mend_from_words(studio, FULL)).id
    amend_record(studio, one, {"length_mm": 54.0, "site.words": "upper edge"}, "figures had changed places")
    (now,) = mends(studio, "S1")
    assert (now.state, now.mend.length_mm) == ("amended", 54.0)
    assert (now.mend.site.words, now.mend.site.face) == ("upper edge", "back")
    withdraw_record(studio, one, "another sheet")
    assert mends(studio, "S1") == []


def test_an_amendment_may_suit_any_kind_that_has_its_fields(studio: Studio) -> None:
    """A toning test may lose its sheet together with another field; a mend has both fields and may not."""
    tone = add_toning(studio, Toning(sheet="S1", tissue="tengujo-5")).id
    make_amend({"of": tone, "set": {"sheet": "", "tissue": "kozo-9"}, "why": "for stock"})
    amend_record(studio, tone, {"sheet": "", "tissue": "kozo-9"}, "for stock")
    mend = add_mend(studio, Mend(sheet="S1")).id
    with pytest.raises(DeskError, match="names no sheet"):
        amend_record(studio, mend, {"sheet": "", "tissue": "kozo-9"}, "for stock")
    with pytest.raises(ValueError, match="names"):
        make_amend({"of": tone, "set": {"tissue": "", "sheet": ""}, "why": "neither can be"})


# By command


@pytest.fixture
def run(studio: Studio, capsys: pytest.CaptureFixture[str]) -> Callable[..., tuple[int, str, str]]:
    def command(*words: str) -> tuple[int, str, str]:
        code = main(["mend", *words, "--studio", str(studio.root)])
        said = capsys.readouterr()
        return code, said.out, said.err

    return command


def test_add_and_list_by_command(studio: Studio, run: Callable[..., tuple[int, str, str]]) -> None:
    """Stored with its warnings, listed on one line; JSON holds the same."""
    batch = paste(studio)
    studio.close()
    code, out, _ = run(
        "add", "S1", "--new-sheet", "--tear", "plain", "--length", "45 mm", "--batch", batch[:12]
    )
    assert code == 0
    assert "Stored and on disk: mend" in out
    assert "had expired" in " ".join(out.split())
    code, out, _ = run("list", "S1")
    assert code == 0
    assert "S1: plain tear 45 mm, wheat starch paste (batch" in out.splitlines()[0]
    code, out, _ = run("list", "S1", "--json")
    assert json.loads(out)[0]["mend"]["length_mm"] == 45.0
    code, out, err = run("list", "S2")
    assert (code, out) == (1, "")
    assert 'There is no sheet "S2"' in err


def test_refusals_by_command(run: Callable[..., tuple[int, str, str]]) -> None:
    """One sentence on standard error, nothing on standard output, and code 3."""
    code, out, err = run("add", "S1", "--new-sheet", "--batch", "01ZZZZZZZZ")
    assert (code, out) == (3, "")
    assert "No batch" in err


def test_hostile_words_are_text(studio: Studio, run: Callable[..., tuple[int, str, str]]) -> None:
    """Control characters do not reach the terminal; markup and SQL are words."""
    add_mend(studio, Mend(sheet="'; DROP TABLE kept; --", site=Site(words="[red]\x1b[2J")))
    studio.close()
    code, out, _ = run("list")
    assert code == 0
    assert "\x1b" not in out
    assert "[red]" in out


def test_a_figure_that_cannot_be_read_is_told_with_its_line(studio: Studio) -> None:
    """Whoever filled twelve lines need not look for the one that is meant."""
    with pytest.raises(DeskError, match=r"^Width: .kozo. does not begin with a number"):
        mend_from_words(studio, FULL | {"width": "kozo"})


def test_names_near_a_name_that_no_entry_has_are_said_and_offered(studio: Studio) -> None:
    """Wheat paste is no entry's whole name; those that it may mean are."""
    mend = mend_from_words(studio, FULL | {"adhesive": "wheat paste"})
    (said,) = (one for one in warnings(studio, mend) if "kept as typed" in one)
    assert "Near it: " in said
    assert "starch paste" in said
    offered = like(studio, kinds=ADHESIVE, typed="wheat paste")
    assert any("wheat starch paste" in one.value.lower() for one in offered)
    assert like(studio, kinds=("recipe",), typed="zzzzzzzz") == ()


def test_after_a_mend_no_tear_is_missing_and_pressing_is_that_of_the_mend(studio: Studio) -> None:
    """The plan asks for no tear that is mended; what was written down last is what lies wet."""
    assert any("kind of tear" in one for one in sheet_plan(studio, "S1", SheetFacts()).missing)
    assert last_done(studio, "S1") == ""
    add_mend(studio, mend_from_words(studio, FULL))
    assert not any("tear" in one for one in sheet_plan(studio, "S1", SheetFacts()).missing)
    assert last_done(studio, "S1") == "mend"


def test_a_pressing_whose_ticks_stay_is_stored_once(studio: Studio, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ticks that stay look as if nothing was stored; storing again takes them off and writes nothing."""
    for step in (1, 2, 3):
        steps.tick(studio, press.work(studio, "S1", "mend"), step)

    def full(path: Path, content: bytes) -> None:
        raise OSError(ENOSPC, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(steps, "put_whole", full)
        with pytest.raises(DeskError, match=r"Stored and on disk: pressing .*\. Its ticks stay: "):
            press.store(studio, "S1", "mend")
    (row,) = kept(studio.index.conn, "pressing", "S1")
    assert press.store(studio, "S1", "mend").id == row.id
    assert len(kept(studio.index.conn, "pressing", "S1")) == 1
    assert not press.pressing(studio, "S1", "mend").state.ticked
    for step in (1, 2, 3):
        steps.tick(studio, press.work(studio, "S1", "mend"), step)
    # What was withdrawn does not stand for it.
    withdraw_record(studio, row.id, "not dry")
    assert press.store(studio, "S1", "mend").id != row.id


def test_a_mend_settles_the_damage_that_it_names(studio: Studio) -> None:
    """For the list, the plan and the record that is handed over; and not once it is withdrawn."""
    add_sheet(studio, {"sheet": "S1"})
    tear = add_condition(
        studio, {"sheet": "S1", "damage": "tear", "place": "lower edge", "width_mm": "45"}
    ).id
    add_condition(studio, {"sheet": "S1", "damage": "stain", "place": "corner"})
    begun = begin(studio, kind="mend", sheet="S1")
    assert begun.choices["mends"][0].value == tear[:10]
    assert "tear 45 mm, lower edge" in begun.hints["mends"]
    assert any("tear 45 mm" in one for one in understood(studio, kind="mend", values=FULL).warnings)
    said = understood(studio, kind="mend", values=FULL | {"mends": tear[:10]})
    assert "It settles: tear 45 mm, lower edge" in said.words
    assert not any("stays open" in one for one in said.warnings)
    assert sheet_facts(studio, "S1").tear_length == "45 mm"
    mend = add_mend(studio, mend_from_words(studio, FULL | {"mends": tear[:10]})).id
    assert sheet_facts(studio, "S1").tear_length == ""
    assert [one.treated for one in condition_list(studio, "S1")] == ["mended 2026-05-31", ""]
    told = text_of(report(studio, "S1"))
    assert "settled: tear 45 mm, lower edge, mended 2026-05-31" in told
    assert "still open: stain" in told
    assert "still open: tear" not in told
    withdraw_record(studio, mend, "another sheet")
    assert "still open: tear 45 mm" in text_of(report(studio, "S1"))


def test_batches_that_may_be_used_are_offered_newest_first(studio: Studio) -> None:
    """By the day they were made, the newest first, the undated last; none that is bad, or made from one."""
    today = "2026-06-09"
    paste(studio, name="old paste", made_at="2020-01-01", expires="2020-01-08")
    paste(studio, name="undated paste", made_at=today, expires="")
    bad = paste(studio, name="bad paste", made_at=today, expires="2999-01-01")
    mark_bad(studio, bad, "smells")
    part = Portion(name="paste", amount=10.0, unit="g", batch=bad)
    paste(studio, name="paste from it", made_at=today, expires="2999-01-01", weights=(part,))
    paste(studio, name="new paste", made_at=today, expires="2999-01-01")
    # Written down later, made earlier.
    paste(studio, name="earlier paste", made_at="2026-01-01", expires="2999-01-01")
    offered = begin(studio, kind="mend", sheet="S1").choices["batch"]
    assert [one.words.split(",")[0] for one in offered] == ["new paste", "earlier paste", "undated paste"]
    hint = begin(studio, kind="mend", sheet="S1").hints["batch"]
    assert hint == f"Ctrl+E: new paste, made {today}"
