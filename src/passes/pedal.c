/* pedal.c: a held or struck note in the lowest part that can play it. */
#include "passes/pass.h"
#include "score/texture.h"
#include "theory/instrument.h"
#include <stdlib.h>

enum {
    ON_AUTO,
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

static const char *const ons[] = {"auto", "tonic", "dominant", NULL};
static const char *const ats[] = {"below", "above", NULL};
static const char *const strikes[] = {"held", "bar", "beat", NULL};

struct args {
    muta_axis on;
    int at;
    int strike;
};

static const muta_param params[] = {
    MUTA_ARG_AXIS(struct args, on, "auto", ons,
                  "the tone, or which degree of the key; auto: what the music bears best"),
    MUTA_ARG_CHOICE(struct args, at, "below", ats, "under what sounds, or over it"),
    MUTA_ARG_CHOICE(struct args, strike, "bar", strikes,
                    "held through, or struck anew each bar or beat"),
};

struct bar {
    muta_fraction from;
    muta_fraction to;
    bool closes; /* a phrase ends in it */
};

/* Of a key: its tonic, or its dominant, one fifth above. */
struct degree {
    int32_t tonic; /* on the line of fifths */
    int32_t is_dominant;
};

/* Where a tone is held: bars [first, end). */
struct stretch {
    muta_pitch pitch;
    size_t first;
    size_t end;
    int worth;
};

struct holding {
    const muta_call *call;
    const struct args *args;
    muta_arena arena;
    uint32_t part;
    uint8_t staff;
    MUTA_VEC(struct bar) bars;
    struct stretch stretch;
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

/* The lowest, or highest, tone of all, in semitones. */
static int edge_of(const muta_passage *in, bool highest)
{
    const muta_texture textures[] = {muta_passage_work(in), muta_passage_context(in)};
    int edge = 0;

    for (size_t i = 0; i < MUTA_LENGTH(textures); i++)
        for (size_t j = 0; j < textures[i].tone_count; j++) {
            const int semitones = muta_pitch_semitones(textures[i].tones[j].pitch);
            if (!textures[i].tones[j].is_fixed &&
                (edge == 0 || (highest ? semitones > edge : semitones < edge)))
                edge = semitones;
        }
    return edge;
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

/* ---- what a hand can do ---- */

enum {
    NINTH = 14, /* semitones: as far as a hand reaches with ease */
    CLOSE = 2,  /* tones nearer than that rub */
    AN_OCTAVE = 12,
    FIFTH = 7,
    POSITION = 5 /* semitones that the fingers of a string player span */
};

/* Whether a bowed string instrument has two tones at once, on its two lowest strings, a fifth
 * apart. Source: common practice; the hand stays in one position, but for an open string. */
static bool can_stop(int open, int low, int high)
{
    const int below = low - open;
    const int above = high - open - FIFTH;

    return below >= 0 && above >= 0 && above <= FIFTH + 2 && below <= FIFTH + 2 &&
           (below == 0 || above == 0 || (below - above < POSITION && above - below < POSITION));
}

/* Whether the part can sound the pedal with a tone of its own. */
static bool goes_with(const struct holding *holding, muta_pitch pedal, const muta_tone *tone,
                      uint8_t staff)
{
    const muta_part *const part = &holding->call->in->score->parts[holding->part];
    const int one = muta_pitch_semitones(pedal);
    const int other = muta_pitch_semitones(tone->pitch);
    muta_instrument instrument;

    if (one == other)
        return false;
    if (part->staves > 1)
        return staff != holding->staff || (abs(other - one) <= NINTH && abs(other - one) > CLOSE);
    if (muta_part_instrument(part, &instrument) && muta_text_is(instrument.family, "strings"))
        return can_stop(muta_pitch_semitones(instrument.low), one < other ? one : other,
                        one < other ? other : one);
    return abs(other - one) <= NINTH && abs(other - one) > CLOSE;
}

/* The staff on which a tone stands, which may be another than its line's. */
static uint8_t staff_of(const struct holding *holding, const muta_tone *tone, const muta_line *line)
{
    return tone->source == MUTA_NO_SOURCE
               ? line->staff
               : holding->call->in->score->parts[line->part].notes.at[tone->source].staff;
}

/* Up to where a tone that is struck at a moment can last: to what does not go with it; the moment
 * itself, when that is there already, or when it would not be the outermost. */
static muta_fraction lasts_to(const struct holding *holding, muta_pitch pedal, muta_fraction from,
                              muta_fraction to)
{
    const muta_passage *const in = holding->call->in;
    const muta_texture textures[] = {muta_passage_work(in), muta_passage_context(in)};
    const bool is_above = holding->args->at == AT_ABOVE;

    for (size_t i = 0; i < MUTA_LENGTH(textures); i++)
        for (size_t j = 0; j < textures[i].tone_count; j++) {
            const muta_tone *const tone = &textures[i].tones[j];
            const muta_line *const line = &textures[i].lines[tone->line];
            const muta_event *const event = &textures[i].events[tone->event];
            const muta_fraction end = muta_fraction_add(event->onset, tone->duration);
            const int over = muta_pitch_semitones(tone->pitch) - muta_pitch_semitones(pedal);
            if (tone->is_fixed || line->part != holding->part || event->is_grace ||
                muta_fraction_compare(end, from) <= 0 ||
                muta_fraction_compare(event->onset, to) >= 0 ||
                (goes_with(holding, pedal, tone, staff_of(holding, tone, line)) &&
                 (is_above ? over < 0 : over > 0)))
                continue;
            to = muta_fraction_max(from, event->onset);
        }
    return to;
}

/* ---- what the music bears ---- */

enum {
    CLASHES,
    PASSES, /* over it */
    BEARS
};

/* How a chord goes with the tonic or the dominant of a key held under it; those of another key do
 * not. What has arrived on the tonic wants its root. */
static int bears(const struct holding *holding, const muta_passage_chord *chord,
                 const struct degree *on)
{
    const muta_chord_row *const row = muta_chord_row_of(chord->value.kind);
    const int32_t root = chord->value.root - on->tonic;
    bool is_of_key = true;
    bool has = false;

    if (chord->tonic != on->tonic && !holding->args->on.is_pitch)
        return CLASHES;
    for (uint8_t i = 0; i < row->count; i++) {
        const int32_t away = chord->value.root + row->fifths[i] - chord->tonic;
        has = has || root + row->fifths[i] == on->is_dominant;
        is_of_key = is_of_key && away >= (chord->is_minor ? -4 : -1) && away <= 5;
    }
    if (on->is_dominant && root == 0 && chord->value.bass == 0)
        return CLASHES;
    return has ? BEARS : is_of_key ? PASSES : CLASHES;
}

/* The same of all that sounds in a bar: of the chord on its down-beat, unless another clashes; no
 * phrase closes on a chord that has not the tone. */
static int bar_bears(const struct holding *holding, const struct bar *bar, const struct degree *on)
{
    const muta_passage *const in = holding->call->in;
    int first = -1;

    for (size_t i = 0; i < in->chord_count; i++) {
        const muta_passage_chord *const chord = &in->chords[i];
        if (muta_fraction_compare(chord->to, bar->from) <= 0 ||
            muta_fraction_compare(chord->from, bar->to) >= 0)
            continue;
        const int how = bears(holding, chord, on);
        if (how == CLASHES || (how == PASSES && bar->closes))
            return CLASHES;
        first = first < 0 ? how : first;
    }
    return first < 0 ? CLASHES : first;
}

/* Whether the bass has the tone all through a bar without that. */
static bool has_already(const struct holding *holding, const struct bar *bar, muta_pitch pitch)
{
    const muta_passage *const in = holding->call->in;
    const int class = muta_semitones_class(muta_pitch_semitones(pitch));

    for (size_t i = 0; i < in->chord_count; i++) {
        const muta_chord *const chord = &in->chords[i].value;
        const int32_t bass = chord->root + muta_chord_row_of(chord->kind)->fifths[chord->bass];
        if (muta_fraction_compare(in->chords[i].to, bar->from) > 0 &&
            muta_fraction_compare(in->chords[i].from, bar->to) < 0 &&
            muta_fifths_class(bass) != class)
            return false;
    }
    return true;
}

/* Whether a tone can be struck at the beginning of a bar and last a beat at least. */
static bool can_strike(const struct holding *holding, const struct bar *bar, muta_pitch pitch)
{
    muta_beat beat;

    muta_passage_beat_at(holding->call->in, bar->from, &beat);
    const muta_fraction end = lasts_to(holding, pitch, bar->from, bar->to);
    return muta_fraction_compare(muta_fraction_subtract(end, bar->from), beat.beat) >= 0;
}

/*
 * How well a stretch is placed: under the last chord, before that as its dominant, from the
 * beginning on. Source: common practice of organ points.
 */
static int worth_of(const struct holding *holding, size_t first, size_t end, bool is_dominant)
{
    enum {
        AT_END = 6,
        BEFORE_END = 5,
        AT_BEGINNING = 3
    };
    const int length = (int)(end - first);

    if (is_dominant)
        return end + 1 >= holding->bars.count && end < holding->bars.count ? length + BEFORE_END
                                                                           : length;
    return length + (end == holding->bars.count ? AT_END : first == 0 ? AT_BEGINNING : 0);
}

/* Weighs a tone where it was asked for: by the bars in which it can be struck. */
static void try_here(struct holding *holding, muta_pitch pitch)
{
    int worth = 0;

    for (size_t i = 0; i < holding->bars.count; i++)
        worth += can_strike(holding, &holding->bars.at[i], pitch);
    if (worth > holding->stretch.worth)
        holding->stretch = (struct stretch){pitch, 0, holding->bars.count, worth};
}

/* Weighs the stretches in which a tone can be held. */
static void try_pitch(struct holding *holding, muta_pitch pitch, const struct degree *on)
{
    enum {
        MOST = 8, /* bars: longer it is a drone */
        LEAST = 2,
        SOME = 3 /* one bar in so many has another bass: else nothing is added */
    };
    size_t first = SIZE_MAX; /* the run of bars that goes on */
    size_t last = 0;         /* of it that bears the tone, and the end */

    if (holding->call->is_placed) {
        try_here(holding, pitch);
        return;
    }
    for (size_t i = 0; i <= holding->bars.count; i++) {
        const struct bar *const bar = &holding->bars.at[i];
        int how = i < holding->bars.count ? bar_bears(holding, bar, on) : CLASHES;
        if (how != CLASHES && !can_strike(holding, bar, pitch))
            how = CLASHES;
        if (how == BEARS) {
            first = first == SIZE_MAX ? i : first;
            last = i + 1;
        }
        if (how != CLASHES || first == SIZE_MAX)
            continue;
        /* Of a long one what leads to the end is taken, but at the beginning of the piece. */
        size_t end = last;
        if (end - first > MOST && first == 0 && end < holding->bars.count)
            end = first + MOST;
        else if (end - first > MOST)
            first = end - MOST;
        const int worth = worth_of(holding, first, end, on->is_dominant);
        size_t others = 0;
        for (size_t j = first; j < end; j++)
            others += !has_already(holding, &holding->bars.at[j], pitch);
        if (end - first >= LEAST && others * SOME >= end - first && worth > holding->stretch.worth)
            holding->stretch = (struct stretch){pitch, first, end, worth};
        first = SIZE_MAX;
    }
}

/* ---- which tone, and where ---- */

/* The octaves of a tone that the instrument has, and that do not lie far from what sounds; the
 * nearest first. */
static void try_octaves(struct holding *holding, const struct degree *on)
{
    const bool is_above = holding->args->at == AT_ABOVE;
    const int edge = edge_of(holding->call->in, is_above);
    muta_instrument instrument;
    int low = 9;   /* A0 */
    int high = 84; /* C7 */

    if (muta_part_instrument(&holding->call->in->score->parts[holding->part], &instrument)) {
        low = muta_pitch_semitones(instrument.low);
        high = muta_pitch_semitones(instrument.high);
    }
    for (int i = 0; i <= 7; i++) {
        const muta_pitch pitch =
            muta_fifths_pitch(on->tonic + on->is_dominant, is_above ? i : 7 - i);
        const int semitones = muta_pitch_semitones(pitch);
        /* A part of its own lies beyond all the others. */
        const bool is_beyond = holding->call->in->made_part == MUTA_NO_PART ||
                               (is_above ? semitones >= edge : semitones <= edge);
        if (semitones >= low && semitones <= high && abs(semitones - edge) <= AN_OCTAVE &&
            is_beyond)
            try_pitch(holding, pitch, on);
    }
}

static int32_t tonic_of(const muta_passage *in)
{
    muta_key key = {0, MUTA_MAJOR};

    (void)muta_passage_key(in, &key);
    return key.fifths + (muta_mode_is_minor(key.mode) ? 3 : 0);
}

/* The tonic and the dominant of a key that is heard. */
static void try_key(struct holding *holding, int32_t tonic)
{
    const muta_axis *const on = &holding->args->on;

    if (on->is_pitch) {
        const struct degree degree = {muta_pitch_fifths(on->pitch), 0};
        try_pitch(holding, on->pitch, &degree);
        return;
    }
    if (on->choice != ON_DOMINANT)
        try_octaves(holding, &(struct degree){tonic, 0});
    if (on->choice != ON_TONIC)
        try_octaves(holding, &(struct degree){tonic, 1});
}

/* In the key of the end first: of equals that stays. */
static void find_stretch(struct holding *holding)
{
    const muta_passage *const in = holding->call->in;
    uint64_t tried = 0; /* a bit for each tonic */

    if (in->chord_count == 0)
        try_key(holding, tonic_of(in));
    for (size_t i = in->chord_count; i > 0; i--) {
        const int32_t tonic = in->chords[i - 1].tonic;
        const uint64_t bit = (uint64_t)1 << (unsigned)((tonic + 32) & 63);
        if (!(tried & bit))
            try_key(holding, tonic);
        tried |= bit;
    }
}

/* Whether a phrase of the tune ends in a bar. */
static bool closes_in(const muta_passage *in, const struct bar *bar)
{
    const muta_texture textures[] = {muta_passage_work(in), muta_passage_context(in)};

    for (size_t i = 0; i < MUTA_LENGTH(textures); i++)
        for (size_t j = 0; j < textures[i].event_count; j++) {
            const muta_event *const event = &textures[i].events[j];
            if (event->closes && event->tone_count > 0 && textures[i].tones[event->tone].is_tune &&
                muta_fraction_compare(event->onset, bar->from) >= 0 &&
                muta_fraction_compare(event->onset, bar->to) < 0)
                return true;
        }
    return false;
}

/* The bars behind a pick-up, up to where the last tone ends. */
static muta_status find_bars(struct holding *holding)
{
    const muta_passage *const in = holding->call->in;
    const muta_fraction length = last_sound(in);
    muta_beat beat;

    muta_passage_beat_at(in, MUTA_ZERO, &beat);
    for (muta_fraction at = beat.is_pickup ? beat.end : MUTA_ZERO;
         muta_fraction_compare(at, length) < 0;) {
        struct bar *const bar = MUTA_PUSH(&holding->arena, &holding->bars);
        if (!bar)
            return MUTA_E_MEMORY;
        muta_passage_beat_at(in, at, &beat);
        const bool goes_on = muta_fraction_compare(beat.end, at) > 0;
        *bar = (struct bar){at, goes_on ? muta_fraction_min(beat.end, length) : length, false};
        bar->closes = closes_in(in, bar);
        at = bar->to;
    }
    return MUTA_OK;
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

/* A voice of its own, behind those that are there and those that were made. */
static muta_status begin_line(struct holding *holding)
{
    muta_passage *const out = holding->call->out;
    size_t nth = muta_score_voice_count(out->score, holding->part, holding->staff);

    for (size_t i = 0; i < out->voices.count; i++)
        nth += out->voices.at[i].part == holding->part && out->voices.at[i].staff == holding->staff;
    return muta_passage_begin_new_line(out, holding->part, holding->staff, (uint32_t)nth);
}

static muta_status strike(struct holding *holding)
{
    const struct stretch *const stretch = &holding->stretch;
    const muta_fraction length = holding->bars.at[stretch->end - 1].to;
    muta_fraction end;

    MUTA_TRY(begin_line(holding));
    muta_passage_turn_stems(holding->call->out, holding->args->at == AT_ABOVE ? 1 : -1);
    for (muta_fraction at = holding->bars.at[stretch->first].from;
         muta_fraction_compare(at, length) < 0; at = end) {
        end = muta_fraction_min(end_of_stroke(holding, at), length);
        const muta_fraction to = lasts_to(holding, stretch->pitch, at, end);
        /* What had to be left is taken up with the next bar. */
        if (muta_fraction_compare(to, end) < 0) {
            muta_beat beat;
            muta_passage_beat_at(holding->call->in, to, &beat);
            if (muta_fraction_compare(beat.end, to) > 0)
                end = muta_fraction_min(end, beat.end);
        }
        if (muta_fraction_compare(to, at) > 0)
            MUTA_TRY(muta_passage_put_new(holding->call->out, at, muta_fraction_subtract(to, at),
                                          &stretch->pitch, 1));
    }
    return MUTA_OK;
}

/* Whether some chord of a bar has a tone. */
static bool is_borne(const struct holding *holding, const struct bar *bar, int32_t fifths)
{
    const muta_passage *const in = holding->call->in;

    for (size_t i = 0; i < in->chord_count; i++) {
        const muta_chord_row *const row = muta_chord_row_of(in->chords[i].value.kind);
        if (muta_fraction_compare(in->chords[i].to, bar->from) <= 0 ||
            muta_fraction_compare(in->chords[i].from, bar->to) >= 0)
            continue;
        for (uint8_t j = 0; j < row->count; j++)
            if (in->chords[i].value.root + row->fifths[j] == fifths)
                return true;
    }
    return false;
}

/* Where somebody wanted it, it is told what it clashes with. */
static void tell_clashes(const struct holding *holding)
{
    const int32_t fifths = muta_pitch_fifths(holding->stretch.pitch);
    size_t clashes = 0;

    for (size_t i = 0; i < holding->bars.count; i++)
        clashes += !is_borne(holding, &holding->bars.at[i], fifths);
    if (clashes > 0)
        muta_diag_add(holding->call->diags, MUTA_WARNING, MUTA_NOWHERE,
                      "in %zu of %zu bars the chords do not bear the pedal", clashes,
                      holding->bars.count);
}

static muta_status hold(struct holding *holding)
{
    MUTA_TRY(find_bars(holding));
    find_stretch(holding);
    if (holding->stretch.worth == 0)
        return MUTA_OK;
    if (holding->call->is_placed)
        tell_clashes(holding);
    return strike(holding);
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
    const muta_status status = hold(&holding);
    muta_arena_clear(&holding.arena);
    return status;
}

static bool needs_part(const void *args, const muta_passage *passage)
{
    uint32_t part;

    return !find_part(passage, ((const struct args *)args)->at == AT_ABOVE, &part);
}

const muta_pass muta_pass_pedal = {
    .name = "pedal",
    .group = "harmony",
    .summary =
        "a held or struck note in the lowest part that can play it, where the chords bear it",
    .keeps = "all that sounds already",
    MUTA_PARAMS(params, struct args),
    .where = MUTA_TUNE,
    .needs = MUTA_NEEDS_PITCH | MUTA_NEEDS_STUDY,
    .effect = MUTA_KEEPS_CHORDS,
    .answer = MUTA_MAY_FIND_NOTHING | MUTA_SELDOM_FITS,
    .needs_part = needs_part,
    .run = run,
};
