#!/usr/bin/env bash
# run.sh [MACHINE]: every benchmark of a release build, into benchmarks/MACHINE.csv (default: the
# processor's kind and the number of cores). One core, processor time, least of several runs inside
# each program. Only a quiet machine gives figures that may be compared.
set -euo pipefail
cd "$(dirname "$0")/.."
machine=${1:-$(uname -m)-$(nproc)-cores}
build=build/release
cmake --preset release >/dev/null
programs=$(find benchmarks -name 'bench_*.c' -exec basename -s .c {} + | sort)
# shellcheck disable=SC2086
cmake --build --preset release --target tripwright_command $programs | tail -n 1
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
python3 - "$build/bin/tripwright" >>"$out" <<'PY'
import os, subprocess, sys
print("# the command, best of five\ncheck,what,seconds_of_processor,peak_memory_MB")
for words in (["check"], ["check", "--quick"], ["seat", "--directions"], ["expect"], ["disc"]):
    best, peak = 1e9, 0
    for _ in range(5):
        process = subprocess.Popen([sys.argv[1], *words, "examples/pillar-indexer.yaml"], stdout=subprocess.DEVNULL,
                                   env=dict(os.environ, TRIPWRIGHT_PARTS="parts"))
        _, _, used = os.wait4(process.pid, 0)
        best, peak = min(best, used.ru_utime + used.ru_stime), max(peak, used.ru_maxrss)
    print(f"check,{' '.join(words)},{best:.3f},{peak / 1024:.1f}")
PY
echo "$out"
