"""Where one stands in a recipe: ticks of steps, kept in the studio's folder ``working``.

They are no records: the book says what was made, these say how far the work has got. A program that stops
or a machine that restarts finds them as they were.
"""

from __future__ import annotations

import os
from datetime import UTC, datetime
from pathlib import Path

import msgspec

from kb.desk.errors import DeskError
from kb.desk.studio import Studio
from kb.index.queries import entry
from kb.model.question import Plain
from kb.model.recipe import Recipe, RecipeStep


class _Kept(msgspec.Struct, kw_only=True):
    """The file."""

    recipe: str
    version: str
    by: str = ""
    ticked: dict[int, str] = {}


class StepsState(Plain, frozen=True, kw_only=True):
    """How far a recipe has got. Steps are counted from 1; ``ticked`` says when each was ticked (UTC).

    ``changed`` is True where the recipe's text is no longer that of the first tick. ``next`` is the first
    step without a tick, 0 when all are done. ``problem`` says what was wrong with the file, which then
    counts as empty.
    """

    recipe: str
    name: str
    version: str
    by: str
    steps: tuple[RecipeStep, ...]
    ticked: dict[int, str]
    next: int
    changed: bool
    problem: str


def steps_state(studio: Studio, recipe_id: str) -> StepsState:
    """How far a recipe has got. Reading writes nothing."""
    return _state(studio, recipe_id)[0]


def tick(
    studio: Studio, recipe_id: str, step: int, *, by: str | None = None, now: datetime | None = None
) -> StepsState:
    """Tick a step off; returns only after it is on disk. ``by`` notes the amount that is being made."""
    state, kept = _state(studio, recipe_id)
    _there(state, step)
    kept.ticked.setdefault(step, (now or datetime.now(UTC)).astimezone(UTC).isoformat(timespec="seconds"))
    if by is not None:
        kept.by = by
    return _keep(studio, recipe_id, kept)


def untick(studio: Studio, recipe_id: str, step: int) -> StepsState:
    """Take a tick back."""
    state, kept = _state(studio, recipe_id)
    _there(state, step)
    kept.ticked.pop(step, None)
    return _keep(studio, recipe_id, kept)


def start_over(studio: Studio, recipe_id: str, *, by: str = "") -> StepsState:
    """Take all ticks back, for instance once a batch was written down."""
    state, kept = _state(studio, recipe_id)
    kept.ticked.clear()
    kept.by = by
    kept.version = _version(studio, state.recipe)[1]
    return _keep(studio, recipe_id, kept)


def _there(state: StepsState, step: int) -> None:
    if not 1 <= step <= len(state.steps):
        raise DeskError(
            f"{state.name} has {len(state.steps)} steps, counted from 1; there is no step {step}."
        )


def _version(studio: Studio, recipe_id: str) -> tuple[Recipe, str]:
    import hashlib

    row = entry(studio.index.conn, "recipe", recipe_id)
    if row is None:
        raise DeskError(f'There is no recipe "{recipe_id}"; see: benchleaf recipe --list.')
    body = bytes(row.body)
    return msgspec.json.decode(body, type=Recipe), hashlib.sha256(body).hexdigest()[:12]


def _path(studio: Studio, recipe_id: str) -> Path:
    return studio.root / "working" / f"recipe-{recipe_id}.json"


def _state(studio: Studio, recipe_id: str) -> tuple[StepsState, _Kept]:
    recipe, version = _version(studio, recipe_id)
    kept, problem = _read(_path(studio, recipe.id))
    if kept is None or kept.recipe != recipe.id:
        kept = _Kept(recipe=recipe.id, version=version)
    changed = kept.version != version and bool(kept.ticked)
    if not kept.ticked:
        kept.version = version
    ticked = {step: at for step, at in sorted(kept.ticked.items()) if 1 <= step <= len(recipe.steps)}
    open_steps = (step for step in range(1, len(recipe.steps) + 1) if step not in ticked)
    state = StepsState(
        recipe=recipe.id,
        name=recipe.name,
        version=kept.version,
        by=kept.by,
        steps=recipe.steps,
        ticked=ticked,
        next=next(open_steps, 0),
        changed=changed,
        problem=problem,
    )
    return state, kept


def _read(path: Path) -> tuple[_Kept | None, str]:
    try:
        return msgspec.json.decode(path.read_bytes(), type=_Kept), ""
    except FileNotFoundError:
        return None, ""
    except (OSError, msgspec.MsgspecError, ValueError) as error:
        return None, f"The ticks in {path.name} cannot be read ({error}); they count as none."


def _keep(studio: Studio, recipe_id: str, kept: _Kept) -> StepsState:
    """Write the file beside its old self and put it in its place, so that no half of it is ever read."""
    studio.make()
    path = _path(studio, recipe_id)
    part = path.with_name(f"{path.name}.{os.getpid()}.part")
    try:
        path.parent.mkdir(exist_ok=True)
        with part.open("wb") as stream:
            stream.write(msgspec.json.encode(kept))
            stream.flush()
            os.fsync(stream.fileno())
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise DeskError(
            f"The tick could not be kept in {path.parent} ({error.strerror}); make room or check the folder."
        ) from error
    return steps_state(studio, recipe_id)
