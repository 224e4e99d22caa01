/*
 * skeleton.c: the tune reduced step by step: without what is no chord tone (1), to what stands on
 * beats (2), to one tone a bar (3), to where phrases begin and end (4).
 */
#include "study/study.h"

/* Whether a tone speaks for its bar rather than another: the stronger, then the longer, then the
 * earlier one. */
static bool is_before(const muta_heard_tone *a, const muta_heard_tone *b)
{
    if (a->level != b->level)
        return a->level < b->level;
    return a->to - a->from > b->to - b->from;
}

static void keep_one_a_bar(muta_study *study)
{
    for (size_t first = 0, next; first < study->tune.count; first = next) {
        const muta_heard_bar *const bar =
            muta_heard_bar_at(&study->heard, muta_study_tone(study, first)->from);
        size_t best = study->tune.count;
        for (next = first; next < study->tune.count && muta_study_tone(study, next)->from < bar->to;
             next++)
            if (study->depths[next] >= 1 &&
                (best == study->tune.count ||
                 is_before(muta_study_tone(study, next), muta_study_tone(study, best))))
                best = next;
        if (best < study->tune.count)
            study->depths[best] = 3;
        next = next > first ? next : first + 1;
    }
}

muta_status muta_skeleton_find(muta_study *study)
{
    study->depths = muta_arena_take(&study->arena, study->tune.count + 1);
    if (!study->depths)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < study->tune.count; i++) {
        const muta_nonchord why = (muta_nonchord)study->nonchords[study->tune.at[i]];
        if (why != MUTA_CHORD_TONE)
            continue;
        const bool repeats =
            i > 0 && muta_study_tone(study, i - 1)->midi == muta_study_tone(study, i)->midi;
        study->depths[i] = muta_study_tone(study, i)->level <= MUTA_LEVEL_BEAT && !repeats ? 2 : 1;
    }
    keep_one_a_bar(study);
    for (size_t i = 0; i < study->phrases.count; i++) {
        const muta_phrase *const phrase = &study->phrases.at[i];
        study->depths[phrase->first] = study->depths[phrase->first] ? 4 : 0;
        study->depths[phrase->end - 1] = study->depths[phrase->end - 1] ? 4 : 0;
    }
    return MUTA_OK;
}
