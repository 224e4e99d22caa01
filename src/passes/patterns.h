/*
 * patterns.h: accompaniment patterns, read from shared/patterns.txt.
 *
 *     waltz | beat | 1 -* | - 234*      a word a step; a digit a voice of the chord
 */
#ifndef PASSES_PATTERNS_H
#define PASSES_PATTERNS_H

#include "theory/table.h"

typedef enum {
    MUTA_STEP_CHORD,
    MUTA_STEP_BAR,
    MUTA_STEP_BEAT,
    MUTA_STEP_UNIT,
    MUTA_STEP_HALF,
} muta_step;

/* What a hand does at a step. */
typedef enum {
    MUTA_STROKE_REST,
    MUTA_STROKE_HOLD,
    MUTA_STROKE_STRIKE,
} muta_stroke_kind;

typedef struct muta_stroke {
    uint8_t kind;   /* a muta_stroke_kind */
    uint8_t voices; /* bit 0 the bass */
    bool is_low;    /* the bass an octave lower */
} muta_stroke;

enum {
    MUTA_STROKES = 24,
    MUTA_STREAMS = 2,
};

/* What one voice of one hand plays. */
typedef struct muta_stream {
    muta_stroke at[MUTA_STROKES];
    uint8_t count;
    bool goes_on; /* the last stroke to the end; else round again */
} muta_stream;

/* What one hand plays: voices of its own, the upper one first. */
typedef struct muta_hand {
    muta_stream streams[MUTA_STREAMS];
    uint8_t count;
    uint8_t voices; /* all that it strikes, bit 0 the bass */
} muta_hand;

typedef struct muta_pattern {
    muta_text name;
    muta_step step;
    muta_hand low;
    muta_hand high;
    muta_hand one; /* both in one hand */
    muta_text summary;
} muta_pattern;

/* The pattern of this name; false when there is none. */
bool muta_pattern_find(const char *name, muta_pattern *pattern);
/* The stroke of a step, counted from 0. */
const muta_stroke *muta_stream_at(const muta_stream *stream, size_t step);

#endif
