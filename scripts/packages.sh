#!/bin/sh
# packages.sh demo|test: install from Debian what is missing, by name; sudo only if not root.
set -eu
build="gcc cmake ninja-build pkg-config libgsl-dev libyaml-dev libudunits2-dev libjansson-dev
  libnlopt-dev libmicrohttpd-dev libsqlite3-dev libzip-dev librandom123-dev
  libsndfile1-dev libqrencode-dev nettle-dev"
test="libcmocka-dev clang-14 clang-format-14 ngspice calculix-ccx python3 python3-numpy python3-scipy
  chromium nodejs npm man-db zbar-tools"
case "${1:-demo}" in
  demo) wanted=$build ;;
  test) wanted="$build $test" ;;
  prove) wanted="$build $test libclang-rt-14-dev" ;;
  *) echo "packages.sh demo|test|prove" >&2; exit 2 ;;
esac
# a tool that is there from elsewhere need not come from Debian
here() {
  case "$1" in
    gcc) command -v cc ;;
    cmake | npm | ngspice | chromium | python3) command -v "$1" ;;
    nodejs) command -v node ;;
    ninja-build) command -v ninja ;;
    clang-format-14) command -v clang-format-14 || { clang-format --version 2>/dev/null | grep 'version 14\.'; } ;;
    *) dpkg-query -W -f='${Status}' "$1" 2>/dev/null | grep 'ok installed' ;;
  esac >/dev/null 2>&1
}
missing=
for package in $wanted; do
  here "$package" || missing="$missing $package"
done
[ -n "$missing" ] || exit 0
echo "installing from Debian:$missing"
root=
[ "$(id -u)" -eq 0 ] || root=sudo
export DEBIAN_FRONTEND=noninteractive
$root apt-get update -q
# shellcheck disable=SC2086
$root apt-get install -y -q --no-install-recommends $missing
