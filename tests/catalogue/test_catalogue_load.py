"""Loading catalogue folders: layers, references, places, and the shipped catalogue itself."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import msgspec
import pytest

from kb.catalogue.load import Catalogue, load, read_one
from kb.catalogue.own_files import read_settings
from kb.catalogue.paths import find, shipped_data, yaml_files
from kb.catalogue.problems import Problem
from kb.catalogue.summary import RESTS_ON, WEIGHTY, summary
from kb.model.base import Source
from kb.model.kinds import KINDS
from kb.model.liquid import Liquid
from kb.model.studio import Settings

ROOT = Path(__file__).resolve().parents[2]
BASE = Path(__file__).parent.parent / "faults" / "broken_catalogue" / "base.yaml"


@pytest.fixture
def shipped(tmp_path: Path) -> Path:
    """A small shipped catalogue."""
    folder = tmp_path / "data"
    folder.mkdir()
    shutil.copy(BASE, folder)
    return folder


@pytest.fixture
def studio(tmp_path: Path) -> Path:
    """An empty catalogue folder of a studio."""
    folder = tmp_path / "studio" / "catalogue"
    folder.mkdir(parents=True)
    return folder


def liquid(catalogue: Catalogue, id: str) -> Liquid:
    """The liquid, which must be there."""
    found = catalogue.get("liquids", id)
    assert isinstance(found, Liquid)
    return found


def told(problems: list[Problem]) -> list[str]:
    """File, line and message of each problem."""
    return [f"{problem.path}:{problem.line}: {problem.message}" for problem in problems]


def test_entries_by_kind_and_id(shipped: Path) -> None:
    """Entries keep the order of the file; every kind is there, even when it has none."""
    catalogue, problems = load([shipped])
    assert problems == []
    assert list(catalogue.entries) == [kind.key for kind in KINDS]
    assert list(catalogue.entries["liquids"]) == ["acetone", "ethanol"]
    assert [one.id for one in catalogue.of("liquids", Liquid).values()] == ["acetone", "ethanol"]
    assert catalogue.all("liquids") == tuple(catalogue.entries["liquids"].values())
    assert liquid(catalogue, "acetone").also == ("propanone",)
    assert catalogue.get("liquids", "petrol") is None
    assert catalogue.get("spaceships", "any") is None
    assert catalogue.all("spaceships") == ()


def test_where_and_origin(shipped: Path) -> None:
    """Each entry knows its file and line, and that it is shipped."""
    catalogue, _ = load([shipped])
    assert catalogue.where["liquids", "acetone"] == ("data/base.yaml", 11)
    assert set(catalogue.origin.values()) == {"shipped"}
    assert set(catalogue.where) == set(catalogue.origin)


def test_catalogue_is_immutable(shipped: Path) -> None:
    """Nobody can put another set of entries into a loaded catalogue."""
    catalogue, _ = load([shipped])
    with pytest.raises(AttributeError):
        catalogue.entries = {}  # type: ignore[misc]


def test_nothing_to_load() -> None:
    """No folder, no entries, no problem."""
    catalogue, problems = load([])
    assert (sum(map(len, catalogue.entries.values())), problems) == (0, [])


def test_studio_adds_and_replaces(shipped: Path, studio: Path) -> None:
    """A studio's entry stands beside the shipped ones or takes the place of one as a whole."""
    (studio / "mine.yaml").write_text(
        "liquids:\n- {id: acetone, name: Acetone of ours, family: ketones}\n"
        "- {id: butanone, name: Butanone, family: our-ketones}\n"
        "families:\n- {id: our-ketones, name: Our ketones, from: [memory]}\n"
    )
    catalogue, problems = load([shipped, studio])
    # What the label of the shipped entry warns of stays; that it does is the only thing to tell.
    assert {problem.entry for problem in problems} <= {"liquids/acetone"}
    assert all("can be added to, not taken away; it stays" in problem.message for problem in problems)
    acetone = liquid(catalogue, "acetone")
    assert acetone.classification == liquid(load([shipped])[0], "acetone").classification
    assert (acetone.name, acetone.hansen, acetone.also) == ("Acetone of ours", None, ())
    assert list(catalogue.entries["liquids"]) == ["acetone", "ethanol", "butanone"]
    assert catalogue.origin["liquids", "acetone"] == "studio"
    assert catalogue.origin["liquids", "butanone"] == "studio"
    assert catalogue.origin["liquids", "ethanol"] == "shipped"
    assert catalogue.where["liquids", "acetone"] == ("catalogue/mine.yaml", 2)


@pytest.mark.parametrize("fault", ["family: none-such", "family: ketones\n  cas: '1'"])
def test_faulty_replacement_leaves_the_shipped_entry(fault: str, shipped: Path, studio: Path) -> None:
    """A mistake in a studio's own entry costs the replacement, not the entry; what hangs on it stays."""
    (studio / "mine.yaml").write_text(f"liquids:\n- id: acetone\n  name: Ours\n  {fault}\n")
    catalogue, problems = load([shipped, studio])
    assert [problem.path for problem in problems] == ["catalogue/mine.yaml"] * len(problems)
    assert problems
    assert liquid(catalogue, "acetone").name == "Acetone"
    assert catalogue.origin["liquids", "acetone"] == "shipped"
    assert catalogue.get("cautions", "acetone-near-fire") is not None


def test_studio_without_own_entries(shipped: Path, tmp_path: Path) -> None:
    """A studio need not have a catalogue folder; the shipped one must be there."""
    assert load([shipped, tmp_path / "none"])[1] == []
    _, problems = load([tmp_path / "none"])
    assert told(problems) == ["none:1: there is no such folder"]


def test_file_in_place_of_a_folder(shipped: Path, tmp_path: Path) -> None:
    """A file where the studio's folder is due is told."""
    (tmp_path / "catalogue").write_text("x")
    assert told(load([shipped, tmp_path / "catalogue"])[1]) == ["catalogue:1: there is no such folder"]


def test_duplicate_across_files_of_one_folder(shipped: Path) -> None:
    """Both places are named and the first one is kept."""
    (shipped / "later.yaml").write_text("liquids:\n- {id: acetone, name: Other, family: ketones}\n")
    catalogue, problems = load([shipped])
    assert told(problems) == [
        'data/later.yaml:2: the id "acetone" is used a second time; it stands first in data/base.yaml:11'
    ]
    assert liquid(catalogue, "acetone").name == "Acetone"


def test_same_id_in_two_kinds(shipped: Path) -> None:
    """Ids are unique within a kind only."""
    (shipped / "more.yaml").write_text("polymers:\n- {id: acetone, name: A polymer}\n")
    assert load([shipped])[1] == []


def test_reference_to_a_left_out_entry(shipped: Path) -> None:
    """An entry that stands on a faulty one goes too and says why, link by link."""
    base = (shipped / "base.yaml").read_text().replace("r0: 8.0", "r0: -8.0")
    (shipped / "base.yaml").write_text(base)
    catalogue, problems = load([shipped])
    assert [problem.entry for problem in problems] == [
        "polymers/natural-rubber",
        "adhesives/rubber-resin",
        "tapes/clear-tape",
        "reports/old-report",
        "looks/gloss",
    ]
    assert "was left out because of a fault of its own" in problems[-1].message
    assert catalogue.get("tapes", "clear-tape") is None
    assert catalogue.get("liquids", "acetone") is not None


def test_one_broken_source_file_is_told_with_all_that_hangs_on_it(shipped: Path) -> None:
    """When sources cannot be read, nothing that cites them is shown as if it could."""
    text = (shipped / "base.yaml").read_text()
    head, tail = text.split("families:\n", 1)
    (shipped / "base.yaml").write_text("families:\n" + tail)
    (shipped / "sources.yaml").write_text(head + "- [\n")
    catalogue, problems = load([shipped])
    assert any(problem.path == "data/sources.yaml" and "YAML" in problem.message for problem in problems)
    assert any("there is no source" in problem.message for problem in problems)
    assert set(catalogue.where) == set()


def test_problems_come_in_order(shipped: Path, studio: Path) -> None:
    """Folders in their order, then files by name, then lines."""
    (shipped / "z.yaml").write_text("x: 1\ny: 2\n")
    (shipped / "a.yaml").write_text("x: 1\n")
    (studio / "b.yaml").write_text("x: 1\n")
    places = [(problem.path, problem.line) for problem in load([shipped, studio])[1]]
    assert places == [("data/a.yaml", 1), ("data/z.yaml", 1), ("data/z.yaml", 2), ("catalogue/b.yaml", 1)]


def test_shared_name_keeps_both(shipped: Path) -> None:
    """A name with two meanings is told, and neither entry is lost."""
    (shipped / "more.yaml").write_text(
        "liquids:\n- id: dimethyl-ketone\n  name: Dimethyl ketone\n  also:\n  - white\n  - PROPANONE\n"
        "  family: ketones\n"
    )
    catalogue, problems = load([shipped])
    assert told(problems) == [
        'data/more.yaml:6: the name "PROPANONE" also stands for the entry "acetone" (data/base.yaml:11)'
    ]
    assert catalogue.get("liquids", "dimethyl-ketone") is not None


def test_statement_with_suffix_or_organ(shipped: Path) -> None:
    """H225 and its narrowed forms all rest on the one hazard entry, in liquids and cautions."""
    (shipped / "more.yaml").write_text(
        "liquids:\n- id: x\n  name: X\n  family: ketones\n"
        "  classification: {statements: [H225a, H336 (nervous system)], from: [memory]}\n"
    )
    assert load([shipped])[1] == []


def test_files_of_a_folder(tmp_path: Path) -> None:
    """Sub folders count, the demo and hidden ones do not; order is fixed; other files are passed over."""
    for name in ("b.yaml", "a/x.yml", "a/y.YAML", "demo/z.yaml", "a/demo/z.yaml", ".git/q.yaml"):
        (tmp_path / name).parent.mkdir(exist_ok=True, parents=True)
        (tmp_path / name).write_text("x")
    for name in ("notes.txt", ".hidden.yaml", "yaml", "c.yaml.bak"):
        (tmp_path / name).write_text("x")
    names = [path.relative_to(tmp_path).as_posix() for path in yaml_files(tmp_path)]
    assert names == ["a/x.yml", "a/y.YAML", "b.yaml"]
    assert yaml_files(tmp_path / "none") == []


def test_links_of_a_folder(tmp_path: Path) -> None:
    """A link is followed only if it stays inside."""
    inside = tmp_path / "data"
    inside.mkdir()
    (tmp_path / "out.yaml").write_text("x")
    (inside / "a.yaml").write_text("x")
    (inside / "b.yaml").symlink_to("a.yaml")
    (inside / "c.yaml").symlink_to(tmp_path / "out.yaml")
    files, refused = find(inside)
    assert [path.name for path in files] == ["a.yaml", "b.yaml"]
    assert [path.name for path, _ in refused] == ["c.yaml"]


def test_linked_catalogue_folder_itself(shipped: Path, tmp_path: Path) -> None:
    """The folder as a whole may be a link: a studio can lie anywhere."""
    (tmp_path / "link").symlink_to(shipped)
    catalogue, problems = load([tmp_path / "link"])
    assert problems == []
    assert catalogue.where["liquids", "acetone"] == ("link/base.yaml", 11)


def test_problem_as_a_line() -> None:
    """What people read: place, entry, sentence, what is due, an example."""
    problem = Problem("data/x.yaml", 3, "liquids/a", "it is wrong", "right", "a: 1")
    assert str(problem) == "data/x.yaml:3: liquids/a: it is wrong. Expected: right. Example: a: 1"
    assert str(Problem("x.yaml", 1, "", "did you mean b?")) == "x.yaml:1: did you mean b?"


def test_one_record_file(tmp_path: Path) -> None:
    """A settings file is read by the same rules: value, or problems with lines."""
    path = tmp_path / "studio.yaml"
    path.write_text("name: Ours\nauthority: EU\n")
    settings, problems = read_one(path, Settings)
    assert (settings, problems) == (Settings(name="Ours", authority="EU"), [])
    path.write_text("name: Ours\nauthorty: EU\ninvented: no\n")
    settings, problems = read_one(path, Settings)
    assert settings is None
    assert told(problems) == [
        'studio.yaml:2: the key "authorty" is not known here; did you mean "authority"?',
        'studio.yaml:3: the text "no" stands where true or false is due',
    ]
    path.write_text("name: [")
    assert [problem.line for problem in read_one(path, Settings)[1]] == [1]


def test_settings_without_a_line_are_the_usual_ones(tmp_path: Path) -> None:
    """Nothing is wrong in a file whose every line is a remark."""
    path = tmp_path / "studio.yaml"
    for text in ("", "# name: Ours\n"):
        path.write_text(text)
        assert read_settings(path) == (Settings(), [])


def test_summary_counts_entries_and_what_figures_rest_on(shipped: Path) -> None:
    """Every struct that names sources counts once, by its first source."""
    found = summary(load([shipped])[0])
    assert found.entries["liquids"] == 2
    assert found.entries["sources"] == 2
    assert set(found.by_basis) == set(RESTS_ON)
    # acetone's boiling point and Hansen parameters, and the report
    assert found.by_basis["published, seen"] == 3
    assert found.figures == sum(found.by_basis.values()) == 3 + found.by_basis["memory"]
    assert found.figures == sum(one.figures for one in found.memory.values())
    assert sum(one.memory_first for one in found.memory.values()) == found.by_basis["memory"]


def test_summary_of_the_shipped_figures_that_matter(real: tuple[Catalogue, list[Problem]]) -> None:
    """Every group has figures; memory beside a text counts as memory too, and shares may not get worse."""
    found = summary(real[0])
    assert set(found.weighty) == set(WEIGHTY) == {one.group for one in found.listed}
    assert all(one.figures >= one.memory_any >= one.memory_first for one in found.weighty.values())
    limits = real[0].of("liquids", Liquid).values()
    assert found.weighty["exposure limits"].figures == sum(len(one.limits) for one in limits)
    ours = sum(one.memory_any for one in found.memory.values())
    assert ours / found.figures < 0.40
    assert sum(one.memory_any for one in found.weighty.values()) / len(found.listed) < 0.50


@pytest.fixture(scope="module")
def real() -> tuple[Catalogue, list[Problem]]:
    """The shipped catalogue."""
    return load([shipped_data()])


def test_shipped_catalogue_has_no_problems(real: tuple[Catalogue, list[Problem]]) -> None:
    """Everything that is shipped passes every check."""
    assert [str(problem) for problem in real[1]] == []


def test_shipped_catalogue_holds_every_kind(real: tuple[Catalogue, list[Problem]]) -> None:
    """No kind of entry is forgotten."""
    found = summary(real[0])
    assert [key for key, count in found.entries.items() if not count] == []
    assert found.figures > 0


def test_every_shipped_source_is_used(real: tuple[Catalogue, list[Problem]]) -> None:
    """A source that nothing cites is a leftover, but for the general ones."""
    catalogue = real[0]
    general = {"memory", "common-practice", "project", "computed"}
    told = {name for kind in KINDS for entry in catalogue.all(kind.key) for name in cited(entry)}
    assert set(catalogue.of("sources", Source)) - told - general == set()


def cited(value: object) -> set[str]:
    """All texts inside a record: whatever an entry cites is among them."""
    if isinstance(value, str):
        return {value}
    if isinstance(value, msgspec.Struct):
        fields = value.__struct_fields__
        skip = ("id",) if isinstance(value, Source) else ()
        return set().union(*(cited(getattr(value, name)) for name in fields if name not in skip))
    if isinstance(value, tuple):
        return set().union(*map(cited, value)) if value else set()
    return set()


def test_finding_files_needs_no_yaml() -> None:
    """A warm start lists the files to see whether any changed; it must not pay for a parser."""
    code = "import sys, kb.catalogue.paths; sys.exit(bool({'yaml', 'msgspec', 'textual'} & set(sys.modules)))"
    assert subprocess.run([sys.executable, "-c", code], check=False, cwd=ROOT).returncode == 0


def test_shipped_data_inside_the_package_or_beside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Installed, the data lie in the package; in a working copy, beside it."""
    package = tmp_path.resolve() / "kb"
    (package / "catalogue").mkdir(parents=True)
    monkeypatch.setattr("kb.catalogue.paths.__file__", str(package / "catalogue" / "paths.py"))
    assert shipped_data() == package.parent / "data"
    (package / "data").mkdir()
    assert shipped_data() == package / "data"
