"""The commands of scripts/: found, runnable, polite where something is missing, tied to no one machine."""

from __future__ import annotations

import importlib.util
import os
import re
import shutil
import stat
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest

from scripts.pictures import README, placed

ROOT = Path(__file__).resolve().parent.parent
COMMANDS = ("scripts/run", "scripts/test", "scripts/bench", ".ci/run")
SHELL_TOOLS = ("sh", "dirname", "readlink")
OLD = "sys.version_info = (3, 9, 2, 'final', 0)"
NO_VENV = "sys.modules['ensurepip'] = None"

needs_sh = pytest.mark.skipif(os.name == "nt", reason="the launchers are shell scripts")


def _fit(python: str) -> bool:
    """Whether there is such a Python and the project could be set up with it."""
    probe = "import sys, ensurepip, venv; sys.exit(sys.version_info < (3, 11))"
    return Path(python).exists() and subprocess.run([python, "-c", probe], check=False).returncode == 0


def _answering(python: Path) -> None:
    """A Python that is fit, and says that it was used."""
    python.write_text('#!/bin/sh\ncase "$1" in -c) exit 0 ;; esac\necho "used: $*"\n', encoding="utf-8")
    python.chmod(0o755)


@pytest.fixture
def project(tmp_path: Path) -> Path:
    """A checkout with the scripts and no environment, in a folder with a blank in its name."""
    root = tmp_path / "a checkout"
    root.mkdir()
    shutil.copytree(ROOT / "scripts", root / "scripts", ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "constraints.txt"):
        shutil.copy(ROOT / name, root / name)
    return root


def machine(folder: Path, pythons: dict[str, str]) -> dict[str, str]:
    """The environment of a machine whose only Pythons are these: name -> what is changed in it."""
    folder.mkdir()
    for tool in SHELL_TOOLS:
        (folder / tool).symlink_to(shutil.which(tool) or "")
    for name, change in pythons.items():
        fake = folder / name
        code = f"import sys; {change}; code = sys.argv.pop(1); exec(code)"
        fake.write_text(f'#!/bin/sh\nshift\nexec "{sys.executable}" -c "{code}" "$@"\n', encoding="utf-8")
        fake.chmod(0o755)
    return {"PATH": str(folder), "HOME": str(folder)}


def start(script: Path, *arguments: str, env: dict[str, str]) -> subprocess.CompletedProcess[str]:
    """Run a script as a person would, from another folder."""
    return subprocess.run(
        [script, *arguments],
        env=env,
        cwd=script.anchor,
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )


@needs_sh
@pytest.mark.parametrize("command", ["run", "test"])
@pytest.mark.parametrize(
    ("pythons", "sentence"),
    [
        ({}, "needs Python 3.11 or newer, and this machine has no Python at all;"),
        ({"python3": OLD}, "needs Python 3.11 or newer, and this machine has only python3 3.9.2;"),
        ({"python3.12": NO_VENV}, "needs Python's venv and ensurepip modules, and python3.12 ("),
    ],
    ids=["none", "old", "no venv"],
)
def test_what_is_missing_is_said_in_one_sentence(
    project: Path, tmp_path: Path, command: str, pythons: dict[str, str], sentence: str
) -> None:
    """Without a fit Python nothing is made, and one line says what is missing and what to do."""
    env = machine(tmp_path / "bin", pythons)
    done = start(project / "scripts" / command, env=env)
    assert done.returncode == 3
    assert done.stdout == ""
    assert len(done.stderr.splitlines()) == 1
    assert sentence in done.stderr
    assert "try again" in done.stderr
    assert not (project / ".venv").exists()


@needs_sh
def test_scripts_are_found_through_a_link(project: Path, tmp_path: Path) -> None:
    """A link to the script, itself behind a link, still finds the checkout."""
    (tmp_path / "bench leaf").symlink_to(project / "scripts" / "run")
    (tmp_path / "short").symlink_to("bench leaf")
    done = start(tmp_path / "short", env=machine(tmp_path / "bin", {"python3": OLD}))
    assert "3.9.2" in done.stderr


@needs_sh
def test_older_pythons_are_passed_over(project: Path, tmp_path: Path) -> None:
    """A fit Python behind an old one and one without venv is the one that is used."""
    env = machine(tmp_path / "bin", {"python3.13": OLD, "python3.12": NO_VENV})
    _answering(tmp_path / "bin" / "python3")
    done = start(project / "scripts" / "run", "find", "a b", env=env)
    assert done.returncode == 0
    assert done.stdout.endswith("prepare.py make run find a b\n")


@needs_sh
@pytest.mark.skipif(
    sys.platform == "darwin" or not _fit("/usr/bin/python3"), reason="the system brings no Python to be taken"
)
def test_the_python_that_the_system_brings_goes_before_others(project: Path, tmp_path: Path) -> None:
    """Where it is fit; it is built to be quicker than what was compiled on the spot."""
    env = machine(tmp_path / "bin", {})
    _answering(tmp_path / "bin" / "python3.14")
    (project / "scripts" / "prepare.py").write_text("import sys; print(sys.executable)\n", encoding="utf-8")
    assert start(project / "scripts" / "run", env=env).stdout.startswith("used: ")
    beside = start(project / "scripts" / "run", env={**env, "PATH": f"{env['PATH']}:/usr/bin"})
    assert Path(beside.stdout.strip()).parent == Path("/usr/bin")


@pytest.fixture(scope="module")
def prepare() -> ModuleType:
    """scripts/prepare.py as a module."""
    spec = importlib.util.spec_from_file_location("prepare", ROOT / "scripts" / "prepare.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def _pretend(prepare: ModuleType, given: list[list[str]]) -> Callable[[list[str], str], None]:
    """Stands in for the slow steps; the commands are noted, ``fail`` among them makes them fail."""

    def check(command: list[str], what: str) -> None:
        if ["fail"] in given:
            raise prepare.SetupError(f"{what}.")
        given.append(command)
        if command[2:4] == ["-m", "venv"]:
            python = Path(command[4]) / prepare.venv_python(Path("x")).relative_to("x/.venv")
            python.parent.mkdir()
            python.touch()

    return check


@pytest.fixture
def installs(prepare: ModuleType, monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """The commands that were given to what stands in for the slow steps."""
    given: list[list[str]] = []
    monkeypatch.setattr(prepare, "_check", _pretend(prepare, given))
    monkeypatch.setattr(prepare, "_runs", lambda _: True)
    return given


def test_environment_is_made_once_and_again_when_its_files_change(
    prepare: ModuleType, project: Path, installs: list[list[str]]
) -> None:
    """The second run does nothing; changed versions bring an update in place."""
    prepare.make(project, "run")
    assert len(installs) == 2
    prepare.make(project, "run")
    assert len(installs) == 2
    with (project / "constraints.txt").open("a") as handle:
        handle.write("# changed\n")
    assert prepare.state(project, prepare.USE) == prepare.UPDATE
    prepare.make(project, "run")
    assert len(installs) == 3


def test_development_environment_serves_the_user_too(
    prepare: ModuleType, project: Path, installs: list[list[str]]
) -> None:
    """run, test, run: only the step up to the development packages installs anything more."""
    prepare.make(project, "run")
    prepare.make(project, "test")
    assert len(installs) == 3
    assert installs[-1][-1].endswith("[dev]")
    prepare.make(project, "run")
    assert prepare.state(project, prepare.DEVELOP) == prepare.READY
    with (project / "constraints.txt").open("a") as handle:
        handle.write("# changed\n")
    prepare.make(project, "run")
    assert installs[-1][-1].endswith("[dev]")


def test_half_made_environment_is_made_anew(
    prepare: ModuleType, project: Path, installs: list[list[str]]
) -> None:
    """After an interrupted first run nothing in .venv is trusted."""
    prepare._create(project)
    left_over = project / ".venv" / "left-over"
    left_over.touch()
    assert prepare.state(project, prepare.USE) == prepare.ANEW
    prepare.make(project, "run")
    assert not left_over.exists()
    assert prepare.state(project, prepare.USE) == prepare.READY


def test_environment_without_interpreter_or_of_another_folder_is_made_anew(
    prepare: ModuleType, project: Path, installs: list[list[str]]
) -> None:
    """A moved checkout, and a Python that was removed from the machine, are noticed."""
    prepare.make(project, "run")
    moved = project.with_name("moved")
    project.rename(moved)
    assert prepare.state(moved, prepare.USE) == prepare.ANEW
    moved.rename(project)
    assert prepare.state(project, prepare.USE) == prepare.READY
    prepare.venv_python(project).unlink()
    assert prepare.state(project, prepare.USE) == prepare.ANEW


def test_failed_update_leaves_the_environment_usable(
    prepare: ModuleType, project: Path, installs: list[list[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    """Without a network the app opens with what served before, and the next run tries again."""
    prepare.make(project, "run")
    with (project / "constraints.txt").open("a") as handle:
        handle.write("# changed\n")
    installs.append(["fail"])
    prepare.make(project, "run")
    assert "Going on with the environment from before" in capsys.readouterr().err
    assert prepare.state(project, prepare.USE) == prepare.UPDATE
    with pytest.raises(prepare.SetupError, match="delete the folder"):
        prepare.make(project, "test")


def test_environment_made_by_hand_is_completed_and_not_thrown_away(
    prepare: ModuleType, project: Path, installs: list[list[str]]
) -> None:
    """A .venv without our stamp is somebody's own work."""
    prepare._create(project)
    (project / ".venv" / prepare.STAMP).unlink()
    own = project / ".venv" / "own"
    own.touch()
    prepare.make(project, "test")
    assert own.exists()


@pytest.mark.parametrize("python", ["#!/bin/sh\nexit 1\n", "", "no program"], ids=["old", "empty", "foreign"])
def test_odd_environment_is_made_anew_or_named(
    prepare: ModuleType, project: Path, monkeypatch: pytest.MonkeyPatch, python: str
) -> None:
    """Of an older Python, or copied from another machine: ours is repaired, another's is named and left."""
    monkeypatch.setattr(prepare, "_check", _pretend(prepare, []))
    prepare.make(project, "run")
    own, left_over = prepare.venv_python(project), project / ".venv" / "left-over"
    for made_by_hand in (False, True):
        own.write_text(python)
        own.chmod(0o755)
        left_over.touch()
        assert not prepare._runs(project)
        if made_by_hand:
            (project / ".venv" / prepare.STAMP).unlink()
            with pytest.raises(prepare.SetupError, match="made by hand, and its Python does not start"):
                prepare.make(project, "run")
        else:
            prepare.make(project, "run")
        assert left_over.exists() == made_by_hand


def tracked() -> list[Path]:
    """Files under version control, and those that are about to be."""
    listed = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    return [path for name in listed.stdout.split("\0") if name and (path := ROOT / name).is_file()]


def test_scripts_are_executable() -> None:
    """Each command can be started as it is, also in a fresh clone."""
    for name in COMMANDS:
        assert (ROOT / name).stat().st_mode & stat.S_IXUSR, name
    listed = subprocess.run(
        ["git", "ls-files", "--stage", *COMMANDS], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert [line for line in listed.stdout.splitlines() if not line.startswith("100755")] == []


def test_no_file_names_a_folder_of_one_machine_or_a_registry() -> None:
    """The project holds no absolute path of a machine it was made on and no address of a registry."""
    # Put together here, so that this file does not hold what it looks for.
    folders = "|".join(("work", "home", "root", "Users", "opt"))
    hosts = "|".join(("py" + "pi", "python" + "hosted", "npm" + "js", "crates" + r"\.io", "ana" + "conda"))
    pattern = re.compile(rf"(?<![\w.~/}}])/(?:{folders})/\w|{hosts}".encode(), re.IGNORECASE)
    found = {
        f"{path.relative_to(ROOT)}: {match[0].decode()}"
        for path in tracked()
        if (match := pattern.search(path.read_bytes()))
    }
    assert found == set()


def test_readme_names_both_commands() -> None:
    """A reader of the first page learns how to open it and how to test it."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    for command in ("scripts/run", "scripts/test"):
        assert command in readme


def test_constraints_pin_exact_versions_and_nothing_else() -> None:
    """Every line is one package at one version: no addresses, no options, no hashes."""
    lines = (ROOT / "constraints.txt").read_text(encoding="utf-8").splitlines()
    pins = [line for line in lines if line and not line.startswith("#")]
    assert pins
    assert [line for line in pins if not re.fullmatch(r"[A-Za-z0-9_.-]+==[0-9][0-9A-Za-z.]*", line)] == []


def test_words_of_a_picture_stand_where_their_first_letter_does() -> None:
    """A program that leaves out blanks before a text drew "Batches that touched it01KGH9YVT0"."""
    drawn = '<text class="r3" x="341.6" y="581.2" textLength="61" clip-path="u">&#160;&#160;4&#160;x</text>'
    kept = '<text class="r2" x="61" y="581.2" textLength="24.4" clip-path="u">&#160;&#160;</text>'
    moved = '<text class="r3" x="366" y="581.2" textLength="36.6" clip-path="u">4&#160;x</text>'
    assert placed(drawn + kept) == moved + kept
    pictures = [(ROOT / "docs" / f"{one.name}.svg").read_text(encoding="utf-8") for one in README]
    assert not any(re.search(r"<text [^>]*textLength[^>]*>(&#160;)+[^&<]", one) for one in pictures)
