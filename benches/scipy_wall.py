"""Seconds scipy and the engine need for the reference wall: 100 cells, 10 h, peak within 1 %.  Usage: scipy_wall.py [repeats]

Prints the fastest of a few runs of scipy, the steps taken and how far the peak is from the converged one
(tests/independent/frozen/R.json); then runs the engine's own benches of the same wall (cargo bench, which has to be built) and
prints how many times as long scipy takes: as a single run takes, and as one of 64 members in lanes.
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


# Benches of the engine: what is timed, and how many walls that is.
BENCHES = {"as a single run": ("wall_r_ten_hours", 1), "as each of 64 members in lanes": ("wall_r_64_members_in_lanes_of", 64)}
UNITS_S = {"µs": 1e-6, "ms": 1e-3, "s": 1.0}


def engine_s(bench, walls):
    """Fastest run of one of the engine's benches, s for each of its walls; eight in lanes where it has several widths."""
    command = ["cargo", "bench", "--bench", "wall", "--", bench]
    printed = subprocess.run(command, cwd=HERE.parent, capture_output=True, text=True, check=True).stdout
    found = re.search(rf"(?:{bench}|├─ 8|╰─ 8)\s+([\d.]+) (µs|ms|s)\b", printed)
    if found is None:
        sys.exit(f"no time of {bench} in what the bench printed:\n{printed}")
    return float(found[1]) * UNITS_S[found[2]] / walls


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
    for how, (bench, walls) in BENCHES.items():
        engine = engine_s(bench, walls)
        print(f"{engine * 1e3:.2f} ms by the engine {how}: scipy takes {best / engine:.0f} times as long")


if __name__ == "__main__":
    main()
