"""Makes sample_result.json, an invented result of the demo knob to try the sheet with: `python make_sample_result.py TRUTH_FOLDER`.

Outlines and profile are the truth of the rendered demo photos with invented noise and doubts; everything else is invented outright. Needs numpy."""
import json
import math
import sys

import numpy as np

rng = np.random.default_rng(7)


def truth(name):
    with open(f"{sys.argv[1]}/{name}.json") as file:
        return json.load(file)


def rounded(points, places=2):
    return [[round(float(v), places) for v in p] for p in points]


def photo(name, residual, focal_source):
    t = truth(name)
    entry, end = (np.array(t["clicks_px"][k]) for k in ("shaft_enters_part", "free_end"))
    clicks = t["clicks_px"]["rounded_to_10"]
    axis = (end - entry) / np.linalg.norm(end - entry)
    side = np.array([axis[1], -axis[0]])
    ring = np.array(t["silhouette"]["part_px"][:-1])
    along, across = (ring - entry) @ axis, (ring - entry) @ side
    near = min(range(len(ring)), key=lambda n: abs(across[n]) + (1e6 if along[n] > np.ptp(along) / 2 else 0))
    ring, along, across = (np.roll(a, -near, axis=0) for a in (ring, along, across))
    far = max(range(len(ring)), key=lambda n: along[n] - 0.3 * abs(across[n]))
    halves = [ring[: far + 1], ring[far:][::-1]]
    halves.sort(key=lambda half: -np.mean((half - entry) @ side))
    rod = np.array(t["silhouette"]["rod_visible_px"][0])
    rod_across, rod_along = (rod - entry) @ side, (rod - entry) @ axis
    edges = []
    for sign in (1, -1):
        far_off = rod_along < -3
        chosen = far_off & (rod_across * sign > 0.9 * np.max((rod_across * sign)[far_off]) - 6)
        edges.append(rod[chosen][np.argsort(-rod_along[chosen])])

    def model(half):
        return rounded(half[::2] + np.array([0.12, -0.1]))

    sigma = [round(float(0.12 + 0.06 * abs(math.sin(n / 9.0))), 3) for n in range(max(map(len, halves)))]
    pose = t["pose"]
    fx = t["camera"]["fx"]
    wobble = lambda n: np.convolve(rng.normal(0, 0.25, n + 14), np.ones(15) / 15, "valid")
    left, right = (rounded(half[::2] + np.column_stack([wobble(len(half[::2])), wobble(len(half[::2]))])) for half in halves)
    return {
        "name": name, "size_px": [t["image"]["width"], t["image"]["height"]],
        "outline": {"left": left, "right": right, "left_sigma_px": sigma[: len(left)], "right_sigma_px": sigma[: len(right)], "sigma_px": 0.16,
                    "rod_left": rounded(edges[0]), "rod_right": rounded(edges[1]), "axis": rounded([entry + rng.normal(0, 0.5, 2), end + rng.normal(0, 0.5, 2)])},
        "tilt_deg": {"value": round(pose["tilt_out_of_image_plane_deg"] + 0.3, 3), "sigma": 0.42},
        "distance_mm": {"value": round(pose["distance_to_part_middle_mm"] * 1.004, 2), "sigma": round(pose["distance_to_part_middle_mm"] * 0.006, 2)},
        "focal_px": {"value": round(fx * 1.003, 1), "sigma": round(fx * 0.006, 1)}, "focal_source": focal_source,
        "model": {"left": model(halves[0]), "right": model(halves[1])}, "residual_px": residual, "seconds": None,
    }, clicks


def size(name, kind, z, value, sigma, candidates, chosen, used, source="photos", against=None):
    found = {"name": name, "kind": kind, "z_mm": z, "value_mm": value, "sigma_mm": sigma, "candidates": [{"label": l, "mm": mm, "odds": o} for l, mm, o in candidates],
             "chosen": chosen, "used_mm": used, "source": source}
    if against is not None:
        found["against_sigmas"] = against
    return found


front = truth("front")
meridian = np.array(front["part"]["meridian_zr_mm"])
sigma_r = 0.018 + 0.012 * np.abs(np.sin(meridian[:, 0] / 4.0)) + 0.05 * ((meridian[:, 0] > 5.2) & (meridian[:, 0] < 7.6))
wander = 0.012 * np.sin(meridian[:, 0] / 2.1) + 0.008 * np.sin(meridian[:, 0] * 1.7)
profile = {
    "points": [[round(float(z), 4), round(max(0.0, float(r + w)), 4), round(float(s), 4)] for (z, r), w, s in zip(meridian, wander, sigma_r)],
    "seen": [bool(z < 5.3 or z > 7.2) for z, _ in meridian],
    "pieces": [],
}
for piece in front["part"]["meridian_primitives"]:
    made = {"kind": piece["kind"], "from": piece["from"], "to": piece["to"]}
    if piece["kind"] == "arc":
        (ax, ay), (bx, by), (cx, cy) = piece["from"], piece["to"], piece["centre"]
        made |= {"centre": piece["centre"], "clockwise": (ax - cx) * (by - cy) - (ay - cy) * (bx - cx) < 0}
    profile["pieces"].append(made)

wanted = 24
curve = [[n, round(float(sum(math.comb(n, k) * math.exp(math.lgamma(9 + k) + math.lgamma(3 + n - k) - math.lgamma(12 + n) - math.lgamma(9) - math.lgamma(3) + math.lgamma(12)) for k in range(wanted, n + 1))), 5)] for n in range(24, 49)]
start = next(n for n, chance in curve if chance >= 0.9)
best = {"black": 5, "blue": 5, "yellow": 9}


def ladder(name, at, shift):
    drops = list(range(0, 13))
    return {"colourant": name, "drops": drops, "lab": [[round(66.1 + shift[0] * (d - at) / (1 + 0.05 * d), 2), round(-7.8 + shift[1] * (d - at), 2), round(8.3 + shift[2] * (d - at), 2)] for d in drops]}


sample = {
    "ringer": "0.1.0", "title": "Focus knob, bench enlarger", "missing": [],
    "warnings": [
        {"station": "profile", "photo": "side", "text": "the cove is hidden behind grip and collar over 1.9 mm of the length; its radius there is carried over from the neighbours", "settle": "a photo square to the axis, from twice the distance"},
        {"station": "sizes", "text": "both lengths lean on the tilt, which the rod alone tells to 0.4\u00b0", "settle": "a caliper reading of the collar, length or diameter, to 0.05 mm"},
        {"station": "colour", "photo": "chips", "text": "the disc was read in one light only; what it looks like under a warm lamp is not known", "settle": "a second photo of disc and grey card under a filament lamp"},
        {"station": "pot", "text": "the count of yellow rests on a single chip", "settle": "the next sample below"},
    ],
    "assumptions": [
        {"station": "body", "text": "no wear is put back: the knob is made as the photos show it", "switch": "[[size]] choose"},
        {"station": "run", "text": "30 % of the resin stays in supports, cups and filters", "switch": "[run] waste"},
    ],
    "photos": [photo("front", 0.21, "from the camera's record, for the diagonal of its sensor")[0], photo("side", 0.24, "from the 35 mm tag, which is whole millimetres only")[0], photo("far", 0.17, "from the camera's record")[0]],
    "profile": profile,
    "dimensions": [
        size("overall length", "length", [0.0, 31.75], 31.68, 0.08, [("1 1/4 in", 31.75, 0.93), ("31.5 mm", 31.5, 0.05), ("not round", 31.68, 0.02)], "1 1/4 in", 31.75),
        size("greatest diameter", "diameter", [17.0, 17.1], 22.20, 0.041, [("7/8 in", 22.225, 0.97), ("22.2 mm", 22.2, 0.02), ("22 mm", 22.0, 0.006)], "7/8 in", 22.225),
        size("collar diameter", "diameter", [0.0, 4.7625], 12.66, 0.034, [("1/2 in", 12.7, 0.96), ("12.5 mm", 12.5, 0.01), ("12.7 mm", 12.7, 0.02)], "1/2 in", 12.7),
        size("collar length", "position", [0.0, 4.7625], 4.79, 0.06, [("3/16 in", 4.7625, 0.88), ("4.8 mm", 4.8, 0.07), ("5 mm", 5.0, 0.01)], "3/16 in", 4.7625, "decision in the document"),
        size("neck diameter", "diameter", [4.9, 5.1], 11.03, 0.16, [("7/16 in", 11.1125, 0.61), ("11 mm", 11.0, 0.27), ("27/64 in", 10.716, 0.03), ("11.2 mm", 11.2, 0.05)], "7/16 in", 11.1125),
        size("grip start", "position", [0.0, 8.73125], 8.47, 0.07, [("11/32 in", 8.73125, 0.04), ("8.5 mm", 8.5, 0.3), ("21/64 in", 8.334, 0.15)], "11/32 in", 8.73125, "decision in the document", 3.7),
    ],
    "system": {"inch": 0.98, "mm": 0.02},
    "body": {"volume_mm3": 8123.4, "area_mm2": 2710.2, "centre_z_mm": 17.31, "bounds_mm": [[-11.1125, -11.1125, 0.0], [11.1125, 11.1125, 31.75]],
             "bore": {"diameter_mm": 6.43, "allowance_mm": 0.08, "depth_mm": 15.875, "bottom": "conical", "fit": "slides on by itself"},
             "files": ["out/part.step", "out/part.stl", "out/part.3mf", "out/section.svg", "out/section.dxf"]},
    "colour": {"lab": [66.0, -8.0, 8.0], "sigma": [1.2, 0.6, 0.7], "srgb": "#98a492", "source": "photo chips, region on the disc", "out_of_gamut": False},
    "pot": {
        "recipes": [
            {"volume_ml": 20.0, "drops": best, "lab": [66.1, -7.8, 8.3], "de00": 0.31, "de00_95": 1.1, "proven": True},
            {"volume_ml": 20.0, "drops": {"black": 5, "blue": 6, "yellow": 9}, "lab": [65.2, -8.9, 7.1], "de00": 1.12, "de00_95": 1.9, "proven": True},
        ],
        "next": {"volume_ml": 5.0, "drops": {"black": 1, "blue": 1, "yellow": 2}, "why": "it halves the doubt of the best recipe: yellow and blue have not been seen together yet"},
        "chips": [
            {"name": "bare", "lab": [93.9, -0.4, 0.1], "predicted": [93.8, -0.4, 0.2], "de00": 0.12},
            {"name": "black 1", "lab": [69.1, -1.1, -4.8], "predicted": [69.3, -1.0, -4.6], "de00": 0.24},
            {"name": "yellow 4", "lab": [87.6, 2.2, 40.5], "predicted": [87.4, 2.3, 40.9], "de00": 0.26},
            {"name": "blue 4", "lab": [74.2, -9.6, -16.2], "predicted": [74.1, -9.8, -16.0], "de00": 0.18},
        ],
        "scaled": {"resin_ml": 242.0, "resin_g": 266.2, "parts": [{"colourant": "black", "drops": 61, "ml": 1.53, "g": 1.6}, {"colourant": "blue", "drops": 61, "ml": 1.53, "g": 1.6}, {"colourant": "yellow", "drops": 109, "ml": 2.73, "g": 2.86}]},
        "ladders": [ladder("black", 5, [-2.6, 0.1, -0.5]), ladder("blue", 5, [-0.9, -1.1, -1.6]), ladder("yellow", 9, [-0.25, 0.15, 1.5])],
    },
    "run": {"wanted": wanted, "start": start, "loads": 3, "per_load": [15, 15, start - 30] if start > 30 else [15, start - 15], "resin_ml": 242.0, "chance": dict(curve)[start], "curve": curve,
            "places_mm": [[13.2 + 25.9 * i, 13.2 + 26.3 * j] for j in range(3) for i in range(5)], "footprint_mm": 22.3, "plate_mm": [130.0, 80.0],
            "basis": "10 made so far, 8 of them good; what that says of the next ones is counted with a beta-binomial distribution, starting from a flat prior"},
}
sample["run"]["loads"] = len(sample["run"]["per_load"])
for found in sample["photos"]:
    del found["seconds"]
with open("sample_result.json", "w") as file:
    json.dump(sample, file, separators=(",", ":"))
    file.write("\n")
