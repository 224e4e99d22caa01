/*
 * historic.h: a passage laid over a historic ground: its bars go on from round to round, in the
 * order and on the tonic in which they fit the ground best; the tune is led over the ground's
 * chords, and what accompanies plays these in its own figures.
 */
#ifndef PASSES_HISTORIC_H
#define PASSES_HISTORIC_H

#include "passes/pass.h"
#include "score/texture.h"
#include "theory/ground.h"

typedef struct muta_historic {
    const muta_call *call;
    const muta_ground *ground;
    int64_t times;
    bool is_alone; /* a tune with nothing below: a part of its own is to come */
    /* What was found. */
    muta_arena arena;
    muta_passage_chord *chords; /* of all rounds */
    size_t chord_count;
    muta_fraction *rounds; /* where each begins, and the end of the last */
    size_t stayed;         /* tones of the tune that are what they were, */
    size_t led;            /* of so many */
} muta_historic;

/*
 * Lays the passage of the call over the ground.
 * @param made  fresh, like the passage; its chords are set, and it is settled
 */
muta_status muta_historic_lay(muta_historic *historic, muta_passage *made) MUTA_CHECK;
/* Ends what was found. */
void muta_historic_clear(muta_historic *historic);

#endif
