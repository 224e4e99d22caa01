/*
 * splice.c: the way of passages back into their score. Where only pitches changed the notes are
 * patched; where time changed, bars are planned and written anew, and the score is read again from
 * its tree.
 */
#include "musicxml/marks.h"
#include "musicxml/patch.h"
#include "musicxml/rewrite.h"
#include "mutanza/passage.h"
#include "notate/notate.h"
#include <stdlib.h>
#include <string.h>

/* What is written is what counts from here on: a further pass compares with it. */
static void settle(muta_part *part)
{
    for (size_t i = 0; i < part->notes.count; i++) {
        muta_note *const note = &part->notes.at[i];
        note->changed = 0;
        note->old = note->pitch;
        note->flags &= ~(uint32_t)(MUTA_NOTE_CUT_START | MUTA_NOTE_CUT_STOP | MUTA_NOTE_NEEDED);
    }
    for (size_t i = 0; i < part->keys.count; i++) {
        part->keys.at[i].is_changed = false;
        part->keys.at[i].old = part->keys.at[i].key;
        part->keys.at[i].moved = (muta_interval){0, 0};
    }
    for (size_t i = 0; i < part->harmonies.count; i++)
        part->harmonies.at[i].is_changed = false;
}

static muta_status patch_part(muta_score *score, muta_part *part, muta_diags *diags)
{
    for (size_t i = 0; i < part->notes.count; i++)
        if (part->notes.at[i].changed)
            MUTA_TRY(muta_patch_note(score, part, &part->notes.at[i], diags));
    for (size_t i = 0; i < part->keys.count; i++)
        if (part->keys.at[i].is_changed)
            MUTA_TRY(muta_patch_key(score, part, &part->keys.at[i]));
    for (size_t i = 0; i < part->harmonies.count; i++)
        if (part->harmonies.at[i].is_changed)
            MUTA_TRY(muta_patch_harmony(score, part, &part->harmonies.at[i], diags));
    for (size_t i = 0; i < part->figures.count; i++)
        MUTA_TRY(muta_patch_figures(score, part, &part->figures.at[i]));
    settle(part);
    return MUTA_OK;
}

/* What is known of a node of the score as it was, once it is read again. */
typedef enum {
    CARRY_KNOWN = 1,   /* a note that was not written anew */
    CARRY_NEEDED = 2,  /* it needed a sign */
    CARRY_CHANGED = 4, /* its pitch changed where it stood */
    CARRY_TOUCHED = 8, /* a cell that was written anew */
} carry;

/* By node of the tree. */
struct memory {
    uint8_t *at;
    int8_t *moved; /* by how many lines and spaces a pass moved the note */
    muta_node count;
};

static int8_t steps_of(const muta_note *note)
{
    const int32_t steps = note->pitch.place - note->old.place;

    return (int8_t)(steps > INT8_MAX ? INT8_MAX : steps < INT8_MIN ? INT8_MIN : steps);
}

static void remember_part(struct memory *memory, const muta_part *part, const uint8_t *fates)
{
    for (size_t i = 0; i < part->notes.count; i++) {
        const muta_note *const note = &part->notes.at[i];
        if (fates && fates[i] >= MUTA_MOVED)
            continue;
        memory->at[note->node] =
            (uint8_t)(CARRY_KNOWN | (note->flags & MUTA_NOTE_NEEDED ? CARRY_NEEDED : 0) |
                      (note->changed & (MUTA_CHANGED_PITCH | MUTA_CHANGED_TIE) ? CARRY_CHANGED
                                                                               : 0));
        memory->moved[note->node] = steps_of(note);
    }
    for (size_t bar = 0; bar < part->bar_count; bar++)
        if (part->bars[bar].is_touched)
            memory->at[part->bars[bar].cell] |= CARRY_TOUCHED;
}

static void recall_part(const struct memory *memory, muta_part *part)
{
    for (size_t bar = 0; bar < part->bar_count; bar++) {
        muta_part_bar *const of = &part->bars[bar];
        of->is_touched = of->cell >= memory->count || (memory->at[of->cell] & CARRY_TOUCHED);
    }
    for (size_t i = 0; i < part->notes.count; i++) {
        muta_note *const note = &part->notes.at[i];
        const uint8_t known = note->node < memory->count ? memory->at[note->node] : (uint8_t)0;
        if (!(known & CARRY_KNOWN))
            note->changed |= MUTA_CHANGED_TIME;
        if (known & CARRY_NEEDED)
            note->flags |= MUTA_NOTE_NEEDED;
        if (known & CARRY_CHANGED) {
            note->changed |= MUTA_CHANGED_PITCH;
            note->old.place -= memory->moved[note->node];
        }
    }
}

/* The bars in which something is written anew, or is gone. */
static void touch_bars(const muta_plan *plan)
{
    for (size_t i = 0; i < plan->score->part_count; i++) {
        muta_part *const part = &plan->score->parts[i];
        const muta_plan_part *const of = &plan->parts[i];
        for (size_t j = 0; of->fates && j < part->notes.count; j++)
            if (of->fates[j] >= MUTA_MOVED)
                part->bars[part->notes.at[j].bar].is_touched = true;
        for (size_t j = 0; j < of->soundings.count; j++) {
            const uint32_t old = plan->bars.at[of->soundings.at[j].bar].old;
            if (old != MUTA_NO_BAR)
                part->bars[old].is_touched = true;
        }
    }
}

/* The bars in which a pitch changed. */
static void touch_changed(muta_score *score)
{
    for (size_t i = 0; i < score->part_count; i++)
        for (size_t j = 0; j < score->parts[i].notes.count; j++)
            if (score->parts[i].notes.at[j].changed & MUTA_CHANGED_PITCH)
                score->parts[i].bars[score->parts[i].notes.at[j].bar].is_touched = true;
}

/* Decides on signs and stems, and brings all that changed into the tree. */
static muta_status finish(muta_score *score, muta_moment keys_from, muta_moment keys_to,
                          muta_diags *diags)
{
    MUTA_TRY(muta_notate_accidentals(score, keys_from, keys_to));
    muta_notate_stems(score);
    for (size_t i = 0; i < score->part_count; i++)
        MUTA_TRY(patch_part(score, &score->parts[i], diags));
    return MUTA_OK;
}

static muta_status rewrite(muta_plan *plan, struct memory *memory, muta_diags *diags)
{
    muta_score *const score = plan->score;

    memory->count = score->tree.node_count;
    memory->at = calloc(memory->count + 1, 1);
    memory->moved = calloc(memory->count + 1, 1);
    if (!memory->at || !memory->moved)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < score->part_count; i++)
        remember_part(memory, &score->parts[i], plan->parts[i].fates);
    for (size_t i = 0; i < score->part_count; i++)
        MUTA_TRY(patch_part(score, &score->parts[i], diags));
    MUTA_TRY(muta_rewrite(plan, diags));
    for (size_t i = 0; i < plan->count; i++)
        MUTA_TRY(muta_metre_put(score, plan->given[i]));
    MUTA_TRY(muta_build_again(score));
    for (size_t i = 0; i < score->part_count; i++)
        recall_part(memory, &score->parts[i]);
    return muta_clefs_set(score);
}

/* The widest stretch in which signatures changed. */
static void widen(muta_moment from, muta_moment to, muta_moment *widest_from,
                  muta_moment *widest_to)
{
    if (muta_moment_compare(from, to) >= 0)
        return;
    if (muta_moment_compare(*widest_from, *widest_to) >= 0) {
        *widest_from = from;
        *widest_to = to;
    }
    if (muta_moment_compare(from, *widest_from) < 0)
        *widest_from = from;
    if (muta_moment_compare(to, *widest_to) > 0)
        *widest_to = to;
}

static muta_status splice(muta_plan *plan, const muta_passage *const *passages, size_t count,
                          muta_diags *diags)
{
    muta_score *const score = plan->score;
    const bool still = muta_plan_is_still(plan);
    muta_moment keys_from = {0, MUTA_ALL_STAVES, MUTA_ZERO};
    muta_moment keys_to = keys_from;
    struct memory memory = {NULL, NULL, 0};

    for (size_t i = 0; i < count; i++) {
        muta_moment from;
        muta_moment to;
        MUTA_TRY(muta_notes_splice(still ? NULL : plan, passages[i], score, &from, &to, diags));
        widen(from, to, &keys_from, &keys_to);
        MUTA_TRY(muta_recast_symbols(score, passages[i]));
    }
    if (!still)
        touch_bars(plan);
    MUTA_TRY(muta_notate_remember(score, keys_from, keys_to));
    if (still) {
        touch_changed(score);
        MUTA_TRY(muta_clefs_set(score));
        return finish(score, keys_from, keys_to, diags);
    }
    const muta_status status = rewrite(plan, &memory, diags);
    free(memory.at);
    free(memory.moved);
    MUTA_TRY(status);
    /* Signatures are compared with what they were before: every bar under them is looked at. */
    const muta_moment end = {(uint32_t)score->bar_count, MUTA_ALL_STAVES, MUTA_ZERO};
    return finish(score, keys_from, muta_moment_compare(keys_from, keys_to) < 0 ? end : keys_to,
                  diags);
}

static muta_status plan_and_splice(const muta_passage *const *passages, size_t count,
                                   muta_score *score, muta_change *change, muta_diags *diags)
{
    muta_plan plan;

    MUTA_TRY(muta_plan_make(&plan, score, passages, count, diags));
    size_t marks = 0;
    muta_status status = splice(&plan, passages, count, diags);
    for (size_t i = 0; status == MUTA_OK && i < count; i++)
        status = muta_techniques_put(score, &plan, passages[i], &marks);
    for (size_t i = 0; status == MUTA_OK && i < count; i++)
        status = muta_ornaments_put(score, &plan, passages[i], &marks);
    for (size_t i = 0; status == MUTA_OK && i < count; i++)
        status = muta_chords_put(score, &plan, passages[i], &marks);
    if (change)
        *change = (muta_change){.bars_added = plan.bars_added,
                                .bars_removed = plan.bars_removed,
                                .tones_changed = plan.tones_changed,
                                .tones_removed = plan.tones_removed,
                                .marks_added = marks};
    muta_plan_clear(&plan);
    return status;
}

/* A number that no voice of the part has for label, above those there are. */
static muta_status label_voice(muta_score *score, const muta_part *part, muta_string *label)
{
    int64_t highest = 0;
    char text[24];

    for (size_t i = 0; i < part->voices.count; i++) {
        int64_t number;
        const char *const end =
            muta_text_count(muta_tree_string_at(&score->tree, part->voices.at[i].label), &number);
        if (end && !*end && number > highest)
            highest = number;
    }
    (void)muta_text_print(highest + 1, text);
    return muta_tree_intern(&score->tree, text, strlen(text), label);
}

/* Voices that a pass began, in their parts. */
static muta_status add_voices(const muta_passage *passage, muta_score *score)
{
    for (size_t i = 0; i < passage->voices.count; i++) {
        muta_part *const part = &score->parts[passage->voices.at[i].part];
        muta_string label;
        MUTA_TRY(label_voice(score, part, &label));
        muta_voice *const voice = MUTA_PUSH(&score->arena, &part->voices);
        if (!voice)
            return MUTA_E_MEMORY;
        *voice = (muta_voice){.label = label, .home = passage->voices.at[i].staff};
    }
    return MUTA_OK;
}

muta_status muta_passages_splice(const muta_passage *const *passages, size_t count,
                                 muta_score *score, muta_change *change, muta_diags *diags)
{
    const muta_passage **all = NULL;
    muta_tails tails;

    for (size_t i = 0; i < count; i++)
        MUTA_TRY(add_voices(passages[i], score));
    muta_status status = muta_tails_find(&tails, passages, count, diags);

    if (status == MUTA_OK && !tails.moved) {
        status = plan_and_splice(passages, count, score, change, diags);
    } else if (status == MUTA_OK) {
        all = malloc((count + 1) * sizeof *all);
        status = all ? MUTA_OK : MUTA_E_MEMORY;
        for (size_t i = 0; all && i < count; i++)
            all[i] = passages[i];
        if (all) {
            all[count] = tails.moved;
            status = plan_and_splice(all, count + 1, score, change, diags);
        }
    }
    free(all);
    muta_tails_clear(&tails);
    return status;
}
