"""The layered piezo plate of docs/models/disc.md by ring elements, with NumPy and SciPy: deflection
under point loads, charge per newton, capacitance. Written from the equations of that page, not from
the C sources: it is the other side of a comparison, and the yardstick of a benchmark.

w towards the ceramic, u and v outwards and around, cos(n theta) in each; w cubic (w and w' at the
nodes), u and v quadratic. SI units."""
import numpy as np
from scipy.linalg import solveh_banded

VACUUM = 8.8541878128e-12
HARMONICS = 24
BAND = 10  # rows of the lower band: ten unknowns an element
X, W = np.polynomial.legendre.leggauss(5)
X, W = 0.5 * (X + 1.0), 0.5 * W


def cubic(x, h):
    """w, w', w'' of the four cubic functions, last axis"""
    one = np.ones_like(x)
    w = np.stack([1 - 3 * x**2 + 2 * x**3, h * x * (1 - x)**2, x**2 * (3 - 2 * x),
                  h * x**2 * (x - 1)], -1)
    d = np.stack([6 * x * (x - 1) / h, (1 - x) * (1 - 3 * x), 6 * x * (1 - x) / h,
                  x * (3 * x - 2)], -1)
    dd = np.stack([(12 * x - 6) / h**2, (6 * x - 4) / h, (6 - 12 * x) / h**2,
                   (6 * x - 2) / h * one], -1)
    return w, d, dd


class Zone:
    """A, B, D and the loads per volt of one stack of layers"""

    def __init__(self, layers, field=0.0, e=0.0, middle=0.0):
        self.A, self.B, self.D = np.zeros(2), np.zeros(2), np.zeros(2)
        for z0, z1, q11, q12 in layers:
            q = np.array([q11, q12])
            self.A += q * (z1 - z0)
            self.B += q * (z1**2 - z0**2) / 2
            self.D += q * (z1**3 - z0**3) / 3
        self.D += field
        self.N, self.M = e, e * middle

    def matrix(self):
        """resultants from er et g kr kt krt"""
        def plane(a):
            return np.array([[a[0], a[1], 0], [a[1], a[0], 0], [0, 0, (a[0] - a[1]) / 2]])
        A, B, D = plane(self.A), plane(self.B), plane(self.D)
        return np.block([[A, B], [B, D]])


def zones_of(p):
    """[(outer radius, zone)], capacitance that is left when nothing can move"""
    tm, tc = p["disc.metal_thickness"], p["disc.ceramic_thickness"]
    tb, ts = p.get("disc.bond_thickness", 0.0), p.get("disc.silver_thickness", 0.0)
    s11, s12, d31 = (p["disc.ceramic_" + k] for k in ("s11", "s12", "d31"))
    # scatter of one disc: the charge goes with the capacitance (docs/models/disc.md 3a)
    factor = p.get("disc.capacitance_factor", 1.0)
    d31 *= p.get("disc.charge_factor", 1.0) * factor**0.85
    q11, q12 = s11 / (s11**2 - s12**2), -s12 / (s11**2 - s12**2)
    e = d31 / (s11 + s12)
    eps = p["disc.ceramic_permittivity"] * factor * VACUUM - 2 * d31**2 / (s11 + s12)

    def solid(z0, t, kind):
        young, nu = p[f"disc.{kind}_modulus"], p[f"disc.{kind}_poisson"]
        q = young / (1 - nu**2)
        return (z0, z0 + t, q, nu * q)

    metal = [solid(-tm / 2, tm, "metal")]
    z0 = tm / 2 + tb
    glued = metal + ([solid(tm / 2, tb, "bond")] if tb > 0 else [])
    open_ceramic = [(z0, z0 + tc, q11 + e**2 / eps, q12 + e**2 / eps)]
    ceramic = [(z0, z0 + tc, q11, q12)]
    silver = [solid(z0 + tc, ts, "silver")] if ts > 0 else []
    field = e**2 / eps * tc**3 / 12
    R, rc = p["disc.metal_diameter"] / 2, p["disc.ceramic_diameter"] / 2
    re = p.get("disc.electrode_diameter", 0.0) / 2
    re = re if 0 < re < rc else rc
    seen = min(rc, re + 0.46 * tc) if re < rc else rc
    middle = z0 + tc / 2
    zones = [(re, Zone(glued + ceramic + silver, field, e, middle)),
             (seen, Zone(glued + ceramic, field, e, middle)),
             (rc, Zone(glued + open_ceramic)), (R, Zone(metal))]
    kept = [zone for i, zone in enumerate(zones) if i == 0 or zone[0] > zones[i - 1][0]]
    return kept, eps * np.pi * seen**2 / tc


class Disc:
    def __init__(self, p, radii=(), elements=60):
        """p: fields of a design in SI; radii: where nodes are wanted (contacts)"""
        self.zones, blocked = zones_of(p)
        R = self.zones[-1][0]
        self.rs = R if p["support.kind"] == "rim" else p["support.ledge_radius"]
        self.eccentric = p.get("disc.ceramic_eccentricity", 0.0)
        self.azimuth = p.get("disc.ceramic_eccentricity_azimuth", 0.0)
        self.sign = {"plus": 1.0, "minus": -1.0}[p["disc.poling"]]
        self._mesh([0.0, self.rs] + [z[0] for z in self.zones], radii, R / elements)
        self._terms()
        self._per_volt(blocked)

    # ---- mesh and matrices ------------------------------------------------------------------
    def _mesh(self, must, wanted, h):
        must = sorted(set(must))
        for r in wanted:
            if min(abs(r - m) for m in must) > h / 10:
                must = sorted(must + [r])
        nodes = [0.0]
        for a, b in zip(must, must[1:]):
            nodes += list(np.linspace(a, b, max(1, int(np.ceil((b - a) / h))) + 1)[1:])
        self.r = np.array(nodes)
        self.elements = len(nodes) - 1
        self.size = 6 * self.elements + 4
        e = 6 * np.arange(self.elements)[:, None]
        a, b = np.tril_indices(10)
        self.lower = (a, b)
        self.place = ((a - b) * self.size + e + b).ravel()
        self.support = 6 * int(np.argmin(abs(self.r - self.rs)))

    def _terms(self):
        """stiffness of every element as a polynomial of degree four in n, and the volt's load"""
        r1, h = self.r[:-1], np.diff(self.r)
        of = np.searchsorted([z[0] for z in self.zones], r1 + h / 2)
        stiff = np.array([z[1].matrix() for z in self.zones])[of]
        r = r1[:, None] + h[:, None] * X
        w, d, dd = cubic(np.broadcast_to(X, r.shape), h[:, None])
        q = np.stack([(1 - X) * (1 - 2 * X), 4 * X * (1 - X), X * (2 * X - 1)], -1)
        q = np.broadcast_to(q, r.shape + (3,))
        dq = np.stack([4 * X - 3, 4 - 8 * X, 4 * X - 1], -1) / h[:, None, None]
        r3 = r[..., None]
        # order in an element: w w' u v | u v | w w' u v
        B = np.zeros((3,) + r.shape + (6, 10))
        at_w, at_u, at_v = [0, 1, 6, 7], [2, 4, 8], [3, 5, 9]
        B[0][..., 3, at_w] = -dd
        B[0][..., 4, at_w] = -d / r3
        B[2][..., 4, at_w] = w / r3**2
        B[1][..., 5, at_w] = 2 * (d / r3 - w / r3**2)
        B[0][..., 0, at_u] = dq
        B[0][..., 1, at_u] = q / r3
        B[1][..., 1, at_v] = q / r3
        B[0][..., 2, at_v] = dq - q / r3
        B[1][..., 2, at_u] = -q / r3
        weight = (W * h[:, None] * r)[..., None, None]
        CB = [weight * (stiff[:, None] @ b) for b in B]
        self.term = np.zeros((5, self.elements, len(self.lower[0])))
        for i in range(3):
            for j in range(3):
                K = np.einsum("egki,egkj->eij", B[i], CB[j], optimize=True)
                self.term[i + j] += K[:, self.lower[0], self.lower[1]]
        N = np.array([z[1].N for z in self.zones])[of][:, None, None]
        M = np.array([z[1].M for z in self.zones])[of][:, None, None]
        load = weight[..., 0] * (N * (B[0][..., 0, :] + B[0][..., 1, :]) +
                                 M * (B[0][..., 3, :] + B[0][..., 4, :]))
        self.volt = np.zeros(self.size)
        np.add.at(self.volt, 6 * np.arange(self.elements)[:, None] + np.arange(10),
                  2 * np.pi * load.sum(1))

    def matrix(self, n):
        """lower band of harmonic n, nothing held yet"""
        K = np.polynomial.polynomial.polyval(float(n), self.term, tensor=False)
        K = K * (2 * np.pi if n == 0 else np.pi)
        return np.bincount(self.place, K.ravel(), BAND * self.size).reshape(BAND, self.size)

    def held(self, n):
        axis = {0: [1, 2, 3], 1: [0, 2, 3]}.get(n, [0, 1, 2, 3])
        around = [self.size - 1] if n == 0 else []  # v alone: a turn of the whole plate
        return axis + around + [self.support]

    def hold(self, K, n):
        for i in self.held(n):
            K[:, i] = 0.0
            k = np.arange(1, min(BAND, i + 1))
            K[k, i - k] = 0.0
            K[0, i] = 1.0
        return K

    def shape(self, radius, derivative=0):
        """row that takes w (or w') at a radius from the unknowns"""
        e = min(int(np.searchsorted(self.r, radius, "right")) - 1, self.elements - 1)
        h = self.r[e + 1] - self.r[e]
        row = np.zeros(self.size)
        row[6 * e + np.array([0, 1, 6, 7])] = cubic(np.float64((radius - self.r[e]) / h),
                                                    h)[derivative]
        return row

    # ---- one volt ---------------------------------------------------------------------------
    def _per_volt(self, blocked):
        f = -self.volt
        f[self.held(0)] = 0.0
        self.one_volt = solveh_banded(self.hold(self.matrix(0), 0), f, lower=True)
        self.capacitance = blocked - self.volt @ self.one_volt
        self.shift = self._shifted() if self.eccentric > 0 else np.zeros(self.size)

    def _shifted(self):
        """first order of an eccentric ceramic: the strip of bare metal between the two edges is
        stressed by the volt, and the support lies where the plate has a slope"""
        zone, R, x = self.zones[-1][1], self.r[-1], self.one_volt
        et, kt = x[-2] / R, -x[-3] / R
        AB = np.array([[zone.A[0], zone.B[0]], [zone.B[0], zone.D[0]]])
        AB2 = np.array([[zone.A[1], zone.B[1]], [zone.B[1], zone.D[1]]])
        along = -np.linalg.solve(AB, AB2 @ [et, kt])  # free edge: no resultants along r
        Nt, Mt = AB2 @ along + AB @ [et, kt]
        f = np.zeros(self.size)
        f[-4:] = np.pi * np.array([Mt / R, -Mt, Nt, Nt])
        slope = self.shape(self.rs, 1) @ x
        K, i = self.matrix(1), self.support
        k = np.arange(BAND)
        down, up = k[i + k < self.size], k[1:i + 1]
        f[i + down] -= slope * K[down, i]
        f[i - up] -= slope * K[up, i - up]
        f[self.held(1)] = 0.0
        f[i] = slope
        return solveh_banded(self.hold(K, 1), f, lower=True)

    def charge(self, radius, theta):
        """C per newton of a push on one point"""
        g = self.shape(radius) @ self.one_volt
        bent = self.shape(radius) @ self.shift - self.shape(radius, 1) @ self.one_volt
        return self.sign * (g + self.eccentric * bent * np.cos(theta - self.azimuth))

    # ---- point loads ------------------------------------------------------------------------
    def compliance(self, radius, theta, seen_radius, seen_theta):
        """m/N among the points (short circuit), and from the points to other places"""
        load = np.array([self.shape(r) for r in radius]).T
        seen = np.array([self.shape(r) for r in seen_radius])
        turn = theta[:, None] - theta[None, :]
        turn_seen = seen_theta[:, None] - theta[None, :]
        C, S = np.zeros_like(turn), np.zeros_like(turn_seen)
        for n in range(HARMONICS + 1):
            f = load.copy()
            f[self.held(n)] = 0.0
            x = solveh_banded(self.hold(self.matrix(n), n), f, lower=True, check_finite=False)
            C += (load.T @ x) * np.cos(n * turn)
            S += (seen @ x) * np.cos(n * turn_seen)
        return C, S
