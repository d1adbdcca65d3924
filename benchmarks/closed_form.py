"""The pivot probe in closed form, all builds at once with NumPy: three points, no friction, the
ball's centre fixed, one laminate from centre to support. Beside the engine it shows what such a
sheet of formulas costs and how far it is off. Formulas: docs/models/seat.md 2 and 4, disc.md 2.

Reads the lines of tests/oracle/probe_model.py, prints the same columns (nan: no formula); the last
one is the processor time of a build when all are worked out together."""
import sys
import time
import numpy as np

VACUUM, GRAVITY, HARMONICS, AZIMUTHS = 8.8541878128e-12, 9.80665, 24, 8
ECCENTRIC = 0.433  # charge of a moment over (curvature per volt x eccentricity), disc.md 2
BASIC = {"seat.kind": "pivot", "seat.contact": "points", "seat.contact_points": "3",
         "preload.kind": "force", "circuit.kind": "comparator", "circuit.schmitt": "inverting",
         "circuit.polarity": "rising", "disc.poling": "plus", "environment.orientation": "down"}


def read():
    base, drawn = {}, []
    for line in sys.stdin:
        words = line.split()
        if words and words[0] == "build":
            drawn.append(dict(pair.split("=") for pair in words[1:]))
        elif len(words) == 2:
            base[words[0]] = words[1]
    other = [k for k, v in BASIC.items() if base.get(k) != v]
    if other:
        sys.exit("no closed form here for this " + ", ".join(other))
    n, p = len(drawn), {}
    for path, text in base.items():
        try:
            p[path] = np.full(n, float(text))
        except ValueError:
            p[path] = text
    for path in drawn[0] if drawn else ():
        p[path] = np.array([float(one[path]) for one in drawn])
    return n, p


def laminate(p):
    """rigidity under the ceramic, curvature per volt and its parabola's g, mounted capacitance"""
    tm, tc, tb, ts = (p["disc." + k + "_thickness"] for k in ("metal", "ceramic", "bond", "silver"))
    s11, s12, d31 = (p["disc.ceramic_" + k] for k in ("s11", "s12", "d31"))
    factor = p["disc.capacitance_factor"]  # the charge goes with it: docs/models/disc.md 3a
    d31 = d31 * p["disc.charge_factor"] * factor**0.85
    e = d31 / (s11 + s12)
    eps = p["disc.ceramic_permittivity"] * factor * VACUUM - 2 * d31**2 / (s11 + s12)
    A, B, D = np.zeros((2, len(tm))), np.zeros((2, len(tm))), np.zeros((2, len(tm)))
    z = -tm / 2
    for kind, t in (("metal", tm), ("bond", tb), ("ceramic", tc), ("silver", ts)):
        if kind == "ceramic":
            q = np.array([s11, -s12]) / (s11**2 - s12**2)
            middle = z + t / 2
        else:
            nu = p[f"disc.{kind}_poisson"]
            q = np.array([np.ones_like(nu), nu]) * p[f"disc.{kind}_modulus"] / (1 - nu**2)
        A, B, D = A + q * t, B + q * ((z + t)**2 - z**2) / 2, D + q * ((z + t)**3 - z**3) / 3
        z = z + t
    D = D + e**2 / eps * tc**3 / 12
    nu, E = p["disc.metal_poisson"], p["disc.metal_modulus"]
    Am, Dm = E * tm / (1 - nu**2), E * tm**3 / 12 / (1 - nu**2)
    R, re = p["disc.metal_diameter"] / 2, p["disc.electrode_diameter"] / 2 + 0.46 * tc
    rho = (R / re)**2
    f = (1 - nu**2) * (rho - 1) / ((1 - nu) + (1 + nu) * rho)
    a, b, d = A.sum(0) + f * Am, B.sum(0), D.sum(0) + f * Dm
    det = a * d - b * b
    stretch, curve = -(d - b * middle) * e / det, -(a * middle - b) * e / det
    # bare metal from the electrode's edge to the support
    rs = p["support.ledge_radius"] if p["support.kind"] == "ledge" else R
    c = (1 + nu) / (1 - nu)
    edge = curve * re / (re * (1 + rho * c)) * ((rs**2 - re**2) / 2 + R**2 * c * np.log(rs / re))
    capacity = np.pi * re**2 * (eps / tc - 2 * e * (stretch + middle * curve))
    return D[0] - B[0]**2 / A[0], D[1] / D[0], rs, curve, lambda r: edge + curve * (
        re**2 - r**2) / 2, capacity


def plate(rigidity, nu, rs, a):
    """deflection at a point of the circle a from a load on it 0 and 120 degrees away (seat.md 2)"""
    b = a / rs
    near, far = np.zeros_like(b), np.zeros_like(b)
    for m in range(HARMONICS + 1):
        # f_m and its derivatives at 1, and the free function's part at r = b
        if m == 0:
            f, f1, f2, own = b * b, 1 + b * b, 3 - b * b, 2 * b * b * np.log(b) + b * b
        elif m == 1:
            f, f1, f2 = -b - b**3 / 2, -3 * b + b**3 / 2, -2 * b - b**3
            own = -b * b * 1.5 - 2 * b * b * np.log(b)
        else:
            f = b**m * (1 / (m * (m - 1)) - b * b / (m * (m + 1)))
            f1 = b**m * ((2 - m) / (m * (m - 1)) + b * b / (m + 1))
            f2 = b**m * ((2 - m) * (1 - m) / (m * (m - 1)) - b * b)
            own = b * b * (1 / (m * (m - 1)) - 1 / (m * (m + 1)))
        # A + B = -f, (1-nu) m (m-1) A + [..] B = -[f2 + nu (f1 - m^2 f)]
        left, right = (1 - nu) * m * (m - 1), (m + 2) * (m + 1) + nu * (m + 2 - m * m)
        Bm = (left * f - (f2 + nu * (f1 - m * m * f))) / (right - left)
        w = own + (-f - Bm) * b**m + Bm * b**(m + 2)
        near, far = near + w, far + w * np.cos(2 * np.pi * m / 3)
    scale = rs**2 / (8 * np.pi * rigidity)
    return scale * near, scale * far


def divider(supply, top, bottom):
    return supply * bottom / (top + bottom), top * bottom / (top + bottom)


def threshold(p, node):
    supply, bias = p["circuit.supply"], p["circuit.amplifier_bias_current"]
    high = supply - p["circuit.amplifier_leakage"] * p["output.pull_up"]
    emf, inside = divider(supply, p["circuit.reference_upper"], p["circuit.reference_lower"])
    feedback = 1 / (p["circuit.feedback_resistance"] + p["output.pull_up"])
    trip = (emf / inside + high * feedback + bias) / (1 / inside + feedback)
    trip = trip + p["circuit.amplifier_offset"] - bias * p["circuit.series_resistance"]
    emf, inside = divider(supply, p["circuit.bias_upper"], p["circuit.bias_lower"])
    through = 1 / (p["circuit.bias_resistance"] + inside)
    volts = trip - (emf * through + bias) / (through + 1 / p["circuit.leakage_resistance"])
    return volts, volts * node


def closed(p):
    rigidity, nu, rs, curve, g, capacity = laminate(p)
    node = capacity + p["circuit.input_capacitance"] + p["circuit.cable_capacitance"]
    volts, trip = threshold(p, node)
    a, L = p["seat.flat_radius"], p["stylus.reach"]
    ga = g(a)
    near, far = plate(rigidity, nu, rs, a)
    near, far = near - ga**2 / node, far - ga**2 / node
    P0 = p["preload.force"] * (1 - p["preload.relaxation"])

    # stem and tip
    d, E = p["stylus.stem_diameter"], p["stylus.stem_modulus"]
    side, axial = L**3 / (3 * E * np.pi * d**4 / 64), L / (E * np.pi * d**2 / 4)
    soft = sum((1 - p[k + "_poisson"]**2) / p[k + "_modulus"]
               for k in ("stylus.ball", "machine.work"))
    hertz = 4 / 3 / soft * (p["stylus.ball_diameter"] / 2)**0.5

    # points, and what a newton on each gives: g, and the slope that an eccentric ceramic adds
    at = p["seat.azimuth"] + 2 * np.pi * np.arange(3)[:, None] / 3
    shift, lag = p["disc.ceramic_eccentricity"], p["disc.ceramic_eccentricity_azimuth"]
    on = a * np.exp(1j * at) + p["seat.eccentricity"] * np.exp(1j * p["seat.eccentricity_azimuth"])
    q = g(np.abs(on)) + ECCENTRIC * curve * shift * np.abs(on) * np.cos(np.angle(on) - lag)

    force, travel = [], []
    for k in range(AZIMUTHS):
        toward = np.cos(2 * np.pi * k / AZIMUTHS - at)  # of the push, to each point
        # a push lowers the load where it points to; load_i = P0/3 - 2 F L/(3 a) toward_i
        slope = -(2 * L / (3 * a)) * (q * toward).sum(0)
        lift = P0 * a / (2 * L * toward.max(0))
        early = np.where(slope > 0, trip / np.where(slope > 0, slope, 1.0), np.inf)
        first = np.argmax(toward, 0)
        builds = np.arange(len(a))
        keep = np.stack([(first + 1) % 3, (first + 2) % 3])
        # past lift-off both loads left grow with F; the sum has to make the charge that is missing
        share = -toward[keep, builds] + toward[first, builds]
        share = share / share.sum(0)
        gain = (q[keep, builds] * share).sum(0)
        late = lift * (1 + (trip - slope * lift) / (gain * P0))
        F = np.minimum(early, late)
        load = np.where(F < lift, P0 / 3 - 2 * F * L / (3 * a) * toward, 0.0)
        for j in range(2):
            load[keep[j], builds] = np.where(F < lift, load[keep[j], builds],
                                             P0 * F / lift * share[j])
        # deflections under the loaded points make the turn; a lifted one follows
        change = load - P0 / 3
        sunk = near * change + far * (change.sum(0) - change)
        two = np.stack([sunk[keep[j], builds] for j in range(2)])
        angle = [at[:, 0][keep[j]] for j in range(2)]
        det = np.sin(angle[1] - angle[0]) * a
        tx = (two[0] * np.sin(angle[1]) - two[1] * np.sin(angle[0])) / det
        ty = (two[1] * np.cos(angle[0]) - two[0] * np.cos(angle[1])) / det
        turn = -(tx * np.cos(2 * np.pi * k / AZIMUTHS) + ty * np.sin(2 * np.pi * k / AZIMUTHS))
        force.append(F)
        travel.append(L * turn + side * F + (F / hertz)**(2 / 3))
    force, travel = np.array(force), np.array(travel)

    # along the axis disc and socket give together until the ball is free
    stiff = 3 / (near + 2 * far)
    socket = p["seat.socket_stiffness"]
    more = trip / ga
    pole = np.minimum(more * (1 + socket / stiff), P0 + more)
    rise = more / stiff + axial * pole + (pole / hertz)**(2 / 3)
    none = np.full_like(P0, np.nan)
    return np.stack([force.max(0), travel.max(0), np.ptp(travel, 0), pole, rise, none, P0, capacity,
                     volts, none])


if __name__ == "__main__":
    count, fields = read()
    start = time.process_time(), time.perf_counter()
    row = closed(fields)
    each = [(time.process_time() - start[0]) / max(count, 1),
            (time.perf_counter() - start[1]) / max(count, 1)]
    for one in row.T:
        print(*(repr(float(x)) for x in one), *each)
