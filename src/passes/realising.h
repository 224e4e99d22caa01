/*
 * realising.h: realise on its way, for the files that do it: what stays (realise_bars.c), which
 * voices there are (realise_voices.c), and what is struck when (realise_play.c).
 */
#ifndef PASSES_REALISING_H
#define PASSES_REALISING_H

#include "passes/patterns.h"
#include "passes/seats.h"

/* Its keys. */
struct muta_realise_args {
    const char *as;
    muta_fraction unit;
    const char *into;
    int given;
};

enum {
    MUTA_GIVEN_AUTO,
    MUTA_GIVEN_TUNE,
    MUTA_GIVEN_BASS
};

/* A chord with the time that it lasts. */
struct muta_realise_span {
    muta_fraction from;
    muta_fraction to;
    const muta_passage_chord *chord;
};

/* A bar of the passage. */
struct muta_realise_bar {
    muta_fraction from;
    muta_fraction to;
    muta_fraction tune;  /* how long the tune is in lines that go on, */
    muta_fraction there; /* and in those that are replaced */
    bool stays;          /* an interlude: what would be replaced has the tune */
};

struct muta_realising {
    const muta_call *call;
    const struct muta_realise_args *args;
    muta_texture work;
    muta_arena arena;
    muta_pattern pattern;
    muta_pattern whole; /* the same, as all hands have it */
    muta_pattern held;  /* what ends the piece, or has no room for the pattern */
    bool ends;          /* the passage ends with the piece */
    muta_seats seats;
    muta_ensemble ensemble;
    const muta_line *tune; /* a line that goes on, as the highest voice or above them, */
    bool is_tune_bass;     /* or the only one, and low: then it is the bass */
    MUTA_VEC(struct muta_realise_bar) bars;
    MUTA_VEC(struct muta_realise_span) spans;
    muta_harmony_slot *slots; /* by span */
    muta_voiced *voiced;
};

/* The bars, and which of them are interludes, which stay as they are. */
muta_status muta_realise_find_bars(struct muta_realising *realising) MUTA_CHECK;
/* The bar that holds a moment. */
struct muta_realise_bar *muta_realise_bar_at(const struct muta_realising *realising,
                                             muta_fraction at);
bool muta_realise_stays(const struct muta_realising *realising, muta_fraction at);
/* The chords, those that are alike and follow each other as one, and their voices. */
muta_status muta_realise_voice(struct muta_realising *realising) MUTA_CHECK;
/* Plays the pattern at all seats. */
muta_status muta_realise_play(struct muta_realising *realising) MUTA_CHECK;

#endif
