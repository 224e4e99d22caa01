/*
 * plan_make.h: how a plan is made.
 *
 *     passages ── plan_bars.c: the bars that there will be, and where a moment lies in them
 *                 plan_sounds.c: by note its fate; by voice what sounds in each of those bars
 *                 plan.c: one after the other
 */
#ifndef SCORE_PLAN_MAKE_H
#define SCORE_PLAN_MAKE_H

#include "score/plan.h"

muta_status muta_plan_bars(muta_plan *plan, const muta_passage *const *passages, size_t count,
                           muta_diags *diags) MUTA_CHECK;
muta_status muta_plan_take_fates(muta_plan *plan, uint32_t part) MUTA_CHECK;
/* Syllables of a part that no event bears any more are told. */
muta_status muta_plan_tell_words(muta_plan *plan, const muta_passage *passage, uint32_t index,
                                 muta_diags *diags) MUTA_CHECK;
/* First what the passages were, then what they are. */
muta_status muta_plan_fates(muta_plan *plan, const muta_passage *passage) MUTA_CHECK;
/* Completes the voice-bars that are written anew with what stays in them. */
muta_status muta_plan_sounds_of(muta_plan *plan, uint32_t index,
                                const muta_passage *const *passages, size_t count) MUTA_CHECK;

#endif
