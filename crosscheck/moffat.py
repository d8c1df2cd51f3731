"""Elliptical Moffat fits with pixel integration, by scipy.optimize.least_squares.

Model (Moffat 1969, A&A 3, 455): B + A (1 + u^2/ga^2 + v^2/gb^2)^-beta, u and v
along the axes, averaged over SUB x SUB points of every pixel. Star and sky noise
weigh the pixels.
"""

import numpy as np
from scipy.optimize import least_squares

SUB = 5  # points a pixel side
OFFSETS = (np.arange(SUB) - (SUB - 1) / 2) / SUB


def model(p, x, y):
    """Pixel-averaged profile at pixel coordinates x, y (1-d arrays)."""
    x0, y0, amplitude, log_width, e1, e2, beta, level = p
    # The shape matrix of an ellipse: size, and two components along the axes and the diagonals.
    e = np.hypot(e1, e2)
    q = np.exp(-e)  # axis ratio b/a
    angle = 0.5 * np.arctan2(e2, e1)
    width = np.exp(log_width)
    scale = 2 * np.sqrt(2 ** (1 / beta) - 1)
    ga, gb = width / np.sqrt(q) / scale, width * np.sqrt(q) / scale
    dx = x[:, None, None] - x0 + OFFSETS[None, None, :]
    dy = y[:, None, None] - y0 + OFFSETS[None, :, None]
    u = dx * np.cos(angle) + dy * np.sin(angle)
    v = dy * np.cos(angle) - dx * np.sin(angle)
    return level + amplitude * ((1 + (u / ga) ** 2 + (v / gb) ** 2) ** -beta).mean(axis=(1, 2))


def fit(image, mask, x, y, fwhm, noise, gain):
    """One star of a sky-subtracted image; None where the fit fails.

    mask marks pixels that belong to other sources. Returns a dict with x, y,
    fwhm (geometric mean of the axes), ellipticity 1 - b/a, angle in degrees
    counter-clockwise from +x, beta, flux and its signal to noise.
    """
    half = int(np.ceil(2.5 * fwhm))
    cx, cy = int(round(x)), int(round(y))
    rows, cols = image.shape
    if cx < half or cy < half or cx >= cols - half or cy >= rows - half:
        return None
    s = np.s_[cy - half : cy + half + 1, cx - half : cx + half + 1]
    yy, xx = np.mgrid[s]
    use = ~mask[s] & (np.hypot(xx - x, yy - y) <= half)
    if use.sum() < 0.8 * np.pi * half**2:
        return None
    data, px, py = image[s][use], xx[use].astype(float), yy[use].astype(float)
    sigma = np.sqrt(noise**2 + np.clip(data, 0, None) / gain)
    start = [x, y, data.max(), np.log(fwhm), 0.05, 0.0, 3.0, 0.0]
    low = [x - 2, y - 2, 0, np.log(fwhm / 3), -2, -2, 1.2, -np.inf]
    high = [x + 2, y + 2, np.inf, np.log(fwhm * 3), 2, 2, 20, np.inf]
    result = least_squares(lambda p: (model(p, px, py) - data) / sigma, start, bounds=(low, high), x_scale="jac", max_nfev=200)
    if not result.success:
        return None
    x0, y0, amplitude, log_width, e1, e2, beta, _ = result.x
    width = np.exp(log_width)
    gamma = width / (2 * np.sqrt(2 ** (1 / beta) - 1))
    star = result.x.copy()
    star[7] = 0
    profile = model(star, px, py)
    return {
        "x": x0,
        "y": y0,
        "fwhm": width,
        "ellipticity": 1 - np.exp(-np.hypot(e1, e2)),
        "angle": np.degrees(0.5 * np.arctan2(e2, e1)),
        "beta": beta,
        "flux": amplitude * np.pi * gamma**2 / (beta - 1),
        "snr": np.sqrt(np.sum((profile / sigma) ** 2)),
        "chi2": 2 * result.cost / (len(data) - 8),
    }
