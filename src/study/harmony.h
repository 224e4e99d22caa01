/*
 * harmony.h: chords and keys, heard as one. A dynamic program over stretches of time: each is one
 * chord, over one bass, in one key; what its tones do not explain, and each change, costs.
 */
#ifndef STUDY_HARMONY_H
#define STUDY_HARMONY_H

#include "study/heard.h"
#include "theory/chord.h"

enum {
    MUTA_KEYS = 24 /* twelve major by their tonic's pitch class, then twelve minor */
};

/* Costs in thousandths. */
typedef struct muta_harmony_costs {
    /* Of a quarter of a tone that is not in the chord, by how it moves. */
    int32_t passing;
    int32_t passing_on_beat;
    int32_t neighbour;
    int32_t anticipating; /* the same tone again, then a step */
    int32_t suspended;    /* held over, or the same before, and falling by step */
    int32_t left_by_step;
    int32_t reached_by_step;
    int32_t leaping;
    int32_t attack; /* as if each tone were so much of a quarter longer */
    /* Of what a chord lacks. */
    int32_t no_root;
    int32_t no_third;
    int32_t no_fifth;
    int32_t no_seventh;
    int32_t late_seventh; /* each quarter before the seventh sounds */
    int32_t enough;       /* the share of the sound, in thousandths, that counts as there */
    int32_t misspelled;   /* all tones of the chord written as others */
    int32_t kinds[MUTA_CHORD_KINDS];
    /* Of changes. */
    int32_t change;
    int32_t places[MUTA_LEVEL_FINER + 1];
    int32_t crossed; /* each level above that of its start that a chord lasts across */
    int32_t new_bass;
    int32_t motion[7]; /* of the root, by the interval class in semitones */
    int32_t resolves;  /* V7 down a fifth, vii up a semitone */
    int32_t cadences;  /* V or vii to the tonic */
    /* Of the bass. */
    int32_t not_first_low;
    int32_t not_lowest;
    int32_t seldom_lowest;
    int32_t inversions[MUTA_CHORD_TONES];
    int32_t six_four; /* of the tonic */
    /* Of the chord in its key. */
    int32_t tonic;
    int32_t dominant;
    int32_t diatonic;
    int32_t applied;
    int32_t borrowed;
    int32_t mild;
    int32_t foreign;
    int32_t outside; /* a quarter of a tone outside the scale */
    int32_t new_key;
    int32_t new_key_fifth;
    int32_t signature_first; /* each fifth from the signature, where the music begins */
    int32_t signature;       /* each fifth, a quarter */
    int32_t open_end;        /* the last chord is not the tonic */
    int32_t new_bass_place;  /* how much of a place's cost counts where only the bass is new */
} muta_harmony_costs;

extern const muta_harmony_costs muta_harmony_costs_default;

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
 * Hears the chords of a passage.
 * @param fifths  of the signature in force at each bar of `heard`; NULL when there are none
 * @param chords  [out] in order, one behind the other; in the arena of `heard`
 */
muta_status muta_harmony_find(muta_heard *heard, const muta_harmony_costs *costs,
                              const int32_t *fifths, muta_heard_chords *chords) MUTA_CHECK;
/* What a chord costs as such in a key: its degree, from the tonic to what is foreign. */
int32_t muta_harmony_degree(const muta_harmony_costs *costs, int key, int root,
                            muta_chord_kind kind);
/* Whether a pitch class is in a key: major, or natural minor with the raised sixth and seventh. */
bool muta_harmony_has(int key, int pitch_class);
/* Of the signature of a key: fifths from C, the relative's for minor. */
int32_t muta_harmony_key_fifths(int key);

#endif
