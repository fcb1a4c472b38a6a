#!/usr/bin/env python3
"""Reads the papers of a made job back: fonts inside, page sizes, and the gauge's sizes in the PDF's own units.

    python proof/paper_second_opinion.py [OUT_FOLDER]      (the `out` of a job that has a profile; left out: the demo job is made for it)
Needs nothing beyond Python; PDF content streams are unpacked with zlib and walked by their operators (ISO 32000-1, 8.2: q, Q, cm, m, l, c, S).
"""
import json
import pathlib
import re
import subprocess
import sys
import tempfile
import zlib

MM = 72 / 25.4


def demo():
    """The demo job, made in a temporary folder by the program as built."""
    root = pathlib.Path(__file__).resolve().parent.parent
    folder = pathlib.Path(tempfile.mkdtemp(prefix="ringer-paper-")) / "demo"
    subprocess.run(["cargo", "run", "--release", "--quiet", "--", "demo", str(folder)], cwd=root, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    return folder / "out"


OUT = pathlib.Path(sys.argv[1]) if len(sys.argv) > 1 else demo()
FAILED = []


def check(ok, words):
    print(("  ok   " if ok else "  FAIL ") + words)
    if not ok:
        FAILED.append(words)


def streams(data):
    for found in re.finditer(rb"stream\r?\n", data):
        end = data.find(b"endstream", found.end())
        raw = data[found.end() : end]
        try:
            yield zlib.decompressobj().decompress(raw)
        except zlib.error:
            yield raw


def times(m, n):
    return [m[0] * n[0] + m[1] * n[2], m[0] * n[1] + m[1] * n[3], m[2] * n[0] + m[3] * n[2], m[2] * n[1] + m[3] * n[3],
            m[4] * n[0] + m[5] * n[2] + n[4], m[4] * n[1] + m[5] * n[3] + n[5]]


def strokes(data):
    """Every path on the pages as points in mm from the page's lower left corner."""
    token = re.compile(rb"\((?:\\.|[^\\)])*\)|<[0-9A-Fa-f\s]*>|\[|\]|/[^\s/\[\]<>()]+|[-+.\d]+|[A-Za-z*'\"]+")
    paths = []
    for text in streams(data):
        # Fonts, colour profiles and character maps are streams too; content is text and moves the pen.
        if any(byte > 126 for byte in text[:500]) or not re.search(rb"[\d.]+ [\d.]+ m\b", text):
            continue
        matrix, saved, numbers, path = [1, 0, 0, 1, 0, 0], [], [], []
        for piece in token.findall(text):
            try:
                numbers.append(float(piece))
                continue
            except ValueError:
                pass
            at = lambda x, y: ((matrix[0] * x + matrix[2] * y + matrix[4]) / MM, (matrix[1] * x + matrix[3] * y + matrix[5]) / MM)
            if piece == b"q":
                saved.append(matrix)
            elif piece == b"Q":
                matrix = saved.pop() if saved else matrix
            elif piece == b"cm":
                matrix = times(numbers[-6:], matrix)
            elif piece == b"m":
                path = [at(*numbers[-2:])]
                paths.append(path)
            elif piece in (b"l", b"c", b"v", b"y"):
                path.append(at(*numbers[-2:]))
            numbers = []
    return paths


def extent(path, axis):
    return max(p[axis] for p in path) - min(p[axis] for p in path)


result = json.loads((OUT / "result.json").read_text())
low, high = result["body"]["bounds_mm"]
length, across = high[2] - low[2], high[0] - low[0]
for ending, size in (("", (210.0, 297.0)), ("-letter", (215.9, 279.4))):
    for name in ("sheet", "steps", "gauge", "label", "record"):
        data = (OUT / f"{name}{ending}.pdf").read_bytes()
        everything = data + b"".join(streams(data))
        fonts = len(re.findall(rb"/FontDescriptor\b\s*/|/Type\s*/FontDescriptor", everything))
        inside = len(re.findall(rb"/FontFile[23]?\b", everything))
        check(fonts > 0 and inside >= 1 and b"/BaseFont/Helvetica" not in everything, f"{name}{ending}.pdf: fonts are inside ({inside})")
        boxes = [[float(v) for v in box.split()] for box in re.findall(rb"/MediaBox\s*\[([^\]]*)\]", everything)]
        right = [abs(b[2] / MM - size[0]) < 0.01 and abs(b[3] / MM - size[1]) < 0.01 for b in boxes]
        # A section drawing may have a page of its own size at the end of the sheet.
        check(bool(boxes) and (all(right) or (name == "sheet" and right.count(False) == 1)), f"{name}{ending}.pdf: {len(boxes)} pages of {size[0]} x {size[1]} mm")
    paths = strokes((OUT / f"gauge{ending}.pdf").read_bytes())
    straight = [p for p in paths if len(p) == 2]
    nearest = lambda mm, axis: min((abs(extent(p, axis) - mm) for p in straight if extent(p, 1 - axis) < 0.01), default=99)
    check(nearest(100, 0) < 0.05, f"gauge{ending}: scale along is 100 mm to {nearest(100, 0):.4f}")
    check(nearest(50, 1) < 0.05, f"gauge{ending}: scale down is 50 mm to {nearest(50, 1):.4f}")
    halves = [p for p in paths if len(p) > 4 and abs(extent(p, 0) - length) < 0.05]
    both = [point for half in halves for point in half]
    check(len(halves) == 2 and abs(extent(both, 1) - across) < 0.05, f"gauge{ending}: outline is {extent(both, 0):.4f} x {extent(both, 1):.4f} mm for {length:.4f} x {across:.4f}" if both else "gauge: no outline")
    walls = sorted({round(p[0][0], 4) for p in straight if abs(extent(p, 1) - 12) < 0.01})
    for size_told in [d for d in result["dimensions"] if d["kind"] == "diameter"][:10]:
        off = min((abs(b - a - size_told["used_mm"]) for a in walls for b in walls), default=99)
        check(off < 0.05, f"gauge{ending}: gap for {size_told['name']}, {size_told['used_mm']:.3f} mm, to {off:.4f}")
sys.exit(bool(FAILED))
