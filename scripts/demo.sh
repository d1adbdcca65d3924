#!/bin/sh
# demo.sh DESIGN: build what is needed and run the main job on an example.
set -eu
cmake -S . -B build/demo -G Ninja -DCMAKE_BUILD_TYPE=Release -DTW_TESTS=OFF >build-demo.log 2>&1 &&
  cmake --build build/demo -j "$(nproc)" --target tripwright_command >>build-demo.log 2>&1 || {
  tail -n 40 build-demo.log >&2
  exit 1
}
rm -f build-demo.log
echo "\$ tripwright check $1"
code=0
TRIPWRIGHT_PARTS=parts build/demo/bin/tripwright check "$1" || code=$?
[ "$code" -le 1 ] || exit "$code"
