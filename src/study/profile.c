/* profile.c: how dense, wide, smooth, chromatic and syncopated a tune is. */
#include "study/study.h"
#include <stdlib.h>

enum {
    A_STEP = 2, /* semitones */
    A_THIRD = 4
};

/* A tone that begins on a weaker moment than one that it sounds across. */
static bool is_syncopated(const muta_study *study, const muta_heard_tone *tone)
{
    const muta_heard_bar *const bar = muta_heard_bar_at(&study->heard, tone->from);

    if (bar->beat <= 0 || tone->level <= MUTA_LEVEL_HALF)
        return false;
    const int64_t past = (tone->from - bar->from + bar->offset) % bar->beat;
    for (int64_t at = tone->from - past + bar->beat; at < tone->to; at += bar->beat)
        if (muta_heard_level(&study->heard, at) < (muta_level)tone->level)
            return true;
    return false;
}

static bool is_chromatic(const muta_study *study, const muta_heard_tone *tone)
{
    static const bool scales[2][MUTA_CLASSES] = {{1, 0, 1, 0, 1, 1, 0, 1, 0, 1, 0, 1},
                                                 {1, 0, 1, 1, 0, 1, 0, 1, 1, 1, 1, 1}};
    const muta_heard_key *const key = muta_study_key_at(study, tone->from);

    return key &&
           !scales[key->key >= MUTA_CLASSES]
                  [(tone->pitch_class - key->key % MUTA_CLASSES + MUTA_CLASSES) % MUTA_CLASSES];
}

muta_profile muta_profile_of(const muta_study *study, size_t first, size_t end)
{
    muta_profile profile = {.low = INT32_MAX, .high = INT32_MIN};

    for (size_t i = first; i < end; i++) {
        const muta_heard_tone *const tone = &study->heard.tones.at[study->tune.at[i]];
        const int64_t lasts = tone->to - tone->from;
        profile.notes++;
        profile.low = tone->midi < profile.low ? tone->midi : profile.low;
        profile.high = tone->midi > profile.high ? tone->midi : profile.high;
        profile.syncopated += is_syncopated(study, tone);
        profile.chromatic += is_chromatic(study, tone) ? lasts : 0;
        profile.sounding += lasts;
        profile.middle += tone->midi * lasts;
        if (i == first)
            continue;
        const int32_t leap = abs(tone->midi - study->heard.tones.at[study->tune.at[i - 1]].midi);
        profile.intervals++;
        profile.semitones += leap;
        profile.steps += leap > 0 && leap <= A_STEP;
        profile.leaps += leap > A_THIRD;
    }
    return profile;
}
