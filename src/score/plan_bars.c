/* plan_bars.c: which bars there will be, and where moments come to lie. */
#include "mutanza/limits.h"
#include "score/plan_make.h"
#include <stdlib.h>
#include <string.h>

/* ---- the bars ---- */

muta_fraction muta_stretch_growth(const muta_score *score, const muta_stretch *stretch)
{
    const muta_bar *const last = &score->bars[score->bar_count - 1];
    const muta_fraction end =
        stretch->to.bar < score->bar_count
            ? muta_fraction_add(score->bars[stretch->to.bar].start, stretch->to.onset)
            : muta_fraction_add(last->start, last->length);
    const muta_fraction was = muta_fraction_subtract(
        end, muta_fraction_add(score->bars[stretch->from.bar].start, stretch->from.onset));

    return muta_fraction_subtract(stretch->length, was);
}

/* The length of a bar that is put in: by the metre in force, or as long as the bar before it. */
static muta_fraction new_length(const muta_score *score, uint32_t bar)
{
    const muta_bar *const like = &score->bars[bar];

    return muta_fraction_is_valid(like->metre.length) ? like->metre.length : like->length;
}

int64_t muta_bars_for(const muta_score *score, uint32_t bar, muta_fraction time)
{
    const muta_fraction count = muta_fraction_divide(time, new_length(score, bar));

    if (!muta_fraction_is_valid(count))
        return INT64_MAX;
    return count.top / count.bottom + (count.top % count.bottom != 0);
}

/* Why bars cannot be put in behind a stretch; NULL when they can. */
static const char *why_not(const muta_score *score, const muta_stretch *stretch)
{
    const uint32_t bar = stretch->to.bar;

    if (score->own_grids)
        return "bars cannot be put in where the parts have bar lines of their own";
    /* What stands behind the cut would not fit into a bar of another length. */
    if (stretch->to.onset.top != 0 &&
        muta_fraction_compare(score->bars[bar].length, new_length(score, bar)) != 0)
        return "a passage that grows cannot end inside a bar that is shorter or longer than its "
               "metre; let where= end with a bar";
    return NULL;
}

static muta_status grow(const muta_plan *plan, const muta_stretch *stretch, muta_fraction by,
                        uint32_t *added, muta_diags *diags)
{
    const muta_score *const score = plan->score;
    const uint32_t last = stretch->to.onset.top == 0 ? stretch->to.bar - 1 : stretch->to.bar;
    const muta_moment at = {last, MUTA_ALL_STAVES, MUTA_ZERO};
    const int64_t count = muta_bars_for(score, last, by);
    const char *const why = why_not(score, stretch);

    if (why) {
        muta_diag_add(diags, MUTA_ERROR, muta_score_place(score, NULL, at), "%s", why);
        return MUTA_E_DATA;
    }
    if (count > MUTA_LIMIT_NEW_BARS) {
        muta_diag_add(diags, MUTA_ERROR, muta_score_place(score, NULL, at),
                      "more than %d new bars; ask for less", MUTA_LIMIT_NEW_BARS);
        return MUTA_E_DATA;
    }
    if (added[last] < (uint32_t)count) /* passages side by side share the new bars */
        added[last] = (uint32_t)count;
    return MUTA_OK;
}

/* How many bars are put in behind each bar. */
static muta_status plan_changes(const muta_plan *plan, const muta_passage *passage, uint32_t *added,
                                muta_diags *diags)
{
    for (size_t i = 0; i < passage->stretches.count && !passage->is_regridded; i++) {
        const muta_stretch *const stretch = &passage->stretches.at[i];
        const muta_fraction by = muta_stretch_growth(plan->score, stretch);
        if (by.top > 0)
            MUTA_TRY(grow(plan, stretch, by, added, diags));
    }
    return MUTA_OK;
}

static muta_status add_bar(muta_plan *plan, uint32_t old, uint32_t like, muta_fraction length,
                           muta_fraction *start)
{
    muta_plan_bar *const bar = MUTA_PUSH(&plan->arena, &plan->bars);

    if (!bar)
        return MUTA_E_MEMORY;
    *bar = (muta_plan_bar){.old = old, .like = like, .start = *start, .length = length};
    *start = muta_fraction_add(*start, length);
    return MUTA_OK;
}

/* The passage that begins with a bar and has bars of its own; NULL when none does. */
static const muta_passage *regridded(const muta_plan *plan, uint32_t bar)
{
    for (size_t i = 0; i < plan->count; i++)
        if (plan->given[i]->is_regridded && plan->given[i]->from.bar == bar)
            return plan->given[i];
    return NULL;
}

static bool is_same_metre(const muta_metre *a, const muta_metre *b)
{
    return a->beat_type == b->beat_type && muta_fraction_compare(a->length, b->length) == 0;
}

/* A bar of a passage that has bars of its own. */
static muta_status add_grid_bar(muta_plan *plan, const muta_passage *passage,
                                const muta_grid_bar *of, muta_fraction *start)
{
    const muta_score *const score = plan->score;
    const bool is_new = of->old == MUTA_NO_BAR;

    MUTA_TRY(add_bar(plan, of->old, is_new ? of->like : of->old, of->length, start));
    muta_plan_bar *const bar = &plan->bars.at[plan->bars.count - 1];
    bar->lead = of->lead;
    if (passage->is_remetred)
        bar->metre = &passage->metre;
    else if (!is_same_metre(&score->bars[bar->like].metre, &score->bars[of->like].metre))
        bar->metre = &score->bars[of->like].metre;
    bar->is_resized =
        bar->metre || is_new || muta_fraction_compare(of->length, score->bars[of->old].length) != 0;
    if (is_new)
        plan->bars_added++;
    else
        plan->bar_of[of->old] = (uint32_t)plan->bars.count - 1;
    return MUTA_OK;
}

static muta_status lay_grid(muta_plan *plan, const muta_passage *passage, muta_fraction *start)
{
    for (uint32_t bar = passage->from.bar; bar < passage->to.bar; bar++)
        plan->bar_of[bar] = MUTA_NO_BAR;
    for (size_t i = 0; i < passage->grid.count; i++)
        MUTA_TRY(add_grid_bar(plan, passage, &passage->grid.at[i], start));
    for (uint32_t bar = passage->from.bar; bar < passage->to.bar; bar++)
        plan->bars_removed += plan->bar_of[bar] == MUTA_NO_BAR;
    return MUTA_OK;
}

/* Whether a bar that is not full, where the one like it was, ends at an edge inside the passage. */
static bool is_cut_bar(const muta_plan *plan, const muta_passage *passage, size_t nth)
{
    const muta_grid_bar *const bar = &passage->grid.at[nth];
    const muta_bar *const like = &plan->score->bars[bar->like];
    const muta_fraction full = passage->is_remetred ? passage->metre.length : like->metre.length;

    return nth > 0 && nth + 1 < passage->grid.count && muta_fraction_is_valid(full) &&
           muta_fraction_compare(like->length, like->metre.length) >= 0 &&
           muta_fraction_compare(muta_fraction_add(bar->lead, bar->length), full) < 0;
}

/* Says where a repeat, an ending or a jump comes inside what would be one bar. */
static void tell_cut_bars(const muta_plan *plan, const muta_passage *passage, muta_diags *diags)
{
    for (size_t i = 0; i < passage->grid.count; i++)
        if (is_cut_bar(plan, passage, i))
            muta_diag_add(diags, MUTA_WARNING,
                          muta_score_place(
                              plan->score, NULL,
                              (muta_moment){passage->grid.at[i].like, MUTA_ALL_STAVES, MUTA_ZERO}),
                          "a repeat, an ending or a jump falls inside a bar, which is cut there");
}

static muta_status lay_bars(muta_plan *plan, const uint32_t *added, muta_diags *diags)
{
    const muta_score *const score = plan->score;
    muta_fraction start = MUTA_ZERO;

    for (uint32_t bar = 0; bar < score->bar_count; bar++) {
        const muta_passage *const passage = regridded(plan, bar);
        if (passage) {
            MUTA_TRY(lay_grid(plan, passage, &start));
            tell_cut_bars(plan, passage, diags);
            bar = passage->to.bar - 1;
            continue;
        }
        plan->bar_of[bar] = (uint32_t)plan->bars.count;
        MUTA_TRY(add_bar(plan, bar, bar, score->bars[bar].length, &start));
        for (uint32_t i = 0; i < added[bar]; i++, plan->bars_added++)
            MUTA_TRY(add_bar(plan, MUTA_NO_BAR, bar, new_length(score, bar), &start));
    }
    return MUTA_OK;
}

muta_status muta_plan_bars(muta_plan *plan, const muta_passage *const *passages, size_t count,
                           muta_diags *diags)
{
    const size_t bars = plan->score->bar_count;
    uint32_t *const added = muta_arena_take_array(&plan->arena, bars, sizeof *added);

    plan->bar_of = muta_arena_take_array(&plan->arena, bars, sizeof(uint32_t));
    if (!added || !plan->bar_of || !MUTA_RESERVE(&plan->arena, &plan->bars, bars))
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < count; i++)
        MUTA_TRY(plan_changes(plan, passages[i], added, diags));
    return lay_bars(plan, added, diags);
}

muta_fraction muta_plan_bar_start(const muta_plan *plan, uint32_t part, uint32_t bar)
{
    const muta_plan_bar *const of = &plan->bars.at[bar];

    /* With grids of their own no bars come or go. */
    return plan->score->own_grids
               ? muta_part_bar_start(plan->score, &plan->score->parts[part], of->old)
               : of->start;
}

/* ---- moments ---- */

static const muta_stretch *stretch_at(const muta_passage *passage, muta_fraction time, bool is_end)
{
    size_t nth = 0;

    while (nth + 1 < passage->stretches.count) {
        const int order = muta_fraction_compare(passage->stretches.at[nth + 1].onset, time);
        if (order > 0 || (order == 0 && is_end))
            break;
        nth++;
    }
    return &passage->stretches.at[nth];
}

void muta_plan_place(const muta_plan *plan, const muta_passage *passage, uint32_t part,
                     muta_fraction time, bool is_end, uint32_t *bar, muta_fraction *onset)
{
    const muta_stretch *const stretch = stretch_at(passage, time, is_end);
    uint32_t low = plan->bar_of[stretch->from.bar];
    uint32_t high = (uint32_t)plan->bars.count;
    const muta_fraction at = muta_fraction_add(
        muta_fraction_add(muta_plan_bar_start(plan, part, low), stretch->from.onset),
        muta_fraction_subtract(time, stretch->onset));

    while (high - low > 1) {
        const uint32_t middle = low + (high - low) / 2;
        const int order = muta_fraction_compare(muta_plan_bar_start(plan, part, middle), at);
        if (order < 0 || (order == 0 && !is_end))
            low = middle;
        else
            high = middle;
    }
    *bar = low;
    *onset = muta_fraction_subtract(at, muta_plan_bar_start(plan, part, low));
}
