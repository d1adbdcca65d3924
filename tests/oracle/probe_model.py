"""A pivot probe with a comparator from the fields of its design, with NumPy and SciPy: plate with
layers, threshold charge, carrier at rest, eight touches around and one along the axis. One side of
a comparison with the C program and of a benchmark; written from docs/models/*.md.

probe_model.py [STEPS [TWICE]]: load steps to a trip, 8 where nothing is said. A path on which
sliding directions turn is followed to first order only: with both, what two runs lead to.
Reads from standard input: lines 'path value' (SI, words as they are), then lines 'build path=value
...'; prints one line a build: the figures in the order of MEASURES, then seconds of processor time
and of the clock. A build without an answer prints nan and the reason on standard error."""
import os
import sys
import time

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # six unknowns: threads only get in the way
import numpy as np  # noqa: E402
from probe_disc import Disc  # noqa: E402
from probe_seat import NoBalance, NoTrip, Seat  # noqa: E402

MEASURES = ("trip_force_side pretravel_side pretravel_variation_side trip_force_axial "
            "pretravel_axial return_offset preload_actual capacitance_mounted threshold_voltage "
            "void_clearance_at_trip").split()
AZIMUTHS = 8


def threshold(p, capacitance):
    """volts from rest to the trip at the node, and the charge that makes them"""
    if (p["circuit.kind"], p["circuit.schmitt"], p["circuit.polarity"],
            p["circuit.amplifier_drive"]) != ("comparator", "inverting", "rising",
                                              "open_collector"):
        raise NotImplementedError("only an inverting open-collector comparator on the node")
    supply, bias = p["circuit.supply"], p["circuit.amplifier_bias_current"]
    high = supply - p["circuit.amplifier_leakage"] * p["output.pull_up"]
    top, bottom = p["circuit.reference_upper"], p["circuit.reference_lower"]
    emf, inside = supply * bottom / (top + bottom), top * bottom / (top + bottom)
    feedback = 1 / (p["circuit.feedback_resistance"] + p["output.pull_up"])
    plus = (emf / inside + high * feedback + bias) / (1 / inside + feedback)
    trip = plus + p["circuit.amplifier_offset"] - bias * p["circuit.series_resistance"]
    top, bottom = p["circuit.bias_upper"], p["circuit.bias_lower"]
    emf, inside = supply * bottom / (top + bottom), top * bottom / (top + bottom)
    through = 1 / (p["circuit.bias_resistance"] + inside)
    rest = (emf * through + bias) / (through + 1 / p["circuit.leakage_resistance"])
    return trip - rest, capacitance * (trip - rest)


def stylus_of(p):
    length = p["stylus.reach"] - p["stylus.covered_length"]
    d, E, nu = p["stylus.stem_diameter"], p["stylus.stem_modulus"], p["stylus.stem_poisson"]
    area, second = np.pi * d**2 / 4, np.pi * d**4 / 64
    kappa = 6 * (1 + nu) / (7 + 6 * nu)
    side = length**3 / (3 * E * second) + 2 * (1 + nu) * length / (kappa * E * area)
    soft = sum((1 - p[k + "_poisson"]**2) / p[k + "_modulus"]
               for k in ("stylus.ball", "machine.work"))
    ball = p["stylus.ball_diameter"]
    stem = p["stylus.stem_density"] * area * length
    bead = p["stylus.ball_density"] * np.pi / 6 * ball**3
    return {"stiffness": (1 / side, E * area / length), "hertz": 4 / 3 / soft * (ball / 2)**0.5,
            "mass": stem + bead, "centre": stem * length / 2 / (stem + bead)}


def gaps(p, radius):
    """m between disc and floor at rest of the flat disc"""
    depth = np.full(len(radius), p["support.void_depth"])
    if p["disc.contact_face"] == "metal":
        ceramic = sum(p.get(f"disc.{k}_thickness", 0.0) for k in ("ceramic", "bond", "silver"))
        depth[radius <= p["disc.ceramic_diameter"] / 2] -= ceramic
    return depth


class Probe:
    def __init__(self, p):
        if p["seat.kind"] != "pivot" or p["preload.kind"] != "force":
            raise NotImplementedError("only a pivot under a given preload")
        n = int(p["seat.contact_points"]) if p["seat.contact"] == "points" else 24
        place = p["seat.azimuth"] + 2 * np.pi * np.arange(n) / n
        on = p["seat.flat_radius"] * np.exp(1j * place) + p.get("seat.eccentricity", 0.0) * np.exp(
            1j * p.get("seat.eccentricity_azimuth", 0.0))
        radius, theta = np.abs(on), np.angle(on)
        disc = Disc(p, radius)
        around = np.arange(12) * np.pi / 6
        seen = [0.0] + list(np.repeat(np.linspace(0.2, 1, 5) * p["seat.flat_radius"], 12))
        seen_theta = np.concatenate([[0.0], np.tile(around, 5)])
        C, self.dent = disc.compliance(radius, theta, seen, seen_theta)
        q = np.array([disc.charge(r, t) for r, t in zip(radius, theta)])
        self.capacitance = disc.capacitance
        node = (disc.capacitance + p.get("circuit.cable_capacitance", 0.0) +
                p.get("circuit.input_capacitance", 0.0))
        C -= np.outer(q, q) / node  # the node holds its charge: stiffer by the voltage it makes
        self.dent -= np.outer([disc.charge(r, t) for r, t in zip(seen, seen_theta)], q) / node
        self.gap = gaps(p, np.array(seen))
        self.volts, self.trip_charge = threshold(p, node)
        self.seat = Seat(p, C, q, place, stylus_of(p))

    def clearance(self, state):
        left = (self.gap - self.dent @ state.load[:self.seat.n]).min()
        if left < 0:
            raise NotImplementedError("the void is used up: no floor in this model")
        return left

    def measures(self, steps):
        self.seat.steps = steps
        if self.trip_charge <= 0:
            raise NoTrip("tripped at rest")
        touches = [self.seat.touch(2 * np.pi * k / AZIMUTHS, 0.0, self.trip_charge)
                   for k in range(AZIMUTHS)]
        pole = self.seat.touch(0.0, np.pi / 2, self.trip_charge)
        force, travel, state, left = zip(*touches)
        clearance = min(self.clearance(s) for s in (self.seat.rest, pole[2]) + state)
        return (max(force), max(travel), max(travel) - min(travel), pole[0], pole[1],
                max(left + (pole[3],)), self.seat.rest.load[:self.seat.n].sum(),
                self.capacitance, self.volts, clearance)


def value(text):
    try:
        return float(text)
    except ValueError:
        return text


def put(p, path, number):
    if path == "seat.friction":
        p["seat.friction_socket"] = p["seat.friction_flat"] = number
    p[path] = number


def main():
    base = {}
    steps = [int(word) for word in sys.argv[1:3]] or [8]
    for line in sys.stdin:
        words = line.split()
        if words and words[0] == "build":
            p = dict(base)
            for pair in words[1:]:
                path, number = pair.split("=")
                put(p, path, value(number))
            start = time.process_time(), time.perf_counter()
            try:
                probe = Probe(p)
                row, *more = [np.array(probe.measures(n)) for n in steps]
                row = 2 * more[0] - row if more else row
            except (NoBalance, NoTrip, NotImplementedError) as why:
                row = [float("nan")] * len(MEASURES)
                print(f"{type(why).__name__}: {why}", file=sys.stderr)
            print(*(repr(float(x)) for x in row), time.process_time() - start[0],
                  time.perf_counter() - start[1], flush=True)
        elif len(words) == 2:
            base[words[0]] = value(words[1])


if __name__ == "__main__":
    main()
