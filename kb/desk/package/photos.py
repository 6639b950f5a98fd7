"""Photographs of a package: found by path or by hash, copied under a name made from their hash."""

from __future__ import annotations

from hashlib import sha256
from pathlib import Path

from kb.book.kinds.parts import Photo
from kb.desk.package.files import Copied, Hashed
from kb.desk.package.safe_files import Unfit, open_plain
from kb.desk.records.photographs import FOLDER, NAMED, content_named, leaving
from kb.desk.records.record import LONGEST_PHOTO

NOT_TAKEN = "photographs were left out as asked"


class Photographs:
    """Copies each photograph once. What could not be copied is kept with the reason."""

    def __init__(self, studio_root: Path, package: Path, *, take: bool) -> None:
        self._own = studio_root / FOLDER
        self._root = studio_root
        self._package = package
        self._take = take
        self._placed: dict[str, Copied] = {}
        self._missed: dict[tuple[str, str], str] = {}

    @property
    def copied(self) -> list[Copied]:
        """The photographs in the package, by name."""
        return sorted(self._placed.values())

    @property
    def missing(self) -> list[tuple[str, str]]:
        """Paths of photographs that are not in the package, as recorded, and why."""
        if not self._take:
            return []
        return sorted((path, why) for (path, sha), why in self._missed.items() if sha not in self._placed)

    def place(self, photo: Photo) -> tuple[str, str]:
        """Path in the package of a photograph, and if it is not there, why (one of the two is empty)."""
        there = self._placed.get(photo.sha256)
        if there is not None:
            return there.path, ""
        key = (photo.path, photo.sha256)
        if key not in self._missed:
            why = self._try(photo) if self._take else NOT_TAKEN
            if not why:
                return self._placed[photo.sha256].path, ""
            self._missed[key] = why
        return "", self._missed[key]

    def place_own(self) -> None:
        """Take along what lies in the studio's own folder, named by its hash, and no record shows."""
        try:
            names = sorted(one.name for one in self._own.iterdir()) if self._take else []
        except OSError:
            return
        for name in names:
            found = NAMED.fullmatch(name)
            if found and found[1] not in self._placed:
                why = self._copy(self._own / name, found[1])
                if why:
                    self._missed[f"{FOLDER}/{name}", found[1]] = why

    def _try(self, photo: Photo) -> str:
        said = "no file is there"
        for path in self._candidates(photo):
            why = self._copy(path, photo.sha256)
            if not why:
                return ""
            if why != "No such file or directory":
                said = why
        return said

    def _candidates(self, photo: Photo) -> list[Path]:
        """Where it may lie: in the studio by its hash, and where the record says, if that is a whole path.

        A path that is not whole was meant from a folder that nobody knows any more; it is looked for in
        the studio only, and not outside of it.
        """
        found: list[Path] = []
        if self._own.is_dir():
            found += sorted(self._own.glob(f"{photo.sha256}*"))
        try:
            named = Path(photo.path)
            if named.is_absolute():
                found.append(named)
            elif (self._root / named).resolve().is_relative_to(self._root.resolve()):
                found.append(self._root / named)
        except (OSError, ValueError, RuntimeError):
            pass
        return found

    def _copy(self, path: Path, sha: str) -> str:
        """Copy one file if its content is what the record says; why not, in a few words."""
        try:
            with open_plain(path, LONGEST_PHOTO) as source:
                raw = source.read(LONGEST_PHOTO)
        except Unfit as error:
            return str(error)
        if sha256(raw).hexdigest() != content_named(path.name, sha):
            return "the file there is another one: its SHA-256 is not the one recorded"
        # A copy that came without its place keeps its name.
        blanked = content_named(path.name, sha) != sha
        name, content = (path.name, raw) if blanked else leaving(raw, sha, path.suffix)
        target = Hashed(self._package, f"{FOLDER}/{name}")
        target.write(content)
        self._placed[sha] = target.close()
        return ""
