"""The pool's folder in a studio: counts files by the random id of their studio, and the weights."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from kb.book.storage import locked_folder, make_folder, put_whole, sync_folder
from kb.desk.errors import DeskError
from kb.desk.studio import Studio
from kb.index.pool_file import STUDIO_ID
from kb.index.pool_state import THOUSAND, WEIGHTS, read_weights

WAIT_S = 10.0
OWN = "this-studio.json"
"""Holds the random id that this studio's counts bear; made once, with the first export."""
HEADER = """\
# Weight of each studio in the pool: 0 (does not count) to 1 (counts in full). One that is not named here
# counts in full. "benchleaf pool weigh" rewrites this file.
"""
NOTHING = "Nothing was changed."


def pool_dir(studio: Studio) -> Path:
    """Where the counts of other studios are kept."""
    return studio.root / "pool"


@contextmanager
def changing(studio: Studio) -> Iterator[Path]:
    """The folder, made if need be, while no other program changes it. OSError becomes a DeskError."""
    studio.make()
    folder = pool_dir(studio)
    try:
        make_folder(folder)
        with locked_folder(folder, WAIT_S):
            yield folder
            sync_folder(folder)
    except OSError as error:
        why = error.strerror or error
        raise DeskError(f"The pool's folder {folder} cannot be written ({why}). {NOTHING}") from error
    finally:
        studio.mark_stale()


def own_id(studio: Studio) -> str:
    """The random id of this studio's counts; empty if it never exported any. Raises DeskError."""
    path = pool_dir(studio) / OWN
    try:
        said = json.loads(path.read_bytes())
    except FileNotFoundError:
        return ""
    except (OSError, ValueError) as error:
        raise DeskError(f"{path} cannot be read ({error}). Bring it back from a backup.") from error
    found = said.get("studio") if isinstance(said, dict) else None
    if not isinstance(found, str) or STUDIO_ID.fullmatch(found) is None:
        raise DeskError(f"{path} does not name this studio's id. Bring it back from a backup.")
    return found


def own_id_made(studio: Studio) -> str:
    """The same, made if there is none yet. It is random and says nothing of the studio."""
    found = own_id(studio)
    if found:
        return found
    with changing(studio) as folder:
        found = own_id(studio)
        if not found:
            from secrets import token_hex

            found = token_hex(16)
            put_whole(folder / OWN, json.dumps({"studio": found}).encode() + b"\n")
    return found


def write_weights(folder: Path, change: Mapping[str, int | None], labels: Mapping[str, str]) -> None:
    """Set or take away (None) weights in thousandths. Raises DeskError if a line could be lost."""
    weights, problems = read_weights(folder)
    if problems:
        raise DeskError(f"{problems[0]} Mend this first. {NOTHING}")
    merged = {**weights, **change}
    lines = [
        f"{studio}: {weight / THOUSAND:g}" + (f"  # {labels[studio]}" if labels.get(studio) else "")
        for studio, weight in sorted(merged.items())
        if weight is not None and weight != THOUSAND
    ]
    path = folder / WEIGHTS
    if lines:
        put_whole(path, (HEADER + "\n".join(lines) + "\n").encode())
    else:
        path.unlink(missing_ok=True)
