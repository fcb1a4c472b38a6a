"""Makes bench-figures.ttf out of routed-gothic.ttf (run here, with fontTools): the same letters under another name, as its licence asks of a
changed font. What is changed: the figure 1 has a flag, as in the lettering of ISO 3098, so that it can't be read as I or l; the OpenType feature
`tnum` sets it as wide as the other figures; the kerning table is left out."""
import math

from fontTools.feaLib.builder import addOpenTypeFeaturesFromString
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont

CAP, HALF_STROKE = 736, 48


def stroke(pen, a, b):
    """A stroke with round ends, turning clockwise."""
    (ax, ay), (bx, by) = a, b
    angle = math.atan2(by - ay, bx - ax)
    turn = [math.pi / 2 - math.pi * n / 12 for n in range(13)]
    ends = [(bx, by, angle + t) for t in turn] + [(ax, ay, angle + math.pi + t) for t in turn]
    points = [(round(x + HALF_STROKE * math.cos(t)), round(y + HALF_STROKE * math.sin(t))) for x, y, t in ends]
    pen.moveTo(points[0])
    for point in points[1:]:
        pen.lineTo(point)
    pen.closePath()


def one(stem):
    pen = TTGlyphPen(None)
    top = CAP - HALF_STROKE
    stroke(pen, (stem, HALF_STROKE), (stem, top))
    stroke(pen, (stem - 160, top - 144), (stem, top))
    return pen.glyph()


font = TTFont("routed-gothic.ttf")
wide, _ = font["hmtx"]["two"]
for name, stem, width in (("one", 288, 448), ("one.tnum", 384, wide)):
    font["glyf"][name] = one(stem)
    font["glyf"][name].recalcBounds(font["glyf"])
    font["hmtx"][name] = (width, font["glyf"][name].xMin)
if "one.tnum" not in font.getGlyphOrder():
    font.setGlyphOrder(font.getGlyphOrder() + ["one.tnum"])
addOpenTypeFeaturesFromString(font, "feature tnum { sub one by one.tnum; } tnum;")
for table in ("kern", "FFTM", "cvt ", "gasp"):
    if table in font:
        del font[table]
for record in font["name"].names:
    plain = {1: "Bench Figures", 3: "Bench Figures 2, after a font by Darren Embry", 4: "Bench Figures", 6: "BenchFigures"}.get(record.nameID)
    if plain:
        record.string = plain
font["head"].modified = font["head"].created
font.recalcTimestamp = False
font.save("bench-figures.ttf")
