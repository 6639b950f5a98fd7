"""All tests. What is compiled is kept here even where the surroundings forbid it.

Hundreds of processes are started, and each would compile the whole project anew.
"""

import os
import sys

sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
