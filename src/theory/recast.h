/* recast.h: places on the line of fifths, and chords, re-cast with a scale into another one. */
#ifndef THEORY_RECAST_H
#define THEORY_RECAST_H

#include "theory/chord.h"
#include "theory/scale.h"

/* A scale re-cast into another one, on a tonic. */
typedef struct muta_recast {
    muta_scale from;
    muta_scale to;
    int32_t tonic;    /* on the line of fifths */
    bool has_leading; /* the chord is one of the dominant's, which have the leading tone */
} muta_recast;

/* Makes it ready for a chord: on the fifth and seventh degrees the leading tone is had. */
void muta_recast_for(muta_recast *recast, int32_t root);
/* What a place on the line of fifths becomes. */
int32_t muta_recast_class(const muta_recast *recast, int32_t fifths);
/* The kind that a chord on `root` becomes; NULL when it is none that is heard. */
const muta_chord_row *muta_recast_kind(const muta_recast *recast, int32_t root,
                                       const muta_chord_row *row);

#endif
