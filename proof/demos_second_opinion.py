#!/usr/bin/env python3
"""Makes every job under cases/ and reads its STEP and STL back with other people's libraries; prints PASS or FAIL a row, exit code 1 if any failed.

    python proof/demos_second_opinion.py [RINGER]        RINGER: the program; target/release/ringer if none is named

STEP (OpenCASCADE): valid, one solid, volume within 0.01 % of what the result says. STL (trimesh): closed, outward, volume within surface times chord of it. Every file the same
bytes on a second run.
Needs: numpy cadquery-ocp trimesh
"""
import hashlib, json, pathlib, shutil, subprocess, sys, tempfile
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

def main():
    root = pathlib.Path(__file__).resolve().parent.parent
    ringer = sys.argv[1] if len(sys.argv) > 1 else str(root / "target/release/ringer")
    jobs = [path.parent for path in sorted(root.glob("cases/**/job.toml")) if "refused" not in path.parts]
    with tempfile.TemporaryDirectory(prefix="ringer-demos-") as scratch:
        for job in jobs:
            folder = pathlib.Path(scratch) / job.name
            shutil.copytree(job, folder)
            judge(job.name, folder, ringer)
    print("all passed" if not failed else f"{failed} FAILED")
    sys.exit(1 if failed else 0)

main()
