#!/bin/sh
# rooms.sh [OBJECTS]: fails on an include that looks up, on a pass's file without its line in list.h, on
# a top level that holds what it should not and, where the folder of the object files is given, on files
# of one room that call each other in a circle.
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
# A line for each call from file to file within a room; tsort finds the circles.
calls() {
    for object in "$1"/*.o; do
        nm -P "$object" | sed -n "s|^\(muta_[a-z_0-9]*\) \([TU]\).*|\2 \1 $(basename "$object" .c.o)|p"
    done | awk '$1 == "T" { where[$2] = $3 } $1 == "U" { calls[++n] = $2 " " $3 }
        END { for (i = 1; i <= n; i++) { split(calls[i], call); if (call[1] in where) print call[2], where[call[1]] } }'
}
for room in $rooms; do
    [ $# -gt 0 ] && [ -d "$1/$room" ] || continue
    circle=$(calls "$1/$room" | tsort 2>&1 >/dev/null) || { echo "in $room there are circles: $circle"; bad=1; }
done
if [ -d .git ] && command -v git >/dev/null; then
    extra=$(git ls-files | cut -d/ -f1 | sort -u |
        grep -vxE 'README\.md|DEVELOPERS\.md|LICENSE|CMakeLists\.txt|src|include|tests|fixtures|schemas|shared|\..*' || true)
    [ -z "$extra" ] || { echo "top level holds $extra"; bad=1; }
fi
exit $bad
