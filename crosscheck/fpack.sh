#!/usr/bin/env bash
# Packs small images of every sample type with fpack (Debian libcfitsio-bin) in
# every algorithm, tile shape and quantisation, and checks that fitsqa reads
# each back as its original, quantised floats as funpack does.
set -euo pipefail
cd "$(dirname "$0")/.."
if ! command -v fpack >/dev/null || ! command -v funpack >/dev/null; then
	echo "crosscheck: fpack and funpack are missing; install Debian's libcfitsio-bin" >&2
	exit 1
fi
FPACK=all go test -count=1 -v -run 'TestFpack' ./internal/frames/ | grep -v '^=== '
