"""Hold `fitsqa check` to its --memory: sizes x kinds of file x workers.

    memory.py PROGRAM DIR [--sizes 12,26,61,122,244] [--workers 1,2,4,8]

For each size a night of three bias, two darks, two flats and four subs is
written below DIR, plain, as a colour mosaic and tile-compressed (fpack, of
Debian's libcfitsio-bin), checked without cache and ledger under several limits,
and removed. A line of the table is one run: the limit, the most memory that the
process held (time(1)), their ratio, and how many frames were
refused as too large. The run fails where a limit is passed by more than a tenth,
or where frames are refused that would have fitted with one worker.
"""

import argparse
import json
import os
import shutil
import subprocess
import sys

import numpy as np
from astropy.io import fits

import make_frames

KINDS = {"bias": ("Bias Frame", 3, 0.001), "dark": ("Dark Frame", 2, 60), "flat": ("Flat Field", 2, 2), "sub": ("Light Frame", 4, 60)}
TILE = 1024


def frame(kind, number, width, height, stars):
    rng = np.random.default_rng(number)
    level = {"bias": 0, "dark": 2, "flat": 20000, "sub": make_frames.SKY}[kind]
    light = level + (stars if kind == "sub" else 0)
    one = make_frames.OFFSET + light + rng.normal(0, np.sqrt(make_frames.READ_NOISE**2 + level / make_frames.GAIN), (TILE, TILE))
    one = np.clip(np.rint(one), 0, 65535).astype(np.uint16)
    # Turned and moved tiles: no two places of a frame are alike over a whole row.
    out = np.empty((height, width), np.uint16)
    for y in range(0, height, TILE):
        for x in range(0, width, TILE):
            part = np.roll(one, (37 * (y // TILE), 91 * (x // TILE)), (0, 1))
            out[y : y + TILE, x : x + TILE] = part[: height - y, : width - x]
    return out


def write_night(folder, megapixels, form):
    width = int(np.sqrt(1.5 * megapixels * 1e6)) // 2 * 2
    height = int(megapixels * 1e6 / width) // 2 * 2
    make_frames.STARS = 60
    stars = make_frames.star_field(TILE, TILE)
    os.makedirs(folder)
    number = 0
    for kind, (name, count, exposure) in KINDS.items():
        for _ in range(count):
            number += 1
            head = make_frames.header(name, number, exposure)
            if form == "colour":
                head["BAYERPAT"] = "RGGB"
            path = f"{folder}/{kind}_{number:02d}.fits"
            make_frames.write(path, frame(kind, number, width, height, stars), head)
            if form == "tiles":
                subprocess.run(["fpack", "-D", "-Y", path], check=True)


def check(program, folder, out, limit, workers):
    """Peak MiB, frames refused, warnings of memory."""
    command = [program, "check", "--no-cache", "--no-ledger", "--quiet", "--memory", str(limit), "--workers", str(workers), "--out", out, folder]
    # By way of a small process: a child's maximum begins with what its parent held.
    run = subprocess.run(["/usr/bin/time", "-f", "%M", *command], capture_output=True, text=True)
    code, said = run.returncode, run.stderr.strip().splitlines()
    peak = int(said[-1]) / 1024
    if code not in (0, 3, 4):
        sys.exit(f"{' '.join(command)}: exit {code}: {said}")
    if code == 4:
        return peak, 11
    night = json.load(open(out + "/night.json"))
    return peak, sum(1 for f in night["frames"] if f.get("error"))


def main():
    p = argparse.ArgumentParser()
    p.add_argument("program")
    p.add_argument("dir")
    p.add_argument("--sizes", default="12,26,61,122,244")
    p.add_argument("--workers", default="1,2,4,8")
    p.add_argument("--limits", default="300,600,1400,4000")
    p.add_argument("--forms", default="mono,colour,tiles")
    a = p.parse_args()
    numbers = lambda text: [int(n) for n in text.split(",")]
    over = []
    print("Mpx   form    workers  --memory  peak MiB  peak/limit  refused of 11")
    for size in numbers(a.sizes):
        for form in a.forms.split(","):
            folder, out = f"{a.dir}/night", f"{a.dir}/out"
            shutil.rmtree(folder, ignore_errors=True)
            write_night(folder, size, form)
            for limit in numbers(a.limits):
                for workers in numbers(a.workers):
                    peak, refused = check(a.program, folder, out, limit, workers)
                    print(f"{size:3d}   {form:7s} {workers:7d}  {limit:8d}  {peak:8.0f}  {peak / limit:10.2f}  {refused:d}", flush=True)
                    if peak > 1.1 * limit:
                        over.append((size, form, workers, limit, peak))
                    if refused == 11:
                        break  # so it is with more workers
            shutil.rmtree(folder)
    if over:
        sys.exit(f"{len(over)} runs passed their limit by more than a tenth: {over}")


main()
