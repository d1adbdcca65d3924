#!/usr/bin/env bash
# prove.sh [NAME...]: the long counts. Without a NAME all of them, in this order; --list names them.
# Each adds its rows to docs/develop/proof.csv. TW_JOBS says how many cores (all of them).
set -euo pipefail
cd "$(dirname "$0")/.."
jobs=${TW_JOBS:-$(nproc)}
table=docs/develop/proof.csv
logs=build/prove
mkdir -p "$logs"
names="design_reader readers requests counts allocations threads oracles benchmarks"

version() {
  printf '%s+%s' "$(sed -n 's/^project(tripwright VERSION \([0-9.]*\).*/\1/p' CMakeLists.txt)" \
    "$(git rev-parse --short HEAD 2>/dev/null || echo none)"
}

# row WHAT FIGURE UNIT TARGET COMMAND: one line of the table
row() {
  [ -f "$table" ] || echo 'date,version,what,figure,unit,target,command' >"$table"
  printf '%s,%s,"%s",%s,%s,"%s","%s"\n' "$(date -u +%F)" "$(version)" "$@" | tee -a "$table"
}

build() { # build PRESET TARGET...
  cmake --preset "$1" >/dev/null
  cmake --build --preset "$1" -j "$jobs" ${2:+--target "${@:2}"} | tail -n 1
}

# fuzz FUZZER EXECUTIONS MOST_BYTES SEEDS...: shared out over the cores, each with its own corpus.
# A broken promise or a sanitizer's word ends it; the input that did it is kept and named.
fuzz() {
  local fuzzer=$1 count=$2 most=$3 k failed=0 pids=()
  shift 3
  build fuzz "$fuzzer"
  mkdir -p "$logs/found"
  for ((k = 0; k < jobs; k++)); do
    rm -rf "$logs/$fuzzer.$k"
    mkdir -p "$logs/$fuzzer.$k"
    nice build/fuzz/bin/"$fuzzer" -runs=$(((count + jobs - 1) / jobs)) -seed=$((k + 1)) \
      -max_len="$most" -timeout=20 -print_final_stats=1 -artifact_prefix="$logs/found/$fuzzer-" \
      "$logs/$fuzzer.$k" "$@" >"$logs/$fuzzer.$k.log" 2>&1 &
    pids+=($!)
  done
  for k in "${pids[@]}"; do wait "$k" || failed=1; done
  local done_runs
  done_runs=$(sed -n 's/^stat::number_of_executed_units: *//p' "$logs/$fuzzer".*.log | paste -sd+ | bc)
  row "$fuzzer under ASan and UBSan: executions" "${done_runs:-0}" 1 ">= $count without a failure" \
    "scripts/prove.sh (${FUNCNAME[1]})"
  if [ "$failed" -ne 0 ]; then
    grep -h -A 12 -E '^(broken|==[0-9]+==ERROR|.*runtime error)' "$logs/$fuzzer".*.log | head -n 60
    ls "$logs/found"
    return 1
  fi
}

design_reader() {
  fuzz fuzz_design_read 2000000 1000 tests/fuzz/corpus/design_read tests/cli/bad examples
}

readers() {
  fuzz fuzz_base_quantity 1000000 128 tests/fuzz/corpus/base_quantity
}

wanted=${*:-$names}
[ "$wanted" != --list ] || { echo "$names"; exit 0; }
for name in $wanted; do
  declare -F "$name" >/dev/null || { echo "prove.sh: no entry $name; there are: $names" >&2; exit 2; }
  printf '\n== %s\n' "$name"
  "$name"
done
