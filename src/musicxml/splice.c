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
    CARRY_SIGNED = 16  /* it had a sign */
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
                      (note->sign != MUTA_SIGN_NONE ? CARRY_SIGNED : 0) |
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
        /* What lost its sign was laid out anew, if at the same place. */
        const bool is_bare = (known & CARRY_SIGNED) && note->sign == MUTA_SIGN_NONE;
        if (!(known & CARRY_KNOWN) || is_bare)
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
static void touch_bars(const muta_plan *plan, uint32_t index)
{
    muta_part *const part = &plan->score->parts[index];
    const muta_plan_part *const of = &plan->parts[index];

    for (size_t i = 0; of->fates && i < part->notes.count; i++)
        if (of->fates[i] >= MUTA_MOVED)
            part->bars[part->notes.at[i].bar].is_touched = true;
    for (size_t i = 0; i < of->soundings.count; i++) {
        const uint32_t old = plan->bars.at[of->soundings.at[i].bar].old;
        if (old < part->bar_count)
            part->bars[old].is_touched = true;
    }
}

/* The bars in which a pitch changed. */
static void touch_changed(muta_part *part)
{
    for (size_t i = 0; i < part->notes.count; i++)
        if (part->notes.at[i].changed & MUTA_CHANGED_PITCH)
            part->bars[part->notes.at[i].bar].is_touched = true;
}

/* What a part's way back needs to know. */
struct way {
    muta_plan *plan;
    muta_keys_span keys; /* where signatures changed */
    struct memory memory;
};

/* Decides on clefs, signs and stems, and brings all that changed into the tree. */
static muta_status finish_part(muta_score *score, muta_part *part, const muta_keys_span *keys,
                               muta_diags *diags)
{
    MUTA_TRY(muta_clefs_set(score, part));
    MUTA_TRY(muta_notate_accidentals(part, keys));
    muta_notate_stems(part);
    return patch_part(score, part, diags);
}

/* A part of which nothing moved in time. */
static muta_status patch_still(const struct way *way, uint32_t index, muta_diags *diags)
{
    muta_score *const score = way->plan->score;
    muta_part *const part = &score->parts[index];

    MUTA_TRY(muta_notate_remember(part, &way->keys));
    touch_changed(part);
    return finish_part(score, part, &way->keys, diags);
}

static muta_status write_moved(struct way *way, uint32_t index, muta_diags *diags)
{
    muta_score *const score = way->plan->score;
    muta_part *const part = &score->parts[index];

    touch_bars(way->plan, index);
    MUTA_TRY(muta_notate_remember(part, &way->keys));
    remember_part(&way->memory, part, way->plan->parts[index].fates);
    MUTA_TRY(patch_part(score, part, diags));
    return muta_rewrite_part(score, way->plan, index, diags);
}

static muta_status finish_moved(const struct way *way, uint32_t index, muta_diags *diags)
{
    muta_score *const score = way->plan->score;
    muta_part *const part = &score->parts[index];
    /* Signatures are compared with what they were before: every bar under them is looked at. */
    const muta_moment end = {(uint32_t)score->bar_count, MUTA_ALL_STAVES, MUTA_ZERO};
    const muta_keys_span keys = {
        way->keys.from, muta_moment_compare(way->keys.from, way->keys.to) < 0 ? end : way->keys.to};

    recall_part(&way->memory, part);
    return finish_part(score, part, &keys, diags);
}

static muta_status rewrite(struct way *way, muta_diags *diags)
{
    muta_score *const score = way->plan->score;

    way->memory.count = muta_tree_end(&score->tree);
    way->memory.at = calloc(way->memory.count + 1, 1);
    way->memory.moved = calloc(way->memory.count + 1, 1);
    if (!way->memory.at || !way->memory.moved)
        return MUTA_E_MEMORY;
    for (uint32_t part = 0; part < score->part_count; part++)
        MUTA_TRY(write_moved(way, part, diags));
    muta_rewrite_end(way->plan);
    for (size_t i = 0; i < way->plan->count; i++)
        MUTA_TRY(muta_metre_put(score, way->plan, way->plan->given[i]));
    MUTA_TRY(muta_build_again(score));
    for (uint32_t part = 0; part < score->part_count; part++)
        MUTA_TRY(finish_moved(way, part, diags));
    return MUTA_OK;
}

/* The widest stretch in which signatures changed. */
static void widen(muta_keys_span *widest, muta_keys_span by)
{
    if (muta_moment_compare(by.from, by.to) >= 0)
        return;
    if (muta_moment_compare(widest->from, widest->to) >= 0)
        *widest = by;
    if (muta_moment_compare(by.from, widest->from) < 0)
        widest->from = by.from;
    if (muta_moment_compare(by.to, widest->to) > 0)
        widest->to = by.to;
}

static muta_status splice(muta_plan *plan, const muta_passage *const *passages, size_t count,
                          muta_diags *diags)
{
    muta_score *const score = plan->score;
    const bool still = muta_plan_is_still(plan);
    const muta_moment start = {0, MUTA_ALL_STAVES, MUTA_ZERO};
    struct way way = {.plan = plan, .keys = {start, start}};

    for (size_t i = 0; i < count; i++) {
        muta_keys_span keys;
        MUTA_TRY(muta_notes_splice(still ? NULL : plan, passages[i], score, &keys.from, &keys.to,
                                   diags));
        widen(&way.keys, keys);
        MUTA_TRY(muta_recast_symbols(score, passages[i]));
    }
    for (uint32_t part = 0; still && part < score->part_count; part++)
        MUTA_TRY(patch_still(&way, part, diags));
    if (still)
        return MUTA_OK;
    const muta_status status = rewrite(&way, diags);
    free(way.memory.at);
    free(way.memory.moved);
    return status;
}

static muta_status plan_and_splice(const muta_passage *const *passages, size_t count,
                                   muta_score *score, muta_change *change, muta_diags *diags)
{
    muta_plan plan;

    MUTA_TRY(muta_plan_make(&plan, score, passages, count, diags));
    size_t marks = 0;
    muta_status status = splice(&plan, passages, count, diags);
    for (size_t i = 0; status == MUTA_OK && i < count; i++)
        status = muta_tempo_put(score, &plan, passages[i], diags);
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

/* Voices that a pass began, in their parts. */
static muta_status add_voices(const muta_passage *passage, muta_score *score)
{
    for (size_t i = 0; i < passage->voices.count; i++) {
        muta_part *const part = &score->parts[passage->voices.at[i].part];
        muta_string label;
        MUTA_TRY(muta_part_free_label(score, part, 1, &label));
        muta_voice *const voice = MUTA_PUSH(&part->arena, &part->voices);
        if (!voice)
            return MUTA_E_MEMORY;
        *voice = (muta_voice){.label = label, .home = passage->voices.at[i].staff};
    }
    return MUTA_OK;
}

/* Whether bars will be written anew; a plan that fails will fail again, and say why. */
static bool moves_time(const muta_passage *const *passages, size_t count, muta_score *score)
{
    muta_plan plan;
    bool moves = false;

    for (size_t i = 0; i < count; i++)
        moves = moves || passages[i]->voices.count > 0;
    if (moves)
        return true;
    moves = muta_plan_make(&plan, score, passages, count, NULL) == MUTA_OK &&
            !muta_plan_is_still(&plan);
    muta_plan_clear(&plan);
    return moves;
}

muta_status muta_passages_splice(const muta_passage *const *passages, size_t count,
                                 muta_score *score, muta_change *change, muta_diags *diags)
{
    const muta_passage **all = NULL;
    muta_tails tails;

    if (muta_divisions_change(score, passages, count) && moves_time(passages, count, score))
        MUTA_TRY(muta_divisions_settle(score, passages, count, diags));
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
