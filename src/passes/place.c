/* place.c: where the result of a chain goes: into sections behind the last bar, one a take, or
 * beside what it comes from. */
#include "mutanza/limits.h"
#include "passes/run.h"
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

/* How the takes of a chain differ: by the seed, by the next best answer of its last pass, or not.
 */
typedef enum {
    TAKES_ALIKE,
    TAKES_BY_SEED,
    TAKES_BY_PICK,
} takes_by;

static takes_by takes_of(const muta_chain *chain)
{
    const muta_link *const last = &chain->links.at[chain->links.count - 1];

    for (size_t i = 0; i < chain->links.count; i++)
        if ((chain->links.at[i].pass->answer & MUTA_USES_SEED))
            return TAKES_BY_SEED;
    return (last->pass->answer & MUTA_HAS_NEXT_BEST) && last->common.pick == 0 ? TAKES_BY_PICK
                                                                               : TAKES_ALIKE;
}

/* `embellish amount=0.4 --seed 3`, `divide pick=2`: what is typed to get an answer again. */
static void print_take(const muta_chain *chain, const muta_setting *setting, size_t take,
                       char *text, size_t room)
{
    if (setting->takes == 1)
        (void)snprintf(text, room, "%.400s", chain->text);
    else if (takes_of(chain) == TAKES_BY_PICK)
        (void)snprintf(text, room, "%.400s pick=%zu", chain->text, take + 1);
    else
        (void)snprintf(text, room, "%.400s --seed %" PRIu64, chain->text, setting->seed + take);
}

/* The bar behind the last one that a region reaches. */
static size_t end_bar(const muta_region *region)
{
    return region->to.onset.top > 0 ? (size_t)region->to.bar + 1 : region->to.bar;
}

/* Says the bars of a region again, once for each take. */
static muta_status append_takes(const muta_chain *chain, muta_score *score,
                                const muta_setting *setting, size_t from, size_t to,
                                muta_diags *diags)
{
    const bool is_alone = setting->to == MUTA_ONLY;
    const bool has_headings = !setting->no_heading && !is_alone;
    const size_t theme_bars = score->bar_count;
    const char *headings[MUTA_LIMIT_TAKES];
    muta_arena arena;

    if (setting->takes > MUTA_LIMIT_TAKES)
        return MUTA_E_RANGE;
    muta_arena_init(&arena);
    muta_status status = MUTA_OK;
    for (size_t take = 0; status == MUTA_OK && take < setting->takes; take++) {
        char heading[512];
        print_take(chain, setting, take, heading, sizeof heading);
        headings[take] = muta_arena_copy_text(&arena, heading, strlen(heading));
        status = headings[take] ? MUTA_OK : MUTA_E_MEMORY;
    }
    if (status == MUTA_OK)
        status = muta_score_append_sections(score, from, to, is_alone,
                                            has_headings ? headings : NULL, setting->takes, diags);
    muta_arena_clear(&arena);
    if (status != MUTA_OK || !is_alone)
        return status;
    return muta_score_keep_section(score, theme_bars, from);
}

static void warn_of_takes(const muta_chain *chain, size_t takes, muta_diags *diags)
{
    if (takes > 1 && takes_of(chain) == TAKES_ALIKE)
        muta_diag_add(diags, MUTA_WARNING, MUTA_NOWHERE,
                      "these passes answer alike whatever the seed; the takes are the same");
}

/* The nth take: the next seed, or the next best answer. */
static muta_take take_of(const muta_chain *chain, const muta_setting *setting, size_t nth)
{
    return setting->takes > 1 && takes_of(chain) == TAKES_BY_PICK
               ? (muta_take){.seed = setting->seed, .pick = nth + 1}
               : (muta_take){.seed = setting->seed + nth};
}

/* The others follow in each take, whose region the given one is the first of. */
static muta_status accompany_takes(const muta_work *work, muta_score *score, size_t takes,
                                   muta_region *region, size_t bars, muta_outcome *done,
                                   muta_diags *diags)
{
    for (size_t nth = 0; nth < takes; nth++) {
        MUTA_TRY(muta_accompany(work, region, score, done, diags));
        muta_region_shift(region, (int64_t)bars);
    }
    return MUTA_OK;
}

/* All takes are varied from one reading, and written in one go. */
static muta_status run_together(const muta_chain *chain, muta_score *score,
                                const muta_setting *setting, muta_region *region, size_t bars,
                                muta_outcome *done, muta_diags *diags)
{
    muta_work work = {.made_part = MUTA_NO_PART};
    muta_status status = muta_work_make_part(&work, chain, region, score, diags);

    for (size_t nth = 0; status == MUTA_OK && nth < setting->takes; nth++) {
        const muta_take take = take_of(chain, setting, nth);
        status = muta_work_vary(&work, chain, region, score, &take, diags);
        muta_region_shift(region, (int64_t)bars);
    }
    muta_region_shift(region, -(int64_t)(setting->takes * bars));
    if (status == MUTA_OK && work.varied.count > 0 && muta_chain_is_accompanied(chain))
        status = muta_accompany_note(&work, region, score, diags);
    if (status == MUTA_OK)
        status = muta_work_splice(&work, chain, score, setting->seed, done, diags);
    if (status == MUTA_OK)
        status = accompany_takes(&work, score, setting->takes, region, bars, done, diags);
    muta_work_end(&work);
    return status;
}

/* One by one, each written before the next is read: where the bar in which a take ends is cut. From
 * behind, so that bars that are put in leave those before them where they are. */
static muta_status run_apart(const muta_chain *chain, muta_score *score,
                             const muta_setting *setting, muta_region *region, size_t bars,
                             muta_outcome *done, muta_diags *diags)
{
    uint32_t made = MUTA_NO_PART;
    muta_status status = MUTA_OK;

    muta_region_shift(region, (int64_t)(setting->takes * bars));
    for (size_t nth = setting->takes; status == MUTA_OK && nth > 0; nth--) {
        muta_work work = {.made_part = made};
        const muta_take take = take_of(chain, setting, nth - 1);
        muta_region_shift(region, -(int64_t)bars);
        status = muta_work_make_part(&work, chain, region, score, diags);
        made = work.made_part;
        if (status == MUTA_OK)
            status = muta_work_vary(&work, chain, region, score, &take, diags);
        if (status == MUTA_OK)
            status = muta_work_splice(&work, chain, score, setting->seed + nth - 1, done, diags);
        muta_work_end(&work);
    }
    return status;
}

muta_status muta_run_as_section(const muta_chain *chain, muta_score *score,
                                const muta_setting *setting, muta_region *region,
                                muta_outcome *done, muta_diags *diags)
{
    const size_t from = region->from.bar;
    const size_t to = end_bar(region);
    const size_t first = setting->to == MUTA_ONLY ? 0 : score->bar_count;

    warn_of_takes(chain, setting->takes, diags);
    MUTA_TRY(append_takes(chain, score, setting, from, to, diags));
    muta_region_shift(region, (int64_t)first - (int64_t)from);
    return (region->to.onset.top > 0 ? run_apart : run_together)(chain, score, setting, region,
                                                                 to - from, done, diags);
}

/* ---- beside ---- */

/* Nothing sounds any more in a region; its rests are the composer's. */
static muta_status silence(muta_score *score, const muta_region *region, muta_diags *diags)
{
    muta_passage *in;
    muta_passage *out;

    if (!region)
        return MUTA_OK;
    MUTA_TRY(muta_passage_lift(score, region, &in, diags));
    muta_status status = muta_passage_new_like(in, &out);
    if (status == MUTA_OK) {
        status = muta_passages_splice((const muta_passage *const[]){out}, 1, score, NULL, diags);
        muta_passage_free(out);
    }
    muta_passage_free(in);
    return status;
}

static bool has_part(const muta_region *region, uint32_t part)
{
    for (size_t i = 0; i < region->ranges.count; i++)
        if (region->ranges.at[i].part == part)
            return true;
    return false;
}

/* A copy of a part under it that holds what the region reaches, which from now on means the copy.
 */
static muta_status set_beside(muta_score *score, muta_region *region, uint32_t part,
                              muta_diags *diags)
{
    muta_region *own = NULL;
    size_t made;

    const muta_status copied =
        muta_score_copy_part(score, part, region->from.bar, end_bar(region), &made);
    if (copied == MUTA_E_DATA)
        muta_diag_add(diags, MUTA_ERROR,
                      (muta_place){.part = muta_score_part_name(score, part), .beat = {0, 0}},
                      "a part without an id of its own cannot be set beside itself");
    MUTA_TRY(copied);
    muta_region_push(region, part);
    MUTA_TRY(muta_region_complement(score, region, made, &own));
    const muta_status status = silence(score, own, diags);
    muta_region_free(own);
    return status;
}

muta_status muta_run_beside(const muta_chain *chain, muta_score *score, const muta_setting *setting,
                            muta_region *region, muta_outcome *done, muta_diags *diags)
{
    if (score->is_timewise) {
        muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE, "--beside needs a partwise score");
        return MUTA_E_DATA;
    }
    /* From below, so that those above keep their places. */
    for (uint32_t part = (uint32_t)score->part_count; part > 0; part--)
        if (has_part(region, part - 1))
            MUTA_TRY(set_beside(score, region, part - 1, diags));
    MUTA_TRY(muta_run_in_place(chain, score, region, setting->seed, false, done, diags));
    if (done->bars_added > 0) {
        muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE,
                      "the result is longer than what it should sound beside; use --append");
        return MUTA_E_DATA;
    }
    return MUTA_OK;
}
