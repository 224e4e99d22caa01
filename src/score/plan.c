/* plan.c: a plan made: first the bars, then what sounds in them. */
#include "score/plan_make.h"

static bool has_other_bars(const muta_plan *plan)
{
    for (size_t i = 0; i < plan->bars.count; i++)
        if (plan->bars.at[i].is_resized)
            return true;
    return false;
}

static muta_status make(muta_plan *plan, const muta_passage *const *passages, size_t count,
                        muta_diags *diags)
{
    plan->parts = muta_arena_take_array(&plan->arena, plan->score->part_count, sizeof *plan->parts);
    if (!plan->parts)
        return MUTA_E_MEMORY;
    MUTA_TRY(muta_plan_bars(plan, passages, count, diags));
    for (size_t i = 0; i < count; i++) {
        MUTA_TRY(muta_plan_fates(plan, passages[i]));
        for (uint32_t part = 0; part < plan->score->part_count; part++)
            MUTA_TRY(muta_plan_tell_words(plan, passages[i], part, diags));
    }
    /* Other bars are every part's, and their rests are written anew too. */
    for (uint32_t i = 0; i < plan->score->part_count; i++)
        if (has_other_bars(plan))
            MUTA_TRY(muta_plan_take_fates(plan, i));
    for (uint32_t i = 0; i < plan->score->part_count; i++)
        if (plan->parts[i].fates)
            MUTA_TRY(muta_plan_sounds_of(plan, i, passages, count));
    return MUTA_OK;
}

muta_status muta_plan_make(muta_plan *plan, muta_score *score, const muta_passage *const *passages,
                           size_t count, muta_diags *diags)
{
    *plan = (muta_plan){.score = score, .given = passages, .count = count};
    const muta_status status = make(plan, passages, count, diags);
    if (status != MUTA_OK)
        muta_plan_clear(plan);
    return status;
}

void muta_plan_clear(muta_plan *plan)
{
    muta_arena_clear(&plan->arena);
}

bool muta_plan_keeps(const muta_plan *plan, const muta_passage *passage, uint32_t event)
{
    for (size_t i = 0; i < plan->passages.count; i++)
        if (plan->passages.at[i].passage == passage)
            return plan->passages.at[i].keeps[event];
    return false;
}

bool muta_plan_is_still(const muta_plan *plan)
{
    for (size_t i = 0; i < plan->score->part_count; i++)
        if (plan->parts[i].fates)
            return false;
    return plan->bars_added == 0 && plan->bars_removed == 0;
}

bool muta_plan_parts(const muta_plan *plan, uint32_t part, uint32_t from, uint32_t to)
{
    const muta_part *const of = &plan->score->parts[part];
    const uint8_t *const fates = plan->parts[part].fates;
    const uint32_t first = plan->bar_of[of->notes.at[from].bar];
    const uint32_t last = plan->bar_of[of->notes.at[to].bar];

    if (first == MUTA_NO_BAR || last == MUTA_NO_BAR || plan->bars_added == 0 ||
        (fates && (fates[from] >= MUTA_MOVED || fates[to] >= MUTA_MOVED)))
        return false;
    for (uint32_t bar = first + 1; bar < last; bar++)
        if (plan->bars.at[bar].old == MUTA_NO_BAR)
            return true;
    return false;
}
