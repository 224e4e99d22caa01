/*
 * hearing.h: what the search for chords and keys weighs, for the files that do it: what sounds
 * (sounds.c), what a chord is worth over a stretch of it (spans.c), and the search (harmony.c).
 *
 *     tones      |  .  . |  .    |      mass by pitch class and spelling, slice by slice, added up:
 *     slices     |a |b|c |d |e|f |      any stretch is a difference of two sums
 *     edges      1   3 2  1  3 2        what speaks for a new chord, or a new bass, at each onset
 *     spans      |---C----|--G---|      a chord over a bass, in each key
 *
 * Each weight is one number of shared/hearing.txt, in hundredths; what is heard costs the sum of
 * weight times amount, and the search takes the least.
 */
#ifndef STUDY_HEARING_H
#define STUDY_HEARING_H

#include "study/harmony.h"

enum {
    MUTA_MOTIONS = 5,  /* none, leap, same, up, down */
    MUTA_THIRDS = 3,   /* of the levels: beats, parts of them, finer */
    MUTA_LEVELS = 7,   /* of muta_level, one spare */
    MUTA_METRES = 8,   /* 2/4, 3/4, 4/4, 6/8, 3/8, halves, compound, other */
    MUTA_PULSES = 4,   /* duple, triple, compound, of two beats */
    MUTA_SHARES = 6,   /* none, under 5 %, 12 %, 22 %, 35 %, more */
    MUTA_LENGTHS = 10, /* shares of a bar */
    MUTA_TRIADS = 5,   /* major, minor, dominant, diminished, other */
    MUTA_MODES = 2,    /* major, minor */
    MUTA_FAR = 7,      /* fifths apart, 0 to 6 */
    MUTA_STEPS = 2,    /* coming, going */
    MUTA_WAYS = 4,     /* down or up by a whole or a half tone */
    MUTA_NEWS = 2,     /* a new chord; the same over a new bass */
    MUTA_FROM_TO = MUTA_CHORD_TONES * MUTA_CHORD_TONES
};

/*
 * The blocks of weights: name, size. What each is multiplied by stands beside it: 1 where it says
 * nothing, else quarters or shares.
 */
#define MUTA_HEARING_BLOCKS(BLOCK)                                                                 \
    /* A tone outside the chord, by how it comes, goes, stands and is held: its mass. */           \
    BLOCK(outside, MUTA_SEATS *MUTA_MOTIONS *MUTA_MOTIONS *MUTA_THIRDS * 2)                        \
    /* What kinds hold. Lasting: quarters, four at most. Tones: mass, by kind and interval. */     \
    BLOCK(kind, MUTA_CHORD_KINDS)                                                                  \
    BLOCK(lasting, MUTA_CHORD_KINDS)                                                               \
    BLOCK(tone, MUTA_CHORD_KINDS *MUTA_CLASSES)                                                    \
    BLOCK(present, MUTA_CHORD_KINDS *MUTA_CHORD_TONES *MUTA_SHARES)                                \
    BLOCK(late, MUTA_CHORD_KINDS *MUTA_CHORD_TONES)                                                \
    BLOCK(misspelt, MUTA_CHORD_KINDS)                                                              \
    BLOCK(foreign, MUTA_SHARES)                                                                    \
    /* A tone that comes, or goes, by step: it and what it comes from are the chord's or not: its  \
     * mass. */                                                                                    \
    BLOCK(step, MUTA_STEPS * 2 * 2)                                                                \
    /* The same by its kind, interval and way. */                                                  \
    BLOCK(goes, MUTA_CHORD_KINDS *MUTA_CLASSES *MUTA_STEPS *MUTA_WAYS)                             \
    /* The bass: it is the first low tone, the lowest, lowest for a share, lowest in its bar. */   \
    BLOCK(bass, 4)                                                                                 \
    BLOCK(inversion, MUTA_CHORD_KINDS *MUTA_CHORD_TONES)                                           \
    BLOCK(standing, MUTA_CHORD_TONES + 1)                                                          \
    /* How long it is, and what stronger moments it lasts across. */                               \
    BLOCK(length, MUTA_PULSES *MUTA_LENGTHS)                                                       \
    BLOCK(across, MUTA_PULSES *MUTA_LEVELS *MUTA_LEVELS)                                           \
    /* What speaks for a change at an onset. */                                                    \
    BLOCK(place, MUTA_NEWS *MUTA_METRES *MUTA_LEVELS)                                              \
    BLOCK(low, MUTA_NEWS * 4 * MUTA_LEVELS)                                                        \
    BLOCK(attacks, MUTA_NEWS * 4 * MUTA_LEVELS)                                                    \
    BLOCK(fresh, MUTA_NEWS *MUTA_SHARES *MUTA_THIRDS)                                              \
    BLOCK(longest, MUTA_NEWS * 5 * MUTA_THIRDS)                                                    \
    BLOCK(alike, MUTA_NEWS *MUTA_SHARES *MUTA_THIRDS)                                              \
    /* From chord to chord. */                                                                     \
    BLOCK(change, 1)                                                                               \
    BLOCK(motion, MUTA_CHORD_KINDS *MUTA_CHORD_KINDS *MUTA_CLASSES)                                \
    BLOCK(motion_place, MUTA_TRIADS *MUTA_TRIADS *MUTA_CLASSES *MUTA_THIRDS)                       \
    BLOCK(basses, MUTA_NEWS *MUTA_FROM_TO)                                                         \
    BLOCK(bass_motion, MUTA_NEWS *MUTA_CLASSES *MUTA_THIRDS)                                       \
    BLOCK(goes_on, 1)                                                                              \
    BLOCK(new_bass, MUTA_LEVELS)                                                                   \
    /* The chord in its key. Scale: mass. Signature: quarters. */                                  \
    BLOCK(degree, MUTA_MODES *MUTA_CLASSES *MUTA_CHORD_KINDS)                                      \
    BLOCK(degree_bass, MUTA_MODES *MUTA_CLASSES *MUTA_TRIADS *MUTA_CHORD_TONES)                    \
    BLOCK(scale, MUTA_MODES *MUTA_CLASSES)                                                         \
    BLOCK(signature, MUTA_MODES *MUTA_FAR)                                                         \
    BLOCK(first, MUTA_MODES *MUTA_FAR)                                                             \
    BLOCK(new_key, MUTA_MODES *MUTA_MODES *MUTA_CLASSES)                                           \
    BLOCK(key_place, MUTA_LEVELS)                                                                  \
    BLOCK(end, MUTA_MODES * 4)

typedef struct muta_hearing {
#define BLOCK(name, size) int16_t name[size];
    MUTA_HEARING_BLOCKS(BLOCK)
#undef BLOCK
} muta_hearing;

enum {
    MUTA_WEIGHTS = sizeof(muta_hearing) / sizeof(int16_t)
};

/* Reads the table; false when a block is missing, or is too long or too short. */
bool muta_hearing_read(const char *table, muta_hearing *hearing);

/* What a slice, of all from the start, adds up to: differences give any span. */
typedef struct muta_sums {
    int32_t lost[MUTA_CLASSES]; /* what its tones cost where they are not in the chord */
    int32_t mass[MUTA_CLASSES]; /* how much of each class sounds, in thousandths of a quarter */
    int32_t spelt[MUTA_FIFTHS_COUNT];
    int32_t low[MUTA_CLASSES];                          /* for how long it is lowest */
    int32_t steps[MUTA_STEPS][MUTA_CLASSES][MUTA_WAYS]; /* mass of what comes, or goes, by step */
} muta_sums;

/* From an onset to the next. */
typedef struct muta_slice {
    uint32_t next[MUTA_CLASSES]; /* the first slice from here on in which a class sounds */
    int16_t low;                 /* the lowest tone, in semitones; above all when none sounds */
    int16_t standing;            /* the lowest since its bar began */
    uint8_t level;
    uint8_t third;
    uint8_t metre;
    uint8_t pulse;
    int32_t bar;              /* its length, in ticks */
    int32_t edges[MUTA_NEWS]; /* what a change here costs, in thousandths */
} muta_slice;

/* What sounds in a passage, for the search. */
typedef struct muta_sounds {
    const muta_heard *heard;
    const muta_hearing *hearing;
    int32_t
        base; /* all is reckoned from the first signature, so that equals fall alike in any key */
    size_t count; /* of slices */
    muta_sums *sums;
    muta_slice *slices;
} muta_sounds;

/* Adds up what sounds. The caller frees `sums` and `slices`, whatever comes of it. */
muta_status muta_sounds_add_up(muta_sounds *sounds) MUTA_CHECK;
/* The block `outside` has this place for a tone. */
size_t muta_sounds_outside(const muta_heard *heard, const muta_heard_tone *tone);
/* What its blocks have for a change at an onset: their places in muta_hearing, 6 of them. */
enum {
    MUTA_EDGES = 6
};
void muta_sounds_edges(const muta_sounds *sounds, size_t nth, int news, size_t places[MUTA_EDGES]);
int64_t muta_sounds_thousandths(const muta_sounds *sounds, int64_t ticks);

typedef struct muta_candidate {
    int32_t cost;
    uint8_t root;
    uint8_t kind;
    uint8_t bass;
    int8_t fifths;
    uint8_t low; /* the pitch class of its bass */
} muta_candidate;

/* What is known of a span, whatever its chord. */
typedef struct muta_span {
    size_t from;
    size_t to;
    int16_t lowest;
    uint8_t strongest; /* level behind its first onset */
    int32_t all;       /* mass */
    int32_t lasts;     /* thousandths of a quarter */
    int32_t length;    /* which of MUTA_LENGTHS */
    int32_t lost_all;
    /* Each class twice over, so that a tone above a root is found without a look round the octave.
     */
    int32_t lost[2 * MUTA_CLASSES];
    int32_t mass[2 * MUTA_CLASSES];
    int16_t masses[2 * MUTA_CLASSES]; /* the same in hundredths */
    int16_t late[2 * MUTA_CLASSES];   /* hundredths of a quarter before it sounds */
    uint8_t share[2 * MUTA_CLASSES];  /* which of MUTA_SHARES */
    int32_t bass[2 * MUTA_CLASSES];   /* what it costs as the bass */
    int32_t keys[MUTA_KEYS];          /* what it costs in each key, whatever its chord */
    /* Mass in hundredths of what comes, or goes, by step, by class and way. */
    int16_t steps[2 * MUTA_CLASSES][MUTA_STEPS * MUTA_WAYS];
} muta_span;

/* Which of the ways a step of so many semitones is; MUTA_WAYS for none. */
int muta_way_of(int semitones);
extern const int8_t muta_way_semitones[MUTA_WAYS];

void muta_span_read(const muta_sounds *sounds, muta_span *span);
/* The mass, in hundredths, of what comes, or goes, by step: by whether it, and what it comes from
 * or goes to, are the chord's. */
void muta_span_steps(const muta_span *span, const muta_candidate *chord,
                     int32_t masses[MUTA_STEPS * 2 * 2]);
/* Which share it is: none, under 5 %, 12 %, 22 %, 35 %, more. */
uint8_t muta_span_share(int64_t part, int64_t all);
/* The share of a chord's tones that are written otherwise, in thousandths; spells its root. */
int32_t muta_span_misspelt(const muta_sounds *sounds, const muta_span *span, int32_t signature,
                           muta_candidate *chord);
/* Of which chord tone a pitch class is; MUTA_CHORD_TONES for none. */
int muta_span_tone(const muta_candidate *chord, int pitch_class);
/*
 * The best chords of a span, each over its best bass.
 * @param best  [out] `room` of them at most, the cheapest first; returns how many
 */
size_t muta_span_chords(const muta_sounds *sounds, const muta_span *span, int32_t signature,
                        muta_candidate *best, size_t room);
/* What is weighed alike of kinds that do alike. */
extern const uint8_t muta_triads[MUTA_CHORD_KINDS];

#endif
