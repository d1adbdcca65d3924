#!/usr/bin/env bash
# test.sh: all that must hold, in the order in which a failure is cheapest to learn.
set -euo pipefail
jobs=$(nproc)
say() { printf '\n== %s\n' "$*"; }

say "format, floors, tables"
scripts/house.sh

say "build (warnings are errors)"
cmake --preset release >/dev/null
cmake --build --preset release -j "$jobs" | tail -n 3

say "unit, published, reference, fault and oracle tests"
ctest --test-dir build/release -j "$jobs" --output-on-failure | tail -n 200

say "command line"
tests/cli/run.py build/release/bin/tripwright tests/cli/*.case examples/*.case

if [ -f tests/web/run.mjs ]; then
  say "page"
  (cd tests/web && npm ci --silent --no-audit --no-fund && node run.mjs ../../build/release/bin/tripwright)
fi

say "sanitizers"
cmake --preset sanitize >/dev/null
cmake --build --preset sanitize -j "$jobs" | tail -n 1
ASAN_OPTIONS=detect_leaks=1 ctest --test-dir build/sanitize -j "$jobs" -LE oracle --output-on-failure | tail -n 200
tests/cli/run.py build/sanitize/bin/tripwright tests/cli/*.case

say "all of it holds"
