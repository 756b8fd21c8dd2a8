# Two commands do all set-up: make demo, make test.
TOOL := go tool -modfile=.ci/tools/go.mod

.PHONY: build demo test setup check unit bench text-report reader-report sql-report

build: ## the program, in bin/
	go build -o bin/lotbook ./cmd/lotbook

demo: build ## an invented unit, served on loopback
	bin/lotbook demo --data demo-data

test: setup check unit ## everything that CI runs

setup: ## installs what the tests need and this machine lacks
	.ci/setup

check: ## form, vet, staticcheck
	@out="$$($(TOOL) gofumpt -l .)"; if [ -n "$$out" ]; then echo "not formatted by gofumpt:"; echo "$$out"; exit 1; fi
	go vet ./...
	$(TOOL) staticcheck ./...

unit: ## all tests
	go test -count=1 -timeout 20m ./...

bench: ## all benchmarks
	go test -run '^$$' -bench . -benchmem ./...

text-report: ## reading text, beside two parsers in JavaScript; needs node and npm
	npm --prefix scanner/report ci
	GOMAXPROCS=1 go run ./scanner/report -npm scanner/report

SEED ?= 1
OUT ?= $(or $(TMPDIR),/tmp)/reader-report
PHOTOS ?=
reader-report: ## reading pictures, beside a C++ reader as WebAssembly; needs node and npm
	npm --prefix scanner/picture/report ci
	GOMAXPROCS=1 go run ./scanner/picture/report -npm scanner/picture/report -seed $(SEED) -out $(OUT) -photos "$(PHOTOS)"

TREATMENTS ?= 1000000
sql-report: ## who received a lot, beside the same as SQL of SQLite and PostgreSQL; installs them
	.ci/setup sql
	go run ./cmd/sqlreport -treatments $(TREATMENTS)
