#!/bin/sh
# rooms.sh: fails on an include that looks up, on a pass's file without its line in list.h, and on a
# top level that holds what it should not.
set -eu
top=${MUTA_TOP:-$(cd "$(dirname "$0")/.." && pwd)}
cd "$top"
rooms='base theory score notate musicxml study check passes cycle report'
bad=0
below=
for room in $rooms; do
    below="$below $room"
    [ -d "src/$room" ] || continue
    for file in src/"$room"/*.[ch]; do
        for used in $(sed -n 's/^#include "\([a-z]*\)\/.*/\1/p' "$file" | sort -u); do
            case " $below mutanza " in
            *" $used "*) ;;
            *) echo "$file looks up into $used"; bad=1 ;;
            esac
            [ "$room" = study ] && [ "$used" = passes ] && { echo "$file: study knows no passes"; bad=1; }
        done
    done
done
# The score and what lies below it know no element names, and passes know no files.
grep -nE '\bN_[A-Z]' src/base/*.[ch] src/theory/*.[ch] src/score/*.[ch] src/notate/*.[ch] src/passes/*.[ch] && bad=1
grep -nE '#include "(musicxml|notate)/' src/passes/*.[ch] && bad=1
grep -nE '#include "[a-z]+/' src/cli/*.[ch] | grep -v '"mutanza/' && { echo "the command line looks past include/"; bad=1; }
for file in $(grep -lE '^const muta_pass muta_pass_' src/passes/*.c); do
    name=$(basename "$file" .c)
    grep -q "^PASS($name)\$" src/passes/list.h || { echo "$file has no line in list.h"; bad=1; }
done
if [ -d .git ] && command -v git >/dev/null; then
    extra=$(git ls-files | cut -d/ -f1 | sort -u |
        grep -vxE 'README\.md|DEVELOPERS\.md|LICENSE|CMakeLists\.txt|src|include|tests|fixtures|schemas|shared|\..*' || true)
    [ -z "$extra" ] || { echo "top level holds $extra"; bad=1; }
fi
exit $bad
