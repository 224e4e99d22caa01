#!/bin/sh
# consumer.sh BUILD SCORE: installs what was built, then compiles and runs a guest's program against it:
# as C and as C++, found by pkg-config and by find_package. All four write the same score.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cmake --install "$1" --prefix "$work/usr" >/dev/null
[ -f "$work/usr/share/mutanza/scales.txt" ] || { echo "the tables are not installed"; exit 1; }
export PKG_CONFIG_PATH="$work/usr/lib/pkgconfig:$(find "$work/usr" -name pkgconfig -type d | head -n 1)"
cp "$here/consumer.c" "$work/consumer.cc"
strict='-Wall -Wextra -Wpedantic -Werror'
# shellcheck disable=SC2046,SC2086
{
    ${CC:-cc} -std=c17 $strict -o "$work/one" "$here/consumer.c" $(pkg-config --cflags --libs mutanza)
    ${CXX:-c++} -std=c++17 $strict -o "$work/two" "$work/consumer.cc" $(pkg-config --cflags --libs mutanza)
}
cmake -S "$here" -B "$work/build" -DCMAKE_PREFIX_PATH="$work/usr" >"$work/log" 2>&1 || { cat "$work/log"; exit 1; }
cmake --build "$work/build" >"$work/log" 2>&1 || { cat "$work/log"; exit 1; }
for program in "$work/one" "$work/two" "$work/build/consumer_c" "$work/build/consumer_cc"; do
    "$program" "$2" "$work/out.musicxml" >"$work/said"
    cat "$work/said"
    grep -q 'major\|minor' "$work/said"
    [ -f "$work/first" ] || cp "$work/out.musicxml" "$work/first"
    cmp "$work/first" "$work/out.musicxml"
    rm "$work/out.musicxml"
done
