#!/usr/bin/env python3
"""The batch's figures against scipy and numpy, and packings against a brute-force look at every pair.

Run from the top of the project, after `cargo build --release --examples -p check -p run`:
    python proof/batch_second_opinion.py
Needs numpy and scipy (proof/requirements.txt); colour-science for the colour chances.
"""
import itertools
import pathlib
import subprocess
import sys

import numpy as np
from scipy import stats

BIN = pathlib.Path(__file__).resolve().parent.parent / "target" / "release" / "examples"


def figures(name):
    text = subprocess.run([BIN / name], capture_output=True, text=True, check=True).stdout
    for line in text.splitlines():
        said, value = line.split(" = ")
        what, *arguments = said.split()
        yield what, [float(a) for a in arguments], float(value)


def clopper(side, bad, n, certainty):
    if side == "low":
        return 0.0 if bad == 0 else stats.beta.ppf(1 - certainty, bad, n - bad + 1)
    return 1.0 if bad == n else stats.beta.ppf(certainty, bad + 1, n - bad)


def bad_in_lot(lot, n, found, certainty):
    likely = [bad for bad in range(int(found), int(lot - n + found) + 1) if stats.hypergeom.cdf(found, lot, bad, n) > 1 - certainty]
    return max(likely)


def lost_loads(wanted, start, loads, p, q):
    """By hand: each load is lost or not, the parts of the others are binomial."""
    sizes = [start // loads + (i < start % loads) for i in range(int(loads))]
    total = 0.0
    for kept in itertools.product([0, 1], repeat=int(loads)):
        chance = np.prod([1 - q if k else q for k in kept])
        total += chance * stats.binom.sf(wanted - 1, int(sum(s for s, k in zip(sizes, kept) if k)), p)
    return total


def colour_within(l, a, b, sigma, limit, draws=400_000):
    import colour

    lab = np.array([l, a, b]) + sigma * np.random.default_rng(1).standard_normal((draws, 3))
    return float(np.mean(colour.delta_E(lab, np.array([66.0, -8.0, 8.0]), method="CIE 2000") <= limit))


SECOND = {
    "binomial_cdf": lambda n, c, p: stats.binom.cdf(c, n, p),
    "hypergeometric_cdf": lambda lot, bad, n, c: stats.hypergeom.cdf(c, lot, bad, n),
    "clopper_low": lambda *a: clopper("low", *a),
    "clopper_high": lambda *a: clopper("high", *a),
    "bad_in_lot": bad_in_lot,
    "normal_within": lambda mm, s, low, high: stats.norm.cdf(high, mm, s) - stats.norm.cdf(low, mm, s),
    "binomial_sf": lambda wanted, start, p: stats.binom.sf(wanted - 1, start, p),
    "betabinomial_sf": lambda wanted, start, made, good: stats.betabinom.sf(wanted - 1, start, good + 1, made - good + 1),
    "lost_loads": lost_loads,
    "colour_within": colour_within,
}
# Chances of colours are counted over 2197 points of equal chance, which is good to about 0.01; all else is closed form.
TOLERANCE = {"colour_within": 0.015}

worst, seen, places = {}, {}, {}
for what, arguments, value in itertools.chain(figures("batch_figures"), figures("run_figures")):
    if what == "place":
        places.setdefault(tuple(arguments[:4]), []).append(arguments[4:])
        continue
    off = abs(value - SECOND[what](*arguments))
    worst[what] = max(worst.get(what, 0.0), off)
    seen[what] = seen.get(what, 0) + 1

bad = 0
for what in sorted(worst):
    ok = worst[what] <= TOLERANCE.get(what, 1e-9)
    bad += not ok
    print(f"{what:20s} {seen[what]:3d} figures, worst difference {worst[what]:.2e} {'' if ok else '  TOO LARGE'}")
for (width, depth, gap, across), at in places.items():
    at = np.array(at)
    apart = min(np.hypot(*(p - q)) for p, q in itertools.combinations(at, 2)) if len(at) > 1 else np.inf
    edge = min(at.min() - across / 2, width - at[:, 0].max() - across / 2, depth - at[:, 1].max() - across / 2)
    ok = apart >= across + gap - 1e-9 and edge >= -1e-9
    bad += not ok
    print(f"plate {width:g} x {depth:g}: {len(at)} of {across:g} mm, nearest {apart - across:.3f} mm apart (gap {gap:g}), {edge:.3f} mm from the edge {'' if ok else '  OVERLAP'}")
sys.exit(bad > 0)
