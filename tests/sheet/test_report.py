"""The record that is handed over: whole, honest about gaps, in every form, and safe to open."""

from __future__ import annotations

import json
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path

import pytest

from kb.book.kinds.mend import Mend
from kb.book.verify import tips_of
from kb.cli.main import main
from kb.desk.errors import DeskError
from kb.desk.records.record import write
from kb.desk.sheet import tape
from kb.desk.sheet.conditions import add_condition, settle
from kb.desk.sheet.report import html, report, save_html, save_pdf, text
from kb.desk.sheet.sheets import add_sheet, amend_sheet
from kb.desk.studio import Studio

SHEET = "Tide table <script>alert(1)</script> & co"


@pytest.fixture
def treated(studio: Studio, record: Callable[..., str]) -> Studio:
    """An invented sheet with something of everything."""
    add_sheet(studio, {"sheet": SHEET, "number": "TT-04", "owner": "Invented museum", "size": "410 x 560 mm"})
    record(studio, sheet=SHEET, release=3, harm={"bleed": 1})
    tear = add_condition(studio, {"sheet": SHEET, "damage": "tear", "place": "lower edge"}).id
    mend = write(studio, "mend", Mend(sheet=SHEET, tear="plain", length_mm=45.0)).id
    settle(studio, tear, "mended with tissue", mend)
    add_condition(studio, {"sheet": SHEET, "damage": "tideline", "found": "after"})
    for face in ("front", "back"):
        tape.add_strip(studio, {"sheet": SHEET, "face": face, "at": "40, 60", "size": "60 x 25 mm"})
    tape.start(studio, SHEET, {"liquid": "n-heptane"})
    tape.done(studio, SHEET, {"colour": "pink", "volume": "0.8 ml"})
    tape.decide(studio, SHEET, "less liquid")
    tape.skip(studio, SHEET, {"why": "over the seal"})
    return studio


def test_every_part_of_the_treatment_stands_in_it(treated: Studio) -> None:
    made = report(treated, "TT-04")
    page = text(made)
    for said in ("tear", "mended with tissue", "pink", "less liquid", "over the seal", "tideline", "0.8 ml"):
        assert said in page.replace("\n", " ").replace("    ", " ")
    titles = [part.title for part in made.parts]
    assert titles[0] == "Identification"
    assert {"Proposal and consent", "Tests", "Treatment in order", "Patches", "Photographs"} < set(titles)
    assert max(map(len, page.splitlines())) <= 72


def test_what_is_asked_for_and_not_there_is_named_and_goes_when_it_is_said(treated: Studio) -> None:
    assert "Proposal and consent: consent" in report(treated, "TT-04").missing
    amend_sheet(treated, "TT-04", {"consent": "by letter, 3 March"}, "the letter came")
    made = report(treated, "TT-04")
    assert "Proposal and consent: consent" not in made.missing
    assert "Photographs: a photograph before treatment" in made.missing


def test_the_hash_is_that_of_the_last_line_of_the_book(treated: Studio) -> None:
    made = report(treated, "TT-04")
    seals = {seal.file: ((seal.lines, seal.sha256),) for seal in made.book}
    assert seals == tips_of(treated.book_dir)
    add_condition(treated, {"sheet": SHEET, "damage": "stain"})
    assert report(treated, "TT-04").book != made.book


class _Seen(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs


def test_the_page_needs_nothing_from_outside_and_runs_nothing(treated: Studio) -> None:
    page = html(report(treated, "TT-04"))
    seen = _Seen()
    seen.feed(page)
    assert "script" not in seen.tags
    assert not {name for name, _ in seen.attributes if name in {"src", "href"} or name.startswith("on")}
    assert page.count("<svg") == 2
    assert "&lt;script&gt;" in page


def test_the_owner_gets_plain_words_and_no_grades(treated: Studio) -> None:
    page = text(report(treated, "TT-04"), short=True)
    assert "Old tape was lifted" in page
    assert "release" not in page


def test_pdf_says_that_it_is_for_archives(treated: Studio, tmp_path: Path) -> None:
    pytest.importorskip("typst")
    save_pdf(report(treated, "TT-04"), tmp_path / "r.pdf")
    raw = (tmp_path / "r.pdf").read_bytes()
    assert raw.startswith(b"%PDF-")
    assert b"pdfaid:part" in raw


def test_without_the_extra_one_sentence_says_how_to_get_it(
    treated: Studio, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(__import__("sys").modules, "typst", None)
    with pytest.raises(DeskError, match=r"pip install 'benchleaf\[report\]'"):
        save_pdf(report(treated, "TT-04"), tmp_path / "r.pdf")


def test_a_file_that_is_there_is_not_written_over(treated: Studio, tmp_path: Path) -> None:
    (tmp_path / "r.html").write_text("mine", encoding="utf-8")
    with pytest.raises(DeskError, match="exists already"):
        save_html(report(treated, "TT-04"), tmp_path / "r.html")
    assert (tmp_path / "r.html").read_text(encoding="utf-8") == "mine"


def test_the_command_writes_all_forms_and_gives_its_content(
    treated: Studio, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["--studio", str(treated.root), "report", "TT-04"]
    assert main([*words, "--html", str(tmp_path / "a.html"), "--text", str(tmp_path / "a.txt")]) == 0
    capsys.readouterr()
    assert main([*words, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["sheet"] == SHEET
    assert (tmp_path / "a.html").stat().st_size > 2000
