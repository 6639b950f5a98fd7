"""Hostile text in the files of a studio: its catalogue, its shelf and its settings."""

from __future__ import annotations

import json
import unicodedata
from collections.abc import Iterator
from pathlib import Path

import pytest

from kb.book.text import clean_text
from kb.catalogue.load import load
from kb.catalogue.own_files import read_settings, read_shelf_file
from kb.catalogue.paths import shipped_data
from kb.catalogue.problems import UNSAFE
from kb.desk.materials.lookup import read
from kb.model.material import Paper
from tests.faults import figures
from tests.faults.hostile.checks import html_text, strings_in, svg_texts, trouble, unclean
from tests.faults.hostile.corpus import CORPUS, SHORT, Hostile
from tests.faults.hostile.entries import ENTRIES, as_yaml, entries_of
from tests.faults.hostile.stage import Stage, staged

SHAPE = "abcdefghijklmnopqrstuvwxyz0123456789-"
WORDS = {"media": "medium", "tissues": "tissue", "practice": "practice"}


def sound(text: str) -> bool:
    """Whether a catalogue takes the text as a name."""
    return bool(text.strip()) and not UNSAFE.search(text) and len(text) <= 10_000


def numbered(one: Hostile) -> str:
    """The id of the entries that bear a string."""
    return f"h-{CORPUS.index(one)}"


@pytest.fixture(scope="module")
def stage(tmp_path_factory: pytest.TempPathFactory, blank_index: Path) -> Iterator[Stage]:
    """A studio whose catalogue holds entries of all kinds for every string."""
    with staged(tmp_path_factory.mktemp("hostile"), blank_index) as made:
        folder = made.studio.catalogue_dir
        folder.mkdir()
        for one in CORPUS:
            entries = entries_of(CORPUS.index(one), one.text)
            text = "".join(f"{kind}: {as_yaml([entry])}\n" for kind, entry in entries.items())
            (folder / f"{numbered(one)}.yaml").write_text(text, encoding="utf-8")
        made.studio.close()
        yield made


def test_every_string_as_text_of_the_catalogue(stage: Stage) -> None:
    """It is in the catalogue as it was written, or a readable problem says why not."""
    catalogue, problems = load([shipped_data(), stage.studio.catalogue_dir])
    taken = [one for one in CORPUS if sound(one.text)]
    assert len(taken) > 250
    for one in taken:
        entry = catalogue.entries["papers"].get(numbered(one))
        assert isinstance(entry, Paper), one
        assert entry.name == unicodedata.normalize("NFC", one.text)
    for kind in ENTRIES:
        ours = {id for id in catalogue.entries[kind] if id.startswith("h-")}
        wanted = {numbered(one) for one in taken if kind in entries_of(CORPUS.index(one), one.text)}
        assert ours == wanted or kind == "liquids"
        assert len(ours) > 50
    for problem in problems:
        assert not unclean(str(problem)), problem
        assert "\n" not in str(problem)
    figures.add("hostile text in a catalogue", strings=len(CORPUS), surfaces=len(ENTRIES), crashes=0)


def test_every_entry_is_shown(stage: Stage) -> None:
    """Reading an entry of any kind prints nothing raw, and gives other programs the text itself."""
    from kb.model.kinds import BY_KEY

    found = []
    tried = 0
    for one in SHORT:
        if not sound(one.text):
            continue
        for number, kind in enumerate(entries_of(CORPUS.index(one), "")):
            word = BY_KEY[kind].word
            as_json = (number + CORPUS.index(one)) % 2 == 0
            printed = stage.run(["show", word, numbered(one), *(["--json"] if as_json else [])])
            tried += 1
            if why := trouble(*printed, as_json=as_json):
                found.append(f"{word} {one.kind}: {one.name}: {why}")
            elif as_json and word != "caution":
                assert unicodedata.normalize("NFC", one.text) in set(strings_in(json.loads(printed.out)))
    figures.add("hostile entries shown", tried=tried, crashes=len(found))
    assert not found, "\n".join(found)


QUESTION = [
    *("--adhesive", "natural-rubber-resin", "--stage", "oily", "--carrier", "crepe-paper"),
    *("--medium", "letterpress-oil", "--paper", "paper-rag"),
]
LISTS = {
    "liquids": ["liquids"],
    "recipes": ["recipe", "--list"],
    "cautions": ["cautions"],
    "find": ["find", "acetone", "--limit", "500"],
    "find bracket": ["find", "[", "--limit", "500"],
    "find in text": ["find", "also", "--limit", "500"],
    "choose": ["choose", "--limit", "0", "--parts", *QUESTION],
    "choose by name": ["choose", "--tape", "{tapes}", "--medium", "{media}", "--paper", "{papers}"],
    "blend": ["blend", "--limit", "20", *QUESTION],
    "map": ["map", "--adhesive", "{adhesives}", "--medium", "{media}"],
    "compare": ["compare", "liquid", "{liquids}", "{others}", "acetone"],
    "safety": ["safety", "{liquids}"],
    "dry": ["dry", "--blend", "acetone 50, ethanol 50", *QUESTION],
    "check": ["check"],
    "identify": ["identify", "--sign", "gloss=glossy"],
    "shelf": ["shelf"],
    "links": ["show", "liquid", "acetone", "--links"],
    "links of a source": ["show", "source", "project", "--links"],
    "recipe": ["recipe", "{recipes}", "--make", "x 2"],
}


def some(kind: str, place: int = 0) -> str:
    """The id of an entry of a kind whose name is markup."""
    made = [one for one in CORPUS if one.kind == "markup" and kind in entries_of(CORPUS.index(one), "")]
    return numbered(made[place])


@pytest.mark.parametrize("name", LISTS)
@pytest.mark.parametrize("as_json", [False, True], ids=["text", "json"])
def test_lists_of_hostile_entries(stage: Stage, name: str, as_json: bool) -> None:
    """Lists, rankings, maps and tables with hundreds of such names print nothing raw."""
    ids = {kind: some(kind) for kind in ENTRIES} | {"others": some("liquids", 5)}
    words = [word.format(**ids) if word.startswith("{") else word for word in LISTS[name]]
    printed = stage.run([*words, "--json"] if as_json else words)
    assert not trouble(*printed, as_json=as_json)
    assert printed.code in {0, 1}, printed.err
    assert printed.out


def test_names_in_lists_are_the_names(stage: Stage) -> None:
    """The list for other programs holds each name exactly; the list for people holds it cleaned."""
    names = {unicodedata.normalize("NFC", one.text) for one in CORPUS if sound(one.text)}
    shown = set(strings_in(json.loads(stage.run(["shelf", "--json"]).out)))
    assert len(names - shown) <= 1, "a name too long to be had with the word before it may be missing"
    ranked = set(strings_in(json.loads(stage.run(["choose", "--limit=0", "--json", *QUESTION]).out)))
    assert len(names & ranked) > 30


def test_safety_cards_and_maps_of_hostile_names(stage: Stage) -> None:
    """HTML and SVG hold only our own elements, and the name as text, whatever it spells."""
    checked = 0
    for one in SHORT:
        if not sound(one.text):
            continue
        # A name of its own each time: no card is written over one that is there.
        card = stage.here / f"card-{checked}.html"
        assert not stage.wrong(["safety", numbered(one), "--card", str(card)])
        page = html_text(card.read_text(encoding="utf-8"))
        assert words_of(one.text) in words_of(page), one
        checked += 1
    card = stage.here / "card.txt"
    assert not stage.wrong(["safety", some("liquids"), "--card", str(card)])
    assert not unclean(card.read_text(encoding="utf-8"))
    drawn = stage.here / "map.svg"
    assert not stage.wrong(["map", *QUESTION, "--svg", str(drawn)])
    texts = " ".join(svg_texts(drawn.read_text(encoding="utf-8")))
    assert "<script>alert(1)</script>" in texts
    figures.add("hostile names on cards and maps", tried=checked + 2, crashes=0)


def words_of(text: str) -> str:
    """A text with single blanks, as a page keeps it."""
    return " ".join(unicodedata.normalize("NFC", text).split())


def test_hostile_ids_are_refused(tmp_path: Path) -> None:
    """No id but of plain letters, digits and hyphens gets in; the others are told with file and line."""
    data = tmp_path / "data"
    data.mkdir()
    for number, one in enumerate(CORPUS):
        entry = {"id": one.text, "name": f"Paper {number}", "from": ["x"]}
        source = "sources: [{id: x, cite: X, basis: project, seen: false}]\n" if number == 0 else ""
        text = f"{source}papers: {as_yaml([entry])}\n"
        (data / f"{number:03d}.yaml").write_text(text, encoding="utf-8")
    catalogue, problems = load([data])
    assert all(set(found) <= set(SHAPE) for found in catalogue.entries["papers"])
    told = {problem.path for problem in problems}
    assert len(told) + len(catalogue.entries["papers"]) >= len(CORPUS)
    for problem in problems:
        assert not unclean(str(problem)), problem
        assert len(str(problem)) < 600


def test_hostile_text_as_yaml_itself(tmp_path: Path) -> None:
    """Raw, in the place of a value, of a key and of a whole file: entries or problems, never an error."""
    data = tmp_path / "data"
    data.mkdir()
    for number, one in enumerate(CORPUS):
        raw = one.raw[:200_000]
        for place, content in enumerate((b"papers:\n- id: a\n  name: " + raw, raw + b": 1\n", raw)):
            (data / f"{number:03d}-{place}.yaml").write_bytes(content)
    catalogue, problems = load([data])
    assert set(catalogue.entries["liquids"]) == set()
    for problem in problems:
        assert not unclean(str(problem)), problem
        assert "\n" not in str(problem)


def test_hostile_shelf_and_settings(tmp_path: Path) -> None:
    """Every string as reason, liquid held, name of studio, person and bench: read, or told in a line."""
    shelf, settings = tmp_path / "shelf.yaml", tmp_path / "studio.yaml"
    known = {"liquids": {"acetone"}, "families": {"ketone"}, "hazards": {"H225"}}
    for one in CORPUS:
        said = as_yaml(one.text)
        shelf.write_text(
            f"holds: [acetone, {said}]\nforbids:\n- {{liquids: [acetone], why: {said}}}\n", encoding="utf-8"
        )
        read_in, problems = read_shelf_file(shelf, known)
        if not UNSAFE.search(one.text) and one.text.strip() and len(one.text) <= 10_000:
            assert read_in.forbids[0].why == unicodedata.normalize("NFC", one.text)
        for text in problems:
            assert not unclean(text)
        settings.write_text(f"name: {said}\nwho: {said}\nbench: {said}\n", encoding="utf-8")
        found, told = read_settings(settings)
        assert told or found.who == unicodedata.normalize("NFC", one.text)
        for text in told:
            assert not unclean(text)
    figures.add("hostile shelf and settings", strings=len(CORPUS), surfaces=5, crashes=0)


def test_people_and_benches_of_any_name(stage: Stage) -> None:
    """A name from studio.yaml goes into records and file names: cleaned and kept, or refused in words."""
    tried = 0
    names = [*SHORT[::12], *(one for one in SHORT if one.kind in {"path", "direction"})]
    for one in names:
        said = as_yaml(one.text)
        stage.studio.settings_file.write_text(f"who: {said}\nbench: {said}\n", encoding="utf-8")
        with pytest.MonkeyPatch.context() as patch:
            patch.delenv("BENCHLEAF_BENCH")
            stage.studio.mark_stale()
            printed = stage.run(
                [
                    "test",
                    "add",
                    "--liquid=acetone",
                    "--release=1",
                    "--sheet=By anyone",
                    "--new-sheet",
                    "--json",
                ]
            )
            assert not trouble(*printed, as_json=True), one
            assert printed.code in {0, 3}, printed.err
            tried += printed.code == 0
        stage.studio.settings_file.unlink()
    kept = stage.run(["test", "list", "--sheet=By anyone", "--limit=0", "--json"])
    rows = json.loads(kept.out)
    assert len(rows) == tried > len(names) * 2 // 3
    for row in rows:
        assert row["who"] == clean_text(row["who"], multiline=False)
    # Beside the book only what this machine saw of it bears the names of benches.
    folders = {stage.studio.book_dir, stage.root / "working" / "seen"}
    assert {path.parent for path in stage.root.rglob("*.jsonl")} <= folders
    assert stage.run(["verify"]).code == 0


def test_reading_an_entry_directly(stage: Stage) -> None:
    """The desk itself gives the stored text, not a cleaned copy; cleaning is for the way out."""
    one = next(one for one in CORPUS if one.name == "type with quotes")
    assert read(stage.studio, "liquid", numbered(one)).name == one.text
