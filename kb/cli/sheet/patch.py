"""benchleaf patch: which piece of tape to lift next, on which face, and how each went."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from kb.book.kinds.patch import PATCH
from kb.cli.options import studio_of
from kb.cli.out import OK, say, say_each, say_either, say_json, warn
from kb.cli.records import in_words, photographs
from kb.science.numbers import counted

if TYPE_CHECKING:
    from kb.desk.sheet.plan_file import PatchPlan
    from kb.desk.sheet.tape import TapeView

WITH = ("liquid", "method", "batch", "remarks")
WENT = (
    *WITH,
    *(
        "rounds",
        "dwell_s",
        "swabs",
        "volume",
        "colour",
        "release",
        "harm",
        "share_percent",
        "ink",
        "progress",
    ),
    "why",
)


def options(parser: argparse.ArgumentParser) -> None:
    verbs = parser.add_subparsers(dest="verb", required=True, metavar="plan|next|start|done|skip|decide")
    planned = verbs.add_parser("plan", help="the order for the strips in a file; needs no studio")
    planned.add_argument("--file", type=Path, required=True, metavar="FILE", help="YAML or JSON")
    coming = verbs.add_parser("next", help="what to lift now on a sheet, and how far one is")
    starting = verbs.add_parser("start", help="begin the next patch, or the one named")
    ending = verbs.add_parser(
        "done", help="how the patch under way went; of release 0 none is free, if not said"
    )
    leaving = verbs.add_parser("skip", help="leave a patch out, and say why")
    deciding = verbs.add_parser("decide", help="how to go on after colour on a swab or a possible change")
    for verb in (coming, starting, ending, leaving, deciding):
        verb.add_argument("sheet", help="any part of its name")
    for verb, fields in ((starting, WITH), (ending, WENT)):
        in_words(verb, PATCH, fields)
        photographs(verb)
    same = "why it is begun, where a prohibition or a STOP speaks against it"
    starting.add_argument("--all-the-same", default="", metavar="TEXT", help=same)
    for verb in (starting, ending, leaving):
        verb.add_argument("--patch", default="", metavar="F3", help="another than the plan says")
    leaving.add_argument("--why", default="", required=True, metavar="TEXT")
    deciding.add_argument("--decision", required=True, metavar="TEXT")


def run(args: argparse.Namespace) -> int:
    return {"plan": _plan, "next": _next, "decide": _decide}.get(args.verb, _work)(args)


def _plan(args: argparse.Namespace) -> int:
    from kb.desk.sheet.plan_file import plan_file

    planned = plan_file(args.file)
    return say_either(args.json, planned, _tell)


def _next(args: argparse.Namespace) -> int:
    from kb.desk.sheet.tape import tape_view

    view = tape_view(studio_of(args), args.sheet)
    return say_either(args.json, view, _tell_next)


def _work(args: argparse.Namespace) -> int:
    from kb.desk.records.work_records import must_not_meet
    from kb.desk.sheet import tape

    studio = studio_of(args)
    verb = {"start": tape.start, "done": tape.done, "skip": tape.skip}[args.verb]
    against = must_not_meet(studio, getattr(args, "liquid", "") or "")
    names = (*WENT, "patch", "photo", "all_the_same")
    words = {name: getattr(args, name) for name in names if hasattr(args, name)}
    written = verb(studio, args.sheet, words)
    return _stored(args, written, tape.tape_view(studio, args.sheet), against)


def _decide(args: argparse.Namespace) -> int:
    from kb.desk.sheet.tape import decide, tape_view

    studio = studio_of(args)
    return _stored(args, decide(studio, args.sheet, args.decision), tape_view(studio, args.sheet))


def _stored(args: argparse.Namespace, written: object, view: TapeView, against: tuple[str, ...] = ()) -> int:
    if args.json:
        told = {"warnings": against} if against else {}
        return say_json({"written": written, "next": view.next, "decide": view.decide, **told})
    say(f"Stored and on disk: {getattr(written, 'id', '')}")
    for line in against:
        warn(line)
    _tell_next(view)
    return OK


def _tell_next(view: TapeView) -> None:
    from kb.desk.sheet.view import hours, lifted_area

    if view.decide:
        say(f"! {view.decide}", indent="")
    elif not view.next:
        say("All patches are lifted or left out.")
    else:
        patch = next(patch for patch in view.patches if patch.id == view.next)
        left, top = min(x for x, _ in patch.polygon), min(y for _, y in patch.polygon)
        weak = ", in a weak place" if patch.weak else ""
        place = f"{left:.0f} mm from the left, {top:.0f} mm from the top{weak}"
        say(f"Next: patch {patch.id}, {patch.face}, {place}")
    say(
        f"{view.done} of {counted(len(view.patches), 'patch', 'patches')} lifted, {lifted_area(view)}; "
        f"about {hours(view.minutes_left)}, "
        f"{view.ml_left:.0f} ml and {counted(round(view.swabs_left), 'swab')} to go"
    )
    say_each(view.warnings, before="! ")


def _tell(planned: PatchPlan) -> None:
    metrics = planned.metrics
    turns, way = metrics["turns"], metrics["travel_mm"]
    patches = counted(len(planned.order), "patch", "patches")
    say(f"{patches}, {counted(turns or 0, 'turn')} of the sheet, way {way:.0f} mm")
    for number, patch in enumerate(planned.order, 1):
        left, top = min(x for x, _ in patch.polygon), min(y for _, y in patch.polygon)
        weak = "  weak" if patch.weak else ""
        say(
            f"{number:>4}  {patch.id:<5} {patch.face:<5} {left:>6.0f} mm from left {top:>6.0f} mm from top"
            f" {patch.area_mm2:>6.0f} mm²{weak}"
        )
    say(
        f"One face is ahead of the other by at most {metrics['max_imbalance_mm2']:.0f} mm² "
        f"({metrics['max_imbalance_patches']:.1f} patches; bound {metrics['bound_mm2']:.0f} mm²)."
    )
    say_each(planned.warnings, before="! ")
