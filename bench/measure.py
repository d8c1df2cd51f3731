"""Time fitsqa beside what users would write with numpy and sep, on the same frames.

    measure.py --frames DIR --fitsqa PROGRAM --decode PROGRAM [--runs 5] [--only NAME ...]

Every command runs --runs times, the sides in turn so that both see the same
machine; the median wall time of whole processes counts, start-up and reports
included. Files are read once before, so that all sides find them in the page
cache. Prints Markdown.
"""

import argparse
import json
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time

HERE = os.path.dirname(os.path.abspath(__file__))
MIB = 1024  # KiB


class Bench:
    def __init__(self, args):
        self.args = args
        self.work = tempfile.mkdtemp(prefix="fitsqa-bench-")
        self.env = {**os.environ, "PYTHONDONTWRITEBYTECODE": "1", "XDG_CACHE_HOME": os.path.join(self.work, "cache"), "XDG_DATA_HOME": os.path.join(self.work, "data")}

    # Running ---------------------------------------------------------------

    def run(self, command, **extra):
        """Wall time in s, peak resident memory in MiB, standard output."""
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
            return seconds, usage.ru_maxrss / MIB, out.read().decode(errors="replace")

    def alternate(self, *commands):
        """Median wall time and highest memory of each command, run in turn."""
        results = [[] for _ in commands]
        for _ in range(self.args.runs):
            for command, result in zip(commands, results):
                result.append(self.run(*command) if isinstance(command, tuple) else self.run(command))
        return [(statistics.median(r[0] for r in result), max(r[1] for r in result), result[-1][2]) for result in results]

    def check(self, files, *flags):
        """The command that runs fitsqa on a list of files, by way of a folder of links."""
        folder = tempfile.mkdtemp(dir=self.work)
        for f in files:
            os.link(f, os.path.join(folder, os.path.basename(f)))
        out = os.path.join(self.work, "out-" + os.path.basename(folder))
        return [self.args.fitsqa, "check", "--out", out, *flags, folder]

    def frames(self, kind, n):
        folder = os.path.join(self.args.frames, kind)
        files = [os.path.join(folder, f) for f in sorted(os.listdir(folder)) if f.endswith(".fits")][:n]
        if len(files) < n:
            sys.exit(f"{folder} holds {len(files)} frames, not {n}")
        warm(files)
        return files

    # Measurements ------------------------------------------------------------

    def subs(self):
        files = self.frames("subs", 12)
        python = [self.args.python, f"{HERE}/sep_subs.py", *files]
        ours = self.check(files, "--no-cache")
        (a, _, said), (b, peak, _), (floor, _, _) = self.alternate(python, ours, [self.args.decode, *files])
        found = json.loads(said)
        print(f"| 12 subs, everything measured and written | {a:.2f} s (sep, two processes) | {b:.2f} s | **{a / b:.1f}** | 5 |")
        print(f"| the same, over reading and decoding alone | {floor:.3f} s | {b:.2f} s | {b / floor:.1f} | |")
        print(f"| the same, without Python's start-up | {found['seconds']:.2f} s | {b:.2f} s | {found['seconds'] / b:.1f} | |")
        self.note(f"peak memory, 12 subs: {peak:.0f} MiB (bar 1536); sep finds {found['objects']} sources a sub")

    def bias(self, n):
        files = self.frames("bias", n)
        python = [self.args.python, f"{HERE}/numpy_bias.py", *files]
        ours = self.check(files, "--no-cache")
        (a, _, _), (b, peak, _), (floor, _, _) = self.alternate(python, ours, [self.args.decode, *files])
        print(f"| {n} bias frames, every figure | {a:.2f} s (numpy) | {b:.2f} s | **{a / b:.1f}** | 6 |")
        print(f"| the same, over reading and decoding alone | {floor:.3f} s | {b:.2f} s | **{b / floor:.1f}** | at most 3 |")
        self.note(f"peak memory, {n} bias: {peak:.0f} MiB (bar 1536)")

    def linear(self):
        for kind, counts in ("subs", (3, 6, 9, 12)), ("bias", (20, 60, 100)):
            seconds = []
            for n in counts:
                [(s, _, _)] = self.alternate(self.check(self.frames(kind, n), "--no-cache"))
                seconds.append(s)
            slope, start, off = line(counts, seconds)
            points = ", ".join(f"{n}: {s:.3f} s" for n, s in zip(counts, seconds))
            self.note(f"{kind}: {points}; line {1000 * start:.0f} ms + {1000 * slope:.1f} ms a frame, largest deviation {100 * off:.1f} %")

    def second_core(self):
        for kind, n in ("subs", 12), ("bias", 20):
            files = self.frames(kind, n)
            one, two = self.check(files, "--no-cache", "--workers", "1"), self.check(files, "--no-cache", "--workers", "2")
            results = []
            for _ in range(self.args.runs):
                results.append((self.run(one, GOMAXPROCS="1")[0], self.run(two, GOMAXPROCS="2")[0]))
            a, b = (statistics.median(r[i] for r in results) for i in (0, 1))
            print(f"| second core, {n} {kind} | {a:.2f} s (one) | {b:.2f} s (two) | **{a / b:.2f}** | 1.8 |")

    def again(self):
        files = self.frames("subs", 12)
        cold = self.check(files, "--no-cache")
        warmed = self.check(files)
        self.run(warmed)
        (a, _, _), (b, _, _) = self.alternate(cold, warmed)
        print(f"| second run of an unchanged night, 12 subs | {a:.2f} s (first) | {b:.3f} s | **{a / b:.0f}** | 20 |")

    def memory(self):
        for n in 20, 200:
            _, peak, _ = self.run(self.check(self.frames("bias", n), "--no-cache"))
            self.note(f"peak memory, {n} bias of 26 megapixels: {peak:.0f} MiB (bar 1536, flat)")
        big = os.path.join(self.args.frames, "big")
        if os.path.isdir(big):
            files = [os.path.join(root, f) for root, _, names in os.walk(big) for f in sorted(names)]
            seconds, peak, _ = self.run(self.check(files, "--no-cache"))
            self.note(f"peak memory, {len(files)} frames of 62 megapixels: {peak:.0f} MiB (bar 2560), {seconds:.1f} s")

    def start_up(self):
        times = sorted(self.run([self.args.fitsqa, "check", "--help"])[0] for _ in range(21))
        print(f"| start-up, `--help` | | {1000 * times[10]:.0f} ms | | 30 ms |")

    def listing(self):
        folder = os.path.join(self.args.frames, "small")
        n = len(os.listdir(folder))
        warm([os.path.join(folder, f) for f in os.listdir(folder)])
        out = os.path.join(self.work, "out-small")
        [(s, _, _)] = self.alternate([self.args.fitsqa, "check", "--no-cache", "--out", out, folder])
        print(f"| {n} small files, the whole run | | {s:.2f} s | {n / s:.0f} files/s | 2000 |")

    def note(self, text):
        self.notes.append(text)

    def all(self):
        self.notes = []
        print("| what | other side | fitsqa | ratio | bar |")
        print("| --- | --- | --- | --- | --- |")
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
                sys.stdout.flush()
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
