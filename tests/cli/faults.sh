#!/bin/sh
# faults.sh PROGRAM: what once broke the program, as miniatures of our own that have the cause.
set -u
. "$(dirname "$0")/lib.sh"
in=$work/in.musicxml
out=$work/out

note='<note><pitch><step>C</step><octave>4</octave></pitch><duration>4</duration><type>whole</type></note>'
first='<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>'
# score PARTS: a score of these parts, named A, B and so on, with ids P1, P2.
score() {
    printf '<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>A</part-name></score-part><score-part id="P2"><part-name>B</part-name></score-part></part-list>%s</score-partwise>' "$1" >"$in"
}
part() {
    printf '<part id="%s">%s</part>' "$1" "$2"
}
one=$(part P1 "<measure number=\"1\">$first$note</measure><measure number=\"2\">$note</measure>")

# A part without bars, and one that ends sooner.
for pass in augment diminish sequence fragment ground pace retrograde remetre transpose realise; do
    score "$one<part id=\"P2\"></part>"
    expect 0 'changed\|stays' vary "$in" "$pass" -o "$out"
    score "$one$(part P2 "<measure number=\"1\">$first$note</measure>")"
    expect 0 'changed\|stays' vary "$in" "$pass" -o "$out"
done

# Children of a note that MusicXML does not have keep their order.
many=$(i=0; while [ $i -lt 60 ]; do printf '<x%s/>' $i; i=$((i + 1)); done)
score "$(part P1 "<measure number=\"1\">$first$(printf %s "$note" | sed "s|</note>|$many</note>|")</measure>")$(part P2 "<measure number=\"1\">$first$note</measure>")"
expect 0 'changed' vary "$in" augment -o "$out"
if [ "$(tr -d '\n ' <"$out" | grep -o '<x[0-9]*/>' | head -n 60 | tr -d '\n')" = "$many" ]; then right; else wrong "unknown children change order"; fi

# More than a megabyte before or behind the root.
for blanks in before behind; do
    score "$one$(part P2 "<measure number=\"1\">$first$note</measure><measure number=\"2\">$note</measure>")"
    { [ $blanks = behind ] && cat "$in"; head -c 1200000 /dev/zero | tr '\0' ' '; [ $blanks = before ] && cat "$in"; } >"$work/blank.musicxml"
    expect 65 'outside\|well-formed' vary "$work/blank.musicxml" transpose -o "$out"
done

# Parts without an id, or of one id.
printf '<score-partwise version="4.0"><part-list><score-part id=""><part-name>A</part-name></score-part></part-list><part id=""><measure number="1">%s%s</measure></part></score-partwise>' "$first" "$note" >"$in"
expect 65 'id of its own' vary "$in" transpose --beside -o "$out"
printf '<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>A</part-name></score-part></part-list>%s%s</score-partwise>' "$(part P1 "<measure number=\"1\">$first$note</measure>")" "$(part P1 "<measure number=\"1\">$first$(printf %s "$note" | sed s/C/G/)</measure>")" >"$in"
expect 0 'changed' vary "$in" transpose where=2 --beside -o "$out"
if [ "$(grep -o '<step>.</step>' "$out" | tr -d '\n')" = '<step>C</step><step>G</step><step>C</step>' ]; then right; else wrong "not the second of two parts of one id is copied"; fi

# Numbers have a bound.
expect 64 'from 1/64 to 64' vary "$tune" pace by=10000000 -o "$out"
expect 64 'a 1024th' vary "$tune" realise as=tremolo unit=1/10000000 -o "$out"
expect 64 'a 1024th' vary "$tune" realise as=arpeggio unit=1/1000000000 -o "$out"

# Bars go with the music, so that what comes behind in a chain finds them.
for line in 'augment then realise' 'augment then pedal' 'pace by=3 then pedal strike=beat' 'augment then realise as=waltz into=new' 'remetre to=12/8 how=stretch then realise'; do
    # shellcheck disable=SC2086 # words
    expect 0 'changed' vary "$tune" $line -o "$out"
done

# Words under members of a chord stay; what goes is told.
lyric='<lyric number="2"><text>la</text></lyric>'
score "$(part P1 "<measure number=\"1\">$first<note><pitch><step>C</step><octave>4</octave></pitch><duration>4</duration><type>whole</type></note><note><chord/><pitch><step>E</step><octave>4</octave></pitch><duration>4</duration><type>whole</type>$lyric</note></measure>")$(part P2 "<measure number=\"1\">$first$note</measure>")"
for pass in augment retrograde remetre; do
    expect 0 'changed' vary "$in" "$pass" -o "$out"
    if grep -q '<lyric' "$out"; then right; else wrong "$pass loses the word under a chord"; fi
done

# What becomes of an output that is there.
cp "$tune" "$work/self.musicxml"
got=0
"$mutanza" vary - transpose -o "$work/self.musicxml" <"$work/self.musicxml" >/dev/null 2>"$work/err" || got=$?
if [ $got = 73 ] && cmp -s "$tune" "$work/self.musicxml"; then right; else wrong "standard input is written over"; fi
: >"$work/mode.musicxml"
chmod 640 "$work/mode.musicxml"
ln -s mode.musicxml "$work/link.musicxml"
expect 0 'changed' vary "$tune" transpose -o "$work/link.musicxml"
if [ -h "$work/link.musicxml" ] && [ "$(stat -c %a "$work/mode.musicxml")" = 640 ] && [ -s "$work/mode.musicxml" ]; then right; else wrong "a link or a mode is lost"; fi
chmod 444 "$work/mode.musicxml"
expect 73 'denied' vary "$tune" transpose -o "$work/mode.musicxml"

# Options are those of the verb, in every form of getopt_long.
expect 64 'does not take --where' vary "$tune" transpose --where Clarinet -o "$out"
expect 64 'does not take --takes' study "$tune" --takes 2
expect 64 'no option --nope' vary "$tune" transpose --nope
expect 0 'changed' vary "$tune" embellish --takes=2 "-o$out"
expect 0 'mutanza vary' help vary
expect 0 'mutanza study' study -h

# Sequences that the range ends go the other way, or say that they cannot.
top=$(printf %s "$note" | sed 's/<octave>4/<octave>9/')
score "$(part P1 "<measure number=\"1\">$first$top</measure>")$(part P2 "<measure number=\"1\">$first$note</measure>")"
expect 0 'the other way' vary "$in" sequence by=P8 where=1 -o "$out"
# A third of a minor tenth from Bb is a tenth in sharps, not one in double flats.
expect 0 'changed' vary "$tune" sequence by=m3 kind=real times=4 where=Voice:1 -o "$out"
if grep -q '<alter>-2</alter>' "$out"; then wrong "a statement is spelled in double flats"; else right; fi
expect 0 'bars 1-2' vary "$tune" fragment bars=1-2 -o "$out"

# Parts of one name are told apart, and a new part is called like no other.
printf '<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Horn</part-name></score-part><score-part id="P2"><part-name>Horn</part-name></score-part></part-list>%s%s</score-partwise>' "$one" "$(part P2 "<measure number=\"1\">$first$note</measure><measure number=\"2\">$note</measure>")" >"$in"
expect 65 'by its number: 1, 2' vary "$in" transpose where=Horn -o "$out"
expect 0 'changed' vary "$tune" realise into=new -o "$out"
if [ "$(grep -c '<part-name>Piano</part-name>' "$out")" = 1 ] && grep -q '<part-name>Piano 2</part-name>' "$out"; then right; else wrong "a new part is called like one that stands"; fi
# Tempo marks keep their figures, and the line says so; or are scaled, and said again behind.
faster='<direction><direction-type><metronome><beat-unit>quarter</beat-unit><per-minute>66.5</per-minute></metronome></direction-type><sound tempo="66.5"/></direction>'
score "$(part P1 "<measure number=\"1\">$first$faster$note</measure><measure number=\"2\">$note</measure><measure number=\"3\">$note</measure>")"
expect 0 'tempo mark keeps its figure' vary "$in" augment -o "$out"
expect 0 'changed' vary "$in" augment where='*:2' tempo=scale -o "$out"
tempos=$(grep -o 'sound tempo="[^"]*"\|<per-minute>[^<]*' "$out" | tr '\n' ' ')
if [ "$tempos" = '<per-minute>66.5 sound tempo="66.5" <per-minute>133 sound tempo="133" <per-minute>66.5 sound tempo="66.5" ' ]; then right; else wrong "tempo marks are $tempos"; fi
expect 0 'changed' vary "$in" diminish by=3/2 tempo=scale -o "$out"
if grep -q '<per-minute>44.33<' "$out"; then right; else wrong "a tempo is not scaled to 44.33"; fi
expect 0 'tempo mark keeps its figure' vary "$in" augment then augment tempo=scale -o "$out"
if grep -q '<per-minute>133<' "$out"; then right; else wrong "a tempo that one pass kept is scaled by the other's ratio too"; fi

# A repeat in the middle of what would be one bar cuts it, and the line says so.
repeat='<barline location="right"><repeat direction="backward"/></barline>'
score "$(part P1 "<measure number=\"1\">$first$faster$note</measure><measure number=\"2\">$note</measure><measure number=\"3\">$note$repeat</measure><measure number=\"4\">$note</measure><measure number=\"5\">$note</measure>")"
expect 0 'falls inside a bar' vary "$in" diminish -o "$out"
expect 0 'tempo mark keeps its figure' vary "$in" augment -o "$out"
expect 0 'changed' vary "$in" augment tempo=scale -o "$out"
tempos=$(grep -o '<per-minute>[^<]*' "$out" | tr '\n' ' ')
if [ "$tempos" = '<per-minute>133 ' ]; then right; else wrong "beside a repeat tempo marks are $tempos"; fi

# Behind a repeat a pick-up stays one: as long again, and the bars behind it are full.
up='<note><pitch><step>G</step><octave>4</octave></pitch><duration>1</duration><type>quarter</type></note>'
three=$(printf %s "$note" | sed 's/>4<\/duration/>3<\/duration/; s/<type>whole<\/type>/<type>half<\/type><dot\/>/')
score "$(part P1 "<measure number=\"0\" implicit=\"yes\">$first$up</measure><measure number=\"1\">$note</measure><measure number=\"2\">$three$repeat</measure><measure number=\"X1\" implicit=\"yes\">$up</measure><measure number=\"3\">$note</measure><measure number=\"4\">$three</measure>")"
expect 0 'changed' vary "$in" augment -o "$out"
lengths=$({ tr -d '\n' <"$out"; echo; } | sed 's/<measure /\n<measure /g' | sed -n 's/^<measure.*/&/p' | while read -r bar; do printf '%s' "$bar" | grep -o '<duration>[0-9]*' | cut -d'>' -f2 | tr '\n' '+'; printf ' '; done)
if [ "$lengths" = '2+ 4+ 4+ 4+ 2+ 2+ 4+ 4+ 4+ 2+ ' ]; then right; else wrong "behind a repeat bars are $lengths"; fi
# A signature inside goes with its bar, and nobody is told that it stays.
sharp='<attributes><key><fifths>3</fifths></key></attributes>'
score "$(part P1 "<measure number=\"1\">$first$note</measure><measure number=\"2\">$note</measure><measure number=\"3\">$sharp$note</measure><measure number=\"4\">$note</measure>")"
expect 0 'bars added$' vary "$in" augment -o "$out"
at=$({ tr -d '\n' <"$out"; echo; } | sed 's/<measure /\n<measure /g' | grep '^<measure' | grep -n '<fifths>3' | cut -d: -f1)
if [ "$at" = 5 ]; then right; else wrong "the signature of bar 3 stands in bar $at"; fi
finish
