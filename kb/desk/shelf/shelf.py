"""What the studio holds and forbids, how that is changed, and its lots of paper, starch and board."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from typing import NamedTuple

import msgspec

from kb.desk.errors import DeskError
from kb.desk.studio import Studio
from kb.index.compiled import CLiquid, Compiled
from kb.index.queries import catalogue_problems
from kb.model.guidance import carries
from kb.model.question import Plain
from kb.model.studio import RULE_WORDS, Forbidden, Rule, Shelf


class Verdict(Plain, frozen=True, kw_only=True):
    """Whether a liquid or blend may be used here and can be. ``why`` says what stands against it."""

    allowed: bool
    held: bool
    why: str


class OnShelf(Plain, frozen=True, kw_only=True):
    """One liquid of the catalogue as this studio sees it."""

    id: str
    name: str
    held: bool
    allowed: bool
    why: str


class Prohibition(Plain, frozen=True, kw_only=True):
    """One prohibition: what it names, why, whose rule it is, and the liquids that it takes out."""

    liquids: tuple[str, ...]
    families: tuple[str, ...]
    hazards: tuple[str, ...]
    why: str
    rule: str
    covers: tuple[str, ...]


class ShelfView(Plain, frozen=True, kw_only=True):
    """The shelf. ``listed`` is False where nothing is listed as held, so that everything counts as held."""

    listed: bool
    liquids: tuple[OnShelf, ...]
    forbids: tuple[Prohibition, ...]
    problems: tuple[str, ...]


class Changed(Plain, frozen=True, kw_only=True):
    """What a change of the shelf did, in a sentence; ``changed`` is False if it said so already."""

    changed: bool
    text: str


class _Barred(NamedTuple):
    """The shelf boiled down: ids held (None: all), and the reasons against each forbidden liquid."""

    holds: frozenset[str] | None
    forbidden: dict[str, tuple[str, ...]]


def allowed(source: Studio | Compiled, parts: Mapping[str, float]) -> Verdict:
    """Whether all parts are held, none is forbidden, and no two must never meet; a trace counts as a share.

    A part that the catalogue does not know can fall under a prohibition by its id alone.
    """
    compiled = source if isinstance(source, Compiled) else source.compiled
    barred = _bars(compiled)
    # Whoever stored such a test was told, and another may not know of it.
    against = [*forbidden(compiled, parts), *filter(None, (apart(compiled, parts),))]
    missing = [] if barred.holds is None else [part for part in parts if part not in barred.holds]
    why = [*against, *(f"{_name(compiled, part)} is not listed as held" for part in missing)]
    return Verdict(allowed=not against, held=not missing, why="; ".join(why))


def forbidden(compiled: Compiled, parts: Mapping[str, float]) -> list[str]:
    """What this studio's own prohibitions say against these parts."""
    return [reason for part in parts for reason in _bars(compiled).forbidden.get(part, ())]


def apart(compiled: Compiled, parts: Mapping[str, float]) -> str:
    """Which two of these parts must never meet, whatever the studio forbids, and why; empty if none."""
    found = compiled.must_not_meet(parts) if len(parts) > 1 else None
    if found is None:
        return ""
    # In the order of the blend.
    names = " and ".join(_name(compiled, part) for part in parts if part in found[0])
    return f"{names} must not meet: {found[1].rstrip('.')}"


def _bars(compiled: Compiled) -> _Barred:
    return compiled.kept("shelf", None, lambda: _barred(compiled))


def _barred(compiled: Compiled) -> _Barred:
    shelf = compiled.shelf
    forbidden: dict[str, list[str]] = {}
    for rule in shelf.forbids:
        reason = f"is forbidden here ({RULE_WORDS[rule.rule]}): {rule.why.rstrip('. ')}"
        for part in covered(compiled, rule):
            forbidden.setdefault(part, []).append(f"{_name(compiled, part)} {reason}")
    return _Barred(
        frozenset(shelf.holds) if shelf.holds else None,
        {part: tuple(reasons) for part, reasons in forbidden.items()},
    )


def covered(compiled: Compiled, rule: Forbidden) -> list[str]:
    """Ids of the liquids that a prohibition takes out, named ones first; a named one need not be known."""
    others = [liquid.id for liquid in compiled.liquids if _under(liquid, rule)]
    return list(dict.fromkeys((*rule.liquids, *others)))


def _under(liquid: CLiquid, rule: Forbidden) -> bool:
    return liquid.family in rule.families or any(carries(code, liquid.statements) for code in rule.hazards)


def _name(compiled: Compiled, part: str) -> str:
    return compiled.by_id[part].name if part in compiled.by_id else part


def shelf(studio: Studio) -> ShelfView:
    """Every liquid with the studio's verdict, all prohibitions, and what is wrong in shelf.yaml."""
    compiled = studio.compiled
    start = f"{studio.shelf_file.name}:"
    verdicts = [(liquid, allowed(compiled, {liquid.id: 1.0})) for liquid in compiled.liquids]
    return ShelfView(
        listed=bool(compiled.shelf.holds),
        liquids=tuple(
            OnShelf.taken_from(liquid, said)
            for liquid, said in sorted(verdicts, key=lambda pair: pair[0].name.casefold())
        ),
        forbids=tuple(
            Prohibition.taken_from(rule, covers=tuple(covered(compiled, rule)))
            for rule in compiled.shelf.forbids
        ),
        problems=tuple(text for text in catalogue_problems(studio.index.conn) if text.startswith(start)),
    )


def hold(studio: Studio, liquids: Sequence[str]) -> Changed:
    """List liquids (ids) as held. The first one listed ends the time when everything counted as held."""
    names = _names(studio, liquids)
    new = [one for one in liquids if one not in studio.compiled.shelf.holds]

    def change(old: Shelf) -> Shelf:
        return msgspec.structs.replace(old, holds=tuple(dict.fromkeys((*old.holds, *liquids))))

    first = not studio.compiled.shelf.holds
    changed = bool(new) and _rewrite(studio, change)
    if not changed:
        return Changed(changed=False, text=f"{names} is listed as held already.")
    warning = " From now on only what is listed counts as held." if first else ""
    return Changed(changed=True, text=f"Listed as held: {names}.{warning}")


def unhold(studio: Studio, liquids: Sequence[str]) -> Changed:
    """Take liquids (ids) off the list of what is held. Raises DeskError where there is no list."""
    names = _names(studio, liquids)
    if not studio.compiled.shelf.holds:
        raise DeskError("No liquid is listed as held, so all count as held. List what you hold first.")

    def change(old: Shelf) -> Shelf:
        return msgspec.structs.replace(old, holds=tuple(one for one in old.holds if one not in liquids))

    if not _rewrite(studio, change):
        return Changed(changed=False, text=f"{names} was not listed as held.")
    empty = (
        "" if studio.compiled.shelf.holds else " The list is empty now, so all liquids count as held again."
    )
    return Changed(changed=True, text=f"No longer listed as held: {names}.{empty}")


def forbid(
    studio: Studio,
    *,
    liquids: Sequence[str] = (),
    families: Sequence[str] = (),
    hazards: Sequence[str] = (),
    why: str,
    rule: Rule = "local",
) -> Changed:
    """Add a prohibition. Ids must be those of the catalogue; raises DeskError if nothing is named."""
    from kb.book.text import clean_text

    if not (liquids or families or hazards):
        raise DeskError("Say what is forbidden: a liquid, a family or a hazard statement.")
    if rule not in RULE_WORDS:
        raise DeskError(f'"{rule}" is no kind of rule; use one of {", ".join(RULE_WORDS)}.')
    try:
        why = clean_text(why, limit=1_000, multiline=False).strip()
    except ValueError as error:
        raise DeskError(str(error)) from error
    if not why:
        raise DeskError("Say why: a prohibition without a reason is not kept.")
    added = Forbidden(
        liquids=tuple(liquids), families=tuple(families), hazards=tuple(hazards), why=why, rule=rule
    )

    def change(old: Shelf) -> Shelf:
        kept = old.forbids if added in old.forbids else (*old.forbids, added)
        return msgspec.structs.replace(old, forbids=kept)

    if not _rewrite(studio, change):
        return Changed(changed=False, text="The shelf says so already.")
    taken = [_name(studio.compiled, one) for one in covered(studio.compiled, added)]
    named = ", ".join(taken) or "no liquid of the catalogue"
    return Changed(changed=True, text=f"Forbidden here ({RULE_WORDS[rule]}: {why.rstrip('. ')}): {named}.")


def allow(
    studio: Studio, *, liquids: Sequence[str] = (), families: Sequence[str] = (), hazards: Sequence[str] = ()
) -> Changed:
    """Take liquids, families or statement codes out of all prohibitions that name them.

    The text says what still forbids a liquid by its family or label.
    """
    if not (liquids or families or hazards):
        raise DeskError("Say what is allowed again: a liquid, a family or a hazard statement.")

    def change(old: Shelf) -> Shelf:
        left = (
            msgspec.structs.replace(
                rule,
                liquids=tuple(one for one in rule.liquids if one not in liquids),
                families=tuple(one for one in rule.families if one not in families),
                hazards=tuple(one for one in rule.hazards if one not in hazards),
            )
            for rule in old.forbids
        )
        return msgspec.structs.replace(
            old, forbids=tuple(rule for rule in left if rule.liquids or rule.families or rule.hazards)
        )

    changed = _rewrite(studio, change)
    named = _names(studio, (*liquids, *families, *hazards))
    text = f"No longer forbidden by name: {named}." if changed else f"No prohibition names {named}."
    barred = _barred(studio.compiled).forbidden
    still = [reason for one in liquids for reason in barred.get(one, ())]
    if still:
        text += (
            f" Still in force: {'; '.join(still)}. It stands under a family or a hazard: allow that instead."
        )
    return Changed(changed=changed, text=text)


def _names(studio: Studio, ids: Sequence[str]) -> str:
    return ", ".join(_name(studio.compiled, one) for one in ids)


def _rewrite(studio: Studio, change: Callable[[Shelf], Shelf]) -> bool:
    from kb.desk.shelf.shelf_text import rewrite

    return rewrite(studio, change)


class StockView(Plain, frozen=True, kw_only=True):
    """One lot as it stands. ``past``: its day, as far as it is written down, is over."""

    id: str
    sort: str
    text: str
    finished: str
    past: bool


def in_stock(studio: Studio, today: date, *, finished: bool = False) -> list[StockView]:
    """Lots that are not used up, by sort and name; with ``finished`` the others too."""
    # Every choice reads the shelf, and hardly one its paper.
    from kb.book.kinds.bottle import STOCK
    from kb.desk.records.work_records import words_of
    from kb.index.kept_rows import kept

    found = [
        StockView(
            id=row.id,
            sort=row.body.sort,
            text=words_of(studio, STOCK, row.body),
            finished=row.body.finished,
            # A day without its day of the month counts to the end of that month, as on a label.
            past=bool(row.body.expires) and row.body.expires < today.isoformat()[: len(row.body.expires)],
        )
        for row in kept(studio.index.conn, "stock")
        if finished or not row.body.finished
    ]
    return sorted(found, key=lambda one: (one.sort, one.text.casefold(), one.id))
