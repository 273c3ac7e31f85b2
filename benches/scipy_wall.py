"""Seconds scipy needs for the reference wall: 100 cells, 10 h, peak within 1 %.  Usage: scipy_wall.py [repeats]

A yardstick for the engine's own bench, which solves the same wall. Prints the fastest of a few runs, the steps taken and
how far the peak is from the converged one (tests/independent/frozen/R.json).
"""

import json
import sys
import time
import warnings
from pathlib import Path

HERE = Path(__file__).resolve().parent
INDEPENDENT = HERE.parent / "tests" / "independent"
sys.path.insert(0, str(INDEPENDENT))

from wall import Wall, reference_wall, run  # noqa: E402

CELLS, HOURS, RTOL = 100, 10.0, 1e-4


def main():
    """Times it."""
    warnings.simplefilter("ignore")
    repeats = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    converged = json.loads((INDEPENDENT / "frozen" / "R.json").read_text())["result"]["peak_mpa"]
    best, result = None, None
    for _ in range(repeats):
        began = time.perf_counter()
        result = run(Wall(reference_wall(), CELLS), HOURS * 3600, rtol=RTOL)
        took = time.perf_counter() - began
        best = took if best is None else min(best, took)
    off = (result.peak[0] / 1e6 / converged - 1) * 100
    print(f"{best:.2f} s for {HOURS:g} h of wall R, {CELLS} cells, {result.steps} steps, peak {result.peak[0] / 1e6:.4f} MPa ({off:+.2f} %)")
    if abs(off) > 1.0:
        sys.exit("the peak is further than 1 % from the converged one: tighten RTOL")


if __name__ == "__main__":
    main()
