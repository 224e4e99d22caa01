/* figures.c: cells between goal tones filled with figures: candidates, rules, prices, search. */
#include "passes/figures.h"
#include "base/search.h"
#include "theory/part_writing.h"
#include "theory/table.h"
#include <stdlib.h>
#include <string.h>

const char *const muta_figure_names[] = {"run", "broken", "neighbour", "mixed", NULL};

enum {
    SHAPES = 48,
    STARTS = 3,
    FARTHEST = 12, /* semitones between one cell and the next */
    A_THIRD = 4,
    BEYOND = 4 /* semitones past the line's own range */
};

/* Prices, in thousandths; set by ear and eye on the tunes of the corpora. */
enum {
    SHARE = 45,             /* of what rules of part-writing weigh, in thousandths */
    FOREIGN_ON_BEAT = 1200, /* a cell begins off the chord */
    FOREIGN_LEAPT = 500,    /* a foreign tone that is not passing or a neighbour */
    FOREIGN = 40,
    INSIDE = 70,      /* a leap inside a figure */
    LEAP = 120,       /* into the next cell, a semitone beyond a third */
    A_SKIP = 350,     /* into the next cell by a third */
    UNRESOLVED = 250, /* a leap that does not turn back by step */
    OTHER_WAY = 110,  /* the same figure the other way round */
    OTHER_SHAPE = 330,
    OTHER_FIGURE = 2500, /* inside a phrase */
    AWAY = 25,           /* a semitone that a free start lies from the goal */
    TURNED = 60,         /* a change of direction inside a run or a neighbour */
    AGAIN = 250,         /* the same notes as in the cell before */
    RUBS = 500,          /* against what another line has then */
    WANDERS = 900,       /* a broken chord between tones a step apart, where figures are mixed */
    RETURNS = 200,       /* a figure that comes back to its first tone and stands still */
    STUTTER = 6000, /* a tone said twice, or a leap beyond an octave: where nothing else will do */
    OUTSIDE = 200,  /* a semitone past the line's own range */
    CLOSES = 2      /* times: the way into the end of a phrase */
};

struct shape {
    muta_figure figure;
    uint8_t count;
    int8_t steps[MUTA_CELL_NOTES];
    int twin; /* the shape of which it is the mirror, or itself */
};

/* A figure at a pitch, as a cell may be filled. */
struct candidate {
    muta_pitch notes[MUTA_CELL_NOTES];
    int32_t sounds[MUTA_CELL_NOTES]; /* in semitones */
    uint8_t count;
    int16_t shape; /* -1: a single tone */
    muta_figure figure;
    int64_t price; /* of its own */
};

/* How another line goes into a cell: from what sounds with the last note before it. */
struct motion {
    int32_t from; /* in semitones */
    int32_t to;
};

struct filling {
    const muta_passage *in;
    muta_cells *cells;
    muta_figure figure;
    struct shape shapes[SHAPES];
    size_t shape_count;
    struct candidate **candidates; /* by cell */
    uint32_t *counts;
    muta_sense sense; /* of the cell that is looked at */
    const muta_passage_chord *chords[MUTA_CELL_NOTES];
    int32_t bar_alters[7];   /* what the tune itself has of each letter nearest to that cell, */
    bool has_bar_alters[7];  /* in its bar, or another line while that sounds */
    struct motion **motions; /* by cell, of the lines that are not varied */
    size_t *motion_counts;
    int32_t low; /* of the line's own range */
    int32_t high;
    int32_t lowest; /* of its instrument's, and of what it plays already */
    int32_t highest;
    muta_arena *arena;
};

/* ---- shapes ---- */

static bool is_mirror(const struct shape *a, const struct shape *b)
{
    bool mirror = a->count == b->count && a->figure == b->figure;

    for (size_t i = 0; mirror && i < a->count; i++)
        mirror = a->steps[i] == -b->steps[i];
    return mirror;
}

static void read_shapes(struct filling *filling)
{
    const char *at = muta_table_figures;
    muta_row row;

    while (muta_table_next(&at, &row) && filling->shape_count < SHAPES) {
        struct shape *const shape = &filling->shapes[filling->shape_count];
        shape->figure = MUTA_FIGURE_RUN;
        while (muta_figure_names[shape->figure] &&
               !muta_text_is(row.cells[0], muta_figure_names[shape->figure]))
            shape->figure = (muta_figure)(shape->figure + 1);
        shape->count = (uint8_t)muta_cell_steps(row.cells[2], shape->steps, MUTA_CELL_NOTES, NULL);
        shape->twin = (int)filling->shape_count;
        for (size_t i = 0; i < filling->shape_count; i++)
            if (is_mirror(shape, &filling->shapes[i]))
                shape->twin = (int)i;
        filling->shape_count++;
    }
}

/* ---- candidates ---- */

static const muta_tone *tone_of(const struct filling *filling, const muta_cell *cell)
{
    const muta_texture work = muta_passage_work(filling->in);

    return muta_texture_top(&work, cell->event);
}

static int32_t semitones(muta_pitch pitch)
{
    return muta_pitch_sound(pitch) / MUTA_SEMITONE;
}

static bool is_step(int32_t by)
{
    return by != 0 && by >= -2 && by <= 2;
}

/* In the minor a sixth beside a raised seventh of the chord is raised, a seventh beside a sixth of
 * the chord is not. */
static void smooth(struct candidate *made, const muta_passage_chord *chord)
{
    for (uint8_t i = 0; i + 1 < made->count; i++) {
        const bool rises = made->notes[i + 1].place > made->notes[i].place;
        const uint8_t low = (uint8_t)(rises ? i : i + 1);
        const uint8_t high = (uint8_t)(rises ? i + 1 : i);
        const int32_t size = semitones(made->notes[high]) - semitones(made->notes[low]);
        if (abs(made->notes[i + 1].place - made->notes[i].place) != 1 || size != 3)
            continue;
        if (low > 0 && muta_passage_chord_has(chord, made->notes[high]))
            made->notes[low].alter += MUTA_SEMITONE;
        else if (high > 0 && muta_passage_chord_has(chord, made->notes[low]))
            made->notes[high].alter -= MUTA_SEMITONE;
    }
}

static int64_t price_outside(const struct filling *filling, int32_t sound)
{
    const int32_t beyond = sound < filling->low    ? filling->low - sound
                           : sound > filling->high ? sound - filling->high
                                                   : 0;

    return beyond > BEYOND || sound < filling->lowest || sound > filling->highest
               ? MUTA_FORBIDDEN
               : (int64_t)beyond * OUTSIDE;
}

/* Whether a figure by step has its first tone again. */
static bool returns(const struct candidate *made)
{
    for (size_t i = 2; i < made->count; i++)
        if (made->sounds[i] == made->sounds[0])
            return made->figure != MUTA_FIGURE_BROKEN;
    return false;
}

/* What a step or leap into a note of a figure costs, and the turn that it makes. */
static int64_t price_way(const struct candidate *made, size_t nth)
{
    const int32_t *const at = &made->sounds[nth];
    int64_t price = 0;

    if (muta_pitch_is_augmented(made->notes[nth - 1], made->notes[nth]))
        price += muta_rule_price(MUTA_RULE_AUGMENTED, SHARE);
    if (!is_step(at[0] - at[-1]))
        price += INSIDE;
    if (nth > 1 && made->figure != MUTA_FIGURE_BROKEN && (at[0] > at[-1]) != (at[-1] > at[-2]))
        price += TURNED;
    return price;
}

static int64_t price_foreign(const muta_cell *cell, const struct candidate *made, size_t nth)
{
    if (nth == 0)
        return cell->is_goal ? 0 : FOREIGN_ON_BEAT;
    return is_step(made->sounds[nth] - made->sounds[nth - 1]) ? FOREIGN : FOREIGN_LEAPT;
}

/* What a candidate costs by itself; MUTA_FORBIDDEN where it may not be. */
static int64_t price_own(const struct filling *filling, const muta_cell *cell,
                         const struct candidate *made)
{
    int64_t price = returns(made) ? RETURNS : 0;

    for (size_t i = 0; i < made->count; i++) {
        const int64_t outside = price_outside(filling, made->sounds[i]);
        if (outside == MUTA_FORBIDDEN || (i > 0 && made->sounds[i] == made->sounds[i - 1]))
            return MUTA_FORBIDDEN;
        price += outside + (i > 0 ? price_way(made, i) : 0);
        if (!muta_passage_chord_has(filling->chords[i], made->notes[i]))
            price += price_foreign(cell, made, i);
    }
    return price;
}

static void add_candidate(struct filling *filling, size_t nth, struct candidate made)
{
    const muta_cell *const cell = &filling->cells->at[nth];
    struct candidate *const to = &filling->candidates[nth][filling->counts[nth]];

    for (size_t i = 0; i < made.count; i++)
        made.sounds[i] = semitones(made.notes[i]);
    const int64_t own = price_own(filling, cell, &made);
    if (own == MUTA_FORBIDDEN)
        return;
    made.price +=
        own + (cell->is_goal ? 0 : (int64_t)abs(made.sounds[0] - semitones(cell->goal)) * AWAY);
    *to = made;
    filling->counts[nth]++;
}

static bool is_wanted(const struct filling *filling, const struct shape *shape)
{
    return filling->figure == MUTA_FIGURE_MIXED || shape->figure == filling->figure;
}

/* The tune's own tones in the bar, or what sounds with it, say how it has a letter there, but where
 * the chord says so. */
static void read_bar(struct filling *filling, const muta_cell *cell)
{
    for (int step = 0; step < 7; step++)
        filling->has_bar_alters[step] =
            muta_passage_letter_at(filling->in, cell->event, step, &filling->bar_alters[step]);
}

static muta_pitch in_bar(const struct filling *filling, muta_pitch pitch)
{
    const int step = muta_pitch_step(pitch);

    if (filling->has_bar_alters[step] && !muta_passage_chord_has(filling->chords[0], pitch))
        pitch.alter = filling->bar_alters[step];
    return pitch;
}

/* A step of the scale; where the goals on either side stand, it is theirs. */
static muta_pitch step_from(const struct filling *filling, size_t nth, muta_pitch start,
                            int32_t steps)
{
    const muta_cell *const cell = &filling->cells->at[nth];
    const bool has_next = nth + 1 < filling->cells->count && !cell->is_last && cell[1].is_goal;
    const muta_pitch there = muta_sense_step(&filling->sense, start, steps);

    if (steps == 0)
        return start;
    return has_next && cell[1].goal.place == there.place ? cell[1].goal : in_bar(filling, there);
}

/* In the minor it leads on to the goal that follows it. */
static void lead_on(const struct filling *filling, size_t nth, struct candidate *made)
{
    const muta_cell *const cell = &filling->cells->at[nth];
    const bool has_next = nth + 1 < filling->cells->count && !cell->is_last && cell[1].is_goal;
    muta_pitch way[MUTA_CELL_NOTES + 1];

    memcpy(way, made->notes, made->count * sizeof *way);
    way[made->count] = has_next ? cell[1].goal : made->notes[made->count - 1];
    muta_sense_smooth(&filling->sense, way, made->count + 1U);
    memcpy(made->notes, way, made->count * sizeof *way);
}

/* What a figure costs for standing against other lines; its first tone is the tune's. */
static int64_t price_against(const struct filling *filling, const muta_cell *cell,
                             const struct candidate *made)
{
    const muta_texture work = muta_passage_work(filling->in);
    const muta_line *const line = &work.lines[tone_of(filling, cell)->line];
    int64_t price = 0;

    for (uint8_t i = cell->is_goal ? 1 : 0; i < made->count; i++) {
        const muta_fraction from =
            muta_fraction_add(cell->onset, muta_fraction_scale(cell->unit, i));
        const bool rubs = muta_passage_rubs(filling->in, line, from,
                                            muta_fraction_add(from, cell->unit), made->notes[i]);
        price += rubs ? RUBS : 0;
    }
    return price;
}

/* Where the tune goes by step a broken chord would bury it, unless it is asked for. */
static bool wanders(const struct filling *filling, size_t nth, muta_figure figure)
{
    const muta_cell *const cell = &filling->cells->at[nth];
    const bool has_next = nth + 1 < filling->cells->count && !cell->is_last && cell[1].is_goal;

    return filling->figure == MUTA_FIGURE_MIXED && figure == MUTA_FIGURE_BROKEN && has_next &&
           abs(cell[1].goal.place - cell->goal.place) <= 1;
}

/* All figures from one start. */
static void add_from(struct filling *filling, size_t nth, muta_pitch start)
{
    const muta_cell *const cell = &filling->cells->at[nth];

    if (cell->count == 1) {
        add_candidate(filling, nth, (struct candidate){.notes = {start}, .count = 1, .shape = -1});
        return;
    }
    for (size_t i = 0; i < filling->shape_count; i++) {
        const struct shape *const shape = &filling->shapes[i];
        struct candidate made = {
            .count = cell->count, .shape = (int16_t)i, .figure = shape->figure};
        if (shape->count != cell->count || !is_wanted(filling, shape))
            continue;
        made.notes[0] = start;
        for (uint8_t j = 1; j < cell->count; j++)
            made.notes[j] = shape->figure == MUTA_FIGURE_BROKEN
                                ? in_bar(filling, muta_sense_chord_step(&filling->sense, start,
                                                                        shape->steps[j]))
                                : step_from(filling, nth, start, shape->steps[j]);
        lead_on(filling, nth, &made);
        smooth(&made, filling->chords[0]);
        made.price = price_against(filling, cell, &made) +
                     (wanders(filling, nth, shape->figure) ? WANDERS : 0);
        add_candidate(filling, nth, made);
    }
}

static size_t most_shapes(const struct filling *filling, uint8_t notes)
{
    size_t count = 1;

    for (size_t i = 0; i < filling->shape_count; i++)
        count += filling->shapes[i].count == notes;
    return count;
}

static muta_status find_candidates(struct filling *filling, size_t nth)
{
    const muta_cell *const cell = &filling->cells->at[nth];
    const muta_tone *const tone = tone_of(filling, cell);
    const muta_pitch goal = cell->goal;

    filling->candidates[nth] = muta_arena_take_array(
        filling->arena, (cell->is_goal ? 1 : STARTS) * most_shapes(filling, cell->count) + 1,
        sizeof **filling->candidates);
    if (!filling->candidates[nth])
        return MUTA_E_MEMORY;
    filling->sense = muta_sense_at(filling->in, tone, cell->onset);
    for (uint8_t i = 0; i < cell->count; i++)
        filling->chords[i] = muta_passage_chord_at(
            filling->in, muta_fraction_add(cell->onset, muta_fraction_scale(cell->unit, i)));
    read_bar(filling, cell);
    add_from(filling, nth, goal);
    for (int32_t side = -1; side <= 1 && !cell->is_goal; side += 2)
        add_from(filling, nth, muta_sense_chord_step(&filling->sense, goal, side));
    /* A goal at the edge of every range is still a goal. */
    if (filling->counts[nth] == 0)
        filling->candidates[nth][filling->counts[nth]++] = (struct candidate){
            .notes = {goal, goal, goal, goal},
            .sounds = {semitones(goal), semitones(goal), semitones(goal), semitones(goal)},
            .count = 1,
            .shape = -1};
    return MUTA_OK;
}

/* ---- prices between cells ---- */

static int64_t price_figures(const struct filling *filling, const muta_cell *cell,
                             const muta_cell *before, const struct candidate *from,
                             const struct candidate *to)
{
    if (from->shape < 0 || to->shape < 0)
        return 0;
    const int64_t again =
        from->shape == to->shape && muta_pitch_is_equal(from->notes[0], to->notes[0]) ? AGAIN : 0;
    if (from->figure != to->figure)
        return cell->phrase == before->phrase ? OTHER_FIGURE : 0;
    if (from->shape == to->shape || from->count != to->count)
        return again;
    return filling->shapes[from->shape].twin == filling->shapes[to->shape].twin ? OTHER_WAY
                                                                                : OTHER_SHAPE;
}

/* A leap wants a step the other way behind it. */
static int64_t price_leap(int32_t leap, int32_t next)
{
    return abs(leap) > A_THIRD && !(is_step(next) && (leap > 0) != (next > 0)) ? UNRESOLVED : 0;
}

/* Fifths and octaves with another line, from the last tone of a cell to the first of the next. */
static int64_t price_parallel(const struct filling *filling, size_t nth, int32_t from, int32_t to)
{
    int64_t price = 0;

    for (size_t i = 0; i < filling->motion_counts[nth]; i++) {
        const struct motion *const other = &filling->motions[nth][i];
        const bool same_way = (from > to) == (other->from > other->to);
        if (same_way)
            price += muta_parallel_price(from, to, other->from, other->to, SHARE);
    }
    return price;
}

static int64_t price_join(const struct filling *filling, size_t nth, const struct candidate *from,
                          const struct candidate *to)
{
    const uint8_t last = (uint8_t)(from->count - 1);
    const int32_t by = to->sounds[0] - from->sounds[last];
    int64_t price = 0;

    if (by == 0 && (from->count > 1 || !filling->cells->at[nth].is_goal))
        price += STUTTER;
    if (abs(by) > FARTHEST && from->count > 1)
        price += STUTTER;
    if (from->count > 1 || to->count > 1) {
        price += abs(by) > A_THIRD ? (int64_t)(abs(by) - A_THIRD) * LEAP + A_SKIP
                 : abs(by) > 2     ? A_SKIP
                                   : 0;
        if (muta_pitch_is_augmented(from->notes[last], to->notes[0]))
            price += muta_rule_price(MUTA_RULE_AUGMENTED, SHARE);
    }
    if (from->figure == MUTA_FIGURE_BROKEN)
        price /= 3;
    if (from->count > 1)
        price += price_leap(from->sounds[last] - from->sounds[last - 1], by);
    if (to->count > 1 && from->count > 1)
        price += price_leap(by, to->sounds[1] - to->sounds[0]);
    if (filling->cells->at[nth].closes)
        price *= CLOSES;
    return price + price_parallel(filling, nth, from->sounds[last], to->sounds[0]);
}

static uint32_t count(void *context, size_t step)
{
    return ((struct filling *)context)->counts[step];
}

static int64_t price(void *context, size_t step, uint32_t from, uint32_t to)
{
    const struct filling *const filling = context;
    const struct candidate *const here = &filling->candidates[step][to];
    const muta_cell *const cell = &filling->cells->at[step];

    if (from == MUTA_NO_CANDIDATE)
        return here->price;
    const struct candidate *const there = &filling->candidates[step - 1][from];
    const muta_cell *const before = cell - 1;
    int64_t join = 0;
    if (!before->is_last) {
        join = price_join(filling, step, there, here);
        if (join == MUTA_FORBIDDEN)
            return MUTA_FORBIDDEN;
    }
    return here->price + join + price_figures(filling, cell, before, there, here);
}

/* ---- the search ---- */

/* How the lines that are not varied go into a cell. */
static muta_status find_motions(struct filling *filling, size_t nth)
{
    const muta_texture context = muta_passage_context(filling->in);
    const muta_cell *const cell = &filling->cells->at[nth];
    struct motion *const motions =
        muta_arena_take_array(filling->arena, context.line_count + 1, sizeof *motions);

    filling->motions[nth] = motions;
    if (!motions)
        return MUTA_E_MEMORY;
    if (nth == 0)
        return MUTA_OK;
    const muta_fraction last =
        muta_fraction_max(cell[-1].onset, muta_fraction_subtract(cell->onset, cell[-1].unit));
    for (size_t i = 0; i < context.line_count; i++) {
        struct motion *const motion = &motions[filling->motion_counts[nth]];
        if (muta_line_sounding(&context, &context.lines[i], last, &motion->from) &&
            muta_line_sounding(&context, &context.lines[i], cell->onset, &motion->to))
            filling->motion_counts[nth]++;
    }
    return MUTA_OK;
}

/* The line's own range, as its goals have it, and its instrument's, where that is known. */
static void find_range(struct filling *filling)
{
    const muta_texture work = muta_passage_work(filling->in);
    muta_instrument instrument;

    filling->low = INT32_MAX;
    filling->high = INT32_MIN;
    for (size_t i = 0; i < filling->cells->count; i++) {
        const int32_t sound = semitones(filling->cells->at[i].goal);
        filling->low = sound < filling->low ? sound : filling->low;
        filling->high = sound > filling->high ? sound : filling->high;
    }
    filling->lowest = INT32_MIN;
    filling->highest = INT32_MAX;
    const uint32_t part = work.lines[tone_of(filling, filling->cells->at)->line].part;
    if (!muta_part_instrument(&muta_passage_score(filling->in)->parts[part], &instrument))
        return;
    const int32_t low = semitones(instrument.low);
    const int32_t high = semitones(instrument.high);
    filling->lowest = low < filling->low ? low : filling->low;
    filling->highest = high > filling->high ? high : filling->high;
}

static muta_status take_answer(struct filling *filling, const muta_answer *answer)
{
    for (size_t i = 0; i < filling->cells->count; i++) {
        muta_cell *const cell = &filling->cells->at[i];
        const struct candidate *const taken = &filling->candidates[i][answer->taken[i]];
        cell->count = taken->count;
        for (size_t j = 0; j < taken->count; j++)
            cell->notes[j] = taken->notes[j];
    }
    return MUTA_OK;
}

muta_status muta_figures_fill(muta_arena *arena, const muta_passage *in, muta_cells *cells,
                              muta_figure figure, size_t pick)
{
    struct filling filling = {.in = in, .cells = cells, .figure = figure, .arena = arena};
    const muta_search search = {&filling, cells->count, count, price};
    muta_answer *const answers = muta_arena_take_array(arena, pick + 1, sizeof *answers);
    size_t found = 0;

    filling.candidates = muta_arena_take_array(arena, cells->count + 1, sizeof *filling.candidates);
    filling.counts = muta_arena_take_array(arena, cells->count + 1, sizeof *filling.counts);
    filling.motions = muta_arena_take_array(arena, cells->count + 1, sizeof *filling.motions);
    filling.motion_counts =
        muta_arena_take_array(arena, cells->count + 1, sizeof *filling.motion_counts);
    if (!answers || !filling.candidates || !filling.counts || !filling.motions ||
        !filling.motion_counts)
        return MUTA_E_MEMORY;
    read_shapes(&filling);
    find_range(&filling);
    for (size_t i = 0; i < cells->count; i++) {
        MUTA_TRY(find_motions(&filling, i));
        MUTA_TRY(find_candidates(&filling, i));
    }
    MUTA_TRY(muta_search_best(arena, &search, pick, answers, &found));
    return found > 0 ? take_answer(&filling, &answers[found - 1]) : MUTA_E_RANGE;
}
