"""benchleaf share: the studio folder joined with others through git."""

from __future__ import annotations

import argparse
import shlex
from typing import TYPE_CHECKING

from kb.cli.options import flag, verb, verbs_of
from kb.cli.out import FOUND, OK, say, say_each, say_either, step
from kb.science.numbers import counted

if TYPE_CHECKING:
    from kb.desk.sharing.share import Shared, SharingState
    from kb.desk.sharing.text import Difference
    from kb.desk.studio import Studio

ABOUT = """\
Shared: the book, the studio's catalogue, shelf.yaml, counts from other studios (pool), photographs and other
files inside the studio folder. Not shared: studio.yaml, which names this one bench; the folder working, which
is where this bench stands in its own work; exports; the index. Git must be installed.
"""


def options(parser: argparse.ArgumentParser) -> None:
    """One sub-command per thing to do; none shares now. Exit 1 if a person has to look at something."""
    parser.epilog = ABOUT
    flag(parser, "json")
    parser.add_argument(
        "--wait", type=float, default=120.0, metavar="SECONDS", help="how long the other end may take"
    )
    verbs = verbs_of(parser, "join", "now", "state", "settle", usual=_share)
    joining = verb(verbs, "join", _share, "join the studio with a git repository, then share")
    joining.add_argument(
        "remote", metavar="REMOTE", help="a folder, https://..., ssh://... or name@machine:folder"
    )
    flag(joining, "same-bench", "take over this bench's name from a machine no longer in use")
    verb(verbs, "now", _share, "commit, pull, check, push: the same as no word at all")
    verb(verbs, "state", _state, "what is not yet shared, when it last was, whose benches are here")
    settling = verb(verbs, "settle", _settle, "say which version of a file in dispute is right")
    settling.add_argument("file", metavar="FILE", help="as benchleaf share state names it")
    which = settling.add_mutually_exclusive_group(required=True)
    flag(which, "mine", "the file as it stands here now")
    flag(which, "theirs")
    for one in verbs.choices.values():
        one.add_argument("--wait", type=float, default=argparse.SUPPRESS, metavar="SECONDS")


def _share(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.sharing.share import join, share

    if args.verb == "join":
        done = join(studio, args.remote, same_bench=args.same_bench, wait_s=args.wait, progress=step)
    else:
        done = share(studio, wait_s=args.wait, progress=step)
    say_either(args.json, done, _tell)
    return FOUND if done.told or done.to_settle else OK


def _tell(done: Shared) -> None:
    sent, received = counted(done.sent, "record"), counted(done.received, "record")
    say(f"Shared with {done.remote}: {sent} sent, {received} received.")
    if done.files_received:
        say("also received: " + ", ".join(done.files_received), indent="")
    if done.photographs_received:
        say(f"photographs received: {done.photographs_received}")
    say_each(done.told, indent="", before="! ")
    _tell_disputes(done.to_settle, done.differences)


def _tell_disputes(paths: tuple[str, ...], differences: tuple[Difference, ...]) -> None:
    for path in paths:
        text = (
            f"! {path} says one thing here and another there. The version here was not sent; theirs lies in "
            f"to-settle/{path}. Put into the file here what is right, then: "
            f"benchleaf share settle {shlex.quote(path)} --mine"
        )
        say(text, indent="")
        for one in differences:
            if one.file == path:
                say(one.text, indent="    ")


def _state(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.sharing.share import state

    found = state(studio)
    say_either(args.json, found, _tell_state)
    return FOUND if found.told or found.to_settle else OK


def _tell_state(found: SharingState) -> None:
    say(f"joined with    {found.remote}")
    say(f"last shared    {found.last_shared or 'never'}")
    waiting = (counted(found.unshared_records, "record"), ", ".join(found.unshared_files))
    say(f"not yet shared {'; '.join(filter(None, waiting))}", indent="")
    for one in found.benches:
        words = [counted(one.records, "record"), f"the last {one.last_at}" if one.last_at else "", one.who]
        say(f"bench {one.bench}{' (here)' if one.here else ''}: {', '.join(filter(None, words))}")
    say_each(found.told, indent="", before="! ")
    _tell_disputes(found.to_settle, found.differences)


def _settle(studio: Studio, args: argparse.Namespace) -> int:
    from kb.desk.sharing.share import settle

    settle(studio, args.file, keep_theirs=args.theirs)
    return say_either(
        args.json,
        {"settled": args.file, "kept": "theirs" if args.theirs else "mine"},
        f"Settled: {args.file}. It is sent with the next share.",
    )
