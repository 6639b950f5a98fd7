"""Look at what is about to be shared: faults of catalogue and book, and records that would be lost."""

from __future__ import annotations

import re
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

from kb.book import contested
from kb.book.contested import content
from kb.book.disk import LINE_ID
from kb.book.files import files
from kb.book.line import decode_line
from kb.book.read import raw_lines, read_file
from kb.desk.errors import DeskError
from kb.desk.sharing.book import errors, records
from kb.desk.sharing.git import KEPT, Git
from kb.desk.sharing.put import Plan
from kb.desk.sharing.tree import BOOK, CATALOGUE, SHELF, Tree, begins_with, content_of, is_book
from kb.model.record import Line
from kb.science.numbers import counted

MOST_TOLD = 5


class Faults(NamedTuple):
    """What is wrong with a catalogue and with a shelf: each fault as told, by the fault without its line."""

    catalogue: dict[str, str]
    shelf: dict[str, str]

    def beyond(self, *others: Faults) -> Faults:
        """The faults that none of the others has."""
        known = [{key for other in others for key in other[place]} for place in range(len(self))]
        pairs = zip(self, known, strict=True)
        return Faults(*({k: v for k, v in mine.items() if k not in theirs} for mine, theirs in pairs))


def part_of(tree: Tree, start: str) -> dict[str, str]:
    """The files of a tree below a folder, or one file, by content."""
    return {path: one.blob for path, one in tree.items() if path.startswith(start)}


def faults_of(git: Git, tree: Tree) -> Faults:
    """The faults of the catalogue and shelf in a tree."""
    from kb.catalogue.load import load
    from kb.catalogue.own_files import read_shelf_file

    with TemporaryDirectory() as folder:
        root = Path(folder)
        for path, one in tree.items():
            if path.startswith(CATALOGUE) or path == SHELF:
                target = root / path
                target.parent.mkdir(parents=True, exist_ok=True)
                target.write_bytes(content_of(git, one))
        catalogue, problems = load([shipped(), root / CATALOGUE])
        _, of_shelf = read_shelf_file(root / SHELF, catalogue.entries)
    own = (str(one) for one in problems)
    return Faults(_by_kind(own), _by_kind(of_shelf))


def shipped() -> Path:
    """The catalogue that a studio's own adds to."""
    from kb.catalogue.paths import shipped_data

    return shipped_data()


def _by_kind(texts: Iterable[str]) -> dict[str, str]:
    return {re.sub(r":\d+", "", text): text for text in texts}


def hold_back(git: Git, plan: Plan, tree: Tree, before: Tree) -> None:
    """Leave the catalogue, or the shelf, as it was shared last if a change of it here has a fault."""
    if all(part_of(tree, one) == part_of(before, one) for one in (CATALOGUE, SHELF)):
        return
    new = faults_of(git, tree)
    if any(new):
        new = new.beyond(faults_of(git, before))
    for start, word, faults in ((CATALOGUE, "catalogue", new.catalogue), (SHELF, "shelf", new.shelf)):
        if faults:
            as_in(tree, before, start)
            plan.tell(f"The {word} is not shared until this is mended; all else is. {_listed(faults)}")


def check_catalogue(git: Git, plan: Plan, tree: Tree, ours: Tree, theirs: Tree) -> None:
    """Tell faults that others shared; keep back changes from here that do not go with theirs."""
    if all(part_of(tree, one) == part_of(ours, one) for one in (CATALOGUE, SHELF)):
        return
    found = faults_of(git, tree)
    if not any(found):
        return
    before, shared = faults_of(git, ours), faults_of(git, theirs)
    for place, start, word in ((0, CATALOGUE, "catalogue"), (1, SHELF, "shelf")):
        now, here, there = (part_of(one, start) for one in (tree, ours, theirs))
        if now == here:
            continue
        if pulled := shared.beyond(before)[place]:
            plan.tell(f"The {word} that others shared has a fault. {_listed(pulled)}")
        if now != there and (new := found.beyond(before, shared)[place]):
            as_in(tree, theirs, start)
            plan.tell(
                f"The {word} here and the one that others shared do not go together; "
                f"it is not shared until this is mended, all else is. {_listed(new)}"
            )


def as_in(tree: Tree, other: Tree, start: str) -> None:
    """Make a part of one tree what it is in another."""
    for path in [one for one in tree if one.startswith(start)]:
        del tree[path]
    tree.update({path: one for path, one in other.items() if path.startswith(start)})


def _listed(faults: dict[str, str]) -> str:
    told = list(faults.values())
    more = f" And {len(told) - MOST_TOLD} more." if len(told) > MOST_TOLD else ""
    return " ".join(told[:MOST_TOLD]) + more


def check_book(git: Git, plan: Plan, staged: dict[str, Path], folder: Path) -> None:
    """Verify the book as it will be, and tell what is wrong in the files that arrived."""
    arrived = {Path(path).name: staged[path] for path in staged if is_book(path)}
    if not arrived:
        return
    _note_contested(git, plan, arrived)
    folder.mkdir()
    present = {path.name: path for path in (git.root / BOOK).glob("*.jsonl")} | arrived
    for name, path in present.items():
        (folder / name).symlink_to(path.absolute())
    for one in errors(folder):
        if one.file in arrived:
            plan.tell(
                f"{BOOK}{one.file}, line {one.line_number}: {one.sentence} It came so from another bench."
            )


def _note_contested(git: Git, plan: Plan, arrived: dict[str, Path]) -> None:
    """Note records that arrived under the id of one that is known here and says something else.

    Whoever shares may write any id, and any date before ours; what was known here first stays what counts.
    """
    # By id. All of an id and not its last: the honest record may have been sent along behind a forged one.
    new: dict[str, tuple[str, Line]] = {}
    repeated: dict[str, list[tuple[str, Line]]] = {}
    for name, path in arrived.items():
        for read in read_file(path, _known_bytes(plan, name)):
            if read.line is not None:
                one = (name, read.line)
                if new.setdefault(read.line.id, one) is not one:
                    repeated.setdefault(read.line.id, []).append(one)
    found = []
    for path in files(git.root / BOOK) if new else ():
        for raw in raw_lines(path):
            known = LINE_ID.match(raw.data)
            if known is None or (first := new.get(known[1].decode())) is None:
                continue
            with suppress(ValueError):
                said = content(decode_line(raw.data))
                found += [one for one in (first, *repeated.get(first[1].id, ())) if content(one[1]) != said]
    if found:
        contested.note(git.root / BOOK, (line for _, line in found))
    for name in sorted({name for name, _ in found}):
        ids = sorted(line.id for other, line in found if other == name)
        plan.tell(
            f"{BOOK}{name} came with {counted(len(ids), 'record')}, among them {ids[0]}, "
            "under the id of a record that was here before, and saying something else. The one from here "
            f"counts; the other is noted in {contested.FILE}."
        )


def _known_bytes(plan: Plan, name: str) -> int:
    """Bytes of a book file that were here before; what arrived goes on from them."""
    before = plan.puts[BOOK + name][1]
    return before.size if before is not None and plan.puts[BOOK + name][0].size >= before.size else 0


def check_nothing_lost(git: Git, tree: Tree, *sides: Tree) -> None:
    """Refuse to go on if a record of any side were not in the tree. It does not trust what made the tree.

    Looked for are ids and not lines: a record that moved to another file is linked to another line before
    it. Raises DeskError.
    """
    lost: set[str] = set()
    all_records = None
    for side in sides:
        for path, one in side.items():
            now = tree.get(path)
            if not is_book(path) or (now and (now.blob == one.blob or begins_with(git, now, one))):
                continue
            if all_records is None:
                all_records = records(content_of(git, file) for name, file in tree.items() if is_book(name))
            lost |= {id for id in records([content_of(git, one)]) if id not in all_records}
    if lost:
        raise DeskError(
            f"Sharing would have lost {counted(len(lost), 'record')}, among them {min(lost)}; nothing was "
            f"sent. {KEPT} Make a backup and run: benchleaf verify"
        )
