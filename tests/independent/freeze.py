"""Runs the cases and writes frozen/NAME.json.  Usage: freeze.py [--check] [NAME-PREFIX ...]

Without --check every case is run on all its grids and the finest is written, with the distance of the coarser ones.
With --check the coarsest grid is run and compared with what is frozen (for a changed scipy; minutes instead of half an hour).
"""

import copy
import json
import re
import sys
import time
from pathlib import Path

import numpy as np
import scipy
from cases import CASES
from similarity import sharp_front_exact
from wall import ZERO_C, Wall, run

FROZEN = Path(__file__).parent / "frozen"


def solve(case, cells, rtol):
    """Numbers of one case on one grid."""
    wall = Wall(case["spec"], cells, case["grading"], case["ends"], **case["options"])
    story = []
    watch = case.get("kind") == "plate"
    keep = (lambda t, y: story.append((t, y[3 * (wall.n - 1)] - ZERO_C, y[3 * wall.n - 2]))) if watch else None
    began = time.process_time()
    res = run(wall, case["t_end_s"], case["times_s"], rtol=rtol, on_step=keep)
    took = time.process_time() - began
    p, t, x = (float(v) for v in res.peak)
    out = {
        "cells": cells,
        "rtol": rtol,
        "steps": res.steps,
        "cpu_s": round(took, 1),
        "imbalance_share": float(f"{res.imbalance:.1e}"),
        "water_total_kg_m2": round(wall.total_water, 6),
        "peak_mpa": round(p / 1e6, 5),
        "peak_time_s": round(t, 0),
        "peak_depth_mm": round(x * 1e3, 2),
        "dry50_s": whole(res.dry_time(0.5)),
        "dry95_s": whole(res.dry_time(0.95)),
        "at": [],
    }
    for t in case["times_s"]:
        y = res.at[t]
        out["at"].append(
            {
                "time_s": t,
                "temperature_c": [round(wall.temp_c(t, y, d), 3) for d in case["depths_m"]],
                "pressure_mpa": [
                    round(wall.pressure(t, y, d) / 1e6, 6) if porous_at(wall, d) else None for d in case["depths_m"]
                ],
                "water_lost_kg_m2": round(res.lost(t), 5),
            }
        )
    if watch:
        s = np.array(story)
        out["middle_c_at_dry50"] = round(float(np.interp(out["dry50_s"], s[:, 0], s[:, 1])), 3)
    if case.get("kind") == "sharp":
        out.update(front(wall, res))
        for key in ("peak_mpa", "peak_time_s", "peak_depth_mm"):
            out["start_" + key] = out.pop(key)
    return out


def whole(seconds):
    """Rounded, or nothing."""
    return None if seconds is None else round(seconds)


def porous_at(wall, depth):
    """Whether the pore pressure at a depth means anything."""
    i = int(np.clip(np.searchsorted(wall.edge, depth, side="left") - 1, 0, wall.n - 1))
    return bool(wall.porous[i])


def front(wall, res):
    """Mean peak pressure over the second half hour and the depth at which half the water is left after the hour."""
    t = np.linspace(1800, 3600, 181)
    y = res.at[3600.0]
    w = wall.storage(y[0:-2:3], y[1:-1:3])[0]
    half = wall.w0[0] / 2
    i = int((w > half).argmax())
    return {
        "front_mpa": round(float(np.interp(t, res.track[:, 0], res.track[:, 1]).mean()) / 1e6, 5),
        "front_mm": round(float(np.interp(half, w[i - 1 : i + 1], wall.x[i - 1 : i + 1])) * 1e3, 3),
    }


def distance(a, b):
    """How far run a is from run b: shares of span (temperatures), of the peak (pressures), of all water, of the time."""
    share = lambda u, v: None if u is None or v is None else round(float(abs(u / v - 1) * 100), 3)
    at = list(zip(a["at"], b["at"]))
    dt = [abs(p - q) for x, y in at for p, q in zip(x["temperature_c"], y["temperature_c"])]
    span = max(v for y in b["at"] for v in y["temperature_c"]) - 20.0
    dp = [abs(p - q) for x, y in at for p, q in zip(x["pressure_mpa"], y["pressure_mpa"]) if q is not None]
    dw = [abs(x["water_lost_kg_m2"] - y["water_lost_kg_m2"]) for x, y in at]
    if "front_mpa" in b:  # the highest pressure is that of the start, where no grid is fine enough
        keys = {"front_pressure_percent": "front_mpa", "front_depth_percent": "front_mm"}
    else:
        keys = {"peak_percent": "peak_mpa", "peak_time_percent": "peak_time_s", "dry95_percent": "dry95_s"}
    return {
        "cells": a["cells"],
        **{name: share(a[key], b[key]) for name, key in keys.items()},
        "temperature_k": round(float(max(dt)), 3),
        "temperature_percent_of_span": round(float(max(dt) / span * 100), 3),
        "pressure_percent_of_peak": round(float(max(dp) / b.get("peak_mpa", b.get("front_mpa")) * 100), 3),
        "water_percent_of_total": round(float(max(dw) / b["water_total_kg_m2"] * 100), 3),
    }


def freeze(name, case):
    """Runs a case on all grids, writes the finest."""
    runs = [solve(case, g, case["rtol"]) for g in case["grids"]]
    fine = runs[-1]
    doc = {
        "case": name,
        "about": case["about"],
        "made_with": f"wall.py, numpy {np.__version__}, scipy {scipy.__version__}",
        "wall": spelled_out(case["spec"]),
        "options": case["options"],
        "depths_m": case["depths_m"],
        "result": fine,
        "convergence": [distance(r, fine) for r in runs[:-1]],
    }
    if case.get("kind") == "sharp":
        doc["exact"] = sharp_front_exact(case["spec"])
    FROZEN.mkdir(exist_ok=True)
    (FROZEN / f"{name}.json").write_text(pretty(doc) + "\n")
    last = doc["convergence"][-1]
    words = f"{fine['front_mpa']} MPa, {fine['front_mm']} mm" if "front_mpa" in fine else (
        f"{fine['peak_mpa']} MPa at {fine['peak_time_s']:.0f} s, {fine['peak_depth_mm']} mm"
    )
    print(f"{name}: {words}; last step {last}", flush=True)


def spelled_out(spec):
    """The wall with every curve as a list of points and every face complete, so that a reader needs no defaults."""
    out = copy.deepcopy(spec)
    curves = ("heat_capacity_j_kgk", "conductivity_w_mk", "dehydration", "permeability_log10_m2")
    for layer in out["layers"]:
        layer.setdefault("impermeable", False)
        for key in curves:
            if key in layer and not isinstance(layer[key], list):
                layer[key] = [[0.0, layer[key]], [1000.0, layer[key]]]
    for face in (out["hot_face"], out["cold_face"]):
        face.setdefault("beta_kg_m2spa", 0.0)
        face.setdefault("ambient_pressure_pa", 1500.0)
        if "gas_temp_c" in face:
            face.setdefault("emissivity", 0.0)
    return out


def pretty(doc):
    """JSON with the innermost lists on one line."""
    text = json.dumps(doc, indent=1)
    return re.sub(r"\[[^\[\]{}]*\]", lambda m: re.sub(r"\s+", " ", m.group()).replace("[ ", "[").replace(" ]", "]"), text)


def check(name, case):
    """Runs the coarsest grid and compares it with the frozen numbers; True if within 2 %."""
    frozen = json.loads((FROZEN / f"{name}.json").read_text())["result"]
    d = distance(solve(case, case["grids"][0], 1e-5), frozen)
    bad = [k for k, v in d.items() if k.endswith(("percent", "span", "total", "of_peak")) and v is not None and v > 2.0]
    print(f"{name}: {'DIFFERS ' + str(bad) if bad else 'ok'} {d}", flush=True)
    return not bad


def main(args):
    """Command line."""
    checking = "--check" in args
    prefixes = [a for a in args if a != "--check"]
    names = [n for n in CASES if not prefixes or any(n.startswith(p) for p in prefixes)]
    if not names:
        sys.exit(f"no case starts with {prefixes}: expected one of {', '.join(CASES)}")
    fine = True
    for name in names:
        if checking:
            fine &= check(name, CASES[name])
        else:
            freeze(name, CASES[name])
    sys.exit(0 if fine else 1)


if __name__ == "__main__":
    main(sys.argv[1:])
