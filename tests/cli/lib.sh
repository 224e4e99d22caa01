# lib.sh: what the command line's tests share. $1 of each script is the program.
mutanza=$1
tune=$MUTA_TOP/fixtures/lanterns.musicxml
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
# Counted in files, since much of it runs behind a pipe, in a shell of its own.
: >"$work/passed"
: >"$work/failed"

right() {
    echo >>"$work/passed"
}

wrong() {
    echo >>"$work/failed"
    echo "FAILED: $*"
    [ ! -s "$work/err" ] || sed 's/^/    /' "$work/err" | cut -c1-300
}

# expect STATUS PATTERN words...: runs the program with these words and no terminal; its status is
# STATUS, and when it fails it says one line that holds PATTERN and writes no output.
expect() {
    status=$1
    pattern=$2
    shift 2
    rm -f "$work/out"
    got=0
    "$mutanza" "$@" >"$work/stdout" 2>"$work/err" </dev/null || got=$?
    if [ "$got" != "$status" ]; then
        wrong "status $got, not $status: $*"
    elif ! grep -qe "$pattern" "$work/err" "$work/stdout"; then
        wrong "does not say '$pattern': $*"
    elif [ "$status" != 0 ] && [ "$(grep -vc 'warning:' "$work/err")" != 1 ]; then
        wrong "says more or less than one line: $*"
    elif [ "$status" != 0 ] && { [ -e "$work/out" ] || [ -s "$work/stdout" ]; }; then
        wrong "left an output: $*"
    elif ls "$work"/*.part >/dev/null 2>&1; then
        wrong "left a half-written file: $*"
    else
        right
    fi
}

finish() {
    passed=$(wc -l <"$work/passed")
    failed=$(wc -l <"$work/failed")
    echo "$passed passed, $failed failed"
    [ "$failed" = 0 ] && [ "$passed" -gt 0 ]
}
