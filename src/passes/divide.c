/* divide.c: fills the time between goal tones with so many notes a beat. */
#include "passes/figures.h"
#include <stdlib.h>
#include <string.h>

enum {
    OVER_TUNE,
    OVER_CHORDS
};

enum {
    A_CHORD = 3 /* tones that would be cut short with the tune: they are left */
};

static const char *const overs[] = {"tune", "chords", NULL};

struct args {
    int64_t notes;
    int figure;
    int over;
};

static const muta_param params[] = {
    MUTA_ARG_COUNT(struct args, notes, "4", 1, 8, "notes a beat",
                   "1, 2, 3, 4, 6 or 8; in compound metres 3, 6 or 12 for a dotted beat"),
    MUTA_ARG_CHOICE(struct args, figure, "mixed", muta_figure_names,
                    "run, broken chords, neighbours; mixed: in each phrase what leads on best"),
    MUTA_ARG_CHOICE(struct args, over, "tune", overs,
                    "come through the tune's tones, or only through its chords"),
};

/* A goal tone with the time up to the next one. */
struct goal {
    uint32_t event;
    muta_fraction onset;
    muta_fraction end;
    bool is_whole; /* it is left as it is */
    size_t first_cell;
    size_t cell_count;
};

struct dividing {
    const muta_call *call;
    muta_texture work;
    muta_arena arena;
    MUTA_VEC(struct goal) goals;
    muta_cells cells;
};

/* How long a note is where the beat lasts so long; a dotted beat is divided by three. */
static muta_fraction unit_of(const struct dividing *dividing, const muta_beat *beat)
{
    const struct args *args = dividing->call->args;
    const int64_t notes = args->notes;
    const int64_t parts = !beat->is_compound || notes == 1 ? notes
                          : notes < 4                      ? 3
                          : notes < 8                      ? 6
                                                           : 12;

    return muta_fraction_divide(beat->beat, muta_fraction_of(parts, 1));
}

/* Over chords alone what goes on over the same one, and is slower than the notes asked for, gives
 * its time away; each tone of the tune stays where it is. */
static bool gives_way(const struct dividing *dividing, uint32_t index, const struct goal *before)
{
    const muta_event *const event = &dividing->work.events[index];
    const struct args *args = dividing->call->args;
    const muta_passage_chord *const chord = muta_passage_chord_at(dividing->call->in, event->onset);
    const bool is_kept = dividing->call->kept && dividing->call->kept[index];
    muta_beat beat;

    if (args->over == OVER_TUNE || event->written.syllable != MUTA_NO_SOURCE || !chord ||
        event->closes || is_kept ||
        chord != muta_passage_chord_at(dividing->call->in, before->onset))
        return false;
    muta_passage_beat_at(dividing->call->in, event->onset, &beat);
    return muta_fraction_compare(event->duration, unit_of(dividing, &beat)) > 0;
}

/* What stands before a rest ends something, as the last tone of a phrase does. */
static bool ends_in_rest(const struct dividing *dividing, const muta_line *line, uint32_t index)
{
    const muta_fraction end = muta_fraction_add(dividing->work.events[index].onset,
                                                dividing->work.events[index].duration);
    const muta_fraction rest = muta_fraction_add(end, muta_fraction_of(1, 2));

    for (uint32_t i = index + 1; i < line->event + line->event_count; i++)
        if (muta_texture_is_plain(&dividing->work, i))
            return muta_fraction_compare(dividing->work.events[i].onset, rest) >= 0;
    return true;
}

static muta_fraction end_of(const muta_event *event)
{
    return muta_fraction_add(event->onset, event->duration);
}

/* A tone that is held over a bar line, or into a chord that it does not belong to: the tie is the
 * point of it. */
static bool is_suspended(const struct dividing *dividing, uint32_t index)
{
    const muta_event *const event = &dividing->work.events[index];
    const muta_fraction half = muta_fraction_divide(event->duration, muta_fraction_of(2, 1));
    const muta_passage_chord *const then =
        muta_passage_chord_at(dividing->call->in, muta_fraction_add(event->onset, half));
    muta_beat beat;

    muta_passage_beat_at(dividing->call->in, event->onset, &beat);
    return muta_fraction_compare(end_of(event), muta_fraction_add(beat.bar, beat.length)) > 0 ||
           (then != muta_passage_chord_at(dividing->call->in, event->onset) &&
            !muta_passage_chord_has(then, muta_texture_top(&dividing->work, index)->pitch));
}

/* The goals of a line; what is no goal gives its time to the goal before it. */
static muta_status find_goals(struct dividing *dividing, const muta_line *line)
{
    dividing->goals.count = 0;
    for (uint32_t i = line->event; i < line->event + line->event_count; i++) {
        const muta_event *const event = &dividing->work.events[i];
        struct goal *const before =
            dividing->goals.count ? &dividing->goals.at[dividing->goals.count - 1] : NULL;
        if (!muta_texture_is_plain(&dividing->work, i))
            continue;
        if (before && !before->is_whole && gives_way(dividing, i, before) &&
            muta_fraction_compare(before->end, event->onset) == 0) {
            before->end = end_of(event);
            continue;
        }
        struct goal *const goal = MUTA_PUSH(&dividing->arena, &dividing->goals);
        if (!goal)
            return MUTA_E_MEMORY;
        *goal = (struct goal){.event = i,
                              .onset = event->onset,
                              .end = end_of(event),
                              .is_whole = event->closes || event->tone_count >= A_CHORD ||
                                          is_suspended(dividing, i) ||
                                          ends_in_rest(dividing, line, i) ||
                                          (dividing->call->kept && dividing->call->kept[i])};
    }
    return MUTA_OK;
}

static muta_status push_cell(struct dividing *dividing, struct goal *goal, muta_cell cell)
{
    muta_cell *const to = MUTA_PUSH(&dividing->arena, &dividing->cells);
    const muta_event *const event = &dividing->work.events[goal->event];
    const struct args *args = dividing->call->args;

    if (!to)
        return MUTA_E_MEMORY;
    cell.event = goal->event;
    cell.phrase = event->phrase;
    cell.closes = event->closes;
    cell.goal = muta_texture_top(&dividing->work, goal->event)->pitch;
    /* Over chords alone only the first tone of all is fixed, and what is left whole. */
    cell.is_goal = goal->cell_count == 0 &&
                   (args->over == OVER_TUNE || goal->is_whole || dividing->cells.count == 1);
    *to = cell;
    goal->cell_count++;
    return MUTA_OK;
}

/* The next edge, in the bar, of stretches of this size. */
static muta_fraction next_edge(const muta_beat *beat, muta_fraction size, muta_fraction at)
{
    const muta_fraction place = muta_fraction_divide(muta_fraction_subtract(at, beat->bar), size);
    const int64_t nth = place.top / place.bottom + 1;

    return muta_fraction_add(beat->bar, muta_fraction_scale(size, nth));
}

/* How many notes a figure has: a whole beat's, or half of them where they are many. */
static int64_t figure_notes(muta_fraction beat, muta_fraction unit)
{
    int64_t notes = muta_fraction_divide(beat, unit).top;

    while (notes > MUTA_CELL_NOTES)
        notes /= 2;
    return notes;
}

/*
 * Where the cell that begins at a moment ends: with its goal or the beat, if a figure fills the
 * time up to there; else where the beat is parted.
 */
static muta_fraction end_of_cell(const struct goal *goal, const muta_beat *beat, muta_fraction unit,
                                 muta_fraction at)
{
    const muta_fraction end = muta_fraction_min(goal->end, next_edge(beat, beat->beat, at));
    const int64_t notes = figure_notes(beat->beat, unit);

    if (muta_fraction_compare(muta_fraction_subtract(end, at),
                              muta_fraction_scale(unit, MUTA_CELL_NOTES)) <= 0)
        return end;
    return muta_fraction_min(end, next_edge(beat, muta_fraction_scale(unit, notes), at));
}

static muta_status divide_goal(struct dividing *dividing, struct goal *goal)
{
    muta_fraction at = goal->onset;

    goal->first_cell = dividing->cells.count;
    while (muta_fraction_compare(at, goal->end) < 0) {
        muta_beat beat;
        muta_passage_beat_at(dividing->call->in, at, &beat);
        const muta_fraction unit = unit_of(dividing, &beat);
        muta_fraction end = end_of_cell(goal, &beat, unit, at);
        const muta_fraction fit = muta_fraction_divide(muta_fraction_subtract(end, at), unit);
        int64_t notes = muta_fraction_is_valid(fit) ? fit.top / fit.bottom : 1;
        notes = notes < 1 ? 1 : notes > MUTA_CELL_NOTES ? MUTA_CELL_NOTES : notes;
        /* What no whole number of notes fills is not cut up. */
        if (goal->is_whole || !muta_fraction_is_valid(fit) || fit.bottom != 1) {
            notes = 1;
            end = goal->end;
        }
        MUTA_TRY(
            push_cell(dividing, goal,
                      (muta_cell){.onset = at, .unit = unit, .end = end, .count = (uint8_t)notes}));
        at = end;
    }
    return MUTA_OK;
}

/* One piece a note, up to the end of each cell. */
static muta_status put_goal(struct dividing *dividing, const struct goal *goal)
{
    muta_passage *const out = dividing->call->out;
    MUTA_VEC(muta_piece) pieces = {0};

    if (goal->is_whole ||
        (goal->cell_count == 1 && dividing->cells.at[goal->first_cell].count == 1))
        return muta_passage_put_event(out, dividing->call->in, goal->event, goal->onset,
                                      muta_fraction_subtract(goal->end, goal->onset));
    for (size_t i = goal->first_cell; i < goal->first_cell + goal->cell_count; i++) {
        const muta_cell *const cell = &dividing->cells.at[i];
        for (uint8_t j = 0; j < cell->count; j++) {
            muta_piece *const piece = MUTA_PUSH(&dividing->arena, &pieces);
            if (!piece)
                return MUTA_E_MEMORY;
            piece->onset = muta_fraction_add(cell->onset, muta_fraction_scale(cell->unit, j));
            piece->duration =
                j + 1 < cell->count ? cell->unit : muta_fraction_subtract(cell->end, piece->onset);
            piece->pitch = cell->notes[j];
        }
    }
    const size_t before = muta_passage_work(out).event_count;
    MUTA_TRY(
        muta_passage_put_pieces(out, dividing->call->in, goal->event, pieces.at, pieces.count));
    /* A figure takes the place of the ornament that a sign asked for. */
    for (size_t i = before; i < muta_passage_work(out).event_count; i++) {
        muta_passage_events(out)[i].written.drops_sign = true;
        muta_passage_events(out)[i].written.ornament = 0;
    }
    return MUTA_OK;
}

/* A grace note goes with the tone it belongs to; those of a tone that is no goal are gone. */
static bool is_still_there(const struct dividing *dividing, const muta_line *line, uint32_t index,
                           const struct goal *next)
{
    const uint32_t main = muta_texture_main(&dividing->work, line, index);
    const struct goal *const all = dividing->goals.at;

    return !muta_texture_is_plain(&dividing->work, main) ||
           (next < all + dividing->goals.count && next->event == main) ||
           (next > all && next[-1].event == main);
}

static muta_status put_line(struct dividing *dividing, size_t nth)
{
    const muta_line *const line = &dividing->work.lines[nth];
    const struct goal *goal = dividing->goals.at;
    const struct goal *const end = goal + dividing->goals.count;

    MUTA_TRY(muta_passage_begin_line(dividing->call->out, dividing->call->in, nth));
    for (uint32_t i = line->event; i < line->event + line->event_count; i++) {
        const muta_event *const event = &dividing->work.events[i];
        if (!muta_texture_is_plain(&dividing->work, i) && is_still_there(dividing, line, i, goal))
            MUTA_TRY(muta_passage_put_event(dividing->call->out, dividing->call->in, i,
                                            event->onset, event->duration));
        else if (goal < end && goal->event == i)
            MUTA_TRY(put_goal(dividing, goal++));
    }
    return MUTA_OK;
}

static int by_event(const void *a, const void *b)
{
    const uint32_t one = ((const struct goal *)a)->event;
    const uint32_t two = ((const struct goal *)b)->event;

    return one < two ? -1 : one > two;
}

/* The goal that an event is; NULL when it is none. */
static const struct goal *goal_of(const struct dividing *dividing, uint32_t event)
{
    const struct goal wanted = {.event = event};

    return bsearch(&wanted, dividing->goals.at, dividing->goals.count, sizeof wanted, by_event);
}

static bool is_same_harmony(const struct dividing *dividing, const struct goal *a,
                            const struct goal *b)
{
    const muta_passage_chord *const one = muta_passage_chord_at(dividing->call->in, a->onset);
    const muta_passage_chord *const two = muta_passage_chord_at(dividing->call->in, b->onset);

    return one && two ? muta_chord_is_equal(one->value, two->value) : one == two;
}

/* Whether what follows two cells is the same: the figure leads there. */
static bool goes_on_alike(const struct dividing *dividing, size_t one, size_t two)
{
    const muta_cell *const cells = dividing->cells.at;
    const bool has_next = one + 1 < dividing->cells.count && two + 1 < dividing->cells.count;

    return cells[one].is_last == cells[two].is_last &&
           (cells[one].is_last ||
            (has_next && muta_pitch_is_equal(cells[one + 1].goal, cells[two + 1].goal)));
}

static void copy_figures(struct dividing *dividing, const struct goal *from, const struct goal *to)
{
    muta_cell *const cells = dividing->cells.at;

    for (size_t i = 0; i < to->cell_count; i++) {
        const size_t one = from->first_cell + i;
        const size_t two = to->first_cell + i;
        const bool ends = i + 1 == to->cell_count;
        if (cells[one].count == cells[two].count && (!ends || goes_on_alike(dividing, one, two)))
            memcpy(cells[two].notes, cells[one].notes, sizeof cells[two].notes);
    }
}

/* What comes back over the same chords is filled as it was at first. */
static muta_status return_alike(struct dividing *dividing, const muta_line *line)
{
    uint32_t *first;

    MUTA_TRY(muta_sense_returns(dividing->call->in, line, false, &dividing->arena, &first));
    for (size_t i = 0; i < dividing->goals.count; i++) {
        const struct goal *const goal = &dividing->goals.at[i];
        const struct goal *const model = goal_of(dividing, first[goal->event - line->event]);
        if (model && model != goal && model->cell_count == goal->cell_count &&
            is_same_harmony(dividing, model, goal))
            copy_figures(dividing, model, goal);
    }
    return MUTA_OK;
}

static muta_status divide_line(struct dividing *dividing, size_t nth)
{
    const struct args *args = dividing->call->args;

    MUTA_TRY(find_goals(dividing, &dividing->work.lines[nth]));
    dividing->cells.count = 0;
    for (size_t i = 0; i < dividing->goals.count; i++) {
        struct goal *const goal = &dividing->goals.at[i];
        MUTA_TRY(divide_goal(dividing, goal));
        if (dividing->cells.count > 0)
            dividing->cells.at[dividing->cells.count - 1].is_last =
                i + 1 == dividing->goals.count ||
                muta_fraction_compare(goal->end, dividing->goals.at[i + 1].onset) != 0;
    }
    if (dividing->cells.count > 0)
        MUTA_TRY(muta_figures_fill(&dividing->arena, dividing->call->in, &dividing->cells,
                                   (muta_figure)args->figure, dividing->call->pick));
    MUTA_TRY(return_alike(dividing, &dividing->work.lines[nth]));
    return put_line(dividing, nth);
}

static muta_status run(const muta_call *call)
{
    const struct args *args = call->args;
    struct dividing dividing = {.call = call, .work = muta_passage_work(call->in)};

    if (args->notes == 5 || args->notes == 7) {
        muta_diag_add(call->diags, MUTA_ERROR, MUTA_NOWHERE,
                      "divide takes 1, 2, 3, 4, 6 or 8 notes a beat");
        return MUTA_E_USAGE;
    }
    muta_status status = muta_passage_begin(call->out, call->in);
    for (size_t i = 0; status == MUTA_OK && i < dividing.work.line_count; i++)
        status = divide_line(&dividing, i);
    muta_arena_clear(&dividing.arena);
    return status;
}

const muta_pass muta_pass_divide = {
    .name = "divide",
    .group = "melody",
    .summary = "fills the time between goal tones with so many notes a beat",
    .keeps = "goal tones where they were, the chords, the last tone of each phrase",
    MUTA_PARAMS(params, struct args),
    .where = MUTA_TUNE,
    .needs = MUTA_NEEDS_PITCH | MUTA_NEEDS_STUDY,
    .effect = MUTA_KEEPS_CHORDS | MUTA_DIVIDES_TONES,
    .answer = MUTA_MAY_FIND_NOTHING | MUTA_HAS_NEXT_BEST,
    .run = run,
};
