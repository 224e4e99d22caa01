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

/* The tonic as the longest of its own chords, or of its dominants, is written; else by signature.
 */
static int32_t find_tonic(const muta_study *study, const muta_heard_key *key, int32_t signature)
{
    const muta_heard_chord *chord = muta_look_chord(study, key->from);
    int32_t found = spell_tonic(key->key, signature);
    int64_t longest = 0;

    for (; chord && chord < study->chords.at + study->chords.count && chord->from < key->to;
         chord++) {
        const int above =
            (muta_heard_root(chord) - key->key % MUTA_CLASSES + MUTA_CLASSES) % MUTA_CLASSES;
        const int64_t lasts = (chord->to - chord->from) * (above == 0 ? 4 : 1);
        if ((above != 0 && above != 7) || lasts <= longest)
            continue;
        longest = lasts;
        found = chord->value.root - (above == 7 ? 1 : 0);
    }
    return found;
}

/* What the chords of a stretch would cost in another key, over what they cost in theirs. */
static int64_t price_instead(const muta_study *study, const muta_heard_key *key, int other)
{
    int64_t more = 0;

    const muta_heard_chord *chord = muta_look_chord(study, key->from);

    for (; chord && chord < study->chords.at + study->chords.count && chord->from < key->to;
         chord++)
        more += muta_harmony_degree(other, muta_heard_root(chord), chord->value.kind) -
                muta_harmony_degree(key->key, muta_heard_root(chord), chord->value.kind);
    return more;
}

/*
 * How sure a key is, from how far it lies from the signature, how much more the next best key would
 * cost, and how often its tonic is heard, in thousandths: a logistic regression on half of the
 * labelled songs and textbook examples, its constant raised by hand until half of the songs' time
 * is called nine in ten sure (tests/reference/hearing.mjs prints how often that is right).
 */
static int32_t confidence_of(int64_t apart, int64_t margin, int64_t tonics)
{
    enum {
        FIRST = -1000,
        STEP = 250
    };
    /* 1 / (1 + exp(-x)) for x from -1 in steps of a quarter. */
    static const int32_t shares[] = {269, 321, 378, 438, 500, 562, 622, 679, 731, 777,
                                     818, 852, 881, 905, 924, 940, 953, 963, 971};
    const int64_t far = apart < 3 ? apart : 3;
    const int64_t much = margin < -1000 ? -1000 : margin < 6000 ? margin : 6000;
    const int64_t often = tonics < 6 ? tonics : 6;
    const int64_t sum = 400 - 243 * far + 223 * much / 1000 + 155 * often;
    const int64_t at = (sum < FIRST ? 0 : sum - FIRST + STEP / 2) / STEP;

    return shares[at < (int64_t)MUTA_LENGTH(shares) ? at : (int64_t)MUTA_LENGTH(shares) - 1];
}

/* Whether of two forms of a degree one is used, and the other hardly. */
static bool is_rather(const int64_t *lasts, int degree, int other, int64_t all)
{
    return lasts[degree] > 3 * lasts[other] && lasts[degree] * 50 > all;
}

/* The mode: by the degrees that set it apart from plain major and minor. Source: common practice.
 */
static muta_mode find_scale(const muta_study *study, const muta_heard_key *key)
{
    enum {
        SHORTEST = 8 /* quarters that show a mode */
    };
    const muta_heard *const heard = &study->heard;
    const bool is_minor = key->key >= MUTA_CLASSES;
    int64_t lasts[MUTA_CLASSES] = {0};
    int64_t all = 0;

    for (size_t i = muta_heard_tone_from(heard, key->from);
         i < heard->tones.count && heard->tones.at[i].from < key->to; i++) {
        const muta_heard_tone *const tone = &heard->tones.at[i];
        lasts[(tone->pitch_class - key->key % MUTA_CLASSES + MUTA_CLASSES) % MUTA_CLASSES] +=
            tone->to - tone->from;
        all += tone->to - tone->from;
    }
    if (key->to - key->from < SHORTEST * heard->quarter)
        return is_minor ? MUTA_MINOR : MUTA_MAJOR;
    if (is_minor && is_rather(lasts, 10, 11, all)) {
        if (is_rather(lasts, 1, 2, all))
            return MUTA_PHRYGIAN;
        if (is_rather(lasts, 9, 8, all))
            return MUTA_DORIAN;
    }
    if (!is_minor && is_rather(lasts, 10, 11, all))
        return MUTA_MIXOLYDIAN;
    if (!is_minor && is_rather(lasts, 6, 5, all))
        return MUTA_LYDIAN;
    return is_minor ? MUTA_MINOR : MUTA_MAJOR;
}

static int64_t count_tonics(const muta_study *study, const muta_heard_key *key)
{
    const muta_heard_chord *chord = muta_look_chord(study, key->from);
    int64_t count = 0;

    for (; chord && chord < study->chords.at + study->chords.count && chord->from < key->to;
         chord++)
        count += muta_heard_root(chord) == key->key % MUTA_CLASSES;
    return count;
}

static void weigh(const muta_study *study, muta_heard_key *key)
{
    const muta_heard_bar *const bar = muta_heard_bar_at(&study->heard, key->from);
    const int32_t signature = study->signatures[bar - study->heard.bars.at];
    const int32_t apart = study->passage->keys.count > 0
                              ? abs(muta_harmony_key_fifths(key->key) - signature) % MUTA_CLASSES
                              : 0;
    int64_t least = INT64_MAX;

    for (int other = 0; other < MUTA_KEYS; other++) {
        const int64_t more = other == key->key ? INT64_MAX : price_instead(study, key, other);
        least = more < least ? more : least;
    }
    key->confidence =
        confidence_of(apart > 6 ? MUTA_CLASSES - apart : apart, least, count_tonics(study, key));
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
        last = MUTA_PUSH(&study->arena, &study->keys);
        if (!last)
            return MUTA_E_MEMORY;
        *last = (muta_heard_key){.from = chord->from, .to = chord->to, .key = chord->key};
    }
    for (size_t i = 0; i < study->keys.count; i++) {
        muta_heard_key *const key = &study->keys.at[i];
        const muta_heard_bar *const bar = muta_heard_bar_at(&study->heard, key->from);
        key->fifths = find_tonic(study, key, study->signatures[bar - study->heard.bars.at]);
        weigh(study, key);
        key->scale = find_scale(study, key);
    }
    return MUTA_OK;
}
