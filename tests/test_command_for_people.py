"""The command line for people: the nearest word, every option explained, and what a list leaves out."""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from kb.book.kinds.table import KINDS
from kb.cli import out
from kb.cli.main import Parser, declared, main, nouns
from kb.desk.studio import Studio
from scripts import completions
from tests.screens.screen_help import store


def every_option(parser: argparse.ArgumentParser, path: str) -> Iterator[tuple[str, argparse.Action]]:
    """All options and arguments of a word and of those below it."""
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for name, below in action.choices.items():
                yield from every_option(below, f"{path} {name}")
        else:
            yield path, action


@pytest.mark.parametrize("noun", nouns())
def test_every_option_is_explained(noun: str) -> None:
    """No option stands in the help without a word about it."""
    parser = Parser(prog=noun)
    declared(noun, parser)
    silent = [(path, one.dest) for path, one in every_option(parser, noun) if not one.help]
    assert silent == []


def test_the_kinds_of_tear_are_explained(capsys: pytest.CaptureFixture[str]) -> None:
    """The plan said of the kind how long the tears are in all."""
    for words in (["plan"], ["tissue"], ["condition", "add"]):
        with pytest.raises(SystemExit):
            main([*words, "--help"])
        said = " ".join(capsys.readouterr().out.split())
        assert "plain from one edge, scarfed in layers" in said
        assert "how long the tears are" not in said


@pytest.mark.parametrize("words", ["sheet add", "sheet amend", "condition add", "strip add", "patch done"])
def test_options_say_what_the_kind_declares(words: str, capsys: pytest.CaptureFixture[str]) -> None:
    """A field is explained once, where it is declared; a figure with the unit that a bare number is in."""
    kind = KINDS[words.split(maxsplit=1)[0]]
    with pytest.raises(SystemExit):
        main([*words.split(), "--help"])
    said = " ".join(capsys.readouterr().out.split())
    declared_words = {
        "sheet": ("number of the owner or of the studio", "dry mass, if it was weighed (g)"),
        "condition": ("from the left edge of its face (mm)", "width (mm)"),
        "strip": ("of a weak zone its kind: fold, tear, loss",),
        "patch": ("of one round (s)", "the worst that was seen, of any kind, from 0 to 4"),
    }[kind.key]
    assert [one for one in declared_words if one not in said] == []


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        (["chose"], "choose"),
        (["choose", "--adhsive", "x"], "--adhesive"),
        (["test", "lst"], "list"),
        (["find", "acetone", "--jsn"], "--json"),
        (["air", "--liquid", "x", "--temp", "-5C"], ""),
    ],
)
def test_the_nearest_is_named(typed: list[str], meant: str, capsys: pytest.CaptureFixture[str]) -> None:
    """A misspelt word or option is answered by the one that is meant, in one sentence."""
    with pytest.raises(SystemExit) as ended:
        main(typed)
    assert ended.value.code == out.UNCLEAR
    said = capsys.readouterr().err
    assert (f"Did you mean {meant}?" if meant else "is written --temp=-5.") in said
    assert len(said) < 400


def test_what_is_like_nothing_gets_no_guess(capsys: pytest.CaptureFixture[str]) -> None:
    """A word that nothing resembles is only said not to be one; an option of another word is no help."""
    for typed in (["qqqqqqqqqq"], ["wash", "read", "Letter 1", "--sheet", "x"]):
        with pytest.raises(SystemExit):
            main(typed)
        said = capsys.readouterr().err
        assert "Did you mean --sheet" not in said
        assert typed[0] == "wash" or "Did you mean" not in said


def test_a_name_in_the_place_of_its_kind_is_told_how_it_goes(capsys: pytest.CaptureFixture[str]) -> None:
    """It was said that acetone is an invalid choice, and of what was not."""
    for verb in ("show", "compare"):
        with pytest.raises(SystemExit):
            main([verb, "acetone", "butanone"])
        assert f'for instance: benchleaf {verb} liquid "acetone".' in capsys.readouterr().err


def test_a_family_that_there_is_not_is_no_empty_list(
    studio: Studio, capsys: pytest.CaptureFixture[str]
) -> None:
    """ "No liquid meets all of this" was said of "keton", and that --forbidden shows what is allowed."""
    assert main(["liquids", "--family", "keton", "--studio", str(studio.root)]) == 1
    assert 'family "keton": nothing by that name; near in spelling: ketone' in capsys.readouterr().err
    assert main(["liquids", "--family", "ketone", "--studio", str(studio.root)]) == 0
    with pytest.raises(SystemExit):
        main(["liquids", "--help"])
    assert "only what is forbidden here" in capsys.readouterr().out


@pytest.mark.slow
@pytest.mark.parametrize("words", [["test", "list"], ["book", "list"]])
def test_a_list_says_when_it_is_cut(
    words: list[str], studio: Studio, capsys: pytest.CaptureFixture[str]
) -> None:
    """On standard error, also beside JSON; a list that is whole says nothing."""
    for hours in range(3):
        store(studio, hours)
    here = ["--studio", str(studio.root)]
    for extra in ([], ["--json"]):
        assert main([*words, *here, "--limit", "2", *extra]) == 0
        assert "Only the first 2 are shown; --limit 0 shows all." in capsys.readouterr().err
        assert main([*words, *here, "--limit", "3", *extra]) == 0
        assert capsys.readouterr().err == ""
    assert main([*words, *here, "--limit", "2", "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)) == 2


def test_colour_follows_words_and_only_on_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is said by colour alone; NO_COLOR and a pipe have none."""
    assert out._coloured("STOP: nitrates").removeprefix(out.RED).removesuffix(out.OFF) == "STOP: nitrates"
    assert out._coloured("acetone") == "acetone"
    assert not out.in_colour()
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.delenv("NO_COLOR", raising=False)
    assert out.in_colour()
    monkeypatch.setenv("NO_COLOR", "1")
    assert not out.in_colour()


@pytest.mark.parametrize("width", [80, 100, 160])
def test_a_table_cuts_words_and_no_figure(
    width: int, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """On a terminal ids, dates and grades stay whole and every column is there; words give way."""
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    monkeypatch.setenv("NO_COLOR", "1")
    monkeypatch.setenv("COLUMNS", str(width))
    heads = ("Id", "Date", "Sheet", "Tape", "Medium", "Liquid", "Release", "Harm", "State")
    words = "a name that goes on for longer than any column has room for"
    out.say_rows(heads, [("01M7MXFPP0WT", "2026-11-17", *[words] * 4, "4", "not looked", "")], ())
    head, row = capsys.readouterr().out.rstrip("\n").split("\n")
    assert len(row) <= width
    assert all(one in head for one in ("Release", "Harm", "State"))
    assert all(one in row for one in ("01M7MXFPP0WT", "2026-11-17", "not looked"))


def test_completion_and_man_page_name_every_word(tmp_path: Path) -> None:
    """Written from the options as they are declared; bash takes its part without complaint."""
    completions.main(tmp_path)
    subprocess.run(["bash", "-n", str(tmp_path / "benchleaf.bash")], check=True)
    for name in ("benchleaf.bash", "_benchleaf", "benchleaf.fish", "benchleaf.1"):
        text = (tmp_path / name).read_text("utf-8").replace("\\-", "-")
        assert [noun for noun in nouns() if noun not in text] == [], name
        assert "air-changes" in text


def test_help_of_the_completions_writes_nothing(tmp_path: Path) -> None:
    """Asked for help it explains itself; it took the word for a folder."""
    script = Path(completions.__file__)
    done = subprocess.run(
        [sys.executable, str(script), "--help"], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert "where the four files are written" in done.stdout
    assert not list(tmp_path.iterdir())
