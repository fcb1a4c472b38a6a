#!/usr/bin/env python3
"""Second opinion on `cie` by colour-science (PyPI, 0.4.7): 10,000 seeded random spectra under several lights.

usage: colour_second_opinion.py [--count 10000]     (from the repository; needs numpy and colour-science)

The definition both sides use: ASTM E308 with the weights of ASTM E2022 (cubic Lagrange between 10 or 20 nm readings, quadratic in the end
intervals of 360..780 nm, weights beyond the reading's range added to its ends), observer and light at 1 nm. The light comes to 1 nm by straight lines
for D65 (ISO/CIE 11664-2), by the cubic through four neighbours for all others; colour-science is handed that 1 nm light, made here by
numpy, so that its own habit (straight lines for these tables) does not matter; how much that habit would change is printed too.
Fails when any XYZ, Lab or CIEDE2000 differs by more than 1e-6.
"""
import argparse, os, subprocess, sys, warnings
import numpy as np

warnings.filterwarnings("ignore")
import colour
from colour.colorimetry.tristimulus_values import adjust_tristimulus_weighting_factors_ASTME308, tristimulus_weighting_factors_ASTME2022

ROOT = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..")
GRID = np.arange(360, 781)
OBSERVERS = {"2": "CIE 1931 2 Degree Standard Observer", "10": "CIE 1964 10 Degree Standard Observer"}


def light_at_1nm(name):
    sd = colour.SDS_ILLUMINANTS[name]; x, y = sd.wavelengths, sd.values
    if name == "D65": return np.interp(GRID, x, y)
    out = np.zeros(len(GRID))
    for i, nm in enumerate(GRID):
        if not x[0] <= nm <= x[-1]: continue
        left = min(int((nm - x[0]) // 5), len(x) - 2); k = np.arange(max(left - 1, 0), min(left + 2, len(x) - 1) + 1)
        out[i] = sum(y[p] * np.prod([(nm - x[q]) / (x[p] - x[q]) for q in k if q != p]) for p in k)
    return out


def opinion(spectra, nms, light, observer):
    """XYZ and Lab as colour-science has them."""
    cmfs = colour.MSDS_CMFS[OBSERVERS[observer]].copy().align(colour.SpectralShape(360, 780, 1))
    sd = colour.SpectralDistribution(light, GRID); step = int(nms[1] - nms[0])
    weights = tristimulus_weighting_factors_ASTME2022(cmfs, sd, colour.SpectralShape(360, 780, step))
    weights = adjust_tristimulus_weighting_factors_ASTME308(weights, colour.SpectralShape(360, 780, step), colour.SpectralShape(nms[0], nms[-1], step))
    xyz = spectra @ weights; white = (cmfs.values * light[:, None]).sum(0); white = white / white[1]
    return xyz, colour.XYZ_to_Lab(xyz / 100, colour.XYZ_to_xy(white))


def random_spectra(count, n, seed):
    """Half smooth (sums of bells and edges), half rough, all within 0..1."""
    r = np.random.default_rng(seed); t = np.linspace(0, 1, n); out = np.zeros((count, n))
    for i in range(count // 2):
        s = r.uniform(0, .3) + sum(r.uniform(-.6, .8) * np.exp(-.5 * ((t - r.uniform(-.2, 1.2)) / r.uniform(.05, .5)) ** 2) for _ in range(3))
        out[i] = np.clip(s + r.uniform(-.5, .7) / (1 + np.exp((t - r.uniform(0, 1)) / r.uniform(.02, .2))), 0, 1)
    out[count // 2:] = r.uniform(0, 1, (count - count // 2, n))
    return out


def ours(binary, spectra, nms, light, observer):
    text = "\n".join(",".join(repr(float(v)) for v in row) for row in [nms, *spectra])
    p = subprocess.run([binary, light, observer], input=text, capture_output=True, text=True, check=True)
    a = np.array([[float(v) for v in l.split(",")] for l in p.stdout.split()]); return a[:, :3], a[:, 3:]


def main():
    ap = argparse.ArgumentParser(); ap.add_argument("--count", type=int, default=10000); o = ap.parse_args()
    subprocess.run(["cargo", "build", "--release", "-q", "-p", "cie", "--example", "spectra_to_lab"], cwd=ROOT, check=True)
    binary = os.path.join(ROOT, "target/release/examples/spectra_to_lab"); worst = 0.0
    for light, observer, nms in [("D65", "2", np.arange(400, 701, 10)), ("A", "10", np.arange(380, 731, 10)), ("FL11", "2", np.arange(360, 781, 10)), ("LED-RGB1", "10", np.arange(400, 701, 20)),
                                 ("D50", "2", np.arange(380, 731, 5)), ("D65", "2", np.arange(380, 731, 1))]:
        spectra = random_spectra(o.count, len(nms), 20); xyz, lab = ours(binary, spectra, nms, light, observer)
        xyz2, lab2 = opinion(spectra, nms, light_at_1nm(light), observer)
        habitual = colour.SDS_ILLUMINANTS[light].copy().align(colour.SpectralShape(360, 780, 1)).values
        habit = np.abs(opinion(spectra, nms, habitual, observer)[1] - lab2).max()
        dx, dl = np.abs(xyz - xyz2).max(), np.abs(lab - lab2).max(); worst = max(worst, dx, dl)
        print(f"{light:9} {observer:>2} deg, {nms[0]}..{nms[-1]} by {nms[1]-nms[0]:2}: {o.count} spectra, XYZ within {dx:.1e}, Lab within {dl:.1e}; its own light interpolation would move Lab by up to {habit:.4f}")
    print("worst", worst); sys.exit(0 if worst <= 1e-6 else 1)


if __name__ == "__main__":
    main()
