# The front door. `make demo` shows the main job, `make test` all that must hold, `make prove` the
# long counts. Each installs what it lacks from Debian.
.PHONY: demo build test prove format clean

EXAMPLE = examples/pillar-indexer.yaml
JOBS ?= $(shell nproc)

demo:
	@scripts/packages.sh demo
	@scripts/demo.sh $(EXAMPLE)

build:
	@cmake --preset release >/dev/null
	@cmake --build --preset release -j $(JOBS)

test:
	@scripts/packages.sh test
	@scripts/test.sh

prove:
	@scripts/packages.sh prove
	@scripts/prove.sh

format:
	@clang-format -i $$(git ls-files '*.c' '*.h')

clean:
	@rm -rf build
