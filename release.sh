#!/usr/bin/env bash
# Builds one archive a platform into release/, and their SHA-256 sums. Everything that could differ from
# run to run is fixed: paths, build ids, order, owners and times (those of the commit). Needs Go, tar, gzip,
# and zip for Windows.
#
#   ./release.sh VERSION OS/ARCH...
set -euo pipefail
cd "$(dirname "$0")"
version=$1
shift
umask 022
export TZ=UTC
stamp=$(git log -1 --format=%ct)
rm -rf release
mkdir release

for platform in "$@"; do
	os=${platform%/*} arch=${platform#*/}
	name=fitsqa-$version-$os-$arch
	mkdir -p "release/$name"
	program=fitsqa
	[ "$os" = windows ] && program=fitsqa.exe
	CGO_ENABLED=0 GOOS=$os GOARCH=$arch go build -trimpath -buildvcs=false \
		-ldflags "-s -w -buildid= -X main.version=$version" -o "release/$name/$program" ./cmd/fitsqa
	cp README.md LICENSE THIRD-PARTY.md "release/$name/"
	find "release/$name" -exec touch -d "@$stamp" {} +
	if [ "$os" = windows ]; then
		(cd release && find "$name" | LC_ALL=C sort | zip -X -q "$name.zip" -@)
	else
		tar -C release --sort=name --owner=0 --group=0 --numeric-owner --format=ustar -cf - "$name" | gzip -n >"release/$name.tar.gz"
	fi
	rm -r "release/$name"
done
(cd release && sha256sum fitsqa-* >SHA256SUMS)
