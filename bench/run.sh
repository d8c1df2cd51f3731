#!/usr/bin/env bash
# Makes the frames, runs fitsqa and the scripts it is compared with, prints the
# table of ratios as Markdown. Needs about 15 GB in FRAMES, and all of the machine.
#
#   PYTHON   interpreter with numpy, astropy and sep (Debian: /usr/bin/python3)
#   FRAMES   folder for the frames, kept for the next run (default bench-frames)
#
# Arguments go to measure.py, for example: bench/run.sh --only subs bias20
set -euo pipefail
cd "$(dirname "$0")/.."
PYTHON=${PYTHON:-/usr/bin/python3}
FRAMES=${FRAMES:-bench-frames}
bin=$(mktemp -d)
trap 'rm -rf "$bin"' EXIT

go build -trimpath -o "$bin/fitsqa" ./cmd/fitsqa
go build -trimpath -o "$bin/decode" ./bench/decode
"$PYTHON" bench/make_frames.py "$FRAMES" --subs 12 --bias 200
"$PYTHON" bench/make_frames.py "$FRAMES/big" --subs 3 --bias 3 --width 9576 --height 6388
"$PYTHON" bench/make_frames.py "$FRAMES" --subs 0 --bias 0 --small 5000
"$PYTHON" bench/measure.py --frames "$FRAMES" --fitsqa "$bin/fitsqa" --decode "$bin/decode" "$@"
