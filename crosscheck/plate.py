"""Places of stars in frames by astropy's projections: plate.json.

A frame is a FITS world coordinate system: the gnomonic projection (TAN) about a
reference pixel in the frame's middle, with a matrix of degrees per pixel. Each
case has its pixels and where astropy.wcs puts them on the sky, at declinations up
to the poles, widths up to 15 degrees, turned, mirrored or not.
"""

import os

import numpy as np
from astropy.wcs import WCS

import reference

W, H = 4000, 2700


def cases():
    rng = np.random.default_rng(20261126)
    for ra, dec in [(0, 0), (359.99, 30), (120, 89.99), (200, -89.99), (45, 89.5), (310, 45), (83, -5), (150, -60)]:
        for width in (0.2, 1, 5, 15):
            for mirrored in (False, True):
                yield ra, dec, width, float(rng.uniform(0, 360)), mirrored, rng


def measure(ra, dec, width, angle, mirrored, rng):
    step = 2 * np.degrees(np.tan(np.radians(width / 2))) / W
    s, c = np.sin(np.radians(angle)), np.cos(np.radians(angle))
    matrix = step * np.array([[-c, s], [s, c]])
    if mirrored:
        matrix[:, 0] *= -1
    w = WCS(naxis=2)
    w.wcs.ctype = ["RA---TAN", "DEC--TAN"]
    w.wcs.crval = [ra, dec]
    w.wcs.crpix = [(W + 1) / 2, (H + 1) / 2]  # counted from 1
    w.wcs.cd = matrix
    pixels = np.round(rng.uniform([0, 0], [W - 1, H - 1], (6, 2)), 2)
    sky = w.all_pix2world(pixels, 0)
    return {
        "ra": ra, "dec": dec, "width_deg": width, "angle_deg": round(angle, 6), "mirrored": mirrored,
        "matrix_deg_per_px": [float(f"{x:.15g}") for x in matrix.ravel()],
        "pixels": pixels.tolist(),
        "sky": [[round(float(a), 9), round(float(d), 9)] for a, d in sky],
    }


if __name__ == "__main__":
    args = reference.options(__doc__)
    values = [measure(*c) for c in cases()]
    reference.write_json(os.path.join(args.out, "plate.json"), {"width_px": W, "height_px": H, "cases": values}, reference.made_by("astropy", "numpy"))
