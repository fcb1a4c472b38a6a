#!/usr/bin/env python3
"""Makes every job under cases/ and reads its STEP and STL back with other people's libraries; prints PASS or FAIL a row, exit code 1 if any failed.

    python proof/demos_second_opinion.py [RINGER]        RINGER: the program; target/release/ringer if none is named

STEP (OpenCASCADE): valid, one solid, volume within 0.01 % of what the result says. STL (trimesh): closed, outward, volume within surface times chord of it. Every file the same
bytes on a second run. The fit test piece, asked for in a copy of the demo: 3MF read by lib3mf, mesh closed and nowhere folded, bores measured back, pads counted.
Needs: numpy cadquery-ocp trimesh lib3mf
"""
import hashlib, json, math, pathlib, re, shutil, subprocess, sys, tempfile
import numpy as np
import trimesh
from step_reading import one_valid_solid, volume_mm3

CHORD_MM = 0.005  # the chord where the document names none
failed = 0

def row(name, what, good, detail=""):
    global failed
    failed += not good
    print(f"{'PASS' if good else 'FAIL'}  {name:12} {what:36} {detail}")

def stamps(folder):
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in sorted((folder / "out").iterdir())}

def judge(name, folder, ringer):
    made = subprocess.run([ringer, "make", str(folder), "--json"], capture_output=True, text=True)
    row(name, "made", made.returncode == 0, made.stderr.strip()[:200])
    if made.returncode:
        return
    body = json.loads(made.stdout).get("body")
    before = stamps(folder)
    subprocess.run([ringer, "make", str(folder)], capture_output=True)
    row(name, "same bytes on a second run", stamps(folder) == before, f"{len(before)} files")
    if body is None:
        return row(name, "has a body", False)
    read = one_valid_solid(folder / "out/part.step")
    row(name, "STEP one valid solid", read.good, read.words)
    if read.shape is not None:
        meant = body.get("step_volume_mm3", body["volume_mm3"])
        off = volume_mm3(read.shape) / meant - 1
        row(name, "STEP volume within 0.01 %", abs(off) < 1e-4, f"{meant:.3f} mm3, relative {off:+.1e}")
    mesh = trimesh.load(folder / "out/part.stl", force="mesh", process=True)
    row(name, "STL closed, outward", mesh.is_watertight and mesh.is_winding_consistent and mesh.volume > 0, f"{len(mesh.faces)} triangles")
    off, bound = mesh.volume - body["volume_mm3"], mesh.area * CHORD_MM * 1.01 + 1e-6 * body["volume_mm3"]
    row(name, "STL volume within surface x chord", abs(off) < bound, f"off {off:+.4f} of {bound:.4f} mm3")

def read_3mf(path):
    from lib3mf import get_wrapper
    model = get_wrapper().CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromFile(str(path))
    objects = model.GetMeshObjects()
    objects.MoveNext()
    part = objects.GetCurrentMeshObject()
    corners = np.array([[*p.Coordinates] for p in part.GetVertices()])
    triangles = np.array([[*t.Indices] for t in part.GetTriangleIndices()])
    return trimesh.Trimesh(corners, triangles, process=False), reader.GetWarningCount()

def judge_fit_test(folder, ringer):
    """A bar, its bores and its pads, told from the mesh alone and set against its list and against sizes worked by hand."""
    name, document = "fit test", folder / "job.toml"
    document.write_text(document.read_text().replace("[body]", "[body]\nfit_test = {}", 1))
    made = subprocess.run([ringer, "make", str(folder)], capture_output=True, text=True)
    if made.returncode or not (folder / "out/fit-test.3mf").exists():
        return row(name, "made", False, made.stderr.strip()[-200:])
    stated = [float(d) for d in re.findall(r"^ +\d+  ([0-9.]+)$", (folder / "out/fit-test.txt").read_text(), re.M)]
    mesh, warnings = read_3mf(folder / "out/fit-test.3mf")
    row(name, "3MF read strictly, no warning", warnings == 0)
    good = mesh.is_watertight and mesh.is_winding_consistent and mesh.body_count == 1 and mesh.volume > 0
    row(name, "one closed shell, outward", good, f"{len(mesh.faces)} triangles")
    # Heights: the bed, the bar's face, the pads' tops.
    heights = sorted(set(np.round(mesh.vertices[:, 2], 5)))
    length, width = np.ptp(mesh.vertices[:, 0]), np.ptp(mesh.vertices[:, 1])
    row(name, "lies on the bed, three heights", len(heights) == 3 and heights[0] == 0.0, str([float(h) for h in heights]))
    face, pad = heights[1], heights[2] - heights[1]
    # Half way up the bar its section is a rectangle with round holes: each one's diameter by its area.
    cell = length / len(stated)
    cut = trimesh.intersections.mesh_plane(mesh, [0, 0, 1], [0, 0, 0.5 * face])[:, :, :2]
    low = mesh.bounds[0, :2]
    inside = ((cut > low + 0.1) & (cut < mesh.bounds[1, :2] - 0.1)).all(axis=(1, 2))
    found, round_ = [], 0.0
    for i in range(len(stated)):
        sides = cut[inside & (np.floor((cut[:, 0, 0] - low[0]) / cell) == i)]
        middle = 0.5 * (sides.min(axis=(0, 1)) + sides.max(axis=(0, 1)))
        a, b = sides[:, 0] - middle, sides[:, 1] - middle
        found.append(2 * math.sqrt(0.5 * np.abs(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum() / math.pi))
        round_ = max(round_, np.ptp(np.linalg.norm(np.concatenate([a, b]), axis=1)))
    off = np.abs(np.subtract(found, stated)).max()
    row(name, "bores as stated, in order", off < 0.002, f"{len(found)} bores, {off * 1000:.2f} um off at most")
    row(name, "bores round", round_ < 0.004, f"{round_ * 1000:.2f} um")
    # What looks up may not cover a bore: its area, each triangle counted, is the bar's less the bores'.
    flat = mesh.area_faces[np.abs(mesh.face_normals[:, 2]) > 0.99].sum()
    meant = 2 * (length * width - sum(math.pi / 4 * d * d for d in stated))
    row(name, "no face across a bore", abs(flat / meant - 1) < 1e-4, f"{flat:.2f} of {meant:.2f} mm2")
    # Pads: their tops, counted over each bore.
    top = mesh.vertices[mesh.vertices[:, 2] > heights[2] - 1e-5]
    edges = np.unique(np.round(top[:, 0], 4)).reshape(-1, 2)
    counts = [int(np.sum(np.floor((edges.mean(axis=1) - low[0]) / cell) == i)) for i in range(len(stated))]
    row(name, "one pad more a bore", counts == list(range(1, len(stated) + 1)), str(counts))
    wide, gap, deep = np.ptp(edges, axis=1).min(), (edges[1:, 0] - edges[:-1, 1]).min(), np.ptp(top[:, 1])
    row(name, "pads 0.3 high, 0.5 wide and apart", pad >= 0.3 and min(wide, gap, deep) >= 0.5, f"{pad:.2f} high, {wide:.2f} by {deep:.2f}, {gap:.2f} apart, mm")
    by_hand = face * meant / 2 + pad * len(edges) * wide * deep
    row(name, "volume by hand", abs(mesh.volume / by_hand - 1) < 1e-4, f"{by_hand:.2f} mm3, relative {mesh.volume / by_hand - 1:+.1e}")

def main():
    root = pathlib.Path(__file__).resolve().parent.parent
    ringer = sys.argv[1] if len(sys.argv) > 1 else str(root / "target/release/ringer")
    jobs = [path.parent for path in sorted(root.glob("cases/**/job.toml")) if "refused" not in path.parts]
    with tempfile.TemporaryDirectory(prefix="ringer-demos-") as scratch:
        for job in jobs:
            folder = pathlib.Path(scratch) / job.name
            shutil.copytree(job, folder)
            judge(job.name, folder, ringer)
        judge_fit_test(pathlib.Path(scratch) / "demo", ringer)
    print("all passed" if not failed else f"{failed} FAILED")
    sys.exit(1 if failed else 0)

main()
