/*
 * refigure.h: an accompaniment moved from its old chords onto others, in its own figures.
 *
 *     old chord   C:  C3 G3 E4 G3        new chord  Am:  A2 A3 E4 A3
 */
#ifndef PASSES_REFIGURE_H
#define PASSES_REFIGURE_H

#include "passes/pass.h"
#include "score/sense.h"

/*
 * Moves what is not the tune in `out`, which holds the events of `in`, from the chords of `in` onto
 * those of `out`: each tone of a chord to the tone of the new one that the voices reach with least
 * motion, the bass to its bass, foreign tones along the scale with what they lean on.
 */
muta_status muta_refigure(const muta_passage *in, muta_passage *out) MUTA_CHECK;

#endif
