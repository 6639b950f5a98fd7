"""Counts for other studios, given away without a trace of who and what; and what theirs do to an answer."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from kb.desk.errors import DeskError
from kb.desk.pool.export import counts_of, export
from kb.desk.pool.pool import add, own_id, pool_dir, view, weigh
from kb.desk.records.record import add_test
from kb.desk.studio import Studio
from kb.index.pool_file import HarmCount, ReleaseCount, parse, text_of
from kb.science.choose.pooling import FIELDS, RAW
from scripts.bench_parts.pool_sim import simulate_pool
from tests.conftest import spot
from tests.pool_help import (
    HEPTANE,
    LIQUIDS,
    TAPE,
    TODAY,
    NewStudio,
    ask,
    fill,
    found,
    harmed,
    raw,
    released,
    studio_id,
    sums,
    written,
)

# -- giving --------------------------------------------------------------------------------------


@pytest.mark.slow
def test_what_one_studio_gives_another_counts_as_its_own_book_does(
    new_studio: NewStudio, tmp_path: Path
) -> None:
    """Export and add at weight 1: the pool's sums are the giver's own sums, to the last digit."""
    giver, taker = fill(new_studio("giver"), 70, 1), new_studio("taker")
    export(giver, tmp_path / "counts.json")
    assert [one.result for one in add(taker, [tmp_path / "counts.json"], TODAY)] == ["added"]
    for table in ("release_sum", "harm_sum"):
        own = sums(giver.index.conn, table, "slot")
        assert own
        assert sums(taker.index.conn, f"pool_{table}") == own


@pytest.mark.slow
def test_a_look_that_passes_the_ink_by_is_given_as_one_at_the_paper(
    new_studio: NewStudio, tmp_path: Path
) -> None:
    """Counts say no kind of harm, so whoever receives them could not tell; of harm that was seen too."""
    work = new_studio("work")
    for harm in ({"gloss": 0}, {"tideline": 1}, {"gloss": 0, "bleed": 1}, {"tideline": 3}):
        add_test(work, spot(release=None, harm=harm))
    add_test(work, spot(release=None, medium="bare-paper", harm={"tideline": 0}))
    work.refresh()
    counts, _, _ = counts_of(work, studio_id(1))
    assert {one.medium: one.grades for one in counts.harm} == {
        "letterpress-oil": (0, 1, 0, 0, 0),
        # The gloss beside the ink that was looked at is a look at the paper as well.
        "bare-paper": (3, 1, 0, 1, 0),
    }


def test_two_studios_are_discounted_apart(new_studio: NewStudio, tmp_path: Path) -> None:
    """The same tests by two studios say more than by one: sums of both, each discounted alone."""
    givers = [fill(new_studio(f"giver{n}"), 40, n) for n in (1, 2)]
    taker = new_studio("taker")
    for number, giver in enumerate(givers):
        export(giver, tmp_path / f"{number}.json")
    add(taker, [tmp_path / "0.json", tmp_path / "1.json"], TODAY)
    for table in ("release_sum", "harm_sum"):
        one, other = (sums(giver.index.conn, table, "slot") for giver in givers)
        nothing = [0] * FIELDS
        both = {
            key: [a + b for a, b in zip(one.get(key, nothing), other.get(key, nothing), strict=True)]
            for key in {*one, *other}
        }
        assert sums(taker.index.conn, f"pool_{table}") == both


def test_the_same_counts_give_the_same_bytes(new_studio: NewStudio, tmp_path: Path) -> None:
    """Whatever the order of the records, and however often it is written."""
    first, second = new_studio("first"), new_studio("second")
    tests = [spot(parts={one: 1.0}, release=grade) for one in LIQUIDS for grade in (0, 3, 4)]
    for studio, order in ((first, tests), (second, tests[::-1])):
        for test in order:
            add_test(studio, test)
    texts = [text_of(counts_of(studio, studio_id(1), label="x")[0]) for studio in (first, second)]
    assert texts[0] == texts[1]
    export(first, tmp_path / "a.json")
    before = (tmp_path / "a.json").read_bytes()
    export(first, tmp_path / "a.json")
    assert (tmp_path / "a.json").read_bytes() == before
    assert json.loads(before)["label"] == ""


@pytest.mark.slow
def test_what_only_the_studio_knows_stays_at_home(studio: Studio, tmp_path: Path) -> None:
    """Ids that are not in the shipped catalogue are left out and counted; an own tape gives its adhesive."""
    folder = studio.root / "catalogue"
    folder.mkdir()
    (folder / "own.yaml").write_text(
        "tapes:\n- id: drawer-tape\n  name: Tape of the third drawer\n  adhesive: natural-rubber-resin\n"
        "  carrier: regenerated-cellulose-film\n  era:\n    text: now\n    from: [memory]\n  from: [memory]\n"
        "adhesives:\n- id: drawer-glue\n  name: Glue of the third drawer\n  group: acrylic\n"
        "  from: [memory]\n"
    )
    assert "drawer-glue" in studio.compiled.adhesives
    assert "drawer-tape" in studio.compiled.tapes
    add_test(studio, spot(adhesive="", carrier="", tape="drawer-tape", release=4))
    add_test(studio, spot(adhesive="drawer-glue", release=4, harm={"bleed": 1}))
    add_test(studio, spot(medium="drawer-ink", release=None, harm={"bleed": 1}))
    studio.refresh()
    done = export(studio, tmp_path / "counts.json", label="Studio North")
    text = (tmp_path / "counts.json").read_text()
    assert "drawer" not in text
    counts = parse(text.encode())
    assert [row.adhesive for row in counts.release] == ["natural-rubber-resin"]
    assert (done.left_out.own_rows, done.left_out.own_tests) == (2, 2)
    assert "2 rows with 2 counts of what only this studio's catalogue knows" in done.text
    assert counts.label == "Studio North"


def test_rare_rows_are_told_of_and_can_be_left_out(studio: Studio, tmp_path: Path) -> None:
    """A combination met once can point to one object: it is said, and --at-least leaves it out."""
    for _ in range(3):
        add_test(studio, spot(release=4, harm={"bleed": 0}))
    add_test(studio, spot(stage="crosslinked", release=1))
    studio.refresh()
    done = export(studio, tmp_path / "all.json")
    assert done.rare_rows == 1
    assert "can point to one object" in done.text
    done = export(studio, tmp_path / "fewer.json", at_least=3)
    assert (done.left_out.few_rows, done.left_out.few_tests, done.rare_rows) == (1, 1, 0)
    assert "1 row of fewer than 3 tests" in done.text
    assert len(parse((tmp_path / "fewer.json").read_bytes()).release) == 1
    with pytest.raises(DeskError, match="at least 1"):
        export(studio, tmp_path / "none.json", at_least=0)


def test_an_export_never_overwrites_what_is_not_its_own(studio: Studio, tmp_path: Path) -> None:
    """A file of anything else is left as it is; a folder that is not there is said."""
    other = tmp_path / "letter.txt"
    other.write_text("Dear Sir")
    with pytest.raises(DeskError, match="choose another name"):
        export(studio, other)
    assert other.read_text() == "Dear Sir"
    with pytest.raises(DeskError, match="cannot be written"):
        export(studio, tmp_path / "nowhere" / "counts.json")
    assert not (tmp_path / "nowhere").exists()


def test_the_id_is_random_and_made_once(new_studio: NewStudio, tmp_path: Path) -> None:
    """Two exports bear one id, two studios different ones; a damaged id is said and not made anew."""
    one, other = new_studio("one"), new_studio("other")
    assert own_id(one) == ""
    ids = {export(studio, tmp_path / f"{n}.json").studio for n, studio in enumerate((one, one, other))}
    assert len(ids) == 2
    (pool_dir(one) / "this-studio.json").write_text('{"studio": "../../etc"}')
    with pytest.raises(DeskError, match="backup"):
        export(one, tmp_path / "again.json")


# -- answers -------------------------------------------------------------------------------------


def test_without_a_pool_nothing_is_said_of_one(studio: Studio) -> None:
    """And an empty folder is no pool."""
    answer = ask(studio)
    assert all(one.evidence.pooled is None for one in (*answer.suggestions, *answer.refused))
    assert b"other studio" not in raw(answer)
    (studio.root / "pool").mkdir()
    studio.refresh()
    assert raw(ask(studio)) == raw(answer)


def test_the_explanation_names_other_studios_apart(studio: Studio, tmp_path: Path) -> None:
    """How many, how often, in the reason, its parts, the JSON and what the answer rests on."""
    rows = [
        [released(1, 0, 3, 0, 10)],
        [released(0, 0, 3, 10, 0)],
        [released(4, 0, 0, 0, 10)],
    ]
    files = [written(tmp_path, n, rows[n], [harmed(4, 0, 0, 0, 0)]) for n in range(3)]
    before = found(ask(studio))
    add(studio, files, TODAY)
    answer = ask(studio)
    one = found(answer)
    told = one.evidence.pooled
    assert told is not None
    assert (told.studios, told.own, told.released, told.harm_studios, told.looks) == (3, 41, 30, 3, 12)
    assert one.evidence.own == one.evidence.similar == 0
    assert "no test of yours yet; 3 other studios: 41 tests, released 30" in one.reason
    assert any("the same class, 41 tests by 3 studios, 30 released" in line for line in one.details)
    assert answer.rests_on.startswith("Rests on tests of other studios, reports in print, chemistry.")
    assert one.release.p > before.release.p
    assert one.harm.p < before.harm.p
    order = [line.split(":")[0] for line in one.details]
    assert order.index("Same class here") < order.index("Other studios") < order.index("In print")


def test_similar_classes_elsewhere_are_told_as_such(studio: Studio, tmp_path: Path) -> None:
    """Another stage: not the same class, so no studio is counted for it, and it weighs less."""
    near = ReleaseCount("natural-rubber-resin", "induction", TAPE[2], "swab", HEPTANE, (0, 0, 0, 0, 8))
    add(studio, [written(tmp_path, 1, [near])], TODAY)
    told = found(ask(studio)).evidence.pooled
    assert told is not None
    assert (told.studios, told.own, told.similar, told.similar_released) == (0, 0, 8, 8)


def test_it_is_said_that_nothing_in_the_pool_bears_on_it(studio: Studio, tmp_path: Path) -> None:
    """What is missing is named."""
    far = ReleaseCount("starch-dextrin", "aged", "", "swab", {"water": 100.0}, (0, 0, 0, 0, 8))
    add(studio, [written(tmp_path, 1, [far])], TODAY)
    answer = ask(studio)
    assert "Other studios: no test of theirs bears on it." in found(answer).details
    assert answer.rests_on.count("other studios") <= 1


def test_what_lies_further_off_in_the_pool_is_not_said_to_bear_on_nothing(
    studio: Studio, tmp_path: Path
) -> None:
    """Looks at another ink raised the harm beside "no test of other studios bears on it"."""
    before = found(ask(studio))
    other = HarmCount("iron-gall", "paper-woodpulp", "swab", HEPTANE, (0, 0, 0, 0, 40))
    add(studio, [written(tmp_path, 1, [], [other])], TODAY)
    answer = ask(studio)
    assert found(answer).harm.p > before.harm.p
    said = "no test of {} is near it; those further off move the chances."
    assert f"Other studios: {said.format('theirs')}" in found(answer).details
    assert f"N{said.format('other studios')[1:]}" in answer.rests_on
    assert "1 report in print, chemistry and tests of other studios further off;" in found(answer).reason


@pytest.mark.slow
def test_disagreement_is_said_and_own_tests_prevail(studio: Studio, tmp_path: Path) -> None:
    """Eight own failures against thousands of releases elsewhere: said, held back, and still unlikely."""
    for _ in range(8):
        add_test(studio, spot(release=0, harm={"bleed": 0}))
    studio.refresh()
    alone = found(ask(studio))
    rows = [released(0, 0, 0, 0, 90), harmed(0, 0, 0, 90, 0)]
    add(studio, [written(tmp_path, n, rows[:1], rows[1:]) for n in range(60)], TODAY)  # type: ignore[arg-type]
    one = found(ask(studio))
    told = one.evidence.pooled
    assert told is not None
    assert told.held_back
    assert "your tests and those of other studios disagree" in one.reason
    assert any("disagree on release: 0 of 8 here, 5400 of 5400 there" in line for line in one.details)
    assert any("disagree on harm: 0 of 8 here, 5400 of 5400 there" in line for line in one.details)
    assert any("held back" in line for line in one.details)
    assert alone.release.p < one.release.p < 0.35
    assert alone.harm.p < one.harm.p < 0.35


def test_own_harm_to_bare_paper_is_answered_for_with_a_pool_as_well(studio: Studio, tmp_path: Path) -> None:
    """It is worse than the medium asked about, and nobody else counted it: their figures are for it, none."""
    for _ in range(9):
        add_test(studio, spot(medium="bare-paper", paper="paper-woodpulp", harm={"gloss": 4}))
    studio.refresh()
    add(studio, [written(tmp_path, 1, [], [harmed(9, 0, 0, 0, 0)])], TODAY)
    one = found(ask(studio))
    assert one.worst_medium == "bare-paper"
    assert one.evidence.pooled is not None
    assert (one.evidence.pooled.harm_studios, one.evidence.pooled.looks) == (0, 0)


def test_rings_that_others_saw_are_told_beside_a_clean_look_or_one_that_bled(
    studio: Studio, tmp_path: Path
) -> None:
    """Their thirty of thirty carried the chance of harm, and no test of theirs was said to be near."""
    for grade in (0, 0, 0, 3):
        add_test(studio, spot(medium="letterpress-oil", paper="paper-woodpulp", harm={"bleed": grade}))
    studio.refresh()
    rings = HarmCount("bare-paper", "paper-woodpulp", "swab", HEPTANE, (0, 0, 0, 0, 30))
    add(studio, [written(tmp_path, 1, [], [rings])], TODAY)
    # One bleed of forty that they saw as well is not what is told of.
    add(studio, [written(tmp_path, 2, [], [harmed(39, 0, 0, 0, 1)])], TODAY)
    answer = ask(studio)
    one = found(answer)
    assert "harmed 1 of 4; other studios harm to bare paper seen in 30 of 30" in one.reason
    assert any("30 looks for harm to bare paper by 1 studio, 30 harmed" in text for text in one.details)
    assert "tests of other studios" in answer.rests_on


def test_agreement_narrows(studio: Studio, tmp_path: Path) -> None:
    """Own tests and others that say the same leave less doubt than either, and nothing is held back."""
    for _ in range(6):
        add_test(studio, spot(release=4, harm={"bleed": 0}))
    studio.refresh()
    alone = found(ask(studio))
    add(studio, [written(tmp_path, n, [released(0, 0, 0, 0, 9)]) for n in range(20)], TODAY)
    one = found(ask(studio))
    assert one.evidence.pooled is not None
    assert not one.evidence.pooled.held_back
    assert one.release.high - one.release.low < alone.release.high - alone.release.low
    assert not any("Your own tests and those" in line for line in one.details)


def test_mostly_one_studio_is_said_beside_the_counts(studio: Studio, tmp_path: Path) -> None:
    """In the explanation too, for the class in question."""
    add(
        studio,
        [written(tmp_path, 1, [released(0, 0, 0, 0, 8)]), written(tmp_path, 2, [released(0, 0, 0, 0, 2)])],
        TODAY,
    )
    assert any(
        "80 % of the tests of the same class come from one studio" in d for d in found(ask(studio)).details
    )


def test_a_blend_known_only_from_the_pool_is_proposed(studio: Studio, tmp_path: Path) -> None:
    """With its parts, like one from the book; not if nobody counts."""
    mix = {"n-heptane": 70.0, "ethanol": 30.0}
    add(studio, [written(tmp_path, 1, [released(0, 0, 0, 0, 5, parts=mix)])], TODAY)
    one = found(ask(studio), "n-heptane 70 + ethanol 30")
    assert one.parts == pytest.approx({"n-heptane": 0.7, "ethanol": 0.3})
    assert one.evidence.pooled is not None
    assert one.evidence.pooled.own == 5
    weigh(studio, studio_id(1), 0)
    assert not [s for s in ask(studio).suggestions if s.liquid == one.liquid]


@pytest.mark.slow
def test_a_question_costs_the_same_with_a_thousand_studios(new_studio: NewStudio, tmp_path: Path) -> None:
    """A thousand small studios: all counted, in any batches, and no more is read for an answer."""
    few, many = new_studio("few"), new_studio("many")
    paths = simulate_pool(tmp_path / "files", 1_000, 6_000, compiled=few.compiled)
    add(few, paths[:2], TODAY)
    assert {one.result for one in add(many, paths[:400], TODAY)} == {"added"}
    many.refresh()
    add(many, paths[400:], TODAY)
    held = view(many).studios
    assert len(held) == 1_000
    assert all(one.not_counted == 0 for one in held)
    conn = many.index.conn
    everything = sums(conn, "pool_release_sum")
    total = sum(numbers[RAW[0]] for key, numbers in everything.items() if key[:3] == ("*", "*", "*"))
    assert total == sum(one.release_tests for one in held) >= 6_000
    read = []
    for studio in (few, many):
        ask(studio)
        statements: list[str] = []
        studio.index.conn.set_trace_callback(statements.append)
        answer = ask(studio)
        studio.index.conn.set_trace_callback(None)
        read.append(len(statements))
    assert read[0] == read[1]
    assert any(one.evidence.pooled and one.evidence.pooled.similar for one in answer.suggestions)


# -- the command ---------------------------------------------------------------------------------


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Callable[..., tuple[int, str, str]]:
    """Runs the command on a studio; exit code, output, errors."""
    from kb.cli.main import main

    def call(studio: Studio, *words: str) -> tuple[int, str, str]:
        studio.close()
        code = main(["--studio", str(studio.root), "pool", *words])
        out = capsys.readouterr()
        return code, out.out, out.err

    return call


def test_the_command_does_all_of_it(new_studio: NewStudio, run: Any, tmp_path: Path) -> None:
    """Export, add, list, weigh, drop; in words and as JSON; a refused file is exit 3."""
    giver, taker = fill(new_studio("giver"), 12, 2), new_studio("taker")
    file = str(tmp_path / "north.json")
    code, out, _ = run(giver, "export", file, "--as", "Studio North", "--at-least", "1")
    assert (code, "No sheets, people" in " ".join(out.split())) == (0, True)
    assert json.loads(run(giver, "export", file, "--as", "Studio North", "--json")[1])["release_rows"] > 0
    code, _, err = run(giver, "add", file)
    assert (code, "own book" in err) == (3, True)
    assert "No other studio" in run(taker)[1]
    code, out, _ = run(taker, "add", file)
    assert (code, out.startswith("Added: Studio North")) == (0, True)
    listed = json.loads(run(taker, "list", "--json")[1])
    assert [one["label"] for one in listed["studios"]] == ["Studio North"]
    assert "weight 1; 100 % of the pool" in run(taker, "list")[1]
    assert json.loads(run(taker, "weigh", "studio north", "0.5", "--json")[1])["changed"] is True
    assert "weight 0.5" in run(taker)[1]
    assert run(taker, "weigh", "studio north", "7")[0] == 3
    assert run(taker, "drop", "nobody")[0] == 3
    code, out, _ = run(taker, "drop", "Studio North")
    assert (code, "out of the pool" in out) == (0, True)
    code, out, err = run(taker, "add", str(tmp_path / "none.json"), "--json")
    assert (code, json.loads(out)[0]["result"]) == (3, "refused")


def test_a_studio_without_a_label_is_called_so(studio: Studio, tmp_path: Path) -> None:
    """In what is said and in the list."""
    (one,) = add(studio, [written(tmp_path, 1, [released(0, 0, 0, 0, 1)])], TODAY)
    assert "a studio without a label" in one.text
    assert view(studio).studios[0].name == "a studio without a label"
