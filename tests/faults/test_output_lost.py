"""Standard output that is full, or input and output that are closed: what was stored is not typed again."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from kb.desk.records.record import list_tests
from kb.desk.studio import Studio

ROOT = Path(__file__).parents[2]
ADD = ("test", "add", "--liquid", "acetone", "--release", "1", "--dwell", "30s")


def shell(studio: Studio, words: tuple[str, ...], redirected: str) -> subprocess.CompletedProcess[str]:
    """One command as a shell starts it, with its input or output led elsewhere."""
    program = f'exec "$0" -m kb.cli.main --studio "$1" {" ".join(words)} {redirected}'
    return subprocess.run(
        ["sh", "-c", program, sys.executable, str(studio.root)],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="the system has no full device")
def test_a_record_whose_answer_finds_no_room_is_not_to_be_typed_again(studio: Studio) -> None:
    """It said 'try again' before, and a second record of one spot was stored."""
    done = shell(studio, ADD, "> /dev/full")
    assert (done.returncode, len(list_tests(studio))) == (1, 1)
    assert "is on disk; look before you type it again" in done.stderr
    assert "try again" not in done.stderr


@pytest.mark.parametrize("closed", ["<&-", ">&-", "2>&-", "<&- >&- 2>&-"])
def test_what_is_closed_is_opened_on_nothing(studio: Studio, closed: str) -> None:
    """Else the book file takes the number of what is closed, and the answer is printed into it."""
    done = shell(studio, ADD, closed)
    assert done.returncode == 0, done.stderr
    assert len(list_tests(studio)) == 1
    assert [path.name for path in studio.book_dir.glob("*.jsonl")] != []
    lines = b"".join(path.read_bytes() for path in studio.book_dir.glob("*.jsonl")).splitlines()
    assert [line[:6] for line in lines] == [b'{"id":']
    assert "AttributeError" not in shell(studio, ("app",), closed).stderr
