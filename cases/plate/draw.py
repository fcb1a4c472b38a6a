#!/usr/bin/env python3
"""Draws the case's photo: a dark lever (stadium 50 x 14, holes 6 and 4) on paper with a printed rectangle of 100 x 70 mm, by a pinhole camera leaning 14 degrees. Prints the clicks."""
import numpy as np, cv2
W, H, F, D, TILT, TURN, S = 1200, 900, 1500.0, 170.0, np.radians(14), 0.05, 4
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
lever = np.hypot(np.maximum(np.abs(x - 50) - 18, 0), y - 35) < 7
lever &= (np.hypot(x - 32, y - 35) > 3) & (np.hypot(x - 68, y - 35) > 2)
img = np.where(lever | frame, 0.06, light).reshape(H, S, W, S).mean(axis=(1, 3))
img = np.clip(img + np.random.default_rng(5).normal(0, 0.004, img.shape), 0, 1)
code = np.where(img <= 0.0031308, 12.92 * img, 1.055 * img ** (1 / 2.4) - 0.055)
cv2.imwrite("photos/lever.png", np.round(code * 255).astype(np.uint8))
print("rectangle", [px(p) for p in [(0, 70), (100, 70), (100, 0), (0, 0)]])
print("within", [px(p) for p in [(5, 64), (95, 64), (95, 6), (5, 6)]])
