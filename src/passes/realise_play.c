/* realise_play.c: a pattern kept up over chords: what each hand, or player, strikes when. */
#include "passes/realising.h"
#include <stdlib.h>
#include <string.h>

/* What a stream plays next, not yet put. */
struct sounding {
    muta_fraction from;
    muta_fraction to;
    muta_stroke stroke;
    const muta_voiced *voiced;
};

/* The voices that are played, bit 0 the bass: a tune that is one of them plays its own. */
static unsigned own_voices(const struct muta_realising *realising)
{
    const unsigned all = (1U << realising->ensemble.count) - 1;

    if (!realising->tune)
        return all;
    return realising->is_tune_bass ? all & ~1U : all >> 1;
}

static muta_status put(struct muta_realising *realising, struct sounding *sounding)
{
    muta_pitch pitches[MUTA_VOICES];
    size_t count = 0;

    for (uint8_t i = 0; i < realising->ensemble.count; i++) {
        if (!(sounding->stroke.voices & own_voices(realising) & (1U << i)))
            continue;
        muta_pitch pitch = sounding->voiced->at[i];
        /* Two voices on one tone are one note. */
        if (count > 0 && muta_pitch_is_equal(pitches[count - 1], pitch))
            continue;
        if (i == 0 && sounding->stroke.is_low && pitch.place - 7 >= 11) /* G1 */
            pitch.place -= 7;
        pitches[count++] = pitch;
    }
    sounding->stroke.kind = MUTA_STROKE_REST;
    return count == 0 ? MUTA_OK
                      : muta_passage_put_new(realising->call->out, sounding->from,
                                             muta_fraction_subtract(sounding->to, sounding->from),
                                             pitches, count);
}

/* Whether a pattern goes on to the end of what it fills. */
static bool fills(const muta_pattern *pattern)
{
    return pattern->low.streams[0].goes_on;
}

static muta_fraction step_length(const struct muta_realising *realising,
                                 const muta_pattern *pattern, const muta_beat *beat,
                                 const struct muta_realise_span *over)
{
    switch (pattern->step) {
    case MUTA_STEP_BEAT:
        /* What fills a bar of simple metre fills each beat of a compound one. */
        return beat->is_compound && fills(pattern)
                   ? muta_fraction_divide(beat->beat, muta_fraction_of(3, 1))
                   : beat->beat;
    case MUTA_STEP_UNIT:
        return realising->args->unit;
    case MUTA_STEP_HALF:
        return muta_fraction_divide(realising->args->unit, muta_fraction_of(2, 1));
    case MUTA_STEP_CHORD:
    case MUTA_STEP_BAR:
        break;
    }
    return muta_fraction_subtract(over->to, over->from);
}

/* Where a statement of the pattern ends at the latest: with its bar, in compound metres its beat.
 */
static muta_fraction end_of_statement(const struct muta_realising *realising, const muta_beat *beat,
                                      muta_fraction at)
{
    const muta_pattern *const pattern = &realising->pattern;
    const bool by_beat = pattern->step == MUTA_STEP_UNIT || pattern->step == MUTA_STEP_HALF ||
                         (pattern->step == MUTA_STEP_BEAT && fills(pattern));

    if (!beat->is_compound || !by_beat)
        return beat->end;
    const muta_fraction beats =
        muta_fraction_divide(muta_fraction_subtract(at, beat->bar), beat->beat);
    return muta_fraction_min(
        beat->end, muta_fraction_add(
                       beat->bar, muta_fraction_scale(beat->beat, beats.top / beats.bottom + 1)));
}

/* How many steps it takes until all voices of a pattern were struck. */
static size_t steps_needed(const struct muta_realising *realising, const muta_pattern *pattern)
{
    const muta_stream *streams[3] = {NULL};
    uint8_t all = 0;
    uint8_t struck = 0;
    size_t steps = 0;

    if (realising->seats.seating == MUTA_SEATS_ONE_HAND)
        streams[0] = &pattern->one.streams[0];
    else
        for (uint8_t i = 0; i < 2; i++)
            streams[i] = i == 0 ? &pattern->low.streams[0] : &pattern->high.streams[0];
    for (size_t i = 0; streams[i]; i++)
        for (uint8_t j = 0; j < streams[i]->count; j++)
            all |= streams[i]->at[j].voices;
    for (; struck != all && steps < (size_t)MUTA_STROKES; steps++)
        for (size_t i = 0; streams[i]; i++)
            struck |= muta_stream_at(streams[i], steps)->voices;
    return steps;
}

/* Whether a stretch has room for the pattern; else its chord is struck whole. */
static bool has_room(const struct muta_realising *realising, const struct muta_realise_span *over,
                     muta_fraction step)
{
    const muta_fraction lasts = muta_fraction_subtract(over->to, over->from);
    const muta_fraction needs =
        muta_fraction_scale(step, (int64_t)steps_needed(realising, &realising->whole));

    return muta_fraction_compare(lasts, needs) >= 0;
}

/* One stream over a stretch of one chord. */
static muta_status play(struct muta_realising *realising, const muta_stream *stream,
                        const struct muta_realise_span *over, muta_fraction step,
                        const muta_voiced *voiced)
{
    struct sounding sounding = {.voiced = voiced};
    muta_fraction at = over->from;

    for (size_t nth = 0; muta_fraction_compare(at, over->to) < 0; nth++) {
        const muta_fraction end = muta_fraction_min(muta_fraction_add(at, step), over->to);
        const muta_stroke *const stroke = muta_stream_at(stream, nth);
        if (stroke->kind == MUTA_STROKE_HOLD && sounding.stroke.kind == MUTA_STROKE_STRIKE) {
            sounding.to = end;
        } else {
            if (sounding.stroke.kind == MUTA_STROKE_STRIKE)
                MUTA_TRY(put(realising, &sounding));
            sounding.stroke = *stroke;
            sounding.from = at;
            sounding.to = end;
        }
        at = end;
    }
    return sounding.stroke.kind == MUTA_STROKE_STRIKE ? put(realising, &sounding) : MUTA_OK;
}

/* The stream of a seat in a pattern. */
typedef const muta_stream *(*choose)(const muta_pattern *pattern, uint8_t nth);

static const muta_stream *low_stream(const muta_pattern *pattern, uint8_t nth)
{
    return nth < pattern->low.count ? &pattern->low.streams[nth] : NULL;
}

static const muta_stream *high_stream(const muta_pattern *pattern, uint8_t nth)
{
    return nth < pattern->high.count ? &pattern->high.streams[nth] : NULL;
}

static const muta_stream *one_stream(const muta_pattern *pattern, uint8_t nth)
{
    return nth < pattern->one.count ? &pattern->one.streams[nth] : NULL;
}

/* A chord ends at the latest where bars that stay begin or end. */
static muta_fraction end_of_chord(const struct muta_realising *realising, muta_fraction from,
                                  muta_fraction to)
{
    const struct muta_realise_bar *const last = realising->bars.at + realising->bars.count;

    for (const struct muta_realise_bar *bar = muta_realise_bar_at(realising, from);
         bar < last && muta_fraction_compare(bar->to, to) < 0; bar++)
        if (muta_realise_stays(realising, bar->to) != muta_realise_stays(realising, from))
            return bar->to;
    return to;
}

/* A stream over all chords, bar by bar where its pattern goes by bars; the end is held. */
static muta_status play_all(struct muta_realising *realising, choose stream_of, uint8_t nth)
{
    const bool is_choir = strcmp(realising->args->as, "chorale") == 0;

    for (size_t i = 0; i < realising->spans.count; i++) {
        struct muta_realise_span over = realising->spans.at[i];
        while (muta_fraction_compare(over.from, realising->spans.at[i].to) < 0) {
            muta_beat beat;
            muta_passage_beat_at(realising->call->in, over.from, &beat);
            over.to = realising->pattern.step == MUTA_STEP_CHORD
                          ? end_of_chord(realising, over.from, realising->spans.at[i].to)
                          : muta_fraction_min(realising->spans.at[i].to,
                                              end_of_statement(realising, &beat, over.from));
            /* A pick-up is the tune's, if nobody wrote a chord over it. */
            const bool rests =
                beat.is_pickup && !is_choir && !realising->spans.at[i].chord->is_written;
            if (rests)
                over.to = muta_fraction_min(over.to, beat.end);
            /* A bar that can only be guessed has no end. */
            if (muta_fraction_compare(over.to, over.from) <= 0)
                over.to = realising->spans.at[i].to;
            const bool ends = realising->ends && i + 1 == realising->spans.count &&
                              muta_fraction_compare(over.to, realising->spans.at[i].to) >= 0;
            const muta_fraction step = step_length(realising, &realising->whole, &beat, &over);
            const muta_pattern *const pattern =
                ends || !has_room(realising, &over, step) ? &realising->held : &realising->pattern;
            const muta_stream *stream = stream_of(pattern, nth);
            if (stream && !muta_realise_stays(realising, over.from) && !rests)
                MUTA_TRY(play(realising, stream, &over,
                              step_length(realising, pattern, &beat, &over),
                              &realising->voiced[i]));
            over.from = over.to;
        }
    }
    return MUTA_OK;
}

/* Whether a line of the answer is one that goes on, or was begun here. */
static bool is_in_use(const struct muta_realising *realising, size_t nth)
{
    return nth >= realising->work.line_count ||
           !muta_seats_have(&realising->seats, &realising->work.lines[nth]);
}

/* Begins a line at a seat, in the first voice of its staff that no kept line has. */
static muta_status begin_line(struct muta_realising *realising, const muta_seat *seat)
{
    muta_passage *const out = realising->call->out;

    for (uint32_t nth = 0;; nth++) {
        uint32_t voice;
        bool is_taken = false;
        MUTA_TRY(muta_passage_take_voice(out, seat->part, seat->staff, nth, &voice));
        for (size_t i = 0; i < out->work.lines.count; i++)
            is_taken =
                is_taken || (out->work.lines.at[i].part == seat->part &&
                             out->work.lines.at[i].voice == voice && is_in_use(realising, i));
        if (!is_taken)
            return muta_passage_begin_new_line(out, seat->part, seat->staff, nth);
    }
}

/* Whether a stream strikes a voice that is played here: the tune plays its own. */
static bool plays(const struct muta_realising *realising, const muta_stream *stream)
{
    for (uint8_t i = 0; stream && i < stream->count; i++)
        if (stream->at[i].voices & own_voices(realising))
            return true;
    return false;
}

static muta_status play_hand(struct muta_realising *realising, const muta_seat *seat,
                             choose stream_of)
{
    const bool several = plays(realising, stream_of(&realising->pattern, 0)) &&
                         plays(realising, stream_of(&realising->pattern, 1));

    for (uint8_t nth = 0; nth < (uint8_t)MUTA_STREAMS; nth++) {
        if (!plays(realising, stream_of(&realising->pattern, nth)))
            continue;
        MUTA_TRY(begin_line(realising, seat));
        if (several)
            muta_passage_turn_stems(realising->call->out, nth == 0 ? 1 : -1);
        MUTA_TRY(play_all(realising, stream_of, nth));
    }
    return MUTA_OK;
}

/* The strokes of a player, who has one voice: those that strike it. */
static muta_stream stream_for(const muta_stream *stream, uint8_t voice)
{
    muta_stream own = *stream;

    for (uint8_t i = 0; i < own.count; i++) {
        const bool strikes = own.at[i].voices & (1U << voice);
        if (own.at[i].kind == MUTA_STROKE_STRIKE && !strikes)
            own.at[i].kind = MUTA_STROKE_REST;
        own.at[i].voices = (uint8_t)(strikes ? 1U << voice : 0U);
        own.at[i].is_low = own.at[i].is_low && voice == 0;
    }
    return own;
}

static bool strikes(const muta_stream *stream, uint8_t voice)
{
    for (uint8_t i = 0; i < stream->count; i++)
        if (stream->at[i].voices & (1U << voice))
            return true;
    return false;
}

/* The stream of either hand that strikes a voice; the high hand's first when none does. */
static const muta_stream *stream_of_voice(const muta_pattern *pattern, uint8_t voice)
{
    const muta_hand *const hands[] = {&pattern->low, &pattern->high};

    for (size_t i = 0; i < MUTA_LENGTH(hands); i++)
        for (uint8_t j = 0; j < hands[i]->count; j++)
            if (strikes(&hands[i]->streams[j], voice))
                return &hands[i]->streams[j];
    return &pattern->high.streams[0];
}

/* Whether the high hand plays one tone after another: a figure, which one player takes. */
static bool is_figure(const muta_pattern *pattern)
{
    bool figure = false;

    for (uint8_t i = 0; i < pattern->high.streams[0].count; i++) {
        const uint8_t voices = pattern->high.streams[0].at[i].voices;
        if (voices & (uint8_t)(voices - 1))
            return false;
        figure = figure || voices;
    }
    return figure && pattern->high.count == 1;
}

enum {
    FULL_FIGURE = 4 /* players, from which on each tone of a figure has its own voice */
};

/* A figure over as many upper voices as there are: over two it goes to and fro. */
static muta_stream fit_figure(const muta_stream *figure, uint8_t players)
{
    muta_stream own = *figure;
    unsigned nth = 0;

    for (uint8_t i = 0; i < own.count && players < FULL_FIGURE; i++)
        if (own.at[i].kind == MUTA_STROKE_STRIKE)
            own.at[i].voices = (uint8_t)(1U << (1 + (players > 2 ? nth++ % 2 : 0)));
    return own;
}

/* What one player of several does: the lowest the low hand's, the highest a figure whole. */
static muta_pattern pattern_for(const muta_pattern *whole, const muta_pattern *block, uint8_t voice,
                                uint8_t players)
{
    const bool figure = is_figure(whole) && players > 1;
    const bool is_top = voice + 1 == players && voice > 0;
    muta_pattern own = figure && !is_top && voice > 0 ? *block : *whole;

    own.high.streams[0] = figure && is_top ? fit_figure(&whole->high.streams[0], players)
                                           : stream_for(stream_of_voice(&own, voice), voice);
    own.high.count = 1;
    return own;
}

static muta_status play_players(struct muta_realising *realising)
{
    const muta_pattern whole = realising->pattern;
    const muta_pattern held = realising->held;
    const uint8_t players = realising->seats.count;
    muta_pattern block;

    if (!muta_pattern_find("block", &block))
        return MUTA_E_FAULT;
    for (uint8_t i = 0; i < players; i++) {
        realising->pattern = pattern_for(&whole, &block, i, players);
        realising->held = pattern_for(&held, &block, i, players);
        MUTA_TRY(begin_line(realising, &realising->seats.at[i]));
        MUTA_TRY(play_all(realising, high_stream, 0));
    }
    return MUTA_OK;
}

muta_status muta_realise_play(struct muta_realising *realising)
{
    switch (realising->seats.seating) {
    case MUTA_SEATS_TWO_HANDS:
        MUTA_TRY(play_hand(realising, &realising->seats.at[1], high_stream));
        return play_hand(realising, &realising->seats.at[0], low_stream);
    case MUTA_SEATS_ONE_HAND:
        return play_hand(realising, &realising->seats.at[0], one_stream);
    case MUTA_SEATS_PLAYERS:
        break;
    }
    return play_players(realising);
}
