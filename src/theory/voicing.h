/*
 * voicing.h: the best way through a row of chords in voices, by the rules of part-writing and a
 * little taste; its weights were set by hand (tests/reference/harmony.mjs measures them).
 */
#ifndef THEORY_VOICING_H
#define THEORY_VOICING_H

#include "base/arena.h"
#include "theory/part_writing.h"

/*
 * Voices a row of chords.
 * @param pick    1 for the best answer, 2 for the second
 * @param voiced  [out] `count` of them
 * @return MUTA_OK, MUTA_E_MEMORY, or MUTA_E_RANGE when a chord fits into no voices
 */
muta_status muta_voicing_find(const muta_ensemble *ensemble, const muta_harmony_slot *slots,
                              size_t count, size_t pick, muta_voiced *voiced) MUTA_CHECK;
/* The way from one chord to the next, in thousandths: rules, and how far the voices go. */
int64_t muta_voicing_price_way(const muta_voiced *from, const muta_voiced *to, bool is_top_apart);

#endif
