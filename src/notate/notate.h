/* notate.h: what follows on the page from notes that changed. */
#ifndef NOTATE_NOTATE_H
#define NOTATE_NOTATE_H

#include "score/notes.h"

/* Where signatures changed; equal ends: nowhere. */
typedef struct muta_keys_span {
    muta_moment from;
    muta_moment to;
} muta_keys_span;

/*
 * Remembers, in the bars where something is to change, which notes needed a sign before: what shows
 * one without need is a courtesy. To be called when pitches and signatures have changed and their
 * old ones are still known, and before time changes.
 */
muta_status muta_notate_remember(muta_part *part, const muta_keys_span *keys) MUTA_CHECK;
/*
 * Looks at the accidentals again, on every staff with a changed pitch or signature, from the first
 * changed moment to the end of its bar. Source: common practice: a sign holds for its line and
 * octave to the end of the bar, a tie over the bar line carries it no further than its note.
 */
muta_status muta_notate_accidentals(muta_part *part, const muta_keys_span *keys) MUTA_CHECK;
/*
 * Turns stems that the new pitch wants the other way, where a voice is alone on its staff; a beamed
 * group turns together. Source: common practice: the note farthest from the middle line decides.
 */
void muta_notate_stems(muta_part *part);

#endif
