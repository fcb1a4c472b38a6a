#!/usr/bin/env python3
"""Draws the case's photo: a dark cover plate on paper with a printed rectangle of 100 x 70 mm, by a pinhole camera leaning 12 degrees. Three straight sides of 56 x 16 mm, the fourth half an ellipse of
56 x 2 x 20 mm that flows into them, an elliptical window of 24 x 12 mm, a hole of 6 mm. Prints the clicks."""
import numpy as np, cv2
W, H, F, D, TILT, TURN, S = 1200, 900, 1500.0, 170.0, np.radians(12), -0.06, 4
def px(p):
    x, y = p[0] - 50, p[1] - 35
    u, v = np.cos(TURN) * x - np.sin(TURN) * y, np.sin(TURN) * x + np.cos(TURN) * y
    z = D + v * np.sin(TILT)
    return [round(float(W / 2 + F * u / z), 2), round(float(H / 2 - F * v * np.cos(TILT) / z), 2)]
yy, xx = np.mgrid[0:H * S, 0:W * S]
a, b = ((xx + 0.5) / S - W / 2) / F, -((yy + 0.5) / S - H / 2) / F
v = b * D / (np.cos(TILT) - b * np.sin(TILT)); u = a * (D + v * np.sin(TILT))
x, y = 50 + np.cos(TURN) * u + np.sin(TURN) * v, 35 - np.sin(TURN) * u + np.cos(TURN) * v
light = 0.62 - 0.0006 * (x - 50)
frame = (np.abs(np.maximum(np.abs(x - 50) - 50, np.abs(y - 35) - 35)) < 0.25)
cover = (np.abs(x - 50) < 28) & (y > 16) & (y <= 32) | (((x - 50) / 28) ** 2 + ((y - 32) / 20) ** 2 < 1)
cover &= (y > 16) & (((x - 50) / 12) ** 2 + ((y - 36) / 6) ** 2 > 1) & (np.hypot(x - 50, y - 22) > 3)
img = np.where(cover | frame, 0.06, light).reshape(H, S, W, S).mean(axis=(1, 3))
img = cv2.GaussianBlur(img, (0, 0), 0.6)
img = np.clip(img + np.random.default_rng(6).normal(0, 0.004, img.shape), 0, 1)
code = np.where(img <= 0.0031308, 12.92 * img, 1.055 * img ** (1 / 2.4) - 0.055)
cv2.imwrite("photos/cover.png", np.round(code * 255).astype(np.uint8))
print("rectangle", [px(p) for p in [(0, 70), (100, 70), (100, 0), (0, 0)]])
print("within", [px(p) for p in [(5, 64), (95, 64), (95, 6), (5, 6)]])
