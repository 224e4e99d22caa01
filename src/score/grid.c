/*
 * grid.c: the bars of a passage as it is now.
 *
 *     old bars      | 3 |   0   |   1   |  2  ||        the pick-up, two full bars, what it
 * completes the time map  two statements, stretched, turned round ... images        where each old
 * bar lies in each run of statements walk          a phase, what is filled of the bar that is open,
 * goes from image to image
 *
 * Where the passage is all parts, its bar lines go with the music: every image of a full bar that
 * is a whole number of bars long begins one; shorter ones are filled up until a bar is full. A
 * pick-up, and the second half of a bar that is split, is the end of its bar. Elsewhere the bars
 * stay what they are, and new ones come behind the end of each stretch.
 */
#include "score/texture.h"

/* The bars of a stretch are laid from its onset on. */
struct walk {
    muta_passage *passage;
    const muta_score *score;
    const muta_stretch *stretch;
    muta_fraction end;    /* of the stretch, in the passage */
    muta_fraction open;   /* where the bar begins that is being filled */
    muta_fraction filled; /* of that bar's metre, what is missing before it included */
    muta_fraction lead;   /* what is missing before it */
    muta_fraction full;   /* the length of a bar of its metre */
    uint32_t like;
    uint32_t wanted; /* the old bar that begins with it, or MUTA_NO_BAR */
};

/* An old bar, or what a run of statements holds of it, as it lies now. */
struct image {
    uint32_t bar;
    muta_fraction from;
    muta_fraction to;
    bool is_whole;  /* it holds all of the old bar */
    bool is_turned; /* time runs backwards */
};

static muta_fraction nominal(const muta_score *score, uint32_t bar)
{
    const muta_bar *const of = &score->bars[bar];

    return muta_fraction_is_valid(of->metre.length) && of->metre.length.top > 0 ? of->metre.length
                                                                                : of->length;
}

static bool is_short(const muta_score *score, uint32_t bar)
{
    return muta_fraction_compare(score->bars[bar].length, nominal(score, bar)) < 0;
}

static bool has_edge_before(const muta_score *score, uint32_t bar)
{
    return bar == 0 || score->bars[bar].opens || score->bars[bar - 1].closes;
}

static bool has_edge_behind(const muta_score *score, uint32_t bar)
{
    return bar + 1 >= score->bar_count || score->bars[bar].closes || score->bars[bar + 1].opens;
}

bool muta_bar_is_end(const muta_score *score, uint32_t bar)
{
    if (!is_short(score, bar))
        return false;
    if (bar == 0 || (has_edge_before(score, bar) && !has_edge_behind(score, bar)))
        return bar + 1 < score->bar_count;
    /* The second half of a bar that a line, or a repeat, splits. */
    return bar > 1 && is_short(score, bar - 1) &&
           muta_fraction_compare(
               muta_fraction_add(score->bars[bar - 1].length, score->bars[bar].length),
               nominal(score, bar)) == 0;
}

/* ---- bars put down ---- */

static muta_status put_bar(muta_passage *passage, muta_fraction start, muta_fraction length,
                           muta_fraction lead, uint32_t like, uint32_t old)
{
    if (length.top <= 0 || !muta_fraction_is_valid(muta_fraction_add(start, length)))
        return length.top == 0 ? MUTA_OK : MUTA_E_RANGE;
    muta_grid_bar *const bar = MUTA_PUSH(&passage->arena, &passage->grid);
    if (!bar)
        return MUTA_E_MEMORY;
    *bar = (muta_grid_bar){start, length, lead, like, old};
    return MUTA_OK;
}

/* Ends the open bar at a moment, and opens the next there. */
static muta_status close_bar(struct walk *walk, muta_fraction at)
{
    MUTA_TRY(put_bar(walk->passage, walk->open, muta_fraction_subtract(at, walk->open), walk->lead,
                     walk->like, walk->wanted));
    walk->open = at;
    walk->lead = walk->filled;
    walk->wanted = MUTA_NO_BAR;
    return MUTA_OK;
}

/* Ends the open bar, if it holds anything, and opens one of which so much is missing. */
static muta_status open_bar(struct walk *walk, muta_fraction at, muta_fraction missing)
{
    walk->filled = missing;
    MUTA_TRY(close_bar(walk, at));
    walk->lead = missing;
    return MUTA_OK;
}

/* Fills bars up to a moment. */
static muta_status fill_to(struct walk *walk, muta_fraction from, muta_fraction to)
{
    muta_fraction at = from;

    while (muta_fraction_compare(at, to) < 0) {
        const muta_fraction room = muta_fraction_subtract(walk->full, walk->filled);
        const muta_fraction left = muta_fraction_subtract(to, at);
        if (!muta_fraction_is_valid(room) || !muta_fraction_is_valid(left) || room.top <= 0)
            return MUTA_E_RANGE;
        if (walk->passage->grid.count > MUTA_GRID_BARS)
            return MUTA_E_RANGE;
        if (muta_fraction_compare(left, room) < 0) {
            walk->filled = muta_fraction_add(walk->filled, left);
            return MUTA_OK;
        }
        at = muta_fraction_add(at, room);
        walk->filled = MUTA_ZERO;
        MUTA_TRY(close_bar(walk, at));
    }
    return MUTA_OK;
}

/* ---- images ---- */

/* A run: statements that go on where the one before them ended. */
struct run {
    const muta_statement *first;
    size_t count;
    bool is_first; /* of its stretch */
    bool is_bound; /* its bar lines are those of the old bars */
};

static muta_fraction end_of(const muta_statement *row)
{
    return muta_fraction_add(
        row->at, muta_fraction_multiply(muta_fraction_subtract(row->to, row->from), row->scale));
}

static struct run run_at(const struct walk *walk, size_t row)
{
    const muta_passage *const passage = walk->passage;
    struct run run = {&passage->map.at[row], 1, false, false};

    while (row + run.count < passage->map.count) {
        const muta_statement *const next = &passage->map.at[row + run.count];
        if (next->is_mirrored || next[-1].is_mirrored ||
            muta_fraction_compare(next[-1].to, next->from) != 0 ||
            muta_fraction_compare(end_of(&next[-1]), next->at) != 0 ||
            muta_fraction_compare(next->at, walk->end) >= 0)
            break;
        run.count++;
    }
    return run;
}

static muta_fraction place_in(const struct run *run, muta_fraction time)
{
    const muta_statement *row = run->first;

    while (row + 1 < run->first + run->count && muta_fraction_compare(row->to, time) < 0)
        row++;
    return muta_statement_place(row, time);
}

/* What a run holds of an old bar; false for nothing. */
static bool find_image(const struct walk *walk, const struct run *run, uint32_t bar,
                       struct image *image)
{
    const muta_fraction begin = run->first->from;
    const muta_fraction end = run->first[run->count - 1].to;
    const muta_fraction start =
        muta_fraction_subtract(walk->score->bars[bar].start,
                               muta_fraction_add(walk->score->bars[walk->passage->from.bar].start,
                                                 walk->passage->from.onset));
    const muta_fraction stop = muta_fraction_add(start, walk->score->bars[bar].length);
    const muta_fraction from = muta_fraction_max(start, begin);
    const muta_fraction to = muta_fraction_min(stop, end);

    if (muta_fraction_compare(from, to) >= 0)
        return false;
    const muta_fraction one = place_in(run, from);
    const muta_fraction two = place_in(run, to);
    *image = (struct image){
        .bar = bar,
        .from = muta_fraction_min(one, two),
        .to = muta_fraction_max(one, two),
        .is_whole = muta_fraction_compare(from, start) == 0 && muta_fraction_compare(to, stop) == 0,
        .is_turned = run->first->is_mirrored,
    };
    return muta_fraction_is_valid(one) && muta_fraction_is_valid(two);
}

/* A pick-up turned round is a last bar that lacks its end, and the other way. */
static bool is_end(const struct walk *walk, const struct image *image)
{
    if (!image->is_turned)
        return muta_bar_is_end(walk->score, image->bar);
    return is_short(walk->score, image->bar) && !muta_bar_is_end(walk->score, image->bar) &&
           muta_fraction_compare(image->from, walk->stretch->onset) == 0;
}

static muta_fraction full_of(const struct walk *walk, uint32_t bar)
{
    const muta_fraction length = walk->score->bars[bar].length;
    const muta_fraction full =
        walk->passage->is_remetred ? walk->passage->metre.length : nominal(walk->score, bar);

    return !walk->passage->is_remetred && muta_fraction_compare(length, full) > 0 ? length : full;
}

static muta_fraction remainder_of(muta_fraction time, muta_fraction by)
{
    const muta_fraction times = muta_fraction_divide(time, by);

    return times.bottom > 0
               ? muta_fraction_subtract(time, muta_fraction_scale(by, times.top / times.bottom))
               : times;
}

/* What is missing before an image that begins a bar. */
static muta_fraction missing_before(const struct walk *walk, const struct image *image)
{
    const muta_fraction full = full_of(walk, image->bar);
    const muta_fraction over = remainder_of(muta_fraction_subtract(image->to, image->from), full);

    return is_end(walk, image) && over.top > 0 ? muta_fraction_subtract(full, over) : MUTA_ZERO;
}

/* Whether a signature of key or metre stands at the start of a bar. */
static bool has_signature(const muta_score *score, uint32_t bar)
{
    if (bar >= score->bar_count)
        return false;
    const muta_metre *const metre = &score->bars[bar].metre;
    if (bar > 0 && (metre->beat_type != score->bars[bar - 1].metre.beat_type ||
                    muta_fraction_compare(metre->length, score->bars[bar - 1].metre.length) != 0))
        return true;
    for (size_t i = 0; i < score->part_count; i++)
        for (size_t j = 0; j < score->parts[i].keys.count; j++)
            if (score->parts[i].keys.at[j].at.bar == bar &&
                score->parts[i].keys.at[j].at.onset.top == 0)
                return true;
    return false;
}

/* Whether an image begins a bar wherever the bar before it stands. */
static bool begins_bar(const struct walk *walk, const struct run *run, const struct image *image,
                       bool is_first)
{
    const muta_fraction full = full_of(walk, image->bar);
    const muta_fraction length = muta_fraction_subtract(image->to, image->from);
    const muta_bar *const old = &walk->score->bars[image->bar];

    if (is_first && run->is_first)
        return true;
    if (!run->is_bound || !image->is_whole)
        return false;
    /* Another metre, or a bar that is none of its metre, or whole bars. */
    if (muta_fraction_compare(full, walk->full) != 0 ||
        (!is_first && has_signature(walk->score, image->bar + image->is_turned)))
        return true;
    if (is_short(walk->score, image->bar))
        return false;
    return muta_fraction_divide(length, full).bottom == 1 ||
           muta_fraction_compare(old->length, nominal(walk->score, image->bar)) > 0;
}

/* A line inside a bar that is split stays. */
static bool splits_bar(const struct walk *walk, const struct run *run, const struct image *image,
                       bool is_first)
{
    const uint32_t second = image->is_turned ? image->bar + 1 : image->bar;

    return run->is_bound && image->is_whole && !is_first && second < walk->score->bar_count &&
           muta_bar_is_end(walk->score, second);
}

static muta_status lay_image(struct walk *walk, const struct run *run, const struct image *image,
                             bool is_first)
{
    const muta_fraction missing = missing_before(walk, image);
    const bool begins = begins_bar(walk, run, image, is_first);
    const bool stands_right = muta_fraction_compare(walk->filled, missing) == 0;

    if (begins && (!stands_right || muta_fraction_compare(full_of(walk, image->bar), walk->full))) {
        MUTA_TRY(open_bar(walk, image->from, missing));
    } else if (splits_bar(walk, run, image, is_first)) {
        MUTA_TRY(close_bar(walk, image->from));
    }
    if (muta_fraction_compare(walk->open, image->from) == 0) {
        walk->like = image->bar;
        walk->full = full_of(walk, image->bar);
        if (run->is_first && image->is_whole && !image->is_turned)
            walk->wanted = image->bar;
    }
    return fill_to(walk, image->from, image->to);
}

/* Whether the old bar lines of a run fall where bars begin anyway, or it begins the stretch. */
static bool is_bound(const struct walk *walk, const struct run *run, const struct image *first)
{
    return first->is_whole &&
           (run->is_first || muta_fraction_compare(walk->filled, missing_before(walk, first)) == 0);
}

static muta_status lay_run(struct walk *walk, struct run *run)
{
    const uint32_t from = walk->passage->from.bar;
    const uint32_t to = walk->passage->to.bar < walk->score->bar_count
                            ? walk->passage->to.bar
                            : (uint32_t)walk->score->bar_count;
    bool is_first = true;

    for (uint32_t i = from; i < to; i++) {
        struct image image;
        if (!find_image(walk, run, run->first->is_mirrored ? to - 1 - (i - from) : i, &image))
            continue;
        if (is_first)
            run->is_bound = is_bound(walk, run, &image);
        MUTA_TRY(lay_image(walk, run, &image, is_first));
        is_first = false;
    }
    return MUTA_OK;
}

/* ---- stretches ---- */

/* The stretch ends; the last bar of the passage is full, unless it was none. */
static muta_status end_stretch(struct walk *walk, size_t first)
{
    const muta_stretch *const last =
        &walk->passage->stretches.at[walk->passage->stretches.count - 1];
    const muta_stretch *const of = walk->stretch;
    const uint32_t old =
        (of->to.bar < walk->score->bar_count ? of->to.bar : (uint32_t)walk->score->bar_count) - 1;
    muta_fraction end = walk->end;

    if (of == last && walk->filled.top > 0 && !is_short(walk->score, old))
        end = muta_fraction_add(walk->open, muta_fraction_subtract(walk->full, walk->lead));
    if (muta_fraction_compare(walk->open, end) < 0)
        MUTA_TRY(close_bar(walk, end));
    /* Something has to stand between two edges. */
    return walk->passage->grid.count > first
               ? MUTA_OK
               : put_bar(walk->passage, of->onset, nominal(walk->score, of->from.bar), MUTA_ZERO,
                         of->from.bar, of->from.bar);
}

/* Bars that were there are used again in their order, before new ones are put in. */
static void assign_bars(struct walk *walk, size_t first)
{
    muta_grid_bar *const bars = walk->passage->grid.at;
    const size_t count = walk->passage->grid.count;
    const uint32_t end = walk->stretch->to.bar < walk->score->bar_count
                             ? walk->stretch->to.bar
                             : (uint32_t)walk->score->bar_count;
    uint32_t next = walk->stretch->from.bar;

    for (size_t i = first; i < count; i++) {
        uint32_t before = end;
        for (size_t j = count; j > i + 1; j--)
            if (bars[j - 1].old != MUTA_NO_BAR && bars[j - 1].old >= next)
                before = bars[j - 1].old;
        if (i == first || bars[i].old == MUTA_NO_BAR || bars[i].old < next)
            bars[i].old = next < before || i == first ? next : MUTA_NO_BAR;
        next = bars[i].old == MUTA_NO_BAR ? next : bars[i].old + 1;
    }
}

static muta_status lay_stretch(struct walk *walk, size_t nth)
{
    muta_passage *const passage = walk->passage;
    const size_t first = passage->grid.count;
    bool is_first = true;

    walk->stretch = &passage->stretches.at[nth];
    walk->end = muta_fraction_add(walk->stretch->onset, walk->stretch->length);
    walk->open = walk->stretch->onset;
    walk->filled = walk->lead = MUTA_ZERO;
    walk->like = walk->stretch->from.bar;
    walk->full = full_of(walk, walk->like);
    walk->wanted = MUTA_NO_BAR;
    muta_fraction at = walk->open;
    for (size_t row = 0; row < passage->map.count;) {
        /* A run is one of this stretch: what goes on from the one before begins here anew. */
        if (muta_fraction_compare(passage->map.at[row].at, at) < 0 ||
            muta_fraction_compare(passage->map.at[row].at, walk->end) >= 0) {
            row++;
            continue;
        }
        struct run run = run_at(walk, row);
        row += run.count;
        const muta_fraction ends = end_of(&run.first[run.count - 1]);
        MUTA_TRY(fill_to(walk, at, run.first->at));
        run.is_first = is_first && muta_fraction_compare(run.first->at, walk->stretch->onset) == 0;
        is_first = false;
        MUTA_TRY(lay_run(walk, &run));
        at = ends;
    }
    MUTA_TRY(fill_to(walk, at, walk->end));
    MUTA_TRY(end_stretch(walk, first));
    assign_bars(walk, first);
    return MUTA_OK;
}

/* The bars as they are, and behind the end of the stretch others of the last one's metre. */
static muta_status keep_stretch(muta_passage *passage, size_t nth)
{
    const muta_score *const score = passage->score;
    const muta_stretch *const stretch = &passage->stretches.at[nth];
    const muta_fraction end = muta_fraction_add(stretch->onset, stretch->length);
    muta_fraction at = muta_fraction_subtract(stretch->onset, stretch->from.onset);
    uint32_t bar = stretch->from.bar;
    const uint32_t last = stretch->to.onset.top > 0 ? stretch->to.bar + 1 : stretch->to.bar;
    bool is_new = false;

    while (muta_fraction_compare(at, end) < 0) {
        const muta_fraction length = is_new ? nominal(score, bar) : score->bars[bar].length;
        const muta_fraction lead =
            !is_new && muta_bar_is_end(score, bar)
                ? muta_fraction_subtract(nominal(score, bar), score->bars[bar].length)
                : MUTA_ZERO;
        if (length.top <= 0 && is_new)
            return MUTA_OK;
        if (passage->grid.count > MUTA_GRID_BARS)
            return MUTA_E_RANGE;
        MUTA_TRY(put_bar(passage, at, length, lead, bar, is_new ? MUTA_NO_BAR : bar));
        at = muta_fraction_add(at, length);
        is_new = is_new || bar + 1 >= last || bar + 1 >= score->bar_count;
        bar += !is_new;
    }
    return MUTA_OK;
}

static bool stretches_stay(const muta_passage *passage)
{
    for (size_t i = 0; i < passage->stretches.count; i++)
        if (muta_stretch_growth(passage->score, &passage->stretches.at[i]).top != 0)
            return false;
    return true;
}

bool muta_passage_has_own_grid(const muta_passage *passage)
{
    return passage->is_everything && passage->context->tones.count == 0 &&
           !passage->score->own_grids && !passage->is_tail && !passage->is_forced;
}

muta_status muta_passage_lay_grid(muta_passage *passage)
{
    struct walk walk = {.passage = passage, .score = passage->score};

    passage->grid.count = 0;
    passage->is_regridded =
        muta_passage_has_own_grid(passage) &&
        (passage->is_remetred || (passage->map.count > 0 &&
                                  !(muta_passage_keeps_time(passage) && stretches_stay(passage))));
    for (size_t i = 0; i < passage->stretches.count; i++)
        MUTA_TRY(passage->is_regridded ? lay_stretch(&walk, i) : keep_stretch(passage, i));
    return MUTA_OK;
}

/* Behind the last bar go others like it; where there is none, bars of a whole note. */
static muta_grid_bar bar_behind(const muta_passage *passage, muta_fraction time)
{
    const muta_grid_bar *const last =
        passage->grid.count > 0 ? &passage->grid.at[passage->grid.count - 1] : NULL;
    muta_grid_bar bar = {MUTA_ZERO, muta_fraction_of(4, 1), MUTA_ZERO, passage->from.bar,
                         MUTA_NO_BAR};

    if (last) {
        const muta_fraction full = nominal(passage->score, last->like);
        bar = *last;
        bar.start = muta_fraction_add(last->start, last->length);
        bar.lead = MUTA_ZERO;
        bar.length = full.top > 0 ? full : last->length;
    }
    const muta_fraction bars =
        muta_fraction_divide(muta_fraction_subtract(time, bar.start), bar.length);
    if (muta_fraction_is_valid(bars))
        bar.start = muta_fraction_add(
            bar.start, muta_fraction_scale(bar.length, bars.top / bars.bottom - (bars.top < 0)));
    return bar;
}

muta_grid_bar muta_passage_bar_at(const muta_passage *passage, muta_fraction time)
{
    size_t low = 0;
    size_t high = passage->grid.count;

    while (high - low > 1) {
        const size_t middle = low + (high - low) / 2;
        if (muta_fraction_compare(passage->grid.at[middle].start, time) <= 0)
            low = middle;
        else
            high = middle;
    }
    if (passage->grid.count == 0)
        return bar_behind(passage, time);
    const muta_grid_bar *const bar = &passage->grid.at[low];
    const bool is_behind =
        low + 1 == passage->grid.count &&
        muta_fraction_compare(muta_fraction_add(bar->start, bar->length), time) <= 0;
    return is_behind ? bar_behind(passage, time) : *bar;
}

/* ---- rounds ---- */

/* The bar that a moment ends, or lies in. */
static muta_grid_bar bar_before(const muta_passage *passage, muta_fraction time)
{
    const muta_grid_bar bar = muta_passage_bar_at(passage, time);

    for (size_t i = 0; i < passage->grid.count; i++) {
        const muta_grid_bar *const of = &passage->grid.at[i];
        if (muta_fraction_compare(of->start, time) < 0 &&
            muta_fraction_compare(muta_fraction_add(of->start, of->length), time) >= 0)
            return *of;
    }
    return bar;
}

/* Whether nothing is struck from a moment to another. */
static bool is_still(const muta_passage *passage, muta_fraction from, muta_fraction to)
{
    for (size_t i = 0; i < passage->work.events.count; i++)
        if (muta_fraction_compare(passage->work.events.at[i].onset, from) >= 0 &&
            muta_fraction_compare(passage->work.events.at[i].onset, to) < 0)
            return false;
    return true;
}

muta_fraction muta_passage_round(const muta_passage *passage, muta_fraction from, muta_fraction to)
{
    const muta_fraction length = muta_fraction_subtract(to, from);
    const muta_grid_bar first = muta_passage_bar_at(passage, from);
    const muta_fraction line = muta_fraction_add(first.start, first.length);

    if ((muta_fraction_compare(first.start, from) == 0 && first.lead.top == 0) ||
        muta_fraction_compare(line, to) >= 0)
        return length;
    const muta_fraction upbeat = muta_fraction_subtract(line, from);
    const muta_grid_bar last = bar_before(passage, to);
    const muta_fraction full = nominal(passage->score, last.like);
    const muta_fraction end = muta_fraction_add(last.start, last.length);
    /* In all parts the last bar is filled up; elsewhere it stays, and the next line is its end. */
    muta_fraction next =
        muta_passage_has_own_grid(passage) || muta_fraction_compare(end, to) > 0
            ? muta_fraction_add(muta_fraction_subtract(last.start, last.lead), full)
            : end;
    next = muta_fraction_subtract(next, upbeat);
    while (muta_fraction_compare(next, to) < 0)
        next = muta_fraction_add(next, full);
    const muta_fraction sooner = muta_fraction_subtract(next, full);
    if (muta_fraction_compare(next, to) > 0 && muta_fraction_compare(sooner, line) >= 0 &&
        is_still(passage, sooner, to))
        next = sooner;
    return muta_fraction_is_valid(next) ? muta_fraction_subtract(next, from) : length;
}
