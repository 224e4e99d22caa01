/* pedal.c: a held or struck note in the lowest part that can play it. */
#include "passes/pass.h"
#include "score/texture.h"
#include "theory/instrument.h"
#include <stdlib.h>

enum {
    ON_TONIC,
    ON_DOMINANT
};

enum {
    AT_BELOW,
    AT_ABOVE
};

enum {
    STRIKE_HELD,
    STRIKE_BAR,
    STRIKE_BEAT
};

static const char *const ons[] = {"tonic", "dominant", NULL};
static const char *const ats[] = {"below", "above", NULL};
static const char *const strikes[] = {"held", "bar", "beat", NULL};

struct args {
    muta_axis on;
    int at;
    int strike;
};

static const muta_param params[] = {
    MUTA_ARG_AXIS(struct args, on, "tonic", ons, "the tone, or which degree of the key"),
    MUTA_ARG_CHOICE(struct args, at, "below", ats, "under what sounds, or over it"),
    MUTA_ARG_CHOICE(struct args, strike, "bar", strikes,
                    "held through, or struck anew each bar or beat"),
};

struct holding {
    const muta_call *call;
    const struct args *args;
    uint32_t part;
    uint8_t staff;
    muta_pitch pitch;
};

/* ---- who holds it ---- */

/* The average height of what a part sounds, in semitones, in work and context; 0 for nothing. */
static int height_of(const muta_passage *in, uint32_t part)
{
    const muta_texture textures[] = {muta_passage_work(in), muta_passage_context(in)};
    int64_t sum = 0;
    int64_t count = 0;

    for (size_t i = 0; i < MUTA_LENGTH(textures); i++)
        for (size_t j = 0; j < textures[i].tone_count; j++) {
            const muta_tone *const tone = &textures[i].tones[j];
            if (tone->is_fixed || textures[i].lines[tone->line].part != part)
                continue;
            sum += muta_pitch_semitones(tone->pitch);
            count++;
        }
    return count ? (int)(sum / count) : 0;
}

/* Whether one player can hold a tone there beside others. */
static bool holds_two(const muta_score *score, uint32_t part)
{
    muta_instrument instrument;

    if (score->parts[part].staves > 1)
        return true;
    return muta_part_instrument(&score->parts[part], &instrument) &&
           (muta_text_is(instrument.family, "keys") || muta_text_is(instrument.family, "strings") ||
            muta_text_is(instrument.family, "plucked"));
}

/* The lowest such part, or the highest for a pedal above; false when there is none. */
static bool find_part(const muta_passage *in, bool is_above, uint32_t *part)
{
    int best = 0;
    bool found = false;

    for (uint32_t i = 0; i < in->score->part_count; i++) {
        const int height = height_of(in, i);
        if (height == 0 || !holds_two(in->score, i) ||
            (found && (is_above ? height <= best : height >= best)))
            continue;
        best = height;
        *part = i;
        found = true;
    }
    return found;
}

/* ---- which tone ---- */

/* The tone of the key on the line of fifths. */
static int32_t fifths_of(const struct holding *holding)
{
    const muta_passage *const in = holding->call->in;
    muta_key key = {0, MUTA_MAJOR};
    int32_t tonic;

    (void)muta_passage_key(in, &key);
    tonic = in->chord_count > 0 ? in->chords[in->chord_count - 1].tonic
                                : key.fifths + (key.mode == MUTA_MINOR ? 3 : 0);
    return tonic + (holding->args->on.choice == ON_DOMINANT ? 1 : 0);
}

/* The lowest, or highest, tone that sounds on the staff, or in the whole part's other staves. */
static int edge_of(const struct holding *holding, bool highest)
{
    const muta_passage *const in = holding->call->in;
    const muta_texture textures[] = {muta_passage_work(in), muta_passage_context(in)};
    int edge = 0;

    for (size_t i = 0; i < MUTA_LENGTH(textures); i++)
        for (size_t j = 0; j < textures[i].tone_count; j++) {
            const muta_tone *const tone = &textures[i].tones[j];
            const int semitones = muta_pitch_semitones(tone->pitch);
            if (tone->is_fixed || textures[i].lines[tone->line].part != holding->part)
                continue;
            edge = edge == 0 || (highest ? semitones > edge : semitones < edge) ? semitones : edge;
        }
    return edge;
}

/* Below what sounds, or above it, as near as the instrument has it. */
static void choose_pitch(struct holding *holding)
{
    const bool is_above = holding->args->at == AT_ABOVE;
    const int edge = edge_of(holding, is_above);
    const int32_t fifths = fifths_of(holding);
    muta_instrument instrument;
    int low = 9;   /* A0 */
    int high = 84; /* C7 */

    if (holding->args->on.is_pitch) {
        holding->pitch = holding->args->on.pitch;
        return;
    }
    if (muta_part_instrument(&holding->call->in->score->parts[holding->part], &instrument)) {
        low = muta_pitch_semitones(instrument.low);
        high = muta_pitch_semitones(instrument.high);
    }
    int octave = is_above ? 0 : 9;
    holding->pitch = muta_fifths_pitch(fifths, octave);
    while (is_above ? muta_pitch_semitones(holding->pitch) < edge
                    : muta_pitch_semitones(holding->pitch) > edge) {
        const muta_pitch next = muta_fifths_pitch(fifths, is_above ? ++octave : --octave);
        if (muta_pitch_semitones(next) < low || (is_above && muta_pitch_semitones(next) > high))
            break;
        holding->pitch = next;
    }
    while (muta_pitch_semitones(holding->pitch) < low)
        holding->pitch.place += 7;
}

/* ---- its notes ---- */

static muta_fraction end_of_stroke(const struct holding *holding, muta_fraction at)
{
    const muta_fraction length = muta_passage_stretch_end(holding->call->in, at);
    muta_beat beat;
    muta_fraction end = length;

    muta_passage_beat_at(holding->call->in, at, &beat);
    if (holding->args->strike == STRIKE_BAR)
        end = beat.end;
    if (holding->args->strike == STRIKE_BEAT) {
        const muta_fraction beats =
            muta_fraction_divide(muta_fraction_subtract(at, beat.bar), beat.beat);
        end = muta_fraction_add(beat.bar,
                                muta_fraction_scale(beat.beat, beats.top / beats.bottom + 1));
    }
    if (muta_fraction_compare(end, at) <= 0 || muta_fraction_compare(end, length) > 0)
        end = length;
    return end;
}

/* When the last tone of all has ended: a pedal does not outlast it. */
static muta_fraction last_sound(const muta_passage *in)
{
    const muta_texture textures[] = {muta_passage_work(in), muta_passage_context(in)};
    muta_fraction last = MUTA_ZERO;

    for (size_t i = 0; i < MUTA_LENGTH(textures); i++)
        for (size_t j = 0; j < textures[i].event_count; j++)
            last = muta_fraction_max(last, muta_fraction_add(textures[i].events[j].onset,
                                                             textures[i].events[j].duration));
    return muta_fraction_compare(last, in->length) < 0 ? last : in->length;
}

/* Whether the part strikes the tone there itself. */
static bool is_struck(const struct holding *holding, muta_fraction at)
{
    const muta_passage *const in = holding->call->in;
    const muta_texture textures[] = {muta_passage_work(in), muta_passage_context(in)};

    for (size_t i = 0; i < MUTA_LENGTH(textures); i++)
        for (size_t j = 0; j < textures[i].tone_count; j++) {
            const muta_tone *const tone = &textures[i].tones[j];
            if (textures[i].lines[tone->line].part == holding->part &&
                muta_pitch_sound(tone->pitch) == muta_pitch_sound(holding->pitch) &&
                muta_fraction_compare(textures[i].events[tone->event].onset, at) == 0)
                return true;
        }
    return false;
}

static muta_status strike(struct holding *holding)
{
    const muta_fraction length = last_sound(holding->call->in);
    muta_fraction end;
    muta_beat beat;
    /* A voice of its own, behind those that are there. */
    const size_t nth =
        muta_score_voice_count(holding->call->in->score, holding->part, holding->staff);

    MUTA_TRY(muta_passage_begin_new_line(holding->call->out, holding->part, holding->staff,
                                         (uint32_t)nth));
    muta_passage_turn_stems(holding->call->out, holding->args->at == AT_ABOVE ? 1 : -1);
    muta_passage_beat_at(holding->call->in, MUTA_ZERO, &beat);
    for (muta_fraction at = beat.is_pickup ? beat.end : MUTA_ZERO;
         muta_fraction_compare(at, length) < 0; at = end) {
        end = end_of_stroke(holding, at);
        end = muta_fraction_compare(end, length) < 0 ? end : length;
        if (is_struck(holding, at))
            continue;
        MUTA_TRY(muta_passage_put_new(holding->call->out, at, muta_fraction_subtract(end, at),
                                      &holding->pitch, 1));
    }
    return MUTA_OK;
}

static muta_status run(const muta_call *call)
{
    const struct args *args = call->args;
    struct holding holding = {.call = call, .args = args, .staff = 1};
    const muta_passage *const in = call->in;

    MUTA_TRY(muta_passage_append(call->out, in, MUTA_ZERO, NULL));
    if (in->made_part != MUTA_NO_PART)
        holding.part = in->made_part;
    else if (!find_part(in, args->at == AT_ABOVE, &holding.part))
        return MUTA_OK;
    if (args->at == AT_BELOW)
        holding.staff = (uint8_t)in->score->parts[holding.part].staves;
    choose_pitch(&holding);
    return strike(&holding);
}

static bool needs_part(const void *args, const muta_passage *passage)
{
    uint32_t part;

    return !find_part(passage, ((const struct args *)args)->at == AT_ABOVE, &part);
}

const muta_pass muta_pass_pedal = {
    .name = "pedal",
    .group = "harmony",
    .summary = "a held or struck note in the lowest part that can play it",
    .keeps = "all that sounds already",
    MUTA_PARAMS(params, struct args),
    .where = MUTA_TUNE,
    .needs = MUTA_NEEDS_PITCH | MUTA_NEEDS_STUDY,
    .effect = MUTA_KEEPS_CHORDS,
    .needs_part = needs_part,
    .run = run,
};
