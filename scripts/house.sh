#!/usr/bin/env bash
# house.sh: the order of the house: pinned format, who stands on whom, words that must not stand,
# paths of one machine, long files without a reason, tables in the guide that are not the code's.
set -euo pipefail
cd "$(dirname "$0")/.."
bad=0
files() { # tracked files that still exist
  git ls-files -z "$@" | xargs -0 -r ls -d 2>/dev/null
}
format=$(command -v clang-format-14 || command -v clang-format)
log=$(mktemp)
trap 'rm -f "$log"' EXIT
# shellcheck disable=SC2046
if ! "$format" --dry-run -Werror $(files '*.c' '*.h') 2>"$log"; then
  grep -m 20 'error:' "$log" || true
  echo "run: make format"
  bad=1
fi
python3 scripts/floors.py || bad=1
python3 tests/house/test_floors.py || bad=1
python3 scripts/tour.py --check || bad=1
python3 scripts/field_tables.py --check || { echo "run: scripts/field_tables.py"; bad=1; }

# a constant of nature or mathematics is written once
constants='acos\(-1\.0\)|3\.14159|6\.28318|57\.2957|0\.0174532|9\.80665|8\.854187|1\.380649e|1\.602176'
if grep -nE "$constants" $(files 'src/*.c' 'src/*.h' 'include/*.h' | grep -v '/constants\.h$'); then
  echo "take it from include/tripwright/constants.h"
  bad=1
fi

# what we wrote: not data, not what tools make, not this list
ours=$(files | grep -vE '^(LICENSE|scripts/house\.sh|tests/data/|web/embedded/|.*package-lock\.json|.*\.(png|bin|zip))' \
  | grep -v '^tests/fuzz/corpus/')
# "placeholder" is also the name of an attribute of a form's input
# shellcheck disable=SC2086
if grep -nIwE 'TODO|FIXME|XXX|HACK|TBD|[Nn]ot (yet )?implemented|[Cc]oming soon|[Ll]orem' $ours ||
  grep -nIwiE 'stub|dummy|placeholder' $ours | grep -vE '(\.placeholder =|placeholder:)'; then
  echo "words of unfinished work"
  bad=1
fi
# shellcheck disable=SC2086
if grep -nIE '/(home|root|work|Users)/[A-Za-z0-9_.]' $ours; then
  echo "paths of one machine"
  bad=1
fi

# a C file over 600 lines has its reason in docs/develop/long-files.md
for file in $(files '*.c' '*.h'); do
  lines=$(wc -l <"$file")
  if [ "$lines" -gt 600 ] && ! grep -qF "\`$file\`" docs/develop/long-files.md 2>/dev/null; then
    echo "$file: $lines lines and no reason in docs/develop/long-files.md"
    bad=1
  fi
done

[ "$bad" -ne 0 ] || echo "house: in order"
exit $bad
