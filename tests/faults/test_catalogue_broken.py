"""Broken catalogue files: each gives a readable problem with file and line, and the rest still loads."""

from __future__ import annotations

import os
import shutil
import tracemalloc
from pathlib import Path
from typing import Any

import pytest

from kb.catalogue.load import Catalogue, load
from kb.catalogue.own_files import read_shelf_file, read_strict
from kb.catalogue.paths import MAX_BYTES, yaml_files
from kb.catalogue.problems import UNSAFE, Problem
from kb.catalogue.yaml_reader import read

CORPUS = Path(__file__).parent / "broken_catalogue"
BASE = "base.yaml"

# file -> (line, part of the message[, number of problems if more than one])
EXPECTED: dict[str, tuple[int, str] | tuple[int, str, int]] = {
    "empty": (1, "the file is empty"),
    "only_comment": (1, "the file is empty"),
    "top_list": (1, "the file begins with a list"),
    "top_text": (1, "the file begins with text"),
    "two_documents": (2, "a second document begins here"),
    "unknown_kind": (1, 'did you mean "liquids"?'),
    "unknown_kind_far": (1, '"spaceships" is no kind of entry'),
    "kind_is_map": (1, "a map stands where the list of liquids is due"),
    "kind_is_nothing": (1, "nothing stands where the list of liquids is due"),
    "entry_is_text": (2, 'the text "acetone" stands where a map is due'),
    "entry_is_nothing": (2, "nothing stands where a map is due"),
    "unclosed_quote": (5, "a quotation mark that opens here is never closed"),
    "unclosed_bracket": (5, "a bracket that opens here is never closed"),
    "tab_indent": (3, "a tab stands in the indent"),
    "colon_in_text": (3, "a colon and a blank stand inside unquoted text"),
    "at_sign": (3, "begins with a sign that needs quotes"),
    "crooked_indent": (4, "not valid YAML"),
    "backslash": (3, "a backslash stands in text"),
    "directive": (1, "not valid YAML"),
    "alias": (5, "an anchor (&) is used", 2),
    "alias_bomb": (1, "more than 50 faults of form"),
    "alias_key": (1, "an anchor or a tag stands on a key", 2),
    "merge_key": (3, "a merge key (<<) is used", 2),
    "tag_python": (3, 'the tag "tag:yaml.org,2002:python/object/apply:os.system" is used', 2),
    "tag_own": (5, 'the tag "!number" is used'),
    "tag_undefined": (5, "a tag (!) is used"),
    "tag_set": (5, 'the tag "tag:yaml.org,2002:set" is used'),
    "tag_int_wrong": (5, 'the tag "tag:yaml.org,2002:int" is used'),
    "duplicate_key": (6, 'the key "name" is given twice, first on line 3'),
    "duplicate_top_key": (3, 'the key "liquids" is given twice'),
    "map_as_key": (1, "stands where a key is due"),
    "deep": (1, "nested deeper than 20 levels"),
    "escape_sequence": (3, "the control character U+001B"),
    "turned_text": (4, "the control character U+202E"),
    "not_finite": (5, "the number is not finite"),
    "not_a_number": (6, "the number is not finite"),
    "overflow": (5, "the number is not finite"),
    "endless_digits": (5, "more digits than can be meant"),
    "too_large": (5, "the number is too large"),
    "id_missing": (2, 'the key "id" is missing'),
    "id_upper": (2, 'the id "X_Liquid" is not in plain form'),
    "id_sign": (2, 'the id "../x" is not in plain form'),
    "id_confusable": (2, "is not in plain form"),
    "id_number": (2, "the number 42 stands where text is due"),
    "id_empty": (2, "is not in plain form"),
    "hazard_id": (2, "is no code of a statement"),
    "duplicate_id": (2, "it stands first in data/base.yaml:11"),
    "duplicate_inside": (5, "it stands first in data/broken/duplicate_inside.yaml:2"),
    "unknown_key": (5, 'did you mean "hansen"?'),
    "unknown_key_far": (5, 'the key "colour" is not known here'),
    "unknown_inner_key": (8, 'the key "hh" is not known here'),
    "source_word": (7, 'did you mean "from"?', 2),
    "missing_name": (2, 'the key "name" is missing'),
    "missing_inner": (5, 'the key "p" is missing'),
    "several_at_once": (5, 'the key "nonsense-here" is not known here', 4),
    "from_missing": (5, 'no source is given (the key "from" is missing)'),
    "from_empty": (7, "no source is given (from is empty)"),
    "from_nothing": (7, "nothing stands where a list of ids of sources is due"),
    "from_text": (7, 'the text "memory" stands where a list is due'),
    "from_unknown": (7, 'there is no source "memroy"; did you mean "memory"?'),
    "cas_without_source": (5, "no source is given for the CAS number"),
    "supplier_without_source": (7, "no source is given for the suppliers' statements"),
    "number_in_quotes": (5, "it stands in quotes"),
    "number_with_unit": (6, "write only the number"),
    "decimal_comma": (6, "it has a decimal comma"),
    "decimal_comma_flow": (5, "a decimal comma has cut a number in two"),
    "range_as_text": (5, "it is a range"),
    "bound_as_text": (5, "it is a bound"),
    "about_as_text": (5, "is text where a number is due"),
    "octal": (5, "it begins with a zero"),
    "clock": (5, "is text where a number is due"),
    "words_for_number": (5, "is text where a number is due"),
    "unit_inside": (5, "the unit is in the name of the field, flash_point_c"),
    "unit_other": (5, "figures are kept in one unit"),
    "unit_on_entry": (5, "the unit of each figure is in the name of its field"),
    "figure_is_number": (5, "the number 56.1 stands where a map is due"),
    "figure_is_list": (5, "a list stands where a map is due"),
    "true_for_number": (5, "true stands where a number"),
    "no_for_false": (2, 'the text "no" stands where true or false is due'),
    "number_for_text": (3, "the number 1960 stands where text is due"),
    "list_for_text": (3, "a list stands where text is due"),
    "name_nothing": (3, "nothing stands where text is due"),
    "name_blank": (3, "the text of name is blank"),
    "also_text": (5, 'the text "propanone" stands where a list is due'),
    "unknown_word": (4, 'did you mean "published"?'),
    "position_decimal": (2, "the number 1.0 is not one of the known words"),
    "parts_text": (5, '"half" is text where a number is due'),
    "figure_hollow": (5, "the figure holds no number"),
    "figure_two_minds": (7, "none_known is given beside a number"),
    "rival_hollow": (9, "the figure holds no number"),
    "range_reversed": (6, "the range is reversed: low 40 is more than high 30"),
    "value_outside": (5, "lies outside its own range"),
    "cas_digit": (5, "has a wrong check digit"),
    "cas_form": (5, "the number 67641 stands where text is due"),
    "cas_shape": (5, "is not in the form of a CAS number"),
    "boiling_low": (5, "boiling_point_c cannot be -100"),
    "boiling_rival_low": (9, "boiling_point_c cannot be -273"),
    "density_zero": (5, "density_g_ml cannot be 0"),
    "density_si": (5, "density_g_ml cannot be 790"),
    "pressure_negative": (5, "vapour_pressure_20c_kpa cannot be -3"),
    "pressure_falls": (6, "the vapour pressure at 25 C (20) is below"),
    "pressure_mmhg": (6, "cannot have a vapour pressure of 185 kPa"),
    "limits_swapped": (5, "the lower explosive limit (13) is not below"),
    "limit_over_100": (5, "upper_explosive_limit_vol_pct cannot be 130"),
    "limit_zero": (5, "lower_explosive_limit_vol_pct cannot be 0"),
    "flash_above_boiling": (6, "the flash point (60) is not below the boiling point (56)"),
    "molar_mass_one": (5, "molar_mass_g_mol cannot be 1"),
    "absolute_zero": (5, "is below absolute zero"),
    "radius_negative": (8, "the radius r0 cannot be -8"),
    "hansen_negative": (7, "the parameter p cannot be -1"),
    "teas_sum": (5, "the fractional parameters sum to 90"),
    "exposure_zero": (8, "twa_ppm cannot be 0"),
    "solubility_negative": (7, "solubility_g_l cannot be -1"),
    "weight_over_one": (2, "the weight cannot be 1.5"),
    "parts_sum": (5, "the parts sum to 0.9"),
    "parts_percent": (5, "the part of acetone cannot be 100", 2),
    "parts_none": (5, "the parts sum to 0"),
    "family_unknown": (4, 'there is no family "keytones"; did you mean "ketones"?'),
    "statement_unknown": (6, 'there is no hazard "H999"'),
    "polymer_unknown": (5, 'there is no polymer "natural-ruber"'),
    "block_unknown": (4, 'there is no polymer "nothing-such"'),
    "carrier_refs": (5, 'there is no polymer "p-none"', 2),
    "stage_unknown": (6, 'there is no stage "freshh"'),
    "agent_unknown": (6, 'the agent "petrol" is not known'),
    "family_agent": (2, 'the agent "acetones" is not known'),
    "tape_refs": (4, 'there is no carrier "none-such"', 2),
    "medium_refs": (5, 'there is no polymer "none-such"', 2),
    "paper_refs": (4, 'there is no polymer "none-such"'),
    "caution_when": (5, 'there is no liquid "none-such"', 11),
    "caution_key": (4, 'did you mean "liquids"?'),
    "report_refs": (4, 'there is no adhesive "none-such"', 8),
    "chain": (4, "the radius r0 cannot be 0", 3),
    "self_standing_ring": (4, 'the polymer "q" was left out because of a fault of its own', 2),
    "alias_shared": (5, 'the name "Propanone" also stands for the entry "acetone" (data/base.yaml:11)'),
    "name_shared": (2, 'also stands for the entry "natural-rubber"'),
}


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> Catalogue:
    """The base catalogue by itself."""
    folder = tmp_path_factory.mktemp("base") / "data"
    folder.mkdir()
    shutil.copy(CORPUS / BASE, folder)
    catalogue, problems = load([folder])
    assert problems == []
    return catalogue


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A catalogue folder with the base and an empty sub folder for something broken."""
    data = tmp_path / "data"
    (data / "broken").mkdir(parents=True)
    shutil.copy(CORPUS / BASE, data)
    return data


def base_is_whole(found: Catalogue, good: Catalogue) -> None:
    """Every entry of the base is there, unchanged."""
    for kind, entries in good.entries.items():
        for id, entry in entries.items():
            assert found.get(kind, id) == entry, (kind, id)


def test_every_file_of_the_corpus_has_an_expectation() -> None:
    """No broken file is forgotten, and there are at least sixty."""
    files = {path.stem for path in CORPUS.glob("*.yaml")} - {"base"}
    assert files == set(EXPECTED)
    assert len(files) >= 60


@pytest.mark.parametrize("name", EXPECTED)
def test_broken_file(name: str, folder: Path, good: Catalogue) -> None:
    """The problem names file and line and says what is wrong; good entries load all the same."""
    line, fragment, *rest = EXPECTED[name]
    shutil.copy(CORPUS / f"{name}.yaml", folder / "broken")
    catalogue, problems = load([folder])
    shown = f"data/broken/{name}.yaml"
    assert [problem.path for problem in problems] == [shown] * (int(rest[0]) if rest else 1)
    hits = [problem for problem in problems if problem.line == line and fragment in problem.message]
    assert len(hits) == 1, problems
    for problem in problems:
        readable(problem)
        assert str(problem).startswith(f"{shown}:{problem.line}: ")
    base_is_whole(catalogue, good)


def readable(problem: Problem) -> None:
    """One line, no control characters, of a length one can read."""
    told = str(problem)
    assert "\n" not in told
    assert not UNSAFE.search(told)
    assert len(problem.message) < 250


@pytest.mark.parametrize("name", sorted(set(EXPECTED) - {"alias_shared", "name_shared", "duplicate_inside"}))
def test_faulty_entry_is_left_out(name: str, folder: Path, good: Catalogue) -> None:
    """Nothing of the broken files gets in: each holds only entries with a fault."""
    shutil.copy(CORPUS / f"{name}.yaml", folder / "broken")
    catalogue, _ = load([folder])
    assert set(catalogue.where) == set(good.where)


def test_all_broken_files_at_once(folder: Path, good: Catalogue) -> None:
    """All problems are reported together, and the base still stands."""
    for name in EXPECTED:
        shutil.copy(CORPUS / f"{name}.yaml", folder / "broken")
    catalogue, problems = load([folder])
    told = {problem.path for problem in problems}
    assert told == {f"data/broken/{name}.yaml" for name in EXPECTED}
    base_is_whole(catalogue, good)


RAW = {
    "utf16": ("liquids: []\n".encode("utf-16"), 1, "UTF-16"),
    "utf16_no_mark": ("a\nliquids: []\n".encode("utf-16-be"), 1, "a NUL byte"),
    "utf32": ("liquids: []\n".encode("utf-32"), 1, "UTF-16 or UTF-32"),
    "latin1": ("liquids: []\npapers:\n- id: japon\n  name: J\u00e9\n".encode("latin-1"), 4, "not in UTF-8"),
    "nul": (b"liquids:\n- id: a\x00b\n", 2, "a NUL byte"),
    "binary": (bytes(range(1, 256)), 2, "not in UTF-8"),
    "escape": (b"liquids:\n- id: a\n  name: \x1b]0;x\x07\n", 3, "the control character U+001B"),
    "c1": ("liquids:\n- name: a\u009b31m\n".encode(), 2, "the control character U+009B"),
    "line_separator": ("liquids:\n- name: a\u2028b\n".encode(), 2, "the control character U+2028"),
    "many_brackets": (b"[" * 100_000, 1, "nested too deeply"),
    "many_braces": (b"{a: " * 5000, 1, "nested deeper than 20 levels"),
    "deep_block": (b"".join(b" " * n + b"a:\n" for n in range(900)), 21, "nested deeper than 20 levels"),
    "too_many_values": (b"liquids: [" + b"x," * 250_000 + b"]", 1, "more than 200000 values"),
    "long_text": (b"practice:\n- id: " + b"x" * 20_000, 2, "longer than 10000 characters"),
    "long_key": (b"x" * 20_000 + b": 1\n", 1, "not valid YAML"),
    "too_large": (b"# x\n" * (MAX_BYTES // 4 + 1), 1, "larger than 1 MiB"),
    "list_of_itself": (b"&a [*a, *a]", 1, "the file begins with a list"),
}


@pytest.mark.parametrize("name", RAW)
def test_unfit_bytes(name: str, folder: Path, good: Catalogue) -> None:
    """Wrong encodings, control characters and bombs: readable problems, and the rest loads."""
    content, line, fragment = RAW[name]
    (folder / "broken" / "x.yaml").write_bytes(content)
    catalogue, problems = load([folder])
    assert problems[0].line == line
    assert fragment in problems[0].message
    assert all(problem.path == "data/broken/x.yaml" for problem in problems)
    assert len(problems) <= 4
    for problem in problems:
        readable(problem)
    base_is_whole(catalogue, good)


def test_sparse_file_of_two_gib_is_not_read(folder: Path, good: Catalogue) -> None:
    """The size is looked at before the content, so a huge file costs no memory."""
    path = folder / "broken" / "x.yaml"
    path.touch()
    try:
        os.truncate(path, 2 << 30)
    except OSError:
        pytest.skip("this file system holds no sparse file of 2 GiB")
    tracemalloc.start()
    catalogue, problems = load([folder])
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert [problem.message for problem in problems] == ["the file is larger than 1 MiB"]
    assert peak < 20 << 20
    base_is_whole(catalogue, good)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_named_pipe_is_not_waited_for(folder: Path, good: Catalogue) -> None:
    """A pipe under the name of a YAML file would block a plain read for ever."""
    os.mkfifo(folder / "broken" / "x.yaml")
    catalogue, problems = load([folder])
    assert ["a pipe, a device or a folder" in problem.message for problem in problems] == [True]
    base_is_whole(catalogue, good)


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="no such device here")
def test_link_to_a_device_is_refused(folder: Path, good: Catalogue) -> None:
    """A device has no end; the link also leads out of the folder."""
    (folder / "broken" / "x.yaml").symlink_to("/dev/zero")
    catalogue, problems = load([folder])
    assert [problem.message for problem in problems] == ["the link leads out of the catalogue folder"]
    base_is_whole(catalogue, good)


@pytest.mark.parametrize("target", ["outside.yaml", "nowhere.yaml", "x.yaml"])
def test_link_out_to_nothing_or_in_a_circle(target: str, folder: Path, good: Catalogue) -> None:
    """Such links are refused by name and not followed."""
    (folder.parent / "outside.yaml").write_text("practice: []\n")
    inside = folder / "broken" / "x.yaml"
    inside.symlink_to(inside if target == "x.yaml" else folder.parent / target)
    catalogue, problems = load([folder])
    assert [(problem.path, problem.line) for problem in problems] == [("data/broken/x.yaml", 1)]
    base_is_whole(catalogue, good)


def test_linked_folder_outside_is_refused(folder: Path, tmp_path: Path, good: Catalogue) -> None:
    """A folder linked in from elsewhere is not part of the catalogue."""
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "elsewhere" / "x.yaml").write_text("- broken\n")
    (folder / "linked").symlink_to(tmp_path / "elsewhere")
    catalogue, problems = load([folder])
    assert [problem.path for problem in problems] == ["data/linked"]
    base_is_whole(catalogue, good)


def test_link_within_the_folder_is_read_once_each(folder: Path) -> None:
    """A link inside the folder is allowed; what it repeats is a duplicate like any other."""
    (folder / "again.yaml").symlink_to(folder / BASE)
    _, problems = load([folder])
    assert problems
    assert all("is used a second time" in problem.message for problem in problems)


def test_unreadable_file(folder: Path, good: Catalogue, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file without the right to read it is named; a refusal of the system is no traceback."""
    path = folder / "broken" / "x.yaml"
    path.write_text("practice: []\n")
    real = os.open

    def refuse(name: Path, flags: int, mode: int = 0o777, **more: Any) -> int:
        if Path(name) == path:
            raise PermissionError(13, "Permission denied")
        return real(name, flags, mode, **more)

    monkeypatch.setattr("os.open", refuse)
    catalogue, problems = load([folder])
    assert [problem.message for problem in problems] == ["the file cannot be read (Permission denied)"]
    base_is_whole(catalogue, good)


def test_reader_itself_refuses_what_changed_since_the_folder_was_listed(tmp_path: Path) -> None:
    """A name may stand for something else by the time it is opened; then too nothing hangs or swells."""
    path = tmp_path / "x.yaml"
    path.write_bytes(b"# x\n" * (MAX_BYTES // 4 + 1))
    assert [fault.message for fault in read(path).faults] == ["the file is larger than 1 MiB"]
    path.unlink()
    if hasattr(os, "mkfifo"):
        os.mkfifo(path)
        assert "a pipe, a device or a folder" in read(path).faults[0].message
        assert "a pipe, a device or a folder" in read_shelf_file(path, {})[1][0]
        with pytest.raises(ValueError, match="a pipe, a device or a folder"):
            read_strict(path)


def test_file_that_grows_after_it_was_measured(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The limit holds for what is read, not only for the size told before."""
    path = tmp_path / "x.yaml"
    path.write_bytes(b"# x\n" * (MAX_BYTES // 4 + 1))
    real = os.fstat

    def small(number: int) -> os.stat_result:
        found = list(real(number))
        found[6] = 1
        return os.stat_result(found)

    monkeypatch.setattr("os.fstat", small)
    assert [fault.message for fault in read(path).faults] == ["the file is larger than 1 MiB"]


def test_listed_files_are_safe_to_read_whole(folder: Path) -> None:
    """Whoever takes a fingerprint of the listed files never meets a pipe or a huge file."""
    (folder / "broken" / "large.yaml").write_bytes(b" " * (MAX_BYTES + 1))
    (folder / "broken" / "most.yaml").write_bytes(b" " * MAX_BYTES)
    if hasattr(os, "mkfifo"):
        os.mkfifo(folder / "broken" / "pipe.yaml")
    assert [path.name for path in yaml_files(folder)] == ["base.yaml", "most.yaml"]


def test_names_of_files_cannot_act_on_a_terminal(folder: Path) -> None:
    """A file name with an escape sequence is shown with a mark in its place."""
    (folder / "broken" / "a\x1b[2Jb.yaml").write_text("- a\n")
    _, problems = load([folder])
    assert "\x1b" not in str(problems[0])
    assert "\ufffd[2Jb.yaml" in problems[0].path


def test_no_loader_that_can_construct_objects_is_used() -> None:
    """The code never calls a YAML loader that builds more than plain values."""
    package = Path(__file__).resolve().parents[2] / "kb"
    for path in package.rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        for call in ("yaml.load(", "full_load", "unsafe_load", "load_all("):
            assert call not in text, path
