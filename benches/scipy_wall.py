"""Seconds scipy and the engine need for the reference wall: 100 cells, 10 h, peak within 1 %.  Usage: scipy_wall.py [repeats]

Prints the fastest of a few runs of scipy, the steps taken and how far the peak is from the converged one
(tests/independent/frozen/R.json); then runs the engine's own bench of the same wall (cargo bench, which has to be built) and
prints how many times as long scipy takes.
"""

import json
import re
import subprocess
import sys
import time
import warnings
from pathlib import Path

HERE = Path(__file__).resolve().parent
INDEPENDENT = HERE.parent / "tests" / "independent"
sys.path.insert(0, str(INDEPENDENT))

from wall import Wall, reference_wall, run  # noqa: E402

CELLS, HOURS, RTOL = 100, 10.0, 1e-4


def engine_s():
    """Fastest run of the engine's bench, s."""
    command = ["cargo", "bench", "--bench", "wall", "--", "wall_r_ten_hours"]
    printed = subprocess.run(command, cwd=HERE.parent, capture_output=True, text=True, check=True).stdout
    found = re.search(r"wall_r_ten_hours\s+([\d.]+) (µs|ms|s)\b", printed)
    if found is None:
        sys.exit(f"no time of wall_r_ten_hours in what the bench printed:\n{printed}")
    return float(found[1]) * {"µs": 1e-6, "ms": 1e-3, "s": 1.0}[found[2]]


def main():
    """Times both."""
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
    engine = engine_s()
    print(f"{engine * 1e3:.2f} ms by the engine: scipy takes {best / engine:.0f} times as long")


if __name__ == "__main__":
    main()
