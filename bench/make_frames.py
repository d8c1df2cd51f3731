"""Write the synthetic frames of the speed measurement.

    make_frames.py DIR --subs 12 --bias 20 [--width 6248 --height 4176] [--small 5000]

DIR/subs gets 16-bit subs of about 3000 stars, DIR/bias distinct bias frames,
DIR/small many bias frames of 64 x 64 pixels.
Seeds are fixed, so every run writes the same bytes. A frame that is already
there in full size is left alone.
"""

import argparse
import datetime
import os

import numpy as np
from astropy.io import fits

OFFSET = 500.0  # ADU
READ_NOISE = 1.6  # ADU
GAIN = 0.8  # e-/ADU
SKY = 700.0  # ADU, in a sub
FWHM = 3.2  # px
BETA = 3.5  # Moffat exponent
STARS = 3000


def moffat_stamp(dx, dy, half):
    """A pixel-integrated (5 x 5 points a pixel) Moffat star of unit flux."""
    sub = (np.arange(5) - 2) / 5
    g = FWHM / (2 * np.sqrt(2 ** (1 / BETA) - 1))
    x = np.arange(-half, half + 1)[:, None] + sub - dx
    y = np.arange(-half, half + 1)[:, None] + sub - dy
    r2 = y.ravel()[:, None] ** 2 + x.ravel()[None, :] ** 2
    p = (1 + r2 / g**2) ** -BETA
    n = 2 * half + 1
    return p.reshape(n, 5, n, 5).mean(axis=(1, 3)) * (BETA - 1) / (np.pi * g**2)


def star_field(width, height):
    """Noiseless stars in ADU; fluxes follow N(>F) ~ 1/F, as star counts roughly do."""
    rng = np.random.default_rng(1)
    img = np.zeros((height, width), np.float32)
    half = 24
    for u in (np.arange(STARS) + 0.5) / STARS:
        x = rng.uniform(half + 1, width - half - 2)
        y = rng.uniform(half + 1, height - half - 2)
        flux = min(5500 / u, 2e6)
        ix, iy = int(round(x)), int(round(y))
        img[iy - half : iy + half + 1, ix - half : ix + half + 1] += flux * moffat_stamp(x - ix, y - iy, half)
    return img


def header(kind, number, exposure):
    h = fits.Header()
    h["IMAGETYP"] = kind
    h["EXPTIME"] = exposure
    h["DATE-OBS"] = (datetime.datetime(2024, 2, 1, 20) + number * datetime.timedelta(minutes=2)).isoformat()
    h["INSTRUME"] = "Speed Camera"
    h["GAIN"] = 100
    h["OFFSET"] = 50
    h["EGAIN"] = GAIN
    h["CCD-TEMP"] = -10.0
    h["SET-TEMP"] = -10.0
    h["XBINNING"] = 1
    h["YBINNING"] = 1
    h["XPIXSZ"] = 3.76
    h["FOCALLEN"] = 1000.0
    if kind == "Light Frame":
        h["OBJECT"] = "Speed Field"
        h["RA"] = 85.0  # degrees, as capture programs write them; the stars are none of that place
        h["DEC"] = 24.0
        h["FILTER"] = "L"
    return h


def write(path, pixels, head):
    data = np.clip(np.rint(pixels), 0, 65535).astype(np.uint16)
    fits.PrimaryHDU(data, head).writeto(path + ".part", overwrite=True)
    os.replace(path + ".part", path)


def complete(path, width, height):
    return os.path.exists(path) and os.path.getsize(path) > 2 * width * height


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("dir")
    ap.add_argument("--subs", type=int, default=12)
    ap.add_argument("--bias", type=int, default=20)
    ap.add_argument("--width", type=int, default=6248)
    ap.add_argument("--height", type=int, default=4176)
    ap.add_argument("--small", type=int, default=0)
    a = ap.parse_args()
    for sub in ("subs", "bias"):
        os.makedirs(os.path.join(a.dir, sub), exist_ok=True)
    shape = (a.height, a.width)

    missing = [i for i in range(a.bias) if not complete(f"{a.dir}/bias/bias_{i:03d}.fits", a.width, a.height)]
    if missing:
        fixed = np.random.default_rng(2).normal(OFFSET, 0.4, shape).astype(np.float32)
    for i in missing:
        rng = np.random.default_rng(1000 + i)
        noise = rng.standard_normal(shape, dtype=np.float32) * np.float32(READ_NOISE)
        write(f"{a.dir}/bias/bias_{i:03d}.fits", fixed + noise, header("Bias Frame", i, 0.0))

    missing = [i for i in range(a.subs) if not complete(f"{a.dir}/subs/sub_{i:03d}.fits", a.width, a.height)]
    if missing:
        yy = np.linspace(-1, 1, a.height, dtype=np.float32)[:, None]
        xx = np.linspace(-1, 1, a.width, dtype=np.float32)[None, :]
        sky = np.float32(SKY) * (1 + np.float32(0.1) * xx - np.float32(0.06) * yy)
        stars = star_field(a.width, a.height)
    for i in missing:
        rng = np.random.default_rng(2000 + i)
        clear = 1 - 0.02 * (i % 4)
        light = np.roll(stars, (7 * (i % 5), -11 * (i % 3)), axis=(0, 1)) * np.float32(clear) + sky
        sd = np.sqrt(light / np.float32(GAIN) + np.float32(READ_NOISE**2))
        noise = rng.standard_normal(shape, dtype=np.float32) * sd
        write(f"{a.dir}/subs/sub_{i:03d}.fits", light + noise + np.float32(OFFSET), header("Light Frame", i, 120.0))

    missing = [i for i in range(a.small) if not complete(f"{a.dir}/small/bias_{i:04d}.fits", 64, 64)]
    if missing:
        os.makedirs(f"{a.dir}/small", exist_ok=True)
    for i in missing:
        noise = np.random.default_rng(10000 + i).normal(OFFSET, READ_NOISE, (64, 64))
        write(f"{a.dir}/small/bias_{i:04d}.fits", noise, header("Bias Frame", i, 0.0))


if __name__ == "__main__":
    main()
