/* rewrite_cells.c: the cells of a part written anew, voice by voice, with what stands in them. */
#include "musicxml/new_cell.h"
#include "musicxml/note_form.h"
#include "musicxml/patch.h"
#include "score/notes.h"
#include <stdlib.h>
#include <string.h>

static bool has_gaps(const muta_voice_bar *of)
{
    for (size_t i = 0; i < of->segments.count; i++)
        if (of->segments.at[i].is_gap)
            return true;
    return false;
}

/* Whether a voice-bar shows what is on a staff: at home and from end to end, or across. */
static bool shows_on(const muta_part *part, const muta_voice_bar *of, uint8_t staff)
{
    if (of->segments.count > 0 && part->voices.at[of->voice].home == staff)
        return !has_gaps(of);
    for (size_t i = 0; i < of->count; i++) {
        const muta_sounding *const sounding = &of->soundings[i];
        if (!sounding->passage || sounding->event == MUTA_NO_SOURCE)
            continue;
        const muta_event *const event = &sounding->passage->work.events.at[sounding->event];
        if (staff == (event->written.source == MUTA_NO_SOURCE
                          ? event->staff
                          : part->notes.at[event->written.source].staff))
            return true;
    }
    return false;
}

/* A whole rest, or in a bar shorter than its metre the rest of its value, if there is one. */
static muta_item silence_of(const muta_new_cell *cell)
{
    const muta_plan_bar *const bar = &cell->rewriting->plan->bars.at[cell->bar];
    const muta_metre *const metre =
        bar->metre ? bar->metre : &cell->rewriting->score->bars[bar->like].metre;
    muta_item item = {.from = MUTA_ZERO, .to = bar->length};
    const bool is_short = muta_fraction_is_valid(metre->length) &&
                          muta_fraction_compare(bar->length, metre->length) < 0;

    item.is_whole_bar = !is_short || !muta_value_of(bar->length, &item.type, &item.dots);
    return item;
}

/* A bar that is put in shows a rest on each staff where nothing is written. */
static muta_status fill_staves(muta_new_cell *cell)
{
    const muta_part *const part = muta_cell_part(cell);

    for (uint8_t staff = 1; staff <= part->staves && staff < UINT8_MAX; staff++) {
        const muta_item item = silence_of(cell);
        muta_voice_bar rest = {.bar = cell->bar};
        bool has = false;
        bool found = false;
        uint32_t run;
        for (size_t i = 0; i < cell->anew_count && !has; i++)
            has = shows_on(part, &cell->anew[i], staff);
        for (uint32_t voice = 0; voice < part->voices.count && !found; voice++) {
            rest.voice = voice;
            found = part->voices.at[voice].home == staff;
        }
        if (has || !found)
            continue;
        MUTA_TRY(muta_cell_find_run(cell, rest.voice, 0, true, &run));
        MUTA_TRY(muta_cell_put_rest(cell, &rest, run, &item));
    }
    return MUTA_OK;
}

static muta_node layout_like(const muta_tree *tree, muta_node node)
{
    const muta_node first = muta_tree_first(tree, node);

    return first ? first : node;
}

/* The children of the cells as they were: nodes move from bar to bar while these are written. */
struct snapshot {
    MUTA_VEC(muta_node) nodes;
    size_t *first; /* by bar of the plan, and one more */
};

static muta_status take_snapshot(muta_rewriting *rewriting, struct snapshot *snapshot)
{
    const muta_tree *const tree = &rewriting->score->tree;
    const muta_plan *const plan = rewriting->plan;

    snapshot->first =
        muta_arena_take_array(&rewriting->arena, plan->bars.count + 1, sizeof *snapshot->first);
    if (!snapshot->first)
        return MUTA_E_MEMORY;
    for (uint32_t bar = 0; bar < plan->bars.count; bar++) {
        snapshot->first[bar] = snapshot->nodes.count;
        const muta_node cell = plan->bars.at[bar].old == MUTA_NO_BAR ? 0 : rewriting->cells[bar];
        for (muta_node child = cell ? muta_tree_first(tree, cell) : 0; child;
             child = muta_tree_next(tree, child)) {
            muta_node *const node = MUTA_PUSH(&rewriting->arena, &snapshot->nodes);
            if (!node)
                return MUTA_E_MEMORY;
            *node = child;
        }
    }
    snapshot->first[plan->bars.count] = snapshot->nodes.count;
    return MUTA_OK;
}

/* A bar is written in one kind of divisions. */
static muta_status check_divisions(const muta_rewriting *rewriting, uint32_t bar)
{
    const muta_part *const part = &rewriting->score->parts[rewriting->part];

    for (size_t i = 0; i < part->divisions.count; i++) {
        const muta_moment at = part->divisions.at[i].at;
        if (at.bar != bar || at.onset.top == 0)
            continue;
        muta_diag_add(rewriting->diags, MUTA_ERROR, muta_score_place(rewriting->score, part, at),
                      "the divisions change inside the bar; let them change at a bar line");
        return MUTA_E_DATA;
    }
    return MUTA_OK;
}

static muta_status rewrite_cell(muta_rewriting *rewriting, const struct snapshot *snapshot,
                                uint32_t bar, size_t first, size_t end, size_t first_thing)
{
    const muta_plan_bar *const of = &rewriting->plan->bars.at[bar];
    const muta_part *const part = &rewriting->score->parts[rewriting->part];
    const bool is_new = of->old == MUTA_NO_BAR;
    const muta_moment at = {of->like, MUTA_ALL_STAVES, is_new ? of->length : MUTA_ZERO};
    muta_new_cell cell = {.rewriting = rewriting,
                          .bar = bar,
                          .node = rewriting->cells[bar],
                          .first_thing = first_thing,
                          .divisions = muta_part_divisions_at(part, at)};

    if (!cell.node)
        return MUTA_OK;
    MUTA_TRY(check_divisions(rewriting, of->old));
    cell.like = layout_like(&rewriting->score->tree,
                            is_new && of->like < part->bar_count && part->bars[of->like].cell
                                ? part->bars[of->like].cell
                                : cell.node);
    cell.children = snapshot->nodes.count > 0 ? &snapshot->nodes.at[snapshot->first[bar]] : NULL;
    cell.child_count = snapshot->first[bar + 1] - snapshot->first[bar];
    cell.anew = end > first ? &rewriting->bars.bars.at[first] : NULL;
    cell.anew_count = end - first;
    if (!is_new)
        MUTA_TRY(muta_cell_read(&cell, of->old));
    for (size_t i = first; i < end; i++)
        MUTA_TRY(muta_cell_put_voice_bar(&cell, &rewriting->bars.bars.at[i]));
    if (is_new)
        MUTA_TRY(fill_staves(&cell));
    MUTA_TRY(muta_cell_put_moved_things(&cell));
    muta_tree_drop_attribute(&rewriting->score->tree, cell.node, N_WIDTH);
    return muta_cell_write(&cell);
}

static bool loses_thing(const muta_rewriting *rewriting, uint32_t bar)
{
    const uint32_t old = rewriting->plan->bars.at[bar].old;
    const muta_part *const part = &rewriting->score->parts[rewriting->part];

    if (old == MUTA_NO_BAR || old >= part->bar_count)
        return false;
    for (uint32_t i = part->bars[old].first_thing;
         i < part->bars[old].first_thing + part->bars[old].thing_count; i++)
        if (rewriting->thing_moves[i])
            return true;
    return false;
}

static bool has_waiting(const muta_rewriting *rewriting)
{
    const size_t count = rewriting->score->parts[rewriting->part].notes.count;

    for (uint32_t i = 0; i < count; i++)
        if (muta_rewrite_waits(rewriting, i, true) || muta_rewrite_waits(rewriting, i, false))
            return true;
    return false;
}

muta_status muta_rewrite_cells(muta_rewriting *rewriting)
{
    const muta_part_bars *const bars = &rewriting->bars;
    struct snapshot snapshot = {.first = NULL};
    size_t next = 0;
    size_t thing = 0;

    MUTA_TRY(take_snapshot(rewriting, &snapshot));
    rewriting->has_waiting = has_waiting(rewriting);
    for (uint32_t bar = 0; bar < rewriting->plan->bars.count; bar++) {
        const size_t first = next;
        const size_t first_thing = thing;
        while (next < bars->bars.count && bars->bars.at[next].bar == bar)
            next++;
        while (thing < rewriting->things.count && rewriting->things.at[thing].bar == bar)
            thing++;
        if (next > first || thing > first_thing || loses_thing(rewriting, bar) ||
            rewriting->plan->bars.at[bar].old == MUTA_NO_BAR)
            MUTA_TRY(rewrite_cell(rewriting, &snapshot, bar, first, next, first_thing));
    }
    return MUTA_OK;
}
