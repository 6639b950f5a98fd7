"""The scripts by which others check the catalogue: figures drawn at random, sentences shared with a text."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

import pytest

from kb.catalogue.load import load
from kb.catalogue.paths import shipped_data

SCRIPTS = Path(__file__).parents[2] / "scripts"


def script(name: str) -> ModuleType:
    """A script as a module."""
    spec = importlib.util.spec_from_file_location(name, SCRIPTS / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_a_seed_draws_the_same_figures_and_none_twice() -> None:
    """From all kinds, each with what it says and its sources."""
    drawing = script("draw_figures")
    every = drawing.every(load([shipped_data()])[0])
    drawn = drawing.draw(every, 150, 7)
    assert drawn == drawing.draw(every, 150, 7) != drawing.draw(every, 150, 8)
    assert len({id(one) for one in drawn}) == 150
    assert all(one.sources and one.says for one in drawn)
    assert len({one.entry.split()[0] for one in drawn}) >= 8


def test_verdicts_are_counted_and_a_gap_is_no_verdict() -> None:
    """The interval of Wilson for 2 of 50 runs from 1.1 to 13.5 % (worked out by hand from his formula)."""
    drawing = script("draw_figures")
    counts = drawing.verdicts("1 right\n2 unsupported no copy found\n3 wrong 20, not 2\n", 3)
    assert dict(counts) == {"right": 1, "unsupported": 1, "wrong": 1}
    with pytest.raises(SystemExit, match="no verdict for 2"):
        drawing.verdicts("1 right", 2)
    with pytest.raises(SystemExit, match="second word"):
        drawing.verdicts("1 perhaps", 1)
    low, high = drawing.wilson(2, 50)
    assert (round(low, 3), round(high, 3)) == (0.011, 0.135)


@pytest.mark.slow
def test_a_sentence_that_was_copied_is_found(tmp_path: Path) -> None:
    """In other capitals and punctuation too; four words are no sentence."""
    sharing = script("shared_sentences")
    (tmp_path / "read.txt").write_text("Before. THE GUM SWELLS, in cold water. It is a gum. After.", "utf-8")
    own = [("a.yaml", "The gum swells in cold water."), ("a.yaml", "The gum swells in hot water.")]
    assert [(where, name) for where, _, name in sharing.shared(iter(own), tmp_path)] == [
        ("a.yaml", "read.txt")
    ]
    assert list(sharing.sentences("It is a gum. The gum swells in cold water.")) == [
        "The gum swells in cold water."
    ]
    assert len(list(sharing.catalogue())) > 1000
