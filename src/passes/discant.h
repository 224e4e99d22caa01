/*
 * discant.h: a tune led over chords that were not its own: its rhythm stays, its tones go where the
 * chords let them, found by search.
 */
#ifndef PASSES_DISCANT_H
#define PASSES_DISCANT_H

#include "passes/pass.h"

/*
 * Leads the tune of a passage, whatever lines have it, over the chords that were set.
 * @param stayed  [out] how many of its tones are what they were
 * @param count   [out] how many it has
 */
muta_status muta_discant_lead(muta_passage *passage, size_t *stayed, size_t *count) MUTA_CHECK;

#endif
