"""Writes the demo studio, data/demo/studio/, from data/demo/story.yaml with drawn pictures.

``make_demo.py`` writes it; ``make_demo.py --check`` only says whether it is up to date (exit code 1 if
not). The bench book goes through the same door as everyone's, kb.book.append, with times and ids that
follow from the story, so that every run gives the same bytes.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Literal

import msgspec

ROOT = Path(__file__).resolve().parent.parent
if __name__ == "__main__":
    # A script's own folder is on the path, not the one above it.
    sys.path.insert(0, str(ROOT))

from kb.book.append import append  # noqa: E402
from kb.book.check import Kept, make_kept  # noqa: E402
from kb.book.kinds.parts import Face, Photo, Site  # noqa: E402
from kb.book.kinds.spot_test import Round, SpotTest  # noqa: E402
from kb.book.ulid import ulid_text  # noqa: E402
from kb.desk.records.photographs import FOLDER as PHOTOGRAPHS  # noqa: E402
from kb.index.pool_file import HarmCount, ReleaseCount, counts_file, text_of  # noqa: E402  # noqa: E402
from kb.model.record import Amend, Withdraw  # noqa: E402
from kb.model.studio import Settings, Shelf  # noqa: E402
from scripts.demo_pictures import picture  # noqa: E402

STORY = ROOT / "data" / "demo" / "story.yaml"
STUDIO = ROOT / "data" / "demo" / "studio"
HEADER = """\
# An invented studio to look round in. Its sheets, people and tests are made up.
# Written by scripts/make_demo.py from data/demo/story.yaml. What you record goes to book/visitor.jsonl.
"""
NAMING = {"batch": "batch", "toning": "toning", "before": "photograph", "after": "photograph"}
"""Fields that name another record, with the kind of record that they name."""


class Part(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Base of the pieces of the story; a word that it does not know is an error."""


class Sheet(Part, frozen=True, kw_only=True):
    """A sheet and what its tests take from it. ``about`` is for readers of the story only."""

    name: str
    about: str
    tape: str
    adhesive: str
    stage: str
    carrier: str
    paper: str


class Told(Part, frozen=True, kw_only=True):
    """What every entry of the story has: its name in the story, when (UTC), and bench/who."""

    key: str
    at: str
    by: str

    @property
    def moment(self) -> datetime:
        """When it is written down."""
        return datetime.fromisoformat(self.at).replace(tzinfo=UTC)


class Test(Told, frozen=True, kw_only=True):
    """A spot test; see the head of the story for the words."""

    sheet: str
    what: Literal["tape", "residue", "mark", "sheet"]
    medium: str = ""
    stage: str = ""
    liquid: str | dict[str, float]
    how: str
    where: str
    face: Face = ""
    mm: tuple[float, float] | None = None
    batch: str = ""
    tested: str = ""
    rounds: tuple[tuple[float, str, str, str], ...]
    release: int | None = None
    harm: dict[str, int] = {}
    control: bool = False
    seen: str = ""
    photos: tuple[tuple[str, Literal["before", "after", "during"], str], ...] = ()
    remarks: str = ""


Made = Literal["batch", "toning", "mend", "housing"]
There = Literal["sheet", "strip", "patch", "bottle", "stock", "photograph", "photo-pair"]


class Work(Told, frozen=True, kw_only=True):
    """Any record that is no test; ``says`` are its fields.

    ``batch``, ``toning``, ``before`` and ``after`` are keys of earlier entries, whose records are named by
    their ids; ``picture`` is one that scripts/demo_pictures.py draws, ``when`` what it stands for.
    """

    kind: Made | There
    sheet: str = ""
    batch: str = ""
    toning: str = ""
    before: str = ""
    after: str = ""
    picture: str = ""
    when: Literal["before", "after", "during"] = "before"
    says: dict[str, Any]


class Other(Part, frozen=True, kw_only=True):
    """Counts that another invented studio gave, as its file would hold them, and when they came in."""

    label: str
    added: str
    release: tuple[ReleaseCount, ...]
    harm: tuple[HarmCount, ...]

    @property
    def studio(self) -> str:
        """Its id; a real one is random, and this one follows from the label."""
        return sha256(f"demo studio: {self.label}".encode()).hexdigest()[:32]


class Change(Told, frozen=True, kw_only=True):
    """An amendment of a record, or a withdrawal of a record or an amendment."""

    amend: str = ""
    withdraw: str = ""
    set: dict[str, Any] = {}
    why: str


Entry = Test | Work | Change


class Story(Part, frozen=True, kw_only=True):
    """The whole story."""

    studio: dict[str, Any]
    """What goes into studio.yaml, in the words of kb.model.studio."""
    shelf: dict[str, Any]
    """What goes into shelf.yaml, in the words of kb.model.studio."""
    pool: tuple[Other, ...]
    sheets: dict[str, Sheet]
    tests: tuple[Test, ...]
    work: tuple[Work, ...]
    changes: tuple[Change, ...]

    @property
    def entries(self) -> list[Entry]:
        """Tests, work and changes in the order of time."""
        told: list[Entry] = [*self.tests, *self.work, *self.changes]
        return sorted(told, key=lambda entry: (entry.moment, entry.key))


def read_story(path: Path = STORY) -> Story:
    """The story, checked for its form. Raises ValueError or msgspec.ValidationError."""
    import yaml

    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    # The loader is a safe one in either case.
    story = msgspec.convert(yaml.load(path.read_text("utf-8"), Loader=loader), Story)
    msgspec.convert(story.studio, Settings)
    msgspec.convert(story.shelf, Shelf)
    keys = [entry.key for entry in story.entries]
    if len(set(keys)) != len(keys):
        raise ValueError(f"told twice: {sorted({key for key in keys if keys.count(key) > 1})}")
    return story


def record_id(entry: Told) -> str:
    """An id in the book's form: its time, and a hash of its key where others carry random bits."""
    number = int(entry.moment.timestamp() * 1000) << 80
    number |= int.from_bytes(sha256(f"demo studio: {entry.key}".encode()).digest()[:10], "big")
    return ulid_text(number)


def spot_test(test: Test, sheet: Sheet) -> SpotTest:
    """The test as the book keeps it. Raises ValueError if the story contradicts itself."""
    sticky = test.what in {"tape", "residue"}
    if (test.release is not None) != sticky:
        raise ValueError(f"{test.key}: a release grade belongs to tape and residue, and only there")
    if (test.what == "sheet") != (not test.medium):
        raise ValueError(f"{test.key}: a medium is named on everything but a bare sheet")
    magnification, _, light = test.seen.partition(", ")
    x_mm, y_mm = test.mm or (None, None)
    return SpotTest(
        adhesive=sheet.adhesive if sticky else "",
        stage=(test.stage or sheet.stage) if sticky else "",
        carrier=sheet.carrier if sticky else "",
        tape=sheet.tape if sticky else "",
        carrier_present=test.what == "tape" if sticky else None,
        medium=test.medium or "bare-paper",
        paper=sheet.paper,
        parts={test.liquid: 1.0} if isinstance(test.liquid, str) else test.liquid,
        method=test.how,
        sheet=sheet.name,
        site=Site(words=test.where, face=test.face, x_mm=x_mm, y_mm=y_mm),
        rounds=tuple(Round(dwell_s=s, amount=much, wet=wet, dry=dry) for s, much, wet, dry in test.rounds),
        release=test.release,
        harm=test.harm,
        control=test.control,
        magnification=magnification,
        light=light,
        photos=tuple(Photo(path=path, sha256=digest, when=when) for path, when, digest in test.photos),
        batch=test.batch,
        tested_at=test.tested,
        remarks=test.remarks,
    )


def work_record(work: Work, story: Story) -> Kept:
    """The record as the book keeps it. Raises ValueError if it cannot be or names what is not there yet."""
    fields = dict(work.says)
    if work.sheet:
        fields["sheet"] = story.sheets[work.sheet].name
    for field, kind in NAMING.items():
        key = getattr(work, field)
        named = [one for one in story.work if one.key == key and one.kind == kind]
        if key and not (named and named[0].moment < work.moment):
            raise ValueError(f"{work.key}: there is no earlier {kind} {key}")
        if named:
            fields[field] = record_id(named[0])
    if work.picture:
        digest = sha256(picture(work.picture)).hexdigest()
        fields["photos"] = [{"path": f"{work.picture}.tif", "sha256": digest, "when": work.when}]
    return make_kept(work.kind, fields)


def body(entry: Entry, story: Story) -> tuple[str, SpotTest | Kept | Amend | Withdraw]:
    """Kind and body of one record. Raises ValueError for a change of what is not there yet."""
    if isinstance(entry, Test):
        return "test", spot_test(entry, story.sheets[entry.sheet])
    if isinstance(entry, Work):
        return entry.kind, work_record(entry, story)
    if bool(entry.amend) == bool(entry.withdraw):
        raise ValueError(f"{entry.key}: it either amends or withdraws")
    changeable: list[Entry] = [*story.tests, *story.work]
    if entry.withdraw:
        changeable += story.changes
    for target in changeable:
        if target.key in {entry.amend, entry.withdraw} and target.moment < entry.moment:
            of = record_id(target)
            if entry.amend:
                return "amend", Amend(of=of, set=entry.set, why=entry.why)
            return "withdraw", Withdraw(of=of, why=entry.why)
    raise ValueError(f"{entry.key}: no earlier record {entry.amend or entry.withdraw} to change")


def build(story: Story, folder: Path) -> None:
    """Write settings, shelf, pool, pictures and the bench book into an empty folder."""
    import yaml

    for name, said in (("studio", story.studio), ("shelf", story.shelf)):
        text = yaml.safe_dump(said, sort_keys=False, allow_unicode=True)
        (folder / f"{name}.yaml").write_text(HEADER + text, encoding="utf-8", newline="\n")
    files = {f"pool/{one.studio}.json": _counts(one) for one in story.pool}
    drawn = {one.picture for one in story.work if one.picture}
    for raw in map(picture, sorted(drawn)):
        files[f"{PHOTOGRAPHS}/{sha256(raw).hexdigest()}.tif"] = raw
    publish(files, folder)
    for entry in story.entries:
        bench, _, who = entry.by.partition("/")
        kind, made = body(entry, story)
        append(
            folder / "book",
            bench=bench,
            who=who,
            kind=kind,
            body=made,
            at=entry.moment,
            record_id=record_id(entry),
        )


def _counts(one: Other) -> bytes:
    """The file of another studio, as taking it in writes it."""
    return text_of(counts_file(one.studio, one.label, one.release, one.harm, one.added))


def contents(folder: Path) -> dict[str, bytes]:
    """Every file below a folder, by its path inside it."""
    found = sorted(path for path in folder.rglob("*") if path.is_file())
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in found}


def publish(made: dict[str, bytes], target: Path) -> None:
    """Bring the files into place, each by renaming a finished one."""
    for name, data in made.items():
        path = target / name
        path.parent.mkdir(parents=True, exist_ok=True)
        part = path.with_name(path.name + ".part")
        part.write_bytes(data)
        os.replace(part, path)


def main(arguments: Sequence[str]) -> int:
    """Write the demo studio, or with ``--check`` compare it. 0: all is well, 1: it is out of date."""
    with TemporaryDirectory() as folder:
        build(read_story(), Path(folder))
        made = contents(Path(folder))
    if "--check" not in arguments:
        publish(made, STUDIO)
    there = contents(STUDIO)
    odd = sorted(name for name in made.keys() | there.keys() if made.get(name) != there.get(name))
    for name in odd:
        state = "is not what the story gives" if name in made else "is not from the story; take it out"
        print(f"data/demo/studio/{name} {state}")
    return 1 if odd else 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
