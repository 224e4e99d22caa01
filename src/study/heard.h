/*
 * heard.h: what sounds in a passage, as the ear takes it: tones in time, the slices between their
 * onsets, and how strong each moment is in its bar. Times are ticks, whole numbers.
 */
#ifndef STUDY_HEARD_H
#define STUDY_HEARD_H

#include "base/vec.h"
#include "score/texture.h"

enum {
    MUTA_CLASSES = 12,
    MUTA_FIFTHS_LOW = -16, /* the places on the line of fifths that are told apart */
    MUTA_FIFTHS_COUNT = 40,
};

/* How strong a moment is, from the down-beat to what no harmony changes on. */
typedef enum {
    MUTA_LEVEL_BAR,
    MUTA_LEVEL_HALF,
    MUTA_LEVEL_BEAT,
    MUTA_LEVEL_PART, /* a half or a third of a beat */
    MUTA_LEVEL_FINE, /* half of that */
    MUTA_LEVEL_FINER,
} muta_level;

/* How a tone is reached or left in its own voice. */
typedef enum {
    MUTA_MOTION_NONE, /* silence, or a leap */
    MUTA_MOTION_LEAP,
    MUTA_MOTION_SAME,
    MUTA_MOTION_UP, /* by step */
    MUTA_MOTION_DOWN,
} muta_motion;

/* Where a tone lies among what sounds as it begins. */
typedef enum {
    MUTA_SEAT_ALONE,
    MUTA_SEAT_LOWEST,
    MUTA_SEAT_INNER,
    MUTA_SEAT_HIGHEST,
    MUTA_SEAT_DOUBLED, /* in another octave, or in unison */
    MUTA_SEATS
} muta_seat;

typedef struct muta_heard_tone {
    int64_t from;
    int64_t to;
    int32_t midi;   /* semitones, middle C is 60 */
    int32_t place;  /* on the diatonic line */
    int32_t fifths; /* on the line of fifths, C is 0 */
    uint32_t line;  /* of the passage's work, and so on */
    uint32_t event;
    uint32_t tone;
    int64_t first; /* of the row in which its voice strikes it again and again: its first onset, */
    int64_t last;  /* its last, */
    uint8_t pitch_class;
    uint8_t reached; /* a muta_motion */
    uint8_t left;
    int8_t came; /* how many semitones above it is what it is reached from by step; 0: none is */
    int8_t went; /* and what it is left to */
    uint8_t row_reached; /* how the row is reached, and left */
    uint8_t row_left;
    uint8_t level; /* a muta_level: where it begins */
    uint8_t seat;  /* a muta_seat: among what sounds where it begins */
} muta_heard_tone;

typedef struct muta_heard_bar {
    int64_t from;
    uint32_t index; /* in the score */
    int64_t to;
    int64_t offset; /* what of its metre went before it: a pick-up's */
    int64_t beat;   /* the length of one; 0 where it is free */
    int64_t beats;
    bool is_compound;
} muta_heard_bar;

typedef struct muta_heard {
    muta_arena arena;
    const muta_passage *passage;
    int64_t quarter; /* ticks in a quarter */
    int64_t end;
    MUTA_VEC(muta_heard_tone) tones; /* by onset, then from the lowest */
    MUTA_VEC(muta_heard_bar) bars;
    MUTA_VEC(int64_t) onsets; /* each moment at which something begins, and the end */
} muta_heard;

/* Listens to a passage. Borrows: passage. */
muta_status muta_heard_init(muta_heard *heard, const muta_passage *passage) MUTA_CHECK;
void muta_heard_clear(muta_heard *heard);
static inline bool muta_motion_is_step(uint8_t motion)
{
    return motion == MUTA_MOTION_UP || motion == MUTA_MOTION_DOWN;
}

/*
 * Of items in order of time, each of which begins with the moment from which it holds, the last
 * that holds at a moment; the first before all of them.
 */
size_t muta_heard_find(const void *items, size_t count, size_t size, int64_t at);
/* The first tone that begins at a moment or behind it. */
size_t muta_heard_tone_from(const muta_heard *heard, int64_t at);
/* The bar that holds a moment. */
const muta_heard_bar *muta_heard_bar_at(const muta_heard *heard, int64_t at);
muta_level muta_heard_level(const muta_heard *heard, int64_t at);
/* A time in quarters from the start of the passage, and back. */
muta_fraction muta_heard_time(const muta_heard *heard, int64_t at);
/* The moment in bars and beats of the score. */
muta_place muta_heard_place(const muta_heard *heard, int64_t at);

#endif
