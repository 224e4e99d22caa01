/*
 * part_writing.h: what sounds of a passage as each of a row of chords begins, so that the rules of
 * part-writing can be held against it.
 */
#ifndef PASSES_PART_WRITING_H
#define PASSES_PART_WRITING_H

#include "score/texture.h"
#include "theory/voicing.h"

/*
 * What sounds as each slot begins, tones of several voices at one pitch told apart; of more voices
 * than MUTA_VOICES the first ones. Grace notes do not count.
 * @param onsets  of the slots, in the passage, in order
 * @param voiced  [out] `count` of them; they borrow the slots
 */
void muta_part_writing_hear(const muta_passage *passage, const muta_harmony_slot *slots,
                            const muta_fraction *onsets, size_t count, muta_voiced *voiced);

#endif
