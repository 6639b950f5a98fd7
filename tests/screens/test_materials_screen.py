"""The materials screen, by keyboard alone."""

from __future__ import annotations

from typing import Any

import pytest
from textual.pilot import Pilot

from kb.desk.lookup import Cited, Line, Reading, read
from kb.desk.studio import Studio
from kb.model.kinds import BY_WORD
from kb.tui.app import BenchleafApp
from kb.tui.screens.materials import KINDS, MATERIALS, MaterialsScreen
from kb.tui.screens.reading_pane import PIECE, mark_of, pieces, where
from kb.tui.screens.source_view import LinksScreen, SourceView, links, source_words
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
        assert screen.pane.reading is not None
        labels = [line.label for line in screen.pane.reading.lines]
        remembered = [line.label for line in screen.pane.reading.lines if line.mark == "from memory"]
        assert "~ from memory" in flat(pilot.app)
        await keys(pilot, *["down"] * labels.index(remembered[0]), "o")
        assert isinstance(pilot.app.screen, SourceView)
        text = flat(pilot.app)
        assert "Rests on: handbook knowledge from memory, not looked up" in text
        assert "Read: not read for this catalogue" in text
        await keys(pilot, "escape")
        assert pilot.app.screen is screen


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
    """F6 and Shift+F6 go through the kinds; with nothing typed the whole kind is listed."""
    async with BenchleafApp(still).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await keys(pilot, "f6")
        assert {one.kind for one in screen.found} == {"liquid"}
        assert len(screen.found) > 20
        await write(pilot, "rubber")
        await keys(pilot, "f6")
        assert {one.kind for one in screen.found} == {"adhesive"}
        await keys(pilot, "shift+f6", "shift+f6", "shift+f6")
        assert KINDS[screen.kind] == "source"
        assert "Kind: source" in flat(pilot.app)


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
    """Each with its own mark."""
    async with BenchleafApp(still).run_test(size=(100, 40)) as pilot:
        await opened(pilot)
        await write(pilot, "zzyxq")
        await keys(pilot, "enter")
        text = flat(pilot.app)
        assert "density 0.79 g/ml; at 20 °C density (also printed) 0.8 g/ml ~ from memory" in text.replace(
            "density (also 0.8 g/ml ~ from memory printed)", "density (also printed) 0.8 g/ml ~ from memory"
        )


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


async def test_links_lead_on_and_back(still: Studio) -> None:
    """L lists the entries that this one names; Escape goes back through them to the list."""
    async with BenchleafApp(still).run_test(size=(80, 24)) as pilot:
        screen = await opened(pilot)
        await write(pilot, "zzyxq")
        await keys(pilot, "enter", "l")
        assert isinstance(pilot.app.screen, LinksScreen)
        await keys(pilot, "enter")
        assert screen.pane.reading is not None
        assert (screen.pane.reading.kind, screen.pane.reading.id) == ("family", "alcohol")
        await keys(pilot, "escape")
        assert screen.pane.reading.id == "zzyxq-spirit"
        await keys(pilot, "escape")
        assert screen.focused is screen.hits


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
        await keys(pilot, "enter")
        assert keys_fit(pilot.app)
        for act in MATERIALS:
            assert not act.foot or act.word in shown(pilot.app)
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


def test_links_of_a_tape(still: Studio) -> None:
    """A tape names its carrier and its adhesive."""
    reading = read(still, "tape", next(iter(still.compiled.tapes)))
    assert {"carrier", "adhesive"} <= {one.kind for one in links(still, reading)}


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


def test_the_own_catalogue_is_sound(still: Studio) -> None:
    """The entry that these tests read was taken in."""
    assert read(still, "liquid", "zzyxq-spirit").origin == "studio"
