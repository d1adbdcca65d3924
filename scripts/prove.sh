#!/usr/bin/env bash
# prove.sh [NAME...]: the long counts. Without a NAME all of them, in this order; --list names them.
# Each adds its rows to docs/develop/proof.csv. TW_JOBS says how many cores (all of them).
set -euo pipefail
cd "$(dirname "$0")/.."
jobs=${TW_JOBS:-$(nproc)}
table=docs/develop/proof.csv
logs=build/prove
mkdir -p "$logs"
names="design_reader readers captures requests counts kills log allocations threads oracles mutants benchmarks"

# what is built now: hours later the source may be another
version=$(
  printf '%s+%s' "$(sed -n 's/^project(tripwright VERSION \([0-9.]*\).*/\1/p' CMakeLists.txt)" \
    "$(git rev-parse --short HEAD 2>/dev/null || echo none)"
)

# row WHAT FIGURE UNIT TARGET COMMAND: one line of the table
row() {
  [ -f "$table" ] || echo 'date,version,what,figure,unit,target,command' >"$table"
  printf '%s,%s,"%s",%s,%s,"%s","%s"\n' "$(date -u +%F)" "$version" "$@" | tee -a "$table"
}

build() { # build PRESET TARGET...
  cmake --preset "$1" >/dev/null
  cmake --build --preset "$1" -j "$jobs" ${2:+--target "${@:2}"} | tail -n 1
}

# fuzz FUZZER EXECUTIONS MOST_BYTES SEEDS...: shared out over the cores, each with its own corpus.
# A broken promise or a sanitizer's word ends it; the input that did it is kept and named.
fuzz() {
  local fuzzer=$1 count=$2 most=$3 k failed=0 pids=() seeds=() seed
  shift 3
  for seed in "$@"; do [ ! -e "$seed" ] || seeds+=("$seed"); done
  build fuzz "$fuzzer"
  mkdir -p "$logs/found"
  for ((k = 0; k < jobs; k++)); do
    rm -rf "$logs/$fuzzer.$k"
    mkdir -p "$logs/$fuzzer.$k"
    nice build/fuzz/bin/"$fuzzer" -runs=$(((count + jobs - 1) / jobs)) -seed=$((k + 1)) \
      -max_len="$most" -timeout=20 -print_final_stats=1 -artifact_prefix="$logs/found/$fuzzer-" \
      "$logs/$fuzzer.$k" "${seeds[@]}" >"$logs/$fuzzer.$k.log" 2>&1 &
    pids+=($!)
  done
  for k in "${pids[@]}"; do wait "$k" || failed=1; done
  local done_runs
  done_runs=$(cat "$logs/$fuzzer".*.log | awk '/^stat::number_of_executed_units/ {n += $2} END {print n + 0}')
  row "$fuzzer under ASan and UBSan: executions" "$done_runs" 1 ">= $count without a failure" \
    "scripts/prove.sh ${FUNCNAME[1]}"
  if [ "$failed" -ne 0 ]; then
    grep -h -A 12 -E '^(broken|==[0-9]+==ERROR|.*runtime error)' "$logs/$fuzzer".*.log | head -n 60
    ls "$logs/found"
    return 1
  fi
}

design_reader() {
  fuzz fuzz_design_read 2000000 1000 tests/fuzz/corpus/design_read tests/cli/bad examples
}

# the other readers: quantities, tables, forms, formulas
readers() {
  local source fuzzer corpus
  for source in tests/fuzz/fuzz_*.c; do
    fuzzer=$(basename "$source" .c)
    corpus=tests/fuzz/corpus/${fuzzer#fuzz_}
    case $fuzzer in
      fuzz_design_read | fuzz_serve_request | fuzz_capture_*) ;;
      *) fuzz "$fuzzer" 500000 4096 "$corpus" ;;
    esac
  done
}

# what instruments recorded: text, WAV, capture zips
captures() {
  local kind
  for kind in csv wav zip; do
    fuzz "fuzz_capture_$kind" 1000000 3000 "tests/fuzz/corpus/capture_$kind"
  done
}

requests() {
  fuzz fuzz_serve_request 1000000 4096 tests/fuzz/corpus/serve_request
}

# tested LABEL BUILD LOG CTEST_WORDS...: the number of tests passed, and those that were skipped inside;
# with their long counts unless `short` is set
tested() {
  local what=$1 preset=$2 log=$logs/$3.log passed failed
  shift 3
  local long=(TW_PROVE=1)
  [ -z "${short:-}" ] || long=(-u TW_PROVE)
  env "${long[@]}" ctest --test-dir "build/$preset" -j "$jobs" --output-on-failure "$@" >"$log" 2>&1 || true
  failed=$(sed -n 's/.*, \([0-9]*\) tests\{0,1\} failed out of.*/\1/p' "$log")
  passed=$(sed -n 's/.* failed out of \([0-9]*\)/\1/p' "$log")
  row "$what: test programs, failed of all" "${failed:-?}/${passed:-?}" 1 "0 failed" \
    "${short:+env }${long[*]} ctest --test-dir build/$preset $*"
  grep -hiE '^ *skipped' "build/$preset/Testing/Temporary/LastTest.log" | sort -u || true
  [ "${failed:-1}" = 0 ] || { grep -A 30 'tests failed' "$log"; return 1; }
}

# every test with its long counts
counts() {
  build release
  tested "long counts" release counts -LE oracle
}

# the server killed at 200 random moments while it saves: the design is the old or the new one, whole
kills() {
  local log=$logs/kills.log figure
  build release tripwright_command
  (cd tests/web && npm ci --silent --no-audit --no-fund)
  TW_PROVE=1 TW_ONLY='disk: killed' node tests/web/run.mjs build/release/bin/tripwright >"$log" 2>&1 || true
  # as often as the file was found whole, out of the kills asked for; a failure leaves no such line
  figure=$(sed -n 's/^ *\([0-9]*\) times the old file, \([0-9]*\) times the new one.*/\1 old + \2 new/p' "$log")
  row "killed while saving: files found whole" "${figure:-?}" 1 "200 in all, none broken" \
    "TW_PROVE=1 TW_ONLY='disk: killed' node tests/web/run.mjs build/release/bin/tripwright"
  grep -q '^1 passed, 0 failed' "$log" || { cat "$log"; return 1; }
}

# the unit log killed 200 times while it writes, every n-th write failing, two writers, flipped bits
log() {
  local log=$logs/log.log figure
  build release fault_test_logbook_disk
  TW_PROVE=1 build/release/bin/fault_test_logbook_disk >"$log" 2>&1 || { cat "$log"; return 1; }
  figure=$(sed -n 's/^killed \([0-9]*\) times.*: \([0-9]*\) entries acknowledged, none lost/\1 kills; \2 entries/p' "$log")
  row "unit log killed while writing: acknowledged entries lost" "none of ${figure:-?}" 1 "200 kills, none lost" \
    "TW_PROVE=1 build/release/bin/fault_test_logbook_disk"
  figure=$(sed -n 's/^flipped bits: \([0-9]*\) told.*/\1/p' "$log")
  row "unit log: flipped bits told by log check" "${figure:-?}" 1 "200, none that changed what is read untold" \
    "TW_PROVE=1 build/release/bin/fault_test_logbook_disk"
}

# every allocation of reading and assessing fails once, every leak is told
allocations() {
  build sanitize
  ASAN_OPTIONS=detect_leaks=1 tested "failing allocations under ASan" sanitize allocations -L fault
}

# races: everything that starts threads; only the programs of those tests are built, and a race needs
# no long counts (the searches of studies alone take ten minutes here)
threads() {
  local short=yes which='thread|parallel|study|suspect|design_read|serve' targets
  cmake --preset tsan >/dev/null
  targets=$(ctest --test-dir build/tsan -N -R "$which" | sed -n 's/^ *Test *#[0-9]*: \([a-z]*\)\./\1_/p')
  # shellcheck disable=SC2086
  build tsan $targets
  TSAN_OPTIONS=halt_on_error=1 tested "races under TSan" tsan threads -R "$which"
}

# outside programs, without a short cut
oracles() {
  build release
  tested "outside programs" release oracles -L oracle
}

# faults made on purpose; in this tree, each put back
mutants() {
  local sum
  sum=$(TW_PROVE=1 scripts/mutants.py --write docs/develop/mutants-table.md | tail -n 1)
  row "faults made on purpose" "${sum%% *}" "$sum" "none unseen" "scripts/prove.sh mutants"
}

benchmarks() {
  local out
  out=$(benchmarks/run.sh | tail -n 1)
  row "benchmarks" "$(grep -vc '^#' "$out")" "rows of $out" "see docs/develop/benchmarks.md" benchmarks/run.sh
}

wanted=${*:-$names}
[ "$wanted" != --list ] || { echo "$names"; exit 0; }
for name in $wanted; do
  declare -F "$name" >/dev/null || { echo "prove.sh: no entry $name; there are: $names" >&2; exit 2; }
  printf '\n== %s\n' "$name"
  "$name"
done
