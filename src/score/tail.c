/*
 * tail.c: what stands behind a passage that grew and ends inside a bar. The bar is cut there in
 * every part; what stood behind the cut moves, at its old beats, into the last of the new bars.
 */
#include "mutanza/limits.h"
#include "score/plan.h"

struct given {
    const muta_passage *const *passages;
    size_t count;
};

/* Whether a passage that ends at the cut works on the voice: then it divides what sounds across. */
static bool divides(const struct given *given, muta_moment cut, const muta_range *voice)
{
    for (size_t i = 0; i < given->count; i++) {
        const muta_passage *const passage = given->passages[i];
        if (muta_moment_compare(passage->to, cut) != 0)
            continue;
        for (size_t j = 0; j < passage->first->lines.count; j++)
            if (passage->first->lines.at[j].part == voice->part &&
                passage->first->lines.at[j].voice == voice->voice)
                return true;
    }
    return false;
}

/* Everything that begins behind the cut, and of the varied voices what sounds across it. */
static muta_status find_region(const struct given *given, muta_moment cut, muta_region **region)
{
    const muta_moment to = {cut.bar + 1, MUTA_ALL_STAVES, MUTA_ZERO};

    MUTA_TRY(muta_region_between(given->passages[0]->score, cut, to, region));
    for (size_t i = 0; i < (*region)->ranges.count; i++) {
        muta_range *const range = &(*region)->ranges.at[i];
        range->begins_inside = !divides(given, cut, range);
    }
    return MUTA_OK;
}

/* How many bars the passage puts in behind a cut inside a bar; 0 when it makes no such cut. */
static int64_t bars_behind_cut(const muta_passage *passage, muta_moment *cut)
{
    const muta_stretch *const last =
        passage->stretches.count ? &passage->stretches.at[passage->stretches.count - 1] : NULL;

    if (!last)
        return 0;
    const muta_fraction by = muta_stretch_growth(passage->score, last);

    *cut = last->to;
    return by.top > 0 && last->to.onset.top > 0 && !passage->score->own_grids
               ? muta_bars_for(passage->score, last->to.bar, by)
               : 0;
}

static muta_status lift(const struct given *given, muta_moment cut, int64_t bars, muta_tails *tails,
                        muta_diags *diags)
{
    const muta_score *const score = given->passages[0]->score;
    const muta_fraction by = muta_fraction_scale(score->bars[cut.bar].length, bars);
    muta_region *region;

    MUTA_TRY(find_region(given, cut, &region));
    const muta_status status = muta_passage_lift(score, region, &tails->lifted, diags);
    muta_region_free(region);
    MUTA_TRY(status);
    MUTA_TRY(muta_passage_new_like(tails->lifted, &tails->moved));
    tails->moved->is_tail = true;
    MUTA_TRY(muta_passage_append(tails->moved, tails->lifted, by, NULL));
    return muta_passage_settle(tails->moved);
}

static bool is_behind(const muta_passage *passage, muta_moment cut)
{
    return passage->from.bar == cut.bar && muta_moment_compare(passage->from, cut) >= 0;
}

/* The one cut inside a bar, and how many bars come there; 0 when there is none. */
static muta_status find_cut(const struct given *given, muta_moment *cut, int64_t *bars,
                            muta_diags *diags)
{
    *bars = 0;
    for (size_t i = 0; i < given->count; i++) {
        muta_moment at;
        const int64_t behind = bars_behind_cut(given->passages[i], &at);
        if (behind == 0)
            continue;
        if (*bars > 0 && muta_moment_compare(at, *cut) != 0) {
            muta_diag_add(diags, MUTA_ERROR, muta_score_place(given->passages[i]->score, NULL, at),
                          "only one passage that grows may end inside a bar; let where= end with "
                          "bars");
            return MUTA_E_DATA;
        }
        *cut = at;
        *bars = behind > *bars ? behind : *bars;
    }
    return MUTA_OK;
}

muta_status muta_tails_find(muta_tails *tails, const muta_passage *const *passages, size_t count,
                            muta_diags *diags)
{
    const struct given given = {passages, count};
    muta_moment cut = {0, MUTA_ALL_STAVES, MUTA_ZERO};
    int64_t bars;

    *tails = (muta_tails){.lifted = NULL};
    MUTA_TRY(find_cut(&given, &cut, &bars, diags));
    if (bars == 0 || bars > MUTA_LIMIT_NEW_BARS) /* that many are refused by the plan */
        return MUTA_OK;
    for (size_t i = 0; i < count; i++)
        if (is_behind(passages[i], cut)) {
            muta_diag_add(diags, MUTA_ERROR, muta_score_place(passages[i]->score, NULL, cut),
                          "a passage that grows ends in the bar in which the next begins; let "
                          "where= end with bars");
            return MUTA_E_DATA;
        }
    return lift(&given, cut, bars, tails, diags);
}

void muta_tails_clear(muta_tails *tails)
{
    muta_passage_free(tails->moved);
    muta_passage_free(tails->lifted);
}
