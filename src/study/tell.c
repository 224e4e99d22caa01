/* tell.c: what a study holds, told to callers in their own terms. */
#include "study/study.h"
#include <assert.h>

static bool is_minor(const muta_heard_key *key)
{
    return key->key >= MUTA_CLASSES;
}

/* Its signature: that of the minor has three sharps fewer than the major on its tonic. */
static muta_key key_of(const muta_heard_key *key)
{
    return is_minor(key) ? (muta_key){key->fifths - 3, MUTA_MINOR}
                         : (muta_key){key->fifths, MUTA_MAJOR};
}

size_t muta_study_key_count(const muta_study *study)
{
    return study->keys.count;
}

muta_told_key muta_study_key(const muta_study *study, size_t nth)
{
    assert(nth < study->keys.count);
    const muta_heard_key *const key = &study->keys.at[nth];

    return (muta_told_key){.from = muta_heard_time(&study->heard, key->from),
                           .to = muta_heard_time(&study->heard, key->to),
                           .key = key_of(key),
                           .scale = key->scale,
                           .confidence = muta_fraction_of(key->confidence, 1000)};
}

bool muta_study_home(const muta_study *study, muta_key *key)
{
    const muta_heard_key *const home = muta_look_home(study);

    if (home)
        *key = key_of(home);
    return home;
}

size_t muta_study_chord_count(const muta_study *study)
{
    return study->chords.count;
}

muta_told_chord muta_study_chord(const muta_study *study, size_t nth)
{
    assert(nth < study->chords.count);
    const muta_heard_chord *const chord = &study->chords.at[nth];
    const muta_heard_key *const key = muta_look_key(study, chord->from);

    return (muta_told_chord){.from = muta_heard_time(&study->heard, chord->from),
                             .to = muta_heard_time(&study->heard, chord->to),
                             .value = chord->value,
                             .tonic = key ? key->fifths : chord->value.root,
                             .is_minor = key && is_minor(key),
                             .is_written = study->symbols && study->symbols[nth]};
}

size_t muta_study_phrase_count(const muta_study *study)
{
    return study->phrases.count;
}

muta_told_phrase muta_study_phrase(const muta_study *study, size_t nth)
{
    assert(nth < study->phrases.count);
    const muta_phrase *const phrase = &study->phrases.at[nth];

    return (muta_told_phrase){.from = muta_heard_time(&study->heard, phrase->from),
                              .to = muta_heard_time(&study->heard, phrase->to),
                              .cadence = phrase->cadence,
                              .letter = phrase->letter,
                              .primes = phrase->primes,
                              .is_answer = phrase->is_answer};
}

size_t muta_study_tone_count(const muta_study *study)
{
    return study->tune.count;
}

muta_told_tone muta_study_tone(const muta_study *study, size_t nth)
{
    assert(nth < study->tune.count);
    const muta_heard_tone *const tone = muta_look_tone(study, nth);
    const muta_tone *const lifted = &study->passage->work.tones.at[tone->tone];

    return (muta_told_tone){.from = muta_heard_time(&study->heard, tone->from),
                            .to = muta_heard_time(&study->heard, tone->to),
                            .pitch = lifted->pitch,
                            .part = study->passage->work.lines.at[lifted->line].part,
                            .depth = study->depths[nth]};
}
