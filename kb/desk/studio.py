"""A studio: one folder with all of a user's own data, and the index derived from it."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Literal, NamedTuple

from kb.book import seen
from kb.book.files import TORN, files
from kb.book.storage import DEVICES, put_whole
from kb.desk.errors import DeskError, refuse_lost_link
from kb.index.book_lines import problems
from kb.index.compiled import Compiled
from kb.index.index_file import SUFFIX as SEAL
from kb.index.index_file import Error, IndexUnusable, remove_index
from kb.index.open import Index, Origins, open_index, renew, silent
from kb.index.queries import catalogue_problems
from kb.model.question import CEILINGS, HARM_AVERSIONS, Dials, degrees
from kb.model.studio import Settings

ENV_STUDIO = "BENCHLEAF_STUDIO"
BENCH_LIMIT = 48
"""Characters in the name of a bench, which is a file's name on every system."""
INDEX_PATH_LIMIT = 480
"""Bytes in the path of an index: the database opens none that is longer than 512, with its endings."""


def default_root() -> Path:
    """The studio folder when none is named: the platform's folder for a user's data."""
    return _own_place("data") / "studio"


def cache_root() -> Path:
    """Where an index lives while its studio folder does not exist or cannot be written."""
    return _own_place("cache")


def _own_place(what: Literal["data", "cache"]) -> Path:
    """The platform's folder for the program's data or cache."""
    if sys.platform == "linux":
        # What the library says there too; to load it takes a twentieth of an answer's time.
        named, home = os.environ.get(f"XDG_{what.upper()}_HOME", ""), os.environ.get("HOME", "")
        if os.path.isabs(named):
            return Path(named, "benchleaf")
        if os.path.isabs(home):
            return Path(home, ".local/share" if what == "data" else ".cache", "benchleaf")
    from platformdirs import user_cache_path, user_data_path

    return (user_data_path if what == "data" else user_cache_path)("benchleaf", appauthor=False)


MOST_CACHED = 8
"""Indexes kept of studios that cannot hold their own; one that is taken away comes back when asked for."""


def _prune(used: Path) -> None:
    """Take away the oldest indexes of other studios from the cache."""
    others = [one for one in used.parent.glob("index-*.db") if one != used]
    for old in sorted(others, key=lambda one: one.stat().st_mtime)[: 1 - MOST_CACHED]:
        with contextlib.suppress(OSError):
            remove_index(old)
            old.with_name(f"{old.name}{SEAL}").unlink(missing_ok=True)


class LastWritten(NamedTuple):
    """A record that was just stored: its id, its kind, and when by a clock that is never set back, in s."""

    id: str
    kind: str
    at_s: float


class Studio:
    """A studio folder. It is made on the first write; reading never makes it."""

    def __init__(
        self, root: Path, *, progress: Callable[[str], None] = silent, book_file: Path | None = None
    ) -> None:
        self.root = root
        self._progress = progress
        self._book_file = book_file
        self._index: Index | None = None
        self._stale = False
        self._only_records = True
        """What the index has not taken in are records of this program's own."""
        self._seen = False
        """The folder was there once: it is not made again if it goes away."""
        self.notice: Callable[[str], None] = silent
        """Takes what a person should hear, whatever was asked: records that were lost."""
        self._noticed: set[str] = set()
        self.last_written: LastWritten | None = None
        """What this program stored last, for whoever takes it back at once."""

    @property
    def book_dir(self) -> Path:
        """Folder of the bench book, or the one file that stands in for it."""
        return self._book_file or self.root / "book"

    @property
    def catalogue_dir(self) -> Path:
        """The studio's own catalogue entries, which add to or replace the shipped ones."""
        return self.root / "catalogue"

    @property
    def catalogue_folders(self) -> tuple[Path, ...]:
        """The shipped catalogue, and the studio's own if it has one."""
        from kb.catalogue.paths import shipped_data

        return (shipped_data(), *([self.catalogue_dir] if self.catalogue_dir.is_dir() else ()))

    @property
    def settings_file(self) -> Path:
        return self.root / "studio.yaml"

    @property
    def shelf_file(self) -> Path:
        """shelf.yaml: what is held and what is forbidden."""
        return self.root / "shelf.yaml"

    @property
    def index_file(self) -> Path | None:
        """Where the index is kept; None while only a memory will do (a book given by file)."""
        if self._book_file is not None:
            return None
        path = self.root / "index.db"
        short = len(os.fsencode(path.absolute())) <= INDEX_PATH_LIMIT
        if short and self.root.is_dir() and os.access(self.root, os.W_OK):
            return path
        from hashlib import sha256

        return cache_root() / f"index-{sha256(os.fsencode(self.root.absolute())).hexdigest()[:12]}.db"

    @property
    def index(self) -> Index:
        """The index, opened and brought up to date the first time it is asked for."""
        if self._index is None:
            return self._open()
        if self._stale:
            self._take_in(self._index)
        return self._index or self._open()

    def mark_stale(self, *, by_a_record: bool = False) -> None:
        """Say that something was just written; the index takes it in when it is next asked for."""
        self._only_records = by_a_record and (self._only_records or not self._stale)
        self._stale = True

    def refresh(self) -> bool:
        """Take in what other programs wrote. True if anything changed.

        Raises DeskError if the studio folder went away since it was opened; it may come back.
        """
        if self._index is None:
            self._open()
            return True
        return self._take_in(self._index)

    def _open(self) -> Index:
        with self._told():
            self._must_be_there("Nothing was changed")
            self._index = open_index(self.index_file, self._origins(), self._progress)
            self._seen = self._seen or self.root.is_dir()
        if self.index_file is not None and self.index_file.parent == cache_root():
            _prune(self.index_file)
        self._stale = False
        self.watch()
        return self._index

    def _origins(self) -> Origins:
        return Origins(self.catalogue_folders, self.settings_file, self.book_dir, self.shelf_file)

    def derive_anew(self, progress: Callable[[str], None] | None = None) -> None:
        """Make a new index beside the old one and put it in its place, so that questions need not wait.

        Raises DeskError, and what ``progress`` raises; then the old index is still in its place.
        """
        self.close()
        path = self.index_file
        with self._told():
            self._must_be_there("Nothing was changed")
            if path is not None and path.exists():
                renew(path, self._origins(), progress or self._progress)
        self._open()

    def _take_in(self, index: Index) -> bool:
        # Until it has succeeded, so that whoever asks next tries again.
        self._stale = True
        with self._told():
            self._must_be_there("Nothing was changed")
            try:
                if not index.replaced():
                    changed = index.refresh(self._progress)
                    self._stale = False
                    if changed:
                        self.watch()
                    return changed
            except Error:
                # A full disk or a damaged file: opening it again knows what to do.
                pass
        self.close()
        self._open()
        return True

    def unread(self) -> list[str]:
        """Lines of the book that could not be read, and what is wrong in catalogue and settings."""
        conn = self.index.conn
        return [f"{file}:{line}: {text}" for file, line, text in problems(conn)] + catalogue_problems(conn)

    def watch(self) -> None:
        """Remember how far the book reaches, and give notice, once, of what was lost or could not be read."""
        if self._book_file is not None or not self.root.is_dir():
            return
        with contextlib.suppress(OSError):
            for path in files(self.book_dir):
                seen.note(self.root, path)
        told = seen.losses(self.root, self.book_dir)
        # A last line without its end is being written just now, or is a loss.
        unread = [text for text in self.unread() if not text.endswith(TORN)]
        of_book = [text for text in unread if text.partition(":")[0].endswith(".jsonl")]
        other = [text for text in unread if text not in of_book]
        for found, to_see in (([] if told else of_book, "verify"), (other, "check")):
            if found:
                more = f" (and {len(found) - 1} more)" if len(found) > 1 else ""
                told.append(
                    f"{found[0].rstrip('.')}{more}. This is left out of every answer. See: benchleaf {to_see}"
                )
        for text in told:
            if text not in self._noticed:
                self._noticed.add(text)
                self.notice(text)

    @contextmanager
    def _told(self) -> Iterator[None]:
        """Turn what the index and the disk say into a sentence for the user."""
        try:
            yield
        except IndexUnusable as error:
            raise DeskError(str(error)) from error
        except OSError as error:
            where = error.filename if isinstance(error.filename, str) else str(self.root)
            raise DeskError(
                f"{where} cannot be read ({error.strerror or type(error).__name__}). Nothing was changed. "
                "Put its rights or its disk in order, then try again."
            ) from error

    def _must_be_there(self, kept: str) -> None:
        """Raise DeskError if the folder was there before and is gone: a drive was taken off, perhaps."""
        if self._seen and not self.root.is_dir():
            raise DeskError(
                f"The studio folder {self.root} is no longer there. {kept}. "
                "Bring it back (a drive may be off, or the folder moved), then try again."
            )
        if self._book_file is not None and not self._book_file.is_file():
            raise DeskError(f"The book file {self._book_file} is no longer there. {kept}. Bring it back.")

    def close(self) -> None:
        """Close the index; it is opened again when needed."""
        if self._index is not None:
            self._index.conn.close()
            self._index = None

    @property
    def compiled(self) -> Compiled:
        """The catalogue as ranking sees it."""
        return self.index.compiled

    @property
    def settings(self) -> Settings:
        # No record changes them: else each spot of a card would be taken in before the next is written.
        known = self._index if self._only_records else None
        return (known or self.index).compiled.settings

    @property
    def bench(self) -> str:
        """Name of this bench: from the settings, else the machine's name in plain letters."""
        name = os.environ.get("BENCHLEAF_BENCH") or self.settings.bench or _machine() or "bench"
        plain = "".join(c if c.isascii() and c.isalnum() else "-" for c in name.lower())
        plain = plain.strip("-")[:BENCH_LIMIT].rstrip("-") or "bench"
        return f"{plain}-bench" if plain in DEVICES else plain

    @property
    def who(self) -> str:
        """Who writes: from the settings, else the user's login name."""
        if self.settings.who:
            return self.settings.who
        import getpass

        try:
            return getpass.getuser()
        except (OSError, KeyError, ImportError):
            return "unknown"

    def make(self) -> None:
        """Create the folder with a commented studio.yaml, if it does not exist yet.

        Raises DeskError if that fails, and for a folder that was there when it was opened and is gone:
        what is recorded in a new one would be out of sight when the old one comes back.
        """
        try:
            if self.settings_file.exists():
                self._seen = True
                return
            refuse_lost_link(self.settings_file)
            self._must_be_there("Nothing was recorded")
            # Whole and on disk with all folders above: the first record is acknowledged right after.
            put_whole(self.settings_file, STARTER.encode())
        except OSError as error:
            raise DeskError(
                f"The studio folder {self.root} cannot be written ({error.strerror}). Nothing was recorded. "
                "Make room or change its rights, or choose another folder."
            ) from error
        self._seen = True
        self.close()


def _machine() -> str:
    from socket import gethostname

    return gethostname()


def open_studio(root: Path | None = None, *, progress: Callable[[str], None] = silent) -> Studio:
    """The studio at ``root``, else the one BENCHLEAF_STUDIO names, else the user's own."""
    named = os.environ.get(ENV_STUDIO, "")
    return Studio(_usable(root or (Path(named) if named else default_root())), progress=progress)


def _usable(root: Path) -> Path:
    """The same folder, there or not. Raises DeskError for a name that no folder of a studio can bear."""
    why = ""
    try:
        str(root).encode()
        root.is_dir()
    except UnicodeEncodeError:
        why = "its name is not in UTF-8"
    except OSError as error:
        why = error.strerror or "it cannot be looked at"
    if why:
        raise DeskError(f"{root} cannot be a studio folder ({why}); choose another folder.")
    return root


def with_book(studio: Studio, book_file: Path) -> Studio:
    """The same studio, answering from one book file instead of its own book; nothing is written."""
    try:
        there = book_file.is_file()
    except OSError as error:
        raise DeskError(f"The book file {book_file} cannot be read ({error.strerror}).") from error
    if not there:
        raise DeskError(f"There is no book file {book_file}; name a .jsonl file.")
    return Studio(studio.root, book_file=book_file)


_USUAL = Dials()
STARTER = f"""\
# Settings of this studio. Every line may be left out.
name: My studio
# who: AB                # written into each record
# bench: north-bench     # records go to book/north-bench.jsonl
# authority: EU          # whose exposure limits are shown first: EU, FR, UK, US-OSHA, US-NIOSH, CA-ON
# dials:
#   harm_aversion: {_USUAL.harm_aversion:g}    # {degrees(HARM_AVERSIONS)}
#   ceiling: {_USUAL.ceiling:g}         # {degrees(CEILINGS)}
#   worth: {_USUAL.worth:g}            # what a safe release is worth, in harmless spots
#   use_print: true      # take reports in print into account
"""
