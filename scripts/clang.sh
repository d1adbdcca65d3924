#!/usr/bin/env bash
# clang.sh: every source that the release build compiles is read by clang too, with the same
# warnings as errors and with asserts on; nothing is linked. A second compiler finds what the first
# lets pass. Options behind it go to clang; TW_JOBS says how many cores.
set -euo pipefail
cd "$(dirname "$0")/.."
clang=$(command -v clang-14 || command -v clang) || {
  echo "clang-14 is missing: scripts/packages.sh test installs it"
  exit 1
}
python3 - "$clang" "${TW_JOBS:-$(nproc)}" "$@" <<'END'
import concurrent.futures, json, os, shlex, subprocess, sys

clang, jobs, more = sys.argv[1], int(sys.argv[2]), sys.argv[3:]
# clang warns of INFINITY and NAN, which are floats, wherever a double is expected; real promotions
# are gcc's to find
also = ["-fsyntax-only", "-UNDEBUG", "-Wno-double-promotion"]


def read(entry):
    words = shlex.split(entry["command"])
    words = [w for i, w in enumerate(words) if w not in ("-c", "-o") and words[i - 1] != "-o"]
    words[0] = clang
    run = subprocess.run(words + also + more, cwd=entry["directory"], capture_output=True, text=True)
    return run.returncode == 0, run.stderr


with open("build/release/compile_commands.json") as commands:
    entries = {e["file"]: e for e in json.load(commands)}
with concurrent.futures.ThreadPoolExecutor(jobs) as pool:
    results = list(pool.map(read, entries.values()))
bad = [text for good, text in results if not good]
print("".join(bad), end="")
print(f"{len(results)} sources read by {os.path.basename(clang)}, {len(bad)} with warnings")
sys.exit(1 if bad else 0)
END
