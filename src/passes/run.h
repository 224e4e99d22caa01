/*
 * run.h: a chain run on a score, from the region to what is written.
 *
 *     region ─┬─ stretch ── lifted ── varied ─┐
 *             └─ stretch ── lifted ── varied ─┴─ spliced, all at once
 *                              vary.c              vary.c
 *     in its place, as a section behind the last bar, take after take, or beside      place.c
 *     what a player should know of it                                                 warn.c
 */
#ifndef PASSES_RUN_H
#define PASSES_RUN_H

#include "mutanza/study.h"
#include "passes/chain.h"
#include "score/texture.h"

/* A tone of another line that is the tune's own, in whatever octave. */
typedef struct muta_doubling {
    uint32_t part;
    uint32_t voice;
    muta_fraction onset;
    muta_pitch pitch;
    int32_t octaves; /* above the tune */
} muta_doubling;

/* Each stretch as it was lifted, and varied. Zeroed but for `made_part`, it is ready. */
typedef struct muta_work {
    muta_arena arena;
    MUTA_VEC(muta_passage *) lifted;
    MUTA_VEC(muta_passage *) varied;
    muta_study *heard;          /* what the score holds, once a pass has asked */
    muta_passage *asked;        /* said whether a part was needed, before there was one */
    uint32_t made_part;         /* for what passes add, or MUTA_NO_PART */
    muta_passage_chord *chords; /* what was heard before the tune changed, if the others follow */
    size_t chord_count;
    size_t bar_count;                  /* of the score, when they were noted */
    MUTA_VEC(muta_doubling) doublings; /* of the tune as it was */
} muta_work;

/* Makes the part that passes write into, if they need one; those behind it move down. */
muta_status muta_work_make_part(muta_work *work, const muta_chain *chain, muta_region *region,
                                muta_score *score, muta_diags *diags) MUTA_CHECK;
/* Lifts a region, stretch by stretch, and runs the passes on what they can work on. */
muta_status muta_work_vary(muta_work *work, const muta_chain *chain, const muta_region *region,
                           const muta_score *score, const muta_take *take,
                           muta_diags *diags) MUTA_CHECK;
/* Writes what was varied into the score, and says what was done. */
muta_status muta_work_splice(muta_work *work, const muta_chain *chain, muta_score *score,
                             uint64_t seed, muta_outcome *outcome, muta_diags *diags) MUTA_CHECK;
/* Whether the others go along with what one of its passes, or any of them, does to the tune. */
bool muta_link_is_accompanied(const muta_chain *chain, const muta_link *link);
bool muta_chain_is_accompanied(const muta_chain *chain);
/* Notes the chords of the bars of a region, when it is varied and before it is written; none where
 * it became longer or shorter. */
muta_status muta_accompany_note(muta_work *work, const muta_region *region, const muta_score *score,
                                muta_diags *diags) MUTA_CHECK;
/* Lets the others follow what was written into a region, from the chords that were noted. */
muta_status muta_accompany(const muta_work *work, const muta_region *region, muta_score *score,
                           muta_outcome *outcome, muta_diags *diags) MUTA_CHECK;
void muta_work_end(muta_work *work);

/* All of that, where the region is; the others follow if they are to. */
muta_status muta_run_in_place(const muta_chain *chain, muta_score *score, muta_region *region,
                              uint64_t seed, bool follows, muta_outcome *done,
                              muta_diags *diags) MUTA_CHECK;
/* In sections behind the last bar, one a take; alone where the setting says so. */
muta_status muta_run_as_section(const muta_chain *chain, muta_score *score,
                                const muta_setting *setting, muta_region *region,
                                muta_outcome *done, muta_diags *diags) MUTA_CHECK;
/* In parts of their own, under those that the varied lines come from. */
muta_status muta_run_beside(const muta_chain *chain, muta_score *score, const muta_setting *setting,
                            muta_region *region, muta_outcome *done, muta_diags *diags) MUTA_CHECK;

/* Warns of what stays as it was around a varied passage, unless the others follow it, and of what
 * cannot be played. */
void muta_warn_of_result(const muta_chain *chain, const muta_passage *passage, bool follows,
                         muta_diags *diags);

#endif
