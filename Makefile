# fitsqa: the targets that people and .ci/run use. All that is needed is Go and make;
# crosscheck also needs the Debian packages that .ci/run installs.

GO      ?= go
VERSION := $(shell git describe --always --dirty 2>/dev/null || echo unknown)
BIN     := bin/fitsqa

.PHONY: all build demo test fuzz lint bench speed crosscheck release clean

all: build

build:
	$(GO) build -trimpath -ldflags "-X main.version=$(VERSION)" -o $(BIN) ./cmd/fitsqa

demo: build
	$(BIN) demo demo-night
	$(BIN) check --no-ledger --out fitsqa-out demo-night
	@echo
	@echo "The report is in fitsqa-out: open fitsqa-out/report.html, or read fitsqa-out/report.txt."

test:
	$(GO) test ./...

# Every fuzz target for a fixed number of inputs; DEVELOPERS.md tells how to run one for long.
FUZZTIME ?= 3000x
fuzz:
	@grep -r --include='*_test.go' -o '^func Fuzz[A-Za-z]*' . | while IFS=: read -r file target; do \
		$(GO) test "$$(dirname "$$file")" -run '^$$' -fuzz "^$${target#func }$$" \
			-fuzztime $(FUZZTIME) -fuzzminimizetime 20x || exit 1; \
	done

lint:
	@unformatted=$$(gofmt -l cmd internal crosscheck bench); \
	if [ -n "$$unformatted" ]; then echo "gofmt would change:"; echo "$$unformatted"; exit 1; fi
	$(GO) vet ./...
	$(GO) tool staticcheck ./...

# How right and how steady the verdicts are, on nights whose truth is known.
bench:
	$(GO) run ./bench/verdicts

speed:
	$(GO) test -run '^$$' -bench . -benchmem ./...

crosscheck: build
	crosscheck/run.sh

# Archives for people who do not build, with checksums; the same bytes from the same commit.
PLATFORMS ?= linux/amd64 linux/arm64 darwin/amd64 darwin/arm64 windows/amd64 windows/arm64
release:
	./release.sh "$(VERSION)" $(PLATFORMS)

clean:
	rm -rf bin release demo-night demo-night.truth.json fitsqa-out crosscheck-out
