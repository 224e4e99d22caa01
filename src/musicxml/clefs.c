/*
 * clefs.c: clefs for tones that moved. Where a staff has one voice alone, its old clef changes are
 * taken out with the time that they stood in, and a bar that lies more than three ledger lines off
 * the staff gets a clef that the part reads elsewhere, until it fits again.
 */
#include "musicxml/note_form.h"
#include "musicxml/patch.h"
#include "musicxml/rewrite.h"
#include <stdio.h>
#include <string.h>

enum {
    LEDGERS = 10, /* steps from the middle line: four of the staff, six of three ledger lines */
    NO_VOICE = -1,
    SEVERAL = -2
};

static bool is_of_staff(const muta_tree *tree, muta_node clef, uint8_t staff)
{
    const char *const number = muta_tree_attribute(tree, clef, N_NUMBER);

    return (number ? muta_build_staff((muta_text){number, strlen(number)}, 1) : 1) == staff;
}

bool muta_clefs_take_out(muta_tree *tree, muta_node attributes, uint8_t staff)
{
    bool any = false;
    muta_node next;

    if (muta_tree_name(tree, attributes) != N_ATTRIBUTES)
        return false;
    for (muta_node child = muta_tree_first(tree, attributes); child; child = next) {
        next = muta_tree_next(tree, child);
        if (muta_tree_name(tree, child) != N_CLEF || !is_of_staff(tree, child, staff))
            continue;
        muta_tree_remove(tree, attributes, child);
        any = true;
    }
    return any && !muta_tree_first(tree, attributes);
}

/* How far the notes of a bar reach from the middle line of a clef; 0 when a clef does not matter:
 * no notes, several voices, a change inside the bar. */
static int32_t reach(const muta_part *part, uint32_t bar, uint8_t staff, int32_t middle)
{
    const muta_part_bar *const of = &part->bars[bar];
    int32_t voice = NO_VOICE;
    int32_t farthest = 0;

    for (uint32_t i = of->first; i < of->first + of->count; i++) {
        const muta_note *const note = &part->notes.at[i];
        if (note->staff != staff)
            continue;
        voice = voice == NO_VOICE || voice == note->voice ? note->voice : SEVERAL;
        if (note->flags & (MUTA_NOTE_REST | MUTA_NOTE_FIXED | MUTA_NOTE_TAB))
            continue;
        const int32_t away = note->pitch.place - middle;
        farthest = away > farthest ? away : -away > farthest ? -away : farthest;
    }
    return voice == SEVERAL ? 0 : farthest;
}

static bool changes_inside(const muta_part *part, uint32_t bar, uint8_t staff)
{
    for (size_t i = 0; i < part->clefs.count; i++)
        if (part->clefs.at[i].at.bar == bar && part->clefs.at[i].at.staff == staff &&
            part->clefs.at[i].at.onset.top != 0)
            return true;
    return false;
}

/* Of the clefs that the part has anywhere the one in which the bar lies best, if that helps. */
static const muta_clef_change *better_clef(const muta_part *part, uint32_t bar, uint8_t staff,
                                           int32_t middle)
{
    const muta_clef_change *best = NULL;
    int32_t least = reach(part, bar, staff, middle);

    if (least <= LEDGERS || changes_inside(part, bar, staff))
        return NULL;
    for (size_t i = 0; i < part->clefs.count; i++) {
        const muta_clef_change *const clef = &part->clefs.at[i];
        const int32_t reached = reach(part, bar, staff, clef->middle);
        if (clef->sign > MUTA_CLEF_C || reached >= least)
            continue;
        least = reached;
        best = clef;
    }
    return least <= LEDGERS ? best : NULL;
}

static muta_status put_clef(muta_score *score, muta_part *part, uint32_t bar, uint8_t staff,
                            muta_clef_change clef)
{
    static const muta_name before[] = {N_FOOTNOTE, N_LEVEL,       N_DIVISIONS,   N_KEY, N_TIME,
                                       N_STAVES,   N_PART_SYMBOL, N_INSTRUMENTS, N_CLEF};
    muta_tree *const tree = &score->tree;
    muta_node attributes;
    muta_node copy;
    char number[8];

    if (!part->bars[bar].cell || !clef.node)
        return MUTA_OK;
    MUTA_TRY(muta_patch_attributes(tree, part->bars[bar].cell, &attributes));
    (void)muta_clefs_take_out(tree, attributes, staff);
    MUTA_TRY(muta_note_form_copy(tree, clef.node, &copy));
    muta_tree_drop_attribute(tree, copy, N_NUMBER);
    (void)snprintf(number, sizeof number, "%u", staff);
    if (part->staves > 1)
        MUTA_TRY(muta_tree_set_attribute(tree, copy, N_NUMBER, number));
    muta_tree_insert(tree, attributes,
                     muta_patch_place(tree, attributes, before, MUTA_LENGTH(before)), copy);
    muta_clef_change *const change = MUTA_PUSH(&score->arena, &part->clefs);
    if (!change)
        return MUTA_E_MEMORY;
    clef.at = (muta_moment){bar, staff, MUTA_ZERO};
    clef.node = copy;
    *change = clef;
    muta_part_sort_tracks(part);
    return MUTA_OK;
}

/* Bar after bar: another clef where it is needed, and the old one back. */
static muta_status set_clefs(muta_score *score, muta_part *part, uint8_t staff)
{
    for (uint32_t bar = 0; bar < part->bar_count; bar++) {
        const muta_moment at = {bar, staff, MUTA_ZERO};
        const muta_clef_change *const now = muta_part_clef_at(part, at);
        if (!now || now->sign > MUTA_CLEF_C || !part->bars[bar].is_touched)
            continue;
        const muta_clef_change old = *now;
        const bool said_here = old.at.bar == bar && old.at.onset.top == 0;
        const muta_clef_change *const better = better_clef(part, bar, staff, old.middle);
        if (!better || (said_here && bar > 0))
            continue;
        const muta_clef_change other = *better;
        uint32_t end = bar + 1;
        while (end < part->bar_count && part->bars[end].is_touched &&
               reach(part, end, staff, old.middle) > LEDGERS &&
               reach(part, end, staff, other.middle) <= LEDGERS &&
               !changes_inside(part, end, staff))
            end++;
        MUTA_TRY(put_clef(score, part, bar, staff, other));
        if (end < part->bar_count)
            MUTA_TRY(put_clef(score, part, end, staff, old));
        bar = end - 1;
    }
    return MUTA_OK;
}

muta_status muta_clefs_set(muta_score *score)
{
    for (size_t i = 0; i < score->part_count; i++)
        for (size_t staff = 1; staff <= score->parts[i].staves && staff < UINT8_MAX; staff++)
            MUTA_TRY(set_clefs(score, &score->parts[i], (uint8_t)staff));
    return MUTA_OK;
}
