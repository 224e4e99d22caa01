/*
 * plan.h: where everything goes when time has changed: the bars that there will be, and what sounds
 * in each of them, voice by voice. Nothing is written yet.
 */
#ifndef SCORE_PLAN_H
#define SCORE_PLAN_H

#include "score/texture.h"

/*
 * What stands behind a passage that grew and ends inside a bar, as it was and as it moves; NULL
 * when there is no such passage.
 */
typedef struct muta_tails {
    muta_passage *lifted;
    muta_passage *moved;
} muta_tails;

/* How many bars, put in behind `bar`, it takes to hold so much time. */
int64_t muta_bars_for(const muta_score *score, uint32_t bar, muta_fraction time);
/*
 * Finds what moves behind a cut inside a bar, to be planned along with the passages.
 * @param tails  [out] ended with muta_tails_clear, on failure too
 */
muta_status muta_tails_find(muta_tails *tails, const muta_passage *const *passages, size_t count,
                            muta_diags *diags) MUTA_CHECK;
void muta_tails_clear(muta_tails *tails);

/* A bar that there will be. */
typedef struct muta_plan_bar {
    uint32_t old;  /* the bar that it is now, or MUTA_NO_BAR when it is put in */
    uint32_t like; /* the bar whose metre it has */
    muta_fraction start;
    muta_fraction length;
    const muta_metre *metre; /* that a passage gives it; NULL: that of the bar it is like */
    muta_fraction lead;      /* what is missing before it, in a passage whose bars are others */
    bool is_resized;         /* it is longer or shorter than the bar that it was, or has its metre
                                from another */
} muta_plan_bar;

/* What becomes of a written note. */
typedef enum {
    MUTA_STAYS, /* no passage reached it */
    MUTA_KEPT,  /* a passage gave it back as it was, but for its pitch */
    MUTA_MOVED, /* its tone is written anew */
    MUTA_GONE,  /* its tone is gone, or its node is not needed */
} muta_fate;

/* What one stroke of one voice sounds, or an unmoved note, within one bar. */
typedef struct muta_sounding {
    uint32_t bar; /* of the plan */
    uint32_t voice;
    uint32_t note;  /* the head of a chord that stays as it is, or MUTA_NO_NOTE: */
    uint32_t event; /* of this passage's work */
    const muta_passage *passage;
    muta_fraction from; /* from the start of the bar */
    muta_fraction to;
    muta_fraction onset; /* of the event, from the start of this bar; below 0 when it goes on */
    uint32_t order;      /* among what begins together */
    uint8_t rank;        /* a grace note that comes after, one that comes before, others */
    uint8_t layer;       /* of a voice that overlaps itself */
    bool begins;
    bool ends;
} muta_sounding;

typedef struct muta_plan_part {
    uint8_t *fates; /* by note: a muta_fate; NULL when no passage changes its time */
    MUTA_VEC(muta_sounding) soundings; /* of the voices that are written anew, in order */
} muta_plan_part;

/* Which events of a passage stay where they are. */
typedef struct muta_plan_passage {
    const muta_passage *passage;
    bool *keeps; /* by event */
} muta_plan_passage;

typedef struct muta_plan {
    muta_arena arena;
    muta_score *score;
    const muta_passage *const *given; /* in no order */
    size_t count;
    MUTA_VEC(muta_plan_passage) passages;
    MUTA_VEC(muta_plan_bar) bars;
    uint32_t *bar_of; /* by bar that is: the bar of the plan, or MUTA_NO_BAR when it goes */
    muta_plan_part *parts;
    size_t bars_added;
    size_t bars_removed;
    size_t tones_changed;
    size_t tones_removed; /* not stated any more */ /* in pitch or time, or new */
} muta_plan;

/*
 * Plans what the passages, which are apart in time, ask for.
 * @param plan  [out] ended with muta_plan_clear
 */
muta_status muta_plan_make(muta_plan *plan, muta_score *score, const muta_passage *const *passages,
                           size_t count, muta_diags *diags) MUTA_CHECK;
void muta_plan_clear(muta_plan *plan);
/* Whether an event of one of the passages stays where it is. */
bool muta_plan_keeps(const muta_plan *plan, const muta_passage *passage, uint32_t event);
/* Whether nothing moves in time and the bars stay. */
bool muta_plan_is_still(const muta_plan *plan);
/* Whether new bars come between two notes of a part that stay. */
bool muta_plan_parts(const muta_plan *plan, uint32_t part, uint32_t from, uint32_t to);
/* Where a bar of the plan begins for a part, which may have a grid of its own. */
muta_fraction muta_plan_bar_start(const muta_plan *plan, uint32_t part, uint32_t bar);
/*
 * The bar of the plan and the moment in it for a moment of a stretch. What comes after a tone stays
 * in the bar where that ends.
 */
void muta_plan_place(const muta_plan *plan, const muta_passage *passage, uint32_t part,
                     muta_fraction time, bool is_end, uint32_t *bar, muta_fraction *onset);

#endif
