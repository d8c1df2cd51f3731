# fitsqa: the targets that people and .ci/run use. All that is needed is Go and make;
# crosscheck also needs the Debian packages that .ci/run installs.

GO      ?= go
VERSION := $(shell git describe --always --dirty 2>/dev/null || echo unknown)
BIN     := bin/fitsqa

.PHONY: all build demo test fuzz lint bench bench-random speed crosscheck release race fuzz-long attacks third-party vulncheck exercise clean

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

# The newcomer's exercise of DEVELOPERS.md, on copies.
exercise:
	$(GO) test ./cmd/fitsqa -count=1 -timeout 30m -run Exercise -exercise

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

# What works at once in the pipeline, watched for data races.
race:
	$(GO) test -race -timeout 15m ./internal/cache ./internal/outdir ./internal/cull
	$(GO) test -race -timeout 15m -run 'ReadAgain|EndOfGzip' ./internal/frames
	$(GO) test -race -timeout 15m -run 'WorkersChange|Looks' ./internal/night

# Every fuzz target for 20 minutes of processor time. Go keeps what it finds to
# be new between runs in FUZZ_CORPUS; what fails goes into testdata/fuzz.
FUZZ_CORPUS ?= $(HOME)/.cache/fitsqa-fuzz
fuzz-long:
	GOCACHE=$(FUZZ_CORPUS) $(MAKE) fuzz FUZZTIME=$$((1200 / $$(nproc)))s

# The attacks of the table in DEVELOPERS.md, once more.
attacks:
	$(GO) test -count=1 -timeout 30m ./internal/cache ./internal/cull ./internal/outdir ./internal/ledger ./internal/frames ./internal/frames/tiled
	$(GO) test -count=1 -timeout 30m -run 'Remember|Workers|Looks|MemoryCap' ./internal/night
	FITSQA_ARRIVALS=2000 $(GO) test -count=1 -timeout 30m ./internal/watch
	$(GO) test -count=1 -timeout 30m -run 'WriteAll|Mixed|Maps|Cells' ./internal/report
	$(GO) test -count=1 -timeout 30m -run 'Hostile|PlainText|Failing|Unsupported|OneFile|Vector|Signals|Nohup|Sources|Mixed|DiskFull|Folder|TwoRuns|Cull|Ledger|Cache|Watch' ./cmd/fitsqa

# The licences of all that is linked into the program.
third-party:
	.ci/third-party > THIRD-PARTY.md.new && mv THIRD-PARTY.md.new THIRD-PARTY.md

# Known vulnerabilities in what the program calls; where the database cannot be
# reached that is said, and is no failure. Exit code 3 is govulncheck's for a finding.
vulncheck:
	@GOBIN=$(CURDIR)/bin $(GO) install golang.org/x/vuln/cmd/govulncheck@v1.1.4 && bin/govulncheck ./cmd/fitsqa; code=$$?; \
	if [ $$code = 3 ]; then exit 3; fi; \
	if [ $$code != 0 ]; then echo "vulncheck: govulncheck or its database cannot be reached from here: nothing was checked"; fi

# How right and how steady the verdicts are, on nights whose truth is known.
bench:
	$(GO) run ./bench/verdicts

# The same on nights drawn at random from all troubles, optics, sensors and fields at
# once; FIRST is the seed of the first one.
FIRST ?= 1
bench-random:
	$(GO) run ./bench/verdicts -random 100 -first $(FIRST)

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
