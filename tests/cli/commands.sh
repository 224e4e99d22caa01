#!/bin/sh
# commands.sh PROGRAM: what a person types, and what they get.
set -u
. "$(dirname "$0")/lib.sh"

# Words that are off get the nearest right one.
expect 64 'did you mean "transpose"' vary "$tune" transpoze -o "$work/out"
expect 64 'did you mean "by"' vary "$tune" transpose bye=M2 -o "$work/out"
expect 64 'not an interval' vary "$tune" transpose by=M5 -o "$work/out"
expect 64 'not a key' vary "$tune" transpose to=H -o "$work/out"
expect 64 'keys=stay' vary "$tune" transpose keys=stai -o "$work/out"
expect 64 'not both' vary "$tune" transpose by=M2 to=G -o "$work/out"
expect 64 'given twice' vary "$tune" transpose by=M2 by=M3 -o "$work/out"
expect 64 'first pass' vary "$tune" transpose then transpose where=Voice -o "$work/out"
expect 64 'KEY=VALUE' vary "$tune" transpose M2 -o "$work/out"
expect 64 'pass is missing' vary "$tune" transpose then -o "$work/out"
expect 64 'no option' vary "$tune" transpose --loud -o "$work/out"
expect 64 'missing behind' vary "$tune" transpose -o
expect 64 'whole number' vary "$tune" transpose --seed x -o "$work/out"
expect 64 'no verb' varry "$tune"
expect 64 'did you mean' passes transpos
expect 65 'Clarinet in Bb' vary "$tune" transpose where=Flute:1 -o "$work/out"
expect 64 'write an address' vary "$tune" transpose where=Voice:2.y -o "$work/out"
expect 65 'whole bars' vary "$tune" transpose where=Voice:2.2-3 keys=move -o "$work/out"

# Study says what the idea holds, and only of one score.
"$mutanza" study "$tune" >"$work/page" 2>/dev/null || wrong "study fails"
grep -q 'Key        G major' "$work/page" || wrong "study does not hear the key"
grep -q 'authentic cadence, which answers' "$work/page" || wrong "study hears no answer"
expect 64 'one word too many' study "$tune" "$tune"
expect 65 'Clarinet in Bb' study "$tune" --where Flute
"$mutanza" study "$tune" --where '*:p1' >"$work/page" 2>/dev/null || wrong "study --where hears no phrases"
grep -q '5 bars' "$work/page" || wrong "study --where does not keep to a phrase"
"$mutanza" study "$tune" --where tune >"$work/page" 2>/dev/null || wrong "study --where hears no tune"
"$mutanza" study "$tune" --json --tune Clarinet -o "$work/study.json" || wrong "study --json fails"
grep -q '"2/1/1:#1-#9"' "$work/study.json" || wrong "--tune is not the tune"
# A person's own reading of the chords goes before what is written and heard.
printf '# mine\n1.1 Em\n2.1 C/E\n3.1 -\n4.1 D7/F#\n' >"$work/mine.txt"
"$mutanza" study "$tune" --chords "$work/mine.txt" --json -o "$work/mine.json" || wrong "study --chords fails"
tr -d ' \n' <"$work/mine.json" | grep -q '"root":"E","kind":"minor"' || wrong "study --chords does not take a chord"
printf '1.1 Em\n2.9 C\n' >"$work/bad.txt"
expect 65 'line 2 of the chords' study "$tune" --chords "$work/bad.txt"
printf '1.1 Hx\n' >"$work/bad.txt"
expect 65 'no chord symbol' study "$tune" --chords "$work/bad.txt"
printf '2.1 G\n1.1 C\n' >"$work/bad.txt"
expect 65 'behind the line before' study "$tune" --chords "$work/bad.txt"
expect 66 'cannot be read' study "$tune" --chords "$work/none.txt"
sed '/<harmony/,/<\/harmony>/d' "$tune" >"$work/plain.musicxml"
for to in '' --append --only; do
    "$mutanza" vary "$work/plain.musicxml" chords $to --chords "$work/mine.txt" -o "$work/mine.musicxml" 2>/dev/null || wrong "vary --chords $to fails"
    [ "$(grep -c '<kind[^>]*>minor<' "$work/mine.musicxml")" -eq 1 ] || wrong "vary --chords $to: the reading is not there"
done
cp "$tune" "$work/own.musicxml"
expect 73 'output is the input' study "$work/own.musicxml" -o "$work/own.musicxml"

# The input is never written over.
cp "$tune" "$work/mine.musicxml"
expect 73 'output is the input' vary "$work/mine.musicxml" transpose -o "$work/mine.musicxml"
ln -s mine.musicxml "$work/link.musicxml"
expect 73 'output is the input' vary "$work/mine.musicxml" transpose -o "$work/link.musicxml"
cmp -s "$tune" "$work/mine.musicxml" || wrong "the input changed"
expect 73 'cannot be created' vary "$tune" transpose -o "$work/no/such/folder"
expect 66 'schema' vary "$tune" transpose --schema "$work/none.xsd" -o "$work/out"
expect 65 'not an XML Schema' vary "$tune" transpose --schema "$tune" -o "$work/out"
# What a schema imports lies beside it or is not read.
printf '%s' '<schema xmlns="http://www.w3.org/2001/XMLSchema" xmlns:a="urn:a">
<import namespace="urn:a" schemaLocation="http://localhost:9/a.xsd"/>
<element name="score-partwise" type="a:score"/></schema>' >"$work/far.xsd"
expect 65 'not an XML Schema' vary "$tune" transpose --schema "$work/far.xsd" -o "$work/out"

# What is said.
expect 0 'bars 0-8 of all parts: transpose by=M2, 70 tones changed' vary "$tune" transpose by=M2 -o "$work/out"
expect 0 'bars 5-6 of Clarinet in Bb: ' vary "$tune" transpose 'where=Clarinet in Bb:5-6' -o "$work/out"
expect 0 '^\*:1-3,\*:6-7: .*48 tones changed; 1 warning' vary "$tune" transpose by=M2 'where=*:1-3,*:6-7' -o "$work/out"
[ "$(grep -c '<fifths>3</fifths>' "$work/out")" = 7 ] || wrong "two stretches do not move their keys, each its own"
expect 64 'says nothing' vary "$tune" transpose where= -o "$work/out"
expect 64 'kind=real' vary "$tune" transpose kind=tonal to=D -o "$work/out"
expect 0 'chord symbols still' vary "$tune" transpose kind=tonal by=M3 -o "$work/out"
expect 65 'whole parts' vary "$tune" transpose where=Piano/1 keys=move -o "$work/out"
expect 0 'a tie was cut' vary "$tune" transpose by=m2 where=Piano/2:3 -o "$work/out"
expect 0 'bar 1.1+1/2 of Voice\|bars 1.1+1/2-1.2 of Voice' vary "$tune" transpose where=1:1.1+1/2-1.2 -o "$work/out"
expect 64 'json' vary "$tune" transpose --json -o "$work/out"
expect 0 'old harmony' vary "$tune" transpose where=Clarinet:5-6 -o "$work/out"
expect 0 'written B in Clarinet in Bb' vary "$tune" transpose to=A -o "$work/out"
"$mutanza" vary "$tune" transpose where=Clarinet:5-6 --quiet -o "$work/out" >"$work/stdout" 2>"$work/err"
[ ! -s "$work/err" ] || wrong "--quiet says something"

# In and out: standard input and output, chains, a line from a file, both kinds of file.
"$mutanza" vary - transpose by=M2 <"$tune" >"$work/a.musicxml" 2>/dev/null || wrong "standard input"
"$mutanza" vary "$tune" 'transpose by=m2 | transpose by=A1' -o "$work/b.musicxml" 2>/dev/null || wrong "a chain"
grep -v '<miscellaneous-field' "$work/a.musicxml" >"$work/a1"
grep -v '<miscellaneous-field' "$work/b.musicxml" >"$work/b1"
cmp -s "$work/a1" "$work/b1" || wrong "a minor second and an augmented prime are no major second"
echo 'transpose by=M2' >"$work/line"
"$mutanza" vary "$tune" "@$work/line" -o "$work/c.musicxml" 2>/dev/null || wrong "@FILE"
cmp -s "$work/a.musicxml" "$work/c.musicxml" || wrong "@FILE gives something else"
expect 66 'cannot be read' vary "$tune" "@$work/none" -o "$work/out"
"$mutanza" vary "$tune" <"$tune" >"$work/same" 2>/dev/null
cmp -s "$tune" "$work/same" || wrong "without passes it does not come back"
"$mutanza" vary "$tune" -o "$work/t.mxl" && "$mutanza" vary "$work/t.mxl" >"$work/t2.mxl" &&
    "$mutanza" vary - -o "$work/t2.musicxml" <"$work/t2.mxl" || wrong "through .mxl"
cmp -s "$tune" "$work/t2.musicxml" || wrong ".mxl and back is something else"
cmp -s "$work/t.mxl" "$work/t2.mxl" || wrong "the container is not the same twice"
[ "$(head -c 64 "$work/t.mxl" | tail -c 26 | tr -d '\0')" != "" ] && head -c 80 "$work/t.mxl" | grep -q 'mimetypeapplication/vnd.recordare.musicxml' || wrong "mimetype is not first and stored"

# A timewise score is varied as the partwise one is, and comes back timewise.
timewise() {
    node "$MUTA_TOP/tests/reference/timewise.mjs"
}
timewise <"$tune" >"$work/time.musicxml"
"$mutanza" vary "$work/time.musicxml" 2>/dev/null | cmp -s - "$work/time.musicxml" || wrong "timewise does not come back"
for line in 'transpose by=M2' 'transpose by=m3 where=Clarinet:5-6' 'transpose to=E where=*:3-5'; do
    # shellcheck disable=SC2086
    "$mutanza" vary "$tune" $line 2>/dev/null | timewise >"$work/one"
    # shellcheck disable=SC2086
    "$mutanza" vary "$work/time.musicxml" $line 2>/dev/null >"$work/two"
    cmp -s "$work/one" "$work/two" || wrong "timewise is varied otherwise: $line"
done

# Nothing leaks and nothing is read before it is set.
if command -v valgrind >/dev/null 2>&1 && ! grep -q __asan_init "$mutanza"; then
    valgrind -q --leak-check=full --error-exitcode=9 "$mutanza" vary "$tune" transpose by=M2 -o "$work/v.mxl" 2>"$work/err" || wrong "valgrind, writing"
    valgrind -q --leak-check=full --error-exitcode=9 "$mutanza" vary "$work/v.mxl" transpose to=E where=2:3.2-5 -o "$work/v.musicxml" 2>"$work/err" || wrong "valgrind, reading"
    valgrind -q --leak-check=full --error-exitcode=9 "$mutanza" passes --json >/dev/null 2>"$work/err" || wrong "valgrind, passes"
fi

# Other entries are carried into an .mxl, and named when they cannot be.
mkdir -p "$work/p/META-INF"
cp "$tune" "$work/p/the-score.xml"
printf '<container><rootfiles><rootfile full-path="the-score.xml"/></rootfiles></container>' >"$work/p/META-INF/container.xml"
echo picture >"$work/p/cover.png"
(cd "$work/p" && zip -q -r "$work/full.mxl" META-INF cover.png the-score.xml)
"$mutanza" vary "$work/full.mxl" transpose -o "$work/full2.mxl" 2>/dev/null || wrong "a container with a picture"
[ "$(unzip -p "$work/full2.mxl" cover.png)" = picture ] || wrong "the picture is gone"
expect 0 '1 other entries' vary "$work/full.mxl" transpose -o "$work/out"

# Encodings: the same score in each is the same score.
iconv -f UTF-8 -t UTF-16 "$tune" | sed '1s/x/x/' >"$work/u16.xml" 2>/dev/null
for encoding in UTF-16LE UTF-16BE ISO-8859-1 UTF-16; do
    sed "1s/UTF-8/${encoding%[LB]E}/" "$tune" | iconv -f UTF-8 -t "$encoding" >"$work/e.xml"
    "$mutanza" vary "$work/e.xml" -o "$work/e.musicxml" 2>"$work/err" || wrong "$encoding"
    cmp -s "$tune" "$work/e.musicxml" || wrong "$encoding gives something else"
done
{ printf '\357\273\277'; cat "$tune"; } >"$work/bom.xml"
"$mutanza" vary "$work/bom.xml" 2>/dev/null | cmp -s - "$tune" || wrong "a byte order mark"
sed '1s/UTF-8/UTF-16/' "$tune" >"$work/lie.xml"
expect 0 'is UTF-8' vary "$work/lie.xml" transpose -o "$work/out"
{ printf '\n\n'; cat "$tune"; } >"$work/blank.xml"
expect 0 'white space' vary "$work/blank.xml" transpose -o "$work/out"
sed 's/$/\r/' "$tune" >"$work/crlf.xml"
"$mutanza" vary "$work/crlf.xml" 2>/dev/null | cmp -s - "$work/crlf.xml" || wrong "CR LF"

# Where the result goes.
expect 0 'bars 1-2 of Voice: retrograde where=Voice:1-2' vary "$tune" retrograde where=Voice:1-2 -o "$work/out"
expect 0 '8 bars added' vary "$tune" augment where=Voice -o "$work/out"
expect 0 '19 tones changed, and ' vary "$tune" retrograde --append -o "$work/out"
[ "$(grep -c '<measure ' "$work/out")" -eq 54 ] || wrong "--append does not say the bars again"
grep -q '<words font-weight="bold">retrograde</words>' "$work/out" || wrong "a section has no heading"
expect 0 '' vary "$tune" retrograde --append --no-heading -o "$work/out"
grep -q '>retrograde</words>' "$work/out" && wrong "--no-heading leaves a heading"
expect 0 'of the others, which follow' vary "$tune" invert --append --takes 2 -o "$work/out"
expect 0 'of the others, which follow' vary "$tune" retrograde -o "$work/out"
expect 0 '' vary "$tune" invert where=Voice:1-4 --only -o "$work/out"
[ "$(grep -c '<measure ' "$work/out")" -eq 12 ] || wrong "--only leaves other bars"
expect 0 'of Voice, varied' vary "$tune" invert --beside -o "$work/out"
[ "$(grep -c '<score-part ' "$work/out")" -eq 4 ] || wrong "--beside makes no part"
expect 0 'of several parts' vary "$tune" invert where='*' --beside -o "$work/out"
[ "$(grep -c '<score-part ' "$work/out")" -eq 6 ] || wrong "--beside makes no part for each"
cp "$work/out" "$work/beside"
expect 0 'of several parts' vary "$work/beside" invert where=1,3 --beside -o "$work/out"
[ "$(grep -o 'score-instrument id="[^"]*"' "$work/out" | sort -u | wc -l)" -eq 8 ] || wrong "instruments of copies share an id"
expect 0 '' vary "$tune" rotate --takes 3 -o "$work/out"
grep -q 'rotate --seed 3' "$work/out" || wrong "--takes does not say its seeds"
expect 65 'longer than what it should sound beside' vary "$tune" sequence --beside -o "$work/out"
expect 64 'exclude each other' vary "$tune" invert --beside --append -o "$work/out"
expect 0 "2 bars added" vary "$tune" augment where=Voice:1.1-2.1 -o "$work/out"
expect 65 'no instrument here' vary "$tune" timbre -o "$work/out"
expect 64 'there is no technique' vary "$tune" timbre mark=pizz where=Piano -o "$work/out"
expect 64 'no key of retrograde called' vary "$tune" retrograde keep=last -o "$work/out"
expect 64 'number of statements' vary "$tune" sequence times=1 -o "$work/out"
expect 64 'did you mean' vary "$tune" invert axis=frist -o "$work/out"

# What a file claims to write and does no more.
sed 's|<encoding>|<encoding><supports element="stem" type="yes"/><supports element="beam" type="yes"/>|; s|<rights>\(.*\)</rights>|<rights>\1</rights><encoding><supports element="stem" type="yes"/><supports element="beam" type="yes"/></encoding>|' "$tune" >"$work/claims.musicxml"
expect 0 '' vary "$work/claims.musicxml" transpose -o "$work/out"
grep -q '<supports element="stem" type="yes"/>' "$work/out" || wrong "a claim that holds is taken back"
sed 's|<stem>[a-z]*</stem>||' "$work/claims.musicxml" >"$work/claims2.musicxml"
expect 0 '' vary "$work/claims2.musicxml" retrograde -o "$work/out"
grep -q '<supports element="stem" type="no"/>' "$work/out" || wrong "a claim that holds no more stays"
grep -q '<supports element="beam" type="yes"/>' "$work/out" || wrong "another claim is taken back"

# Melody, mode and metre.
expect 64 'no figure "mordant"' vary "$tune" embellish figures=mordant -o "$work/out"
expect 64 'no treatise' vary "$tune" embellish after=somebody -o "$work/out"
expect 64 'share from 0 to 1' vary "$tune" embellish amount=2 -o "$work/out"
expect 0 'marks put in' vary "$tune" embellish as=signs figures=turn,trill -o "$work/out"
grep -qE '<(turn|trill-mark)/>' "$work/out" || wrong "as=signs puts no signs"
cp "$work/out" "$work/signs"
expect 0 'tones changed' vary "$work/signs" embellish amount=0 figures=signs -o "$work/out"
grep -qE '<(turn|trill-mark)/>' "$work/out" && wrong "figures=signs leaves signs"
expect 0 'tones changed' vary "$tune" embellish amount=1 figures=appoggiatura as=signs -o "$work/out"
grep -q '<grace/>' "$work/out" || wrong "a long appoggiatura has no grace note without a stroke"
expect 0 'tones changed' vary "$tune" grace -o "$work/out"
grep -q '<grace slash="yes"/>' "$work/out" || wrong "a grace note has no stroke"
expect 0 'of Voice: divide' vary "$tune" divide -o "$work/out"
grep -q '<extend/>' "$work/out" || wrong "a syllable is not drawn out"
expect 0 '' vary "$tune" divide --takes 2 -o "$work/out"
grep -q '>divide pick=2</words>' "$work/out" || wrong "takes of a search are not its next answers"
expect 64 'notes a beat' vary "$tune" divide notes=5 -o "$work/out"
expect 0 'of Voice: divide' vary "$tune" divide pick=2 over=chords -o "$work/out"
"$mutanza" vary "$tune" divide keep=accented -o "$work/kept" 2>/dev/null || wrong "divide keep=accented"
expect 0 'taken out' vary "$tune" simplify depth=3 -o "$work/out"
grep -q '<text>lanterns</text>' "$work/out" || wrong "syllables of tones that became one do not join"
expect 0 'nothing here' vary "$tune" embellish amount=0 -o "$work/out"
expect 0 'of all parts: mode' vary "$tune" mode -o "$work/out"
grep -q '<fifths>-2</fifths>' "$work/out" || wrong "mode leaves the signature"
grep -q '<kind>minor</kind>' "$work/out" || wrong "mode leaves the chord symbols"
expect 64 'did you mean "dorian"' vary "$tune" mode to=dorain -o "$work/out"
expect 64 'is no tonic' vary "$tune" mode tonic=H -o "$work/out"
expect 0 'of all parts: remetre' vary "$tune" remetre -o "$work/out"
[ "$(grep -c '<beats>2</beats>' "$work/out")" -eq 3 ] || wrong "remetre does not change the metre of each part"
expect 0 'bars 5-6' vary "$tune" remetre to=3+2/8 where='*:5-6' -o "$work/out"
grep -q '<beats>3</beats>' "$work/out" || wrong "the old metre does not come back"
expect 65 "every part's" vary "$tune" remetre where=Voice -o "$work/out"
expect 64 'is no metre' vary "$tune" remetre to=3/5 -o "$work/out"
expect 64 'no key of remetre called' vary "$tune" remetre keep=last -o "$work/out"

# Harmony.
expect 64 'did you mean as=waltz' vary "$tune" realise as=walz -o "$work/out"
expect 64 'there are block, sustained' vary "$tune" realise as=polonaise -o "$work/out"
expect 64 'not a duration' vary "$tune" realise unit=long -o "$work/out"
expect 65 'Clarinet in Bb' vary "$tune" realise into=Flute -o "$work/out"
expect 64 'did you mean palette=modal' vary "$tune" reharmonise palette=model -o "$work/out"
expect 64 'did you mean from=folia' vary "$tune" ground from=folio -o "$work/out"
expect 64 'no pass "divvide"' vary "$tune" ground above=divvide -o "$work/out"
expect 0 'nothing to change' vary "$tune" chords -o "$work/out"
expect 0 '0 tones changed, [0-9]* marks put in' vary "$MUTA_TOP/fixtures/ferry.musicxml" chords -o "$work/out"
"$mutanza" vary "$work/out" chords -o "$work/again" 2>&1 | grep -q 'nothing to change' || wrong "symbols that stand are written again"
"$mutanza" vary "$tune" realise into=new -o "$work/out" 2>/dev/null
[ "$(grep -c '<score-part ' "$work/out")" = 4 ] || wrong "into=new makes no part"
expect 0 "" vary "$tune" realise into=new --takes 2 -o "$work/out"
[ "$(grep -c '<score-part ' "$work/out")" = 4 ] || wrong "takes do not share the new part"
"$mutanza" vary "$tune" ground times=3 -o "$work/out" 2>/dev/null
[ "$(grep -c '<measure ' "$work/out")" = 75 ] || wrong "three rounds are not three times as many bars"

# The listing, and the README's table, come from the rows.
expect 0 '^pitch *transpose' passes
expect 0 'interval' passes transpose
expect 0 '"name": "transpose"' passes --json
"$mutanza" passes --json | node -e 'JSON.parse(require("fs").readFileSync(0))' || wrong "no JSON"
"$mutanza" passes >"$work/list"
sed -n '/^group /,/^```/p' "$MUTA_TOP/README.md" | grep -v '^```' | cmp -s - "$work/list" || wrong "the README's table is not what mutanza passes prints"
expect 0 '^mutanza [0-9]' --version
expect 0 'vary' --help
right

# Addresses that listen: the tune, the bass, phrases.
expect 0 'bars 0-8 of Voice' vary "$tune" retrograde where=tune -o "$work/out"
expect 0 'bars 0-8 of Piano' vary "$tune" retrograde where=bass -o "$work/out"
expect 0 'bars 0-4.2 of Voice' vary "$tune" retrograde where=tune:p1 -o "$work/out"
expect 0 'bars 4.3-8 of all parts' vary "$tune" retrograde where='*:p2' -o "$work/out"
expect 0 'bars 4.3-8 of Piano' vary "$tune" retrograde where=Piano:p2 -o "$work/out"
expect 0 'bars 1-4 of Voice' vary "$tune" retrograde where=tune:1-4 -o "$work/out"
expect 0 'several parts' vary "$tune" retrograde where=tune:p1-p2,bass:1-2 -o "$work/out"
expect 65 'no phrase "p9"' vary "$tune" retrograde where=tune:p9 -o "$work/out"
expect 65 'no bar "px"' vary "$tune" retrograde where=tune:px -o "$work/out"
expect 64 'the earlier one first' vary "$tune" retrograde where=tune:p2-p1 -o "$work/out"

# What ends behind a chord, and what stands inside a rest, is written without going there and back.
cat >"$work/hairpin.musicxml" <<'SCORE'
<?xml version="1.0"?>
<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Harp</part-name></score-part></part-list>
<part id="P1"><measure number="1"><attributes><divisions>1</divisions><key><fifths>0</fifths></key><time><beats>4</beats><beat-type>4</beat-type></time><clef><sign>G</sign><line>2</line></clef></attributes>
<direction><direction-type><wedge type="crescendo"/></direction-type></direction>
<note><pitch><step>C</step><octave>5</octave></pitch><duration>2</duration><voice>1</voice><type>half</type></note>
<note><pitch><step>E</step><octave>4</octave></pitch><duration>2</duration><voice>1</voice><type>half</type></note><note><chord/><pitch><step>G</step><octave>4</octave></pitch><duration>2</duration><voice>1</voice><type>half</type></note>
<direction><direction-type><wedge type="stop"/></direction-type></direction></measure>
<measure number="2"><direction><direction-type><dynamics><f/></dynamics></direction-type><offset>3</offset></direction><note><rest measure="yes"/><duration>4</duration><voice>1</voice></note></measure></part></score-partwise>
SCORE
expect 0 'bars 1-2' vary "$work/hairpin.musicxml" ground times=2 -o "$work/out"
[ "$(grep -c '<forward>\|<backup>' "$work/out")" = 0 ] || wrong "goes there and back for a hairpin"
expect 0 'bars 1-2' vary "$work/hairpin.musicxml" augment -o "$work/out"
[ "$(grep -c '<forward>\|<backup>' "$work/out")" = 0 ] || wrong "goes there and back for a hairpin"
finish
