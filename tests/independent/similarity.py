"""Exact heat and steam front in a half space, and small algebraic checks.  Usage: similarity.py

The front is at x = s sqrt(t), at temperature T_f and pressure Psat(T_f). Heat: conduction on both sides of the front
(Carslaw and Jaeger, section 11.2) feeds the latent heat of the water there; steam: compressible Darcy flow through the
dry side carries that water out. T_f follows from the two.
"""

import numpy as np
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import erf, erfc
from wall import C_W, RV, STEAM, FitSteam, Iapws86, P_ATM, Wall, psat, reference_wall


def sharp(surface_c, k, lat=FitSteam.latent, w=130.0, lam=1.2, dry=2.2e6, start_c=20.0, outside=P_ATM):
    """T_f in degrees C, P_f in Pa, s in m/s^0.5."""
    wet = dry + w * C_W
    ad, aw = lam / dry, lam / wet
    at = lambda law, tc: float(law(np.array([tc + 273.15]))[0])

    def growth(tf):
        def heat(l):
            hot = lam * (surface_c - tf) * np.exp(-l * l) / (np.sqrt(np.pi * ad) * erf(l))
            out = l * np.sqrt(ad / aw)
            cold = lam * (tf - start_c) * np.exp(-out * out) / (np.sqrt(np.pi * aw) * erfc(out))
            return hot - cold - w * at(lat, tf) * l * np.sqrt(ad)

        return brentq(heat, 1e-5, 2)

    def steam(tf):
        l = growth(tf)
        s = 2 * l * np.sqrt(ad)
        temp = lambda z: surface_c - (surface_c - tf) * erf(l * z) / erf(l)
        drag = quad(lambda z: (8.85e-6 + 3.53e-8 * temp(z)) * (temp(z) + 273.15), 0, 1)[0]
        return at(lambda T: psat(T)[0], tf) ** 2 - outside**2 - w * s * s * RV / k * drag

    tf = brentq(steam, 100.01, min(surface_c - 0.01, 340))
    return tf, at(lambda T: psat(T)[0], tf), 2 * growth(tf) * np.sqrt(ad)


def sharp_front_exact(spec):
    """Exact numbers of a frozen sharp case, from its parameters."""
    surface = spec["hot_face"]["surface_temp_c"][-1][1]
    tf, pf, s = sharp(surface, 10 ** spec["layers"][0]["permeability_log10_m2"])
    return {"front_c": round(tf, 3), "front_mpa": round(pf / 1e6, 5), "front_mm": round(s * 60 * 1e3, 4)}


def sealed_element(temp_c, steam, vapour):
    """Pressure, Pa, of a sealed element of porosity 0.2 with 130 kg/m3 of water."""
    spec = reference_wall()
    spec["start_temp_c"] = temp_c
    return float(Wall(spec, 4, steam=steam, vapour_storage=vapour).initial()[1])


def main():
    """Prints both tables."""
    print("sealed element, kPa at 100 150 200 250 C (printed: 75.90 391.19 1375.1 3725.3)")
    for law in STEAM:
        for vapour in (False, True):
            row = " ".join(f"{sealed_element(t, law, vapour) / 1e3:9.2f}" for t in (100, 150, 200, 250))
            print(f"  {law:6s} {'with' if vapour else 'without'} vapour: {row}")
    for name, lat in (("fit", FitSteam.latent), ("iapws", Iapws86.latent)):
        print(f"sharp front, C / MPa / mm after 1 h, L {name}")
        for k in (1e-17, 1e-16, 1e-15, 1e-14):
            cells = (sharp(ts, k, lat) for ts in (200, 300, 450, 600))
            print(f"  {k:.0e}", *(f"{a:.2f}/{p / 1e6:.4f}/{s * 6e4:.3f}" for a, p, s in cells))


if __name__ == "__main__":
    main()
