"""All tests. What is compiled is kept here even where the surroundings forbid it.

Hundreds of processes are started, and each would compile the whole project anew. And folders of tests lie in
memory, where there is room: of a run's 15 GB nothing is wanted later, and a disk makes each file a wait.
What the disk is asked for, and in which order, is the same; no test pulls a plug.
"""

import os
import sys
import tempfile

sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

MEMORY, ROOM = "/dev/shm", 2 * 2**30
"""Where Linux has a file system in memory, and as many bytes as a run takes at most, four times."""
# Programs are made and started there too. Whoever names a place has it.
if "TMPDIR" not in os.environ and os.access(MEMORY, os.W_OK):
    _found = os.statvfs(MEMORY)
    if _found.f_bavail * _found.f_frsize > ROOM and not _found.f_flag & os.ST_NOEXEC:
        os.environ["TMPDIR"], tempfile.tempdir = MEMORY, None
