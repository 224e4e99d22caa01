/* default.c: what is meant when no address is given. */
#include "score/region.h"

/* The voice of a part that a listener takes for the tune: the first of its top staff with pitches.
 */
static bool has_tune(const muta_part *part, uint32_t *voice, uint32_t *first_bar)
{
    for (uint32_t i = 0; i < part->voices.count; i++) {
        if (part->voices.at[i].home != 1)
            continue;
        for (size_t j = 0; j < part->notes.count; j++)
            if (part->notes.at[j].voice == i &&
                !(part->notes.at[j].flags & (MUTA_NOTE_REST | MUTA_NOTE_FIXED))) {
                *voice = i;
                *first_bar = part->notes.at[j].bar;
                return true;
            }
    }
    return false;
}

static void find_tune(const muta_score *score, muta_range *range, uint32_t *first_bar)
{
    for (uint32_t i = 0; i < score->part_count; i++)
        if (has_tune(&score->parts[i], &range->voice, first_bar)) {
            range->part = i;
            return;
        }
}

muta_status muta_region_default(const muta_score *score, muta_default what, muta_region **region)
{
    muta_region *made;
    muta_range range = {.voice = MUTA_NO_NOTE,
                        .from = {0, MUTA_ALL_STAVES, MUTA_ZERO},
                        .to = {(uint32_t)score->bar_count, MUTA_ALL_STAVES, MUTA_ZERO}};
    uint32_t bar = 0;

    if (what == MUTA_EVERYTHING)
        return muta_region_parse(score, NULL, region, NULL);
    find_tune(score, &range, &bar);
    if (what == MUTA_FIRST_BAR || what == MUTA_MOTIF) {
        const muta_bar *const of = &score->bars[bar];
        /* A pick-up is no bar to work with. */
        if (bar + 1 < score->bar_count && muta_fraction_compare(of->length, of->metre.length) < 0)
            bar++;
        range.from.bar = bar;
        range.to.bar = bar + 1;
    }
    MUTA_TRY(muta_region_new(&made));
    made->all_parts = false;
    const muta_status status = muta_region_add(made, &range);
    if (status != MUTA_OK) {
        muta_region_free(made);
        return status;
    }
    *region = made;
    return MUTA_OK;
}

void muta_region_lengthen(const muta_score *score, muta_region *region, int64_t bars)
{
    const int64_t left = (int64_t)score->bar_count - region->from.bar;
    const uint32_t end = region->from.bar + (uint32_t)(bars < left ? bars : left);

    if (end <= region->to.bar)
        return;
    region->to = (muta_moment){end, MUTA_ALL_STAVES, MUTA_ZERO};
    for (size_t i = 0; i < region->ranges.count; i++)
        region->ranges.at[i].to = region->to;
}
