/* fragment.c: takes a cell and states it again, treated each time in one way. */
#include "passes/restate.h"
#include "score/texture.h"

enum {
    REPEAT,
    SEQUENCE,
    ALTERNATE,
    SHORTEN,
    THICKEN,
    SCATTER
};

static const char *const treatments[] = {"repeat",  "sequence", "alternate", "shorten",
                                         "thicken", "scatter",  NULL};

struct args {
    muta_given_range notes;
    muta_given_range bars;
    int as;
    int64_t times;
};

static const muta_param params[] = {
    MUTA_ARG_RANGE(struct args, notes, "the cell, as notes of the passage: 1-4, or one number"),
    MUTA_ARG_RANGE_INSTEAD(struct args, bars, notes, "the cell, as bars of the passage"),
    {.name = "as",
     .type = MUTA_PARAM_CHOICE,
     .otherwise = "sequence",
     .choices = treatments,
     .help = "repeat; sequence, a step down each time; alternate with its inversion; shorten by a "
             "note each time; thicken by thirds; scatter over octaves",
     .offset = MUTA_FIELD(struct args, as, int)},
    MUTA_ARG_COUNT(struct args, times, "4", 1, 64, "statements", "how many in all"),
};

/* A stretch of the passage, and the treatment that a statement of it gets. */
struct cell {
    muta_fraction from;
    muta_fraction to;
};

/* How many notes the first line has, grace notes left out. */
static int64_t count_notes(const muta_passage *in)
{
    const muta_texture work = muta_passage_work(in);
    int64_t count = 0;

    for (uint32_t i = 0; work.line_count > 0 && i < work.lines[0].event_count; i++)
        count += !work.events[work.lines[0].event + i].is_grace;
    return count;
}

/* The onset of the nth note, from 1, of the first line; the end of the passage behind the last. */
static muta_fraction onset_of(const muta_passage *in, int64_t nth)
{
    const muta_texture work = muta_passage_work(in);
    int64_t count = 0;

    for (uint32_t i = 0; work.line_count > 0 && i < work.lines[0].event_count; i++) {
        const muta_event *const event = &work.events[work.lines[0].event + i];
        count += !event->is_grace;
        if (count == nth)
            return event->onset;
    }
    return muta_passage_length(in);
}

static muta_status find_cell(const muta_call *call, struct cell *cell)
{
    const struct args *args = call->args;
    const int64_t count = count_notes(call->in);

    if (args->notes.is_given && args->notes.last > count) {
        muta_diag_add(call->diags, MUTA_ERROR, MUTA_NOWHERE,
                      "the passage has only %d note%s; where= says from which to take the cell",
                      (int)count, count == 1 ? "" : "s");
        return MUTA_E_DATA;
    }
    *cell = (struct cell){MUTA_ZERO, muta_passage_length(call->in)};
    if (args->notes.is_given) {
        cell->from = onset_of(call->in, args->notes.first);
        cell->to = onset_of(call->in, args->notes.last + 1);
    }
    if (args->bars.is_given) {
        cell->from = muta_passage_bar(call->in, args->bars.first);
        cell->to = muta_passage_bar(call->in, args->bars.last + 1);
    }
    if (muta_fraction_compare(cell->from, cell->to) < 0)
        return MUTA_OK;
    muta_diag_add(call->diags, MUTA_ERROR, MUTA_NOWHERE,
                  "the passage has no such notes or bars to take a cell from");
    return MUTA_E_DATA;
}

static void turn_over(const muta_call *call, const muta_tones *tones)
{
    size_t first = 0;

    while (first < tones->count && tones->at[first].is_fixed)
        first++;
    if (first == tones->count)
        return;
    const muta_pitch axis = tones->at[first].pitch;
    for (size_t i = 0; i < tones->count; i++) {
        muta_passage_reflect(call->out, &tones->at[i], axis, MUTA_TONAL);
        muta_passage_events(call->out)[tones->at[i].event].written.is_inverted = true;
    }
}

/* Each tone in another octave than its neighbours: up, down, where it was, and so on. */
static muta_status scatter(const muta_call *call, const muta_tones *tones, int64_t nth)
{
    static const int64_t octaves[] = {1, -1, 0};
    const muta_interval octave = {7, 12 * MUTA_SEMITONE};

    for (size_t i = 0; i < tones->count; i++)
        MUTA_TRY(muta_passage_move(call->out, &tones->at[i], octave,
                                   octaves[(i + (size_t)nth) % MUTA_LENGTH(octaves)], MUTA_REAL));
    return MUTA_OK;
}

/* A third lower, a fifth, a seventh: as many as there were statements before. */
static muta_status thicken(const muta_call *call, size_t first_event, int64_t nth)
{
    const size_t count = muta_passage_work(call->out).event_count;

    for (size_t i = first_event; i < count; i++) {
        const muta_event event = muta_passage_events(call->out)[i];
        for (int64_t third = 1; third <= nth && third <= 3 && !event.is_grace; third++)
            MUTA_TRY(muta_passage_add_tone(call->out, i, -2)); /* from the lowest so far */
    }
    return MUTA_OK;
}

static muta_status treat(const muta_call *call, const muta_way *way, muta_tones *tones,
                         size_t first_event, int64_t nth)
{
    const struct args *args = call->args;

    switch (args->as) {
    case SEQUENCE:
        return muta_way_move(call, way, nth, MUTA_TONAL, tones);
    case ALTERNATE:
        if (nth % 2 == 1)
            turn_over(call, tones);
        return MUTA_OK;
    case THICKEN:
        return thicken(call, first_event, nth);
    case SCATTER:
        return nth > 0 ? scatter(call, tones, nth) : MUTA_OK;
    default:
        return MUTA_OK;
    }
}

/* Where the nth statement ends: all but the last `nth` notes when it is shortened. */
static muta_fraction end_of(const muta_call *call, const struct cell *cell, int64_t nth)
{
    const struct args *args = call->args;
    muta_fraction end = cell->to;
    int64_t note = 1;
    int64_t last;

    if (args->as != SHORTEN)
        return end;
    while (muta_fraction_compare(onset_of(call->in, note), cell->from) < 0)
        note++;
    last = note;
    while (muta_fraction_compare(onset_of(call->in, last), cell->to) < 0)
        last++;
    last = last - nth > note + 1 ? last - nth : note + 1;
    return muta_fraction_compare(onset_of(call->in, last), end) < 0 ? onset_of(call->in, last)
                                                                    : end;
}

static muta_status run(const muta_call *call)
{
    const struct args *args = call->args;
    const muta_interval step = {-1, -2 * MUTA_SEMITONE};
    muta_way way = {step, args->times};
    muta_fraction onset = MUTA_ZERO;
    struct cell cell;

    MUTA_TRY(find_cell(call, &cell));
    if (args->as == SEQUENCE)
        MUTA_TRY(muta_way_find(call, step, args->times, &way));
    for (int64_t nth = 0; nth < way.times; nth++) {
        const muta_fraction end = end_of(call, &cell, nth);
        const muta_fraction round = muta_passage_round(call->in, cell.from, end);
        const muta_fraction next = muta_fraction_add(cell.from, round);
        const size_t first_event = muta_passage_work(call->out).event_count;
        muta_tones stated;
        MUTA_TRY(muta_passage_append_part(call->out, call->in, cell.from,
                                          nth + 1 == way.times ? end : muta_fraction_min(end, next),
                                          onset, &stated));
        MUTA_TRY(treat(call, &way, &stated, first_event, nth));
        onset = muta_fraction_add(onset, round);
    }
    return MUTA_OK;
}

static int64_t bars_of(const void *args)
{
    const struct args *const of = args;

    return of->bars.is_given ? of->bars.last : of->notes.is_given ? 1 : 0;
}

const muta_pass muta_pass_fragment = {
    .name = "fragment",
    .group = "motif",
    .summary = "takes a cell and states it again, treated",
    .keeps = "the cell's rhythm, and its shape as the treatment leaves it",
    MUTA_PARAMS(params, struct args),
    .where = MUTA_MOTIF,
    .needs = MUTA_NEEDS_PITCH | MUTA_NEEDS_STUDY,
    .effect = MUTA_MOVES_TIME | MUTA_RESTATES | MUTA_CHANGES_LENGTH,
    .bars = bars_of,
    .run = run,
};
