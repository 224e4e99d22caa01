/* pace.c: stretches or squeezes how fast the chords change; the figures keep their values. */
#include "passes/pass.h"
#include "score/texture.h"

struct args {
    muta_fraction by;
    int tempo;
};

static const muta_param params[] = {
    MUTA_ARG_RATIO(struct args, by, "2",
                   "how much longer each chord lasts, as 4/3; below 1 shorter"),
    MUTA_ARG_TEMPO(struct args),
};

struct pacing {
    const muta_call *call;
    muta_fraction by;
    muta_texture work;
    muta_arena arena;
    muta_passage_chord *chords; /* as they were */
    size_t chord_count;
    muta_fraction pickup; /* which keeps its length */
};

static muta_fraction later(const struct pacing *pacing, muta_fraction time)
{
    if (muta_fraction_compare(time, pacing->pickup) <= 0)
        return time;
    return muta_fraction_add(
        pacing->pickup,
        muta_fraction_multiply(muta_fraction_subtract(time, pacing->pickup), pacing->by));
}

/* Whether an event of the tune begins and lasts as one of another line does. */
static bool goes_with_tune(const struct pacing *pacing, const muta_line *tune,
                           const muta_event *event)
{
    const uint32_t at = muta_line_first_from(pacing->work.events, tune, event->onset);
    const muta_event *const beside = &pacing->work.events[at];

    return at < tune->event + tune->event_count &&
           muta_fraction_compare(beside->onset, event->onset) == 0 &&
           muta_fraction_compare(beside->duration, event->duration) == 0;
}

/* Who sings, or has the tune's rhythm for the most part, keeps together with it. */
static bool is_companion(const struct pacing *pacing, const muta_line *line)
{
    const muta_line *const tune = muta_texture_tune(&pacing->work);
    uint32_t count = 0;
    uint32_t with = 0;

    for (uint32_t i = line->event; i < line->event + line->event_count; i++) {
        const muta_event *const event = &pacing->work.events[i];
        if (event->written.syllable != MUTA_NO_SOURCE)
            return true;
        count += !event->is_grace;
        with += tune && !event->is_grace && goes_with_tune(pacing, tune, event);
    }
    return count > 0 && with * 3 >= count * 2;
}

/* Whether a line goes with the tune: its values are stretched. */
static bool is_stretched(const struct pacing *pacing, const muta_line *line)
{
    if (is_companion(pacing, line))
        return true;
    for (uint32_t i = line->event; i < line->event + line->event_count; i++)
        for (uint32_t j = 0; j < pacing->work.events[i].tone_count; j++)
            if (pacing->work.tones[pacing->work.events[i].tone + j].is_tune)
                return true;
    return line->is_tune;
}

/* One event of the figures at a place of its chord; what does not fit is cut. */
static muta_status put(struct pacing *pacing, uint32_t event, muta_fraction at, muta_fraction end,
                       bool is_first)
{
    muta_passage *const out = pacing->call->out;
    const muta_fraction left = muta_fraction_subtract(end, at);
    muta_fraction lasts = pacing->work.events[event].duration;

    if (left.top <= 0)
        return MUTA_OK;
    if (muta_fraction_compare(lasts, left) > 0)
        lasts = left;
    MUTA_TRY(muta_passage_put_event(out, pacing->call->in, event, at, lasts));
    const muta_event *const made = &out->work.events.at[out->work.events.count - 1];
    for (uint32_t i = 0; i < made->tone_count && !is_first; i++)
        out->work.tones.at[made->tone + i].id = ++out->next_id;
    return MUTA_OK;
}

static bool begins_in(const muta_event *event, const muta_passage_chord *chord)
{
    return muta_fraction_compare(event->onset, chord->from) >= 0 &&
           muta_fraction_compare(event->onset, chord->to) < 0;
}

/* The figures of one chord, said again until it ends. */
static muta_status go_round(struct pacing *pacing, const muta_passage_chord *chord, uint32_t first,
                            uint32_t end)
{
    const muta_fraction lasts = muta_fraction_subtract(chord->to, chord->from);
    const muta_fraction from = later(pacing, chord->from);
    const muta_fraction to = later(pacing, chord->to);

    for (muta_fraction at = from; muta_fraction_compare(at, to) < 0;
         at = muta_fraction_add(at, lasts)) {
        const muta_fraction round = muta_fraction_add(at, lasts);
        const muta_fraction stop = muta_fraction_compare(round, to) < 0 ? round : to;
        for (uint32_t i = first; i < end; i++) {
            const muta_event *const event = &pacing->work.events[i];
            const muta_fraction place =
                muta_fraction_add(at, muta_fraction_subtract(event->onset, chord->from));
            if (muta_fraction_compare(place, stop) < 0)
                MUTA_TRY(put(pacing, i, place, stop, muta_fraction_compare(at, from) == 0));
        }
    }
    return MUTA_OK;
}

/* What is still held when a chord begins is struck again with it. */
static muta_status put_held(struct pacing *pacing, const muta_passage_chord *chord,
                            const muta_line *line, uint32_t first)
{
    if (first == line->event)
        return MUTA_OK;
    const muta_event *const before = &pacing->work.events[first - 1];
    const muta_fraction left =
        muta_fraction_subtract(muta_fraction_add(before->onset, before->duration), chord->from);
    if (left.top <= 0 || before->is_grace || muta_fraction_compare(before->onset, chord->from) >= 0)
        return MUTA_OK;
    const muta_fraction at = later(pacing, chord->from);
    const muta_fraction held = muta_fraction_add(at, left);
    const muta_fraction to = later(pacing, chord->to);
    return put(pacing, first - 1, at, muta_fraction_compare(held, to) < 0 ? held : to, false);
}

static muta_status put_figures(struct pacing *pacing, size_t nth)
{
    const muta_line *const line = &pacing->work.lines[nth];
    const uint32_t last = line->event + line->event_count;
    uint32_t first = line->event;

    MUTA_TRY(muta_passage_begin_line(pacing->call->out, pacing->call->in, nth));
    for (size_t i = 0; i < pacing->chord_count; i++) {
        const muta_passage_chord *const chord = &pacing->chords[i];
        uint32_t end;
        while (first < last &&
               muta_fraction_compare(pacing->work.events[first].onset, chord->from) < 0)
            first++;
        for (end = first; end < last && begins_in(&pacing->work.events[end], chord); end++)
            ;
        MUTA_TRY(put_held(pacing, chord, line, first));
        MUTA_TRY(go_round(pacing, chord, first, end));
        first = end;
    }
    return MUTA_OK;
}

/* Everything stretched; then the figures, which keep their values, anew. */
static muta_status pace(struct pacing *pacing)
{
    muta_passage *const out = pacing->call->out;
    const size_t lines = pacing->work.line_count;
    const muta_fraction length = pacing->call->in->length;
    muta_beat beat;

    muta_passage_beat_at(pacing->call->in, MUTA_ZERO, &beat);
    pacing->pickup =
        beat.is_pickup && muta_fraction_compare(beat.end, length) < 0 ? beat.end : MUTA_ZERO;
    const muta_warp pieces[] = {
        {MUTA_ZERO, pacing->pickup, muta_fraction_of(1, 1), MUTA_ZERO},
        {pacing->pickup, length, pacing->by, pacing->pickup},
    };
    const size_t skip = pacing->pickup.top == 0;
    MUTA_TRY(muta_passage_list_chords(pacing->call->in, &pacing->arena, &pacing->chords,
                                      &pacing->chord_count));
    MUTA_TRY(muta_passage_warp(out, pacing->call->in, pieces + skip, MUTA_LENGTH(pieces) - skip));
    out->length = later(pacing, length);
    for (size_t i = 0; i < lines && pacing->chord_count > 0; i++) {
        if (is_stretched(pacing, &pacing->work.lines[i]))
            continue;
        out->work.lines.at[i].event_count = 0;
        MUTA_TRY(put_figures(pacing, i));
    }
    for (size_t i = 0; i < pacing->chord_count; i++) {
        pacing->chords[i].from = later(pacing, pacing->chords[i].from);
        pacing->chords[i].to = later(pacing, pacing->chords[i].to);
    }
    return muta_passage_set_chords(out, pacing->chords, pacing->chord_count);
}

static muta_status run(const muta_call *call)
{
    const struct args *args = call->args;
    struct pacing pacing = {.call = call, .by = args->by, .work = muta_passage_work(call->in)};
    const muta_status status = pace(&pacing);

    muta_passage_slow(call->out, args->by, args->tempo);
    muta_arena_clear(&pacing.arena);
    return status;
}

const muta_pass muta_pass_pace = {
    .name = "pace",
    .group = "harmony",
    .summary = "stretches or squeezes how fast the chords change",
    .keeps = "pitches, the values of the accompaniment's figures, the tune's proportions",
    MUTA_PARAMS(params, struct args),
    .where = MUTA_EVERYTHING,
    .needs = MUTA_NEEDS_STUDY,
    .effect = MUTA_MOVES_TIME | MUTA_CHANGES_LENGTH | MUTA_KEEPS_CHORDS,
    .run = run,
};
