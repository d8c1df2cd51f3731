"""Time fitsqa beside what users would write with numpy and sep, on the same frames.

    measure.py --frames DIR --fitsqa PROGRAM --decode PROGRAM [--runs 5] [--only NAME ...]

Every command runs --runs times, the sides in turn so that both see the same
machine; the median wall time of whole processes counts, start-up and reports
included. Files are read once before, so that all sides find them in the page
cache. Prints Markdown.
"""

import argparse
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from typing import NamedTuple

HERE = os.path.dirname(os.path.abspath(__file__))
MIB = 1024  # KiB


class Run(NamedTuple):
    wall: float  # s
    cpu: float  # s, user and system, children included
    peak: float  # MiB, resident
    out: str  # standard output


class Bench:
    def __init__(self, args):
        self.args = args
        self.work = tempfile.mkdtemp(prefix="fitsqa-bench-")
        self.env = {**os.environ, "PYTHONDONTWRITEBYTECODE": "1", "XDG_CACHE_HOME": os.path.join(self.work, "cache"), "XDG_DATA_HOME": os.path.join(self.work, "data")}

    # Running ---------------------------------------------------------------

    def run(self, command, **extra):
        """One run of a command."""
        with tempfile.TemporaryFile() as out:
            begin = time.perf_counter()
            process = subprocess.Popen(command, stdout=out, stderr=subprocess.PIPE, env={**self.env, **extra})
            errors = process.stderr.read()
            _, status, usage = os.wait4(process.pid, 0)
            seconds = time.perf_counter() - begin
            process.returncode = os.waitstatus_to_exitcode(status)
            if process.returncode != 0:
                sys.exit(f"{' '.join(command)[:200]}\nexit code {process.returncode}\n{errors.decode(errors='replace')}")
            out.seek(0)
            return Run(seconds, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / MIB, out.read().decode(errors="replace"))

    def alternate(self, *commands):
        """The commands in turn; of each the median times, the highest memory, the last output."""
        results = [[self.run(c) for c in commands] for _ in range(self.args.runs)]
        return [
            Run(statistics.median(r.wall for r in one), statistics.median(r.cpu for r in one), max(r.peak for r in one), one[-1].out)
            for one in zip(*results)
        ]

    def check(self, files, *flags):
        """The command that runs fitsqa on a list of files, by way of a folder of links."""
        folder = tempfile.mkdtemp(dir=self.work)
        for f in files:
            os.link(f, os.path.join(folder, os.path.basename(f)))
        out = os.path.join(self.work, "out-" + os.path.basename(folder))
        return [self.args.fitsqa, "check", "--out", out, *flags, folder]

    def script(self, name, files):
        """The command of the other side on a list of files."""
        return [self.args.python, os.path.join(HERE, name), *files]

    def frames(self, kind, n):
        folder = os.path.join(self.args.frames, kind)
        files = [os.path.join(folder, f) for f in sorted(os.listdir(folder)) if f.endswith(".fits")][:n]
        if len(files) < n:
            sys.exit(f"{folder} holds {len(files)} frames, not {n}")
        warm(files)
        return files

    # Measurements ------------------------------------------------------------

    def beside(self, what, script, files, bar):
        """A row of the table: a script, fitsqa and the floor on the same files."""
        a, b, floor = self.alternate(self.script(script, files), self.check(files, "--no-cache"), [self.args.decode, *files])
        self.row(what, f"{script}: {a.wall:.2f} s", f"{b.wall:.2f} s", f"**{a.wall / b.wall:.1f}**", f"{a.cpu / b.cpu:.1f}", bar)
        return b, floor

    def subs(self):
        b, floor = self.beside("12 subs, all measured, all reports", "sep_subs.py", self.frames("subs", 12), "6")
        self.row("over reading and decoding alone", f"{floor.wall:.2f} s", f"{b.wall:.2f} s", f"{b.wall / floor.wall:.1f}", f"{b.cpu / floor.cpu:.1f}", "")
        self.note(f"peak memory, 12 subs: {b.peak:.0f} MiB (bar 1536)")

    def bias(self, n):
        b, floor = self.beside(f"{n} bias frames, every figure", "numpy_bias.py", self.frames("bias", n), "6")
        self.row("over reading and decoding alone", f"{floor.wall:.2f} s", f"{b.wall:.2f} s", f"**{b.wall / floor.wall:.1f}**", f"{b.cpu / floor.cpu:.1f}", f"at most {1.3 if n < 50 else 1.5}")
        self.note(f"peak memory, {n} bias: {b.peak:.0f} MiB (bar 1536)")

    def linear(self):
        for kind, counts in ("subs", (3, 6, 9, 12)), ("bias", (20, 60, 100)):
            seconds = []
            for n in counts:
                [r] = self.alternate(self.check(self.frames(kind, n), "--no-cache"))
                seconds.append(r.wall)
            slope, start, off = line(counts, seconds)
            points = ", ".join(f"{n}: {s:.3f} s" for n, s in zip(counts, seconds))
            self.note(f"{kind}: {points}; line {1000 * start:.0f} ms + {1000 * slope:.1f} ms a frame, largest deviation {100 * off:.1f} %")

    def second_core(self):
        for kind, n in ("subs", 12), ("bias", 20):
            files = self.frames(kind, n)
            one, two = self.check(files, "--no-cache", "--workers", "1"), self.check(files, "--no-cache", "--workers", "2")
            results = []
            for _ in range(self.args.runs):
                results.append((self.run(one, GOMAXPROCS="1").wall, self.run(two, GOMAXPROCS="2").wall))
            a, b = (statistics.median(r[i] for r in results) for i in (0, 1))
            self.row(f"second core, {n} {kind}", f"one: {a:.2f} s", f"two: {b:.2f} s", f"**{a / b:.2f}**", "", "1.8")

    def again(self):
        """A second run, over the script and over the first."""
        files = self.frames("subs", 12)
        cold = self.check(files, "--no-cache")
        warmed = self.check(files)
        self.run(warmed)
        other, first, again = self.alternate(self.script("sep_subs.py", files), cold, warmed)
        self.row("second run of an unchanged night, 12 subs", f"sep_subs.py: {other.wall:.2f} s", f"{again.wall:.3f} s", f"**{other.wall / again.wall:.0f}**", f"{other.cpu / again.cpu:.0f}", "25")
        self.row("over the first run", f"{first.wall:.2f} s", f"{again.wall:.3f} s", f"{first.wall / again.wall:.0f}", f"{first.cpu / again.cpu:.0f}", "")

    def memory(self):
        for n in 20, 200:
            peak = self.run(self.check(self.frames("bias", n), "--no-cache")).peak
            self.note(f"peak memory, {n} bias of 26 megapixels: {peak:.0f} MiB (bar 1536, flat)")
        big = os.path.join(self.args.frames, "big")
        if os.path.isdir(big):
            files = [os.path.join(root, f) for root, _, names in os.walk(big) for f in sorted(names)]
            r = self.run(self.check(files, "--no-cache"))
            self.note(f"peak memory, {len(files)} frames of 61 megapixels: {r.peak:.0f} MiB (bar 2560), {r.wall:.1f} s")

    def start_up(self):
        times = sorted(self.run([self.args.fitsqa, "check", "--help"]).wall for _ in range(21))
        self.row("start-up, `--help`", "", f"{1000 * times[10]:.0f} ms", "", "", "10 ms")

    def listing(self):
        folder = os.path.join(self.args.frames, "small")
        n = len(os.listdir(folder))
        warm([os.path.join(folder, f) for f in os.listdir(folder)])
        out = os.path.join(self.work, "out-small")
        [r] = self.alternate([self.args.fitsqa, "check", "--no-cache", "--out", out, folder])
        self.row(f"{n} small files, the whole run", "", f"{r.wall:.2f} s", f"{n / r.wall:.0f} files/s", "", "2000")

    def row(self, *cells):
        print("| " + " | ".join(cells) + " |", flush=True)

    def note(self, text):
        self.notes.append(text)

    def all(self):
        self.notes = []
        self.row("what", "other side", "fitsqa", "ratio", "of processor time", "bar")
        self.row(*["---"] * 6)
        steps = {
            "subs": self.subs,
            "bias20": lambda: self.bias(20),
            "bias100": lambda: self.bias(100),
            "second-core": self.second_core,
            "again": self.again,
            "start-up": self.start_up,
            "listing": self.listing,
            "linear": self.linear,
            "memory": self.memory,
        }
        for name, step in steps.items():
            if not self.args.only or name in self.args.only:
                step()
        print()
        for text in self.notes:
            print("- " + text)
        shutil.rmtree(self.work)


def warm(files):
    for name in files:
        with open(name, "rb") as f:
            while f.read(1 << 24):
                pass


def line(x, y):
    """Least squares through points: slope, value at 0, largest relative deviation."""
    n, mx, my = len(x), statistics.mean(x), statistics.mean(y)
    slope = sum((a - mx) * (b - my) for a, b in zip(x, y)) / sum((a - mx) ** 2 for a in x)
    start = my - slope * mx
    return slope, start, max(abs(b / (start + slope * a) - 1) for a, b in zip(x, y))


if __name__ == "__main__":
    ap = argparse.ArgumentParser()
    ap.add_argument("--frames", required=True)
    ap.add_argument("--fitsqa", required=True)
    ap.add_argument("--decode", required=True)
    ap.add_argument("--python", default=sys.executable)
    ap.add_argument("--runs", type=int, default=5)
    ap.add_argument("--only", nargs="*")
    Bench(ap.parse_args()).all()
