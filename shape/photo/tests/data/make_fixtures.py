"""Writes the small pictures that the tests read, with libraries that are not ours (Pillow/libjpeg, OpenCV/libpng), and what those
libraries read back from them (`*.rgb`: width x height x 3 bytes, upright, over white). Run here; needs numpy, pillow, opencv."""
import struct, zlib
import cv2
import numpy as np
from PIL import Image

W, H = 40, 24
y, x = np.mgrid[0:H, 0:W]
base = np.stack([40 + 4 * x, 60 + 6 * y, 200 - 2 * x - 2 * y], -1).astype(np.uint8)
rgb = Image.fromarray(base)


def save(name, image, expected, **options):
    image.save(name, **options)
    open(name + ".rgb", "wb").write(np.ascontiguousarray(expected).tobytes())


def read(name):
    return np.array(Image.open(name).convert("RGB"))


for name, image, options in [
    ("baseline.jpg", rgb, dict(quality=92, subsampling=2)),
    ("full_chroma.jpg", rgb, dict(quality=95, subsampling=0)),
    ("progressive.jpg", rgb, dict(quality=92, subsampling=2, progressive=True)),
    ("grey.jpg", rgb.convert("L"), dict(quality=92)),
    ("restarts.jpg", rgb, dict(quality=92, restart_marker_blocks=2)),
]:
    image.save(name, **options)
    open(name + ".rgb", "wb").write(read(name).tobytes())
rgb.convert("CMYK").save("cmyk.jpg", quality=90)

# Orientation 1..8: what Pillow's own transposition makes of it.
from PIL import ImageOps
for o in range(1, 9):
    exif = Image.Exif(); exif[0x0112] = o
    name = f"orientation{o}.jpg"
    rgb.save(name, quality=95, subsampling=0, exif=exif)
    turned = ImageOps.exif_transpose(Image.open(name))
    open(name + ".rgb", "wb").write(np.array(turned.convert("RGB")).tobytes())

save("rgb8.png", rgb, base)
grey = np.array(rgb.convert("L"))
save("grey8.png", Image.fromarray(grey), np.repeat(grey[..., None], 3, -1))
alpha = (x * 255 // (W - 1)).astype(np.uint8)
over = np.round((base * (alpha / 255.0)[..., None]) + 255 * (1 - alpha / 255.0)[..., None]).astype(np.uint8)
save("rgba8.png", Image.fromarray(np.dstack([base, alpha])), over)
palette = rgb.quantize(16)
save("palette.png", palette, np.array(palette.convert("RGB")))
bit = rgb.convert("1")
save("bit.png", bit, np.array(bit.convert("RGB")))
wide = base.astype(np.uint16) * 257 + 40  # +40/65535 rounds back down
cv2.imwrite("rgb16.png", wide[..., ::-1]); open("rgb16.png.rgb", "wb").write(base.tobytes())
cv2.imwrite("grey16.png", grey.astype(np.uint16) * 257); open("grey16.png.rgb", "wb").write(np.repeat(grey[..., None], 3, -1).tobytes())


def chunk(kind, data):
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


# Interlaced (Adam7) by hand, for no library at hand writes it; Pillow reads it back as the check.
raw = b""
for x0, y0, dx, dy in [(0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2), (0, 1, 1, 2)]:
    for row in base[y0::dy, x0::dx]:
        raw += b"\0" + row.tobytes()
open("interlaced.png", "wb").write(b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", W, H, 8, 2, 0, 0, 1)) + chunk(b"IDAT", zlib.compress(raw)) + chunk(b"IEND", b""))
assert (read("interlaced.png") == base).all()
open("interlaced.png.rgb", "wb").write(base.tobytes())
Image.new("RGB", (1, 1)).save("one_pixel.png")
