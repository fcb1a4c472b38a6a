"""Makes bench-figures.ttf out of routed-gothic.ttf (run with fontTools): the same letters under another name, as its licence asks of a
changed font, with a figure 1 as wide as the other figures reached by the OpenType feature `tnum`, and without the kerning table."""
from copy import deepcopy

from fontTools.feaLib.builder import addOpenTypeFeaturesFromString
from fontTools.ttLib import TTFont

font = TTFont("routed-gothic.ttf")
wide, _ = font["hmtx"]["two"]
narrow, bearing = font["hmtx"]["one"]
shift = (wide - narrow) // 2
one = deepcopy(font["glyf"]["one"])
one.coordinates.translate((shift, 0))
font["glyf"]["one.tnum"] = one
one.recalcBounds(font["glyf"])
font["hmtx"]["one.tnum"] = (wide, bearing + shift)
font.setGlyphOrder(font.glyphOrder if "one.tnum" in font.glyphOrder else font.glyphOrder + ["one.tnum"])
addOpenTypeFeaturesFromString(font, "feature tnum { sub one by one.tnum; } tnum;")
for table in ("kern", "FFTM"):
    if table in font:
        del font[table]
for record in font["name"].names:
    plain = {1: "Bench Figures", 3: "Bench Figures 1, after a font by Darren Embry", 4: "Bench Figures", 6: "BenchFigures"}.get(record.nameID)
    if plain:
        record.string = plain
font["head"].modified = font["head"].created
font.recalcTimestamp = False
font.save("bench-figures.ttf")
