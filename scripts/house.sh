#!/usr/bin/env bash
# house.sh: the order of the house: pinned format, who includes whom, words that must not stand.
set -euo pipefail
bad=0
format=$(command -v clang-format-14 || command -v clang-format)
if ! "$format" --dry-run -Werror $(git ls-files '*.c' '*.h') 2>/tmp/tripwright-format.$$; then
  grep -m 20 'error:' /tmp/tripwright-format.$$ || true
  echo "run: make format"
  bad=1
fi
rm -f /tmp/tripwright-format.$$
python3 scripts/floors.py || bad=1
exit $bad
