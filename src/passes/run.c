/* run.c: a line of passes run on a score: what it works on, and what is said of it. */
#include "passes/run.h"
#include "mutanza/limits.h"
#include "mutanza/study.h"
#include <stdio.h>
#include <string.h>

/* The key that was asked for, as it is written in each part that does not sound as written. */
static void print_written_keys(const muta_chain *chain, const muta_score *score,
                               const muta_region *region, char *text, size_t room)
{
    char key[MUTA_KEY_TEXT];

    text[0] = '\0';
    for (size_t i = 0; i < chain->links.count; i++) {
        const muta_link *const link = &chain->links.at[i];
        for (size_t j = 0; j < link->pass->param_count; j++) {
            const muta_param *const param = &link->pass->params[j];
            const muta_given_key *const given =
                (const void *)((const char *)link->args + param->offset);
            if (param->type != MUTA_PARAM_KEY || !given->is_given)
                continue;
            for (size_t part = 0; part < muta_score_part_count(score); part++) {
                const muta_interval by = muta_region_transposition(region, score, part);
                int32_t fifths = given->key.fifths - muta_interval_fifths(by);
                const size_t used = strlen(text);
                if (muta_interval_fifths(by) == 0)
                    continue;
                /* As it is written: never with more than seven accidentals. */
                fifths -= fifths > MUTA_LIMIT_FIFTHS ? 12 : fifths < -MUTA_LIMIT_FIFTHS ? -12 : 0;
                muta_key_print((muta_key){fifths, given->key.mode}, key);
                (void)snprintf(text + used, room - used, ", written %.*s in %.40s",
                               (int)strcspn(key, " "), key, muta_score_part_name(score, part));
            }
        }
    }
}

static void add_bars(const muta_outcome *outcome, char *text, size_t room)
{
    const size_t count = outcome->bars_added ? outcome->bars_added : outcome->bars_removed;

    text[0] = '\0';
    if (outcome->tones_removed > 0) {
        const int used = snprintf(text, room, ", %zu taken out", outcome->tones_removed);
        text += used;
        room -= (size_t)used;
    }
    if (outcome->marks_added > 0) {
        const int used = snprintf(text, room, ", %zu mark%s put in", outcome->marks_added,
                                  outcome->marks_added == 1 ? "" : "s");
        text += used;
        room -= (size_t)used;
    }
    if (outcome->tones_followed > 0) {
        const int used =
            snprintf(text, room, ", and %zu of the others, which follow", outcome->tones_followed);
        text += used;
        room -= (size_t)used;
    }
    if (count > 0)
        (void)snprintf(text, room, ", %zu bar%s %s", count, count == 1 ? "" : "s",
                       outcome->bars_added ? "added" : "taken out");
}

/* What is said of a run, found before bars and numbers change. */
struct naming {
    char stretch[160];
    char keys[151];
};

/* Stretches that lie apart are named as they were given. */
static muta_status name(const muta_chain *chain, const muta_score *score, const muta_region *region,
                        struct naming *naming)
{
    const char *const where = chain->links.at[0].common.where;
    muta_region *second;

    MUTA_TRY(muta_region_part(region, 1, &second));
    if (second)
        (void)snprintf(naming->stretch, sizeof naming->stretch, "%.150s", where ? where : "tune");
    else
        muta_region_print(score, region, naming->stretch, sizeof naming->stretch);
    muta_region_free(second);
    print_written_keys(chain, score, region, naming->keys, sizeof naming->keys);
    return MUTA_OK;
}

static void report(const muta_chain *chain, const struct naming *naming, muta_outcome *outcome)
{
    char bars[160];

    add_bars(outcome, bars, sizeof bars);
    if (outcome->had_work)
        (void)snprintf(outcome->summary, sizeof outcome->summary,
                       "%.159s: %.300s, %zu tone%s changed%.159s%.150s", naming->stretch,
                       chain->text, outcome->tones_changed, outcome->tones_changed == 1 ? "" : "s",
                       bars, naming->keys);
    else
        (void)snprintf(outcome->summary, sizeof outcome->summary,
                       "%.159s: %.300s, nothing to change%.150s", naming->stretch, chain->text,
                       naming->keys);
}

/* Bars and notes that are counted are counted from the first full bar. */
static muta_default where_of(const muta_link *first)
{
    return first->pass->bars && first->pass->bars(first->args) > 0 ? MUTA_FIRST_BAR
                                                                   : first->pass->where;
}

/* Whether something sounds that a region does not reach. */
static bool has_others(const muta_score *score, const muta_region *region)
{
    for (uint32_t part = 0; part < score->part_count; part++)
        for (size_t i = 0; i < score->parts[part].notes.count; i++) {
            const muta_note *const note = &score->parts[part].notes.at[i];
            if (!(note->flags & MUTA_NOTE_REST) && !muta_region_holds(region, part, note))
                return true;
        }
    return false;
}

/*
 * A tune that runs backwards over others that do not keeps its pick-up, and the short bar that this
 * fills: between them it falls into bars as before.
 */
static void leave_pickup(const muta_score *score, muta_region *region)
{
    const uint32_t last = (uint32_t)score->bar_count - 1;
    const muta_bar *const bar = &score->bars[last];
    const bool is_short = muta_fraction_compare(bar->length, bar->metre.length) < 0;

    if (score->bar_count < 4 || !muta_score_has_pickup(score) || !has_others(score, region))
        return;
    muta_region_clip(region, 1, is_short ? last : last + 1);
}

/* Everything that sounds in the bars of a region, in its place; on failure that is ended too. */
static muta_status take_all(const muta_score *score, muta_region **region)
{
    muta_region *all = NULL;
    const muta_status status = muta_region_between(score, (*region)->from, (*region)->to, &all);

    muta_region_free(*region);
    *region = all;
    return status;
}

static muta_status find_region(const muta_chain *chain, const muta_score *score, bool in_place,
                               muta_region **region, muta_diags *diags)
{
    const muta_link *const first = &chain->links.at[0];
    bool moves_time = false;

    for (size_t i = 0; i < chain->links.count; i++)
        moves_time = moves_time || (chain->links.at[i].pass->effect & MUTA_MOVES_TIME);
    MUTA_TRY(first->common.where ? muta_study_region(score, first->common.where, region, diags)
                                 : muta_study_default(score, where_of(first), region));
    /* What is stated again is stated with its accompaniment. */
    if ((first->pass->effect & MUTA_RESTATES) && muta_link_is_accompanied(chain, first))
        MUTA_TRY(take_all(score, region));
    if (!first->common.where && first->pass->bars)
        muta_region_lengthen(score, *region, first->pass->bars(first->args));
    if (moves_time && in_place && chain->links.count == 1 && !first->common.where &&
        where_of(first) == MUTA_TUNE_TOGETHER)
        leave_pickup(score, *region);
    if (moves_time && muta_region_take_groups(score, *region))
        muta_diag_add(diags, MUTA_WARNING, muta_score_place(score, NULL, (*region)->from),
                      "an edge lies inside a tuplet or a tremolo of two notes; the whole group is "
                      "taken in");
    return MUTA_OK;
}

muta_status muta_chain_run_as(const muta_chain *chain, muta_score *score,
                              const muta_setting *setting, muta_outcome *outcome, muta_diags *diags)
{
    muta_outcome done = {0};
    struct naming naming;
    muta_region *region;

    MUTA_TRY(find_region(chain, score, setting->to == MUTA_IN_PLACE, &region, diags));
    muta_status status = name(chain, score, region, &naming);
    if (status == MUTA_OK && setting->to == MUTA_BESIDE)
        status = muta_run_beside(chain, score, setting, region, &done, diags);
    else if (status == MUTA_OK && (setting->to != MUTA_IN_PLACE || setting->takes > 1))
        status = muta_run_as_section(chain, score, setting, region, &done, diags);
    else if (status == MUTA_OK)
        status = muta_run_in_place(chain, score, region, setting->seed,
                                   muta_chain_is_accompanied(chain), &done, diags);
    /* What is new beside the old has a name of its own. */
    if (status == MUTA_OK && setting->to == MUTA_BESIDE)
        status = name(chain, score, region, &naming);
    muta_region_free(region);
    if (status == MUTA_OK && outcome) {
        report(chain, &naming, &done);
        *outcome = done;
    }
    return status;
}

muta_status muta_chain_run(const muta_chain *chain, muta_score *score, uint64_t seed,
                           muta_outcome *outcome, muta_diags *diags)
{
    const muta_setting setting = {.seed = seed, .takes = 1};

    return muta_chain_run_as(chain, score, &setting, outcome, diags);
}
