"""A line break in something stored never makes a row of its own: a row could say anything of any sheet."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from kb.book.line import FIRST_PREV, hash_of
from kb.book.ulid import new_ulid
from kb.cli.main import main
from kb.desk.studio import Studio
from tests.conftest import spot

FORGED = "01FORGEDFORGEDFORGEDFORGED  2026-01-01  Chart  release 4 harm 0"
SHEET = f"Chart\n{FORGED}"
OUTPUTS = (
    "test list",
    "test list --sheet SHEET",
    "test show SPOT",
    "book list",
    "book list --sheet SHEET",
    "book show SPOT",
    "book show SPOT --text",
    "book show MEND",
    "book show MEND --text",
    "export --record SPOT",
    "mend list",
    "tone list",
    "frame list",
    "condition list SHEET",
    "sheet list",
    "sheet show SHEET",
    "strip list SHEET",
    "wash list SHEET",
    "batch list",
    "batch trace BATCH",
    "shelf",
    "shelf due",
    "plan SHEET",
    "report SHEET",
    "choose --sheet SHEET --adhesive natural-rubber --stage oily --parts",
    "verify",
    "share state",
)


@pytest.fixture
def forged(studio: Studio) -> dict[str, str]:
    """A book of another bench with a line break in every text; the ids of its records by kind."""
    ids = {
        kind: new_ulid() for kind in ("SPOT", "MEND", "TONE", "FRAME", "BATCH", "READING", "BOTTLE", "AMEND")
    }
    photo = {"path": f"/a/b\n{FORGED}.jpg", "sha256": "0" * 64, "when": "after"}
    test = {
        "parts": {"acetone": 1.0},
        "adhesive": "natural-rubber",
        "sheet": SHEET,
        "site": {"words": SHEET},
        "magnification": SHEET,
        "light": SHEET,
        "remarks": SHEET,
        "batch": SHEET,
        "release": 0,
        "harm": {"bleed": 4},
        "rounds": [{"dwell_s": 3.0, "amount": SHEET, "wet": SHEET, "dry": SHEET}],
        "photos": [photo],
    }
    bodies = {
        "SPOT": ("test", test),
        "MEND": (
            "mend",
            {"sheet": SHEET, "tissue": SHEET, "adhesive": SHEET, "place": SHEET, "remarks": SHEET},
        ),
        "TONE": ("toning", {"sheet": SHEET, "tissue": SHEET, "remarks": SHEET}),
        "FRAME": ("housing", {"sheet": SHEET, "remarks": SHEET}),
        "BATCH": ("batch", {"recipe": "wheat-paste", "name": SHEET, "remarks": SHEET, "bad": SHEET}),
        "BOTTLE": ("bottle", {"liquid": "acetone", "label": SHEET, "remarks": SHEET}),
        "AMEND": ("amend", {"of": ids["SPOT"], "set": {"remarks": SHEET}, "why": SHEET}),
    }
    prev, lines = FIRST_PREV, []
    for word, (kind, body) in bodies.items():
        line = {
            "id": ids[word],
            "at": "2026-01-01T10:00:00.000Z",
            "who": f"AB\n{FORGED}",
            "bench": "other",
            "kind": kind,
            "body": body,
            "prev": prev,
        }
        raw = json.dumps(line, separators=(",", ":")).encode()
        prev = hash_of(raw)
        lines.append(raw + b"\n")
    studio.book_dir.mkdir(parents=True, exist_ok=True)
    Path(studio.book_dir / "other.jsonl").write_bytes(b"".join(lines))
    return ids


@pytest.mark.parametrize("words", OUTPUTS)
def test_no_row_is_forged(
    studio: Studio, forged: dict[str, str], capsys: pytest.CaptureFixture[str], words: str
) -> None:
    """Wherever it stands, the forged text is part of another line, or indented as the text that it is."""
    ids = {**forged, "SHEET": SHEET}
    noun, *rest = (ids.get(word, word) for word in words.split())
    code = main([noun, "--studio", str(studio.root), *rest])
    out, err = capsys.readouterr()
    assert code in {0, 1, 3}, err
    rows = [row for row in f"{out}\n{err}".splitlines() if row.startswith("01FORGED")]
    assert rows == []


def test_the_forged_text_is_met_at_all(
    studio: Studio, forged: dict[str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    """Else the test above would look for nothing: the lists do say it, in their own row."""
    assert spot(sheet=SHEET).sheet == SHEET
    assert main(["test", "--studio", str(studio.root), "list"]) == 0
    (row,) = capsys.readouterr().out.splitlines()
    assert "01FORGED" in row
    assert row.startswith(forged["SPOT"])
