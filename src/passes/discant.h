/*
 * discant.h: a tune over chords that were not its own: its rhythm goes on bar for bar, its tones go
 * where the chords let them, found by search.
 */
#ifndef PASSES_DISCANT_H
#define PASSES_DISCANT_H

#include "passes/pass.h"
#include "score/texture.h"

/* A bar of the result, and the moment of the tune where the bar begins whose rhythm it has. */
typedef struct muta_discant_bar {
    muta_fraction from;
    muta_fraction to;
    muta_fraction like;
} muta_discant_bar;

typedef struct muta_discant {
    const muta_passage *in; /* where the tune is; its tones are those of the work */
    const muta_line *tune;
    const muta_discant_bar *bars; /* in order of time */
    size_t bar_count;
    const muta_passage_chord *chords; /* over all of them, in order */
    size_t chord_count;
    muta_fraction from; /* of the result: where `to` begins */
    bool ends;          /* with one long tone in the last bar */
} muta_discant;

/*
 * Puts the discant at the end of the line of `to` that was begun last.
 * @param stayed  [out] how many of its tones are the tune's own
 * @param count   [out] how many it has
 */
muta_status muta_discant_put(const muta_discant *discant, muta_passage *to, size_t *stayed,
                             size_t *count) MUTA_CHECK;

#endif
