"""A data package from elsewhere, as folder or zip file: what it says it holds, and its files one by one.

Nothing in it is trusted: names, links, sizes and checksums are looked at before anything is used.
"""

from __future__ import annotations

import os
import stat
import struct
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from functools import partial
from hashlib import sha256
from pathlib import Path
from typing import IO

import msgspec

from kb.desk.errors import DeskError
from kb.desk.package.files import DESCRIPTOR, FORMAT, README, Member, Unfit, open_below, open_plain, safe_path

MOST_FILES = 200_000
DESCRIPTOR_LIMIT = 16 << 20
"""Bytes; some fifty thousand photographs. A larger one, packed into a small zip file, fills the memory."""
FILE_LIMIT = 1 << 40
BOMB_BYTES, BOMB_RATIO = 100 << 20, 100
"""A zip file that would unpack to more than this many bytes and times its own size is refused."""
_BLOCK = 1 << 20
_HEX = frozenset("0123456789abcdef")
# What the zip reader raises on damaged files, as far as random damage found it out.
_ZIP_ERRORS = (
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    NotImplementedError,
    RuntimeError,
    EOFError,
    ValueError,
    OverflowError,
)


class _Listed(msgspec.Struct):
    """One file as the descriptor lists it; what else is said of it is not even read into memory."""

    path: msgspec.Raw = msgspec.Raw(b"null")
    bytes: msgspec.Raw = msgspec.Raw(b"null")
    hash: msgspec.Raw = msgspec.Raw(b"null")


class _Own(msgspec.Struct):
    format: int


class _Descriptor(msgspec.Struct):
    title: msgspec.Raw = msgspec.Raw(b"null")
    benchleaf: _Own | None = None
    resources: list[_Listed] | None = None


class Package:
    """An open package: what it is called, and its files as its descriptor has them."""

    def __init__(self, source: _Folder | _Zip, shown: str) -> None:
        self.shown = shown
        self._source = source
        said = self._descriptor()
        self.title = str(_plain(said.title) or "")
        self.members = tuple(self._members(said))
        unnamed = source.names() - {one.path for one in self.members} - {DESCRIPTOR, README}
        self.unnamed = tuple(sorted(unnamed))
        """Files in it that its descriptor does not name; they are never used."""

    @property
    def size(self) -> int:
        """Size of all files that the descriptor names."""
        return sum(one.bytes for one in self.members)

    def copy(self, member: Member, target: Path | None) -> None:
        """Read a file, check its size and SHA-256, and write it to ``target`` if there is one."""
        digest, left = sha256(), member.bytes
        with ExitStack() as stack:
            stream = stack.enter_context(self._reading(member.path, member.bytes))
            out = stack.enter_context(target.open("xb")) if target is not None else None
            while block := self._block(stream, member.path):
                left -= len(block)
                if left < 0:
                    break
                digest.update(block)
                if out is not None:
                    out.write(block)
        if left or digest.hexdigest() != member.sha256:
            raise _refused(
                f"{member.path} in the package is not what its checksum says: it was altered or damaged "
                "after the export."
            )

    @contextmanager
    def _reading(self, path: str, limit: int) -> Iterator[IO[bytes]]:
        try:
            stream = self._source.open(path, limit)
        except Unfit as error:
            raise _refused(f"{path} in the package cannot be used: {error}.") from error
        except (*_ZIP_ERRORS, KeyError) as error:
            raise _refused(f"{path} cannot be unpacked ({error}).") from error
        with stream:
            yield stream

    @staticmethod
    def _block(stream: IO[bytes], path: str) -> bytes:
        try:
            return stream.read(_BLOCK)
        except _ZIP_ERRORS as error:
            raise _refused(f"{path} cannot be unpacked ({error}).") from error

    def _descriptor(self) -> _Descriptor:
        with self._reading(DESCRIPTOR, DESCRIPTOR_LIMIT) as stream:
            raw = b"".join(iter(partial(self._block, stream, DESCRIPTOR), b""))
        try:
            found = msgspec.json.decode(raw, type=_Descriptor)
        except (msgspec.MsgspecError, ValueError, RecursionError) as error:
            if "$.resources" in str(error):
                raise _refused(f"{DESCRIPTOR} in the package does not list its files.") from error
            if "$.benchleaf" in str(error):
                raise _refused(f"{self.shown} is no package that was written by benchleaf export.") from error
            raise _refused(f"{DESCRIPTOR} in the package cannot be read ({error}).") from error
        if found.benchleaf is None:
            raise _refused(f"{self.shown} is no package that was written by benchleaf export.")
        if found.benchleaf.format > FORMAT:
            raise _refused(f"{self.shown} was written by a newer version of the program; use that one.")
        return found

    def _members(self, said: _Descriptor) -> Iterator[Member]:
        if said.resources is None or len(said.resources) > MOST_FILES:
            raise _refused(f"{DESCRIPTOR} in the package does not list its files.")
        seen: set[str] = set()
        for one in said.resources:
            path, size, digest = _plain(one.path), _plain(one.bytes), _plain(one.hash)
            if not isinstance(path, str) or not safe_path(path) or path.casefold() in seen:
                raise _refused(f"{DESCRIPTOR} names a file that no package may hold: {str(path)[:100]!r}.")
            digest = digest.removeprefix("sha256:") if isinstance(digest, str) else ""
            if len(digest) != 64 or not _HEX.issuperset(digest) or not isinstance(size, int) or size < 0:
                raise _refused(f"{DESCRIPTOR} gives no size and SHA-256 for {path}.")
            seen.add(path.casefold())
            yield Member(path, size, digest)


def _plain(raw: msgspec.Raw) -> str | int | None:
    """A text or whole number; None for anything else, which is not made into objects."""
    try:
        return msgspec.json.decode(raw, type=str | int | None)
    except (msgspec.MsgspecError, ValueError, RecursionError):
        return None


class _Folder:
    def __init__(self, root: Path) -> None:
        self._root = root

    def names(self) -> set[str]:
        """The files in it, links not followed."""
        found: set[str] = set()
        for here, _, names in os.walk(self._root):
            found.update(Path(here, name).relative_to(self._root).as_posix() for name in names)
            if len(found) > MOST_FILES:
                raise _refused("The package holds too many files.")
        return found

    def open(self, path: str, limit: int) -> IO[bytes]:
        """One file; raises Unfit."""
        return open_below(self._root, path, limit)


class _Zip:
    """A package as a zip file, its files at the top or all in one folder."""

    def __init__(self, archive: zipfile.ZipFile, packed_bytes: int) -> None:
        self._archive = archive
        files = [one for one in archive.infolist() if not one.is_dir()]
        self._check(files, packed_bytes)
        tops = [one.filename for one in files if one.filename.rpartition("/")[2] == DESCRIPTOR]
        tops = [name for name in tops if name.count("/") <= 1]
        if DESCRIPTOR in tops:
            tops = [DESCRIPTOR]
        if len(tops) != 1:
            raise _refused(f"There is no {DESCRIPTOR} in the zip file.")
        self._top = tops[0].removesuffix(DESCRIPTOR)
        self._files = {
            one.filename.removeprefix(self._top): one for one in files if one.filename.startswith(self._top)
        }

    @staticmethod
    def _check(files: list[zipfile.ZipInfo], packed_bytes: int) -> None:
        if len(files) > MOST_FILES:
            raise _refused("The zip file holds too many files.")
        seen: set[str] = set()
        for one in files:
            kind = stat.S_IFMT(one.external_attr >> 16)
            shown = repr(one.filename[:100])
            if _leads_elsewhere(one.filename) or one.filename.casefold() in seen:
                raise _refused(f"The zip file holds a name that leads elsewhere or comes twice: {shown}.")
            if kind not in {0, stat.S_IFREG}:
                raise _refused(f"The zip file holds a link or device: {shown}.")
            if one.flag_bits & 1:
                raise _refused(f"The zip file is locked with a password: {shown}.")
            seen.add(one.filename.casefold())
        total = sum(one.file_size for one in files)
        if total > BOMB_BYTES and total > BOMB_RATIO * packed_bytes:
            raise _refused(f"The zip file would unpack to {total:,} bytes, far more than a book packs to.")

    def names(self) -> set[str]:
        return set(self._files)

    def open(self, path: str, limit: int) -> IO[bytes]:
        """One file; raises Unfit, KeyError, and what the zip reader raises."""
        if path not in self._files:
            raise Unfit("it is not there")
        if self._files[path].file_size > limit:
            raise Unfit("larger than is taken")
        return self._archive.open(self._files[path])


def _leads_elsewhere(name: str) -> bool:
    """Whether a name is a trick. Hidden files, which some systems add, are none: they are never used."""
    return "\\" in name or ":" in name or any(part in {"", ".", ".."} for part in name.split("/"))


@contextmanager
def open_package(path: Path) -> Iterator[Package]:
    """The package at a path, folder or zip file. Raises DeskError in a sentence if it cannot be trusted."""
    shown = path.name or str(path)
    with ExitStack() as stack:
        try:
            if path.is_dir():
                source: _Folder | _Zip = _Folder(path.resolve())
            else:
                stream = stack.enter_context(open_plain(path.resolve(), FILE_LIMIT))
                archive = stack.enter_context(zipfile.ZipFile(stream))
                source = _Zip(archive, max(stream.seek(0, 2), 1))
        except Unfit as error:
            raise _refused(f"{path} cannot be used as a package: {error}.") from error
        except _ZIP_ERRORS as error:
            raise _refused(f"{path} is neither a folder nor a sound zip file ({error}).") from error
        except (OSError, ValueError) as error:
            raise _refused(f"{path} cannot be read ({getattr(error, 'strerror', '') or error}).") from error
        yield Package(source, shown)


def _refused(sentence: str) -> DeskError:
    return DeskError(f"{sentence} Nothing was brought in.")
