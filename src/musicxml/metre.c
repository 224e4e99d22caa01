/* metre.c: time signatures of a passage that got another metre. */
#include "base/text.h"
#include "musicxml/note_form.h"
#include "musicxml/patch.h"
#include "musicxml/rewrite.h"
#include <string.h>

/* What the schema puts before a time signature. */
static const muta_name before_time[] = {N_FOOTNOTE, N_LEVEL, N_DIVISIONS, N_KEY};

/* `3+2`: its groups where they are not as the number is usually beaten; else their sum. */
static const char *beats_text(const muta_metre *metre, char *text, size_t room)
{
    muta_metre usual = {.beat_type = metre->beat_type, .group_count = 1};
    int64_t sum = 0;
    size_t used = 0;
    bool is_usual;

    for (size_t i = 0; i < metre->group_count; i++)
        sum += metre->groups[i];
    muta_metre_group(&usual, sum);
    is_usual = usual.group_count == metre->group_count &&
               memcmp(usual.groups, metre->groups, metre->group_count) == 0;
    if (is_usual)
        return muta_text_print(sum, text);
    for (size_t i = 0; i < metre->group_count && used + 8 < room; i++) {
        if (i > 0)
            text[used++] = '+';
        used += strlen(muta_text_print(metre->groups[i], text + used));
    }
    return text;
}

static muta_status put_time(muta_score *score, const muta_part *part, uint32_t bar,
                            const muta_metre *metre)
{
    muta_tree *const tree = &score->tree;
    muta_node attributes;
    muta_node time;
    muta_node leaf;
    char text[128];

    if (bar >= part->bar_count || !part->bars[bar].cell)
        return MUTA_OK;
    MUTA_TRY(muta_patch_attributes(tree, part->bars[bar].cell, &attributes));
    MUTA_TRY(muta_patch_insert(
        tree, attributes, muta_patch_place(tree, attributes, before_time, MUTA_LENGTH(before_time)),
        N_TIME, NULL, &time));
    MUTA_TRY(
        muta_patch_insert(tree, time, 0, N_BEATS, beats_text(metre, text, sizeof text), &leaf));
    return muta_patch_insert(tree, time, leaf, N_BEAT_TYPE, muta_text_print(metre->beat_type, text),
                             &leaf);
}

/* The signature that is said in a bar; 0 when none is. @param holder  [out] its attributes */
static muta_node time_in(const muta_tree *tree, muta_node cell, muta_node *holder)
{
    for (muta_node child = cell ? muta_tree_first(tree, cell) : 0; child;
         child = muta_tree_next(tree, child)) {
        const muta_node time =
            muta_tree_name(tree, child) == N_ATTRIBUTES ? muta_tree_child(tree, child, N_TIME) : 0;
        *holder = child;
        if (time)
            return time;
    }
    return 0;
}

/* Takes the signatures out of a bar; the last one is remembered. */
static void take_times(muta_tree *tree, muta_node cell, muta_node *last)
{
    muta_node holder;
    muta_node time;

    while ((time = time_in(tree, cell, &holder))) {
        *last = time;
        muta_tree_remove(tree, holder, time);
        if (!muta_tree_first(tree, holder))
            muta_tree_remove(tree, cell, holder);
    }
}

/* The signature in force before a bar. */
static muta_node time_before(const muta_score *score, const muta_part *part, uint32_t bar)
{
    muta_node holder;

    /* A part may end sooner than the others. */
    for (bar = bar < part->bar_count ? bar : (uint32_t)part->bar_count; bar > 0; bar--) {
        const muta_node time = time_in(&score->tree, part->bars[bar - 1].cell, &holder);
        if (time)
            return time;
    }
    return 0;
}

static muta_status say_time(muta_score *score, muta_node cell, muta_node time)
{
    muta_tree *const tree = &score->tree;
    muta_node attributes;
    muta_node copy;

    MUTA_TRY(muta_patch_attributes(tree, cell, &attributes));
    MUTA_TRY(muta_note_form_copy(tree, time, &copy));
    muta_tree_insert(tree, attributes,
                     muta_patch_place(tree, attributes, before_time, MUTA_LENGTH(before_time)),
                     copy);
    return MUTA_OK;
}

/* Behind a passage the signature is said that was in force there, unless one is. */
static muta_status put_back(muta_score *score, const muta_part *part, uint32_t bar, muta_node time)
{
    muta_node holder;

    return time && part->bars[bar].cell && !time_in(&score->tree, part->bars[bar].cell, &holder)
               ? say_time(score, part->bars[bar].cell, time)
               : MUTA_OK;
}

/* One metre for all of a passage. */
static muta_status put_one(muta_score *score, const muta_passage *passage, const muta_part *part)
{
    muta_node last = time_before(score, part, passage->from.bar);

    for (uint32_t bar = passage->from.bar; bar < passage->to.bar && bar < part->bar_count; bar++)
        take_times(&score->tree, part->bars[bar].cell, &last);
    MUTA_TRY(put_time(score, part, passage->from.bar, &passage->metre));
    return passage->to.bar < part->bar_count ? put_back(score, part, passage->to.bar, last)
                                             : MUTA_OK;
}

/* The cell of a bar that is put in stands behind the one before it. */
static muta_node next_cell(const muta_tree *tree, muta_node cell)
{
    muta_node next = cell ? muta_tree_next(tree, cell) : 0;

    while (next && muta_tree_name(tree, next) != muta_tree_name(tree, cell))
        next = muta_tree_next(tree, next);
    return next;
}

/* By bar of the passage, the signature in force; the first row is what was in force before it. */
static muta_node *signatures(const muta_score *score, const muta_passage *passage,
                             const muta_part *part, muta_arena *arena)
{
    const uint32_t count = passage->to.bar - passage->from.bar;
    muta_node *const of = muta_arena_take_array(arena, count + 1, sizeof *of);

    for (uint32_t i = 0; of && i <= count; i++) {
        muta_node holder;
        const uint32_t bar = passage->from.bar + i;
        const muta_node said = i > 0 && bar - 1 < part->bar_count
                                   ? time_in(&score->tree, part->bars[bar - 1].cell, &holder)
                                   : 0;
        of[i] = said ? said : i == 0 ? time_before(score, part, bar) : of[i - 1];
    }
    return of;
}

/* The bars were put into another order: each has the signature of what it holds. */
static muta_status put_each(muta_score *score, const muta_plan *plan, const muta_passage *passage,
                            const muta_part *part, muta_arena *arena)
{
    const muta_node *const times = signatures(score, passage, part, arena);
    const uint32_t first = plan->bar_of[passage->from.bar];
    muta_node cell = 0;

    if (!times)
        return MUTA_E_MEMORY;
    muta_node said = times[0];
    for (size_t i = 0; i < passage->grid.count; i++) {
        const muta_grid_bar *const of = &passage->grid.at[i];
        const uint32_t old = plan->bars.at[first + i].old;
        const muta_node wanted = times[of->like - passage->from.bar + 1];
        muta_node taken;
        cell = old == MUTA_NO_BAR      ? next_cell(&score->tree, cell)
               : old < part->bar_count ? part->bars[old].cell
                                       : 0;
        if (!cell)
            continue;
        take_times(&score->tree, cell, &taken);
        if (wanted && (!said || !muta_patch_says_same(&score->tree, wanted, said)))
            MUTA_TRY(say_time(score, cell, wanted));
        said = wanted;
    }
    const muta_node last = times[passage->to.bar - passage->from.bar];
    return passage->to.bar < part->bar_count && last &&
                   (!said || !muta_patch_says_same(&score->tree, last, said))
               ? put_back(score, part, passage->to.bar, last)
               : MUTA_OK;
}

/* Whether bars of one metre stand where there were bars of another. */
static bool has_other_metres(const muta_plan *plan, const muta_passage *passage)
{
    for (uint32_t bar = passage->from.bar; passage->is_regridded && bar < passage->to.bar; bar++)
        if (plan->score->bars[bar].metre.beat_type !=
                plan->score->bars[passage->from.bar].metre.beat_type ||
            muta_fraction_compare(plan->score->bars[bar].metre.length,
                                  plan->score->bars[passage->from.bar].metre.length) != 0)
            return true;
    return false;
}

muta_status muta_metre_put(muta_score *score, const muta_plan *plan, const muta_passage *passage)
{
    const bool each =
        !passage->is_remetred && !score->is_timewise && has_other_metres(plan, passage);

    for (size_t i = 0; i < score->part_count && (each || passage->is_remetred); i++) {
        const muta_part *const part = &score->parts[i];
        muta_arena arena;
        muta_arena_init(&arena);
        const muta_status status =
            each ? put_each(score, plan, passage, part, &arena) : put_one(score, passage, part);
        muta_arena_clear(&arena);
        MUTA_TRY(status);
    }
    return MUTA_OK;
}
