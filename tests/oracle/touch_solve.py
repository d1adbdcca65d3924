"""One touch by SciPy's solve_ivp, in the laboratory frame: reads 'name value' lines, prints the
instants of threshold and output edge in seconds. Written from the equations in
docs/models/touch.md 1 to 3, not from the C sources."""
import sys
import numpy as np
from scipy.integrate import solve_ivp

p = {k: float(v) for k, v in (line.split() for line in sys.stdin if line.strip())}
v = p["feed"]


def clip(x, limit):
    return max(-limit, min(limit, x))


def mechanics(t, x1, v1, x2, v2):
    d = max(0.0, x1)
    force = p["K"] * d ** 1.5 * (1.0 + p["D"] * v1)
    stem = p["ks"] * (x2 - x1) + p["cs"] * (v2 - v1)
    disc = p["kd"] * (v * t - x2) + p["cd"] * (v - v2)
    return (stem - force) / p["m1"], (disc - stem) / p["m2"], p["N"] * p["kd"] * (v - v2)


# y = x1 v1 x2 v2 node amp out
def slopes(t, y, deciding):
    x1, v1, x2, v2, node, amp, out = y
    a1, a2, ip = mechanics(t, x1, v1, x2, v2)
    kind = int(p["circuit"])
    wu = p["wu"]
    if kind == 3:
        dn = None
        damp = clip(wu * (p["Vb"] - node), p["SR"])
        dn = (p["Cf"] * damp + (amp - node) / p["Rf"] + p["Ib"] - ip) / (p["C"] + p["Cf"])
    else:
        dn = (ip - (node - p["Vb"]) / p["R"] + p["Ib"]) / p["C"]
        damp = 0.0
        if kind == 2:
            damp = clip(wu * (node - p["Vb"] - (amp - p["Vb"]) / p["A"]), p["SR"])
    signal = node if kind == 1 else amp
    dout = 0.0
    if deciding:
        dout = clip(wu * (p["g0"] + p["beta"] * out - signal), p["SR"])
    return [v1, a1, v2, a2, dn, damp, dout]


kind = int(p["circuit"])
if kind == 3:
    node0, amp0 = p["Vb"], p["Vb"] - p["Ib"] * p["Rf"]
else:
    node0 = p["Vb"] + p["Ib"] * p["R"]
    amp0 = p["Vb"] + p["A"] * (node0 - p["Vb"]) if kind == 2 else node0
trip = p["g0"] + p["beta"] * p["VOH"]


def reaches(t, y):
    return (y[4] if kind == 1 else y[5]) - trip


def edge(t, y):
    return y[6] - p["logic"]


reaches.terminal = edge.terminal = True
reaches.direction, edge.direction = 1, -1
scale = np.array([1e-9, 1e-6, 1e-9, 1e-6, 1e-5, 1e-5, 1e-3])
options = dict(method="LSODA", rtol=1e-10, atol=1e-7 * scale, max_step=2e-4)
one = solve_ivp(lambda t, y: slopes(t, y, False), (0.0, p["end"]),
                [0.0, v, 0.0, v, node0, amp0, p["VOH"]], events=reaches, **options)
if not one.t_events[0].size:
    print("nan nan")
    sys.exit(0)
two = solve_ivp(lambda t, y: slopes(t, y, True), (one.t_events[0][0], p["end"]),
                one.y_events[0][0], events=edge, **{**options, "max_step": 2e-6})
print(repr(float(one.t_events[0][0])),
      repr(float(two.t_events[0][0])) if two.t_events[0].size else "nan")
