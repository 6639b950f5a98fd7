"""Run git, and say in a sentence what went wrong. Nothing here knows a book or a catalogue.

Which forms of address are taken for the other end, and which branch is used there, stands at the end.

Git runs without pager, editor, prompts and hooks, and only over the ways of transport that this project
allows. Its local commands inherit the lock of sharing, so that a killed run leaves no git at work unseen.
"""

from __future__ import annotations

import contextlib
import os
import re
import signal
import subprocess
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from tempfile import TemporaryFile
from threading import Timer
from typing import IO, BinaryIO, Literal, NamedTuple
from urllib.parse import urlsplit

from kb.book.storage import from_home
from kb.desk.errors import DeskError
from kb.index.open import silent

NETWORK_WAIT_S = 120.0
LOCAL_WAIT_S = 600.0
GRACE_S = 3.0
OWN = "benchleaf"
"""Folder inside .git for what sharing keeps for itself."""
Kind = Literal["missing", "race", "room", "refused", "network", "gone", "other"]
KEPT = "Your records are on disk here; nothing was lost."

# They say how to reach a network, which only the user can know.
_PASSED_ON = {"GIT_SSH", "GIT_SSH_COMMAND", "GIT_SSH_VARIANT", "GIT_SSL_CAINFO", "GIT_SSL_CAPATH"}
_SET = {
    "LC_ALL": "C",
    "LANGUAGE": "C",
    "GIT_TERMINAL_PROMPT": "0",
    "GIT_ASKPASS": "",
    "SSH_ASKPASS_REQUIRE": "never",
    "GIT_PAGER": "cat",
    "GIT_EDITOR": ":",
    "GIT_SEQUENCE_EDITOR": ":",
    "GIT_ALLOW_PROTOCOL": "file:https:ssh",
}
_CONFIG = (
    "core.askPass=",
    "core.fsmonitor=false",
    "core.autocrlf=false",
    "core.safecrlf=false",
    "core.fileMode=false",
    "core.quotePath=false",
    f"core.attributesFile={os.devnull}",
    f"core.excludesFile={os.devnull}",
    "core.fsync=all",
    "core.logAllRefUpdates=false",
    "protocol.ext.allow=never",
    "transfer.fsckObjects=true",
    "fetch.recurseSubmodules=no",
    "push.recurseSubmodules=no",
    "push.gpgSign=false",
    "gc.auto=0",
    "maintenance.auto=false",
    # Larger files pass through git in pieces and are not compared with older ones, which takes several times
    # their size in memory and minutes for a long book. A closed piece of a book is as large: none follows it.
    "core.bigFileThreshold=2m",
    "http.lowSpeedLimit=100",
    "http.lowSpeedTime=60",
)
# The other end, if it is a folder, may be anybody's stick: what it holds must not be run here.
NO_PROGRAMS = f"git -c core.hooksPath={os.devnull} -c core.alternateRefsCommand=true -c receive.autogc=false"
_AT_A_FOLDER = tuple(
    f"remote.origin.{name.replace('-', '')}={NO_PROGRAMS} {name}" for name in ("upload-pack", "receive-pack")
)
# All that a studio's own settings of git need to hold. Anything else may name a program, and the folder with
# it may have come from anybody.
_OWN_SETTINGS = re.compile(
    r"core\.(repositoryformatversion|filemode|bare|logallrefupdates|symlinks|ignorecase|precomposeunicode)"
    r"|extensions\.objectformat|remote\.origin\.(url|fetch)|benchleaf\..*|user\.(name|email)"
    r"|branch\.[^\n]*\.(remote|merge)|gc\..*|init\.defaultbranch|pull\.(rebase|ff)"
)
# In the order in which they are looked for: a lost race also reads "remote rejected".
_SIGNS: dict[Kind, str] = {
    "race": "fetch first|non-fast-forward|cannot lock ref|failed to update ref|stale info",
    "room": "no space left|disk quota exceeded|file too large",
    "refused": "authentication failed|permission denied|could not read (username|password)"
    "|host key verification failed|returned error: 40[13]|dubious ownership|remote rejected"
    "|insufficient permission|unpacker error",
    "gone": "does not appear to be a git repository|not found|no such file or directory|not exist",
    "network": "could not resolve host|failed to connect|unable to access|connection (refused|reset)"
    "|timed out|unreachable|no route to host|hung up|early eof|too slow",
}
_SAID: dict[Kind, tuple[str, str]] = {
    "missing": ("Git is not installed here.", "Install git, then try again."),
    "race": ("Others were at work at the same moment, again and again.", "Try again in a while."),
    "room": ("There is no room for sharing.", "Make room, then try again."),
    "refused": ("The other end refused.", "Look to your rights and keys there, then try again."),
    "network": ("The other end could not be reached.", "Try again when there is a network."),
    "gone": ("There is no git repository at the other end.", "Check the address with: benchleaf share state"),
    "other": ("Git could not do it.", "Put that right, then try again."),
}


class Done(NamedTuple):
    """How one git command ended: its exit code, output, and what it complained of."""

    code: int
    out: bytes
    err: str


class GitFailed(DeskError):
    """Git failed; ``kind`` says in what way."""

    def __init__(self, kind: Kind, words: str = "") -> None:
        self.kind = kind
        happened, next_step = _SAID[kind]
        words = f" It said: {words}" if words else ""
        super().__init__(f"{happened}{words} {KEPT} {next_step}")


class Git:
    """Git for the repository of one studio folder."""

    def __init__(self, root: Path, *, lock_fd: int = -1, wait_s: float = NETWORK_WAIT_S) -> None:
        self.root = root.absolute()  # git runs in this folder, where a relative path would mean another one
        self.dir = self.root / ".git"
        self.own = self.dir / OWN
        self.stage = self.own
        """Folder for files on their way, while a run of sharing is at work."""
        self._lock_fd = lock_fd
        self._wait_s = wait_s
        self.pictures = False
        """Whether photographs are among what is shared."""
        self.progress: Callable[[str], None] = silent
        """Hears what a long share is at; what it raises ends the share, and the next one takes it up."""
        self.ident: dict[str, str] = {}
        """Variables with the author's name, where git itself has none."""
        self.trees: dict[str, dict[str, tuple[str, str, int]]] = {}
        """Files of the commits that were read already; a commit never changes."""
        self.too_large: dict[str, list[str]] = {}
        """Files of those commits that are not taken, because they are larger than any that is shared."""

    def run(
        self,
        *words: str,
        stdin: bytes | BinaryIO = b"",
        size: int = 0,
        into: BinaryIO | None = None,
        index: str = "work",
        network: bool = False,
        may_fail: bool = False,
    ) -> Done:
        """One git command. Of a file as ``stdin`` the first ``size`` bytes are given.

        Raises GitFailed unless ``may_fail``; a time-out and a missing git are always raised.
        """
        process = self._start(words, into or subprocess.PIPE, subprocess.PIPE, index, network)
        done = self._ended(process, stdin, size, self._wait_s if network else LOCAL_WAIT_S)
        if done.code != 0 and not may_fail:
            raise failed(done)
        return done

    def chunks(self, *words: str) -> Iterator[bytes]:
        """Output of a local command piece by piece, so that none of it is held; whoever has enough may stop.

        Raises GitFailed if the command fails.
        """
        with TemporaryFile() as complaint:
            process = self._start(words, subprocess.PIPE, complaint, "work", network=False)
            too_long = Timer(LOCAL_WAIT_S, _stop, (process,))
            too_long.start()
            try:
                assert process.stdin is not None
                assert process.stdout is not None
                process.stdin.close()
                while chunk := process.stdout.read(1 << 20):
                    yield chunk
                code = process.wait()
            finally:
                too_long.cancel()
                if process.poll() is None:
                    _stop(process)
                if process.stdout is not None:
                    process.stdout.close()
            complaint.seek(0)
            if code != 0:
                raise failed(Done(code, b"", complaint.read(10_000).decode(errors="replace")))

    def _start(
        self, words: Sequence[str], out: int | BinaryIO, err: int | IO[bytes], index: str, network: bool
    ) -> subprocess.Popen[bytes]:
        settings = (*_CONFIG, *self._for_the_other_end(network), f"core.hooksPath={self.own / 'no-hooks'}")
        config = [part for one in settings for part in ("-c", one)]
        try:
            return subprocess.Popen(
                ["git", "--no-pager", *config, *words],
                cwd=self.root if self.root.is_dir() else None,
                env=self._environment(index),
                stdin=subprocess.PIPE,
                stdout=out,
                stderr=err,
                # Without a terminal of its own nothing below git can stop and ask.
                start_new_session=True,
                # Not over the network: a keeper of passwords that git starts would hold the lock on.
                pass_fds=() if network or self._lock_fd < 0 or os.name == "nt" else (self._lock_fd,),
            )
        except FileNotFoundError as error:
            raise GitFailed("missing") from error
        except OSError as error:
            raise GitFailed("other", error.strerror or str(error)) from error

    def _for_the_other_end(self, network: bool) -> tuple[str, ...]:
        """Settings for a command that reaches the other end; over ssh the programs are the server's own."""
        if not network or not self.dir.is_dir():
            return ()
        url = self.settings().get("remote.origin.url", "")
        return _AT_A_FOLDER if is_folder(url) else ()

    def refuse_programs(self) -> None:
        """Raise DeskError if the studio's own settings of git hold what could start a program."""
        done = self.run(
            "config", "--file", str(self.dir / "config"), "--list", "-z", "--name-only", may_fail=True
        )
        names = done.out.decode(errors="replace").split("\0")
        unwanted = sorted(name for name in names if name and not _OWN_SETTINGS.fullmatch(name.lower()))
        if unwanted:
            from kb.catalogue.problems import printable

            raise DeskError(
                f"The file .git/config of the studio folder sets {printable(unwanted[0])}, which can start a "
                f"program, so nothing was shared. {KEPT} Take it out of that file; what you need yourself "
                "belongs into your own settings (git config --global)."
            )

    def text(self, *words: str, may_fail: bool = False) -> str:
        """Output of a command as one stripped text; empty if it failed and may."""
        done = self.run(*words, may_fail=may_fail)
        return done.out.decode(errors="replace").strip() if done.code == 0 else ""

    def settings(self) -> dict[str, str]:
        """Git's own settings that matter here, by name: the other end, the branch, the user's name."""
        wanted = r"^(remote\.origin\.url|benchleaf\.branch|user\.name|user\.email)$"
        done = self.run("config", "-z", "--get-regexp", wanted, may_fail=True)
        pairs = (one.partition("\n") for one in done.out.decode(errors="replace").split("\0"))
        return {name.lower(): value for name, _, value in pairs if value}

    def _environment(self, index: str) -> dict[str, str]:
        made = {k: v for k, v in os.environ.items() if not k.startswith("GIT_") or k in _PASSED_ON}
        made.pop("SSH_ASKPASS", None)
        made |= _SET | self.ident
        made |= {"GIT_DIR": str(self.dir), "GIT_WORK_TREE": str(self.root)}
        made["GIT_INDEX_FILE"] = str(self.dir / "index" if index == "main" else self.own / f"index-{index}")
        return made

    def _ended(
        self, process: subprocess.Popen[bytes], stdin: bytes | BinaryIO, size: int, wait_s: float
    ) -> Done:
        try:
            if isinstance(stdin, bytes):
                out, err = process.communicate(stdin, timeout=wait_s)
            else:
                _feed(process, stdin, size)
                out, err = process.communicate(timeout=wait_s)
        except subprocess.TimeoutExpired as error:
            _stop(process)
            raise GitFailed("network", f"no answer within {wait_s:g} s") from error
        except BaseException:
            _stop(process)
            raise
        return Done(process.returncode, out or b"", err.decode(errors="replace"))


def is_folder(address: str) -> bool:
    """Whether an address of a repository is a folder of this machine."""
    return address.startswith(("/", ".", "~", "file:")) or bool(re.match(r"[A-Za-z]:[\\/]", address))


def failed(done: Done) -> GitFailed:
    """The failure that a command's complaint speaks of."""
    low = (done.err + done.out.decode(errors="replace")).lower()
    for kind, signs in _SIGNS.items():
        if re.search(signs, low):
            return GitFailed(kind, words_of(done))
    return GitFailed("other", words_of(done))


def words_of(done: Done) -> str:
    """What git complained of, on one line, fit to be shown; a name or key in an address is left out."""
    from kb.catalogue.problems import printable

    said = done.out.decode(errors="replace") if len(done.out) < 10_000 else ""
    lines = [line.strip() for line in f"{said}\n{done.err}".splitlines() if line.strip()]
    telling = [line for line in lines if line.startswith(("fatal:", "error:", "remote: ", "!"))]
    text = " ".join((telling or lines[-1:])[:2])
    return printable(re.sub(r"//[^/@\s]+@", "//", text)[:300])


def _feed(process: subprocess.Popen[bytes], source: BinaryIO, size: int) -> None:
    pipe = process.stdin
    assert pipe is not None
    try:
        while size > 0 and (chunk := source.read(min(1 << 20, size))):
            pipe.write(chunk)
            size -= len(chunk)
        pipe.flush()
    except BrokenPipeError:
        # Git gave up; what it says of that comes with its exit code.
        pass


def _stop(process: subprocess.Popen[bytes]) -> None:
    """End git and what it started, gently first, so that it takes its own lock files away."""
    for how in (signal.SIGTERM, getattr(signal, "SIGKILL", signal.SIGTERM)):
        with contextlib.suppress(ProcessLookupError):
            if hasattr(os, "killpg"):
                os.killpg(process.pid, how)
            else:
                process.kill()
        try:
            process.wait(GRACE_S)
            break
        except subprocess.TimeoutExpired:
            continue
    for stream in (process.stdin, process.stdout, process.stderr):
        if stream is not None:
            with contextlib.suppress(OSError):
                stream.close()


# -- the address of the other end ----------------------------------------------------------------------------


FORMS = "Name a folder, https://..., ssh://... or name@machine:folder."
BRANCH = "main"
"""The branch of an empty repository."""

_SCP = re.compile(r"\w[\w.-]*@\w[\w.-]*:(?![-/]{2})[^-\s].*", re.ASCII)
_BRANCH_SHAPE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._/-]{0,99}")


def checked_remote(text: str, root: Path) -> str:
    """The address as git is given it; a folder becomes a whole path. Raises DeskError for any other form.

    What looks like an option or names a program to run is refused before git ever sees it.
    """
    text = text.strip()
    if not text:
        raise DeskError(f"No other end is named. {FORMS}")
    if text.startswith("-") or re.match(r"[^/]*::", text) or not text.isprintable():
        raise DeskError(f"{text[:80]!r} is not taken as the address of another end. {FORMS}")
    if "://" in text:
        return _checked_url(text)
    if _SCP.fullmatch(text):
        return text
    if re.match(r"[^/]*:", text) and not Path(text).exists():
        raise DeskError(f"{text[:80]!r} does not say who asks. Write it as name@machine:folder.")
    return _checked_folder(from_home(text).absolute(), root)


def _checked_url(text: str) -> str:
    try:
        parts = urlsplit(text)
        host, user = parts.hostname or "", parts.username or ""
    except ValueError as error:
        raise DeskError(f"{text[:80]!r} is no address. {FORMS}") from error
    if parts.scheme not in {"https", "ssh", "file"}:
        raise DeskError(f"The way {parts.scheme[:20]!r} is not used for sharing. {FORMS}")
    if parts.password:
        raise DeskError(
            "The address holds a password, which would be written into a file here. "
            "Leave it out and let git's own store of passwords keep it."
        )
    if host.startswith("-") or user.startswith("-") or (not host and parts.scheme != "file"):
        raise DeskError(f"{text[:80]!r} is no address. {FORMS}")
    return text


def _checked_folder(folder: Path, root: Path) -> str:
    if not folder.is_dir():
        raise DeskError(
            f"There is no folder {folder}. Make an empty repository there with: git init --bare {folder}"
        )
    if folder.resolve().is_relative_to(root.resolve()):
        raise DeskError("The other end lies inside the studio folder; choose a folder elsewhere.")
    return str(folder)


def branch_of(git: Git, remote: str) -> str:
    """The branch in use at the other end, `BRANCH` if that is empty. Raises DeskError if it is unclear."""
    try:
        how = (f"--upload-pack={NO_PROGRAMS} upload-pack",) if is_folder(remote) else ()
        done = git.run("ls-remote", "--symref", *how, "--", remote, "HEAD", "refs/heads/*", network=True)
    except GitFailed as error:
        if error.kind == "gone":
            raise DeskError(f"There is no git repository at {remote}. Nothing was changed here.") from error
        raise
    named = ""
    branches: set[str] = set()
    for line in done.out.decode(errors="replace").splitlines():
        left, _, right = line.partition("\t")
        if right == "HEAD" and left.startswith("ref: refs/heads/"):
            named = left.removeprefix("ref: refs/heads/")
        elif right.startswith("refs/heads/"):
            branches.add(right.removeprefix("refs/heads/"))
    choice = next((one for one in (named, BRANCH) if one in branches), "")
    if not choice and len(branches) > 1:
        listed = ", ".join(sorted(branches)[:5])
        raise DeskError(f"The other end has several branches ({listed}) and none of them is its main one.")
    choice = choice or next(iter(branches), BRANCH)
    if _BRANCH_SHAPE.fullmatch(choice) is None:
        raise DeskError("The branch at the other end has a name that is not taken here; rename it to main.")
    return choice
