#!/usr/bin/env python3
"""Reads the files of `export` back with other people's libraries and prints PASS or FAIL a row; exit code 1 if any failed.

    python proof/solid_second_opinion.py            writes the bodies (cargo run --release -p export --example write_bodies OUTDIR --random 200) and reads them
    python proof/solid_second_opinion.py OUTDIR     reads what is there

Truth: the boundary pieces in bodies.json, integrated here by adaptive quadrature (scipy), and formulas worked by hand in the example.
Judges: OpenCASCADE (cadquery-ocp) for STEP, trimesh for STL and glTF, ezdxf for DXF, lib3mf (the format's reference reader) for 3MF. Orientation of the STEP shell
is judged from the raw text, because OpenCASCADE turns an inside-out shell without a word.
Needs: numpy scipy cadquery-ocp trimesh lib3mf ezdxf
"""
import json, math, pathlib, re, subprocess, sys, tempfile
import numpy as np
from scipy.integrate import quad
from step_reading import area_mm2, one_valid_solid, volume_mm3

failed = 0

def row(name, what, good, detail):
    """One finding; of the random bodies only the bad ones are shown."""
    global failed
    failed += not good
    if good and name.startswith("random_"):
        return
    print(f"{'PASS' if good else 'FAIL'}  {name:24} {what:34} {detail}")

# ------------------------------------------------------------------ truth
def truth(pieces):
    """Volume, area, moment by adaptive quadrature on each piece."""
    total = np.zeros(3)
    for piece in pieces:
        place, speed = motion(piece)
        def f(t, k):
            (z, r), (dz, dr) = place(t), speed(t)
            return [math.pi * r * r * dz, 2 * math.pi * r * math.hypot(dz, dr), math.pi * z * r * r * dz][k]
        total += [quad(f, 0, 1, args=(k,), epsabs=1e-13, epsrel=1e-13, limit=400)[0] for k in range(3)]
    return total

def motion(piece):
    if "line" in piece:
        a, b = map(np.array, piece["line"])
        return (lambda t: a + t * (b - a)), (lambda t: b - a)
    if "arc" in piece:
        a, b, c = map(np.array, piece["arc"])
        radius = np.hypot(*(a - c))
        first, last = math.atan2(a[1] - c[1], a[0] - c[0]), math.atan2(b[1] - c[1], b[0] - c[0])
        sweep = (last - first) % (2 * math.pi) or 2 * math.pi
        if not piece["ccw"]:
            sweep -= 2 * math.pi
            sweep = sweep or -2 * math.pi
        at = lambda t: c + radius * np.array([math.cos(first + t * sweep), math.sin(first + t * sweep)])
        go = lambda t: radius * sweep * np.array([-math.sin(first + t * sweep), math.cos(first + t * sweep)])
        return at, go
    p = [np.array(q) for q in piece["curve"]]
    at = lambda t: (1-t)**3 * p[0] + 3*(1-t)**2*t * p[1] + 3*(1-t)*t*t * p[2] + t**3 * p[3]
    go = lambda t: 3*(1-t)**2 * (p[1]-p[0]) + 6*(1-t)*t * (p[2]-p[1]) + 3*t*t * (p[3]-p[2])
    return at, go

# ------------------------------------------------------------------ STEP
def judge_step(name, path, pieces, volume, area):
    from OCP.STEPControl import STEPControl_Reader
    from OCP.IFSelect import IFSelect_RetDone
    from OCP.BRepCheck import BRepCheck_Analyzer
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopAbs import TopAbs_SOLID, TopAbs_SHELL
    from OCP.BRep import BRep_Tool
    from OCP.TopoDS import TopoDS
    label = path.suffixes[0][1:]
    reader = STEPControl_Reader()
    if reader.ReadFile(str(path)) != IFSelect_RetDone or reader.TransferRoots() < 1:
        return row(name, f"STEP {label} is read", False, "refused")
    checks = reader.WS().TransferReader().TransientProcess().CheckList(False)
    warnings = []
    checks.Start()
    while checks.More():
        c = checks.Value()
        warnings += [c.CWarning(i + 1) for i in range(c.NbWarnings())] + [c.CFail(i + 1) for i in range(c.NbFails())]
        checks.Next()
    row(name, f"STEP {label} transfers without a word", not warnings, "; ".join(map(str, warnings)) or "no warning")
    shape = reader.OneShape()
    def found(kind):
        walk, all_ = TopExp_Explorer(shape, kind), []
        while walk.More():
            all_.append(walk.Current()); walk.Next()
        return all_
    solids, shells = found(TopAbs_SOLID), found(TopAbs_SHELL)
    row(name, f"STEP {label} one solid, one shell", len(solids) == 1 and len(shells) == 1, f"{len(solids)} solid, {len(shells)} shell")
    row(name, f"STEP {label} valid (BRepCheck)", BRepCheck_Analyzer(shape).IsValid(), "")
    shell = TopoDS.Shell_s(shells[0]) if hasattr(TopoDS, "Shell_s") else TopoDS.Shell(shells[0])
    row(name, f"STEP {label} shell closed", BRep_Tool.IsClosed_s(shell), "")
    off = volume_mm3(shape, 1e-10) / volume - 1
    row(name, f"STEP {label} volume", abs(off) < 1e-4, f"relative {off:+.1e}")
    off = area_mm2(shape, 1e-10) / area - 1
    row(name, f"STEP {label} area", abs(off) < 1e-4, f"relative {off:+.1e}")
    text = path.read_text()
    bad = wrong_normals(text, pieces)
    row(name, f"STEP {label} raw normals outward", not bad, "; ".join(bad[:3]))
    row(name, f"STEP {label} inside out is noticed", bool(wrong_normals(turned_inside_out(text), pieces)), "the judge, judged")

def wrong_normals(text, pieces):
    """From the raw text: every face's own normal (surface and its flag) must leave the material, and its loop must run counter-clockwise about that normal.
    Inside and outside are told in the half plane, by the boundary itself (OpenCASCADE's classifier errs by 0.01 mm beside revolved curves)."""
    raw = Raw(text)
    outline = np.concatenate([[motion(p)[0](t) for t in np.linspace(0, 1, 2 if "line" in p else 3001)] for p in pieces])
    def inside(place):
        z, r = place[2], math.hypot(place[0], place[1])
        a, b = outline, np.roll(outline, -1, axis=0)
        if np.linalg.norm(a[0] - a[-1]) > 1e-6:  # from axis to axis: what lies below the last step back is the axis itself
            a, b = a[:-1], b[:-1]
        spans = (a[:, 0] > z) != (b[:, 0] > z)
        a, b = a[spans], b[spans]
        return int(np.sum(a[:, 1] + (z - a[:, 0]) / (b[:, 0] - a[:, 0]) * (b[:, 1] - a[:, 1]) > r)) % 2 == 1
    bad, faces = [], raw.faces()
    for number in faces:
        place, normal, loop_normal = raw.middle(number)
        if np.dot(normal, loop_normal) < 0.99:
            bad.append(f"#{number}: loop runs the wrong way")
        if inside(place + 1e-4 * normal) or not inside(place - 1e-4 * normal):
            bad.append(f"#{number}: normal points into the material")
    return bad or ([] if faces else ["no faces"])

def turned_inside_out(text):
    """The same file with every face's flag turned: what the orientation judge must refuse."""
    return re.sub(r"(=ADVANCED_FACE\(.*),\.([TF])\.\);", lambda m: f"{m[1]},.{'F' if m[2] == 'T' else 'T'}.);", text)

class Raw:
    """Just enough of ISO 10303-21 to evaluate our own entities."""
    def __init__(self, text):
        body = text[text.index("DATA;") + 5:]
        self.of = {int(n): (kind, args) for n, kind, args in re.findall(r"#(\d+)=([A-Z0-9_]+)\((.*)\);\n", body)}
    def args(self, n):
        kind, text = self.of[n]
        parts, depth, now = [], 0, ""
        for c in text:
            depth += (c == "(") - (c == ")")
            if c == "," and depth == 0:
                parts.append(now); now = ""
            else:
                now += c
        return kind, parts + [now]
    def refs(self, text):
        return [int(n) for n in re.findall(r"#(\d+)", text)]
    def triple(self, n):
        return np.array([float(x) for x in self.args(n)[1][1].strip("()").split(",")])
    def frame(self, n):
        _, (_, o, z, x) = self.args(n)
        o, z, x = (self.triple(self.refs(t)[0]) for t in (o, z, x))
        return o, x, np.cross(z, x), z
    def faces(self):
        return [n for n, (kind, _) in sorted(self.of.items()) if kind == "ADVANCED_FACE"]
    def curve(self, n):
        kind, a = self.args(n)
        if kind == "LINE":
            return "line", None
        if kind == "TRIMMED_CURVE":
            return self.curve(self.refs(a[1])[0])
        if kind == "CIRCLE":
            return "circle", (*self.frame(self.refs(a[1])[0]), float(a[2]))
        return "spline", [self.triple(q) for q in self.refs(a[2])]
    def edge(self, n, forward, count=33):
        _, a = self.args(n)
        v0, v1, c = self.refs(a[1])[0], self.refs(a[2])[0], self.refs(a[3])[0]
        p0, p1 = (self.triple(self.refs(self.args(v)[1][1])[0]) for v in (v0, v1))
        t = np.linspace(0, 1, count)[:, None]
        kind, data = self.curve(c)
        if kind == "line":
            points = p0 + t * (p1 - p0)
        elif kind == "circle":
            o, x, y, _, radius = data
            angle = lambda p: math.atan2(np.dot(p - o, y), np.dot(p - o, x))
            first = angle(p0); sweep = (angle(p1) - first) % (2 * math.pi) or 2 * math.pi
            points = o + radius * (np.cos(first + t * sweep) * x + np.sin(first + t * sweep) * y)
        else:
            q = data
            points = (1-t)**3 * q[0] + 3*(1-t)**2*t * q[1] + 3*(1-t)*t*t * q[2] + t**3 * q[3]
        assert np.linalg.norm(points[0] - p0) < 1e-6 and np.linalg.norm(points[-1] - p1) < 1e-6, "an edge's curve misses its vertices"
        return points if forward else points[::-1]
    def middle(self, face):
        """A place on the face, the face's normal there, and the normal about which its loop runs counter-clockwise."""
        _, a = self.args(face)
        bound = self.refs(a[1])[0]; surface = self.refs(a[2])[0]; along = a[3] == ".T."
        loop = self.refs(self.args(bound)[1][1])[0]
        assert self.args(bound)[1][2] == ".T."
        sides = []
        for oriented in self.refs(self.args(loop)[1][1]):
            _, b = self.args(oriented)
            sides.append(self.edge(self.refs(b[3])[0], b[4] == ".T."))
        for one, two in zip(sides, sides[1:] + sides[:1]):
            assert np.linalg.norm(one[-1] - two[0]) < 1e-6, "a loop is open"
        # Middle of the face: a meridian edge's middle turned by 90 degrees toward the face's half circle.
        meridians = [s for s in sides if np.ptp(s[:, 1]) < 1e-9]
        circles = [s for s in sides if np.ptp(s[:, 1]) >= 1e-9]
        m = meridians[0][len(meridians[0]) // 2]
        radius = math.hypot(m[0], m[1])
        # Which half: where the circles are. A face from apex to apex has none: there the standard puts the face on the left of its loop as seen
        # against its normal, so the two meridians' order and the flag decide (our balls and lemons run toward +z, natural normal off the axis).
        if circles:
            half = np.sign(circles[0][len(circles[0]) // 2][1])
        else:
            up = meridians[0] if meridians[0][-1][2] > meridians[0][0][2] else meridians[1]
            half = -np.sign(up[len(up) // 2][0]) * (1 if along else -1)
        place = np.array([0.0, half * radius, m[2]])
        normal = self.normal(surface, place, meridians) * (1 if along else -1)
        # The loop drawn flat, angle round the axis against way along the meridian: its turning sense says which way the face looks.
        m = self.edge_forward(face)
        ends = [np.array([math.hypot(q[0], q[1]), q[2]]) for q in (m[0], m[-1])]
        flat = []
        for s in sides:
            for q in (s[0], s[len(s) // 2], s[-1]):
                angle = math.atan2(q[1], q[0])
                if half > 0:
                    angle = angle % (2 * math.pi) if abs(q[1]) > 1e-9 or q[0] < 0 else 0.0
                else:
                    angle = angle % (2 * math.pi) if abs(q[1]) > 1e-9 or q[0] < 0 else 2 * math.pi
                flat.append((s, q, angle))
        # Way along: 0 at the meridian's start, 1 at its end, 1/2 at its middle. An apex belongs to the side that is being left.
        points = []
        for s, q, angle in flat:
            here = np.array([math.hypot(q[0], q[1]), q[2]])
            on_meridian = np.ptp(s[:, 1]) < 1e-9
            if on_meridian and np.array_equal(q, s[len(s) // 2]):
                way = 0.5
            else:
                way = 0.0 if np.linalg.norm(here - ends[0]) < 1e-6 else 1.0
            if on_meridian and here[0] < 1e-6:
                angle = math.atan2(*s[len(s) // 2][1::-1]) % (2 * math.pi)
                angle = 2 * math.pi if half < 0 and angle < 1e-9 else angle
            points.append((angle, way))
        turning = sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(points, points[1:] + points[:1]))
        # At the middle: round the axis x along the meridian, turned to this half.
        i = len(m) // 2
        d = m[i + 1] - m[i - 1]
        around = np.array([-half, 0.0, 0.0])
        along_here = np.array([0.0, half * d[0] * np.sign(m[i][0]), d[2]])
        looks = np.cross(around, along_here)
        looks = looks / np.linalg.norm(looks) * np.sign(turning)
        return place, normal, looks
    def edge_forward(self, face):
        """The face's first meridian edge, run as its curve runs."""
        _, a = self.args(face)
        loop = self.refs(self.args(self.refs(a[1])[0])[1][1])[0]
        for oriented in self.refs(self.args(loop)[1][1]):
            points = self.edge(self.refs(self.args(oriented)[1][3])[0], True)
            if np.ptp(points[:, 1]) < 1e-9:
                return points
    def normal(self, surface, place, meridians):
        kind, a = self.args(surface)
        if kind == "SURFACE_OF_REVOLUTION":
            # d/du x d/dv: round the axis, then along the swept curve.
            swept = self.refs(a[1])[0]
            around = np.array([-np.sign(place[1]), 0.0, 0.0])
            s = min((s for s in meridians), key=lambda s: -s[len(s) // 2][0])
            i = len(s) // 2
            d = s[i + 1] - s[i - 1]
            direction = self.swept_direction(swept, s[i], d)
            along = np.array([0.0, np.sign(place[1]) * direction[0], direction[2]])
            n = np.cross(around, along)
            return n / np.linalg.norm(n)
        o, x, y, z = self.frame(self.refs(a[1])[0])
        q = place - o
        radial = q - np.dot(q, z) * z
        length = np.linalg.norm(radial)
        radial = radial / length if length > 0 else x
        if kind == "PLANE":
            return z
        if kind == "CYLINDRICAL_SURFACE":
            return radial
        if kind == "CONICAL_SURFACE":
            angle = float(a[3])
            return math.cos(angle) * radial - math.sin(angle) * z
        if kind == "SPHERICAL_SURFACE":
            return q / np.linalg.norm(q)
        if kind == "TOROIDAL_SURFACE":
            n = q - float(a[2]) * radial
            return n / np.linalg.norm(n)
        raise ValueError(kind)
    def swept_direction(self, swept, at, chord):
        """Direction of the swept curve's own parameter at a place on it (x > 0 half plane)."""
        kind, data = self.curve(swept)
        if kind == "circle":
            o, x, y, z, radius = data
            return np.cross(z, at - o)
        ends = data[-1] - data[0]
        t = np.linspace(0, 1, 2001)[:, None]
        q = data
        points = (1-t)**3 * q[0] + 3*(1-t)**2*t * q[1] + 3*(1-t)*t*t * q[2] + t**3 * q[3]
        i = int(np.clip(np.argmin(np.linalg.norm(points - at, axis=1)), 1, 1999))
        return points[i + 1] - points[i - 1]

# ------------------------------------------------------------------ STL
def judge_stl(name, path, volume, area, chord):
    import trimesh
    mesh = trimesh.load(path, process=True)
    row(name, "STL watertight", mesh.is_watertight, f"{len(mesh.faces)} triangles")
    row(name, "STL winding consistent", mesh.is_winding_consistent, "")
    row(name, "STL one body, no hole skipped", mesh.body_count == 1, f"{mesh.body_count}")
    # Inside the chord bound: area x chord, and single precision on top.
    bound = area * chord * 1.01 + volume * 1e-6
    row(name, "STL volume within chord bound", abs(mesh.volume - volume) < bound and mesh.volume > 0, f"off {mesh.volume - volume:+.4f} of +/-{bound:.4f} mm3")

# ------------------------------------------------------------------ 3MF
def judge_3mf(name, path, volume, area, chord):
    import lib3mf
    from lib3mf import get_wrapper
    wrapper = get_wrapper()
    model = wrapper.CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    try:
        reader.ReadFromFile(str(path))
    except Exception as error:
        return row(name, "3MF read strictly", False, str(error))
    words = [reader.GetWarning(i) for i in range(reader.GetWarningCount())]
    row(name, "3MF read strictly, no warning", not words, "; ".join(map(str, words)))
    row(name, "3MF in millimetres", model.GetUnit() == lib3mf.ModelUnit.MilliMeter, str(model.GetUnit()))
    groups = model.GetBaseMaterialGroups()
    colours = []
    while groups.MoveNext():
        group = groups.GetCurrentBaseMaterialGroup()
        for i in group.GetAllPropertyIDs():
            c = group.GetDisplayColor(i)
            colours.append((group.GetName(i), c.Red, c.Green, c.Blue, c.Alpha))
    row(name, "3MF colour and its name", colours == [('sage <green> & "resin"', 152, 164, 146, 255)], str(colours))
    objects, meshes = model.GetMeshObjects(), []
    while objects.MoveNext():
        meshes.append(objects.GetCurrentMeshObject())
    items, count = model.GetBuildItems(), 0
    while items.MoveNext():
        count += 1
    good = len(meshes) == 1 and count == 2 and meshes[0].IsValid() and meshes[0].IsManifoldAndOriented()
    row(name, "3MF one oriented manifold, two copies", good, f"{len(meshes)} mesh, {count} items")
    v = np.array([[*p.Coordinates] for p in meshes[0].GetVertices()])
    t = np.array([[*q.Indices] for q in meshes[0].GetTriangleIndices()])
    a, b, c = v[t[:, 0]], v[t[:, 1]], v[t[:, 2]]
    found = np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6
    bound = area * chord * 1.01 + volume * 1e-6
    row(name, "3MF volume within chord bound", abs(found - volume) < bound, f"off {found - volume:+.4f} of +/-{bound:.4f} mm3")

# ------------------------------------------------------------------ glTF
def judge_gltf(name, path, volume, area, chord):
    import trimesh
    mesh = trimesh.load(path, force="mesh", process=False)
    normals = np.array(mesh.vertex_normals)
    faces = np.array(mesh.face_normals)
    a, b, c = (mesh.vertices[mesh.faces[:, k]] for k in range(3))
    found = np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6 * 1e9
    bound = area * chord * 1.01 + volume * 1e-5
    row(name, "glTF volume (metres, outward)", abs(found - volume) < bound, f"off {found - volume:+.4f} of +/-{bound:.4f} mm3")
    good = (np.einsum("ij,ikj->ik", faces, normals[mesh.faces]) > 0.9).all()
    row(name, "glTF normals agree with triangles", good, f"{len(mesh.faces)} triangles")
    colour = np.array(mesh.visual.material.baseColorFactor[:3], float)
    linear = lambda v: v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4
    wanted = [linear(v / 255) * 255 for v in (152, 164, 146)]
    row(name, "glTF colour in linear light", np.allclose(colour, wanted, atol=1.0), str(colour))

# ------------------------------------------------------------------ DXF
def judge_dxf(name, path, body):
    import ezdxf
    document = ezdxf.readfile(path)
    errors = document.audit().errors
    row(name, "DXF audits clean", not errors and document.dxfversion == "AC1009", str([e.message for e in errors]))
    # Every boundary piece must be there on both sides of the axis: same ends, and its middle on the piece to a thousandth.
    drawn = []
    for e in document.modelspace():
        if e.dxf.layer not in ("OUTSIDE", "BORE"):
            continue
        if e.dxftype() == "LINE":
            points = [np.array(e.dxf.start)[:2], 0.5 * (np.array(e.dxf.start) + np.array(e.dxf.end))[:2], np.array(e.dxf.end)[:2]]
        elif e.dxftype() == "ARC":
            points = [np.array(p)[:2] for p in e.flattening(1e-4)]
        else:
            points = [np.array(v.dxf.location)[:2] for v in e.vertices]
        drawn.append(points)
    lost = 0
    for piece in body["pieces"]:
        at, _ = motion(piece)
        for side in (1, -1):
            whole = np.array([at(t) * [1, side] for t in np.linspace(0, 1, 2001)])
            same = lambda p, q: np.linalg.norm(p - q) < 1e-6
            fits = lambda d: ((same(d[0], whole[0]) and same(d[-1], whole[-1])) or (same(d[-1], whole[0]) and same(d[0], whole[-1]))) \
                and np.min(np.linalg.norm(whole - d[len(d) // 2], axis=1)) < 0.02
            found = [i for i, d in enumerate(drawn) if fits(d)]
            lost += not found
            drawn = [d for i, d in enumerate(drawn) if i not in found[:1]]
    row(name, "DXF holds every piece, both sides", lost == 0 and not drawn, f"{lost} lost, {len(drawn)} too many")

# ------------------------------------------------------------------ cut meshes
def judge_cut(folder, body):
    """Cross holes, threads, knurls, slots, marks. STEP: what it carries of them, by OpenCASCADE's own integration against our quadrature. Meshes: closed and oriented by two
    other readers, volume within surface times chord of our quadrature."""
    import trimesh, lib3mf
    name = body["name"]
    shown = name if not name.startswith("cut_") else f"random_{name}"
    read = one_valid_solid(folder / f"{name}.step")
    row(shown, "cut STEP one valid solid", read.good, f"{read.words}; holds {body['carried']}; not {body['left'] or 'anything else'}")
    if read.shape is not None:
        found = volume_mm3(read.shape, 1e-8)
        off = found / body["step_volume_mm3"] - 1
        row(shown, "cut STEP volume", abs(off) < 1e-4, f"relative {off:+.1e}")
        if body["holes"]:
            off = found / drilled_mm3(folder / f"{name}.undrilled.step", body["holes"]) - 1
            row(shown, "cut STEP against OCC's own drilling", abs(off) < 1e-4, f"relative {off:+.1e}")
    mesh = trimesh.load(folder / f"{name}.stl", force="mesh", process=True)
    row(shown, "cut STL closed and oriented", mesh.is_watertight and mesh.is_winding_consistent, f"{len(mesh.faces)} triangles")
    off = abs(mesh.volume - body["volume_mm3"])
    bound = body["area_mm2"] * body["chord_mm"] * 1.01 + body["volume_mm3"] * 1e-6
    row(shown, "cut STL volume within chord bound", off < bound, f"off {off:.4f} of {bound:.4f} mm3")
    from lib3mf import get_wrapper
    wrapper = get_wrapper()
    model = wrapper.CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    try:
        reader.ReadFromFile(str(folder / f"{name}.3mf"))
    except Exception as error:
        return row(shown, "cut 3MF read strictly", False, str(error))
    objects = model.GetMeshObjects()
    good = objects.MoveNext() and objects.GetCurrentMeshObject().IsManifoldAndOriented() and reader.GetWarningCount() == 0
    row(shown, "cut 3MF one oriented manifold", good, "")

def drilled_mm3(path, holes):
    """Volume of the body without its holes, drilled by OpenCASCADE's boolean operation with cylinders of its own: from the axis outward, or right through."""
    from OCP.BRepPrimAPI import BRepPrimAPI_MakeCylinder
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut
    from OCP.gp import gp_Ax2, gp_Pnt, gp_Dir
    shape, reach = one_valid_solid(path).shape, 200.0
    for z, diameter, degrees, both in holes:
        cos, sin = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
        start = gp_Pnt(-reach * cos, -reach * sin, z) if both else gp_Pnt(0, 0, z)
        drill = BRepPrimAPI_MakeCylinder(gp_Ax2(start, gp_Dir(cos, sin, 0)), diameter / 2, 2 * reach if both else reach).Shape()
        shape = BRepAlgoAPI_Cut(shape, drill).Shape()
    return volume_mm3(shape, 1e-8)

# ------------------------------------------------------------------ plates
def judge_plate(folder, plate):
    import trimesh, ezdxf
    name = plate["name"]
    if plate["formula_mm3"] is not None:
        off = plate["volume_mm3"] / plate["formula_mm3"] - 1
        row(name, "own volume against hand formula", abs(off) < 1e-12, f"relative {off:+.1e}")
    read = one_valid_solid(folder / f"{name}.step")
    row(name, "STEP one valid solid", read.good, read.words)
    if read.shape is not None:
        for what, off in [("volume", volume_mm3(read.shape, 1e-10) / plate["volume_mm3"] - 1), ("area", area_mm2(read.shape, 1e-10) / plate["area_mm2"] - 1)]:
            row(name, f"STEP {what}", abs(off) < 1e-4, f"relative {off:+.1e}")
    # From the raw text, as readers turn an inside-out shell without a word: the washer's outer cylinder looks off its axis, the hole's toward it, the faces up and down.
    if name == "plate_washer":
        text = (folder / f"{name}.step").read_text()
        radius = {n: float(r) for n, r in re.findall(r"#(\d+)=CYLINDRICAL_SURFACE\('',#\d+,([0-9.E+-]+)\);", text)}
        flags = {(radius[n], f) for n, f in re.findall(r"=ADVANCED_FACE\('',\([^)]*\),#(\d+),\.([TF])\.\);", text) if n in radius}
        row(name, "STEP raw normals outward", flags == {(10.0, "T"), (4.0, "F")}, str(sorted(flags)))
    mesh = trimesh.load(folder / f"{name}.stl", force="mesh", process=True)
    off, bound = mesh.volume - plate["volume_mm3"], plate["area_mm2"] * 0.01 * 1.01 + 1e-6 * plate["volume_mm3"]
    row(name, "STL closed, outward, volume in chord", mesh.is_watertight and mesh.is_winding_consistent and abs(off) < bound, f"off {off:+.4f} of {bound:.4f} mm3")
    document = ezdxf.readfile(folder / f"{name}.dxf")
    row(name, "DXF audits clean", not document.audit().errors, "")

# ------------------------------------------------------------------ all
def main():
    root = pathlib.Path(__file__).resolve().parent.parent
    if len(sys.argv) > 1:
        folder = pathlib.Path(sys.argv[1])
    else:
        folder = pathlib.Path(tempfile.mkdtemp(prefix="ringer-bodies-"))
        subprocess.run(["cargo", "run", "--release", "-q", "-p", "export", "--example", "write_bodies", str(folder), "--random", "200"], cwd=root, check=True, stdout=subprocess.DEVNULL)
    bodies = json.loads((folder / "bodies.json").read_text())
    for body in bodies:
        name = body["name"]
        volume, area, moment = truth(body["pieces"])
        off = body["volume_mm3"] / volume - 1
        row(name, "own volume against scipy", abs(off) < 1e-10, f"{volume:.6f} mm3, relative {off:+.1e}")
        off = body["area_mm2"] / area - 1
        row(name, "own area against scipy", abs(off) < 1e-9, f"{area:.6f} mm2, relative {off:+.1e}")
        row(name, "own centre of mass against scipy", abs(body["centre_mm"] - moment / volume) < 1e-8, f"{moment / volume:.6f} mm")
        if body["formula_mm3"] is not None:
            off = body["volume_mm3"] / body["formula_mm3"] - 1
            row(name, "own volume against hand formula", abs(off) < 1e-12, f"relative {off:+.1e}")
        random = name.startswith("random_")
        for suffix in ("242",) if random else ("214", "242"):
            judge_step(name, folder / f"{name}.{suffix}.step", body["pieces"], volume, area)
        judge_stl(name, folder / f"{name}.stl", volume, area, body["chord_mm"])
        if random:
            continue
        judge_3mf(name, folder / f"{name}.3mf", volume, area, body["chord_mm"])
        judge_gltf(name, folder / f"{name}.glb", volume, area, body["chord_mm"])
        judge_dxf(name, folder / f"{name}.dxf", body)
    for plate in json.loads((folder / "plates.json").read_text()) if (folder / "plates.json").exists() else []:
        judge_plate(folder, plate)
    cut = json.loads((folder / "cut.json").read_text()) if (folder / "cut.json").exists() else []
    for body in cut:
        judge_cut(folder, body)
    print(f"{len(cut)} bodies with cross holes, threads, knurls, slots and marks read back as STL and 3MF; shown above only where something is wrong")
    count = sum(body["name"].startswith("random_") for body in bodies)
    print(f"{count} random bodies read back as STEP and STL; shown above only where something is wrong")
    print(f"{'all passed' if not failed else f'{failed} FAILED'}")
    sys.exit(1 if failed else 0)

main()
