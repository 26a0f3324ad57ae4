"""The same bits with one thread and with several."""

from __future__ import annotations

import os
import subprocess
import sys

SCRIPT = """
import hashlib, dataclasses
import numpy as np
from rigledger.statistics.comparisons import CellArrays, PairArrays, RunArrays, Settings, analyse

rng = np.random.default_rng(1)
cells, n = 480, 3
sd = np.exp(rng.normal(-4.5, 1.0, cells))
y = 4.6 + sd[:, None, None] * rng.normal(size=(cells, 2, n))
shape = y.shape
labels = [np.broadcast_to(a, shape).reshape(-1) for a in (
    np.arange(cells)[:, None, None], np.arange(2)[:, None], np.arange(n))]
runs = RunArrays(np.exp(y).reshape(-1), labels[0], labels[1], labels[1], labels[2], 0.0 * labels[0])
factors = {"workload": np.arange(cells) // 6, "rig": np.arange(cells) // 2 % 3}
own = CellArrays(factors, np.zeros(cells, bool))
result = analyse(runs, own, PairArrays(np.arange(0, cells, 2), np.arange(1, cells, 2)), Settings())
digest = hashlib.sha256(repr(result.model).encode())
for part in (result.cells, result.comparisons):
    for field in dataclasses.fields(part):
        digest.update(np.ascontiguousarray(getattr(part, field.name)).tobytes())
print(digest.hexdigest())
"""


def fingerprint(threads: int) -> str:
    names = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
    environment = os.environ | dict.fromkeys(names, str(threads))
    done = subprocess.run(  # noqa: S603
        [sys.executable, "-c", SCRIPT],
        env=environment,
        capture_output=True,
        text=True,
        check=True,
    )
    return done.stdout.strip()


def test_results_do_not_depend_on_the_number_of_threads() -> None:
    assert fingerprint(1) == fingerprint(2)
