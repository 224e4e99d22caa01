/* ground.c: keeps the bass, or the chords, and loops them; or brings a historic ground. */
#include "theory/ground.h"
#include "passes/chain.h"
#include "passes/discant.h"
#include "passes/pass.h"
#include "score/texture.h"
#include "study/study.h"
#include "theory/table.h"
#include <stdlib.h>
#include <string.h>

struct args {
    const char *from;
    int64_t times;
    const char *above;
};

static const muta_param params[] = {
    MUTA_ARG_WORD(struct args, from, "chords",
                  "bass, chords, or the name of a historic ground (shared/grounds.txt)"),
    MUTA_ARG_COUNT(struct args, times, "4", 1, 64, "rounds", "how often it goes round"),
    MUTA_ARG_TEXT(struct args, above,
                  "chains for what is laid over each round, parted by ; the last goes on"),
};

enum {
    CHAINS = 64
};

struct grounding {
    const muta_call *call;
    const struct args *args;
    muta_texture work;
    muta_arena arena;
    muta_chain *chains[CHAINS];
    size_t chain_count;
    bool is_named;
    bool is_alone; /* a tune with nothing below: a named ground gets a part of its own */
    muta_ground ground;
    const muta_line *tune;
    const muta_line *bass;
    MUTA_VEC(muta_fraction) bars; /* where each begins behind a pick-up, and the end of the last */
    MUTA_VEC(size_t) sounding;    /* those in which the tune is heard, over a named ground */
    muta_fraction bar;            /* the length of a full one */
    muta_fraction pickup;         /* what stands before the first down-beat */
    muta_fraction round;          /* of the passage, the pick-up with it */
    MUTA_VEC(muta_passage_chord) chords; /* of all rounds */
    MUTA_VEC(uint32_t) rows;             /* of the time map: the first of each round */
    size_t stayed; /* tones of the tune over a named ground that are what they were, */
    size_t led;    /* of so many */
};

/* ---- what was asked for ---- */

static bool is_word(const char *from, const char *word)
{
    return strcmp(from, word) == 0;
}

static muta_status refuse(const struct grounding *grounding)
{
    char names[400];
    char name[MUTA_TABLE_NAME];
    const char *const nearest = muta_table_nearest(muta_table_grounds, grounding->args->from, name);

    if (nearest)
        muta_diag_add(grounding->call->diags, MUTA_ERROR, MUTA_NOWHERE,
                      "from=%.60s is not known; did you mean from=%s?", grounding->args->from,
                      nearest);
    else
        muta_diag_add(grounding->call->diags, MUTA_ERROR, MUTA_NOWHERE,
                      "from=%.60s is not known; there are bass, chords, %s", grounding->args->from,
                      muta_table_names(muta_table_grounds, names, sizeof names));
    return MUTA_E_USAGE;
}

/* The chains of `above`, with single quotes for double ones. */
static muta_status read_chains(struct grounding *grounding)
{
    const char *at = grounding->args->above;
    char text[512];

    while (at && *at) {
        const size_t length = strcspn(at, ";");
        if (grounding->chain_count == CHAINS) {
            muta_diag_add(grounding->call->diags, MUTA_ERROR, MUTA_NOWHERE,
                          "above= takes %d chains at most", CHAINS);
            return MUTA_E_USAGE;
        }
        if (length >= sizeof text) {
            muta_diag_add(grounding->call->diags, MUTA_ERROR, MUTA_NOWHERE,
                          "a chain of above= is too long; shorten it");
            return MUTA_E_USAGE;
        }
        memcpy(text, at, length);
        text[length] = '\0';
        for (char *quote = text; (quote = strchr(quote, '\''));)
            *quote = '"';
        at += length + (at[length] == ';');
        MUTA_TRY(muta_chain_parse(text + strspn(text, " "),
                                  &grounding->chains[grounding->chain_count],
                                  grounding->call->diags));
        grounding->chain_count++;
    }
    return MUTA_OK;
}

static const muta_chain *chain_of(const struct grounding *grounding, int64_t round)
{
    const size_t last = grounding->chain_count - 1;

    return grounding->chain_count == 0
               ? NULL
               : grounding->chains[(size_t)round < last ? (size_t)round : last];
}

/* ---- bars and rounds ---- */

static muta_status push_bar(struct grounding *grounding, muta_fraction at)
{
    muta_fraction *const bar = MUTA_PUSH(&grounding->arena, &grounding->bars);

    if (!bar)
        return MUTA_E_MEMORY;
    *bar = at;
    return MUTA_OK;
}

/* The bars of the passage; the last may be short, where the first is a pick-up. */
static muta_status find_bars(struct grounding *grounding)
{
    const muta_passage *const in = grounding->call->in;
    const muta_fraction length = muta_passage_length(in);
    muta_fraction at = MUTA_ZERO;
    muta_beat beat;

    muta_passage_beat_at(in, at, &beat);
    grounding->pickup = beat.bar.top < 0 ? beat.end : MUTA_ZERO;
    if (muta_fraction_compare(grounding->pickup, length) >= 0)
        grounding->pickup = MUTA_ZERO;
    grounding->bar = length;
    for (at = grounding->pickup; muta_fraction_compare(at, length) < 0;) {
        MUTA_TRY(push_bar(grounding, at));
        muta_passage_beat_at(in, at, &beat);
        if (grounding->bars.count == 1)
            grounding->bar = muta_fraction_subtract(beat.end, at);
        at = muta_fraction_compare(beat.end, at) > 0 ? beat.end : length;
    }
    return push_bar(grounding, length);
}

/* Where the nth bar begins, from 0; behind the passage go full ones, and where all parts are in it
 * its last bar is filled up first. */
static muta_fraction bar_at(const struct grounding *grounding, size_t nth)
{
    const bool is_filled =
        grounding->bars.count > 1 && muta_passage_has_own_grid(grounding->call->in);
    const size_t last = grounding->bars.count - 1 - is_filled;

    if (nth <= last)
        return grounding->bars.at[nth];
    return muta_fraction_add(grounding->bars.at[last],
                             muta_fraction_scale(grounding->bar, (int64_t)(nth - last)));
}

/* Where a round begins: of a named ground its first down-beat, of the passage its pick-up. */
static muta_fraction round_at(const struct grounding *grounding, int64_t round)
{
    return grounding->is_named ? bar_at(grounding, (size_t)round * grounding->ground.bars)
                               : muta_fraction_scale(grounding->round, round);
}

/* ---- a named ground ---- */

/* The tonic where the passage begins, as it is heard, on the line of fifths. */
static int32_t find_tonic(const struct grounding *grounding)
{
    const muta_passage *const in = grounding->call->in;
    muta_key key = {0, MUTA_MAJOR};

    if (in->chord_count > 0)
        return in->chords[0].tonic;
    (void)muta_passage_key(in, &key);
    return key.fifths + (key.mode == MUTA_MINOR ? 3 : 0);
}

/* Where a part of a bar begins: of two, the second comes late in triple time. */
static muta_fraction place_in_bar(const muta_beat *beat, muta_fraction length, uint8_t part,
                                  uint8_t parts)
{
    const muta_fraction beats = muta_fraction_divide(length, beat->beat);

    if (part == 0)
        return MUTA_ZERO;
    if (beats.bottom == 1 && beats.top % parts != 0 && beats.top > parts)
        return muta_fraction_scale(beat->beat, beats.top - (parts - part));
    return muta_fraction_multiply(length, muta_fraction_of(part, parts));
}

static muta_status add_chord(struct grounding *grounding, const muta_ground_chord *from, size_t bar,
                             int32_t tonic)
{
    muta_passage_chord *const chord = MUTA_PUSH(&grounding->arena, &grounding->chords);
    const muta_fraction at = bar_at(grounding, bar);
    const muta_fraction length = muta_fraction_subtract(bar_at(grounding, bar + 1), at);
    muta_beat beat;

    if (!chord)
        return MUTA_E_MEMORY;
    muta_passage_beat_at(grounding->call->in, at, &beat);
    *chord = (muta_passage_chord){
        .from = muta_fraction_add(at, place_in_bar(&beat, length, from->part, from->parts)),
        .to = bar_at(grounding, bar + 1),
        .value = from->value,
        .tonic = tonic,
        /* The ground has its own mode on the tonic. */
        .is_minor =
            grounding->ground.chords[0].value.kind == MUTA_CHORD_MINOR ||
            grounding->ground.chords[grounding->ground.count - 1].value.kind == MUTA_CHORD_MINOR};
    chord->value.root += tonic;
    if (grounding->chords.count > 1)
        chord[-1].to = chord->from;
    muta_numeral_set(chord);
    return MUTA_OK;
}

/* A named ground in the key and metre of the passage: a bar a bar. */
static muta_status lay_ground(struct grounding *grounding)
{
    const int32_t tonic = find_tonic(grounding);

    for (int64_t round = 0; round < grounding->args->times; round++)
        for (size_t i = 0; i < grounding->ground.count; i++)
            MUTA_TRY(add_chord(
                grounding, &grounding->ground.chords[i],
                (size_t)round * grounding->ground.bars + grounding->ground.chords[i].bar, tonic));
    return MUTA_OK;
}

/* The chords of the passage as they go round. */
static muta_status take_chords(struct grounding *grounding)
{
    muta_passage_chord *chords;
    size_t count;

    MUTA_TRY(muta_passage_list_chords(grounding->call->in, &grounding->arena, &chords, &count));
    for (int64_t round = 0; round < grounding->args->times; round++)
        for (size_t i = 0; i < count; i++) {
            const muta_fraction onset = round_at(grounding, round);
            muta_passage_chord *const last =
                grounding->chords.count ? &grounding->chords.at[grounding->chords.count - 1] : NULL;
            muta_passage_chord chord = chords[i];
            chord.from = muta_fraction_add(chord.from, onset);
            chord.to = muta_fraction_add(chord.to, onset);
            if (last && muta_fraction_compare(chord.from, last->to) < 0)
                chord.from = last->to;
            if (muta_fraction_compare(chord.from, chord.to) >= 0)
                continue;
            muta_passage_chord *const added = MUTA_PUSH(&grounding->arena, &grounding->chords);
            if (!added)
                return MUTA_E_MEMORY;
            *added = chord;
        }
    return MUTA_OK;
}

/* ---- rounds ---- */

/* The tone of the bass nearest to the one before; the line keeps to the middle of its range. */
static muta_pitch bass_pitch(int32_t fifths, muta_pitch before, int middle)
{
    muta_pitch best = muta_fifths_pitch(fifths, 2);
    int least = INT32_MAX;

    for (int octave = 1; octave <= 5; octave++) {
        const muta_pitch pitch = muta_fifths_pitch(fifths, octave);
        const int cost = 2 * abs(muta_pitch_semitones(pitch) - muta_pitch_semitones(before)) +
                         abs(muta_pitch_semitones(pitch) - middle);
        if (cost >= least)
            continue;
        least = cost;
        best = pitch;
    }
    return best;
}

/* How high a line lies on average, in semitones. */
static int middle_of(const struct grounding *grounding, const muta_line *line)
{
    int64_t sum = 0;

    for (uint32_t i = line->event; i < line->event + line->event_count; i++)
        sum += muta_pitch_semitones(muta_texture_top(&grounding->work, i)->pitch);
    return line->event_count ? (int)(sum / line->event_count) : 36;
}

/* The chords of a round of a named ground as a bass, at the end of the line that was begun last. */
static muta_status put_ground(struct grounding *grounding, muta_passage *to, int64_t round,
                              muta_fraction from, int middle)
{
    const size_t count = grounding->ground.count;
    muta_pitch before = {middle * 7 / 12, 0};

    for (size_t i = (size_t)round * count; i < (size_t)(round + 1) * count; i++) {
        const muta_passage_chord *const chord = &grounding->chords.at[i];
        const int32_t fifths =
            chord->value.root + muta_chord_row_of(chord->value.kind)->fifths[chord->value.bass];
        before = bass_pitch(fifths, before, middle);
        MUTA_TRY(muta_passage_put_new(to, muta_fraction_subtract(chord->from, from),
                                      muta_fraction_subtract(chord->to, chord->from), &before, 1));
        muta_event *const event = &muta_passage_events(to)[to->work.events.count - 1];
        event->level = MUTA_LEVEL_BAR;
        event->depth = 1;
        event->closes = i + 1 == (size_t)(round + 1) * count;
    }
    return MUTA_OK;
}

/* Whether an event is looped. */
static bool goes_round(const struct grounding *grounding, const muta_line *line, uint32_t event)
{
    const muta_event *const of = &grounding->work.events[event];
    const bool all = grounding->call->others != MUTA_OTHERS_REST;

    if (is_word(grounding->args->from, "chords") && !(line->is_tune && grounding->tune))
        return true;
    return all || grounding->work.tones[of->tone].is_bass ||
           (!grounding->bass && line == &grounding->work.lines[grounding->work.line_count - 1]);
}

/* One round of the passage: the first has everything but the tune, which what is laid over it has.
 */
static muta_status put_round(struct grounding *grounding, muta_passage *to, int64_t round)
{
    const muta_passage *const in = grounding->call->in;

    MUTA_TRY(muta_passage_begin(to, in));
    for (size_t i = 0; i < grounding->work.line_count; i++) {
        const muta_line *const line = &grounding->work.lines[i];
        if (grounding->chain_count > 0 && line == grounding->tune)
            continue;
        MUTA_TRY(muta_passage_begin_line(to, in, i));
        for (uint32_t j = line->event; j < line->event + line->event_count; j++)
            if (round == 0 || goes_round(grounding, line, j))
                MUTA_TRY(muta_passage_put_event(to, in, j, grounding->work.events[j].onset,
                                                grounding->work.events[j].duration));
    }
    return muta_passage_settle(to);
}

/* About which a named ground goes: where the bass was, and well below the tune. */
static int bass_middle(const struct grounding *grounding)
{
    enum {
        MIDDLE = 36, /* C3 */
        BELOW = 19   /* semitones: an octave and a fifth */
    };
    const int middle = grounding->bass ? middle_of(grounding, grounding->bass) : MIDDLE;
    const int most = grounding->tune ? middle_of(grounding, grounding->tune) - BELOW : middle;

    return middle < most ? middle : most;
}

static muta_status add_round(struct grounding *grounding, int64_t round)
{
    uint32_t *const row = MUTA_PUSH(&grounding->arena, &grounding->rows);
    muta_passage *made;

    if (!row)
        return MUTA_E_MEMORY;
    *row = grounding->is_named ? 0 : (uint32_t)grounding->call->out->map.count;
    if (grounding->is_named)
        return grounding->is_alone ? MUTA_OK
                                   : put_ground(grounding, grounding->call->out, round, MUTA_ZERO,
                                                bass_middle(grounding));
    MUTA_TRY(muta_passage_new_like(grounding->call->in, &made));
    muta_status status = put_round(grounding, made, round);
    if (status == MUTA_OK)
        status = muta_passage_append_part(grounding->call->out, made, MUTA_ZERO,
                                          grounding->is_named || round + 1 == grounding->args->times
                                              ? made->length
                                              : muta_fraction_min(made->length, grounding->round),
                                          round_at(grounding, round), NULL);
    muta_passage_free(made);
    return status;
}

/* ---- what is laid over them ---- */

static muta_status begin_upper(struct grounding *grounding, muta_passage *upper)
{
    const muta_passage *const in = grounding->call->in;

    MUTA_TRY(muta_passage_begin(upper, in));
    if (grounding->tune)
        return muta_passage_begin_line(upper, in,
                                       (size_t)(grounding->tune - grounding->work.lines));
    return muta_passage_begin_new_line(
        upper, in->made_part == MUTA_NO_PART ? grounding->work.lines[0].part : in->made_part, 1, 0);
}

/* The chords of a round, from its start. */
static muta_status take_lap_chords(struct grounding *grounding, muta_passage *upper,
                                   muta_fraction from)
{
    MUTA_VEC(muta_passage_chord) own = {0};

    for (size_t i = 0; i < grounding->chords.count; i++) {
        muta_passage_chord chord = grounding->chords.at[i];
        chord.from = muta_fraction_subtract(chord.from, from);
        chord.to = muta_fraction_subtract(chord.to, from);
        if (chord.to.top <= 0 || muta_fraction_compare(chord.from, upper->length) >= 0)
            continue;
        muta_passage_chord *const added = MUTA_PUSH(&grounding->arena, &own);
        if (!added)
            return MUTA_E_MEMORY;
        *added = chord;
    }
    return muta_passage_set_chords(upper, own.at, own.count);
}

/* Whether the tune sounds between two moments. */
static bool is_heard(const struct grounding *grounding, muta_fraction from, muta_fraction to)
{
    const muta_event *const events = grounding->work.events;
    const muta_line *const tune = grounding->tune;

    for (uint32_t i = tune->event; i < tune->event + tune->event_count; i++)
        if (muta_texture_is_plain(&grounding->work, i) &&
            muta_fraction_compare(events[i].onset, to) < 0 &&
            muta_fraction_compare(muta_fraction_add(events[i].onset, events[i].duration), from) > 0)
            return true;
    return false;
}

/* Over a ground the tune does not wait: the bars of its rests are left out. */
static muta_status find_sounding(struct grounding *grounding)
{
    for (size_t i = 0; grounding->tune && i + 1 < grounding->bars.count; i++) {
        if (!is_heard(grounding, grounding->bars.at[i], grounding->bars.at[i + 1]))
            continue;
        size_t *const bar = MUTA_PUSH(&grounding->arena, &grounding->sounding);
        if (!bar)
            return MUTA_E_MEMORY;
        *bar = i;
    }
    return MUTA_OK;
}

/* The tune over a round of a named ground: its bars go on from round to round. */
static muta_status put_discant(struct grounding *grounding, muta_passage *upper, int64_t round)
{
    const size_t count = grounding->ground.bars;
    const size_t own = grounding->sounding.count;
    muta_discant_bar *const bars = muta_arena_take_array(&grounding->arena, count, sizeof *bars);
    size_t stayed;
    size_t led;

    if (own == 0)
        return MUTA_OK;
    if (!bars)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < count; i++) {
        const size_t nth = (size_t)round * count + i;
        bars[i] = (muta_discant_bar){bar_at(grounding, nth), bar_at(grounding, nth + 1),
                                     grounding->bars.at[grounding->sounding.at[nth % own]]};
    }
    const muta_discant discant = {.in = grounding->call->in,
                                  .tune = grounding->tune,
                                  .bars = bars,
                                  .bar_count = count,
                                  .chords = grounding->chords.at,
                                  .chord_count = grounding->chords.count,
                                  .from = round_at(grounding, round),
                                  .ends = round + 1 == grounding->args->times};
    MUTA_TRY(muta_discant_put(&discant, upper, &stayed, &led));
    grounding->stayed += stayed;
    grounding->led += led;
    return MUTA_OK;
}

/* What is laid over a round before its chain: the tune, led over the chords of a named ground;
 * where there is none, that ground itself, higher. */
static muta_status put_upper(struct grounding *grounding, muta_passage *upper, int64_t round)
{
    const muta_line *const tune = grounding->tune;
    const muta_fraction from = round_at(grounding, round);

    MUTA_TRY(begin_upper(grounding, upper));
    upper->length = muta_fraction_subtract(
        grounding->is_named ? round_at(grounding, round + 1)
                            : muta_fraction_add(from, muta_passage_length(grounding->call->in)),
        from);
    if (grounding->is_named)
        MUTA_TRY(tune ? put_discant(grounding, upper, round)
                      : put_ground(grounding, upper, round, from, 60));
    for (uint32_t i = tune ? tune->event : 0;
         !grounding->is_named && tune && i < tune->event + tune->event_count; i++)
        MUTA_TRY(muta_passage_put_event(upper, grounding->call->in, i,
                                        grounding->work.events[i].onset,
                                        grounding->work.events[i].duration));
    MUTA_TRY(take_lap_chords(grounding, upper, from));
    return muta_passage_settle(upper);
}

/* Puts what was laid over a round to it. Directions and symbols are stated by the round alone. */
static muta_status join(struct grounding *grounding, const muta_passage *varied,
                        muta_fraction length, int64_t round)
{
    muta_passage *const out = grounding->call->out;
    const size_t rows = out->map.count;
    const size_t first = out->work.events.count;

    MUTA_TRY(
        muta_passage_append_part(out, varied, MUTA_ZERO, length, round_at(grounding, round), NULL));
    out->map.count = rows;
    for (size_t i = first; i < out->work.events.count; i++)
        out->work.events.at[i].written.statement = grounding->rows.at[round];
    return MUTA_OK;
}

static muta_status lay_above(struct grounding *grounding, int64_t round)
{
    const muta_chain *const chain = chain_of(grounding, round);
    muta_passage *upper;
    muta_passage *varied;

    if (!chain && !(grounding->is_named && grounding->tune))
        return MUTA_OK;
    MUTA_TRY(muta_passage_new_like(grounding->call->in, &upper));
    muta_status status = put_upper(grounding, upper, round);
    if (status == MUTA_OK && !chain)
        status = join(grounding, upper, upper->length, round);
    else if (status == MUTA_OK)
        status =
            muta_chain_apply(chain, upper, grounding->call->seed, &varied, grounding->call->diags);
    if (status == MUTA_OK && chain) {
        status = join(grounding, varied, muta_fraction_min(varied->length, upper->length), round);
        muta_passage_free(varied);
    }
    muta_passage_free(upper);
    return status;
}

/* ---- the pass ---- */

/* A tune with nothing below it, under which a named ground comes. */
static bool is_tune_alone(const muta_passage *in)
{
    const muta_texture work = muta_passage_work(in);
    const muta_line *const line = muta_line_alone(in);

    return line && in->made_part != MUTA_NO_PART && !muta_lies_low(&work, line);
}

/* A named ground has the bass's line, or the last one's. */
static muta_status begin_named(struct grounding *grounding)
{
    const muta_line *const line =
        grounding->bass ? grounding->bass : &grounding->work.lines[grounding->work.line_count - 1];

    MUTA_TRY(muta_passage_begin(grounding->call->out, grounding->call->in));
    grounding->call->out->says |= MUTA_SAYS_SYMBOLS;
    if (grounding->is_alone)
        return MUTA_OK;
    return muta_passage_begin_line(grounding->call->out, grounding->call->in,
                                   (size_t)(line - grounding->work.lines));
}

/* A named ground brings its signature, where it has the other mode on the tonic that is there. */
static muta_status sign_key(const struct grounding *grounding)
{
    const muta_passage_chord *const chord = &grounding->chords.at[0];
    muta_key key = {0, MUTA_MAJOR};
    muta_scale scale;

    if (!grounding->is_named || !muta_passage_key(grounding->call->in, &key) ||
        muta_mode_is_minor(key.mode) == chord->is_minor ||
        key.fifths + (muta_mode_is_minor(key.mode) ? 3 : 0) != chord->tonic ||
        !muta_scale_find(chord->is_minor ? "natural-minor" : "major", &scale))
        return MUTA_OK;
    return muta_passage_recast_keys(grounding->call->out, &scale, grounding->call->keys,
                                    grounding->call->diags);
}

static muta_status go_round(struct grounding *grounding)
{
    muta_passage *const out = grounding->call->out;
    const muta_fraction length = muta_passage_length(grounding->call->in);
    const int64_t times = grounding->args->times;

    MUTA_TRY(read_chains(grounding));
    MUTA_TRY(find_bars(grounding));
    grounding->round = muta_passage_round(grounding->call->in, MUTA_ZERO, length);
    MUTA_TRY(grounding->is_named ? lay_ground(grounding) : take_chords(grounding));
    if (grounding->is_named) {
        MUTA_TRY(find_sounding(grounding));
        MUTA_TRY(begin_named(grounding));
    }
    for (int64_t round = 0; round < times; round++)
        MUTA_TRY(add_round(grounding, round));
    for (int64_t round = 0; round < times; round++)
        MUTA_TRY(lay_above(grounding, round));
    if (grounding->led > 0)
        muta_diag_add(grounding->call->diags, MUTA_NOTE, MUTA_NOWHERE,
                      "%zu of the %zu tones of the tune over the ground are its own",
                      grounding->stayed, grounding->led);
    out->length = grounding->is_named ? muta_fraction_max(length, round_at(grounding, times))
                                      : muta_fraction_add(round_at(grounding, times - 1), length);
    MUTA_TRY(sign_key(grounding));
    return muta_passage_set_chords(out, grounding->chords.at, grounding->chords.count);
}

/* A named ground under a tune that stands alone is played by a keyboard, its chords with it. */
static muta_status accompany(struct grounding *grounding)
{
    const muta_call *const call = grounding->call;
    muta_call below = *call;
    muta_chain *chain = NULL;
    muta_passage *played = NULL;

    MUTA_TRY(muta_passage_new_like(call->in, &below.out));
    grounding->call = &below;
    muta_status status = go_round(grounding);
    if (status == MUTA_OK)
        status = muta_passage_settle(below.out);
    if (status == MUTA_OK)
        status = muta_chain_parse("realise", &chain, call->diags);
    if (status == MUTA_OK)
        status = muta_chain_apply(chain, below.out, call->seed, &played, call->diags);
    grounding->call = call;
    if (status == MUTA_OK) {
        muta_passage_number_behind(call->out, played);
        status = muta_passage_append(call->out, played, MUTA_ZERO, NULL);
    }
    if (status == MUTA_OK) {
        call->out->length = below.out->length;
        call->out->says |= MUTA_SAYS_SYMBOLS;
        status = sign_key(grounding);
    }
    if (status == MUTA_OK)
        status = muta_passage_set_chords(call->out, grounding->chords.at, grounding->chords.count);
    muta_passage_free(played);
    muta_chain_free(chain);
    muta_passage_free(below.out);
    return status;
}

static muta_status run(const muta_call *call)
{
    struct grounding grounding = {
        .call = call, .args = call->args, .work = muta_passage_work(call->in)};
    const char *const from = grounding.args->from;

    grounding.is_named = muta_ground_find(from, &grounding.ground);
    if (!grounding.is_named && !is_word(from, "bass") && !is_word(from, "chords"))
        return refuse(&grounding);
    if (grounding.work.line_count == 0)
        return MUTA_OK;
    grounding.tune = muta_texture_tune(&grounding.work);
    grounding.bass = muta_texture_bass(&grounding.work);
    if (grounding.tune == grounding.bass)
        grounding.tune = NULL;
    grounding.is_alone = grounding.is_named && is_tune_alone(call->in);
    if (grounding.is_alone) {
        grounding.tune = muta_line_alone(call->in);
        grounding.bass = NULL;
    }
    const muta_status status = grounding.is_alone ? accompany(&grounding) : go_round(&grounding);
    for (size_t i = 0; i < grounding.chain_count; i++)
        muta_chain_free(grounding.chains[i]);
    muta_arena_clear(&grounding.arena);
    return status;
}

/* What is laid over a ground that has no tune gets a part, and a named ground under a tune alone.
 */
static bool needs_part(const void *given, const muta_passage *passage)
{
    const struct args *const args = given;
    const muta_texture work = muta_passage_work(passage);
    const muta_line *const line = muta_line_alone(passage);
    muta_ground ground;

    return (args->above && muta_texture_tune(&work) == muta_texture_bass(&work)) ||
           (line && !muta_lies_low(&work, line) && muta_ground_find(args->from, &ground));
}

const muta_pass muta_pass_ground = {
    .name = "ground",
    .group = "harmony",
    .summary = "keeps the bass or the chords and loops them; or brings a historic ground",
    .keeps = "the bass, tone for tone, in each round",
    MUTA_PARAMS(params, struct args),
    .where = MUTA_EVERYTHING,
    .needs = MUTA_NEEDS_PITCH | MUTA_NEEDS_STUDY,
    .effect = MUTA_MOVES_TIME | MUTA_RESTATES | MUTA_CHANGES_LENGTH | MUTA_KEEPS_CHORDS,
    .needs_part = needs_part,
    .run = run,
};
