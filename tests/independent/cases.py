"""The cases that are frozen: what wall, what options, what to write down, on what grids.

Each entry gives a plain dictionary `spec` (the whole wall: a test builds its wall from it), output times and depths, the
grids on which it is run (coarse to fine; the finest is frozen) and words about it.
"""

import numpy as np

from wall import changed, ramp, reference_wall

HOUR = 3600.0
STILL_AIR = [[0.0, 20.0], [1e9, 20.0]]


def _case(about, spec, hours, grids, depths=(), **more):
    times = more.pop("times_h", None) or []
    return {
        "about": about,
        "spec": spec,
        "t_end_s": hours * HOUR,
        "times_s": [t * HOUR for t in times],
        "depths_m": list(depths),
        "grids": grids,
        "options": {},
        "grading": 1.0,
        "ends": "both",
        "rtol": 1e-6,
        **more,
    }


def _uniform(*ns):
    return [[n] for n in ns]


def thin_on_fibre(fibre_porosity, fibre_water):
    """Insulating castable on fibre on a sealed steel shell, planar."""
    return {
        "geometry": {"kind": "planar"},
        "start_temp_c": 20.0,
        "layers": [
            {
                "name": "insulating castable",
                "thickness_m": 0.012,
                "density_kg_m3": 1100.0,
                "heat_capacity_j_kgk": 1000.0,
                "conductivity_w_mk": [[20, 0.30], [400, 0.30], [800, 0.33]],
                "porosity": 0.55,
                "water_kg_m3": 200.0,
                "bound_water_kg_m3": 60.0,
                "dehydration_heat_j_kg": 1.5e6,
                "dehydration_time_s": 600.0,
                "dehydration": [[100, 0], [200, 0.30], [230, 0.35], [330, 0.90], [600, 1.0]],
                "permeability_log10_m2": [[100, -14.0], [250, -13.5], [400, -13.0], [800, -12.5]],
            },
            {
                "name": "fibre blanket",
                "thickness_m": 0.050,
                "density_kg_m3": 128.0,
                "heat_capacity_j_kgk": 1050.0,
                "conductivity_w_mk": [[20, 0.05], [400, 0.09], [800, 0.18], [1200, 0.33]],
                "porosity": fibre_porosity,
                "water_kg_m3": fibre_water,
                "bound_water_kg_m3": 0.0,
                "dehydration_heat_j_kg": 0.0,
                "dehydration_time_s": 600.0,
                "dehydration": [[20, 0], [1000, 0]],
                "permeability_log10_m2": [[20, -10.0], [1000, -10.0]],
            },
            {
                "name": "steel",
                "thickness_m": 0.003,
                "density_kg_m3": 7850.0,
                "heat_capacity_j_kgk": 500.0,
                "conductivity_w_mk": 45.0,
                "impermeable": True,
            },
        ],
        "hot_face": {
            "h_w_m2k": 20.0,
            "emissivity": 0.8,
            "beta_kg_m2spa": 1e-7,
            "ambient_pressure_pa": 1500.0,
            "gas_temp_c": ramp(200.0, 900.0),
        },
        "cold_face": {
            "h_w_m2k": 10.0,
            "emissivity": 0.8,
            "beta_kg_m2spa": 0.0,
            "ambient_pressure_pa": 1500.0,
            "gas_temp_c": STILL_AIR,
        },
    }


def barrel(driven_by):
    """Dense castable on insulating castable round a bore of 150 mm, vented back."""
    rise = [[0.0, 20.0], [2.3 * HOUR, 250.0], [4.3 * HOUR, 250.0], [7.8 * HOUR, 600.0], [1e9, 600.0]]
    hot = {"beta_kg_m2spa": 1e-7, "ambient_pressure_pa": 1500.0}
    if driven_by == "surface":
        hot["surface_temp_c"] = rise
    else:
        hot.update(gas_temp_c=rise, h_w_m2k=20.0, emissivity=0.8)
    return {
        "geometry": {"kind": "radial", "inner_radius_m": 0.075},
        "start_temp_c": 20.0,
        "layers": [
            {
                "name": "dense castable",
                "thickness_m": 0.025,
                "density_kg_m3": 2200.0,
                "heat_capacity_j_kgk": 1000.0,
                "conductivity_w_mk": [[20, 1.2], [800, 1.2]],
                "porosity": 0.20,
                "water_kg_m3": 130.0,
                "bound_water_kg_m3": 100.0,
                "dehydration_heat_j_kg": 1.5e6,
                "dehydration_time_s": 600.0,
                "dehydration": [[100, 0], [200, 0.30], [230, 0.35], [330, 0.90], [600, 1.0]],
                "permeability_log10_m2": [[100, float(np.log10(3e-16))], [400, -14.5], [800, -13.5]],
            },
            {
                "name": "insulating castable",
                "thickness_m": 0.050,
                "density_kg_m3": 1100.0,
                "heat_capacity_j_kgk": [[20, 900.0], [800, 1050.0]],
                "conductivity_w_mk": [[20, 0.30], [400, 0.30], [800, 0.33]],
                "porosity": 0.50,
                "water_kg_m3": 80.0,
                "bound_water_kg_m3": 40.0,
                "dehydration_heat_j_kg": 1.5e6,
                "dehydration_time_s": 600.0,
                "dehydration": [[100, 0], [200, 0.15], [230, 0.20], [330, 0.90], [600, 1.0]],
                "permeability_log10_m2": [[100, -14.0], [400, -13.0], [800, -12.5]],
            },
        ],
        "hot_face": hot,
        "cold_face": {
            "h_w_m2k": 10.0,
            "emissivity": 0.8,
            "beta_kg_m2spa": 1e-7,
            "ambient_pressure_pa": 1500.0,
            "gas_temp_c": STILL_AIR,
        },
    }


def sharp_front(surface_c, k_m2):
    """Slab of 120 mm set to the limit in which the exact heat and steam front holds."""
    spec = changed(reference_wall(0.12), bound_water_kg_m3=0.0, permeability_log10_m2=float(np.log10(k_m2)))
    spec["hot_face"] = {
        "surface_temp_c": [[0.0, 20.0], [10.0, surface_c], [1e9, surface_c]],
        "beta_kg_m2spa": 1.0,
        "ambient_pressure_pa": 101325.0,
    }
    spec["cold_face"] = {"h_w_m2k": 0.0, "emissivity": 0.0, "beta_kg_m2spa": 0.0, "gas_temp_c": STILL_AIR}
    return spec


def plate(rate_k_min, log10_k_shift):
    """Half of a 40 mm plate heated from both faces; no bound water."""
    spec = reference_wall(0.020, 60.0 * rate_k_min, log10_k_shift)
    spec["layers"][0]["bound_water_kg_m3"] = 0.0
    spec["hot_face"]["gas_temp_c"] = ramp(60.0 * rate_k_min, 700.0)
    spec["cold_face"] = {"h_w_m2k": 0.0, "emissivity": 0.0, "beta_kg_m2spa": 0.0, "gas_temp_c": STILL_AIR}
    return spec


def held(gas_c, hold_h):
    """The reference wall with a hold of the gas on the way up."""
    spec = reference_wall()
    t1 = (gas_c - 20.0) / 100.0 * HOUR
    t2 = t1 + hold_h * HOUR
    t3 = t2 + (600.0 - gas_c) / 100.0 * HOUR
    spec["hot_face"]["gas_temp_c"] = [[0.0, 20.0], [t1, gas_c], [t2, gas_c], [t3, 600.0], [1e9, 600.0]]
    return spec


def faces(hot_open, cold_open):
    """The reference wall with either face open or sealed."""
    spec = reference_wall()
    spec["hot_face"]["beta_kg_m2spa"] = 1e-7 if hot_open else 0.0
    spec["cold_face"]["beta_kg_m2spa"] = 1e-7 if cold_open else 0.0
    return spec


R_TIMES = [2, 4, 6, 10]
R_DEPTHS = [0.0, 0.010, 0.025, 0.050, 0.074, 0.075]

CASES = {
    # -- the printed wall and its printed variants
    "R": _case("reference wall", reference_wall(), 12, _uniform(100, 200, 400), R_DEPTHS, times_h=R_TIMES),
    "R-open-back": _case("back open", reference_wall(back_open=True), 12, _uniform(100, 200, 400), R_DEPTHS, times_h=R_TIMES),
    "R-k-x10": _case("permeability x 10", reference_wall(log10_k_shift=1), 12, _uniform(100, 200, 400), R_DEPTHS, times_h=R_TIMES),
    "R-25mm-open": _case(
        "25 mm, back open", reference_wall(0.025, back_open=True), 8, _uniform(50, 100, 200), [0, 0.01, 0.025], times_h=[2, 3, 4]
    ),
    "R-50mm-radial": _case(
        "50 mm, inner radius 75 mm, sealed", reference_wall(0.05, inner_radius_m=0.075), 10, _uniform(100, 200, 400),
        [0, 0.01, 0.025, 0.05], times_h=R_TIMES[:3],
    ),
    # -- more of the family
    "R-25K": _case("25 K/h", reference_wall(rate_k_h=25), 36, _uniform(100, 200, 400), R_DEPTHS, times_h=[6, 12, 16, 20]),
    "R-50K": _case("50 K/h", reference_wall(rate_k_h=50), 20, _uniform(100, 200, 400), R_DEPTHS, times_h=[4, 8, 12]),
    "R-200K": _case("200 K/h", reference_wall(rate_k_h=200), 12, _uniform(100, 200, 400), R_DEPTHS, times_h=[2, 3, 4, 8]),
    "R-12mm": _case("12 mm, sealed", reference_wall(0.012), 8, _uniform(48, 96, 192), [0, 0.006, 0.012], times_h=[2, 3, 4]),
    "R-25mm": _case("25 mm, sealed", reference_wall(0.025), 8, _uniform(50, 100, 200), [0, 0.01, 0.025], times_h=[2, 3, 4]),
    "R-50mm": _case("50 mm, sealed", reference_wall(0.050), 12, _uniform(100, 200, 400), [0, 0.01, 0.025, 0.05], times_h=[2, 4, 6]),
    "R-100mm": _case("100 mm, sealed", reference_wall(0.100), 24, _uniform(100, 200, 400), [0, 0.02, 0.05, 0.1], times_h=[4, 8, 12]),
    "R-200mm": _case("200 mm, sealed", reference_wall(0.200), 72, _uniform(100, 200, 400), [0, 0.02, 0.05, 0.1, 0.2], times_h=[6, 12, 24, 48]),
    "R-k-tenth": _case("permeability / 10", reference_wall(log10_k_shift=-1), 16, _uniform(100, 200, 400), R_DEPTHS, times_h=R_TIMES),
    "R-k-x100": _case("permeability x 100", reference_wall(log10_k_shift=2), 12, _uniform(100, 200, 400), R_DEPTHS, times_h=R_TIMES),
    # -- several layers
    "fibre-soaking": _case(
        "12 mm insulating castable on 50 mm fibre (porosity 0.95: soaks up what is driven in) on 3 mm sealed steel, 200 K/h",
        thin_on_fibre(0.95, 10.0), 7, [[24, 50, 3], [48, 100, 3], [96, 200, 4]],
        [0, 0.006, 0.012, 0.022, 0.037, 0.062, 0.065], times_h=[1, 2, 3, 4, 5, 6],
    ),
    "fibre-dry": _case(
        "the same with a fibre of little sorption (porosity 0.05 holds at most 50 kg/m3)",
        thin_on_fibre(0.05, 10.0), 6, [[24, 50, 3], [48, 100, 3], [96, 200, 4]],
        [0, 0.006, 0.012, 0.022, 0.037, 0.062, 0.065], times_h=[1, 2, 3, 4, 5, 6],
    ),
    "barrel-surface": _case(
        "bore 150 mm, 25 mm dense on 50 mm insulating castable, vented; hot FACE 100 K/h, 2 h at 250 C, to 600 C",
        barrel("surface"), 14, [[40, 50], [80, 100], [160, 200]],
        [0, 0.008, 0.016, 0.025, 0.040, 0.055, 0.075], times_h=[1, 2, 3, 4, 5, 6, 8, 12],
    ),
    "barrel-gas": _case(
        "the same with the GAS on that curve, h 20, emissivity 0.8",
        barrel("gas"), 14, [[40, 50], [80, 100], [160, 200]],
        [0, 0.008, 0.016, 0.025, 0.040, 0.055, 0.075], times_h=[1, 2, 3, 4, 5, 6, 8, 12],
    ),
    # -- behaviour seen in experiments
    "holds-150C-3h": _case("gas held 3 h at 150 C", held(150, 3), 16, _uniform(100, 200), R_DEPTHS, times_h=[1.3, 4.3]),
    "holds-150C-6h": _case("gas held 6 h at 150 C", held(150, 6), 19, _uniform(100, 200), R_DEPTHS, times_h=[1.3, 7.3]),
    "holds-250C-3h": _case("gas held 3 h at 250 C", held(250, 3), 16, _uniform(100, 200), R_DEPTHS, times_h=[2.3, 5.3]),
    "faces-both-open": _case("R, both faces open", faces(True, True), 12, _uniform(100, 200), R_DEPTHS, times_h=R_TIMES),
    "faces-cold-sealed": _case("R, cold face sealed", faces(True, False), 12, _uniform(100, 200), R_DEPTHS, times_h=R_TIMES),
    "faces-hot-sealed": _case("R, hot face sealed", faces(False, True), 14, _uniform(100, 200), R_DEPTHS, times_h=R_TIMES),
}

for _lk in (2, 1, 0, -1):
    for _rate in (1, 5):
        CASES[f"plate-k1e{_lk - 16}-{_rate}K"] = _case(
            f"40 mm plate heated on both faces at {_rate} K/min, permeability at 100 C 1e{_lk - 16} m2 (half of it)",
            plate(_rate, _lk), 8 if _rate == 1 else 2.6, _uniform(50, 100), [0, 0.01, 0.02], times_h=[2], kind="plate",
        )
for _ts, _k in ((200, 1e-16), (300, 1e-17), (300, 1e-16), (300, 1e-15), (600, 1e-16), (600, 1e-15)):
    CASES[f"sharp-{_ts}C-{_k:.0e}".replace("e-", "em")] = _case(
        f"sharp front limit, surface {_ts} C, k {_k:.0e} m2",
        sharp_front(_ts, _k), 1, _uniform(100, 200), [0.02], times_h=[0.5, 1], kind="sharp", grading=8.0, ends="hot", rtol=1e-5,
        options={"m_const": 0.05, "c_l": 0.0, "carry": False},
    )
