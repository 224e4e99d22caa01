/*
 * alone.h: a line that stands alone, and the chords that a musician would set to it.
 */
#ifndef PASSES_ALONE_H
#define PASSES_ALONE_H

#include "passes/pass.h"
#include "score/texture.h"

/*
 * Chords for a line that stands alone: found by what they do in the key, with a bass of its own
 * against a tune, and cadences where phrases end. What is heard in a line alone are its own tones;
 * these are not read from it.
 * @param by_beat  chords may change with every beat; else as often as the tones of the line let
 * them
 * @param is_bass  the line is the bass: each chord stands over it
 * @param chords  [out] in the arena; NULL where no key is known
 */
muta_status muta_harmonise_alone(const muta_call *call, bool by_beat, bool is_bass,
                                 muta_arena *arena, muta_passage_chord **chords,
                                 size_t *count) MUTA_CHECK;
/* The chords of a passage, of a line alone those that are set to it, a bar's at a time. */
muta_status muta_list_or_set_chords(const muta_call *call, muta_arena *arena,
                                    muta_passage_chord **chords, size_t *count) MUTA_CHECK;

#endif
