/*
 * figures.h: the time between goal tones filled with figures, found by search.
 *
 *     goals    C ─────── E ─────── G ─────── C      what the line comes through
 *     cells    |       | |       | |       | |      a beat or a part of one each
 *     figures  C D E F   E F G F   G A B G   C      a candidate each: a row of shared/figures.txt
 */
#ifndef PASSES_FIGURES_H
#define PASSES_FIGURES_H

#include "passes/pass.h"
#include "score/sense.h"

typedef enum {
    MUTA_FIGURE_RUN,
    MUTA_FIGURE_BROKEN,
    MUTA_FIGURE_NEIGHBOUR,
    MUTA_FIGURE_MIXED, /* what leads on best, one a phrase */
} muta_figure;

extern const char *const muta_figure_names[];

enum {
    MUTA_CELL_NOTES = 4
};

/* A stretch to be filled with so many notes. */
typedef struct muta_cell {
    muta_fraction onset;
    muta_fraction unit; /* of a note; the last takes what is left */
    muta_fraction end;
    uint8_t count; /* of its notes, up to MUTA_CELL_NOTES */
    bool is_goal;  /* it begins with the goal tone; else with any tone of the chord near it */
    bool is_last;  /* of what is joined: behind it the line rests, or ends */
    bool closes;   /* it is the last tone of a phrase */
    uint16_t phrase;
    uint32_t event; /* whose time it fills, in `in` */
    muta_pitch goal;
    muta_pitch notes[MUTA_CELL_NOTES]; /* [out] */
} muta_cell;

typedef struct muta_cells {
    muta_cell *at;
    size_t count;
    size_t room;
} muta_cells;

/*
 * Fills cells, which are in order of time, with the best figures. What is sought: chord tones on
 * the beat, leaps resolved, no tone said twice, no octaves or fifths in parallel with another line,
 * the goal reached by step, the range kept, one figure kept up.
 * @param pick  1 for the best answer, 2 for the next; where there are fewer the last
 */
muta_status muta_figures_fill(muta_arena *arena, const muta_passage *in, muta_cells *cells,
                              muta_figure figure, size_t pick) MUTA_CHECK;

#endif
