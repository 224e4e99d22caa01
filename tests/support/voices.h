/* voices.h: chords in four voices by the names of their tones. */
#ifndef SUPPORT_VOICES_H
#define SUPPORT_VOICES_H

#include "theory/part_writing.h"

enum {
    FOUR = 4
};

extern const muta_harmony_slot tonic;    /* of C major */
extern const muta_harmony_slot dominant; /* with its seventh */
extern const muta_harmony_slot second;
extern const muta_ensemble choir; /* four voices in their usual ranges */

muta_pitch pitch_of(const char *text);
/* @param names  of its tones, the lowest first, as `F#4` */
muta_voiced chord(const muta_harmony_slot *slot, const char *const *names);
/* How often a row of chords breaks rules that a teacher would mark. */
size_t faults(const muta_voiced *voiced, size_t count);

#endif
