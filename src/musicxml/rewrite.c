/* rewrite.c: bars put in and taken out, and each part's bars written anew. */
#include "musicxml/rewrite.h"
#include "musicxml/note_form.h"
#include "musicxml/patch.h"
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* The white space before a node's end tag, which only the root of a file in one line lacks. */
static muta_status make_measure(muta_tree *tree, muta_node like, muta_name name, muta_node *made)
{
    MUTA_TRY(muta_tree_add(tree, MUTA_ELEMENT, name, made));
    muta_tree_at(tree, *made)->before = muta_tree_at(tree, like)->before;
    muta_tree_at(tree, *made)->tail = muta_tree_at(tree, like)->tail;
    return MUTA_OK;
}

/* The `measure` of a timewise score that holds a cell. */
static muta_node measure_of(const muta_tree *tree, muta_node cell)
{
    for (muta_node measure = muta_tree_first(tree, tree->root); measure;
         measure = muta_tree_next(tree, measure))
        for (muta_node part = muta_tree_first(tree, measure); part;
             part = muta_tree_next(tree, part))
            if (part == cell)
                return measure;
    return 0;
}

static muta_node last_cell_before(const muta_rewriting *rewriting, uint32_t bar)
{
    while (bar > 0)
        if (rewriting->cells[--bar])
            return rewriting->cells[bar];
    return 0;
}

/* The cells of one part in a partwise score: those that stay, new ones between them. */
static muta_status lay_partwise(muta_rewriting *rewriting)
{
    muta_score *const score = rewriting->score;
    muta_tree *const tree = &score->tree;
    const muta_plan *const plan = rewriting->plan;
    const muta_part *const part = &score->parts[rewriting->part];
    const muta_node holder = muta_patch_part(score, part);
    muta_node kept = 0;

    for (uint32_t bar = 0; bar < score->bar_count && bar < part->bar_count; bar++) {
        if (plan->bar_of[bar] != MUTA_NO_BAR)
            kept = part->bars[bar].cell ? part->bars[bar].cell : kept;
        else if (part->bars[bar].cell)
            muta_tree_remove_after(tree, holder, kept, part->bars[bar].cell);
    }
    for (uint32_t bar = 0; bar < plan->bars.count; bar++) {
        const muta_plan_bar *const of = &plan->bars.at[bar];
        if (of->old != MUTA_NO_BAR) {
            rewriting->cells[bar] = of->old < part->bar_count ? part->bars[of->old].cell : 0;
            continue;
        }
        const muta_node before = last_cell_before(rewriting, bar);
        if (!holder || !before || of->like >= part->bar_count)
            continue;
        MUTA_TRY(make_measure(tree, before, N_MEASURE, &rewriting->cells[bar]));
        muta_tree_insert(tree, holder, before, rewriting->cells[bar]);
    }
    return MUTA_OK;
}

/* The same in a timewise score, where the first part makes the measures for all. */
static muta_status lay_timewise(muta_rewriting *rewriting)
{
    muta_score *const score = rewriting->score;
    muta_tree *const tree = &score->tree;
    const muta_plan *const plan = rewriting->plan;
    const muta_part *const part = &score->parts[rewriting->part];
    muta_node measure = 0;

    for (uint32_t bar = 0; bar < plan->bars.count; bar++) {
        const muta_plan_bar *const of = &plan->bars.at[bar];
        if (of->old != MUTA_NO_BAR) {
            rewriting->cells[bar] = of->old < part->bar_count ? part->bars[of->old].cell : 0;
            measure = rewriting->cells[bar] ? measure_of(tree, rewriting->cells[bar]) : measure;
            continue;
        }
        const muta_node before = last_cell_before(rewriting, bar);
        if (!measure || !before)
            continue;
        if (rewriting->part == 0) {
            muta_node made;
            MUTA_TRY(make_measure(tree, measure, N_MEASURE, &made));
            muta_tree_insert(tree, tree->root, measure, made);
        }
        measure = muta_tree_next(tree, measure);
        MUTA_TRY(make_measure(tree, before, N_PART, &rewriting->cells[bar]));
        MUTA_TRY(muta_tree_set_attribute(tree, rewriting->cells[bar], N_ID, part->id));
        muta_node last = 0;
        for (muta_node child = muta_tree_first(tree, measure); child;
             child = muta_tree_next(tree, child))
            last = child;
        muta_tree_insert(tree, measure, last, rewriting->cells[bar]);
    }
    return MUTA_OK;
}

static void remove_timewise(muta_score *score, const muta_plan *plan)
{
    const muta_part *const part = &score->parts[0];

    for (uint32_t bar = 0; bar < score->bar_count && bar < part->bar_count; bar++) {
        const muta_node measure = plan->bar_of[bar] == MUTA_NO_BAR && part->bars[bar].cell
                                      ? measure_of(&score->tree, part->bars[bar].cell)
                                      : 0;
        if (measure)
            muta_tree_remove(&score->tree, score->tree.root, measure);
    }
}

/* ---- bar lines ---- */

static bool stands_at_end(const muta_rewriting *rewriting, muta_node node, uint32_t old)
{
    const muta_tree *const tree = &rewriting->score->tree;
    const muta_part *const part = &rewriting->score->parts[rewriting->part];
    const char *const location = muta_tree_attribute(tree, node, N_LOCATION);

    if (muta_tree_name(tree, node) == N_BARLINE)
        return !location || strcmp(location, "right") == 0;
    for (uint32_t i = part->bars[old].first_thing;
         i < part->bars[old].first_thing + part->bars[old].thing_count; i++)
        if (part->things.at[i].node == node)
            return part->things.at[i].kind == MUTA_THING_SCORE &&
                   muta_fraction_compare(part->things.at[i].at.onset, part->bars[old].length) >= 0;
    return false;
}

/* The last bar, of the plan, that stays before one that goes; MUTA_NO_BAR when there is none. */
static uint32_t last_bar_before(const muta_plan *plan, uint32_t old)
{
    while (old > 0)
        if (plan->bar_of[--old] != MUTA_NO_BAR)
            return plan->bar_of[old];
    return MUTA_NO_BAR;
}

/* What stands on the bar line behind which bars come is taken over by the last of them. */
static void move_bar_lines(muta_rewriting *rewriting)
{
    const muta_plan *const plan = rewriting->plan;
    muta_tree *const tree = &rewriting->score->tree;

    for (uint32_t bar = 0; bar + 1 < plan->bars.count; bar++) {
        uint32_t last = bar;
        if (plan->bars.at[bar].old == MUTA_NO_BAR)
            continue;
        while (last + 1 < plan->bars.count && plan->bars.at[last + 1].old == MUTA_NO_BAR)
            last++;
        const muta_node from = rewriting->cells[bar];
        const muta_node to = rewriting->cells[last];
        if (last == bar || !from || !to)
            continue;
        muta_node tail = 0;
        for (muta_node child = muta_tree_first(tree, to); child;
             child = muta_tree_next(tree, child))
            tail = child;
        for (muta_node child = muta_tree_first(tree, from), next; child; child = next) {
            next = muta_tree_next(tree, child);
            if (!stands_at_end(rewriting, child, plan->bars.at[bar].old))
                continue;
            muta_tree_remove(tree, from, child);
            muta_tree_insert(tree, to, tail, child);
            tail = child;
        }
    }
}

static void take_bar_line(muta_tree *tree, muta_node from, muta_node to)
{
    muta_node line = 0;
    muta_node tail = 0;

    for (muta_node child = muta_tree_first(tree, from); child; child = muta_tree_next(tree, child))
        if (muta_rewrite_is_end(tree, child))
            line = child;
    for (muta_node child = muta_tree_first(tree, to), next; child; child = next) {
        next = muta_tree_next(tree, child);
        if (muta_rewrite_is_end(tree, child))
            muta_tree_remove(tree, to, child);
        else
            tail = child;
    }
    if (!line)
        return;
    muta_tree_remove(tree, from, line);
    muta_tree_insert(tree, to, tail, line);
}

/* The bar line behind bars that go is taken over by the last bar before them. */
static void save_bar_lines(muta_rewriting *rewriting)
{
    const muta_plan *const plan = rewriting->plan;
    const muta_part *const part = &rewriting->score->parts[rewriting->part];

    for (uint32_t old = 1; old < part->bar_count && plan->bars_removed > 0; old++) {
        const uint32_t kept = last_bar_before(plan, old);
        const bool is_last = old + 1 == part->bar_count || plan->bar_of[old + 1] != MUTA_NO_BAR;
        if (plan->bar_of[old] == MUTA_NO_BAR && is_last && kept != MUTA_NO_BAR &&
            rewriting->cells[kept] && part->bars[old].cell)
            take_bar_line(&rewriting->score->tree, part->bars[old].cell, rewriting->cells[kept]);
    }
}

/* ---- numbers ---- */

static bool is_number(const char *text, int64_t *number)
{
    const char *const end = text ? muta_text_count(text, number) : NULL;

    return end && !*end;
}

/* Bars behind new or missing ones are counted on; what is no number stays. */
static muta_status number_cell(muta_tree *tree, muta_node node, bool is_new, int64_t *last,
                               int64_t shift)
{
    const char *const said = muta_tree_attribute(tree, node, N_NUMBER);
    int64_t number;
    char text[24];

    if (!is_new && !is_number(said, &number))
        return MUTA_OK;
    number = is_new ? *last + 1 : number + shift;
    *last = number;
    if (!is_new && shift == 0)
        return MUTA_OK;
    (void)snprintf(text, sizeof text, "%" PRId64, number);
    return muta_tree_set_attribute(tree, node, N_NUMBER, text);
}

static muta_status number_bars(muta_rewriting *rewriting)
{
    const muta_plan *const plan = rewriting->plan;
    muta_score *const score = rewriting->score;
    int64_t shift = 0;
    int64_t last = 0;
    uint32_t expected = 0;

    for (uint32_t bar = 0; bar < plan->bars.count; bar++) {
        const uint32_t old = plan->bars.at[bar].old;
        muta_node node = rewriting->cells[bar];
        if (old == MUTA_NO_BAR)
            shift++;
        for (; old != MUTA_NO_BAR && expected < old; expected++)
            shift--;
        expected += old != MUTA_NO_BAR;
        if (node && score->is_timewise)
            node = measure_of(&score->tree, node);
        if (node)
            MUTA_TRY(number_cell(&score->tree, node, old == MUTA_NO_BAR, &last, shift));
    }
    return MUTA_OK;
}

/* ---- parts ---- */

/* Notes that stay lose the ties whose other note moved away and left nothing of their pitch. */
static muta_status cut_ties(muta_rewriting *rewriting)
{
    muta_part *const part = &rewriting->score->parts[rewriting->part];
    const uint8_t *const fates = rewriting->plan->parts[rewriting->part].fates;

    for (uint32_t i = 0; i < part->notes.count; i++) {
        muta_note *const note = &part->notes.at[i];
        const uint8_t tied = rewriting->tied[i];
        if (fates && fates[i] >= MUTA_MOVED)
            continue;
        note->changed = 0;
        if (note->tied_to != MUTA_NO_NOTE && !(tied & MUTA_TIED_BEHIND) &&
            (muta_plan_parts(rewriting->plan, rewriting->part, i, note->tied_to) ||
             (fates && fates[note->tied_to] >= MUTA_MOVED)))
            note->flags |= MUTA_NOTE_CUT_START;
        if (note->tied_from != MUTA_NO_NOTE && !(tied & MUTA_TIED_BEFORE) &&
            (muta_plan_parts(rewriting->plan, rewriting->part, note->tied_from, i) ||
             (fates && fates[note->tied_from] >= MUTA_MOVED)))
            note->flags |= MUTA_NOTE_CUT_STOP;
        if (note->flags & (MUTA_NOTE_CUT_START | MUTA_NOTE_CUT_STOP))
            MUTA_TRY(muta_patch_note(rewriting->score, part, note, rewriting->diags));
    }
    return MUTA_OK;
}

static muta_status rewrite_part(muta_rewriting *rewriting)
{
    const muta_plan *const plan = rewriting->plan;
    muta_score *const score = rewriting->score;
    int64_t factor;

    rewriting->cells =
        muta_arena_take_array(&rewriting->arena, plan->bars.count, sizeof(muta_node));
    rewriting->used = muta_arena_take_array(
        &rewriting->arena, score->parts[rewriting->part].notes.count + 1, sizeof(bool));
    rewriting->tied =
        muta_arena_take(&rewriting->arena, score->parts[rewriting->part].notes.count + 1);
    rewriting->whole = muta_arena_take_array(
        &rewriting->arena, score->parts[rewriting->part].notes.count + 1, sizeof(muta_node));
    if (!rewriting->cells || !rewriting->used || !rewriting->tied || !rewriting->whole)
        return MUTA_E_MEMORY;
    for (size_t i = 0;
         plan->parts[rewriting->part].fates && i < score->parts[rewriting->part].notes.count;
         i++) /* what stays has its node already */
        rewriting->used[i] = plan->parts[rewriting->part].fates[i] < MUTA_MOVED &&
                             !(score->parts[rewriting->part].notes.at[i].flags & MUTA_NOTE_REST);
    MUTA_TRY(score->is_timewise ? lay_timewise(rewriting) : lay_partwise(rewriting));
    save_bar_lines(rewriting);
    MUTA_TRY(muta_words_keep(rewriting));
    MUTA_TRY(muta_spans_find(rewriting));
    MUTA_TRY(muta_rewrite_notate(rewriting));
    MUTA_TRY(muta_rewrite_beams_cut(rewriting));
    MUTA_TRY(muta_things_find(rewriting));
    MUTA_TRY(muta_rest_marks_find(rewriting));
    muta_hints_drop(rewriting);
    MUTA_TRY(muta_rewrite_factor(rewriting, &factor));
    MUTA_TRY(muta_multiply_divisions(score, rewriting->part, factor));
    MUTA_TRY(muta_rewrite_cells(rewriting));
    muta_rest_marks_tell(rewriting);
    MUTA_TRY(muta_spans_hang(rewriting));
    MUTA_TRY(muta_spans_number(rewriting));
    MUTA_TRY(cut_ties(rewriting));
    move_bar_lines(rewriting);
    return !score->is_timewise || rewriting->part == 0 ? number_bars(rewriting) : MUTA_OK;
}

muta_status muta_rewrite_part(muta_score *score, const muta_plan *plan, uint32_t part,
                              muta_diags *diags)
{
    muta_rewriting rewriting = {.plan = plan, .score = score, .part = part, .diags = diags};
    muta_status status = MUTA_OK;

    if (plan->parts[part].fates || plan->bars_added > 0 || plan->bars_removed > 0)
        status = rewrite_part(&rewriting);
    muta_arena_clear(&rewriting.arena);
    return status;
}

void muta_rewrite_end(muta_plan *plan)
{
    if (plan->score->is_timewise && plan->bars_removed > 0)
        remove_timewise(plan->score, plan);
}
