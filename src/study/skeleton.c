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

/* A melody to be reduced. */
struct melody {
    const muta_study *study;
    const uint32_t *tones; /* of `heard` */
    size_t count;
    uint8_t *depths;
};

static const muta_heard_tone *tone_at(const struct melody *melody, size_t nth)
{
    return &melody->study->heard.tones.at[melody->tones[nth]];
}

static void keep_one_a_bar(const struct melody *melody)
{
    for (size_t first = 0, next; first < melody->count; first = next) {
        const muta_heard_bar *const bar =
            muta_heard_bar_at(&melody->study->heard, tone_at(melody, first)->from);
        size_t best = melody->count;
        for (next = first; next < melody->count && tone_at(melody, next)->from < bar->to; next++)
            if (melody->depths[next] >= 1 &&
                (best == melody->count || is_before(tone_at(melody, next), tone_at(melody, best))))
                best = next;
        if (best < melody->count)
            melody->depths[best] = 3;
        next = next > first ? next : first + 1;
    }
}

/* What begins and ends phrases. */
static void keep_ends(const struct melody *melody)
{
    size_t nth = 0;

    for (size_t i = 0; i < melody->study->phrases.count && nth < melody->count; i++) {
        const muta_phrase *const phrase = &melody->study->phrases.at[i];
        const size_t first = nth;
        while (nth < melody->count && tone_at(melody, nth)->from < phrase->to)
            nth++;
        if (nth == first)
            continue;
        melody->depths[first] = melody->depths[first] ? 4 : 0;
        melody->depths[nth - 1] = melody->depths[nth - 1] ? 4 : 0;
    }
}

void muta_skeleton_of(const muta_study *study, const uint32_t *tones, size_t count, uint8_t *depths)
{
    const struct melody melody = {study, tones, count, depths};

    for (size_t i = 0; i < count; i++) {
        const bool repeats = i > 0 && tone_at(&melody, i - 1)->midi == tone_at(&melody, i)->midi;
        depths[i] = study->nonchords[tones[i]] != MUTA_CHORD_TONE               ? 0
                    : tone_at(&melody, i)->level <= MUTA_LEVEL_BEAT && !repeats ? 2
                                                                                : 1;
    }
    keep_one_a_bar(&melody);
    keep_ends(&melody);
}

muta_status muta_skeleton_find(muta_study *study)
{
    study->depths = muta_arena_take(&study->arena, study->tune.count + 1);
    if (!study->depths)
        return MUTA_E_MEMORY;
    muta_skeleton_of(study, study->tune.at, study->tune.count, study->depths);
    return MUTA_OK;
}
