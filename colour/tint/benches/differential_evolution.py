"""Whole-drop recipes by scipy's differential evolution, on the optics that exact_search.rs hands over. JSON in, JSON out."""
import json
import sys
import time

import numpy as np
from scipy.optimize import differential_evolution

p = json.load(sys.stdin)
rk, rs = np.array(p["resin"]["k"]), np.array(p["resin"]["s"])
k = np.array([c["k"] for c in p["colourants"]])
s = np.array([c["s"] for c in p["colourants"]])
loss = np.array([c["loss"] for c in p["colourants"]])
weights, white, want = np.array(p["weights"]), np.array(p["white"]), np.array(p["lab"])
UNIT, MOST, USED = p["unit"], p["most_drops"], p["most_used"]


def ciede2000(a, b):
    """Sharma, Wu, Dalal 2005."""
    c1, c2 = np.hypot(a[1], a[2]), np.hypot(b[1], b[2])
    g = 0.5 * (1 - np.sqrt(((c1 + c2) / 2) ** 7 / (((c1 + c2) / 2) ** 7 + 25.0**7)))
    a1, a2 = a[1] * (1 + g), b[1] * (1 + g)
    c1, c2 = np.hypot(a1, a[2]), np.hypot(a2, b[2])
    h1, h2 = np.degrees(np.arctan2(a[2], a1)) % 360, np.degrees(np.arctan2(b[2], a2)) % 360
    dl, dc, dh = b[0] - a[0], c2 - c1, h2 - h1
    if c1 * c2 == 0:
        dh = 0
    elif dh > 180:
        dh -= 360
    elif dh < -180:
        dh += 360
    dhh = 2 * np.sqrt(c1 * c2) * np.sin(np.radians(dh / 2))
    lm, cm = (a[0] + b[0]) / 2, (c1 + c2) / 2
    hm = h1 + h2 if c1 * c2 == 0 else (h1 + h2) / 2 if abs(h1 - h2) <= 180 else (h1 + h2 + 360) / 2 if h1 + h2 < 360 else (h1 + h2 - 360) / 2
    t = 1 - 0.17 * np.cos(np.radians(hm - 30)) + 0.24 * np.cos(np.radians(2 * hm)) + 0.32 * np.cos(np.radians(3 * hm + 6)) - 0.2 * np.cos(np.radians(4 * hm - 63))
    sl = 1 + 0.015 * (lm - 50) ** 2 / np.sqrt(20 + (lm - 50) ** 2)
    sc, sh = 1 + 0.045 * cm, 1 + 0.015 * cm * t
    rt = -np.sin(np.radians(60 * np.exp(-(((hm - 275) / 25) ** 2)))) * 2 * np.sqrt(cm**7 / (cm**7 + 25.0**7))
    return np.sqrt((dl / sl) ** 2 + (dc / sc) ** 2 + (dhh / sh) ** 2 + rt * dc / sc * dhh / sh)


def colour(drops):
    x = drops * UNIT
    c = x / (1 + x.sum())
    bare = 1 - c.sum()
    q = (bare * rk + (c * np.exp(-loss * c)) @ k) / (bare * rs + c @ s)
    r = 1 + q - np.sqrt(q * q + 2 * q)
    r = p["k1"] + (1 - p["k1"]) * (1 - p["k2"]) * r / (1 - p["k2"] * r)
    t = (r @ weights) / white
    f = np.where(t > (6 / 29) ** 3, np.cbrt(t), t / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def score(drops):
    drops = np.round(drops)
    over = max(0, drops.sum() - MOST) + 3 * max(0, (drops > 0).sum() - USED)
    return ciede2000(colour(drops), want) + over


# Populations and mutation as scipy has them by default. It may stop as soon as it is as near as `enough`; a population that has settled elsewhere is started anew with
# the next seed; after `patience_s` it is given up.
start = time.perf_counter()
best, seed = None, 0


def done(intermediate_result):
    return intermediate_result.fun <= p["enough"] or time.perf_counter() - start > p["patience_s"]


while best is None or not (best.fun <= p["enough"] or time.perf_counter() - start > p["patience_s"]):
    seed += 1
    found = differential_evolution(score, [(0, MOST)] * len(k), integrality=np.ones(len(k)), seed=seed, tol=0.0, atol=0.0, polish=False, callback=done)
    best = found if best is None or found.fun < best.fun else best
print(json.dumps({"drops": [int(round(v)) for v in best.x], "seconds": time.perf_counter() - start, "reached": bool(best.fun <= p["enough"]), "seeds": seed}))
