#!/usr/bin/env bash
# install.sh BUILD: what is installed can be used from outside: the command, the parts, the library
# by plain flags and by pkg-config, the headers one by one, all at once, and from C++.
set -euo pipefail
cd "$(dirname "$0")/../.."
build=$1
tmp=$(mktemp -d)
trap 'rm -rf "$tmp"' EXIT
cmake --install "$build" --prefix "$tmp/usr" >/dev/null
lib=$(dirname "$(find "$tmp/usr" -name libtripwright.a)")
parts=$tmp/usr/share/tripwright/parts

cat >"$tmp/outside.c" <<'C'
#include <stdio.h>
#include <tripwright/tripwright.h>

int main(int argc, char **argv)
{
  tw_units *units = NULL;
  tw_library *library = NULL;
  tw_design *design = NULL;
  tw_messages *messages = tw_messages_new();
  tw_assessment *a = tw_alloc(1, sizeof *a);
  tw_assess_options options = tw_assess_defaults();
  options.map = options.timed = false;
  if (argc < 3 || tw_units_new(&units, NULL) || tw_library_load(argv[2], units, messages, &library)) {
    return 1;
  }
  const tw_read_options reading = {.units = units, .library = library, .need = TW_NEED_ALL};
  if (tw_design_read(argv[1], &reading, messages, &design) || tw_assess(design, &options, a, NULL)) {
    return 2;
  }
  printf("%.3f N\n", a->measure[TW_M_trip_force_side].value);
  tw_free(a);
  tw_design_free(design);
  tw_library_free(library);
  tw_units_free(units);
  tw_messages_free(messages);
  return 0;
}
C
wanted=$(TRIPWRIGHT_PARTS=parts "$build/bin/tripwright" check --quick --json examples/pillar-indexer.yaml |
  python3 -c 'import json,sys; print("%.3f N" % json.load(sys.stdin)["measures"]["trip_force_side"]["value"])') || true
used=(-lgsl -lgslcblas -lyaml -ljansson -lnlopt -lmicrohttpd -lsqlite3 -lzip -lz -ludunits2 -lnettle -lm -pthread)
run() { # run WHAT FLAGS...: build the program from outside, and the same figure as the command's
  local what=$1
  shift
  cc -std=c17 -Wall -Wextra -Wpedantic -Werror "$tmp/outside.c" "$@" -o "$tmp/outside"
  local got
  got=$("$tmp/outside" examples/pillar-indexer.yaml "$parts")
  [ "$got" = "$wanted" ] || { echo "$what: $got instead of $wanted"; exit 1; }
  echo "$what: $got"
}
run "plain flags" -I"$tmp/usr/include" -L"$lib" -ltripwright "${used[@]}"
flags=$(PKG_CONFIG_PATH=$lib/pkgconfig pkg-config --cflags --libs tripwright)
# shellcheck disable=SC2086
run "pkg-config" $flags

for header in "$tmp"/usr/include/tripwright/*.h; do # each stands alone
  name=tripwright/$(basename "$header")
  # a header of macros alone is a file too, so something is declared behind it
  printf '#include <%s>\nextern int behind;\n' "$name" | cc -std=c17 -D_POSIX_C_SOURCE=200809L -Wall -Wextra -Wpedantic -Werror \
    -I"$tmp/usr/include" -fsyntax-only -x c -
  grep -q "\"$name\"" include/tripwright/tripwright.h || [ "$name" = tripwright/tripwright.h ] ||
    { echo "include/tripwright/tripwright.h lacks $name"; exit 1; }
done
echo "headers: each alone and all in one"
if command -v c++ >/dev/null; then
  printf '#include <tripwright/tripwright.h>\nint main() { tw_free(nullptr); return TW_OK; }\n' >"$tmp/outside.cc"
  c++ -std=c++17 -Wall -Wextra -Werror -I"$tmp/usr/include" "$tmp/outside.cc" -L"$lib" -ltripwright \
    "${used[@]}" -o "$tmp/outside"
  "$tmp/outside"
  echo "C++: links and runs"
fi
code=0
"$tmp/usr/bin/tripwright" check --quick --parts "$parts" examples/pillar-indexer.yaml >"$tmp/out" || code=$?
[ "$code" -le 1 ] && grep -q trip_force_side "$tmp/out"
echo "installed command: runs with the installed parts"
complete=$tmp/usr/share/bash-completion/completions/tripwright
[ "$(bash -c "source '$complete'; COMP_WORDS=(tripwright check --set stylus.rea); COMP_CWORD=3; _tripwright; echo \"\${COMPREPLY[*]}\"" 2>/dev/null)" = "stylus.reach=" ]
echo "installed completion: completes a path"
