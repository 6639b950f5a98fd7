"""The materials screen, by keyboard alone."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

import pytest
from textual.pilot import Pilot
from textual.widgets import Input

from kb.book.kinds.bottle import Bottle
from kb.desk.materials.cited import Cited, Line
from kb.desk.materials.links_near import Link
from kb.desk.materials.lookup import Reading, names, read
from kb.desk.shelf.bottles import open_bottle
from kb.desk.shelf.shelf import forbid, hold
from kb.desk.studio import Studio
from kb.model.kinds import BY_WORD
from kb.tui.app import BenchleafApp
from kb.tui.screens.materials.filter_form import FilterScreen, ValuesScreen
from kb.tui.screens.materials.marks import MOST, Mark, Marks
from kb.tui.screens.materials.materials import KINDS, MATERIALS, MaterialsScreen
from kb.tui.screens.materials.materials_ask import Filter
from kb.tui.screens.materials.own_form import OwnForm
from kb.tui.screens.materials.reading_pane import (
    PIECE,
    SourceView,
    grouped,
    mark_of,
    pieces,
    source_words,
    where,
)
from kb.tui.screens.note import NoteScreen
from kb.tui.screens.records.book import BookScreen
from kb.tui.screens.shelf.shelf import ShelfScreen
from tests.screens.screen_help import HOSTILE, flat, keys, keys_fit, settle, shown, write

OWN = """\
sources:
- {id: zz-note, cite: "Zzyxq note [/b] of [TODO] 1901", basis: memory, seen: false, extent: one page}
- {id: zz-book, cite: Zzyxq handbook 1902, basis: published, seen: true, extent: whole}
liquids:
- id: zzyxq-spirit
  name: "Zzyxq [b]spirit[/b] [/]"
  also: ["[TODO] zzyxq", "[link=file:///etc]a[/link]"]
  family: alcohol
  molar_mass_g_mol: {value: 60.1, from: [zz-book]}
  boiling_point_c: {value: 82.2, note: "as [IMPORTANT] says", from: [zz-note]}
  density_g_ml: {value: 0.79, at_c: 20, from: [zz-book, zz-note], others: [{value: 0.8, from: [zz-note]}]}
"""


@pytest.fixture(scope="module")
def still(tmp_path_factory: pytest.TempPathFactory) -> Studio:
    """A studio with one liquid of its own, whose words try to be markup."""
    root = tmp_path_factory.mktemp("still")
    (root / "catalogue").mkdir()
    (root / "catalogue" / "own.yaml").write_text(OWN)
    return Studio(root)


async def opened(pilot: Pilot[None]) -> MaterialsScreen:
    """Go to the materials."""
    await settle(pilot)
    await keys(pilot, "f4")
    screen = pilot.app.screen
    assert isinstance(screen, MaterialsScreen)
    return screen


async def test_find_read_and_open_the_sources(still: Studio) -> None:
    """IPA is found by its other name; a figure from memory has a sign and a word; O says where from."""
    async with BenchleafApp(still).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await write(pilot, "IPA")
        assert screen.found[0].id == "propan-2-ol"
        await keys(pilot, "enter")
        assert "Propan-2-ol - liquid" in flat(pilot.app)
        assert "CAS number 67-63-0" in flat(pilot.app)
    async with BenchleafApp(still).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await write(pilot, "diacetone alcohol")
        await keys(pilot, "enter")
        assert screen.pane.reading is not None
        labels = [line.label for line in screen.pane.reading.lines]
        remembered = [line.label for line in screen.pane.reading.lines if line.mark == "from memory"]
        await keys(pilot, *["down"] * labels.index(remembered[0]))
        assert "~ from memory" in flat(pilot.app)
        await keys(pilot, "o")
        assert isinstance(pilot.app.screen, SourceView)
        text = flat(pilot.app)
        assert "Rests on: handbook knowledge from memory, not looked up" in text
        assert "Read: not read for this catalogue" in text
        await keys(pilot, "escape")
        assert pilot.app.screen is screen


async def test_y_copies_the_words_of_the_line(still: Studio) -> None:
    """Not what the line is drawn with; F1 names the key."""
    async with BenchleafApp(still).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await write(pilot, "IPA")
        await keys(pilot, "enter")
        assert screen.pane.reading is not None
        lines = screen.pane.reading.lines
        at = next(place for place, one in enumerate(lines) if one.label == "CAS number")
        await keys(pilot, *["down"] * at, "y")
        assert pilot.app.clipboard == "67-63-0"
        await keys(pilot, "end", "y")
        assert pilot.app.clipboard == where(screen.pane.reading)
        await keys(pilot, "l", "y")
        assert screen.pane.linked.here is not None
        assert pilot.app.clipboard == screen.pane.linked.here.name
        assert re.search(r"^Y +Copy the value", screen.HELP, re.MULTILINE)


@pytest.mark.parametrize(
    ("typed", "kind", "entry_id"),
    [
        ("tolune", "liquid", "toluene"),
        ("67-64-1", "liquid", "acetone"),
        ("copying pencl", "medium", "copying-pencil"),
    ],
)
async def test_a_near_spelling_or_a_number_is_enough(
    still: Studio, typed: str, kind: str, entry_id: str
) -> None:
    """The best hit stands first."""
    async with BenchleafApp(still).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await write(pilot, typed)
        assert (screen.found[0].kind, screen.found[0].id) == (kind, entry_id)


async def test_typing_never_waits_for_the_desk(still: Studio) -> None:
    """While the desk is busy letters appear at once; its answer is to the last of them."""
    app = BenchleafApp(still)
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        with app.desk_lock:
            for letter in "aceton":
                await pilot.press(letter)
            assert "aceton" in shown(app)
            assert screen.found == []
        await settle(pilot)
        assert screen.found[0].id == "acetone"


async def test_one_kind_at_a_time(still: Studio) -> None:
    """Ctrl+K lists the kinds, Left and Right step; with nothing typed the whole kind is listed."""
    async with BenchleafApp(still).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await keys(pilot, "ctrl+k", "down", "enter")
        assert {one.kind for one in screen.found} == {"liquid"}
        assert len(screen.found) > 20
        await write(pilot, "rubber")
        await keys(pilot, "down", "right")
        assert {one.kind for one in screen.found} == {"adhesive"}
        await keys(pilot, "left", "left", "left")
        assert screen.kind == len(KINDS) - 1
        assert f"Kind: {KINDS[-1]}" in flat(pilot.app)
        await keys(pilot, "ctrl+k", "escape")
        assert screen.kind == len(KINDS) - 1


def test_every_kind_of_the_catalogue_can_be_narrowed_to() -> None:
    """Also kinds that were added after this screen was made."""
    assert sorted(KINDS) == sorted(("", *BY_WORD))


async def test_narrow_screen_reads_in_place_of_the_list(still: Studio) -> None:
    """Enter puts the reading where the list was; Escape goes back step by step."""
    async with BenchleafApp(still).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await write(pilot, "zzyxq")
        assert screen.hits.display
        assert not screen.pane.display
        await keys(pilot, "down", "enter")
        assert screen.pane.display
        assert not screen.hits.display
        assert screen.focused is screen.pane.lines
        await keys(pilot, "escape")
        assert screen.focused is screen.hits
        assert not screen.pane.display
        await keys(pilot, "escape")
        assert screen.focused is screen.typed
        await keys(pilot, "escape")
        assert screen.typed.value == ""
        await keys(pilot, "escape")
        assert screen.focused is screen.hits


async def test_wide_screen_reads_beside_the_list(still: Studio) -> None:
    """The entry under the cursor is shown without a key; Enter goes into it."""
    async with BenchleafApp(still).run_test(size=(120, 40)) as pilot:
        screen = await opened(pilot)
        await write(pilot, "acetone")
        assert "67-64-1" in flat(pilot.app)
        await keys(pilot, "down")
        assert screen.focused is screen.hits
        await keys(pilot, "enter")
        assert screen.focused is screen.pane.lines
        assert screen.hits.display


async def test_own_entry_is_named_and_shown_as_it_is_written(still: Studio) -> None:
    """Brackets stay brackets everywhere; the end says which file, which line, and whose entry."""
    async with BenchleafApp(still).run_test(size=(100, 40)) as pilot:
        await opened(pilot)
        await write(pilot, "zzyxq")
        assert "Zzyxq [b]spirit[/b] [/]" in flat(pilot.app)
        await keys(pilot, "enter")
        text = flat(pilot.app)
        assert "Also: [TODO] zzyxq, [link=file:///etc]a[/link]" in text
        assert "(as [IMPORTANT] says)" in text
        assert "own.yaml, line 5. This studio's own entry." in text
        await keys(pilot, "end", "o")
        assert "Zzyxq note [/b] of [TODO] 1901" in flat(pilot.app)
        await keys(pilot, "escape", "slash")
        await write(pilot, HOSTILE)
        assert HOSTILE in shown(pilot.app)


async def test_disagreeing_figures_are_both_shown(still: Studio) -> None:
    """Each with the weakest mark of its own sources."""
    async with BenchleafApp(still).run_test(size=(100, 40)) as pilot:
        await opened(pilot)
        await write(pilot, "zzyxq")
        await keys(pilot, "enter")
        text = flat(pilot.app)
        assert "density 0.79 g/ml; at 20 °C ~ density (also 0.8 g/ml ~ printed)" in text
        assert "~ from memory" in text


async def test_safety_note_of_a_liquid(still: Studio) -> None:
    """S opens it; what comes first is said first. Entries that are no liquid do not offer it."""
    async with BenchleafApp(still).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await write(pilot, "acetone")
        await keys(pilot, "enter")
        assert "S Safety" in flat(pilot.app)
        await keys(pilot, "s")
        text = flat(pilot.app)
        assert "Screening only. The safety data sheet of your bottle" in text
        assert "H225" in text
        await keys(pilot, "escape", "escape", "escape", "escape")
        assert screen.typed.value == ""
        await write(pilot, "copying pencil")
        await keys(pilot, "enter")
        assert "Safety" not in flat(pilot.app)


async def test_links_both_ways_lead_on_and_back(still: Studio) -> None:
    """L shows groups of links; Enter follows one; Backspace comes back to the link that was followed."""
    async with BenchleafApp(still).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await write(pilot, "acetone")
        await keys(pilot, "enter", "backspace", "l")
        text = flat(pilot.app)
        assert "links, both ways; Enter follows one" in text
        for _ in range(20):
            if screen.pane.linked.here is not None and screen.pane.linked.here.kind == "adhesive":
                break
            await keys(pilot, "right")
        text = flat(pilot.app)
        assert "Adhesive, inside (" in text
        inside = [float(one) for one in re.findall(r"RED (\d\.\d\d)", text)]
        assert inside
        assert max(inside) < 1
        assert "O Sources" not in text
        await keys(pilot, "enter")
        assert screen.pane.reading is not None
        assert screen.pane.reading.kind == "adhesive"
        assert screen.focused is screen.pane.lines
        adhesive = screen.pane.reading.id
        await keys(pilot, "l")
        back = [one for one in screen.pane.linked._rows if one is not None]
        assert ("liquid", "acetone") in {(one.kind, one.id) for one in back}
        await keys(pilot, "l", "backspace")
        assert screen.pane.reading.id == "acetone"
        assert screen.pane.in_links
        assert screen.pane.linked.here is not None
        assert screen.pane.linked.here.id == adhesive
        await keys(pilot, "escape")
        assert screen.focused is screen.pane.lines
        await keys(pilot, "escape")
        assert screen.focused is screen.hits


async def test_groups_of_links_are_reached_by_left_and_right(still: Studio) -> None:
    """Each step stands on the first link of a group, and none stands on a heading."""
    async with BenchleafApp(still).run_test(size=(120, 40)) as pilot:
        screen = await opened(pilot)
        await write(pilot, "iron gall")
        await keys(pilot, "down", "l")
        linked = screen.pane.linked
        seen = []
        for _ in range(3):
            seen.append(linked.highlighted)
            await keys(pilot, "right")
        assert seen == sorted(set(seen), key=seen.index)
        await keys(pilot, "left", "left", "left")
        assert linked.highlighted == seen[0] == 1
        assert linked.here is not None


async def test_links_lead_to_the_book_and_to_the_shelf(studio: Studio, record: Any) -> None:
    """The line that counts tests opens the bench book narrowed to them; a bottle opens the shelf."""
    open_bottle(studio, Bottle(liquid="acetone", label="zz-bottle", opened="2026-01"), date(2026, 6, 1))
    record(studio, parts={"acetone": 1.0}, sheet="Zz sheet", release=3)
    async with BenchleafApp(studio).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await write(pilot, "acetone")
        await keys(pilot, "enter", "l")
        rows = screen.pane.linked._rows
        places = {one.kind: place for place, one in enumerate(rows) if one is not None}
        screen.pane.linked.highlighted = places["bottle"]
        await keys(pilot, "enter")
        assert isinstance(pilot.app.screen, ShelfScreen)
        await keys(pilot, "escape")
        screen.pane.linked.highlighted = places["test"]
        await keys(pilot, "enter")
        assert isinstance(pilot.app.screen, BookScreen)
        assert "Only liquid Acetone" in flat(pilot.app)
        assert "Zz sheet" in flat(pilot.app)


async def test_a_report_is_read_with_its_grade_and_what_was_read(still: Studio) -> None:
    """In words, with parts and results, and the tape and liquids it is about one key away."""
    async with BenchleafApp(still).run_test(size=(100, 40)) as pilot:
        await opened(pilot)
        await keys(pilot, "ctrl+k", *["down"] * KINDS.index("report"), "enter")
        await write(pilot, "gone oily")
        await keys(pilot, "enter")
        text = flat(pilot.app)
        assert "evidence grade B, institutional; what was read: opening part of sections 1-5" in text
        assert "50 % Cyclohexane + 50 % Toluene; released; the report does not give the shares" in text
        await keys(pilot, "l")
        assert "Liquid, used the liquid (2)" in flat(pilot.app)


async def test_a_caution_is_read_with_where_it_applies(still: Studio) -> None:
    """Names and no ids."""
    async with BenchleafApp(still).run_test(size=(100, 40)) as pilot:
        await opened(pilot)
        await write(pilot, "iron gall brown halos damp air")
        await keys(pilot, "enter")
        assert "applies Water; on Iron gall ink" in flat(pilot.app)
        assert "stop: vetoes a suggestion" in flat(pilot.app)


async def test_an_unverified_limit_has_a_mark_and_words(still: Studio) -> None:
    """Whatever its source is."""
    async with BenchleafApp(still).run_test(size=(120, 60)) as pilot:
        await opened(pilot)
        await write(pilot, "acetone")
        await keys(pilot, "enter", "end")
        text = flat(pilot.app)
        assert "unverified: check the current list" in text
        assert "! unverified" in text


async def test_filters_in_words_above_the_list(still: Studio) -> None:
    """F opens the form, Left and Right change a line; what holds stands in words; F then C clears it."""
    async with BenchleafApp(still).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await keys(pilot, "down", "f")
        assert isinstance(pilot.app.screen, FilterScreen)
        await keys(pilot, "down", "down", "right", "up", "up", "enter")
        await keys(pilot, *["down"] * [name for _, name in _families(still)].index("Ketone"), "down", "enter")
        text = flat(pilot.app)
        assert "[Ketone]" in text
        assert "liquids: family Ketone; evaporates fast" in text
        await keys(pilot, "escape")
        text = flat(pilot.app)
        assert "Kind: liquid" in text
        assert "Only: family Ketone; evaporates fast (F changes it, F then C clears it)" in text
        assert {one.id for one in screen.found} == {"acetone", "butanone"}
        await keys(pilot, "slash")
        await write(pilot, "acetone")
        assert [one.id for one in screen.found] == ["acetone"]
        await keys(pilot, "down", "f", "c")
        assert "Only:" not in flat(pilot.app)
        assert len(screen.found) > 1


def _families(studio: Studio) -> list[tuple[str, str]]:
    from kb.tui.screens.materials.materials_ask import choices

    return choices(studio).families


async def test_filter_by_what_the_studio_holds(studio: Studio) -> None:
    """Held and allowed follow the shelf; the statement on the label is chosen by code and text."""
    hold(studio, ["acetone", "ethanol"])
    forbid(studio, liquids=["ethanol"], why="Zz rule")
    async with BenchleafApp(studio).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await keys(pilot, "down", "f", "down", "down", "down", "right", "escape")
        assert [one.id for one in screen.found] == ["acetone", "ethanol"]
        await keys(pilot, "f", "end", "left", "escape")
        assert [one.id for one in screen.found] == ["ethanol"]
        assert "held here; forbidden here" in flat(pilot.app)
        await keys(pilot, "right")
        assert "Only:" not in flat(pilot.app)


def test_filter_in_words() -> None:
    """Nothing narrowed says nothing."""
    assert Filter().words == ""
    assert Filter(hazard="H360", held=False).words == "label with H360; not held here"


def test_marks_are_four_of_one_kind() -> None:
    """A second press unmarks; a fifth and another kind are refused with what to do."""
    marks = Marks()
    for number in range(MOST):
        assert marks.turn(Mark("liquid", str(number), f"L{number}")) == ""
    assert "the most" in marks.turn(Mark("liquid", "x", "X"))
    assert "Only one kind" in marks.turn(Mark("paper", "y", "Y"))
    assert marks.turn(Mark("liquid", "1", "L1")) == ""
    assert marks.ids == ("0", "2", "3")
    assert marks.words == "Marked: L0, L2, L3 (V compares)"


def test_links_are_grouped_by_what_they_are() -> None:
    """In the order of the first of each group, with the kind before a relation that does not name it."""
    found = [
        Link(kind="liquid", id="a", name="A", relation="inside"),
        Link(kind="caution", id="c", name="C", relation="caution: stop"),
        Link(kind="liquid", id="b", name="B", relation="inside"),
    ]
    assert [(heading, [one.id for one in links]) for heading, links in grouped(found)] == [
        ("Liquid, inside", ["a", "b"]),
        ("Caution: stop", ["c"]),
    ]


async def test_nothing_found_says_what_to_try(still: Studio) -> None:
    """And Enter does nothing rather than fail."""
    async with BenchleafApp(still).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        assert "Type any part of a name" in flat(pilot.app)
        await write(pilot, "qqqqqqqq")
        await keys(pilot, "enter", "down", "enter")
        assert pilot.app.screen is screen
        assert "Nothing like that is known" in flat(pilot.app)


@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=["80x24", "120x40"])
async def test_fits(still: Studio, size: tuple[int, int]) -> None:
    """With a reading open, no key is cut off and no text leaves its column."""
    async with BenchleafApp(still).run_test(size=size) as pilot:
        screen = await opened(pilot)
        assert keys_fit(pilot.app)
        await write(pilot, "acetone")
        seen = ""
        liquids = [place for place, one in enumerate(screen.found) if one.kind == "liquid"]
        for pressed in ("down", "m", *["down"] * liquids[1], "m", "enter", "l"):
            await keys(pilot, pressed)
            assert keys_fit(pilot.app)
            seen += shown(pilot.app)
        for act in MATERIALS:
            assert not act.foot or act.word in seen
        assert screen.pane.lines.virtual_size.width <= screen.pane.size.width


async def test_help_explains_the_marks(still: Studio) -> None:
    """F1 says what each sign means and names every key."""
    async with BenchleafApp(still).run_test(size=(100, 50)) as pilot:
        await opened(pilot)
        await keys(pilot, "f1")
        text = flat(pilot.app)
        for words in ("~ from memory", "? not read here", *(act.says for act in MATERIALS)):
            assert words in text


def _cited(source_id: str, basis: str, *, seen: bool) -> Cited:
    return Cited(id=source_id, cite=f"Cite {source_id}", basis=basis, seen=seen, extent="", url="")


def _reading(*sources: Cited) -> Reading:
    return Reading(
        kind="hazard",
        id="x",
        name="X",
        also=(),
        lines=(),
        sources=sources,
        file="f.yaml",
        line=3,
        origin="shipped",
    )


def test_a_line_without_sources_is_never_better_than_its_entry() -> None:
    """Where nothing in the entry was read, its lines say so."""
    bare = Line(label="weight", value="0.3", sources=(), mark="")
    remembered = _cited("a", "memory", seen=False)
    assert mark_of(_reading(remembered), bare) == "from memory"
    assert mark_of(_reading(remembered, _cited("b", "published", seen=True)), bare) == ""
    assert mark_of(_reading(), bare) == ""


def test_source_words_name_the_line_and_its_own_sources() -> None:
    """Only the line's own sources are shown if it names any; else those of the entry, and it says so."""
    reading = _reading(_cited("a", "memory", seen=False), _cited("b", "published", seen=True))
    own = source_words(reading, Line(label="mass", value="60 g/mol", sources=("b",), mark=""))
    assert "mass: 60 g/mol" in own
    assert "Cite b" in own
    assert "Cite a" not in own
    bare = source_words(reading, Line(label="family", value="alcohol", sources=(), mark=""))
    assert "names no source of its own" in bare
    assert "Cite a" in bare
    assert "Cite b" in bare
    assert "This entry names no source." in source_words(_reading(), None)


def test_where_an_entry_stands() -> None:
    """File and line; the studio's own entries say so."""
    assert where(_reading()) == "From f.yaml, line 3. Entry: x"


@pytest.mark.parametrize("text", ["", "short", "word " * 300, "x" * 1000, "One. Two; three. " * 80])
def test_pieces_lose_nothing(text: str) -> None:
    """A long value is only divided, never cut."""
    found = pieces(text)
    assert "".join(found).replace(" ", "") == text.replace(" ", "")
    assert all(len(piece) <= PIECE for piece in found)


@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=["80x24", "120x40"])
def test_picture_of_a_reading(still: Studio, size: tuple[int, int], snap_compare: Any) -> None:
    """Find and read, one after the other and side by side."""

    async def before(pilot: Pilot[None]) -> None:
        await opened(pilot)
        await write(pilot, "zzyxq")
        await keys(pilot, "enter", "down", "down")

    assert snap_compare(BenchleafApp(still), terminal_size=size, run_before=before)


@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=["80x24", "120x40"])
def test_picture_of_the_links(still: Studio, size: tuple[int, int], snap_compare: Any) -> None:
    """Groups, names and remarks."""

    async def before(pilot: Pilot[None]) -> None:
        await opened(pilot)
        await write(pilot, "zzyxq")
        await keys(pilot, "enter", "l")

    assert snap_compare(BenchleafApp(still), terminal_size=size, run_before=before)


@pytest.mark.slow
def test_the_own_catalogue_is_sound(still: Studio) -> None:
    """The entry that these tests read was taken in."""
    assert read(still, "liquid", "zzyxq-spirit").origin == "studio"


async def test_an_entry_of_ones_own_by_form(studio: Studio) -> None:
    """N asks for the kind, the form says what is wrong while one types, Ctrl+S stores and it is found."""
    async with BenchleafApp(studio).run_test(size=(120, 40)) as pilot:
        screen = await opened(pilot)
        await keys(pilot, "down", "n")
        assert isinstance(pilot.app.screen, ValuesScreen)
        await keys(pilot, "down", "down", "enter")
        form = pilot.app.screen
        assert isinstance(form, OwnForm)
        assert form.kind == "paper"
        await write(pilot, "Our rag")
        assert "still empty: Source" in flat(pilot.app), "keys of the file stand nowhere on the form"
        assert OwnForm("adhesive").heading == "An adhesive of your own"
        await keys(pilot, "ctrl+s")
        assert pilot.app.focused is form.query_one("#field-from"), 'it said that "from" is empty'
        await keys(pilot, "escape", "n", "enter", "down", "down", "down")
        assert "Ctrl+E fills in, again the next: alcohol" in flat(pilot.app), "any text seemed to do"
        await write(pilot, "wax")
        await keys(pilot, "ctrl+e")
        assert "wax" in [field.value for field in pilot.app.screen.query(Input)], "an alcohol of it"
        await keys(pilot, "ctrl+u", *"keton")
        await keys(pilot, "ctrl+e")
        assert "ketone" in [field.value for field in pilot.app.screen.query(Input)]
        await keys(pilot, "f9", "delete", "n", "down", "down", "enter")
        form = pilot.app.screen
        assert "As it was left: A paper of your own" in flat(pilot.app), "it said so for the blink of an eye"
        form.query_one("#field-from", Input).focus()
        await write(pilot, "common-practice")
        assert "Nothing is wrong so far: our-rag" in flat(pilot.app)
        await keys(pilot, "ctrl+s")
        assert pilot.app.screen is screen
        await keys(pilot, "n", "down", "down", "enter")
        form = pilot.app.screen
        await write(pilot, "Our (rag)")
        form.query_one("#field-from", Input).focus()
        await write(pilot, "common-practice")
        assert "Our rag is an entry of your own already" in flat(pilot.app)
        await keys(pilot, "ctrl+s")
        assert "Ctrl+S once more stores it so" in flat(pilot.app), "the first was lost without a word"
        assert "Our rag" in (studio.catalogue_dir / "own.yaml").read_text()
        form.query_one("#field-name", Input).value = next(name for name, _ in names(studio, "paper"))
        await keys(pilot, "ctrl+s")
        assert pilot.app.focused is form.query_one("#field-name"), "it did not lead there"
        form.query_one("#field-name", Input).value = "Our (rag)"
        await keys(pilot, "ctrl+s", "ctrl+s")
        assert pilot.app.screen is screen
    assert "name: Our (rag)" in (studio.catalogue_dir / "own.yaml").read_text()


async def test_what_rests_on_what_is_a_key_away(still: Studio) -> None:
    """W: all sources. D: what depends on the entry, and a reading list."""
    async with BenchleafApp(still).run_test(size=(120, 40)) as pilot:
        await opened(pilot)
        await write(pilot, "acetone")
        await keys(pilot, "down", "d")
        note = pilot.app.screen
        assert isinstance(note, NoteScreen)
        assert note.heading == "What depends on Acetone"
        assert "rankings: every one" in note.text
        assert "To read:" in note.text
        await keys(pilot, "escape", "w")
        note = pilot.app.screen
        assert isinstance(note, NoteScreen)
        assert note.text.startswith("Common practice of the trade, no source")
