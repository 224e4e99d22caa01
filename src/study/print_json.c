/* print_json.c: a study as JSON; schemas/study.schema.json says how. */
#include "base/json.h"
#include "mutanza/score.h"
#include "study/study.h"
#include "theory/instrument.h"
#include <stdio.h>
#include <string.h>

struct output {
    const muta_study *study;
    muta_json json;
};

enum {
    NAME = 64
};

static void put_place(struct output *output, int64_t at)
{
    const muta_place place = muta_heard_place(&output->study->heard, at);

    muta_json_text(&output->json, "bar", place.bar ? place.bar : "");
    muta_json_time(&output->json, "beat", place.beat);
}

static void put_onset(struct output *output, int64_t at)
{
    muta_json_time(&output->json, "onset", muta_heard_time(&output->study->heard, at));
}

static void put_span(struct output *output, int64_t from, int64_t to)
{
    put_onset(output, from);
    muta_json_time(&output->json, "end", muta_heard_time(&output->study->heard, to));
}

static void put_parts(struct output *output)
{
    const muta_score *const score = output->study->score;

    muta_json_open(&output->json, "parts", '[');
    for (size_t i = 0; i < score->part_count; i++) {
        const muta_part *const part = &score->parts[i];
        const muta_heard *const heard = &output->study->heard;
        const muta_weave *const work = &output->study->passage->work;
        uint32_t low = UINT32_MAX;
        uint32_t high = UINT32_MAX;
        muta_instrument instrument;
        char text[NAME];
        for (uint32_t j = 0; j < heard->tones.count; j++) {
            if (work->lines.at[heard->tones.at[j].line].part != i)
                continue;
            if (low == UINT32_MAX || heard->tones.at[j].midi < heard->tones.at[low].midi)
                low = j;
            if (high == UINT32_MAX || heard->tones.at[j].midi > heard->tones.at[high].midi)
                high = j;
        }
        muta_json_open(&output->json, NULL, '{');
        muta_json_text(&output->json, "id", part->id);
        muta_json_text(&output->json, "name", part->name);
        if (muta_part_instrument(part, &instrument)) {
            (void)snprintf(text, sizeof text, "%.*s", (int)instrument.name.length,
                           instrument.name.at);
            muta_json_text(&output->json, "instrument", text);
        }
        if (low != UINT32_MAX) {
            muta_json_text(&output->json, "low",
                           muta_pitch_print(work->tones.at[heard->tones.at[low].tone].pitch, text));
            muta_json_text(
                &output->json, "high",
                muta_pitch_print(work->tones.at[heard->tones.at[high].tone].pitch, text));
        }
        muta_json_close(&output->json, '}');
    }
    muta_json_close(&output->json, ']');
}

static void put_leads(struct output *output, const char *key, const muta_leads *leads)
{
    char text[NAME];

    muta_json_open(&output->json, key, '{');
    muta_json_open(&output->json, "addresses", '[');
    for (size_t i = 0; i < leads->count; i++)
        muta_json_text(&output->json, NULL,
                       muta_lead_print(output->study, &leads->at[i], text, sizeof text));
    muta_json_close(&output->json, ']');
    muta_json_close(&output->json, '}');
}

static void put_companions(struct output *output)
{
    char text[NAME];

    muta_json_open(&output->json, "companions", '[');
    for (size_t i = 0; i < output->study->companions.count; i++) {
        const muta_companion *const companion = &output->study->companions.at[i];
        muta_json_open(&output->json, NULL, '{');
        muta_json_text(&output->json, "address",
                       muta_lead_print(output->study, &companion->lead, text, sizeof text));
        muta_json_flag(&output->json, "parallel", companion->is_parallel);
        muta_json_close(&output->json, '}');
    }
    muta_json_close(&output->json, ']');
}

static bool is_same_metre(const muta_metre *a, const muta_metre *b)
{
    return a->beat_type == b->beat_type && muta_fraction_compare(a->length, b->length) == 0;
}

static void put_metre(struct output *output)
{
    const muta_heard *const heard = &output->study->heard;
    const muta_metre *last = NULL;

    muta_json_open(&output->json, "metre", '[');
    for (size_t i = 0; i < heard->bars.count; i++) {
        const muta_heard_bar *const bar = &heard->bars.at[i];
        const muta_metre *const metre = &output->study->score->bars[bar->index].metre;
        const muta_fraction beats =
            muta_fraction_multiply(metre->length, muta_fraction_of(metre->beat_type, 4));
        if (!muta_fraction_is_valid(beats) || (last && is_same_metre(last, metre)))
            continue;
        last = metre;
        muta_json_open(&output->json, NULL, '{');
        put_onset(output, bar->from);
        muta_json_text(&output->json, "bar", output->study->score->bars[bar->index].number);
        muta_json_share(&output->json, "beats", beats.top, beats.bottom);
        muta_json_count(&output->json, "beat_type", metre->beat_type);
        muta_json_flag(&output->json, "pickup", bar->offset > 0);
        muta_json_close(&output->json, '}');
    }
    muta_json_close(&output->json, ']');
}

static void put_keys(struct output *output)
{
    char text[NAME];

    muta_json_open(&output->json, "keys", '[');
    for (size_t i = 0; i < output->study->keys.count; i++) {
        const muta_heard_key *const key = &output->study->keys.at[i];
        muta_json_open(&output->json, NULL, '{');
        put_span(output, key->from, key->to);
        put_place(output, key->from);
        muta_json_text(&output->json, "tonic", muta_fifths_print(key->fifths, text));
        muta_json_text(&output->json, "mode", key->key < MUTA_CLASSES ? "major" : "minor");
        muta_json_text(&output->json, "scale", muta_mode_name(key->scale));
        muta_json_share(&output->json, "confidence", key->confidence, 1000);
        muta_json_close(&output->json, '}');
    }
    muta_json_close(&output->json, ']');
}

static void put_others(struct output *output, const muta_heard_chord *chord)
{
    char text[MUTA_CLASS_TEXT];

    if (chord->other_count == 0)
        return;
    muta_json_open(&output->json, "alternatives", '[');
    for (size_t i = 0; i < chord->other_count; i++) {
        const muta_chord *const other = &chord->others[i];
        const muta_chord_row *const row = muta_chord_row_of(other->kind);
        muta_json_open(&output->json, NULL, '{');
        muta_json_text(&output->json, "root", muta_fifths_print(other->root, text));
        muta_json_text(&output->json, "kind", row->name);
        muta_json_text(&output->json, "bass",
                       muta_fifths_print(other->root + row->fifths[other->bass], text));
        muta_json_close(&output->json, '}');
    }
    muta_json_close(&output->json, ']');
}

static void put_chord(struct output *output, size_t nth)
{
    const muta_heard_chord *const chord = &output->study->chords.at[nth];
    const muta_heard_key *const key = muta_look_key(output->study, chord->from);
    const muta_chord_row *const row = muta_chord_row_of(chord->value.kind);
    const char *const symbol = output->study->symbols[nth];
    char text[NAME];
    char tonic[MUTA_CLASS_TEXT];

    muta_json_open(&output->json, NULL, '{');
    put_span(output, chord->from, chord->to);
    put_place(output, chord->from);
    muta_json_text(&output->json, "root", muta_fifths_print(chord->value.root, text));
    muta_json_text(&output->json, "kind", symbol ? symbol : row->name);
    muta_json_text(&output->json, "bass",
                   muta_fifths_print(chord->value.root + row->fifths[chord->value.bass], text));
    if (key) {
        muta_json_text(&output->json, "degree",
                       muta_numeral_print(&chord->value, key->fifths, key->key >= MUTA_CLASSES,
                                          text, sizeof text));
        (void)snprintf(text, sizeof text, "%s %s", muta_fifths_print(key->fifths, tonic),
                       key->key < MUTA_CLASSES ? "major" : "minor");
        muta_json_text(&output->json, "key", text);
    }
    muta_json_text(&output->json, "from", symbol ? "symbols" : "notes");
    put_others(output, chord);
    muta_json_close(&output->json, '}');
}

static void put_profile(struct output *output, const muta_profile *profile, int64_t lasts)
{
    muta_json_open(&output->json, "profile", '{');
    if (lasts > 0)
        muta_json_share(&output->json, "notes_per_quarter",
                        profile->notes * output->study->heard.quarter, lasts);
    if (profile->notes > 0) {
        muta_json_count(&output->json, "range_semitones", profile->high - profile->low);
        muta_json_share(&output->json, "syncopation", profile->syncopated, profile->notes);
        muta_json_text(&output->json, "contour", muta_contour_names[profile->contour]);
    }
    if (profile->intervals > 0) {
        muta_json_share(&output->json, "mean_step_semitones", profile->semitones,
                        profile->intervals);
        muta_json_share(&output->json, "steps", profile->steps, profile->intervals);
        muta_json_share(&output->json, "leaps", profile->leaps, profile->intervals);
    }
    if (profile->sounding > 0) {
        muta_json_share(&output->json, "chromaticism", profile->chromatic, profile->sounding);
        muta_json_share(&output->json, "tessitura_midi", profile->middle, profile->sounding);
    }
    muta_json_close(&output->json, '}');
}

static void put_phrases(struct output *output)
{
    muta_json_open(&output->json, "phrases", '[');
    for (size_t i = 0; i < output->study->phrases.count; i++) {
        const muta_phrase *const phrase = &output->study->phrases.at[i];
        const muta_profile profile = muta_profile_of(output->study, phrase->first, phrase->end);
        char name[16] = {phrase->letter, '\0'};
        memset(name + 1, '\'', phrase->primes);
        muta_json_open(&output->json, NULL, '{');
        put_span(output, phrase->from, phrase->to);
        put_place(output, phrase->from);
        muta_json_text(&output->json, "cadence", muta_cadence_names[phrase->cadence]);
        muta_json_text(&output->json, "name", name);
        muta_json_flag(&output->json, "answers", phrase->is_answer);
        put_profile(output, &profile, phrase->to - phrase->from);
        muta_json_close(&output->json, '}');
    }
    muta_json_close(&output->json, ']');
}

static void put_skeleton(struct output *output)
{
    char text[NAME];

    muta_json_open(&output->json, "skeleton", '[');
    for (size_t i = 0; i < output->study->tune.count; i++) {
        const muta_heard_tone *const tone = muta_look_tone(output->study, i);
        if (output->study->depths[i] < 2)
            continue;
        muta_json_open(&output->json, NULL, '{');
        put_onset(output, tone->from);
        muta_json_text(
            &output->json, "pitch",
            muta_pitch_print(output->study->passage->work.tones.at[tone->tone].pitch, text));
        muta_json_count(&output->json, "depth", output->study->depths[i]);
        muta_json_close(&output->json, '}');
    }
    muta_json_close(&output->json, ']');
}

/* Whether a melody has a tone; asked of one tone after the other. @param nth [in,out] from 0 */
static bool has_tone(const muta_melody *melody, size_t tone, size_t *nth)
{
    while (*nth < melody->count && melody->at[*nth] < tone)
        ++*nth;
    return *nth < melody->count && melody->at[*nth] == tone;
}

static void put_nonchords(struct output *output)
{
    size_t tune = 0;
    size_t bass = 0;
    char text[NAME];

    muta_json_open(&output->json, "nonchord", '[');
    for (size_t i = 0; i < output->study->heard.tones.count; i++) {
        const muta_heard_tone *const tone = &output->study->heard.tones.at[i];
        const muta_lead place = {tone->from, tone->from + 1, tone->line};
        const bool in_tune = has_tone(&output->study->tune, i, &tune);
        const bool in_bass = has_tone(&output->study->bass, i, &bass);
        if (output->study->nonchords[i] == MUTA_CHORD_TONE)
            continue;
        muta_json_open(&output->json, NULL, '{');
        put_onset(output, tone->from);
        muta_json_text(&output->json, "address",
                       muta_lead_print(output->study, &place, text, sizeof text));
        muta_json_text(
            &output->json, "pitch",
            muta_pitch_print(output->study->passage->work.tones.at[tone->tone].pitch, text));
        muta_json_text(&output->json, "in", in_tune ? "tune" : in_bass ? "bass" : "inner");
        muta_json_text(&output->json, "as", muta_nonchord_names[output->study->nonchords[i]]);
        muta_json_close(&output->json, '}');
    }
    muta_json_close(&output->json, ']');
}

static void put_hemiolas(struct output *output)
{
    muta_json_open(&output->json, "hemiolas", '[');
    for (size_t i = 0; i < output->study->hemiolas.count; i++) {
        const muta_hemiola *const hemiola = &output->study->hemiolas.at[i];
        muta_json_open(&output->json, NULL, '{');
        put_span(output, hemiola->from, hemiola->to);
        put_place(output, hemiola->from);
        muta_json_close(&output->json, '}');
    }
    muta_json_close(&output->json, ']');
}

static const muta_pitch *pitch_of(const struct output *output, uint32_t nth)
{
    return &output->study->passage->work.tones.at[muta_look_tone(output->study, nth)->tone].pitch;
}

static const char *print_between(const struct output *output, uint32_t from, uint32_t to,
                                 char *text)
{
    return muta_interval_print(muta_pitch_between(*pitch_of(output, from), *pitch_of(output, to)),
                               text);
}

/* A place of a motif: the address of its tones, and how it is said. */
static void put_motif_place(struct output *output, const muta_motif *motif,
                            const muta_motif_place *place)
{
    const muta_heard_tone *const first = muta_look_tone(output->study, place->first);
    const muta_heard_tone *const last =
        muta_look_tone(output->study, place->first + motif->count - 1);
    const muta_lead lead = {first->from, last->from + 1, first->line};
    char text[NAME];

    muta_json_open(&output->json, NULL, '{');
    put_onset(output, first->from);
    put_place(output, first->from);
    muta_json_text(&output->json, "address",
                   muta_lead_print(output->study, &lead, text, sizeof text));
    muta_json_text(&output->json, "as", muta_motif_names[place->form]);
    if (place->form == MUTA_MOTIF_TRANSPOSED)
        muta_json_text(&output->json, "by",
                       print_between(output, motif->first, place->first, text));
    muta_json_close(&output->json, '}');
}

static void put_motif(struct output *output, size_t nth)
{
    const muta_motif *const motif = &output->study->motifs.at[nth];
    char text[NAME];

    muta_json_open(&output->json, NULL, '{');
    (void)snprintf(text, sizeof text, "m%zu", nth + 1);
    muta_json_text(&output->json, "name", text);
    muta_json_open(&output->json, "intervals", '[');
    for (uint32_t i = motif->first; i + 1 < motif->first + motif->count; i++)
        muta_json_text(&output->json, NULL, print_between(output, i, i + 1, text));
    muta_json_close(&output->json, ']');
    muta_json_open(&output->json, "durations", '[');
    for (uint32_t i = motif->first; i + 1 < motif->first + motif->count; i++)
        muta_json_share(&output->json, NULL,
                        muta_look_tone(output->study, i + 1)->from -
                            muta_look_tone(output->study, i)->from,
                        output->study->heard.quarter);
    muta_json_close(&output->json, ']');
    muta_json_open(&output->json, "places", '[');
    for (size_t i = 0; i < motif->places.count; i++)
        put_motif_place(output, motif, &motif->places.at[i]);
    muta_json_close(&output->json, ']');
    muta_json_close(&output->json, '}');
}

muta_status muta_study_print_json(const muta_study *study, char **text)
{
    struct output output = {.study = study};

    muta_json_open(&output.json, NULL, '{');
    if (*muta_score_title(study->score))
        muta_json_text(&output.json, "title", muta_score_title(study->score));
    put_parts(&output);
    put_leads(&output, "tune", &study->tune_leads);
    put_companions(&output);
    put_leads(&output, "bass", &study->bass_leads);
    put_metre(&output);
    put_keys(&output);
    muta_json_open(&output.json, "chords", '[');
    for (size_t i = 0; i < study->chords.count; i++)
        put_chord(&output, i);
    muta_json_close(&output.json, ']');
    put_phrases(&output);
    put_hemiolas(&output);
    muta_json_open(&output.json, "motifs", '[');
    for (size_t i = 0; i < study->motifs.count; i++)
        put_motif(&output, i);
    muta_json_close(&output.json, ']');
    put_skeleton(&output);
    put_profile(&output, &study->profile, study->heard.end);
    put_nonchords(&output);
    muta_json_close(&output.json, '}');
    MUTA_TRY(muta_json_end(&output.json));
    *text = output.json.text.at;
    return MUTA_OK;
}
