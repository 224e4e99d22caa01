#!/bin/sh
# fuzz.sh TOP SECONDS [SEED]: libFuzzer over (score, passes, place), from small scores of the suite, the
# faults and the fixtures, where they are there. What it finds stays in build/fuzz/found.
set -eu
top=$1
seconds=$2
seed=${3:-0}
at=$top/build/fuzz
mkdir -p "$at/seeds" "$at/found" "$at/grown"
sh "$top/tests/fuzz/dictionary.sh" "$top" >"$at/words"
nth=0
for score in "$top"/../shared/corpus/suite/*.xml "$top"/../shared/faults/*.xml "$top"/fixtures/*.musicxml; do
    [ -f "$score" ] && [ "$(wc -c <"$score")" -lt 20000 ] || continue
    nth=$((nth + 1))
    { printf '%b' "$(printf '\\%03o\\%03o\\%03o' $((nth % 97)) $((nth * 7 % 89)) $((nth % 4)))"; cat "$score"; } >"$at/seeds/$nth"
done
cd "$at/found"
"$at/fuzz_vary" -max_total_time="$seconds" -seed="$seed" -timeout=25 -rss_limit_mb=4096 -max_len=20000 -print_final_stats=1 \
    -dict="$at/words" "$at/grown" "$at/seeds" >"$at/fuzz.log" 2>&1 && status=0 || status=$?
grep -E 'stat::number_of_executed_units|SUMMARY|ERROR|crash-|timeout-|oom-' "$at/fuzz.log" || true
exit "$status"
