/*
 * alone.h: a line that stands alone, and the chords that a musician would set to it.
 */
#ifndef PASSES_ALONE_H
#define PASSES_ALONE_H

#include "passes/pass.h"
#include "score/texture.h"

/* How often its chords may change. */
typedef enum {
    MUTA_CHORD_A_BAR,  /* a bar or half of one, and on a beat where the tune asks for it */
    MUTA_CHORD_A_BEAT, /* as a chorale's do */
} muta_chord_pace;

/*
 * Chords for a line that stands alone: found by what they do in the key, with a bass of its own
 * against a tune, and cadences where phrases end. What is heard in a line alone are its own tones;
 * these are not read from it.
 * @param is_bass  the line is the bass: each chord stands over it
 * @param chords  [out] in the arena; NULL where no key is known
 */
muta_status muta_harmonise_alone(const muta_call *call, muta_chord_pace pace, bool is_bass,
                                 muta_arena *arena, muta_passage_chord **chords,
                                 size_t *count) MUTA_CHECK;
/* The chords of a passage, of a line alone those that are set to it, a bar's at a time. */
muta_status muta_list_or_set_chords(const muta_call *call, muta_arena *arena,
                                    muta_passage_chord **chords, size_t *count) MUTA_CHECK;

#endif
