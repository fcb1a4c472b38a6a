"""Lays out the jobs of this folder from a set of photographs with known truth: lay_out.py SET_DIR SCORER_DIR

Each photo becomes a job as a user would write it: the rod's size, two clicks that miss by half a per cent of the width (seeded), the grey
card where one lies there. `truth.json` keeps of the truth only what the tests compare. Run once; the output is kept.
"""
import json, os, random, shutil, sys

set_dir, scorer_dir = sys.argv[1:3]
sys.path.insert(0, scorer_dir)
from score_shape import clicks
from score_colour import polygon

here = os.path.dirname(os.path.abspath(__file__))
for name in sorted(f[:-5] for f in os.listdir(f"{set_dir}/truth") if f.endswith(".json")):
    t = json.load(open(f"{set_dir}/truth/{name}.json"))
    folder = f"{here}/{name}"
    os.makedirs(f"{folder}/photos", exist_ok=True)
    shutil.copy(f"{set_dir}/photos/{name}.jpg", f"{folder}/photos/{name}.jpg")
    c = clicks(t, random.Random(t["seed"]))
    lines = ['format = "ringer-job 1"', f'title = "Known part {name}"', "", "[[known]]", 'name = "shaft"', f'value = "{t["rod"]["label"]}"', 'source = "known truth"', "",
             "[[photo]]", f'name = "{name}"', f'file = "photos/{name}.jpg"', 'shaft = "shaft"', "axis = [[%.1f, %.1f], [%.1f, %.1f]]" % (*c[0], *c[1])]
    if t.get("card"):
        lines.append(f'neutral = {{ polygon = {polygon(t["card"]["grey_card"]["polygon_px"])}, reflectance = 0.18 }}')
    open(f"{folder}/job.toml", "w").write("\n".join(lines) + "\n")
    meridian = t["part"]["meridian_zr_mm"]
    truth = {
        "tags": t["tags"], "overall_length_mm": t["part"]["overall_length_mm"], "greatest_diameter_mm": t["part"]["greatest_diameter_mm"],
        "system": "mm" if t["part"]["system"] == "mm" else "inch", "design_sizes": [s for s in t["part"]["design_sizes"] if s["kind"] in ("diameter", "length", "position")],
        "meridian_zr_mm": [[round(z, 4), round(r, 4)] for z, r in meridian],
        "body_lab": t["colour"]["seen"]["body_45_0"]["lab_d65_2deg"], "has_card": bool(t.get("card")),
    }
    json.dump(truth, open(f"{folder}/truth.json", "w"), separators=(",", ":"))
