/* scale.h: scales, as degrees on a tonic. */
#ifndef THEORY_SCALE_H
#define THEORY_SCALE_H

#include "base/text.h"
#include "mutanza/pitch.h"

enum {
    MUTA_SCALE_TONES = 12
};

/* A tone of a scale: how it lies above the tonic. */
typedef struct muta_scale_tone {
    int8_t degree;    /* from 0 */
    int8_t semitones; /* from 0 to 11, but for signs that go beyond */
    bool goes_up;     /* it belongs to the way up */
    bool goes_down;
    bool rests; /* long notes like it */
} muta_scale_tone;

typedef struct muta_scale {
    muta_scale_tone tones[MUTA_SCALE_TONES];
    size_t count;
    bool has_signature;
    int32_t fifths; /* more than the major's */
    muta_mode mode;
} muta_scale;

/* Whether a mode has a minor third. */
bool muta_mode_is_minor(muta_mode mode);
/* The scale of this name in shared/scales.txt; false when there is none. */
bool muta_scale_find(const char *name, muta_scale *scale);
/* The tone of a scale with this degree and so many semitones; NULL when there is none. */
const muta_scale_tone *muta_scale_tone_at(const muta_scale *scale, int degree, int semitones);
/*
 * What a tone becomes when a scale is re-cast into another one on the same tonic: itself, if it is
 * foreign to the first and belongs to the other; else its degree there, or both of them, altered as
 * it was.
 * @param above    of the tonic, less than an octave
 * @param becomes  [out] up to two; `members` are the tones of `to` that they are, NULL for others
 * @return how many; 0 when `to` has no such degree
 */
size_t muta_scale_recast(const muta_scale *from, const muta_scale *to, muta_interval above,
                         muta_interval becomes[2], const muta_scale_tone *members[2]);
/* What a tone of the scale is above the tonic. */
muta_interval muta_scale_interval(const muta_scale_tone *tone);

#endif
