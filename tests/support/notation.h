/*
 * notation.h: music in one line, as the cases write it: `(G 3/4) D4:1 G4+B4:2 r:1/2`. A key, a
 * metre, then tones with their durations in quarters; chords joined with +, rests as r.
 *
 *     (G 3/4) D4:1 | [G:major] G4:2 A4:1 | B4:3~ | B4:2 ; r:1 | G2:3 | G2:3 | G2:2
 *
 * `|` is a bar line (a bar may be short), `~` a tie to the next note, `[root:kind]` a chord symbol
 * with MusicXML's word for its kind, `;` begins another part. A clef may stand behind the metre
 * (treble, bass, alto, tenor), `{D}` and `{3/4}` change key and metre, `&` begins a second voice
 * of the bar, a duration of 0 is a grace note, `!` behind a pitch writes its sign, `^` and `_`
 * behind a duration say where its stem goes. What is written like this is compared note by note as
 * it is written: values (a dotted one is 3/2, 3/4), ties, bars, symbols.
 */
#ifndef SUPPORT_NOTATION_H
#define SUPPORT_NOTATION_H

#include "mutanza/mutanza.h"

/* A score of this line, in one bar where it has no bar lines; NULL when it is no music. */
muta_score *notation_read(const char *line);
/* The line of a one-part score; the key is named as major. @param text `room` bytes */
const char *notation_print(const muta_score *score, char *text, size_t room);
/* The same as it is written, bar by bar and part by part. */
const char *notation_print_written(const muta_score *score, char *text, size_t room);
/* What a chain makes of a score, as text; NULL when it refuses. Ended with free(). */
char *notation_vary(const char *xml, const char *line);

#endif
