"""Makes .venv/, the project's own Python environment, keeps it up to date, and starts what was asked for.

Called by scripts/with-python: ``prepare.py ready|make|start run|test|bench|fuzz [ARGUMENT ...]``. Needs only
the standard library of Python 3.11. On a system without a shell ``py scripts/prepare.py make run`` does
the same as scripts/run.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
STAMP = "benchleaf-stamp"
"""File in .venv/ that says what is installed there: a level and a fingerprint, or UNFINISHED."""
UNFINISHED = "unfinished"
USE, DEVELOP = "use", "develop"
# The bench compares photographs too, and what that needs is asked for by few who only use the program.
LEVEL_FOR = {"run": USE, "bench": DEVELOP, "test": DEVELOP, "fuzz": DEVELOP}
READY, UPDATE, ANEW = "ready", "update", "anew"
FAILED = 3


class SetupError(Exception):
    """The environment could not be made; the sentence says why and what to do."""


def fingerprint(root: Path) -> str:
    """SHA-256 of what decides on the environment: the two files, and the folder, which is written into it."""
    digest = sha256(os.fsencode(root))
    for name in ("pyproject.toml", "constraints.txt"):
        digest.update(b"\0" + (root / name).read_bytes())
    return digest.hexdigest()


def venv_python(root: Path) -> Path:
    """The environment's interpreter, whether it exists or not."""
    return root / ".venv" / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def state(root: Path, level: str) -> str:
    """What the environment needs before it can serve at this level: READY, UPDATE or ANEW.

    A stamp that says unfinished means an interrupted run: nothing in there is trusted. No stamp at all
    means an environment that somebody made by hand, and that is completed, not thrown away.
    """
    if not venv_python(root).exists():
        return ANEW
    try:
        stamp = (root / ".venv" / STAMP).read_text(encoding="utf-8").split()
    except FileNotFoundError:
        return UPDATE
    if len(stamp) != 3 or stamp[2] != sha256(os.fsencode(root)).hexdigest():
        return ANEW
    known, seen, _ = stamp
    if seen != fingerprint(root) or (level == DEVELOP and known == USE):
        return UPDATE
    return READY


def make(root: Path, what: str) -> None:
    """Bring the environment to what ``run``, ``test``, ``bench`` or ``fuzz`` needs, from whatever is there.

    Raises SetupError. Only ``run`` goes on with an environment that served before and could not be
    brought up to date: a bench often has no network.
    """
    level = LEVEL_FOR[what]
    with _alone(root):
        needs = state(root, level)
        if needs != ANEW and not _runs(root):
            needs = _in_place_of_odd(root)
        if needs == ANEW:
            _say("Setting up Benchleaf in .venv; this takes a minute or two and needs the network ...")
            _create(root)
            _install(root, level)
        elif needs == UPDATE:
            _say("Bringing Benchleaf's environment (.venv) up to date ...")
            _update(root, level, may_go_on=what == "run")


def _runs(root: Path) -> bool:
    """Whether the environment's interpreter starts here and is new enough."""
    probe = "import sys, pip; sys.exit(sys.version_info < (3, 11))"
    try:
        done = subprocess.run([venv_python(root), "-I", "-c", probe], capture_output=True, check=False)
    except OSError:
        return False
    return done.returncode == 0


def _in_place_of_odd(root: Path) -> str:
    """What to do about an environment of another Python or machine: ours is made anew, others' are left.

    Raises SetupError.
    """
    if (root / ".venv" / STAMP).exists():
        return ANEW
    raise SetupError(
        f"The folder {root / '.venv'} was made by hand, and its Python does not start here, has no pip or is "
        "older than 3.11; move it away and try again."
    )


def _update(root: Path, level: str, *, may_go_on: bool) -> None:
    """Install in place, never to a lower level; after a failure what was there before is as it was."""
    stamp = root / ".venv" / STAMP
    before = stamp.read_text(encoding="utf-8") if stamp.exists() else ""
    try:
        _install(root, DEVELOP if before.startswith(DEVELOP) else level)
    except SetupError as error:
        # The installer fetches everything before it changes anything, so a failure leaves all as it was.
        if before:
            stamp.write_text(before, encoding="utf-8")
        else:
            stamp.unlink()
        if not (before and may_go_on):
            raise SetupError(
                f"{error} If it happens again, delete the folder .venv and try again."
            ) from error
        _say(f"{error} Going on with the environment from before.")


def _create(root: Path) -> None:
    """An empty environment, marked as unfinished before anything else is in it."""
    folder = root / ".venv"
    try:
        if folder.is_symlink() or folder.is_file():
            folder.unlink()
        elif folder.exists():
            shutil.rmtree(folder)
        folder.mkdir()
        (folder / STAMP).write_text(UNFINISHED, encoding="utf-8")
    except OSError as error:
        raise SetupError(f"The folder {folder} cannot be written ({error.strerror}).") from error
    _check([sys.executable, "-I", "-m", "venv", str(folder)], "Python could not make the folder .venv")


def _install(root: Path, level: str) -> None:
    """Install the project and what it needs, and stamp the environment as the very last step."""
    stamp = root / ".venv" / STAMP
    stamp.write_text(UNFINISHED, encoding="utf-8")
    extra = "[dev]" if level == DEVELOP else ""
    pip = [str(venv_python(root)), "-I", "-m", "pip", "--disable-pip-version-check", "--retries", "1"]
    # Tests load a tenth of what comes with their packages: compiled as it is met it takes half a minute less.
    plain = ["--no-compile"] if level == DEVELOP else []
    wanted = [*plain, "--constraint", str(root / "constraints.txt"), "--editable", f"{root}{extra}"]
    _check([*pip, "install", *wanted], "The packages that Benchleaf needs could not be installed")
    part = stamp.with_suffix(".part")
    folder_mark = sha256(os.fsencode(root)).hexdigest()
    part.write_text(f"{level} {fingerprint(root)} {folder_mark}\n", encoding="utf-8")
    part.replace(stamp)


def _check(command: list[str], what: str) -> None:
    """Run a step of the set-up; it is told as it goes, and its whole output only if it fails."""
    # A setting of the machine that installs for one user would miss the environment.
    environment = {**os.environ, "PIP_USER": "0", "PIP_REQUIRE_VIRTUALENV": "0"}
    lines = []
    with subprocess.Popen(
        command,
        env=environment,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    ) as running:
        for line in running.stdout or ():
            lines.append(line)
            _tell_step(line)
    _tell_step("")
    if running.returncode:
        sys.stderr.write("".join(lines))
        raise SetupError(f"{what}; the reason is above. Is the network up, and is there room on the disk?")


STEPS = {"Collecting": "fetching", "Downloading": "fetching", "Installing": "installing"}
"""First words of what the installer says, and what a person is told."""


def _tell_step(line: str) -> None:
    """One line that changes, on a terminal; an empty text clears it."""
    if not sys.stderr.isatty():
        return
    first, _, rest = line.strip().partition(" ")
    if not line or first in STEPS:
        said = f"  {STEPS[first]} {rest}"[:76] if line else ""
        sys.stderr.write(f"\r{said:<76}" + ("" if line else "\r"))
        sys.stderr.flush()


@contextlib.contextmanager
def _alone(root: Path) -> Iterator[None]:
    """Two runs at once wait for each other, where the system can lock a file."""
    try:
        import fcntl
    except ImportError:
        yield
        return
    with (root / "pyproject.toml").open("rb") as handle:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            _say("Waiting for another set-up of Benchleaf to end ...")
            fcntl.flock(handle, fcntl.LOCK_EX)
        yield


def start(root: Path, what: str, arguments: list[str]) -> int:
    """Become the program that was asked for; returns only where a process cannot be replaced."""
    python = str(venv_python(root))
    if what == "run":
        command = [str(Path(python).with_name("benchleaf")), *(arguments or ["--demo"])]
    elif what in ("bench", "fuzz"):
        command = [python, str(root / "scripts" / f"{what}_parts"), *arguments]
    elif arguments == ["--only-setup"]:
        return 0
    else:
        quick = ["-m", "not slow"] if arguments[:1] == ["quick"] else []
        given = arguments[1:] if quick else arguments
        command = [
            python,
            "-m",
            "pytest",
            "-n",
            "auto",
            "--dist",
            "worksteal",
            *quick,
            *map(_from_here, given),
        ]
        os.chdir(root)
    if os.name != "nt":
        os.execv(command[0], command)
    return subprocess.call(command)


def _from_here(argument: str) -> str:
    """An argument of pytest that names a file counts from where the user stands, not from the project."""
    path, mark, test = argument.partition("::")
    if path.startswith("-") or not Path(path).exists():
        return argument
    return f"{Path(path).resolve()}{mark}{test}"


def _say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)


def main(arguments: list[str]) -> int:
    """Do one step; the exit code of ``ready`` is its answer."""
    step, what, *rest = arguments
    if step == "ready":
        return 0 if state(ROOT, LEVEL_FOR[what]) == READY else 1
    try:
        if step == "make":
            make(ROOT, what)
        return start(ROOT, what, rest)
    except SetupError as error:
        _say(str(error))
    except KeyboardInterrupt:
        _say("Stopped; the next run makes the environment anew.")
    return FAILED


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
