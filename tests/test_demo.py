"""The demo studio: whole, labelled as invented, made again byte for byte, and opened as a copy only."""

from __future__ import annotations

import os
from collections.abc import Iterator
from datetime import date, datetime
from io import BytesIO
from pathlib import Path

import msgspec
import pytest

from kb.book.fold import Fold, fold
from kb.book.kinds.batch import Batch
from kb.book.kinds.mend import Mend
from kb.book.kinds.photograph import Photograph
from kb.book.kinds.spot_test import HARM_KINDS, SpotTest
from kb.book.verify import verify
from kb.catalogue.load import Catalogue, load
from kb.catalogue.own_files import read_settings
from kb.catalogue.paths import find, shipped_data
from kb.desk import demo
from kb.desk.demo import open_demo, shipped_demo
from kb.desk.errors import DeskError
from kb.desk.pool.pool import view
from kb.desk.records.record import add_test, book_size, list_tests, sheet_names, show_test
from kb.desk.sheet.photo_compare import read_picture
from kb.desk.sheet.pictures_paired import pairs
from kb.desk.sheet.pictures_taken import taken
from kb.desk.shelf.bottles import all_bottles, due
from kb.desk.shelf.shelf import shelf
from kb.desk.studio import Studio
from kb.model.material import Tape
from scripts import demo_pictures, make_demo
from tests.whole_book import all_lines

DATED = date.today().isoformat()


@pytest.fixture(scope="module")
def story() -> make_demo.Story:
    return make_demo.read_story()


@pytest.fixture(scope="module")
def book() -> Fold:
    return fold(all_lines(shipped_demo() / "book"))


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    return load([shipped_data()])[0]


@pytest.fixture(autouse=True)
def shipped_stays() -> Iterator[None]:
    """No test may leave the shipped studio other than it was."""
    before = make_demo.contents(shipped_demo())
    yield
    assert make_demo.contents(shipped_demo()) == before


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder in place of the user's own data folder."""
    monkeypatch.setattr(demo, "default_root", lambda: tmp_path / "data" / "studio")
    return tmp_path / "data"


def of(key: str, story: make_demo.Story) -> str:
    """The record id of an entry of the story."""
    return next(make_demo.record_id(entry) for entry in story.entries if entry.key == key)


# The shipped studio


def test_made_again_gives_the_same_bytes(tmp_path: Path, story: make_demo.Story) -> None:
    """What is shipped is what the story gives, and the second run gives what the first gave."""
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        make_demo.build(story, tmp_path / name)
    assert make_demo.contents(tmp_path / "one") == make_demo.contents(tmp_path / "two")
    assert make_demo.contents(tmp_path / "one") == make_demo.contents(shipped_demo())


def test_book_is_whole() -> None:
    """The book's own check finds nothing at all, not even a note."""
    assert verify(shipped_demo() / "book") == []


def test_fold_has_nothing_to_say_against_it(book: Fold) -> None:
    """Every change found its record and could be worked in."""
    assert book.troubles == {}
    assert book.loose == ()
    assert book.others == ()


def test_labelled_as_invented() -> None:
    """The settings can be read and say twice that the studio is made up."""
    settings, problems = read_settings(shipped_demo() / "studio.yaml")
    assert problems == []
    assert settings.invented
    assert "invented" in settings.name
    assert settings.authority == "EU"
    assert settings.who
    assert settings.bench


def test_size_and_span(book: Fold) -> None:
    """At least sixty tests over two years, on at least eight sheets, in two files."""
    assert len(book.tests) >= 60
    days = sorted(datetime.fromisoformat(one.line.at).date() for one in book.tests.values())
    assert days[0].isoformat() >= "2024-10-01"
    assert days[-1].isoformat() <= "2026-11-30"
    assert (days[-1] - days[0]).days >= 2 * 365
    assert {one.line.bench for one in book.tests.values()} == {"bench-a", "bench-b"}
    assert len({one.body.sheet for one in book.tests.values()}) >= 8


def test_nobody_works_at_night_or_at_weekends(story: make_demo.Story) -> None:
    """The times are those of a working day."""
    for entry in story.entries:
        assert entry.moment.weekday() < 5, entry.key
        assert 8 <= entry.moment.hour < 18, entry.key


def test_every_id_is_in_the_catalogue(book: Fold, catalogue: Catalogue) -> None:
    """Materials, liquids and methods of every test, as first written and as amended."""
    named = {"adhesives": "adhesive", "stages": "stage", "carriers": "carrier", "tapes": "tape"}
    named |= {"media": "medium", "papers": "paper", "methods": "method"}
    first = [msgspec.json.decode(one.line.body, type=SpotTest) for one in book.tests.values()]
    for test in first + [one.body for one in book.tests.values()]:
        for kind, field in named.items():
            value = getattr(test, field)
            assert value == "" or catalogue.get(kind, value), f"{field} {value}"
        for liquid in test.parts:
            assert catalogue.get("liquids", liquid), liquid


def test_tapes_agree_with_the_catalogue(story: make_demo.Story, catalogue: Catalogue) -> None:
    """A sheet's adhesive and carrier are those of its kind of tape."""
    for sheet in story.sheets.values():
        tape = catalogue.get("tapes", sheet.tape)
        assert isinstance(tape, Tape)
        assert (tape.adhesive, tape.carrier) == (sheet.adhesive, sheet.carrier)


def test_no_part_of_the_catalogue() -> None:
    """The loader passes over the story and the studio."""
    assert not [path for path in find(shipped_data())[0] if "demo" in path.parts]


def test_shows_what_a_bench_book_holds(book: Fold) -> None:
    """Failures, harms, controls, blends, bare paper, residue, photographs: each several times."""
    tests = [one.body for one in book.tests.values()]
    assert sum(test.release is not None and test.release >= 3 for test in tests) >= 15
    assert sum(test.release is not None and test.release <= 1 for test in tests) >= 8
    assert sum(max(test.harm.values(), default=0) >= 2 for test in tests) >= 15
    assert sum(max(test.harm.values(), default=0) >= 4 for test in tests) >= 5
    assert sum(test.control for test in tests) >= 5
    assert sum(len(test.parts) > 1 for test in tests) >= 15
    assert sum(test.medium == "bare-paper" for test in tests) >= 15
    assert sum(test.carrier_present is False for test in tests) >= 10
    assert sum(len(test.rounds) >= 3 for test in tests) >= 30
    assert sum(len(test.photos) for test in tests) == 2
    assert sum(bool(test.tested_at) for test in tests) >= 1
    assert len({test.method for test in tests}) == 8


def test_much_was_not_looked_at(book: Fold) -> None:
    """Most tests leave some kind of harm open, and at least one leaves all of them open."""
    looked = [len(one.body.harm) for one in book.tests.values()]
    assert sum(count < len(HARM_KINDS) for count in looked) > len(looked) / 2
    assert 0 in looked


def test_every_round_says_what_was_seen(book: Fold) -> None:
    """Dwell, amount, wet and dry are there in each round."""
    for one in book.tests.values():
        assert one.body.rounds
        for made in one.body.rounds:
            assert made.dwell_s > 0
            assert all((made.amount, made.wet, made.dry))


def test_alcohol_on_ballpoint_and_water_on_wood_pulp_do_harm(book: Fold) -> None:
    """The two harms that every beginner should meet here."""
    tests = [one.body for one in book.tests.values()]
    ballpoint = [test for test in tests if test.medium == "ballpoint" and "ethanol" in test.parts]
    assert ballpoint
    assert all(test.harm["bleed"] >= 3 for test in ballpoint)
    wet = [test for test in tests if test.paper == "paper-woodpulp" and test.parts == {"water": 1.0}]
    assert any(test.harm.get("tideline", 0) >= 3 for test in wet)


# Work on the sheets


def test_work_is_shown_of_every_kind(book: Fold, catalogue: Catalogue) -> None:
    """Mends, toning tests, housing and what was made up for them; all that they name is there."""
    counts = {kind: len(found) for kind, found in book.kept.items() if found}
    assert counts["mend"] >= 3
    assert counts["toning"] >= 2
    assert counts["housing"] >= 2
    made = {key: one.body for key, one in book.kept["batch"].items()}
    sheets = {one.body.sheet for one in book.tests.values()}
    mends = [msgspec.convert(one.body, Mend) for one in book.kept["mend"].values()]
    for mend in mends:
        assert mend.sheet in sheets
        assert catalogue.get("tissues", mend.tissue), mend.tissue
        assert catalogue.get("recipes", mend.adhesive), mend.adhesive
        assert mend.batch in {"", *made}
        assert mend.toning in {"", *book.kept["toning"]}
    assert any(mend.batch for mend in mends)
    assert any(mend.toning for mend in mends)
    for batch in made.values():
        assert isinstance(batch, Batch)
        assert catalogue.get("recipes", batch.recipe), batch.recipe


def test_batches_of_every_state(book: Fold, story: make_demo.Story) -> None:
    """Used up, spoilt and thrown away, past their day, good for long, and without a day."""
    made = {key: one.body for key, one in book.kept["batch"].items()}
    assert all(isinstance(one, Batch) for one in made.values())
    in_use = {key: one.expires for key, one in made.items() if not one.finished}
    past = {of("gellan-26-11", story), of("paste-26-11", story)}
    assert {key for key, expires in in_use.items() if expires and expires < "2026-11-29"} == past
    assert in_use[of("remoist-26-03", story)] > "2030"
    assert in_use[of("lime-26-10", story)] == in_use[of("hpc-26-06", story)] == ""
    assert [bool(one.finished) for one in made.values() if one.bad] == [True]


def test_a_shelf_with_dates_and_a_rule(tmp_path: Path) -> None:
    """Bottles in date, past it, without one, with a test for peroxides due; one prohibition."""
    studio = open_demo(tmp_path / "copy")
    late = {(one.liquid, one.what) for one in due(studio, date(2026, 11, 29))}
    assert late == {
        *(("toluene", "expired"), ("tetrahydrofuran", "peroxide test"), ("benzyl-alcohol", "undated"))
    }
    assert len(all_bottles(studio)) == 8
    assert {part for one in shelf(studio).forbids for part in one.covers} == {"n-hexane"}
    assert shelf(studio).problems == ()
    studio.close()


def test_another_invented_studio_is_in_the_pool(tmp_path: Path) -> None:
    """Its file is sound, all that it names is known here, and its label says that it is made up."""
    studio = open_demo(tmp_path / "copy")
    (other,) = view(studio).studios
    assert "invented" in other.label
    assert (other.problem, other.unknown, other.not_counted) == ("", (), 0)
    assert (other.release_tests, other.harm_tests) == (45, 39)
    studio.close()


def test_pictures_are_there_and_say_that_they_are_drawn(tmp_path: Path, book: Fold) -> None:
    """Each record has its picture in the studio, small, and readable to its end; a pair can be compared."""
    studio = open_demo(tmp_path / "copy")
    shots = taken(studio)
    assert [one.sheet[:5] for one in shots] == ["QN-01", "QN-01", "QN-01", "QN-02"]
    for one in shots:
        assert 1_000 < Path(one.file).stat().st_size < 30_000
        assert read_picture(Path(one.file)).sha256 == one.sha256
    remarks = [
        one.body.remarks for one in book.kept["photograph"].values() if isinstance(one.body, Photograph)
    ]
    assert remarks == ["Drawn for the demo, no photograph."] * len(shots)
    (pair,) = pairs(studio)
    assert (pair.wants, pair.verdict) == ("", "")
    studio.close()


def test_a_drawn_picture_is_read_as_it_was_drawn() -> None:
    """Runs packed and unpacked again by Pillow, which is not ours."""
    from PIL import Image

    canvas = demo_pictures.patch(lifted=True)
    with Image.open(BytesIO(demo_pictures.tiff(canvas))) as opened:
        assert opened.size == (canvas.wide, canvas.high)
        assert opened.tobytes() == b"".join(map(bytes, canvas.rows))


def test_a_mend_was_corrected(book: Fold, story: make_demo.Story) -> None:
    """The length that was misread is replaced, and stays readable."""
    mend = book.kept["mend"][of("tides-mend-02", story)]
    first = msgspec.json.decode(mend.line.body, type=Mend)
    assert isinstance(mend.body, Mend)
    assert (first.length_mm, mend.body.length_mm) == (63.0, 36.0)
    assert [change.in_force for change in mend.history] == [True]


def test_story_refuses_work_that_names_what_is_not_there_yet(story: make_demo.Story) -> None:
    """A mend with a batch that is made up later is a mistake in the story."""
    work = make_demo.Work(
        key="x",
        at="2024-10-01 09:00",
        by="bench-a/P.",
        kind="mend",
        sheet="tides",
        batch="paste-25-01",
        says={},
    )
    with pytest.raises(ValueError, match="no earlier batch paste-25-01"):
        make_demo.body(work, story)


# Amendments and withdrawals


def test_enough_changes(book: Fold, story: make_demo.Story) -> None:
    """Four amendments or more, one of them withdrawn, and two withdrawn tests that say why."""
    history = [change for one in book.tests.values() for change in one.history]
    amends = {change.line.id for change in history if change.line.kind == "amend"}
    assert len(amends) >= 4
    taken_out = {one.id for one in book.tests.values() if one.withdrawn and one.why}
    assert taken_out == {of("dyeline-07", story), of("regatta-05", story)}
    assert len(amends & book.withdrawn.keys()) == 1


def test_amended_values_are_what_is_shown(book: Fold, story: make_demo.Story) -> None:
    """The last amendment of a field counts; fields that it does not name stay."""
    cash = book.tests[of("cashbook-03", story)]
    assert cash.body.release == 2
    assert cash.body.harm == {"tideline": 2, "surface": 1}
    assert [change.in_force for change in cash.history] == [True, True]
    assert book.tests[of("tides-02", story)].body.harm["tideline"] == 3
    assert book.tests[of("tides-02", story)].body.light == "daylight lamp and UV"
    assert book.tests[of("score-04", story)].body.medium == "copying-pencil"
    assert book.tests[of("herbarium-04", story)].body.parts == {"ethanol": 0.7, "water": 0.3}


def test_withdrawn_amendment_has_no_effect(book: Fold, story: make_demo.Story) -> None:
    """The third test on the label stays what it was first written as."""
    label = book.tests[of("herbarium-03", story)]
    assert label.body.parts == {"ethanol": 1.0}
    assert not label.withdrawn
    assert [change.line.kind for change in label.history] == ["amend", "withdraw"]
    assert not label.history[0].in_force


def test_one_bench_amends_the_record_of_another(book: Fold, story: make_demo.Story) -> None:
    """Bench B corrects a stage that bench A wrote down."""
    bar = book.tests[of("ledger-09", story)]
    assert bar.line.bench == "bench-a"
    assert bar.history[0].line.bench == "bench-b"
    assert bar.body.stage == "crosslinked"


# The story


def test_story_refuses_a_change_of_what_is_not_there(story: make_demo.Story) -> None:
    """An amendment of a later record is a mistake in the story."""
    change = make_demo.Change(key="x", at="2024-10-01 09:00", by="bench-a/P.", amend="mock-01", why="y")
    with pytest.raises(ValueError, match="no earlier record mock-01"):
        make_demo.body(change, story)


def test_check_names_what_is_out_of_date(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """--check writes nothing and fails on a changed or foreign file; a plain run mends what it can."""
    there = tmp_path / "studio"
    make_demo.publish(make_demo.contents(shipped_demo()), there)
    monkeypatch.setattr(make_demo, "STUDIO", there)
    assert make_demo.main(["--check"]) == 0
    (there / "studio.yaml").write_text("name: other\n")
    (there / "index.db").write_text("")
    assert make_demo.main(["--check"]) == 1
    assert (there / "studio.yaml").read_text() == "name: other\n"
    told = capsys.readouterr().out
    assert "studio.yaml is not what the story gives" in told
    assert "index.db is not from the story" in told
    (there / "index.db").unlink()
    assert make_demo.main([]) == 0


# The copy


def test_copy_lands_beside_the_users_own_studio(home: Path) -> None:
    """Without a place it goes to demo-studio, whole, and leaves nothing else there."""
    studio = open_demo()
    assert studio.root == home / "demo-studio"
    assert make_demo.contents(studio.root) == make_demo.contents(shipped_demo())
    assert [path.name for path in home.iterdir()] == ["demo-studio"]


def test_copy_can_be_read_and_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A test goes into the visitor's own file, and the second opening finds it."""
    monkeypatch.delenv("BENCHLEAF_BENCH", raising=False)
    studio = open_demo(tmp_path / "copy")
    before = book_size(studio)
    written = add_test(studio, SpotTest(medium="iron-gall", paper="paper-rag", parts={"n-heptane": 1.0}))
    assert written.bench == "visitor"
    studio.close()
    again = open_demo(tmp_path / "copy")
    assert book_size(again) == (before[0] + 1, before[1])
    assert again.settings.invented
    assert verify(again.book_dir) == []
    again.close()


def test_desk_shows_what_the_fold_gives(tmp_path: Path, book: Fold, story: make_demo.Story) -> None:
    """The list and the detail agree with the book, and all sheets are listed."""
    studio = open_demo(tmp_path / "copy")
    assert len(list_tests(studio, limit=0)) == len(book.tests)
    assert {name for name, _ in sheet_names(studio)} == {sheet.name for sheet in story.sheets.values()}
    detail = show_test(studio, of("cashbook-03", story))
    assert detail.test == book.tests[detail.id].body
    assert detail.state == "amended"
    assert show_test(studio, of("regatta-05", story)).state == "withdrawn"
    studio.close()


def test_fresh_sets_the_old_copy_aside(tmp_path: Path) -> None:
    """What was recorded stays beside the new copy under a dated name; at first nothing is there."""
    root = tmp_path / "copy"
    for mark in ("first", "second"):
        studio = open_demo(root, fresh=mark == "first")
        (studio.root / "mark").write_text(mark)
        fresh = open_demo(root, fresh=True)
        assert make_demo.contents(fresh.root) == make_demo.contents(shipped_demo())
    assert (tmp_path / f"copy-{DATED}" / "mark").read_text() == "first"
    assert (tmp_path / f"copy-{DATED}-2" / "mark").read_text() == "second"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["copy", f"copy-{DATED}", f"copy-{DATED}-2"]


@pytest.mark.parametrize("fresh", [False, True])
def test_a_real_studio_is_never_touched(tmp_path: Path, fresh: bool) -> None:
    """A folder with something else in it is refused and left as it is."""
    own = Studio(tmp_path / "own")
    own.make()
    before = make_demo.contents(own.root)
    with pytest.raises(DeskError, match="something else"):
        open_demo(own.root, fresh=fresh)
    assert make_demo.contents(own.root) == before
    assert [path.name for path in tmp_path.iterdir()] == ["own"]


def test_the_shipped_one_is_refused() -> None:
    """Opening it in place would leave an index there."""
    for fresh in (False, True):
        with pytest.raises(DeskError, match="as shipped"):
            open_demo(shipped_demo(), fresh=fresh)


def test_an_empty_folder_is_filled(tmp_path: Path) -> None:
    """A folder that someone made for it is as good as none."""
    (tmp_path / "copy").mkdir()
    assert (open_demo(tmp_path / "copy").root / "studio.yaml").is_file()


def test_a_failed_copy_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk that fails halfway leaves neither half a studio nor its temporary folder."""

    def fail(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", fail)
    with pytest.raises(DeskError, match="No space left"):
        open_demo(tmp_path / "copy")
    assert list(tmp_path.iterdir()) == []


def test_a_failed_exchange_puts_the_old_copy_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """If the new copy cannot take its name, the old one has it again."""
    root = open_demo(tmp_path / "copy").root
    (root / "mark").write_text("mine")
    rename = Path.rename

    def fail(self: Path, target: Path) -> Path:
        if self.suffix == ".part":
            raise OSError(5, "Input/output error")
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", fail)
    with pytest.raises(DeskError, match="Input/output"):
        open_demo(root, fresh=True)
    assert (root / "mark").read_text() == "mine"
    assert [path.name for path in tmp_path.iterdir()] == ["copy"]


def test_two_programs_at_once_share_one_copy(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The one that comes second takes the copy of the first and leaves no remains of its own."""
    copy = demo._copy

    def slow(shipped: Path, part: Path) -> None:
        copy(shipped, part)
        monkeypatch.setattr(demo, "_copy", copy)
        open_demo(tmp_path / "copy")

    monkeypatch.setattr(demo, "_copy", slow)
    assert open_demo(tmp_path / "copy").root == tmp_path / "copy"
    assert [path.name for path in tmp_path.iterdir()] == ["copy"]


def test_copy_of_a_read_only_installation_can_be_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Modes of installed files and indexes that someone left there are not copied."""
    installed = tmp_path / "installed"
    make_demo.publish({**make_demo.contents(shipped_demo()), "index.db-wal": b"x"}, installed)
    for path in installed.rglob("*.jsonl"):
        path.chmod(0o444)
    monkeypatch.setattr(demo, "shipped_demo", lambda: installed)
    studio = open_demo(tmp_path / "copy")
    assert make_demo.contents(studio.root).keys() == make_demo.contents(shipped_demo()).keys()
    assert all(path.stat().st_mode & 0o200 for path in studio.book_dir.iterdir())


def test_missing_demo_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An installation without the demo says so instead of making an empty studio."""
    monkeypatch.setattr(demo, "shipped_demo", lambda: tmp_path / "nowhere")
    with pytest.raises(DeskError, match="missing from this installation"):
        open_demo(tmp_path / "copy")
    assert list(tmp_path.iterdir()) == []
