/* patch_harmony.c: chord symbols that move with their passage. */
#include "musicxml/patch.h"
#include <stdio.h>
#include <string.h>

/* Moves the pitch class in `holder`; a printed name of its own would no longer be true. */
static muta_status move_class(muta_tree *tree, muta_node holder, muta_name step, muta_name alter,
                              muta_interval by)
{
    muta_pitch pitch;
    const muta_node leaf = muta_tree_child(tree, holder, step);

    if (!leaf || !muta_build_pitch(tree, holder, step, alter, 0, &pitch))
        return MUTA_OK;
    pitch.place += 28;
    pitch = muta_pitch_add(pitch, by);
    while (muta_pitch_sharps(pitch) > 2)
        pitch = muta_pitch_respelled(pitch, 1);
    while (muta_pitch_sharps(pitch) < -2)
        pitch = muta_pitch_respelled(pitch, -1);
    const char *const printed = muta_tree_attribute(tree, leaf, N_TEXT);
    if (printed && *printed)
        muta_tree_drop_attribute(tree, leaf, N_TEXT);
    return muta_patch_pitch(tree, holder, step, alter, pitch);
}

/* A numeral is relative and stays; the key that it is reckoned in moves. */
static muta_status move_numeral_key(muta_tree *tree, muta_node numeral, muta_interval by)
{
    const muta_node key = muta_tree_child(tree, numeral, N_NUMERAL_KEY);
    int32_t fifths;
    char text[16];

    if (!key || !muta_build_integer(tree, key, N_NUMERAL_FIFTHS, &fifths))
        return MUTA_OK;
    (void)snprintf(text, sizeof text, "%d", fifths + muta_interval_fifths(by));
    return muta_patch_leaf(tree, key, 0, N_NUMERAL_FIFTHS, text);
}

/* N.C. and the like have a root only for the schema's sake. */
static bool is_no_chord(const muta_tree *tree, muta_node root)
{
    for (muta_node next = muta_tree_next(tree, root); next; next = muta_tree_next(tree, next))
        if (muta_tree_name(tree, next) == N_KIND)
            return muta_names_leaf_is(tree, next, "none");
    return false;
}

muta_status muta_patch_harmony(muta_score *score, const muta_part *part,
                               const muta_harmony *harmony, muta_diags *diags)
{
    muta_tree *const tree = &score->tree;
    muta_node next;

    for (muta_node child = muta_tree_first(tree, harmony->node); child; child = next) {
        next = muta_tree_next(tree, child);
        switch (muta_tree_name(tree, child)) {
        case N_ROOT:
            if (!is_no_chord(tree, child))
                MUTA_TRY(move_class(tree, child, N_ROOT_STEP, N_ROOT_ALTER, harmony->moved));
            break;
        case N_BASS:
            MUTA_TRY(move_class(tree, child, N_BASS_STEP, N_BASS_ALTER, harmony->moved));
            break;
        case N_NUMERAL:
            MUTA_TRY(move_numeral_key(tree, child, harmony->moved));
            break;
        case N_FRAME:
            muta_tree_remove(tree, harmony->node, child);
            muta_diag_add(diags, MUTA_WARNING, muta_score_place(score, part, harmony->at),
                          "a fretboard of the old chord was taken off");
            break;
        default:
            break;
        }
    }
    return MUTA_OK;
}
