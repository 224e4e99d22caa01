/* realise.c: chords into notes: one accompaniment pattern kept up over the chords that stand, its
 * voices led by search. */
#include "passes/patterns.h"
#include "passes/seats.h"
#include <stdio.h>
#include <string.h>

struct args {
    const char *as;
    muta_fraction unit;
    const char *into;
    int given;
};

enum {
    GIVEN_AUTO,
    GIVEN_TUNE,
    GIVEN_BASS
};

static const char *const givens[] = {"auto", "tune", "bass", NULL};

static const muta_param params[] = {
    MUTA_ARG_NAME(struct args, as, "block", muta_table_patterns, "the pattern"),
    MUTA_ARG_DURATION(struct args, unit, "eighth", "the value of figures"),
    MUTA_ARG_TEXT(struct args, into,
                  "accompaniment, new, or an address; the accompaniment if there is one"),
    MUTA_ARG_CHOICE(struct args, given, "auto", givens,
                    "whether a line that stands alone is the tune or the bass; auto: as it lies"),
};

/* A chord with the time that it lasts. */
struct span {
    muta_fraction from;
    muta_fraction to;
    const muta_passage_chord *chord;
};

/* A bar of the passage. */
struct bar {
    muta_fraction from;
    muta_fraction to;
    muta_fraction tune;  /* how long the tune is in lines that go on, */
    muta_fraction there; /* and in those that are replaced */
    bool stays;          /* an interlude: what would be replaced has the tune */
};

struct realising {
    const muta_call *call;
    const struct args *args;
    muta_texture work;
    muta_arena arena;
    muta_pattern pattern;
    muta_pattern whole; /* the same, as all hands have it */
    muta_pattern held;  /* what ends the piece, or has no room for the pattern */
    bool ends;          /* the passage ends with the piece */
    muta_seats seats;
    muta_ensemble ensemble;
    const muta_line *tune; /* a line that goes on, as the highest voice or above them, */
    bool is_tune_bass;     /* or the only one, and low: then it is the bass */
    MUTA_VEC(struct bar) bars;
    MUTA_VEC(struct span) spans;
    muta_harmony_slot *slots; /* by span */
    muta_voiced *voiced;
};

/* ---- chords ---- */

static bool sounds_as(const muta_passage_chord *a, const muta_passage_chord *b)
{
    return a->root == b->root && a->kind == b->kind && a->bass == b->bass;
}

static muta_fraction earlier(muta_fraction a, muta_fraction b)
{
    return muta_fraction_compare(a, b) < 0 ? a : b;
}

/* A chord, parted where a repeat has its edge. */
static muta_status add_span(struct realising *realising, const muta_passage_chord *chord)
{
    for (muta_fraction at = chord->from; muta_fraction_compare(at, chord->to) < 0;) {
        const muta_fraction edge = muta_passage_stretch_end(realising->call->in, at);
        struct span *const span = MUTA_PUSH(&realising->arena, &realising->spans);
        if (!span)
            return MUTA_E_MEMORY;
        *span = (struct span){at, earlier(chord->to, edge), chord};
        if (muta_fraction_compare(edge, at) <= 0)
            span->to = chord->to;
        at = span->to;
    }
    return MUTA_OK;
}

/* The chords of the passage, those that are alike and follow each other as one. */
static muta_status find_spans(struct realising *realising)
{
    muta_passage_chord *chords;
    size_t count;

    MUTA_TRY(muta_passage_list_chords(realising->call->in, &realising->arena, &chords, &count));
    for (size_t i = 0; i < count; i++) {
        const muta_passage_chord *const chord = &chords[i];
        struct span *const last =
            realising->spans.count ? &realising->spans.at[realising->spans.count - 1] : NULL;
        const bool is_edge =
            last && muta_fraction_compare(muta_passage_stretch_end(realising->call->in, last->from),
                                          chord->from) <= 0;
        if (last && !is_edge && sounds_as(last->chord, chord) &&
            muta_fraction_compare(last->to, chord->from) == 0)
            last->to = chord->to;
        else
            MUTA_TRY(add_span(realising, chord));
    }
    return MUTA_OK;
}

/* ---- bars that stay ---- */

static muta_status find_bars(struct realising *realising)
{
    const muta_fraction length = realising->call->in->length;

    for (muta_fraction at = MUTA_ZERO; muta_fraction_compare(at, length) < 0;) {
        struct bar *const bar = MUTA_PUSH(&realising->arena, &realising->bars);
        muta_beat beat;
        if (!bar)
            return MUTA_E_MEMORY;
        muta_passage_beat_at(realising->call->in, at, &beat);
        const bool goes_on = muta_fraction_compare(beat.end, at) > 0;
        *bar = (struct bar){at, goes_on ? earlier(beat.end, length) : length, MUTA_ZERO, MUTA_ZERO,
                            false};
        at = bar->to;
    }
    return MUTA_OK;
}

/* The bar that holds a moment. */
static struct bar *bar_at(const struct realising *realising, muta_fraction at)
{
    size_t low = 0;
    size_t high = realising->bars.count;

    while (high - low > 1) {
        const size_t middle = low + (high - low) / 2;
        if (muta_fraction_compare(realising->bars.at[middle].from, at) <= 0)
            low = middle;
        else
            high = middle;
    }
    return &realising->bars.at[low];
}

/* A tone of the tune that is held sounds in every bar that it lasts through. */
static void sound_through(struct realising *realising, const muta_event *event)
{
    const muta_fraction end = muta_fraction_add(event->onset, event->duration);
    struct bar *const last = realising->bars.at + realising->bars.count;

    for (struct bar *bar = bar_at(realising, event->onset);
         bar < last && muta_fraction_compare(bar->from, end) < 0; bar++)
        if (bar->tune.top == 0)
            bar->tune = event->duration;
}

/* Where the tune is: an interlude of the accompaniment has it itself. */
static void weigh_bars(struct realising *realising)
{
    for (size_t i = 0; i < realising->work.tone_count; i++) {
        const muta_tone *const tone = &realising->work.tones[i];
        struct bar *const bar = bar_at(realising, realising->work.events[tone->event].onset);
        muta_fraction *const sum =
            muta_seats_have(&realising->seats, &realising->work.lines[tone->line]) ? &bar->there
                                                                                   : &bar->tune;
        if (tone->is_tune)
            *sum = muta_fraction_add(*sum, tone->duration);
    }
    for (uint32_t i = realising->tune ? realising->tune->event : 0;
         realising->tune && i < realising->tune->event + realising->tune->event_count; i++)
        sound_through(realising, &realising->work.events[i]);
}

/* Interludes stay: bars in which what would be replaced has the tune, and rests of the tune,
 * several bars long. */
static void find_interludes(struct realising *realising)
{
    enum {
        SEVERAL = 2
    };
    size_t silent = 0;

    for (size_t i = 0; i < realising->bars.count; i++) {
        struct bar *const bar = &realising->bars.at[i];
        silent = bar->tune.top == 0 && realising->tune ? silent + 1 : 0;
        bar->stays = muta_fraction_compare(bar->there, bar->tune) > 0;
        for (size_t j = 0; silent >= SEVERAL && j < silent; j++)
            bar[-(ptrdiff_t)j].stays = true;
    }
}

static bool stays(const struct realising *realising, muta_fraction at)
{
    return bar_at(realising, at)->stays;
}

/* ---- the tune above ---- */

enum {
    LOWEST_TUNE = 46 /* semitones: what lies below B flat 3 on average is a bass */
};

static const muta_line *find_tune(const muta_texture *work)
{
    for (size_t i = 0; i < work->line_count; i++)
        if (work->lines[i].is_tune && work->lines[i].event_count > 0)
            return &work->lines[i];
    return NULL;
}

/* Whether the line that goes on is the bass too, and lies as basses do. */
static bool is_bass(const struct realising *realising)
{
    const muta_line *const line = realising->tune;
    int64_t semitones = 0;

    if (!line->is_bass || realising->args->given != GIVEN_AUTO)
        return realising->args->given == GIVEN_BASS;
    for (uint32_t i = line->event; i < line->event + line->event_count; i++)
        semitones += muta_pitch_sound(muta_texture_top(&realising->work, i)->pitch) / MUTA_SEMITONE;
    return semitones < (int64_t)line->event_count * LOWEST_TUNE;
}

/* What the tune sounds at a moment, or sounded last; NULL before it begins. */
static const muta_tone *tune_at(const struct realising *realising, muta_fraction time)
{
    const muta_tone *found = NULL;

    for (uint32_t i = realising->tune->event;
         i < realising->tune->event + realising->tune->event_count; i++) {
        const muta_event *const event = &realising->work.events[i];
        if (muta_fraction_compare(event->onset, time) > 0)
            break;
        if (muta_texture_is_plain(&realising->work, i))
            found = muta_texture_top(&realising->work, i);
    }
    return found;
}

/* The lowest tone of the tune over a while, in semitones; 0 for none. */
static int16_t lowest_of_tune(const struct realising *realising, const struct span *span)
{
    int32_t lowest = 0;

    for (uint32_t i = realising->tune->event;
         i < realising->tune->event + realising->tune->event_count; i++) {
        const muta_event *const event = &realising->work.events[i];
        const muta_fraction end = muta_fraction_add(event->onset, event->duration);
        if (!muta_texture_is_plain(&realising->work, i) ||
            muta_fraction_compare(event->onset, span->to) >= 0 ||
            muta_fraction_compare(end, span->from) <= 0)
            continue;
        const int32_t semitones =
            muta_pitch_sound(realising->work.tones[event->tone].pitch) / MUTA_SEMITONE;
        lowest = lowest == 0 || semitones < lowest ? semitones : lowest;
    }
    return (int16_t)lowest;
}

/* Whether a tone of the tune sounds through a whole chord, so that its tone is there. */
static bool lasts_through(const struct realising *realising, const muta_tone *tone,
                          const struct span *span)
{
    const muta_event *const event = &realising->work.events[tone->event];

    return muta_fraction_compare(event->onset, span->from) <= 0 &&
           muta_fraction_compare(muta_fraction_add(event->onset, event->duration), span->to) >= 0;
}

static void hear_tune(const struct realising *realising, const struct span *span,
                      muta_harmony_slot *slot)
{
    const muta_tone *tone = tune_at(realising, span->from);
    const muta_tone *const later = tune_at(realising, span->to);

    tone = tone ? tone : later;
    if (!tone)
        return;
    if (realising->is_tune_bass) {
        slot->has_bottom = true;
        slot->bottom = tone->pitch;
        return;
    }
    slot->has_top = true;
    slot->top = tone->pitch;
    slot->top_lasts = lasts_through(realising, tone, span);
    slot->ceiling = lowest_of_tune(realising, span);
}

/* ---- who plays what ---- */

/* Natural tones by their place on the diatonic line. */
enum {
    C0 = 0,
    E2 = 16,
    F2 = 17,
    G2 = 18,
    C3 = 21,
    F3 = 24,
    G3 = 25,
    C4 = 28,
    D4 = 29,
    G4 = 32,
    A4 = 33,
    D5 = 36,
    G5 = 39,
    A5 = 40,
    C9 = 63
};

static void set_range(muta_ensemble *ensemble, uint8_t voice, int32_t low, int32_t high)
{
    ensemble->low[voice] = (muta_pitch){low, 0};
    ensemble->high[voice] = (muta_pitch){high, 0};
}

static uint8_t highest_voice(uint8_t voices)
{
    uint8_t count = 0;

    for (; voices; voices >>= 1)
        count++;
    return count;
}

/* The lowest and the highest voice that a stream strikes, from 0. */
static unsigned lowest_voice(const muta_stream *stream)
{
    uint8_t all = 0;
    unsigned voice = 0;

    for (uint8_t i = 0; i < stream->count; i++)
        all |= stream->at[i].voices;
    while (all && !(all & (1U << voice)))
        voice++;
    return voice;
}

static unsigned highest_of(const muta_stream *stream)
{
    uint8_t all = 0;

    for (uint8_t i = 0; i < stream->count; i++)
        all |= stream->at[i].voices;
    return all ? highest_voice(all) - 1U : 0;
}

/* Voices of a mixed choir. Source: the ranges of the textbooks of four-part writing. */
static void set_choir(muta_ensemble *ensemble)
{
    set_range(ensemble, 0, E2, D4);
    set_range(ensemble, 1, C3, G4);
    set_range(ensemble, 2, G3, D5);
    set_range(ensemble, 3, C4, A5);
    ensemble->count = 4;
}

static void set_two_hands(struct realising *realising)
{
    muta_ensemble *const ensemble = &realising->ensemble;
    const uint8_t low = highest_voice(realising->pattern.low.voices);

    ensemble->count = highest_voice(realising->pattern.low.voices | realising->pattern.high.voices);
    for (uint8_t i = 0; i < ensemble->count; i++)
        set_range(ensemble, i, i == 0 ? E2 : i < low ? C3 : G3, i == 0 ? C4 : i < low ? G4 : G5);
    ensemble->hand_from = low;
    ensemble->hand_to = ensemble->count;
}

static void set_one_hand(struct realising *realising)
{
    muta_ensemble *const ensemble = &realising->ensemble;
    bool leaps = false; /* the bass is struck alone, and the hand has time to move */

    for (uint8_t i = 0; i < realising->pattern.one.streams[0].count; i++)
        leaps = leaps || (realising->pattern.one.streams[0].at[i].voices == 1 &&
                          realising->pattern.step == MUTA_STEP_BEAT);
    ensemble->count = highest_voice(realising->pattern.one.voices);
    for (uint8_t i = 0; i < ensemble->count; i++)
        set_range(ensemble, i, i == 0 ? F2 : leaps ? F3 : G2, i == 0 ? C4 : A4);
    ensemble->hand_from = leaps ? 1 : 0;
    ensemble->hand_to = ensemble->count;
}

static void set_players(struct realising *realising)
{
    muta_ensemble *const ensemble = &realising->ensemble;

    ensemble->count = realising->seats.count;
    for (uint8_t i = 0; i < ensemble->count; i++) {
        ensemble->low[i] = realising->seats.at[i].low;
        ensemble->high[i] = ensemble->low[i];
        ensemble->high[i].place += 2 * 7 + 2; /* two octaves and a third: where it is easy */
    }
    ensemble->span = 0;
}

static void set_voices(struct realising *realising)
{
    muta_ensemble *const ensemble = &realising->ensemble;
    const bool is_choir = strcmp(realising->args->as, "chorale") == 0 &&
                          realising->seats.seating == MUTA_SEATS_TWO_HANDS;

    *ensemble = (muta_ensemble){.span = 12, .lean = 48};
    if (is_choir) {
        set_choir(ensemble);
        ensemble->span = 0;
        ensemble->lean = 80;
        return;
    }
    if (realising->seats.seating == MUTA_SEATS_TWO_HANDS)
        set_two_hands(realising);
    else if (realising->seats.seating == MUTA_SEATS_ONE_HAND)
        set_one_hand(realising);
    else
        set_players(realising);
    if (realising->tune && !realising->is_tune_bass) {
        set_range(ensemble, ensemble->count, C0, C9);
        ensemble->is_top_apart = true;
        ensemble->count++;
    }
}

/* Tune and bass do not both have the leading tone: then the root is the bass. */
static void spare_leading(muta_harmony_slot *slot)
{
    const int32_t bass = slot->root + muta_chord_row_of(slot->kind)->fifths[slot->bass];

    if (slot->has_top && bass == slot->leading && bass == muta_pitch_fifths(slot->top) &&
        slot->bass > 0)
        slot->bass = 0;
}

/* No hand is large enough: the chord will be broken. First upwards, where instruments have more. */
static void widen(muta_ensemble *ensemble, bool is_low)
{
    ensemble->span = 0;
    for (uint8_t i = 0; i < ensemble->count; i++) {
        ensemble->low[i].place -= is_low ? 7 : 0;
        ensemble->high[i].place += is_low ? 0 : 7;
    }
}

static muta_status voice_chords(struct realising *realising)
{
    const size_t count = realising->spans.count;

    realising->slots =
        muta_arena_take_array(&realising->arena, count + 1, sizeof *realising->slots);
    realising->voiced =
        muta_arena_take_array(&realising->arena, count + 1, sizeof *realising->voiced);
    if (!realising->slots || !realising->voiced)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < count; i++) {
        const muta_passage_chord *const chord = realising->spans.at[i].chord;
        realising->slots[i] = (muta_harmony_slot){
            .root = chord->root,
            .kind = chord->kind,
            .bass = chord->bass,
            .leading = muta_chord_leading(chord->kind, chord->root, chord->tonic)};
        if (realising->tune)
            hear_tune(realising, &realising->spans.at[i], &realising->slots[i]);
        spare_leading(&realising->slots[i]);
    }
    muta_status status = muta_voicing_find(&realising->ensemble, realising->slots, count,
                                           realising->call->pick, realising->voiced);
    for (int widened = 0; status == MUTA_E_RANGE && widened < 2; widened++) {
        widen(&realising->ensemble, widened > 0);
        status = muta_voicing_find(&realising->ensemble, realising->slots, count,
                                   realising->call->pick, realising->voiced);
    }
    return status;
}

/* ---- notes ---- */

/* What a stream plays next, not yet put. */
struct sounding {
    muta_fraction from;
    muta_fraction to;
    muta_stroke stroke;
    const muta_voiced *voiced;
};

/* The voices that are played: a tune that is one of them plays its own. */
static unsigned own_voices(const struct realising *realising)
{
    const unsigned all = (1U << realising->ensemble.count) - 1;

    if (!realising->tune)
        return all;
    return realising->is_tune_bass ? all & ~1U : all >> 1;
}

static muta_status put(struct realising *realising, struct sounding *sounding)
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

static muta_fraction step_length(const struct realising *realising, const muta_pattern *pattern,
                                 const muta_beat *beat, const struct span *over)
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
static muta_fraction end_of_statement(const struct realising *realising, const muta_beat *beat,
                                      muta_fraction at)
{
    const muta_pattern *const pattern = &realising->pattern;
    const bool by_beat = pattern->step == MUTA_STEP_UNIT || pattern->step == MUTA_STEP_HALF ||
                         (pattern->step == MUTA_STEP_BEAT && fills(pattern));

    if (!beat->is_compound || !by_beat)
        return beat->end;
    const muta_fraction beats =
        muta_fraction_divide(muta_fraction_subtract(at, beat->bar), beat->beat);
    return earlier(beat->end,
                   muta_fraction_add(
                       beat->bar, muta_fraction_scale(beat->beat, beats.top / beats.bottom + 1)));
}

/* How many steps it takes until all voices of a pattern were struck. */
static size_t steps_needed(const struct realising *realising, const muta_pattern *pattern)
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
static bool has_room(const struct realising *realising, const struct span *over, muta_fraction step)
{
    const muta_fraction lasts = muta_fraction_subtract(over->to, over->from);
    const muta_fraction needs =
        muta_fraction_scale(step, (int64_t)steps_needed(realising, &realising->whole));

    return muta_fraction_compare(lasts, needs) >= 0;
}

/* One stream over a stretch of one chord. */
static muta_status play(struct realising *realising, const muta_stream *stream,
                        const struct span *over, muta_fraction step, const muta_voiced *voiced)
{
    struct sounding sounding = {.voiced = voiced};
    muta_fraction at = over->from;

    for (size_t nth = 0; muta_fraction_compare(at, over->to) < 0; nth++) {
        const muta_fraction end = earlier(muta_fraction_add(at, step), over->to);
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
static muta_fraction end_of_chord(const struct realising *realising, muta_fraction from,
                                  muta_fraction to)
{
    const struct bar *const last = realising->bars.at + realising->bars.count;

    for (const struct bar *bar = bar_at(realising, from);
         bar < last && muta_fraction_compare(bar->to, to) < 0; bar++)
        if (stays(realising, bar->to) != stays(realising, from))
            return bar->to;
    return to;
}

/* A stream over all chords, bar by bar where its pattern goes by bars; the end is held. */
static muta_status play_all(struct realising *realising, choose stream_of, uint8_t nth)
{
    for (size_t i = 0; i < realising->spans.count; i++) {
        struct span over = realising->spans.at[i];
        while (muta_fraction_compare(over.from, realising->spans.at[i].to) < 0) {
            muta_beat beat;
            muta_passage_beat_at(realising->call->in, over.from, &beat);
            over.to = realising->pattern.step == MUTA_STEP_CHORD
                          ? end_of_chord(realising, over.from, realising->spans.at[i].to)
                          : earlier(realising->spans.at[i].to,
                                    end_of_statement(realising, &beat, over.from));
            /* A bar that can only be guessed has no end. */
            if (muta_fraction_compare(over.to, over.from) <= 0)
                over.to = realising->spans.at[i].to;
            const bool ends = realising->ends && i + 1 == realising->spans.count &&
                              muta_fraction_compare(over.to, realising->spans.at[i].to) >= 0;
            const muta_fraction step = step_length(realising, &realising->whole, &beat, &over);
            const muta_pattern *const pattern =
                ends || !has_room(realising, &over, step) ? &realising->held : &realising->pattern;
            const muta_stream *stream = stream_of(pattern, nth);
            if (stream && !stays(realising, over.from) &&
                !(beat.is_pickup && !realising->spans.at[i].chord->is_written))
                MUTA_TRY(play(realising, stream, &over,
                              step_length(realising, pattern, &beat, &over),
                              &realising->voiced[i]));
            over.from = over.to;
        }
    }
    return MUTA_OK;
}

/* Whether a line of the answer is one that goes on, or was begun here. */
static bool is_in_use(const struct realising *realising, size_t nth)
{
    return nth >= realising->work.line_count ||
           !muta_seats_have(&realising->seats, &realising->work.lines[nth]);
}

/* Begins a line at a seat, in the first voice of its staff that no kept line has. */
static muta_status begin_line(struct realising *realising, const muta_seat *seat)
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
static bool plays(const struct realising *realising, const muta_stream *stream)
{
    for (uint8_t i = 0; stream && i < stream->count; i++)
        if (stream->at[i].voices & own_voices(realising))
            return true;
    return false;
}

static muta_status play_hand(struct realising *realising, const muta_seat *seat, choose stream_of)
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
        own.at[i].voices = strikes ? (uint8_t)(1U << voice) : 0;
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

/* A figure over as many upper voices as there are: its lowest tone the lowest of them, its highest
 * the highest. */
static muta_stream fit_figure(const muta_stream *figure, uint8_t voices)
{
    const unsigned least = lowest_voice(figure);
    const unsigned most = highest_of(figure);
    muta_stream own = *figure;

    for (uint8_t i = 0; i < own.count && most > least; i++) {
        const uint8_t voice = highest_voice(own.at[i].voices); /* from 1; 0 for none */
        if (voice > 0)
            own.at[i].voices =
                (uint8_t)(1U << (1 + (voice - 1 - least) * (voices - 2U) / (most - least)));
    }
    return own;
}

/* What one player of several does: the lowest the low hand's, the highest a figure whole. */
static muta_pattern pattern_for(const muta_pattern *whole, const muta_pattern *block, uint8_t voice,
                                uint8_t players)
{
    const bool figure = is_figure(whole) && players > 1;
    const bool is_top = voice + 1 == players && voice > 0;
    muta_pattern own = figure && !is_top && voice > 0 ? *block : *whole;

    own.high.count = 1;
    own.high.streams[0] = figure && is_top ? fit_figure(&whole->high.streams[0], players)
                                           : stream_for(stream_of_voice(&own, voice), voice);
    return own;
}

static muta_status play_players(struct realising *realising)
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

static muta_status play_seats(struct realising *realising)
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

/* ---- the pass ---- */

/* Whether the bar in which an event ends stays too. */
static bool keeps_on(const struct realising *realising, const muta_event *event)
{
    const muta_fraction end = muta_fraction_add(event->onset, event->duration);
    const struct bar *const bar = bar_at(realising, end);

    return stays(realising, end) || muta_fraction_compare(bar->from, end) == 0;
}

/* What is not replaced; and of what is, the bars in which it has the tune. */
static muta_status keep_lines(struct realising *realising)
{
    const muta_call *const call = realising->call;

    MUTA_TRY(muta_passage_begin(call->out, call->in));
    for (size_t i = 0; i < realising->work.line_count; i++) {
        const muta_line *const line = &realising->work.lines[i];
        const bool replaced = muta_seats_have(&realising->seats, line);
        MUTA_TRY(muta_passage_begin_line(call->out, call->in, i));
        for (uint32_t j = line->event; j < line->event + line->event_count; j++) {
            const muta_event *const event = &realising->work.events[j];
            const muta_fraction left =
                muta_fraction_subtract(bar_at(realising, event->onset)->to, event->onset);
            if (!replaced)
                MUTA_TRY(
                    muta_passage_put_event(call->out, call->in, j, event->onset, event->duration));
            else if (stays(realising, event->onset))
                MUTA_TRY(muta_passage_put_event(
                    call->out, call->in, j, event->onset,
                    keeps_on(realising, event) ? event->duration : earlier(event->duration, left)));
        }
    }
    return MUTA_OK;
}

static muta_status find_seats(struct realising *realising)
{
    const char *const into = realising->args->into;
    const bool is_address = into && strcmp(into, "new") != 0 && strcmp(into, "accompaniment") != 0;

    if (realising->call->in->made_part != MUTA_NO_PART) {
        muta_seats_of_made(realising->call->in, &realising->seats);
        return MUTA_OK;
    }
    return muta_seats_find(realising->call->in, is_address ? into : NULL, &realising->seats,
                           realising->call->diags);
}

/* How often a rule is broken. */
static size_t count_faults(const struct realising *realising, const muta_voice_rule *rule)
{
    size_t count = 0;

    for (size_t i = 0; i < realising->spans.count; i++) {
        muta_voiced to = realising->voiced[i];
        muta_voiced from = i > 0 ? realising->voiced[i - 1] : to;
        if (realising->ensemble.is_top_apart) {
            to.count--;
            from.count--;
        }
        count += rule->count(i > 0 ? &from : NULL, &to);
    }
    return count;
}

/* What rules had to be broken is said. */
static void tell_faults(const struct realising *realising)
{
    char text[400] = "";

    for (const muta_voice_rule *rule = muta_voice_rules; rule->name; rule++) {
        const size_t count = count_faults(realising, rule);
        const size_t used = strlen(text);
        if (count > 0)
            (void)snprintf(text + used, sizeof text - used, "%s%s (%zu)", used ? ", " : "",
                           rule->name, count);
    }
    if (text[0])
        muta_diag_add(realising->call->diags, MUTA_WARNING, MUTA_NOWHERE,
                      "part-writing had to break rules: %s", text);
}

static muta_status realise(struct realising *realising)
{
    MUTA_TRY(find_seats(realising));
    realising->tune = find_tune(&realising->work);
    for (size_t i = 0; realising->tune && i < realising->seats.count; i++)
        if (muta_seats_have(&realising->seats, realising->tune))
            realising->tune = NULL;
    realising->whole = realising->pattern;
    realising->ends = realising->call->in->to.bar >= realising->call->in->score->bar_count;
    realising->is_tune_bass = realising->tune && is_bass(realising);
    if (realising->seats.count == 0 || realising->call->in->chord_count == 0)
        return muta_passage_append(realising->call->out, realising->call->in, MUTA_ZERO, NULL);
    set_voices(realising);
    MUTA_TRY(find_spans(realising));
    const muta_status status = voice_chords(realising);
    if (status == MUTA_E_RANGE) {
        muta_diag_add(realising->call->diags, MUTA_ERROR, MUTA_NOWHERE,
                      "a chord lies in no range of what should play it; try into=new");
        return MUTA_E_DATA;
    }
    MUTA_TRY(status);
    MUTA_TRY(find_bars(realising));
    weigh_bars(realising);
    find_interludes(realising);
    MUTA_TRY(keep_lines(realising));
    MUTA_TRY(play_seats(realising));
    tell_faults(realising);
    return MUTA_OK;
}

static muta_status run(const muta_call *call)
{
    struct realising realising = {
        .call = call, .args = call->args, .work = muta_passage_work(call->in)};

    if (!muta_pattern_find(realising.args->as, &realising.pattern) ||
        !muta_pattern_find(strcmp(realising.args->as, "chorale") == 0 ? "chorale" : "block",
                           &realising.held))
        return MUTA_E_FAULT;
    const muta_status status = realise(&realising);
    muta_arena_clear(&realising.arena);
    return status;
}

static bool needs_part(const void *given, const muta_passage *passage)
{
    const struct args *const args = given;
    muta_seats seats;

    if (args->into)
        return strcmp(args->into, "new") == 0;
    return muta_seats_find(passage, NULL, &seats, NULL) == MUTA_OK && seats.count == 0;
}

const muta_pass muta_pass_realise = {
    .name = "realise",
    .group = "harmony",
    .summary = "chords into notes: one accompaniment pattern kept up, its voices led",
    .keeps = "the tune and the chords",
    MUTA_PARAMS(params, struct args),
    .where = MUTA_EVERYTHING,
    .finds_work = true,
    .needs_study = true,
    .keeps_chords = true,
    .searches = true,
    .needs_part = needs_part,
    .run = run,
};
