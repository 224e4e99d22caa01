/* look.c: what a study holds at a moment. */
#include "study/study.h"

const muta_heard_chord *muta_look_chord(const muta_study *study, int64_t at)
{
    const size_t nth =
        muta_heard_find(study->chords.at, study->chords.count, sizeof *study->chords.at, at);

    if (nth >= study->chords.count || study->chords.at[nth].from > at)
        return NULL;
    /* A person may say that there is none until the next. */
    return at < study->chords.at[nth].to || nth + 1 == study->chords.count ? &study->chords.at[nth]
                                                                           : NULL;
}

const muta_heard_key *muta_look_key(const muta_study *study, int64_t at)
{
    const size_t nth =
        muta_heard_find(study->keys.at, study->keys.count, sizeof *study->keys.at, at);

    return nth < study->keys.count ? &study->keys.at[nth] : NULL;
}

muta_moment muta_look_moment(const muta_study *study, int64_t at)
{
    const muta_heard_bar *const bar = muta_heard_bar_at(&study->heard, at);

    if (at >= bar->to)
        return (muta_moment){bar->index + 1, MUTA_ALL_STAVES, MUTA_ZERO};
    return (muta_moment){bar->index, MUTA_ALL_STAVES,
                         muta_fraction_of(at - bar->from, study->heard.quarter)};
}

const muta_heard_tone *muta_look_tone(const muta_study *study, size_t nth)
{
    return &study->heard.tones.at[study->tune.at[nth]];
}

const muta_heard_key *muta_look_home(const muta_study *study)
{
    int64_t lasts[MUTA_KEYS] = {0};
    const muta_heard_key *best = NULL;

    for (size_t i = 0; i < study->keys.count; i++)
        lasts[study->keys.at[i].key] += study->keys.at[i].to - study->keys.at[i].from;
    /* The key in which it ends weighs as much again as it lasts. */
    if (study->keys.count > 0)
        lasts[study->keys.at[study->keys.count - 1].key] *= 2;
    for (size_t i = 0; i < study->keys.count; i++)
        if (!best || lasts[study->keys.at[i].key] > lasts[best->key] ||
            (study->keys.at[i].key == best->key && study->keys.at[i].confidence > best->confidence))
            best = &study->keys.at[i];
    return best;
}
