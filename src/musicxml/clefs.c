/*
 * clefs.c: clefs for tones that moved. Where a staff has one voice alone, its old clef changes are
 * taken out with the time that they stood in, and a bar that lies more than three ledger lines off
 * the staff gets a clef that its player reads, until it fits again.
 */
#include "musicxml/note_form.h"
#include "musicxml/patch.h"
#include "musicxml/rewrite.h"
#include "theory/instrument.h"
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

/* Whether a pass moved a note of the bar farther from the middle line than all stood before. */
static bool went_farther(const muta_part *part, uint32_t bar, uint8_t staff, int32_t middle)
{
    const muta_part_bar *const of = &part->bars[bar];
    int32_t before = 0;
    bool is_written_anew = false;

    for (uint32_t i = of->first; i < of->first + of->count; i++) {
        const muta_note *const note = &part->notes.at[i];
        const int32_t away = note->old.place - middle;
        if (note->staff != staff || (note->flags & (MUTA_NOTE_REST | MUTA_NOTE_FIXED)))
            continue;
        is_written_anew = is_written_anew || (note->changed & MUTA_CHANGED_TIME);
        before = away > before ? away : -away > before ? -away : before;
    }
    return is_written_anew || reach(part, bar, staff, middle) > before;
}

/* A clef of the table, as `C4`: without a line the usual one. */
static bool read_clef(muta_text text, muta_clef_change *clef)
{
    const muta_clef_row *const row = muta_clef_named((muta_text){text.at, text.length > 0});

    *clef = (muta_clef_change){
        .sign = row->sign,
        .middle = muta_clef_middle(row, text.length > 1 ? text.at[1] - '0' : row->line)};
    return text.length > 0;
}

/* The clefs that a part might have, one after the other. */
struct candidates {
    const muta_part *part;
    muta_text table; /* of its instrument */
    size_t next;     /* of the part's own, where its instrument is not known */
    bool is_known;
};

static bool next_clef(struct candidates *candidates, muta_clef_change *clef)
{
    muta_text text;

    if (candidates->is_known) {
        while (muta_cell_next(&candidates->table, &text))
            if (read_clef(text, clef))
                return true;
        return false;
    }
    while (candidates->next < candidates->part->clefs.count) {
        *clef = candidates->part->clefs.at[candidates->next++];
        if (clef->sign <= MUTA_CLEF_C)
            return true;
    }
    return false;
}

/*
 * Of the clefs that the instrument reads, or else that the part has anywhere, the one in which the
 * bar lies best: within three ledger lines, or at least a third nearer than now.
 */
static bool better_clef(const muta_part *part, uint32_t bar, uint8_t staff, int32_t middle,
                        muta_clef_change *best)
{
    enum {
        NEARER = 2
    };
    muta_instrument instrument = {.clefs = {NULL, 0}};
    struct candidates candidates = {.part = part};
    const int32_t now = reach(part, bar, staff, middle);
    int32_t least = now;
    muta_clef_change clef;

    if (least <= LEDGERS || changes_inside(part, bar, staff) ||
        !went_farther(part, bar, staff, middle))
        return false;
    candidates.is_known = muta_part_instrument(part, &instrument);
    candidates.table = instrument.clefs;
    while (next_clef(&candidates, &clef)) {
        const int32_t reached = reach(part, bar, staff, clef.middle);
        if (reached >= least)
            continue;
        least = reached;
        *best = clef;
    }
    return least < now && (least <= LEDGERS || least <= now - NEARER);
}

/* What the clef says: its own node again, or a new one. */
static muta_status make_clef(muta_tree *tree, muta_clef_change *clef)
{
    const muta_clef_row *const row = muta_clef_of(clef->sign);
    const char line[] = {(char)('0' + muta_clef_line(row, clef->middle)), '\0'};
    muta_node sign;
    muta_node made;

    if (clef->node) {
        MUTA_TRY(muta_note_form_copy(tree, clef->node, &made));
        clef->node = made;
        return MUTA_OK;
    }
    MUTA_TRY(muta_tree_add(tree, MUTA_ELEMENT, N_CLEF, &clef->node));
    MUTA_TRY(muta_patch_insert(tree, clef->node, 0, N_SIGN, row->name, &sign));
    return muta_patch_insert(tree, clef->node, sign, N_LINE, line, &made);
}

static muta_status put_clef(muta_score *score, muta_part *part, uint32_t bar, uint8_t staff,
                            muta_clef_change clef)
{
    static const muta_name before[] = {N_FOOTNOTE, N_LEVEL,       N_DIVISIONS,   N_KEY, N_TIME,
                                       N_STAVES,   N_PART_SYMBOL, N_INSTRUMENTS, N_CLEF};
    muta_tree *const tree = &score->tree;
    muta_node attributes;
    char number[8];

    if (!part->bars[bar].cell)
        return MUTA_OK;
    MUTA_TRY(muta_patch_attributes(tree, part->bars[bar].cell, &attributes));
    (void)muta_clefs_take_out(tree, attributes, staff);
    MUTA_TRY(make_clef(tree, &clef));
    muta_tree_drop_attribute(tree, clef.node, N_NUMBER);
    (void)snprintf(number, sizeof number, "%u", staff);
    if (part->staves > 1)
        MUTA_TRY(muta_tree_set_attribute(tree, clef.node, N_NUMBER, number));
    muta_tree_insert(tree, attributes,
                     muta_patch_place(tree, attributes, before, MUTA_LENGTH(before)), clef.node);
    muta_clef_change *const change = MUTA_PUSH(&part->arena, &part->clefs);
    if (!change)
        return MUTA_E_MEMORY;
    clef.at = (muta_moment){bar, staff, MUTA_ZERO};
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
        muta_clef_change other;
        if ((said_here && bar > 0) || !better_clef(part, bar, staff, old.middle, &other))
            continue;
        uint32_t end = bar + 1;
        while (end < part->bar_count && part->bars[end].is_touched &&
               reach(part, end, staff, old.middle) > LEDGERS &&
               reach(part, end, staff, other.middle) < reach(part, end, staff, old.middle) &&
               !changes_inside(part, end, staff))
            end++;
        MUTA_TRY(put_clef(score, part, bar, staff, other));
        if (end < part->bar_count)
            MUTA_TRY(put_clef(score, part, end, staff, old));
        bar = end - 1;
    }
    return MUTA_OK;
}

muta_status muta_clefs_set(muta_score *score, muta_part *part)
{
    for (size_t staff = 1; staff <= part->staves && staff < UINT8_MAX; staff++)
        MUTA_TRY(set_clefs(score, part, (uint8_t)staff));
    return MUTA_OK;
}
