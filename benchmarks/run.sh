#!/usr/bin/env bash
# run.sh [MACHINE]: every benchmark of a release build (TW_BUILD: its folder), into benchmarks/MACHINE.csv (default: the
# processor's kind and the number of cores). One core, processor time, least of several runs inside
# each program. Only a quiet machine gives figures that may be compared.
set -euo pipefail
cd "$(dirname "$0")/.."
machine=${1:-$(uname -m)-$(nproc)-cores}
build=${TW_BUILD:-build/release}
[ -n "${TW_BUILD:-}" ] || cmake --preset release >/dev/null
programs=$(find benchmarks -name 'bench_*.c' -exec basename -s .c {} + | sort)
# shellcheck disable=SC2086
cmake --build "$build" --target tripwright_command $programs | tail -n 1
out=benchmarks/$machine.csv
{
  echo "# $(sed -n 's/^model name[^:]*: //p' /proc/cpuinfo | head -n 1), $(nproc) cores, $(cc --version | head -n 1)"
  echo "# $(date -u +%F), version $(git rev-parse --short HEAD), load at the start $(cut -d' ' -f1 /proc/loadavg)"
} >"$out"
for program in $programs; do
  echo "== $program" >&2
  { echo "# $program"; "$build/bin/$program"; } | sed "/^#/!s/^/$program,/" >>"$out"
done
echo "== check" >&2
peak=$(mktemp)
trap 'rm -f "$peak"' EXIT
cc -std=c17 -O1 benchmarks/peak.c -o "$peak"
{
  echo "# the command, least of five"
  echo "check,what,seconds_of_processor,peak_memory_MB"
  for words in "check" "check --quick" "seat --directions" "expect" "disc"; do
    for _ in 1 2 3 4 5; do
      # shellcheck disable=SC2086
      echo "check,$words,$(TRIPWRIGHT_PARTS=parts "$peak" "$build/bin/tripwright" $words examples/pillar-indexer.yaml)"
    done | sort -t, -k3 -g | head -n 1
  done
} >>"$out"
echo "$out"
