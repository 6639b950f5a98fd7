"""Every command line of the README runs as it is printed there, and the exit codes are those it states.

Only what a reader must put in - an id, a folder, a remote, photographs - is put in here.
"""

from __future__ import annotations

import os
import shlex
import shutil
import subprocess
from pathlib import Path

import pytest

from kb.cli.main import main
from kb.desk.demo import shipped_demo
from kb.desk.records.record import list_tests
from kb.desk.studio import Studio
from kb.index.kept_rows import kept

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
HEADING = "## The same from the command line"
PICTURES = ("a.jpg", "b.jpg")
ENDS_WITH_1 = (["find", "celofane tap yelow"], ["sphere", "natural rubber"], ["export", "FOLDER"])
"""Nothing bears the misspelt name; one crumb tells no sphere; the demo names photographs that it has not."""


STAYS_OPEN = frozenset({"web"})
"""Words that serve until they are stopped: here they only have to take the options that are printed."""


def lines() -> list[list[str]]:
    """The commands as a shell reads them, without the word of the program and without remarks."""
    block = README.split(HEADING, 1)[1].split("\n## ", 1)[0].split("Every command takes", 1)[0]
    joined = block.replace("\\\n", " ")
    found = [shlex.split(line, comments=True) for line in joined.splitlines() if line.startswith("    ")]
    return [words[1:] for words in found if words and words[0] == "benchleaf"]


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Studio:
    """A studio of one's own that holds what the demo holds, and what stands in the way of nobody."""
    root = tmp_path / "studio"
    shutil.copytree(shipped_demo(), root)
    settings = (root / "studio.yaml").read_text(encoding="utf-8").splitlines()
    # A studio that says it is invented is not shared, so that its records do not mix with real ones.
    own = "\n".join(line for line in settings if not line.startswith("invented:"))
    (root / "studio.yaml").write_text(own + "\n", encoding="utf-8")
    (tmp_path / "docs" / "examples").mkdir(parents=True)
    for path in (ROOT / "docs" / "examples").iterdir():
        shutil.copy(path, tmp_path / "docs" / "examples" / path.name)
    subprocess.run(["git", "init", "-q", "--bare", str(tmp_path / "hub.git")], check=True, timeout=60)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    return Studio(root)


def put_in(words: list[str], studio: Studio) -> list[str]:
    """What a reader puts in himself."""
    tests = [row.id for row in list_tests(studio) if not row.state]
    batch = kept(studio.index.conn, "batch")[-1].id
    studio.close()
    own = {
        "01HZX": batch if "--batch" in words else tests[0],
        "01HZY": tests[1],
        "REMOTE": "hub.git",
        "FOLDER": "package",
        "~/phone": "phone",
    }
    return [own.get(word, word) for word in words]


def test_the_readme_has_its_commands() -> None:
    assert len(lines()) >= 50


@pytest.mark.slow
def test_every_line_of_the_readme_runs_as_printed(bench: Studio, capsys: pytest.CaptureFixture[str]) -> None:
    """One after the other in one studio, as a reader would type them."""
    pictures()
    wrong = []
    for words in lines():
        noun, *rest = put_in(words, bench)
        if noun in STAYS_OPEN:
            rest.append("--help")
        try:
            code = main([noun, "--studio", str(bench.root), *rest])
        except SystemExit as ended:
            code = int(ended.code or 0)
        out, err = capsys.readouterr()
        if code != (words in ENDS_WITH_1) or not (out or err):
            wrong.append((code, os.fspath(shlex.join(words)), err.strip()[-300:]))
    assert wrong == []


def pictures() -> None:
    """Two photographs of one patch, the second a little lighter."""
    from PIL import Image, ImageDraw

    for number, name in enumerate(PICTURES):
        image = Image.effect_noise((960, 720), 20).convert("RGB").point(lambda value: 200 + value // 6)
        draw = ImageDraw.Draw(image)
        for row in range(40, 700, 40):
            draw.text((40 + 7 * (row % 3), row), "in the year of the great frost " * 5, fill=(30, 25, 20))
        image.point(lambda value, by=number: min(255, value + by)).save(name, quality=95)
    Path("phone").mkdir()
    shutil.copy(PICTURES[0], Path("phone"))


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (["find", "acetone"], 0),
        (["find", "zzqqxxyy"], 1),
        (["safety", "zzqqxxyy"], 1),
        (["safety", "white spirit"], 2),
        (["choose", "--no-such-option"], 2),
        (["backup", "check", "nowhere"], 3),
        (["import", "nowhere"], 3),
    ],
)
def test_exit_codes_are_those_that_the_readme_states(
    studio: Studio, capsys: pytest.CaptureFixture[str], words: list[str], code: int
) -> None:
    try:
        found = main([words[0], "--studio", str(studio.root), *words[1:]])
    except SystemExit as ended:
        found = int(ended.code or 0)
    assert found == code, capsys.readouterr().err
