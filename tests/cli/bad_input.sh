#!/bin/sh
# bad_input.sh PROGRAM: each bad input gets one clear line, the right status and no output.
set -u
. "$(dirname "$0")/lib.sh"
in=$work/in.musicxml

# try STATUS PATTERN [passes]: what is on standard input, as a score.
try() {
    cat >"$in"
    status=$1
    pattern=$2
    shift 2
    expect "$status" "$pattern" vary "$in" "$@" -o "$work/out"
}
head='<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>A</part-name></score-part></part-list><part id="P1">'
tail='</part></score-partwise>'
note='<note><pitch><step>C</step><octave>4</octave></pitch><duration>1</duration><type>quarter</type></note>'
bar() {
    printf '%s<measure number="%s">%s</measure>%s' "$head" "$1" "$2" "$tail"
}

# Not XML, not MusicXML.
try 65 'empty' </dev/null
printf 'This is a letter, no score.' | try 65 'well-formed'
printf '<html><body/></html>' | try 65 'no MusicXML'
printf '<opus version="4.0"><title>x</title></opus>' | try 65 'opus'
printf '<score-partwise></score-partwise>' | try 65 'no bars'
printf '%s' "$head<measure number=\"1\"><note></measure>$tail" | try 65 'line 1'
printf '\377\376\0\0' | try 65 'well-formed\|empty\|encoding'
printf '<?xml version="1.0" encoding="EBCDIC-X"?><a/>' | try 65 'EBCDIC-X is not known'
printf '<score-partwise>caf\351</score-partwise>' | try 65 'well-formed'
expect 66 'cannot be opened' vary "$work/none.musicxml" transpose -o "$work/out"

# Entities: nothing is expanded, read or fetched.
secret=$work/secret
echo "the secret" >"$secret"
printf '<!DOCTYPE score-partwise [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;"><!ENTITY c "&b;&b;&b;&b;&b;&b;">]><score-partwise>&c;</score-partwise>' | try 65 'DOCTYPE'
printf '<!DOCTYPE score-partwise [<!ENTITY x SYSTEM "file://%s">]><score-partwise>&x;</score-partwise>' "$secret" | try 65 'DOCTYPE'
grep -q 'the secret' "$work/err" && wrong "a file's text is in the message"
printf '<!DOCTYPE score-partwise SYSTEM "file://%s">%s' "$secret" "$(bar 1 "$note&eacute;")" | try 65 'eacute'
bar 1 "$note&eacute;" | try 65 'eacute\|well-formed'
{ printf '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" "http://127.0.0.1:9/partwise.dtd">'; bar 1 "$note"; } >"$in"
if command -v strace >/dev/null 2>&1 && strace -o /dev/null true 2>/dev/null; then
    ASAN_OPTIONS=detect_leaks=0 strace -f -e trace=connect,socket -o "$work/trace" "$mutanza" vary "$in" transpose -o "$work/out" 2>/dev/null || wrong "a network DOCTYPE is refused"
    if grep -qE 'connect\(|socket\(' "$work/trace"; then wrong "something was fetched"; else right; fi
else
    echo "skipped: no strace to see that nothing is fetched"
fi
expect 0 'tones\? changed' vary "$in" transpose -o "$work/out"

# Sizes that are only claimed, and depth.
{ printf '<score-partwise>'; i=0; while [ $i -lt 2000 ]; do printf '<a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a><a>'; i=$((i + 1)); done; } | try 65 'too deep'
bar 1 "<attributes><measure-style><multiple-rest>10000000</multiple-rest></measure-style></attributes>$note" | try 0 'tones\? changed' transpose
bar 10000000 "$note" | try 0 '10000000' transpose
bar 1 "<note><rest/><duration>9999999999</duration></note>" | try 65 '1,000 quarters' transpose
bar 1 "<note><rest/><duration>99999999999999999999999999</duration></note>$note" | try 65 'a duration' transpose

# Numbers that lie: without a pass they come back, a pass that would have to guess is refused.
for lie in '<attributes><divisions>0</divisions></attributes>' '<attributes><divisions>many</divisions></attributes>'; do
    bar 1 "$lie$note" | try 65 'divisions' transpose
    bar 1 "$lie$note" | try 0 'warning'
    grep -q "$lie" "$work/out" || wrong "the lie did not come back: $lie"
done
bar 1 "$note<note><rest/><duration>-3</duration></note>" | try 65 'negative' transpose
bar 1 "$note<note><rest/><duration>long</duration></note>" | try 65 'no number' transpose
bar 1 "$note<note><pitch><step>D</step><octave>4</octave></pitch><duration>0</duration><type>eighth</type></note>" | try 0 'grace' transpose
bar 1 "$note<backup><duration>9</duration></backup>$note" | try 0 'backup' transpose
bar 1 "<note><pitch><octave>4</octave><step>C</step></pitch><voice>1</voice><duration>1</duration><type>quarter</type></note>" | try 0 'order' transpose
bar 1 "<note><pitch><step>C</step><octave>9</octave></pitch><duration>1</duration><type>quarter</type></note>" | try 65 'octaves 0 to 9' transpose by=P8
bar 1 "<note><rest/><duration>1</duration></note>" | try 0 'nothing here that it could change' transpose

# Cut off at a thousand places before the end of the root.
size=$(grep -b '</score-partwise>' "$tune" | cut -d: -f1)
i=1
before=$(wc -l <"$work/failed")
rm -f "$work/out"
while [ $i -le 1000 ]; do
    head -c $((size * i / 1001)) "$tune" >"$in"
    "$mutanza" vary "$in" transpose -o "$work/out" >"$work/stdout" 2>"$work/err"
    got=$?
    if [ $got != 65 ] || [ -e "$work/out" ] || [ "$(wc -l <"$work/err")" != 1 ]; then
        wrong "cut at $((size * i / 1001)): status $got"
        rm -f "$work/out"
    fi
    i=$((i + 1))
done
[ "$(wc -l <"$work/failed")" != "$before" ] || right

# Containers.
pack() {
    rm -rf "$work/pack" "$in"
    mkdir -p "$work/pack/META-INF"
    printf '<?xml version="1.0"?><container><rootfiles><rootfile full-path="%s"/></rootfiles></container>' "$1" >"$work/pack/META-INF/container.xml"
}
zipped() {
    rm -f "$work/in.mxl"
    (cd "$work/pack" && zip -q -r "$work/in.mxl" .)
}
pack score.xml
cp "$tune" "$work/pack/score.xml"
zipped
expect 0 'tones\? changed' vary "$work/in.mxl" transpose -o "$work/out"
pack ../../etc/passwd
zipped
expect 65 'outside the archive' vary "$work/in.mxl" transpose -o "$work/out"
pack /etc/passwd
zipped
expect 65 'outside the archive' vary "$work/in.mxl" transpose -o "$work/out"
pack nowhere.xml
cp "$tune" "$work/pack/score.xml"
zipped
expect 65 'not in the archive' vary "$work/in.mxl" transpose -o "$work/out"
printf '<container/>' >"$work/pack/META-INF/container.xml"
zipped
expect 65 'names no score' vary "$work/in.mxl" transpose -o "$work/out"
printf '<?xml version="1.0" encoding="UTF-8"><container><rootfiles><rootfile full-path="score.xml"/></rootfiles></container>' >"$work/pack/META-INF/container.xml"
zipped
expect 0 'tones\? changed' vary "$work/in.mxl" transpose -o "$work/out"
rm -r "$work/pack/META-INF"
zipped
expect 0 'no META-INF' vary "$work/in.mxl" transpose -o "$work/out"
pack score.xml
{ printf '<score-partwise>'; head -c 300000000 /dev/zero | tr '\0' ' '; } >"$work/pack/score.xml"
zipped
expect 65 'far more' vary "$work/in.mxl" transpose -o "$work/out"
pack score.xml
cp "$tune" "$work/pack/score.xml"
zipped
head -c 900 "$work/in.mxl" >"$work/cut.mxl"
expect 65 'damaged' vary "$work/cut.mxl" transpose -o "$work/out"
finish
