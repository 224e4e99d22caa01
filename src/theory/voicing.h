/*
 * voicing.h: chords in voices: what is wrong, or costs something, in how they stand and move; and
 * the best way through a row of them. Source of the rules: Prout, Harmony (1889), and the
 * part-writing of the textbooks since; the weights were set by hand (tests/reference/harmony.mjs
 * measures them).
 */
#ifndef THEORY_VOICING_H
#define THEORY_VOICING_H

#include "base/arena.h"
#include "mutanza/pitch.h"
#include "theory/chord.h"

enum {
    MUTA_VOICES = 6,
    MUTA_NO_TONE = 255,
};

/* A chord to be voiced. */
typedef struct muta_harmony_slot {
    muta_chord value;
    int32_t leading;   /* the leading tone that it has, on the line of fifths, or MUTA_NO_LEADING */
    muta_pitch top;    /* the highest voice, where it is given, */
    muta_pitch left;   /* and what it is when the chord ends, where it is another then */
    muta_pitch bottom; /* the lowest */
    muta_pitch given[MUTA_VOICES]; /* all voices: it stands as it did */
    int16_t ceiling;               /* in semitones: an accompaniment lies below; 0: anywhere */
    bool has_top;
    bool has_left;
    bool has_bottom;
    bool is_given;
    bool top_lasts; /* the given top voice sounds as long as the chord */
    uint8_t held;   /* voices that are held into the chord, a bit each, */
    uint8_t falls;  /* and those of them that strike again in it, where a suspension may fall */
} muta_harmony_slot;

/* A chord as it stands in voices, the lowest first. */
typedef struct muta_voiced {
    const muta_harmony_slot *slot;
    uint8_t count;
    muta_pitch at[MUTA_VOICES];
    int16_t semitones[MUTA_VOICES];
    uint8_t tones[MUTA_VOICES]; /* which tone of the chord, or MUTA_NO_TONE */
} muta_voiced;

/* Puts a voice in its place by pitch, behind those of the same; none when there are MUTA_VOICES. */
void muta_voiced_add(muta_voiced *voiced, muta_pitch pitch);
/* Fills in what follows from the slot and the pitches. */
void muta_voiced_read(muta_voiced *voiced);

/* A rule of part-writing; `count` says how often the way from one chord to the next breaks it.
 * @param from  NULL for the first chord */
typedef struct muta_voice_rule {
    const char *name;
    int64_t weight; /* thousandths */
    size_t (*count)(const muta_voiced *from, const muta_voiced *to);
} muta_voice_rule;

/* All rules; the last has no name. */
extern const muta_voice_rule muta_voice_rules[];

/* How many rules the way from one chord to the next breaks; 0 where the voices are not as many. */
size_t muta_voicing_faults(const muta_voiced *from, const muta_voiced *to);

/* What the voices may do. */
typedef struct muta_ensemble {
    uint8_t count; /* of the voices, the given top one included */
    muta_pitch low[MUTA_VOICES];
    muta_pitch high[MUTA_VOICES];
    uint8_t hand_from; /* voices [hand_from, hand_to) lie within one hand; */
    uint8_t hand_to;
    int16_t span; /* in semitones; 0: no limit */
    bool
        is_top_apart; /* the top voice is a tune above an accompaniment: only its parallels count */
    size_t lean;      /* how many candidates a chord has, at most */
} muta_ensemble;

/*
 * Voices a row of chords.
 * @param pick    1 for the best answer, 2 for the second
 * @param voiced  [out] `count` of them
 * @return MUTA_OK, MUTA_E_MEMORY, or MUTA_E_RANGE when a chord fits into no voices
 */
muta_status muta_voicing_find(const muta_ensemble *ensemble, const muta_harmony_slot *slots,
                              size_t count, size_t pick, muta_voiced *voiced) MUTA_CHECK;
/* The way from one chord to the next, in thousandths. @param from  NULL for the first */
int64_t muta_voicing_price(const muta_voiced *from, const muta_voiced *to, bool is_top_apart);

#endif
