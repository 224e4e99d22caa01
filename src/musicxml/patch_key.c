/* patch_key.c: signatures that moved, and those that a passage puts in at its edges. */
#include "musicxml/patch.h"
#include <stdio.h>
#include <string.h>

static const char *number(int32_t value, char *text)
{
    (void)snprintf(text, 16, "%d", value);
    return text;
}

/* What was in force before a change, on the staff that it speaks for. */
static const muta_key_change *key_before(const muta_part *part, const muta_key_change *change)
{
    const muta_key_change *before = NULL;

    for (const muta_key_change *at = part->keys.at; at < change; at++)
        if (at->at.staff == change->at.staff || at->at.staff == MUTA_ALL_STAVES)
            before = at;
    return before;
}

/* A cancel sign cancels what was in force before; where nothing was, there is none. */
static muta_status patch_cancel(muta_tree *tree, const muta_part *part,
                                const muta_key_change *change, muta_node key)
{
    const muta_key_change *const before = key_before(part, change);
    char text[16];

    if (!muta_tree_child(tree, key, N_CANCEL))
        return MUTA_OK;
    return muta_patch_leaf(tree, key, 0, N_CANCEL,
                           before && before->is_traditional ? number(before->key.fifths, text)
                                                            : NULL);
}

/* One step of such a signature: its letter, its alteration and, if it is shown, its sign. */
static muta_status patch_step(muta_tree *tree, muta_node step, muta_node alter, muta_interval by)
{
    char text[24];
    muta_pitch pitch = {28 + muta_build_step(muta_tree_leaf(tree, step)), 0};

    if (pitch.place < 28 || !muta_build_alter(tree, alter, &pitch.alter))
        return MUTA_OK;
    pitch = muta_pitch_add(pitch, by);
    MUTA_TRY(muta_tree_set_text(tree, step, muta_patch_letter(pitch)));
    MUTA_TRY(muta_tree_set_text(tree, alter, muta_patch_alter(pitch.alter, text)));
    const muta_node sign = muta_tree_next(tree, alter);
    const char *const name = muta_sign_name(muta_sign_of(pitch.alter));
    return sign && muta_tree_name(tree, sign) == N_KEY_ACCIDENTAL && name
               ? muta_tree_set_text(tree, sign, name)
               : MUTA_OK;
}

/* A signature of single steps. */
static muta_status patch_steps(muta_tree *tree, muta_node key, muta_interval by)
{
    for (muta_node child = muta_tree_first(tree, key); child; child = muta_tree_next(tree, child)) {
        const muta_node next = muta_tree_next(tree, child);
        if (muta_tree_name(tree, child) == N_KEY_STEP && next &&
            muta_tree_name(tree, next) == N_KEY_ALTER)
            MUTA_TRY(patch_step(tree, child, next, by));
    }
    return MUTA_OK;
}

/* The last child before a bar's music, behind which attributes may be put in; and the first that
 * are there already, 0 when none are. */
static muta_node last_of_head(const muta_tree *tree, muta_node cell, muta_node *attributes)
{
    muta_node last = 0;

    *attributes = 0;
    for (muta_node child = muta_tree_first(tree, cell); child;
         child = muta_tree_next(tree, child)) {
        const muta_name name = muta_tree_name(tree, child);
        const char *const location = muta_tree_attribute(tree, child, N_LOCATION);
        if (name == N_ATTRIBUTES) {
            *attributes = child;
            return last;
        }
        if (name != N_PRINT && !(name == N_BARLINE && location && strcmp(location, "left") == 0))
            return last;
        last = child;
    }
    return last;
}

/* Lays a new element out as its neighbour is. */
static void lay_out_like(muta_tree *tree, muta_node made, muta_node like)
{
    muta_tree_at(tree, made)->before = muta_tree_at(tree, like)->before;
    muta_tree_at(tree, made)->tail = muta_tree_at(tree, like)->tail;
}

muta_status muta_patch_attributes(muta_tree *tree, muta_node cell, muta_node *attributes)
{
    const muta_node last = last_of_head(tree, cell, attributes);
    const muta_node neighbour = muta_tree_first(tree, cell);

    if (*attributes)
        return MUTA_OK;
    MUTA_TRY(muta_patch_insert(tree, cell, last, N_ATTRIBUTES, NULL, attributes));
    if (neighbour)
        lay_out_like(tree, *attributes, neighbour);
    return MUTA_OK;
}

static muta_status copy_leaf(muta_tree *tree, muta_node from, muta_node to, muta_node *last)
{
    const muta_tree_node *const leaf = muta_tree_at(tree, from);
    const muta_string text = leaf->text;
    const muta_name name = leaf->name;

    MUTA_TRY(muta_patch_insert(tree, to, *last, name, NULL, last));
    muta_tree_at(tree, *last)->text = text;
    return MUTA_OK;
}

/* A signature of single steps is put in as a copy of the one that was in force. */
static muta_status copy_steps(muta_tree *tree, muta_node from, muta_node key)
{
    muta_node last = 0;

    for (muta_node child = muta_tree_first(tree, from); child;
         child = muta_tree_next(tree, child)) {
        const muta_name name = muta_tree_name(tree, child);
        if (name == N_KEY_STEP || name == N_KEY_ALTER || name == N_KEY_ACCIDENTAL)
            MUTA_TRY(copy_leaf(tree, child, key, &last));
    }
    return MUTA_OK;
}

static muta_status insert_key(muta_score *score, const muta_part *part, muta_key_change *change)
{
    static const muta_name before[] = {N_FOOTNOTE, N_LEVEL, N_DIVISIONS, N_KEY};
    muta_tree *const tree = &score->tree;
    const muta_key_change *const like = key_before(part, change);
    muta_node attributes;
    muta_node key;
    muta_node leaf;
    char text[16];

    MUTA_TRY(muta_patch_attributes(tree, part->bars[change->at.bar].cell, &attributes));
    MUTA_TRY(muta_patch_insert(tree, attributes,
                               muta_patch_place(tree, attributes, before, MUTA_LENGTH(before)),
                               N_KEY, NULL, &key));
    change->node = key;
    if (change->at.staff != MUTA_ALL_STAVES)
        MUTA_TRY(muta_tree_set_attribute(tree, key, N_NUMBER, number(change->at.staff, text)));
    if (change->is_traditional) {
        MUTA_TRY(
            muta_patch_insert(tree, key, 0, N_FIFTHS, number(change->key.fifths, text), &leaf));
        return change->has_mode
                   ? muta_patch_leaf(tree, key, leaf, N_MODE, muta_mode_name(change->key.mode))
                   : MUTA_OK;
    }
    if (like && like->node)
        MUTA_TRY(copy_steps(tree, like->node, key));
    return patch_steps(tree, key, change->moved);
}

muta_status muta_patch_key(muta_score *score, const muta_part *part, muta_key_change *change)
{
    muta_tree *const tree = &score->tree;
    char text[16];

    if (part->bars[change->at.bar].cell == 0)
        return MUTA_OK;
    if (!change->node)
        return insert_key(score, part, change);
    if (!change->is_traditional)
        return patch_steps(tree, change->node, change->moved);
    MUTA_TRY(patch_cancel(tree, part, change, change->node));
    MUTA_TRY(muta_patch_leaf(tree, change->node, 0, N_FIFTHS, number(change->key.fifths, text)));
    return change->is_recast && change->has_mode
               ? muta_patch_leaf(tree, change->node, muta_tree_child(tree, change->node, N_FIFTHS),
                                 N_MODE, muta_mode_name(change->key.mode))
               : MUTA_OK;
}
