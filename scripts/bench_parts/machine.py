"""When and on what a run measured: never the name of the machine, of its user or of a folder."""

from __future__ import annotations

import os
import platform
import sqlite3
import sys
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path

PACKAGES = ("benchleaf", "msgspec", "rapidfuzz", "textual", "rich", "sqlite-utils")
DEVICES = Path("/sys/dev/block")


def surroundings(folder: Path) -> dict[str, str]:
    """Date, machine, load and versions; the disk is the one that ``folder`` lies on."""
    packages = ", ".join(f"{name} {version(name)}" for name in PACKAGES)
    machine = f"{platform.system()} {platform.machine()}, {_processor()}, {os.cpu_count()} cores, {_memory()}"
    return {
        "when": datetime.now(UTC).strftime("%Y-%m-%d %H:%M UTC"),
        "machine": machine,
        "disk": disk(folder),
        "load": _load(),
        "versions": f"Python {platform.python_version()}, SQLite {sqlite3.sqlite_version}, {packages}",
    }


def disk(folder: Path, mounts: Path = Path("/proc/self/mountinfo")) -> str:
    """File system and kind of disk below a folder, as far as the system tells."""
    device = os.stat(folder).st_dev
    place = f"{os.major(device)}:{os.minor(device)}" if hasattr(os, "major") else ""
    system = ""
    try:
        for line in mounts.read_text(encoding="utf-8", errors="replace").splitlines():
            if line.split()[2] == place:
                system = line.partition(" - ")[2].split()[0]
    except (OSError, IndexError):
        pass
    return ", ".join(one for one in (system, _device(place)) if one) or "unknown"


def _device(place: str) -> str:
    """In words what kind of device it is; nothing for a file system without one."""
    try:
        found = (DEVICES / place).resolve(strict=True)
    except OSError:
        return ""
    whole = found if (found / "queue").is_dir() else found.parent
    name = whole.name
    if name.startswith(("vd", "xvd")):
        return "virtual disk"
    if name.startswith("nvme"):
        return "solid state (NVMe)"
    try:
        turning = (whole / "queue" / "rotational").read_text(encoding="ascii").strip() == "1"
    except OSError:
        return ""
    return "rotating disk" if turning else "solid state"


def _processor() -> str:
    try:
        for line in Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines():
            if line.startswith("model name"):
                return line.partition(":")[2].strip()
    except OSError:
        pass
    return platform.processor() or "unknown processor"


def _memory() -> str:
    try:
        return f"{os.sysconf('SC_PAGE_SIZE') * os.sysconf('SC_PHYS_PAGES') / 2**30:.0f} GiB"
    except (ValueError, OSError, AttributeError):
        return "memory unknown"


def _load() -> str:
    if sys.platform == "win32":
        return "unknown"
    return f"{os.getloadavg()[0]:.1f} at the start (other work on the machine widens the quartiles)"
