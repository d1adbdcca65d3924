"""The carrier of a pivot probe on its seat (docs/models/seat.md), with NumPy and SciPy: rest,
one-sided contacts on the disc's coupled compliance and in the socket, Coulomb friction with a
memory, and quasi-static touches until the charge that trips. Semi-smooth Newton for the balance,
Brent's method for the trip. Written from that page, not from the C sources."""
import numpy as np
from scipy.optimize import brentq

GRAVITY = 9.80665
SOCKET_POINTS = 12
OVERTRAVEL = 1e-4
SEARCH_FORCE, SEARCH_TRAVEL = 5.0, 6e-3
STICKS = 1e-9


class NoBalance(Exception):
    pass


class NoTrip(Exception):
    pass


class State:
    """a point of a path; slip is the memory of friction"""
    __slots__ = ("x", "q", "slip", "load", "slope", "tangent", "slides", "size", "force",
                 "stiffness", "residual")


class Drive:
    """a wall that pushes the ball along d, through stem and tip contact in series"""

    def __init__(self, seat, d):
        d = np.asarray(d, float)
        self.row = seat.wrench(np.array([0, 0, -seat.reach]), d)
        self.give = (d[0]**2 + d[1]**2) / seat.stem[0] + d[2]**2 / seat.stem[1]
        self.soft = seat.hertz**(-2 / 3)

    def force(self, y):
        """F and dF/dy with y = F give + (F/hertz)^(2/3): a cubic in p = F^(1/3)"""
        if y <= 0:
            return 0.0, 0.0
        c, b = self.give, self.soft
        p = min((y / b)**0.5, (y / c)**(1 / 3))
        for _ in range(60):
            step = ((c * p + b) * p * p - y) / ((3 * c * p + 2 * b) * p)
            p -= step
            if step <= 1e-15 * p:
                break
        return p**3, 1 / (c + 2 * b / (3 * p))


class Seat:
    def __init__(self, p, disc_compliance, charge, place_on_disc, stylus):
        a, h, n = p["seat.flat_radius"], p["seat.flat_height"], len(charge)
        self.reach, self.scale = p["stylus.reach"], p["stylus.reach"] / 4
        self.stem, self.hertz = stylus["stiffness"], stylus["hertz"]
        self.n, self.C, self.charge = n, disc_compliance, charge
        axial = n**2 / disc_compliance.sum()
        self.start = np.zeros(n + SOCKET_POINTS)
        if p["seat.contact"] == "ring" and p["seat.flatness_lobes"] >= 2:
            lobes = p["seat.flatness_lobes"] * (place_on_disc - p["seat.azimuth"])
            self.start[:n] = -p["seat.flatness"] * (1 - np.cos(lobes))
        flat = np.stack([a * np.cos(place_on_disc), a * np.sin(place_on_disc), np.full(n, h)], 1)
        phi, psi = 2 * np.pi * np.arange(SOCKET_POINTS) / SOCKET_POINTS, p["seat.socket_angle"]
        out = np.stack([np.sin(psi) * np.cos(phi), np.sin(psi) * np.sin(phi),
                        np.full(SOCKET_POINTS, -np.cos(psi))], 1)
        place = np.vstack([flat, p["seat.ball_radius"] * out])
        normal = np.vstack([np.tile([0.0, 0.0, -1.0], (n, 1)), -out])
        across = np.array([np.linalg.svd(v[None])[2][1:] for v in normal])
        self.N = np.array([self.wrench(r, v) for r, v in zip(place, normal)])
        self.T = np.array([[self.wrench(r, t) for t in two] for r, two in zip(place, across)])
        self.T2 = self.T.reshape(-1, 6)
        self.own = p["seat.socket_stiffness"] / (SOCKET_POINTS * np.cos(psi)**2)
        ones = np.ones(SOCKET_POINTS)
        self.mu = np.concatenate([np.full(n, p["seat.friction_flat"]),
                                  p["seat.friction_socket"] * ones])
        self.kt = np.concatenate([np.full(n, 16 * axial / n), 0.8 * self.own * ones])
        self.inverse, self.active = {}, np.ones(n, bool)
        self.eye2, self.eye6 = np.eye(2), np.eye(6)
        self.no_tangent = np.zeros((n + SOCKET_POINTS, 2))
        self.steps = 8  # load steps to a trip
        self._weigh(p, stylus)
        self._rest(p["preload.force"] * (1 - p.get("preload.relaxation", 0.0)))

    def wrench(self, r, f):
        return np.concatenate([f, np.cross(r, f) / self.scale])

    def _weigh(self, p, stylus):
        carrier = p["seat.carrier_mass"]
        mass = carrier + stylus["mass"]
        height = (carrier * p["seat.carrier_height"] +
                  stylus["mass"] * (stylus["centre"] - self.reach)) / mass
        pull = {"down": [0, 0, -1], "up": [0, 0, 1], "sideways": [0, -1, 0]}
        self.weight = self.wrench(np.array([0, 0, height]),
                                  mass * GRAVITY * np.array(pull[p["environment.orientation"]]))

    # ---- balance ----------------------------------------------------------------------------
    def press(self, c):
        """loads for compressions c, and how they change with them"""
        n = self.n
        load, slope = np.zeros(len(c)), np.zeros((len(c), len(c)))
        for _ in range(60):
            key = self.active.tobytes()
            if key not in self.inverse:
                G = np.zeros((n, n))
                k = np.flatnonzero(self.active)
                G[np.ix_(k, k)] = np.linalg.inv(self.C[np.ix_(k, k)])
                self.inverse[key] = G
            G = self.inverse[key]
            on = G @ c[:n]
            gap = self.C @ on - c[:n]
            wrong = np.where(self.active, on < -1e-12, gap < -1e-18)
            if not wrong.any():
                break
            self.active = self.active ^ wrong
        else:
            raise NoBalance("no set of loaded points on the disc")
        load[:n], slope[:n, :n] = np.maximum(on, 0), G
        pressed = c[n:] > 0
        load[n:] = np.where(pressed, self.own * c[n:], 0.0)
        k = n + np.flatnonzero(pressed)
        slope[k, k] = self.own
        return load, slope

    def balance(self, x, q, slip, drive, friction, sticks=STICKS):
        s = State()
        s.x, s.q, s.slip = x, q, slip
        s.load, s.slope = self.press(self.closed - self.N @ q)
        s.residual = self.weight + s.load @ self.N
        if friction:
            trial = self.kt[:, None] * ((self.T2 @ q).reshape(-1, 2) - slip)
            size, limit = np.hypot(trial[:, 0], trial[:, 1]), self.mu * s.load
            s.slides = size > limit * (1 + sticks)
            s.size = np.where(size > 0, size, 1.0)
            s.tangent = -trial * np.minimum(1.0, limit / s.size)[:, None]
            s.residual = s.residual + s.tangent.ravel() @ self.T2
        else:
            s.tangent = self.no_tangent
        s.force, s.stiffness = 0.0, 0.0
        if drive is not None:
            s.force, s.stiffness = drive.force(x - drive.row @ q)
            s.residual = s.residual + s.force * drive.row
        return s

    def jacobian(self, s, drive, friction):
        """minus the derivative of the residual by q"""
        rate = s.slope @ self.N
        J = self.N.T @ rate + s.stiffness * np.outer(drive.row, drive.row)
        if friction:
            # sticking: kt both ways; sliding: kt limit/size across, and mu d(load) along
            limit = self.mu * s.load
            way = np.where(s.slides, -1 / np.where(limit > 0, limit, 1.0), 0.0)[:, None] * s.tangent
            side = self.kt * np.where(s.slides, limit / s.size, limit > 0)
            D = side[:, None, None] * (self.eye2 - way[:, :, None] * way[:, None, :])
            change = D @ self.T - (self.mu[:, None] * way)[:, :, None] * rate[:, None, :]
            J = J + self.T2.T @ change.reshape(-1, 6)
        return J + 1e-13 * J.diagonal().max() * self.eye6  # a free turn about the axis

    def newton(self, x, q, slip, drive, friction, sticks=STICKS):
        s = self.balance(x, q, slip, drive, friction, sticks)
        for _ in range(40):
            size = np.abs(s.residual).max()
            if size <= 1e-10 * self.strong:
                return s
            step = np.linalg.solve(self.jacobian(s, drive, friction), s.residual)
            before, part = s.residual @ s.residual, 1.0
            for _ in range(15):
                t = self.balance(x, s.q + part * step, slip, drive, friction, sticks)
                if t.residual @ t.residual <= (1 - 1e-4 * part) * before:
                    break
                part /= 2
            else:
                raise NoBalance("no smaller residual")
            s = t
        raise NoBalance("too many iterations")

    def advance(self, s, x, drive, friction=True, guess=None, depth=0):
        """from state s to machine coordinate x, in halves where that is too far"""
        active = self.active
        for q, sticks in ((guess, STICKS), (s.q, STICKS), (s.q, -STICKS)):
            if q is None:
                continue
            try:
                t = self.newton(x, q, s.slip, drive, friction, sticks)
            except (NoBalance, np.linalg.LinAlgError):
                self.active = active
                continue
            if friction:
                t.slip = (self.T2 @ t.q).reshape(-1, 2) + t.tangent / self.kt[:, None]
            return t
        if depth >= 9:
            raise NoBalance("no balance in the smallest step")
        half = self.advance(s, (s.x + x) / 2, drive, friction, None, depth + 1)
        return self.advance(half, x, drive, friction, None, depth + 1)

    # ---- rest -------------------------------------------------------------------------------
    def _rest(self, preload):
        """frictionless; the rim is closed until the disc bears the preload"""
        self.strong = preload + np.abs(self.weight).sum()
        ring = np.concatenate([np.ones(self.n), np.zeros(SOCKET_POINTS)])
        rows = np.hstack([self.N, -ring[:, None]])
        right = np.append(self.weight, preload)
        v = np.zeros(7)
        load, slope = self.press(self.start + 1e-9)
        slope[self.n:, self.n:] = self.own * np.eye(SOCKET_POINTS)
        for _ in range(100):
            J = rows.T @ slope @ rows
            J += 1e-13 * np.abs(J.diagonal()).max() * np.eye(7)
            R = right + load @ rows
            step, part = np.linalg.solve(J, R), 1.0
            for _ in range(30):
                load, slope = self.press(self.start - rows @ (v + part * step))
                if np.linalg.norm(right + load @ rows) < np.linalg.norm(R) or part < 1e-6:
                    break
                part /= 2
            v = v + part * step
            if np.abs(right + load @ rows).max() <= 1e-11 * self.strong:
                break
        else:
            raise NoBalance("the preload cannot seat the carrier")
        self.closed = self.start + v[6] * ring
        q = v[:6]
        self.rest = self.balance(0.0, q, (self.T2 @ q).reshape(-1, 2), None, False)
        self.rest_active = self.active

    # ---- touch ------------------------------------------------------------------------------
    def charge_from(self, s, reference):
        return self.charge @ (s.load - reference.load)[:self.n]

    def push(self, start, drive, threshold, step, friction):
        """on until the charge trips, in steps of `step` (None: growing ones); ends at the trip"""
        first = drive.row @ start.q
        now, before = start, None
        now.x = first
        length = step or 1e-3 * self.strong * (1 / self.own + drive.give)
        while True:
            guess = None
            if before is not None:
                guess = now.q + (length / (now.x - before.x)) * (now.q - before.q)
            active = self.active
            following = self.advance(now, now.x + length, drive, friction, guess)
            if self.charge_from(following, start) >= threshold:
                break
            before, now = now, following
            if now.force > SEARCH_FORCE or now.x - first > SEARCH_TRAVEL:
                raise NoTrip
            length = length if step else 2 * length
        found = {}

        def past(x):
            t = (x - now.x) / (following.x - now.x)
            self.active = active
            found[x] = self.advance(now, x, drive, friction, now.q + t * (following.q - now.q))
            return self.charge_from(found[x], start) / threshold - 1

        x = brentq(past, now.x, following.x, xtol=1e-13, rtol=1e-10)
        return found[x] if x in found else following

    def back(self, s, drive, first):
        """withdrawal until the tip is free, in steps that shrink"""
        whole = s.x - first
        share = [(1.3**i - 1) / (1.3**self.steps - 1) for i in range(self.steps)]
        for g in reversed(share):
            if s.force <= 0:
                return s
            s = self.advance(s, first + whole * g, drive)
        for i in range(10 * self.steps):
            if s.force <= 0:
                break
            s = self.advance(s, s.x - whole * share[1] * (i + 1), drive)
        return s

    def touch(self, azimuth, elevation, threshold):
        """force, pretravel, state at the trip of the second touch, offset that the first left"""
        beside = (0.0, 2e-4) if elevation > 1.57 else (0.0,)
        for turn in beside:
            try:
                return self._touch(azimuth, elevation - turn, threshold)
            except NoBalance:
                if turn == beside[-1]:
                    raise

    def _touch(self, azimuth, elevation, threshold):
        ce = np.cos(elevation) if abs(np.cos(elevation)) > 1e-15 else 0.0
        drive = Drive(self, [ce * np.cos(azimuth), ce * np.sin(azimuth), np.sin(elevation)])
        self.active = self.rest_active
        first = drive.row @ self.rest.q
        smooth = self.push(self.rest, drive, threshold, None, False)
        step = (smooth.x - first) / self.steps
        self.active = self.rest_active
        s = self.push(self.rest, drive, threshold, step, True)
        over = 1 + self.steps // 2
        for _ in range(over):
            s = self.advance(s, s.x + OVERTRAVEL / over, drive)
        start = self.back(s, drive, first)
        left = self.tip(start.q - self.rest.q)
        trip = self.push(start, drive, threshold, step, True)
        return trip.force, trip.x - drive.row @ start.q, trip, np.hypot(left[0], left[1])

    def tip(self, q):
        return q[:3] + np.cross(q[3:] / self.scale, [0, 0, -self.reach])
