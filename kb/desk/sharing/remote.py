"""The address of the other end: which forms are taken, and which branch is used there."""

from __future__ import annotations

import re
from pathlib import Path
from urllib.parse import urlsplit

from kb.desk.errors import DeskError
from kb.desk.sharing.git import NO_PROGRAMS, Git, GitFailed, is_folder

FORMS = "Name a folder, https://..., ssh://... or name@machine:folder."
BRANCH = "main"
"""The branch of an empty repository."""

_SCP = re.compile(r"\w[\w.-]*@\w[\w.-]*:(?![-/]{2})[^-\s].*", re.ASCII)
_BRANCH_SHAPE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._/-]{0,99}")


def checked_remote(text: str, root: Path) -> str:
    """The address as git is given it; a folder becomes a whole path. Raises DeskError for any other form.

    What looks like an option or names a program to run is refused before git ever sees it.
    """
    text = text.strip()
    if not text:
        raise DeskError(f"No other end is named. {FORMS}")
    if text.startswith("-") or re.match(r"[^/]*::", text) or not text.isprintable():
        raise DeskError(f"{text[:80]!r} is not taken as the address of another end. {FORMS}")
    if "://" in text:
        return _checked_url(text)
    if _SCP.fullmatch(text):
        return text
    if re.match(r"[^/]*:", text) and not Path(text).exists():
        raise DeskError(f"{text[:80]!r} does not say who asks. Write it as name@machine:folder.")
    return _checked_folder(Path(text).expanduser().absolute(), root)


def _checked_url(text: str) -> str:
    try:
        parts = urlsplit(text)
        host, user = parts.hostname or "", parts.username or ""
    except ValueError as error:
        raise DeskError(f"{text[:80]!r} is no address. {FORMS}") from error
    if parts.scheme not in {"https", "ssh", "file"}:
        raise DeskError(f"The way {parts.scheme[:20]!r} is not used for sharing. {FORMS}")
    if parts.password:
        raise DeskError(
            "The address holds a password, which would be written into a file here. "
            "Leave it out and let git's own store of passwords keep it."
        )
    if host.startswith("-") or user.startswith("-") or (not host and parts.scheme != "file"):
        raise DeskError(f"{text[:80]!r} is no address. {FORMS}")
    return text


def _checked_folder(folder: Path, root: Path) -> str:
    if not folder.is_dir():
        raise DeskError(
            f"There is no folder {folder}. Make an empty repository there with: git init --bare {folder}"
        )
    if folder.resolve().is_relative_to(root.resolve()):
        raise DeskError("The other end lies inside the studio folder; choose a folder elsewhere.")
    return str(folder)


def branch_of(git: Git, remote: str) -> str:
    """The branch in use at the other end, `BRANCH` if that is empty. Raises DeskError if it is unclear."""
    try:
        how = (f"--upload-pack={NO_PROGRAMS} upload-pack",) if is_folder(remote) else ()
        done = git.run("ls-remote", "--symref", *how, "--", remote, "HEAD", "refs/heads/*", network=True)
    except GitFailed as error:
        if error.kind == "gone":
            raise DeskError(f"There is no git repository at {remote}. Nothing was changed here.") from error
        raise
    named = ""
    branches: set[str] = set()
    for line in done.out.decode(errors="replace").splitlines():
        left, _, right = line.partition("\t")
        if right == "HEAD" and left.startswith("ref: refs/heads/"):
            named = left.removeprefix("ref: refs/heads/")
        elif right.startswith("refs/heads/"):
            branches.add(right.removeprefix("refs/heads/"))
    choice = next((one for one in (named, BRANCH) if one in branches), "")
    if not choice and len(branches) > 1:
        listed = ", ".join(sorted(branches)[:5])
        raise DeskError(f"The other end has several branches ({listed}) and none of them is its main one.")
    choice = choice or next(iter(branches), BRANCH)
    if _BRANCH_SHAPE.fullmatch(choice) is None:
        raise DeskError("The branch at the other end has a name that is not taken here; rename it to main.")
    return choice
