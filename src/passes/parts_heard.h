/*
 * parts_heard.h: what sounds of a passage as each of a row of chords begins, so that the rules of
 * part-writing can be held against it.
 */
#ifndef PASSES_PARTS_HEARD_H
#define PASSES_PARTS_HEARD_H

#include "mutanza/diag.h"
#include "score/texture.h"
#include "theory/part_writing.h"

/*
 * What sounds as each slot begins, tones of several voices at one pitch told apart; of more voices
 * than MUTA_VOICES the first ones. Grace notes do not count.
 * @param onsets  of the slots, in the passage, in order
 * @param voiced  [out] `count` of them; they borrow the slots
 */
void muta_parts_hear(const muta_passage *passage, const muta_harmony_slot *slots,
                     const muta_fraction *onsets, size_t count, muta_voiced *voiced);

/* Warns which rules had to be broken, by their names in the table; says nothing where none was.
 * @param broken  how often each was */
void muta_parts_tell(const size_t broken[MUTA_RULES], muta_diags *diags);

#endif
