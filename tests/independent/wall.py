"""Heat, water and steam pressure in a wall on its first heat, by the method of lines.

An independent discretisation of the wall model: cell-centred finite volumes in space and scipy's variable-order
BDF in time, against which the engine is checked. Nothing here is shared with the engine but the equations.

Unknowns per cell, interleaved: T (K), P (Pa), a (degree of dehydration, 0 to 1); two more at the end, the water
that has left through the hot and the cold face. SI throughout; T in K inside, in degrees C in the parameter files. A wall is described by a plain dictionary (see README.md), so that a frozen case
carries all its parameters with it.
"""

import copy

import numpy as np
from scipy.integrate import BDF
from scipy.sparse import coo_matrix, csc_matrix

RV = 461.5  # gas constant of water vapour, J/(kg K)
SIGMA = 5.670374419e-8  # Stefan-Boltzmann, W/(m2 K4)
C_W = 4186.0  # specific heat of water, J/(kg K)
ZERO_C = 273.15
P_ATM = 101325.0

# ---------------------------------------------------------------- steam
_N4 = (
    0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5, -0.32325550322333e7,
    0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6, -0.23855557567849, 0.65017534844798e3,
)  # fmt: skip
T_IF97 = 640.0


def _psat_if97(T):
    n = _N4
    th = T + n[8] / (T - n[9])
    A = th * th + n[0] * th + n[1]
    B = n[2] * th * th + n[3] * th + n[4]
    C = n[5] * th * th + n[6] * th + n[7]
    return 1e6 * (2 * C / (-B + np.sqrt(B * B - 4 * A * C))) ** 4


def _ln_psat_slope(T):
    """d ln Psat / dT, 1/K, from the closed form."""
    n = _N4
    th = T + n[8] / (T - n[9])
    dth = 1 - n[8] / (T - n[9]) ** 2
    A, dA = th * th + n[0] * th + n[1], 2 * th + n[0]
    B, dB = n[2] * th * th + n[3] * th + n[4], 2 * n[2] * th + n[3]
    C, dC = n[5] * th * th + n[6] * th + n[7], 2 * n[5] * th + n[6]
    root = np.sqrt(B * B - 4 * A * C)
    bottom = -B + root
    dbottom = -dB + (B * dB - 2 * dA * C - 2 * A * dC) / root
    return 4 * (dC / C - dbottom / bottom) * dth


P_IF97 = float(_psat_if97(np.float64(T_IF97)))


def psat(T):
    """Saturation pressure, Pa, and d ln Psat/dT, 1/K (IAPWS-IF97 region 4 to 640 K, Clausius-Clapeyron beyond)."""
    low = np.minimum(T, T_IF97)
    above = T > T_IF97
    p = np.where(above, P_IF97 * np.exp(4898.3 * (1 / T_IF97 - 1 / T)), _psat_if97(low))
    slope = np.where(above, 4898.3 / T**2, _ln_psat_slope(low))
    return p, slope


class FitSteam:
    """Closed forms within 1 to 2 % of IAPWS: what the published table of the reference wall was computed with."""

    name = "fit"

    @staticmethod
    def rho_l(T):
        """Density of liquid water, kg/m3, and its slope in T."""
        tc = np.clip(T - ZERO_C, 1e-3, 374.1)
        y = tc / 374.14
        inner = 1 - y ** (1 / 0.55)
        rho = 314.4 + 685.6 * inner**0.55
        slope = -685.6 * inner ** (0.55 - 1) * y ** (1 / 0.55 - 1) / 374.14
        return rho, np.where((T - ZERO_C > 1e-3) & (T - ZERO_C < 374.1), slope, 0.0)

    @staticmethod
    def latent(T):
        """Heat of evaporation, J/kg."""
        return 2.672e5 * np.maximum(647.3 - T, 0.0) ** 0.38


class Iapws86:
    """IAPWS supplementary release SR1-86: saturated liquid density and heat of evaporation."""

    name = "iapws"
    TC, PC, RHOC = 647.096, 22.064e6, 322.0
    B = (1.99274064, 1.09965342, -0.510839303, -1.75493479, -45.5170352, -6.74694450e5)
    BE = (1 / 3, 2 / 3, 5 / 3, 16 / 3, 43 / 3, 110 / 3)
    C = (-2.03150240, -2.68302940, -5.38626492, -17.2991605, -44.7586581, -63.9201063)
    CE = (2 / 6, 4 / 6, 8 / 6, 18 / 6, 37 / 6, 71 / 6)

    @classmethod
    def rho_l(cls, T):
        """Density of saturated liquid water, kg/m3, and its slope in T."""
        theta = np.maximum(1 - T / cls.TC, 1e-3)
        r = np.ones_like(theta)
        d = np.zeros_like(theta)
        for b, e in zip(cls.B, cls.BE):
            r = r + b * theta**e
            d = d + b * e * theta ** (e - 1)
        return cls.RHOC * r, np.where(1 - T / cls.TC > 1e-3, -cls.RHOC * d / cls.TC, 0.0)

    @classmethod
    def _rho_v(cls, T):
        theta = np.maximum(1 - T / cls.TC, 0.0)
        ln = np.zeros_like(theta)
        for c, e in zip(cls.C, cls.CE):
            ln = ln + c * theta**e
        return cls.RHOC * np.exp(ln)

    @classmethod
    def latent(cls, T):
        """Heat of evaporation from Clausius-Clapeyron, L = T (v_g - v_l) dPsat/dT, J/kg."""
        t = np.minimum(T, cls.TC - 0.7)
        p, slope = psat(t)
        rho_l, _ = cls.rho_l(t)
        out = t * (1 / cls._rho_v(t) - 1 / rho_l) * p * slope
        return np.where(T < cls.TC, out, 0.0)


class Table:
    """A steam law on a fine table (0.1 K, linear), for speed: the difference is below 1e-6."""

    def __init__(self, law):
        self.name = law.name
        self.lo, self.step = 250.0, 0.1
        grid = np.arange(self.lo, 1900.0, self.step)
        self.cols = [psat(grid)[0], psat(grid)[1], law.rho_l(grid)[0], law.rho_l(grid)[1], law.latent(grid)]
        self.cols[0] = np.log(self.cols[0])
        self.grid = grid

    def all(self, T):
        """Psat, its log slope, rho_l, its slope, L."""
        x = np.clip(np.nan_to_num((T - self.lo) / self.step), 0, len(self.grid) - 1.001)  # wild Newton guesses
        i = x.astype(int)
        f = x - i
        lnp, dlnp, rho, drho, lat = [c[i] + f * (c[i + 1] - c[i]) for c in self.cols]
        return np.exp(lnp), dlnp, rho, drho, lat


STEAM = {"fit": Table(FitSteam), "iapws": Table(Iapws86)}


def sorption(h, T, m_const=None):
    """Saturation s(h, T) with ds/dh and ds/dT at constant h."""
    if m_const is None:
        tc10 = T - ZERO_C + 10
        t = (tc10 / 35) ** 2
        m = 1.04 - t / (22.34 + t)
        dm = -22.34 / (22.34 + t) ** 2 * 2 * tc10 / 35**2
    else:
        m, dm = m_const + 0 * T, 0 * T
    h = np.maximum(h, 1e-12)
    lnh = np.log(h)
    lo = np.exp(np.minimum(lnh, np.log(0.96)) / m)
    lo_h, lo_T = lo / (m * h), -lo * lnh / m**2 * dm
    # cubic bridge
    A = 0.96 ** (1 / m)
    dA = -A * np.log(0.96) / m**2 * dm
    D, dD = A / (0.96 * m), (dA / m - A * dm / m**2) / 0.96
    w = 0.08
    x = np.clip((h - 0.96) / w, 0, 1)
    h00, h10, h01, h11 = 1 - 3 * x**2 + 2 * x**3, x - 2 * x**2 + x**3, 3 * x**2 - 2 * x**3, x**3 - x**2
    g00, g10, g01, g11 = 6 * x**2 - 6 * x, 1 - 4 * x + 3 * x**2, 6 * x - 6 * x**2, 3 * x**2 - 2 * x
    mid = h00 * A + h10 * w * D + h01 + h11 * w * 0.12
    mid_h = (g00 * A + g01) / w + g10 * D + g11 * 0.12
    mid_T = h00 * dA + h10 * w * dD
    is_lo, is_hi = h <= 0.96, h >= 1.04
    s = np.where(is_lo, lo, np.where(is_hi, 1 + 0.12 * (h - 1.04), mid))
    s_h = np.where(is_lo, lo_h, np.where(is_hi, 0.12, mid_h))
    s_T = np.where(is_lo, lo_T, np.where(is_hi, 0.0, mid_T))
    return s, s_h, s_T


# ---------------------------------------------------------------- options
DEFAULT_OPTIONS = {
    "steam": "fit",  # rho_l and L: "fit" or "iapws"
    "vapour_storage": True,  # the phi (1-s) P/(Rv T) term
    "inflow": False,  # vapour may also enter through a face
    "c_l": 0.01,
    "krg_exponent": 2,
    "carry": True,  # the c_w J grad T term
    "latent": "vapour",  # "vapour": L div Jv; "all": L div J
    "m_const": None,
    "face_mobility": "all",  # half cell at a face: "all" mv+ml, "vapour" mv only
    "dehydration_heat": 1.0,  # factor on dHd, -1 turns the sign
}


def _curve(spec):
    """x and y of a curve given as a number or as [[x, y], ...]."""
    if np.isscalar(spec):
        return np.array([0.0, 1.0]), np.array([float(spec)] * 2)
    pts = np.array(spec, float)
    return pts[:, 0], pts[:, 1]


def graded(length, cells, ratio, ends="both"):
    """Widths of `cells` cells on `length`, `ratio` times as wide in the middle as at both ends, or as at the hot end."""
    x = 1 - np.abs(np.linspace(-1, 1, cells)) if ends == "both" else np.linspace(0, 1, cells)
    width = ratio**x
    return width * length / width.sum()


class Wall:
    """A wall cut into cells, ready to be integrated."""

    def __init__(self, spec, cells, grading=1.0, ends="both", **options):
        self.spec = spec
        self.opt = {**DEFAULT_OPTIONS, **options}
        self.steam = STEAM[self.opt["steam"]]
        layers = spec["layers"]
        if np.isscalar(cells):
            total = sum(l["thickness_m"] for l in layers)
            cells = [max(4, round(cells * l["thickness_m"] / total)) for l in layers]
        widths = [graded(l["thickness_m"], n, grading, ends) for l, n in zip(layers, cells)]
        self.dx = np.concatenate(widths)
        self.n = n = len(self.dx)
        self.layer = np.repeat(np.arange(len(layers)), cells)
        edge = np.concatenate([[0], np.cumsum(self.dx)])
        self.edge, self.x = edge, 0.5 * (edge[1:] + edge[:-1])
        geo = spec["geometry"]
        if geo["kind"] == "planar":
            self.area = np.ones(n + 1)
            self.vol = self.dx.copy()
            self.gap_lo, self.gap_hi = self.dx / 2, self.dx / 2  # from the centre to either face
        else:
            r0 = geo["inner_radius_m"]
            re, rc = r0 + edge, r0 + self.x
            self.area = re / r0  # per m2 of hot face
            self.vol = 0.5 * (re[1:] ** 2 - re[:-1] ** 2) / r0
            # log distance times the face radius: flux density at the face = lambda dT / gap
            self.gap_lo = re[:-1] * np.log(rc / re[:-1])
            self.gap_hi = re[1:] * np.log(re[1:] / rc)
        self.porous = np.array([not layers[i].get("impermeable", False) for i in self.layer])
        per = lambda key, default=0.0: np.array([layers[i].get(key, default) for i in self.layer], float)
        self.rho_s, self.phi = per("density_kg_m3"), per("porosity")
        self.w0, self.wd = per("water_kg_m3"), per("bound_water_kg_m3")
        self.dhd, self.tau = per("dehydration_heat_j_kg"), per("dehydration_time_s", 600.0)
        self.spans = []
        start = 0
        for l, c in zip(layers, cells):
            self.spans.append((slice(start, start + c), l))
            start += c
        self.curves = [
            (
                sl,
                _curve(l["conductivity_w_mk"]),
                _curve(l["heat_capacity_j_kgk"]),
                _curve(l.get("permeability_log10_m2", -30.0)),
                _curve(l.get("dehydration", 0.0)),
                l.get("impermeable", False),
            )
            for sl, l in self.spans
        ]
        self.same = self.layer[1:] == self.layer[:-1]
        self.open_face = self.porous[1:] & self.porous[:-1]
        self.hot, self.cold = spec["hot_face"], spec["cold_face"]
        self.total_water = float(((self.w0 + self.wd) * self.vol).sum())
        self.ts_hot = spec["start_temp_c"] + ZERO_C
        self.ts_cold = self.ts_hot

    # -- properties
    def _per_layer(self, T):
        tc = T - ZERO_C
        lam, cap, k, aeq = (np.empty(self.n) for _ in range(4))
        for sl, cl, cc, ck, ca, _ in self.curves:
            t = tc[sl]
            lam[sl] = np.interp(t, *cl)
            cap[sl] = np.interp(t, *cc)
            k[sl] = 10 ** np.interp(t, *ck)
            aeq[sl] = np.interp(t, *ca)
        return lam, cap, k, aeq

    def storage(self, T, P):
        """w, dw/dP, dw/dT, s and latent heat, rho_l."""
        ps, dlnps, rho, drho, lat = self.steam.all(T)
        h = P / ps
        s, s_h, s_T = sorption(h, T, self.opt["m_const"])
        s_P = s_h / ps
        s_T = s_T - s_h * h * dlnps
        w = rho * s
        w_P, w_T = rho * s_P, rho * s_T + drho * s
        if self.opt["vapour_storage"]:
            gas = np.maximum(1 - s, 0)
            on = (s < 1).astype(float)
            rv = P / (RV * T)
            w = w + gas * rv
            w_P = w_P + gas / (RV * T) - on * s_P * rv
            w_T = w_T - gas * rv / T - on * s_T * rv
        return self.phi * w, self.phi * w_P, self.phi * w_T, s, lat, rho

    def initial(self):
        """State with every cell at the start temperature and its own w0."""
        T = np.full(self.n, self.spec["start_temp_c"] + ZERO_C)
        ps = self.steam.all(T)[0]
        lo, hi = np.full(self.n, 1e-9), np.full(self.n, 50.0)
        for _ in range(200):
            mid = np.sqrt(lo * hi)
            w = self.storage(T, mid * ps)[0]
            lo, hi = np.where(w < self.w0, mid, lo), np.where(w < self.w0, hi, mid)
        P = np.where(self.porous, np.sqrt(lo * hi) * ps, 1000.0)
        y = np.zeros(3 * self.n + 2)
        y[0:-2:3], y[1:-1:3] = T, P
        return y

    def _surface(self, face, t, T, lam, gap, guess):
        """Surface temperature and heat flux into the wall, W/m2."""
        if "surface_temp_c" in face:
            Ts = np.interp(t, *_curve(face["surface_temp_c"])) + ZERO_C
            return Ts, lam / gap * (Ts - T)
        Tg = np.interp(t, *_curve(face["gas_temp_c"])) + ZERO_C
        hc, es, g = face["h_w_m2k"], face.get("emissivity", 0.0) * SIGMA, lam / gap
        Ts = min(max(guess, min(T, Tg)), max(T, Tg))
        for _ in range(50):
            f = hc * (Tg - Ts) + es * (Tg**4 - Ts**4) - g * (Ts - T)
            step = f / (hc + 4 * es * Ts**3 + g)
            Ts += step
            if abs(step) < 1e-10 * Ts:
                break
        return Ts, g * (Ts - T)

    def _escape(self, face, P, mob, gap):
        """Vapour leaving through a face, kg/(m2 s)."""
        beta = face.get("beta_kg_m2spa", 0.0)
        if beta <= 0:
            return 0.0
        drive = P - face["ambient_pressure_pa"]
        if drive < 0 and not self.opt["inflow"]:
            return 0.0
        return drive / (1 / beta + gap / max(mob, 1e-300))

    def fluxes(self, t, y):
        """Everything the balances need."""
        T, P = y[0:-2:3], np.maximum(y[1:-1:3], 1e-6)
        lam, cap, k, aeq = self._per_layer(T)
        w, w_P, w_T, s, lat, rho = self.storage(T, P)
        S = np.clip(s, 0, 1)
        tc = T - ZERO_C
        mv = k * np.maximum(1 - S, 1e-3) ** self.opt["krg_exponent"] * P / (RV * T * (8.85e-6 + 3.53e-8 * tc))
        ml = k * self.opt["c_l"] * S**4 * rho / (0.6612 * (T - 229) ** -1.562)
        g_lo, g_hi = self.gap_lo[1:], self.gap_hi[:-1]  # either side of an inner face: cell above, cell below
        gap = g_lo + g_hi
        q = np.empty(self.n + 1)
        q[1:-1] = -(T[1:] - T[:-1]) / (g_hi / lam[:-1] + g_lo / lam[1:])

        def face_mobility(m):
            mean = 0.5 * (m[1:] + m[:-1])
            series = gap / (g_hi / np.maximum(m[:-1], 1e-300) + g_lo / np.maximum(m[1:], 1e-300))
            return np.where(self.same, mean, series)

        dP = (P[1:] - P[:-1]) / gap
        jv, jl = np.zeros(self.n + 1), np.zeros(self.n + 1)
        jv[1:-1] = np.where(self.open_face, -face_mobility(mv) * dP, 0.0)
        if self.opt["c_l"] > 0:
            jl[1:-1] = np.where(self.open_face, -face_mobility(ml) * dP, 0.0)
        self.ts_hot, q[0] = self._surface(self.hot, t, T[0], lam[0], self.gap_lo[0], self.ts_hot)
        self.ts_cold, q_in = self._surface(self.cold, t, T[-1], lam[-1], self.gap_hi[-1], self.ts_cold)
        q[-1] = -q_in
        self.mobility = mv + ml
        edge_m = mv + ml if self.opt["face_mobility"] == "all" else mv
        if self.porous[0]:
            jv[0] = -self._escape(self.hot, P[0], edge_m[0], self.gap_lo[0])
        if self.porous[-1]:
            jv[-1] = self._escape(self.cold, P[-1], edge_m[-1], self.gap_hi[-1])
        return T, P, q, jv, jl, w, w_P, w_T, lat, cap, aeq

    def rhs(self, t, y):
        """Time derivative of the state."""
        T, P, q, jv, jl, w, w_P, w_T, lat, cap, aeq = self.fluxes(t, y)
        A, V = self.area, self.vol
        j = jv + jl
        da = np.where(self.wd > 0, np.maximum(aeq - y[2:-1:3], 0) / self.tau, 0.0)
        div_j = (A[1:] * j[1:] - A[:-1] * j[:-1]) / V
        div_lat = (A[1:] * jv[1:] - A[:-1] * jv[:-1]) / V if self.opt["latent"] == "vapour" else div_j
        heat = -(A[1:] * q[1:] - A[:-1] * q[:-1]) / V - lat * div_lat
        heat -= self.wd * self.dhd * self.opt["dehydration_heat"] * da
        if self.opt["carry"]:
            # water entering a cell brings the temperature of where it comes from
            flow = A[1:-1] * j[1:-1]
            dT = T[1:] - T[:-1]
            gain = np.zeros(self.n)
            gain[1:] -= np.maximum(flow, 0) * dT
            gain[:-1] -= np.minimum(flow, 0) * dT
            heat += C_W * gain / V
        dT = heat / (self.rho_s * cap + C_W * w)
        dw = -div_j + self.wd * da
        dP = np.where(self.porous, (dw - w_T * dT) / np.where(self.porous, w_P, 1.0), 0.0)
        out = np.empty_like(y)
        out[0:-2:3], out[1:-1:3], out[2:-1:3] = dT, dP, da
        out[-2], out[-1] = -A[0] * j[0], A[-1] * j[-1]
        return out

    def jac(self, t, y):
        """Jacobian by differences, nine evaluations: cells three apart do not meet."""
        n = self.n
        f0 = self.rhs(t, y)
        rows, cols, vals = [], [], []
        cell = np.arange(n)
        scale = np.array([1e-5, 0.0, 1e-7])
        for var in range(3):
            step = np.full(n, scale[var])
            if var == 1:
                step = np.maximum(np.abs(y[1:-1:3]), 1.0) * 1e-7
            for colour in range(3):
                pick = cell[cell % 3 == colour]
                yp = y.copy()
                yp[3 * pick + var] += step[pick]
                d = self.rhs(t, yp) - f0
                for off in (-1, 0, 1):
                    target = pick + off
                    ok = (target >= 0) & (target < n)
                    for out in range(3):
                        rows.append(3 * target[ok] + out)
                        cols.append(3 * pick[ok] + var)
                        vals.append(d[3 * target[ok] + out] / step[pick[ok]])
                for row, end in ((3 * n, 0), (3 * n + 1, n - 1)):
                    if end % 3 == colour:
                        rows.append(np.array([row]))
                        cols.append(np.array([3 * end + var]))
                        vals.append(d[row : row + 1] / step[end])
        shape = (3 * n + 2, 3 * n + 2)
        return csc_matrix(coo_matrix((np.concatenate(vals), (np.concatenate(rows), np.concatenate(cols))), shape=shape))

    # -- reading
    def water_left(self, y):
        """Free and bound water, kg per m2 of hot face."""
        w = self.storage(y[0:-2:3], np.maximum(y[1:-1:3], 1e-6))[0]
        return float(((np.where(self.porous, w, 0.0) + self.wd * (1 - y[2:-1:3])) * self.vol).sum())

    def temp_c(self, t, y, depth):
        """Temperature, degrees C, at a depth from the hot face (exact at faces and contacts)."""
        return float(np.interp(depth, *self.profile(t, y))) - ZERO_C

    def profile(self, t, y):
        """Depths and temperatures (K) of cells, faces and contacts."""
        T = y[0:-2:3]
        lam = self._per_layer(T)[0]
        self.fluxes(t, y)
        a, b = lam[:-1] / self.gap_hi[:-1], lam[1:] / self.gap_lo[1:]
        contact = (a * T[:-1] + b * T[1:]) / (a + b)
        x = np.empty(2 * self.n + 1)
        v = np.empty(2 * self.n + 1)
        x[0::2], x[1::2] = self.edge, self.x
        v[1::2], v[2:-1:2] = T, contact
        v[0], v[-1] = self.ts_hot, self.ts_cold
        return x, v

    def pressure(self, t, y, depth):
        """Pore pressure, Pa, at a depth (from the flux at faces and contacts, so not the nearest cell's)."""
        flux = self.fluxes(t, y)
        P, jv, m = flux[1], flux[3], self.mobility
        x = np.empty(2 * self.n + 1)
        v = np.empty(2 * self.n + 1)
        x[0::2], x[1::2] = self.edge, self.x
        v[1::2] = P
        a, b = m[:-1] / self.gap_hi[:-1], m[1:] / self.gap_lo[1:]
        v[2:-1:2] = (a * P[:-1] + b * P[1:]) / np.maximum(a + b, 1e-300)
        v[0], v[-1] = self._face_pressure(self.hot, P[0], -jv[0]), self._face_pressure(self.cold, P[-1], jv[-1])
        for i in np.flatnonzero(~self.open_face):  # a tight layer: the porous side's own pressure
            v[2 * i + 2] = P[i] if self.porous[i] else P[i + 1]
        near = np.repeat(True, 2 * self.n + 1)
        near[1::2] = self.porous
        near[2:-1:2] = ~self.same
        return float(np.interp(depth, x[near], v[near]))

    @staticmethod
    def _face_pressure(face, inside, out):
        beta = face.get("beta_kg_m2spa", 0.0)
        return face["ambient_pressure_pa"] + out / beta if beta > 0 and out > 0 else inside


def breakpoints(spec, t_end):
    """Times at which a boundary curve bends."""
    ts = {0.0, float(t_end)}
    for face in (spec["hot_face"], spec["cold_face"]):
        for key in ("gas_temp_c", "surface_temp_c"):
            if key in face and not np.isscalar(face[key]):
                ts |= {float(p[0]) for p in face[key] if 0 < p[0] < t_end}
    return sorted(ts)


def run(wall, t_end, times=(), rtol=1e-5, max_step=300.0, on_step=None, dry_stop=None):
    """Integrates `wall` to t_end. Returns states at `times`, the peak and the drying."""
    y = wall.initial()
    at = {}
    times = sorted(times)
    atol = np.empty_like(y)
    atol[0:-2:3], atol[1:-1:3], atol[2:-1:3] = 1e3 * rtol * 0.1, 1e6 * rtol * 0.1, rtol * 0.1
    atol[-2:] = (wall.total_water or 1.0) * rtol * 0.1
    track = [(0.0, *_peak_place(wall, y), 0.0, 0.0)]
    start = wall.water_left(y)
    steps = 0
    marks = breakpoints(wall.spec, t_end)
    done = False
    for t0, t1 in zip(marks[:-1], marks[1:]):
        solver = BDF(
            wall.rhs, t0, y, t1, rtol=rtol, atol=atol, max_step=max_step, first_step=min(0.01, t1 - t0), jac=wall.jac
        )
        while solver.status == "running":
            message = solver.step()
            if solver.status == "failed":
                raise RuntimeError(f"at {solver.t:.3f} s: {message}")
            steps += 1
            inside = [t for t in times if solver.t_old < t <= solver.t and t not in at]
            if inside:
                dense = solver.dense_output()
                for t in inside:
                    at[t] = dense(t)
            gone = float(solver.y[-2] + solver.y[-1])
            track.append((solver.t, *_peak_place(wall, solver.y), gone, start - wall.water_left(solver.y) - gone))
            if on_step:
                on_step(solver.t, solver.y)
            if dry_stop and track[-1][3] > dry_stop * wall.total_water:
                done = True
                break
        y = solver.y
        if done:
            break
    return Result(wall, at, np.array(track), y, steps, start)


def _peak_place(wall, y):
    P = np.where(wall.porous, y[1:-1:3], 0.0)
    i = int(P.argmax())
    x, p = wall.x[i], P[i]
    same = lambda k: 0 <= k < wall.n and wall.layer[k] == wall.layer[i]
    if same(i - 1) and same(i + 1):
        c = np.polyfit(wall.x[i - 1 : i + 2] - x, P[i - 1 : i + 2] - p, 2)
        if c[0] < 0:
            s = -c[1] / (2 * c[0])
            if abs(s) < wall.dx[i]:
                x, p = x + s, p + c[2] - c[1] ** 2 / (4 * c[0])
    elif i == wall.n - 1 or not same(i + 1):
        if i + 1 >= wall.n or not wall.porous[i + 1]:
            x = wall.edge[i + 1]
    return p, x


class Result:
    """What a run left behind."""

    def __init__(self, wall, at, track, y, steps, start):
        self.wall, self.at, self.track, self.y, self.steps, self.start = wall, at, track, y, steps, start

    @property
    def peak(self):
        """Peak pressure Pa, time s, depth m."""
        tr = self.track
        i = int(tr[:, 1].argmax())
        t, p = tr[i, 0], tr[i, 1]
        if 0 < i < len(tr) - 1:
            c = np.polyfit(tr[i - 1 : i + 2, 0] - t, tr[i - 1 : i + 2, 1] - p, 2)
            if c[0] < 0:
                s = -c[1] / (2 * c[0])
                if tr[i - 1, 0] - t < s < tr[i + 1, 0] - t:
                    t, p = t + s, p + c[2] - c[1] ** 2 / (4 * c[0])
        return p, t, tr[i, 2]

    def dry_time(self, share):
        """When `share` of all water (free and bound) has left, s; None if never."""
        lost = self.track[:, 3] / self.wall.total_water
        i = int((lost >= share).argmax())
        if lost[i] < share:
            return None
        return float(np.interp(share, lost[i - 1 : i + 1], self.track[i - 1 : i + 1, 0]))

    def lost(self, t):
        """Water that has left through the faces by an output time, kg per m2 of hot face."""
        return float(self.at[t][-2] + self.at[t][-1])

    @property
    def imbalance(self):
        """Largest water that went missing, as a share of all water."""
        return float(np.abs(self.track[:, 4]).max() / self.wall.total_water)


def ramp(rate_k_h, top_c, start_c=20.0):
    """Gas curve of one ramp and an endless hold."""
    rise = (top_c - start_c) / rate_k_h * 3600
    return [[0.0, start_c], [rise, top_c], [1e9, top_c]]


def reference_wall(thickness_m=0.075, rate_k_h=100.0, log10_k_shift=0.0, back_open=False, inner_radius_m=None):
    """The reference wall R and its family."""
    beta_back = 1e-7 if back_open else 0.0
    return {
        "geometry": {"kind": "planar"} if inner_radius_m is None else {"kind": "radial", "inner_radius_m": inner_radius_m},
        "start_temp_c": 20.0,
        "layers": [
            {
                "name": "castable",
                "thickness_m": thickness_m,
                "density_kg_m3": 2200.0,
                "heat_capacity_j_kgk": 1000.0,
                "conductivity_w_mk": 1.2,
                "porosity": 0.20,
                "water_kg_m3": 130.0,
                "bound_water_kg_m3": 100.0,
                "dehydration_heat_j_kg": 1.5e6,
                "dehydration_time_s": 600.0,
                "dehydration": [[100, 0], [200, 0.30], [230, 0.35], [330, 0.90], [600, 1.0]],
                "permeability_log10_m2": [[t, v + log10_k_shift] for t, v in ((100, -16), (400, -15), (800, -14))],
            }
        ],
        "hot_face": {
            "h_w_m2k": 20.0,
            "emissivity": 0.8,
            "beta_kg_m2spa": 1e-7,
            "ambient_pressure_pa": 1500.0,
            "gas_temp_c": ramp(rate_k_h, 600.0),
        },
        "cold_face": {
            "h_w_m2k": 10.0,
            "emissivity": 0.0,
            "beta_kg_m2spa": beta_back,
            "ambient_pressure_pa": 1500.0,
            "gas_temp_c": [[0.0, 20.0], [1e9, 20.0]],
        },
    }


def changed(spec, **paths):
    """A copy of `spec` with entries of its first layer replaced."""
    out = copy.deepcopy(spec)
    out["layers"][0].update(paths)
    return out
