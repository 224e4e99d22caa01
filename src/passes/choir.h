/*
 * choir.h: voices with a line each, as a choir or a quartet has them, set anew under their tune
 * where the chords are others than they were.
 */
#ifndef PASSES_CHOIR_H
#define PASSES_CHOIR_H

#include "passes/pass.h"

/*
 * Sets the voices below the tune in `out`, which holds the events of `in`, where the chords of
 * `out` are not those of `in`: by the rules of part-writing from chord to chord, the chords that
 * stay given; what a voice has between is led on by step or through the chord. Rhythm stays.
 * @param is_choir  [out] whether there are such voices, three at least under or with one tune above
 * them; else nothing was done
 */
muta_status muta_choir_set(const muta_passage *in, muta_passage *out, bool *is_choir) MUTA_CHECK;

#endif
