"""The built wheel is whole: installed elsewhere, away from the checkout, it answers a question."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import sysconfig
import venv
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
QUESTION = (
    *("--adhesive", "natural-rubber", "--stage", "oily"),
    *("--medium", "letterpress", "--paper", "wood-pulp"),
)

pytestmark = pytest.mark.slow


def run(*command: str | Path, cwd: Path, home: Path | None = None) -> str:
    """What the command prints. Nothing of this environment's paths or folders reaches it."""
    hidden = ("PYTHONPATH", "BENCHLEAF_", "XDG_")
    environment = {name: value for name, value in os.environ.items() if not name.startswith(hidden)}
    if home is not None:
        environment |= {"HOME": str(home), "USERPROFILE": str(home), "LOCALAPPDATA": str(home)}
    done = subprocess.run(
        [str(part) for part in command], cwd=cwd, env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built with the tools of the development environment, so without a network."""
    folder = tmp_path_factory.mktemp("wheel")
    run(sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", folder, ROOT, cwd=folder)
    (built,) = folder.glob("*.whl")
    return built


def test_wheel_holds_catalogue_demo_styles_and_licence(wheel: Path) -> None:
    """Everything that is not Python but needed is in it, under the package."""
    inside = set(zipfile.ZipFile(wheel).namelist())
    data = {path.relative_to(ROOT).as_posix() for path in (ROOT / "data").rglob("*") if path.is_file()}
    assert "data/materials/adhesives.yaml" in data
    assert any(name.startswith("data/demo/") for name in data)
    assert {f"kb/{name}" for name in data} <= inside
    styles = {path.relative_to(ROOT).as_posix() for path in (ROOT / "kb").rglob("*.tcss")}
    assert styles <= inside
    assert any(name.endswith("/licenses/LICENSE") for name in inside)


def test_wheel_holds_nothing_but_the_package(wheel: Path) -> None:
    """No tests, scripts or left-over files of the checkout go along."""
    tops = {name.split("/")[0] for name in zipfile.ZipFile(wheel).namelist()}
    assert {top for top in tops if not top.endswith(".dist-info")} == {"kb"}
    assert not [name for name in zipfile.ZipFile(wheel).namelist() if "__pycache__" in name or ".db" in name]


def test_installed_wheel_answers_away_from_the_checkout(wheel: Path, tmp_path: Path) -> None:
    """From another folder, with a home that was never used, the installed command ranks liquids."""
    place, home, elsewhere = tmp_path / "venv", tmp_path / "home", tmp_path / "elsewhere"
    home.mkdir()
    elsewhere.mkdir()
    venv.create(place, with_pip=False, symlinks=os.name != "nt")
    scripts = place / ("Scripts" if os.name == "nt" else "bin")
    python = scripts / Path(sys.executable).name
    pip = (sys.executable, "-m", "pip", "--disable-pip-version-check", "--python", python)
    run(*pip, "install", "--quiet", "--no-deps", "--no-index", wheel, cwd=elsewhere)
    _lend_dependencies(python, elsewhere)
    where = run(python, "-c", "import kb; print(kb.__file__)", cwd=elsewhere)
    assert Path(where.strip()).is_relative_to(place)
    printed = run(scripts / "benchleaf", "choose", *QUESTION, "--json", cwd=elsewhere, home=home)
    answer = json.loads(printed)
    assert answer["suggestions"]
    assert answer["question"]["adhesive"].startswith("natural-rubber")
    assert list(elsewhere.iterdir()) == []


def _lend_dependencies(python: Path, cwd: Path) -> None:
    """Let the new environment see the packages of this one, behind its own, to save a download."""
    code = "import sysconfig; print(sysconfig.get_path('purelib'))"
    own = Path(run(python, "-c", code, cwd=cwd).strip())
    lent = "\n".join(dict.fromkeys((sysconfig.get_path("purelib"), sysconfig.get_path("platlib"))))
    (own / "lent.pth").write_text(f"{lent}\n", encoding="utf-8")
