/*
 * notation.h: music in one line, as the cases write it: `(G 3/4) D4:1 G4+B4:2 r:1/2`. A key, a
 * metre, then tones with their durations in quarters; chords joined with +, rests as r.
 */
#ifndef SUPPORT_NOTATION_H
#define SUPPORT_NOTATION_H

#include "mutanza/mutanza.h"

/* A one-part score of this line, in one bar; NULL when it is no music. */
muta_score *notation_read(const char *line);
/* The line of a one-part score; the key is named as major. @param text `room` bytes */
const char *notation_print(const muta_score *score, char *text, size_t room);
/* What a chain makes of a score, as text; NULL when it refuses. Ended with free(). */
char *notation_vary(const char *xml, const char *line);

#endif
