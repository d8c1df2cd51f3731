"""Time `fitsqa check` over long nights, first and second run.

    many.py FRAMES PROGRAM [--numbers 100,300,1000]

FRAMES/subs are the subs of make_frames.py. FRAMES/many gets varied copies of them (52 MB
each): moved by whole pixels, some pixels changed, other times, 250 a night. Those that are
there are left alone. A line of the table is one night: clock and processor time of a sub
in the first run, the same of the second, and the most memory that each held. A thousand
subs are more than most page caches hold, so that the disk is in their first run.
"""

import argparse
import datetime
import glob
import os
import subprocess
import tempfile
import time

import numpy as np
from astropy.io import fits

PER_NIGHT = 250
MOVED = 20  # px at most
CHANGED = 2000  # pixels


def moved_copy(source, number, path):
    """A copy of a sub, as of another exposure of the same field."""
    rng = np.random.default_rng(number)
    with fits.open(source) as f:
        data, header = f[0].data, f[0].header
        data = np.roll(data, rng.integers(-MOVED, MOVED + 1, 2), (0, 1))
        data[rng.integers(0, data.shape[0], CHANGED), rng.integers(0, data.shape[1], CHANGED)] += 1
        start = datetime.datetime(2025, 11, 1, 18) + datetime.timedelta(days=number // PER_NIGHT, seconds=(number % PER_NIGHT) * (header["EXPTIME"] + 5))
        header["DATE-OBS"] = start.isoformat()
        fits.PrimaryHDU(data, header).writeto(path)


def check(program, folder, home):
    """Clock and processor seconds, and peak MiB, of one run over a folder."""
    env = {**os.environ, "XDG_CACHE_HOME": home + "/cache", "XDG_DATA_HOME": home + "/data"}
    begin = time.perf_counter()
    process = subprocess.Popen([program, "check", "--no-ledger", "--out", home + "/out", folder], env=env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode != 0:
        raise SystemExit(f"{folder}: exit code {process.returncode}")
    return time.perf_counter() - begin, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("frames")
    parser.add_argument("program")
    parser.add_argument("--numbers", default="100,300,1000")
    args = parser.parse_args()
    numbers = [int(n) for n in args.numbers.split(",")]
    sources = sorted(glob.glob(args.frames + "/subs/*.fits"))
    many = os.path.join(args.frames, "many")
    os.makedirs(many, exist_ok=True)
    files = [f"{many}/sub_{n:04}.fits" for n in range(max(numbers))]
    for number, path in enumerate(files):
        if not os.path.exists(path):
            moved_copy(sources[number % len(sources)], number, path)
    print("| subs | first run, ms a sub | processor | peak | second run, ms a sub | processor | peak |\n| --- | --- | --- | --- | --- | --- | --- |")
    for n in numbers:
        with tempfile.TemporaryDirectory(dir=args.frames) as home:
            os.mkdir(home + "/night")
            for path in files[:n]:
                os.link(path, f"{home}/night/{os.path.basename(path)}")
            runs = [check(args.program, home + "/night", home) for _ in range(2)]
            print(f"| {n} |" + "|".join(f" {1000 * clock / n:.1f} | {1000 * cpu / n:.1f} | {peak:.0f} MiB " for clock, cpu, peak in runs) + "|", flush=True)


if __name__ == "__main__":
    main()
