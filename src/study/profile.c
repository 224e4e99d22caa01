/* profile.c: how dense, wide, smooth, chromatic and syncopated a tune is. */
#include "study/study.h"
#include <stdlib.h>

const char *const muta_contour_names[] = {[MUTA_CONTOUR_LEVEL] = "level",
                                          [MUTA_CONTOUR_RISING] = "rising",
                                          [MUTA_CONTOUR_FALLING] = "falling",
                                          [MUTA_CONTOUR_ARCH] = "arch",
                                          [MUTA_CONTOUR_VALLEY] = "valley"};

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
    const muta_heard_key *const key = muta_look_key(study, tone->from);

    return key && !muta_harmony_has(key->key, tone->pitch_class);
}

/* How a stretch of the tune goes: where its highest and lowest tones lie beside its ends. */
static muta_contour contour_of(const muta_study *study, size_t first, size_t end,
                               const muta_profile *profile)
{
    enum {
        LITTLE = 2 /* semitones that are no direction */
    };
    if (end == first)
        return MUTA_CONTOUR_LEVEL;
    const int32_t begins = muta_look_tone(study, first)->midi;
    const int32_t ends = muta_look_tone(study, end - 1)->midi;
    const int32_t above = profile->high - (begins > ends ? begins : ends);
    const int32_t below = (begins < ends ? begins : ends) - profile->low;

    if (above > LITTLE && above >= below)
        return MUTA_CONTOUR_ARCH;
    if (below > LITTLE)
        return MUTA_CONTOUR_VALLEY;
    return ends - begins > LITTLE   ? MUTA_CONTOUR_RISING
           : begins - ends > LITTLE ? MUTA_CONTOUR_FALLING
                                    : MUTA_CONTOUR_LEVEL;
}

muta_profile muta_profile_of(const muta_study *study, size_t first, size_t end)
{
    muta_profile profile = {.low = INT32_MAX, .high = INT32_MIN};

    for (size_t i = first; i < end; i++) {
        const muta_heard_tone *const tone = muta_look_tone(study, i);
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
    profile.contour = contour_of(study, first, end, &profile);
    return profile;
}
