"""The demo: an invented studio that ships with the program. Users work in a copy of it."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

from kb.book.storage import free_path, part_folder, sync
from kb.desk.errors import DeskError
from kb.desk.studio import Studio, default_root

_MARK = rb"(?m)^invented:[ \t]*true\b"
"""How studio.yaml says that a studio is made up. Looked for as text: every start would pay for YAML."""


def shipped_demo() -> Path:
    """The demo studio as shipped: read from it, never open it, for opening leaves an index there."""
    from kb.catalogue.paths import DEMO, shipped_data

    return shipped_data() / DEMO / "studio"


def open_demo(target: Path | None = None, *, fresh: bool = False) -> Studio:
    """The user's copy of the demo studio, made first if it is not there yet.

    ``target`` is the folder of the copy (default: beside the user's own studio). With ``fresh`` an
    earlier copy is set aside under a dated name, with all that was recorded in it, and a new one made.
    Raises DeskError if the folder holds something else than a demo, or cannot be written.
    """
    root = (target or default_root().parent / "demo-studio").absolute()
    there = _is_demo(root)
    if there and not fresh:
        return Studio(root)
    shipped = shipped_demo()
    if not (shipped / "studio.yaml").is_file():
        raise DeskError("The demo studio is missing from this installation; install the program again.")
    try:
        root.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        with part_folder(root.parent, f".{root.name}-") as part:
            _copy(shipped, part)
            _put(part, root, replace=there)
    except OSError as error:
        # Two programs may start the first demo at once; then the other's copy is as good as ours.
        if fresh or not _is_demo(root):
            raise DeskError(
                f"The demo studio cannot be put in {root} ({error.strerror or error}); "
                "choose another folder for the demo."
            ) from error
    return Studio(root)


def _is_demo(root: Path) -> bool:
    """Whether a copy of the demo is there; False if nothing is. Raises DeskError for anything else."""
    try:
        if re.search(_MARK, (root / "studio.yaml").read_bytes()):
            shipped = shipped_demo()
            if shipped.is_dir() and root.resolve() == shipped.resolve():
                raise DeskError(
                    "This is the demo as shipped, which stays as it is; name a folder for a copy of it."
                )
            return True
        empty = False
    except FileNotFoundError:
        empty = not root.is_symlink() and (not root.exists() or (root.is_dir() and not any(root.iterdir())))
    except OSError as error:
        raise DeskError(f"{root} cannot be read ({error.strerror}); nothing was changed there.") from error
    if empty:
        return False
    raise DeskError(
        f"{root} holds something else than the invented demo studio, and was left as it is; "
        "choose another folder for the demo."
    )


def _copy(shipped: Path, part: Path) -> None:
    """Copy the files but not their modes: an installed file may be read-only, and a book grows."""
    for path in sorted(shipped.rglob("*")):
        # An index tells of places on the disk where the shipped one lies; each copy makes its own.
        if not path.is_file() or path.name.startswith("index.db"):
            continue
        copy = part / path.relative_to(shipped)
        copy.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        with copy.open("xb") as handle:
            handle.write(path.read_bytes())
            handle.flush()
            sync(handle.fileno())


def _put(part: Path, root: Path, *, replace: bool) -> None:
    """Give the finished copy its name; an earlier one is set aside first, and put back if that fails."""
    aside = root.rename(free_path(root.with_name(f"{root.name}-{date.today()}"))) if replace else None
    try:
        part.rename(root)
    except OSError:
        if aside is not None:
            aside.rename(root)
        raise
