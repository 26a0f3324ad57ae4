"""A process that does one job and ends: what it need not do."""

from __future__ import annotations

import atexit
import gc
import os
import sys

# Each of these libraries' threads would wait busily for work on matrices of a few numbers.
_ONE_THREAD = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS")


class OneJob:
    """Spares this process what costs time and brings nothing where it ends soon.

    Until its end it doesn't search for circular garbage, which is little and goes with it. At its
    end, threads are waited for and what libraries registered for it is called, as ever. Then the
    interpreter would destroy whatever is left of the database and of every library that was
    loaded: a tenth of a second in which nothing happens that anybody could notice. To be made
    before libraries are loaded.

    Attributes:
        code: The exit code, once it is known; without one the process ends in the usual way, as it
            does after an error that nobody caught.
    """

    def __init__(self) -> None:
        self.code: int | None = None
        gc.disable()
        for name in _ONE_THREAD:
            os.environ.setdefault(name, "1")
        # Such functions are called last to first: one that is registered early comes late.
        atexit.register(self._end)

    def _end(self) -> None:
        if self.code is None:
            return
        try:
            sys.stdout.flush()
            sys.stderr.flush()
        except (OSError, ValueError):
            return  # the interpreter's own way says what is wrong with them
        os._exit(self.code)
