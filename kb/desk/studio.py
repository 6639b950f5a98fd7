"""A studio: one folder with all of a user's own data, and the index derived from it."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

from kb.desk.errors import DeskError
from kb.index.compiled import Compiled
from kb.index.open import Index, IndexUnusable, Origins, open_index, silent
from kb.model.settings import Settings

ENV_STUDIO = "BENCHLEAF_STUDIO"


def default_root() -> Path:
    """The studio folder when none is named: the platform's folder for a user's data."""
    from platformdirs import user_data_dir

    return Path(user_data_dir("benchleaf", appauthor=False)) / "studio"


def cache_root() -> Path:
    """Where an index lives while its studio folder does not exist or cannot be written."""
    from platformdirs import user_cache_dir

    return Path(user_cache_dir("benchleaf", appauthor=False))


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

    @property
    def book_dir(self) -> Path:
        """Folder of the bench book, or the one file that stands in for it."""
        return self._book_file or self.root / "book"

    @property
    def catalogue_dir(self) -> Path:
        """The studio's own catalogue entries, which add to or replace the shipped ones."""
        return self.root / "catalogue"

    @property
    def settings_file(self) -> Path:
        """studio.yaml."""
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
        if self.root.is_dir() and os.access(self.root, os.W_OK):
            return self.root / "index.db"
        from hashlib import sha256

        name = sha256(str(self.root.absolute()).encode()).hexdigest()[:12]
        return cache_root() / f"index-{name}.db"

    @property
    def index(self) -> Index:
        """The index, opened and brought up to date the first time it is asked for."""
        if self._index is None:
            from kb.catalogue.paths import shipped_data

            folders = [shipped_data()]
            if self.catalogue_dir.is_dir():
                folders.append(self.catalogue_dir)
            origins = Origins(tuple(folders), self.settings_file, self.book_dir, self.shelf_file)
            try:
                self._index = open_index(self.index_file, origins, self._progress)
            except IndexUnusable as error:
                raise DeskError(str(error)) from error
        elif self._stale:
            self._index.refresh(self._progress)
        self._stale = False
        return self._index

    def mark_stale(self) -> None:
        """Say that something was just written; the index takes it in when it is next asked for."""
        self._stale = True

    def refresh(self) -> bool:
        """Take in what other programs wrote. True if anything changed."""
        if self._index is None:
            return bool(self.index)
        self._stale = False
        return self._index.refresh(self._progress)

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
        """The studio's settings."""
        return self.compiled.settings

    @property
    def bench(self) -> str:
        """Name of this bench: from the settings, else the machine's name in plain letters."""
        name = os.environ.get("BENCHLEAF_BENCH") or self.settings.bench or _machine() or "bench"
        return "".join(c if c.isalnum() or c in "-_" else "-" for c in name.lower()).strip("-") or "bench"

    @property
    def who(self) -> str:
        """Who writes: from the settings, else the user's login name."""
        if self.settings.who:
            return self.settings.who
        import getpass

        try:
            return getpass.getuser()
        except (OSError, KeyError):
            return "unknown"

    def make(self) -> None:
        """Create the folder with a commented studio.yaml, if it does not exist yet."""
        if self.settings_file.exists():
            return
        try:
            self.root.mkdir(parents=True, exist_ok=True, mode=0o700)
            if not self.settings_file.exists():
                part = self.settings_file.with_suffix(".part")
                part.write_text(STARTER, encoding="utf-8")
                part.replace(self.settings_file)
        except OSError as error:
            raise DeskError(
                f"The studio folder {self.root} cannot be written ({error.strerror}); "
                "choose another with --studio."
            ) from error
        self.close()


def _machine() -> str:
    from socket import gethostname

    return gethostname()


def open_studio(root: Path | None = None, *, progress: Callable[[str], None] = silent) -> Studio:
    """The studio at ``root``, else the one BENCHLEAF_STUDIO names, else the user's own."""
    named = os.environ.get(ENV_STUDIO, "")
    return Studio(root or (Path(named) if named else default_root()), progress=progress)


def with_book(studio: Studio, book_file: Path) -> Studio:
    """The same studio, answering from one book file instead of its own book; nothing is written."""
    if not book_file.is_file():
        raise DeskError(f"There is no book file {book_file}; name a .jsonl file.")
    return Studio(studio.root, book_file=book_file)


STARTER = """\
# Settings of this studio. Every line may be left out.
name: My studio
# who: AB                # written into each record
# bench: north-bench     # records go to book/north-bench.jsonl
# authority: EU          # whose exposure limits are shown first: EU, FR, UK, US-OSHA, US-NIOSH, CA-ON
# dials:
#   harm_aversion: 16    # 8 bold, 16 usual, 32 cautious
#   ceiling: 0.6         # 0.5 cautious, 0.6 usual, 0.8 sacrificial sample
#   worth: 16            # what a safe release is worth, in harmless spots
#   use_print: true      # take reports in print into account
"""
