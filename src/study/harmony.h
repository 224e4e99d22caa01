/*
 * harmony.h: chords and keys, heard as one. A dynamic program over stretches of time: each is one
 * chord, over one bass, in one key; what its tones do not explain, and each change, costs. What
 * costs how much was found by a fit: hearing.h.
 */
#ifndef STUDY_HARMONY_H
#define STUDY_HARMONY_H

#include "study/heard.h"
#include "theory/chord.h"

enum {
    MUTA_KEYS = 24 /* twelve major by their tonic's pitch class, then twelve minor */
};

enum {
    MUTA_ALTERNATIVES = 2
};

typedef struct muta_heard_chord {
    int64_t from;
    int64_t to;
    muta_chord value;
    uint8_t key;
    uint8_t other_count;
    muta_chord others[MUTA_ALTERNATIVES]; /* what the stretch might be as well, the best first */
} muta_heard_chord;

/* The pitch class of its root. */
int muta_heard_root(const muta_heard_chord *chord);

typedef MUTA_VEC(muta_heard_chord) muta_heard_chords;

/*
 * Hears the chords of a passage, as shared/hearing.txt weighs them.
 * @param fifths  of the signature in force at each bar of `heard`; NULL when there are none
 * @param chords  [out] in order, one behind the other; in the arena of `heard`
 */
muta_status muta_harmony_find(muta_heard *heard, const int32_t *fifths,
                              muta_heard_chords *chords) MUTA_CHECK;
/* What a chord is to a key, from the tonic, 0, to what is foreign, in thousandths. Source: common
 * practice. */
int32_t muta_harmony_degree(int key, int root, muta_chord_kind kind);
/* Whether a pitch class is in a key: major, or natural minor with the raised sixth and seventh. */
bool muta_harmony_has(int key, int pitch_class);
/* Of the signature of a key: fifths from C, the relative's for minor. */
int32_t muta_harmony_key_fifths(int key);

#endif
