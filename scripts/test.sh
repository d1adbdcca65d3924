#!/usr/bin/env bash
# test.sh: all that must hold, in the order in which a failure is cheapest to learn. Long counts are
# left to prove.sh. TW_JOBS says how many cores (all of them).
set -euo pipefail
cd "$(dirname "$0")/.."
jobs=${TW_JOBS:-$(nproc)}
release=build/release/bin/tripwright
start=$SECONDS
sums=()
say() { printf '\n== %s (%d s)\n' "$*" $((SECONDS - start)); }

# run NAME COMMAND...: shows the end of what it prints, keeps its last line for the sum
run() {
  local name=$1 log
  log=$(mktemp)
  shift
  if "$@" >"$log" 2>&1; then
    tail -n 3 "$log"
    # a run without a summing line of its own is summed up by its last one
    sums+=("$name: $({ grep -E 'tests? (passed|failed)|passed|in order|sources read' "$log" || cat "$log"; } | tail -n 1)")
    rm -f "$log"
  else
    tail -n 200 "$log"
    rm -f "$log"
    echo "== $name failed after $((SECONDS - start)) s"
    exit 1
  fi
}

say "format, floors, words, tables"
run house scripts/house.sh

say "build (warnings are errors)"
cmake --preset release >/dev/null
cmake --build --preset release -j "$jobs" | tail -n 1

say "clang reads every source too (warnings are errors)"
run clang scripts/clang.sh

say "unit, published, reference, fault and oracle tests, corpus replay"
run tests ctest --test-dir build/release -j "$jobs" --output-on-failure
# what was left out because an outside program is missing
grep -hiE '^ *skipped' build/release/Testing/Temporary/LastTest.log | sort -u || true

say "command line, examples, outputs shown in the docs"
run cases tests/cli/run.py "$release" tests/cli/*.case examples/*.case
run docs scripts/docs.py "$release" README.md docs/guide/*.md
run installed tests/cli/install.sh build/release

say "page"
page() { (cd tests/web && npm ci --silent --no-audit --no-fund && node run.mjs "../../$release"); }
run page page

say "sanitizers (address, undefined behaviour), with asserts on"
cmake --preset sanitize >/dev/null
cmake --build --preset sanitize -j "$jobs" | tail -n 1
export ASAN_OPTIONS=detect_leaks=1 UBSAN_OPTIONS=print_stacktrace=1
# one search for two faults takes minutes here; suspect.case and identify's unit test run its parts
run "tests, sanitized" ctest --test-dir build/sanitize -j "$jobs" -LE oracle -E identify_causes --output-on-failure
# without the long searches and studies, which take minutes here; their code runs in the tests above
run "cases, sanitized" tests/cli/run.py build/sanitize/bin/tripwright \
  $(find tests/cli -name '*.case' | grep -vE '/(study|spread|screens|left_out|allot|suspect)\.case' | sort)

printf '\n== all of it holds, in %d s\n' $((SECONDS - start))
printf '   %s\n' "${sums[@]}"
