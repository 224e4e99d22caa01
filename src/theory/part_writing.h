/*
 * part_writing.h: the rules of part-writing, each once: over moves of two voices, over chords as
 * they stand in voices, and what it weighs to break one. Every search that leads voices takes its
 * weights from here, by its own share of them.
 * Source of the rules: as each row says; the weights were set by hand (tests/reference/harmony.mjs
 * holds what comes of them against masters' examples).
 */
#ifndef THEORY_PART_WRITING_H
#define THEORY_PART_WRITING_H

#include "mutanza/pitch.h"
#include "theory/chord.h"

enum {
    MUTA_VOICES = 6,
    MUTA_NO_TONE = 255,
};

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

/* A chord to be voiced. */
typedef struct muta_harmony_slot {
    muta_chord value;
    int32_t leading;   /* the leading tone that it has, on the line of fifths, or MUTA_NO_LEADING */
    muta_pitch top;    /* the highest voice, where it is given, */
    muta_pitch left;   /* and what it is when the chord ends, where it is another then */
    muta_pitch bottom; /* the lowest */
    muta_pitch given[MUTA_VOICES]; /* all voices: it stands as it did */
    const muta_ensemble *ensemble; /* whose ranges and hands hold; or NULL */
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

/* Moves of two voices, the upper one first, in semitones. Source: common practice. */

/* Whether they go from one fifth or octave to another, the same way or not. */
bool muta_semitones_parallel(int from, int to, int low_from, int low_to);
/* Whether they go the same way to a fifth or an octave, and the upper one leaps. */
bool muta_semitones_hidden(int from, int to, int low_from, int low_to);
/* Whether one passes where the other has just been. */
bool muta_semitones_overlap(int from, int to, int low_from, int low_to);

/* Moves of one voice. Source: common practice. */

/*
 * Whether a leading tone does not rise to its tonic though the next chord stands on that; in an
 * inner voice it may fall to the tonic's fifth as well.
 * @param leading  on the line of fifths, or MUTA_NO_LEADING @param root  of the next chord
 * @param moves    in semitones
 */
bool muta_leading_is_left(int32_t leading, int32_t root, int moves, bool is_inner);
/* Whether a seventh that has to go does not fall by step. */
bool muta_seventh_is_left(int moves);

/* The rules, as rows of the table. */
typedef enum muta_rule {
    MUTA_RULE_FIFTHS,
    MUTA_RULE_OCTAVES,
    MUTA_RULE_HIDDEN,
    MUTA_RULE_LEADING,        /* in an outer voice, */
    MUTA_RULE_LEADING_WITHIN, /* and in an inner one */
    MUTA_RULE_SEVENTH,
    MUTA_RULE_SPACING,
    MUTA_RULE_CROSSING,
    MUTA_RULE_OVERLAP,
    MUTA_RULE_AUGMENTED,
    MUTA_RULE_LEADING_DOUBLED,
    MUTA_RULE_SEVENTH_DOUBLED,
    MUTA_RULE_THIRD_DOUBLED,
    MUTA_RULE_NO_ROOT,
    MUTA_RULE_NO_THIRD,
    MUTA_RULE_NO_FIFTH,
    MUTA_RULE_NO_COLOUR,
    MUTA_RULE_UNISON,
    MUTA_RULE_HELD,
    MUTA_RULE_SUSPENSION,
    MUTA_RULE_HAND,
    MUTA_RULE_LOW,
    MUTA_RULE_BASS_LEAP,
    MUTA_RULE_RANGE,
    MUTA_RULES
} muta_rule;

/* How far a tune above an accompaniment is one of its voices to a rule. */
typedef enum muta_tune_part {
    MUTA_TUNE_APART,
    MUTA_TUNE_LASTING, /* where it sounds as long as the chord */
    MUTA_TUNE_VOICE
} muta_tune_part;

typedef struct muta_rule_row {
    const char *name;
    int32_t weight; /* of breaking it once, in thousandths */
    bool is_fault;  /* a teacher would mark it; else it is only dearer */
    bool is_way;    /* it is about the way from chord to chord, not how one stands */
    muta_tune_part tune;
    /* How often a chord, or the way to it, breaks it. @param from  NULL for the first chord */
    size_t (*count)(const muta_voiced *from, const muta_voiced *to);
    const char *source;
} muta_rule_row;

/* By muta_rule. */
extern const muta_rule_row muta_rule_rows[MUTA_RULES];

/* What breaking a rule once costs. @param share  of its weight, in thousandths */
int64_t muta_rule_price(muta_rule rule, int32_t share);
/* The same for two voices that go in parallel fifths or octaves, as muta_semitones_parallel has it;
 * 0 where they do not. */
int64_t muta_parallel_price(int from, int to, int low_from, int low_to, int32_t share);
/* Which rule a chord breaks that lacks one of its tones, from 0. */
muta_rule muta_rule_lacking(muta_chord_kind kind, uint8_t tone);

/*
 * How often a chord in its voices, and the way to it, break a rule.
 * @param from          NULL for the first
 * @param is_top_apart  the highest voice is a tune above an accompaniment
 */
size_t muta_rule_count(const muta_rule_row *row, const muta_voiced *from, const muta_voiced *to,
                       bool is_top_apart);
/* How often the way from one chord to the next breaks rules that a teacher would mark; 0 where the
 * voices are not as many. */
size_t muta_rules_faults(const muta_voiced *from, const muta_voiced *to);
/* What it costs how a chord stands, or the way to it, by all rules; in thousandths. */
int64_t muta_rules_price_standing(const muta_voiced *voiced, bool is_top_apart);
int64_t muta_rules_price_way(const muta_voiced *from, const muta_voiced *to, bool is_top_apart);

#endif
