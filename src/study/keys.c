/* keys.c: the keys that the chords were heard in, and how sure they are. */
#include "study/study.h"
#include <stdlib.h>

/* The tonic as the signature spells it best. */
static int32_t spell_tonic(int key, int32_t signature)
{
    const int32_t fifths = muta_harmony_key_fifths(key);
    int32_t best = fifths;

    for (int32_t other = fifths - MUTA_CLASSES; other <= fifths + MUTA_CLASSES;
         other += MUTA_CLASSES)
        if (abs(other - signature) < abs(best - signature))
            best = other;
    /* A minor key's tonic lies three fifths above that of its relative. */
    return best + (key < MUTA_CLASSES ? 0 : 3);
}

/* What the chords of a stretch would cost in another key, over what they cost in theirs. */
static int64_t price_instead(const muta_study *study, const muta_heard_key *key, int other)
{
    const muta_harmony_costs *const costs = &muta_harmony_costs_default;
    int64_t more = 0;

    const muta_heard_chord *chord = muta_study_chord_at(study, key->from);

    for (; chord && chord < study->chords.at + study->chords.count && chord->from < key->to;
         chord++)
        more += muta_harmony_degree(costs, other, chord->root, (muta_chord_kind)chord->kind) -
                muta_harmony_degree(costs, key->key, chord->root, (muta_chord_kind)chord->kind);
    return more;
}

/*
 * The share of keys that were right where the next best key would have cost so much more, in steps
 * of a thousand: measured on half of the labelled songs.
 */
static int32_t confidence_of(int64_t margin)
{
    static const int32_t right[] = {350, 450, 550, 650, 720, 780, 830, 870, 900, 920, 940, 950};
    const int64_t step = margin < 0 ? 0 : margin / 1000;

    return right[step < (int64_t)MUTA_LENGTH(right) ? step : (int64_t)MUTA_LENGTH(right) - 1];
}

static void weigh(const muta_study *study, muta_heard_key *key)
{
    int64_t least = INT64_MAX;

    for (int other = 0; other < MUTA_KEYS; other++) {
        const int64_t more = other == key->key ? INT64_MAX : price_instead(study, key, other);
        least = more < least ? more : least;
    }
    key->confidence = confidence_of(least);
}

muta_status muta_keys_find(muta_study *study)
{
    for (size_t i = 0; i < study->chords.count; i++) {
        const muta_heard_chord *const chord = &study->chords.at[i];
        muta_heard_key *last = study->keys.count ? &study->keys.at[study->keys.count - 1] : NULL;
        if (last && last->key == chord->key) {
            last->to = chord->to;
            continue;
        }
        const muta_heard_bar *const bar = muta_heard_bar_at(&study->heard, chord->from);
        last = MUTA_PUSH(&study->arena, &study->keys);
        if (!last)
            return MUTA_E_MEMORY;
        *last = (muta_heard_key){
            .from = chord->from,
            .to = chord->to,
            .fifths = spell_tonic(chord->key, study->signatures[bar - study->heard.bars.at]),
            .key = chord->key,
        };
    }
    for (size_t i = 0; i < study->keys.count; i++)
        weigh(study, &study->keys.at[i]);
    return MUTA_OK;
}

const muta_heard_key *muta_study_home(const muta_study *study)
{
    int64_t lasts[MUTA_KEYS] = {0};
    const muta_heard_key *best = NULL;

    for (size_t i = 0; i < study->keys.count; i++)
        lasts[study->keys.at[i].key] += study->keys.at[i].to - study->keys.at[i].from;
    /* The key in which it ends weighs as much again as it lasts. */
    if (study->keys.count > 0)
        lasts[study->keys.at[study->keys.count - 1].key] *= 2;
    for (size_t i = 0; i < study->keys.count; i++)
        if (!best || lasts[study->keys.at[i].key] > lasts[best->key])
            best = &study->keys.at[i];
    return best;
}
