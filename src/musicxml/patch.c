/* patch.c: the shared strokes of patching, and the way of a passage back into the tree. */
#include "musicxml/patch.h"
#include <stdio.h>
#include <string.h>

muta_status muta_patch_deepen(muta_tree *tree, muta_string blank, muta_string *deeper)
{
    char text[128];
    const muta_tree_string *const from = &tree->strings.at[blank];

    *deeper = blank;
    if (!blank || from->length + 2 >= sizeof text)
        return MUTA_OK;
    memcpy(text, from->at, from->length);
    memcpy(text + from->length, "  ", 2);
    return muta_tree_intern(tree, text, (size_t)from->length + 2, deeper);
}

muta_status muta_patch_insert(muta_tree *tree, muta_node parent, muta_node after, muta_name name,
                              const char *text, muta_node *made)
{
    const muta_node first = muta_tree_first(tree, parent);
    muta_tree_node *const above = muta_tree_at(tree, parent);
    muta_string blank = 0;

    if (first)
        blank = muta_tree_at(tree, first)->before;
    else
        MUTA_TRY(muta_patch_deepen(tree, above->before, &blank));
    MUTA_TRY(muta_tree_add(tree, MUTA_ELEMENT, name, made));
    muta_tree_at(tree, *made)->before = blank;
    if (text)
        MUTA_TRY(muta_tree_set_text(tree, *made, text));
    if (!first) {
        /* An element that held nothing gets its end tag on a line of its own, as its start has. */
        above->tail = above->before;
        above->text = 0;
    }
    muta_tree_insert(tree, parent, after, *made);
    return MUTA_OK;
}

muta_node muta_patch_place(const muta_tree *tree, muta_node parent, const muta_name *before,
                           size_t count)
{
    muta_node place = 0;

    for (muta_node child = muta_tree_first(tree, parent); child;
         child = muta_tree_next(tree, child))
        for (size_t i = 0; i < count; i++)
            if (muta_tree_name(tree, child) == before[i])
                place = child;
    return place;
}

muta_node muta_patch_last(const muta_tree *tree, muta_node parent)
{
    return muta_patch_before(tree, parent, 0);
}

muta_node muta_patch_before(const muta_tree *tree, muta_node parent, muta_node node)
{
    muta_node before = 0;

    for (muta_node child = muta_tree_first(tree, parent); child && child != node;
         child = muta_tree_next(tree, child))
        before = child;
    return before;
}

muta_node muta_patch_part(const muta_score *score, const muta_part *part)
{
    const muta_tree *const tree = &score->tree;
    muta_node child = muta_tree_first(tree, tree->root);

    /* By its bars, for ids may be missing, or alike. */
    for (; child; child = muta_tree_next(tree, child)) {
        if (muta_tree_name(tree, child) != N_PART)
            continue;
        const muta_node cell = muta_tree_child(tree, child, N_MEASURE);
        if (part->bar_count > 0 ? cell && cell == part->bars[0].cell
                                : !cell && muta_tree_attribute(tree, child, N_ID) &&
                                      strcmp(muta_tree_attribute(tree, child, N_ID), part->id) == 0)
            break;
    }
    return child;
}

muta_status muta_patch_leaf(muta_tree *tree, muta_node parent, muta_node after, muta_name name,
                            const char *text)
{
    const muta_node leaf = muta_tree_child(tree, parent, name);
    muta_node made;

    if (!text) {
        if (leaf)
            muta_tree_remove(tree, parent, leaf);
        return MUTA_OK;
    }
    if (!leaf)
        return muta_patch_insert(tree, parent, after, name, text, &made);
    return muta_names_leaf_is(tree, leaf, text) ? MUTA_OK : muta_tree_set_text(tree, leaf, text);
}

const char *muta_patch_letter(muta_pitch pitch)
{
    static const char *const letters[] = {"C", "D", "E", "F", "G", "A", "B"};

    return letters[muta_pitch_step(pitch)];
}

const char *muta_patch_alter(int32_t alter, char *text)
{
    const int32_t size = alter < 0 ? -alter : alter;
    char *end;

    (void)snprintf(text, 24, "%s%d.%05d", alter < 0 ? "-" : "", size / MUTA_SEMITONE,
                   size % MUTA_SEMITONE);
    end = text + strlen(text);
    while (end[-1] == '0')
        end--;
    end -= end[-1] == '.';
    *end = '\0';
    return text;
}

muta_status muta_patch_pitch(muta_tree *tree, muta_node parent, muta_name step, muta_name alter,
                             muta_pitch pitch)
{
    const muta_node leaf = muta_tree_child(tree, parent, alter);
    muta_fraction held = MUTA_ZERO;
    char text[24];

    MUTA_TRY(muta_patch_leaf(tree, parent, 0, step, muta_patch_letter(pitch)));
    /* An alteration of the same size keeps its own text. */
    if (leaf && muta_build_number(tree, parent, alter, &held) &&
        muta_fraction_compare(held, muta_fraction_of(pitch.alter, MUTA_SEMITONE)) == 0)
        return MUTA_OK;
    return muta_patch_leaf(tree, parent, muta_tree_child(tree, parent, step), alter,
                           pitch.alter ? muta_patch_alter(pitch.alter, text) : NULL);
}

/* The alteration that a sign stands for; false for signs that are not among the usual ones. */
static bool alter_of(muta_sign sign, int32_t *alter)
{
    for (*alter = -3 * MUTA_SEMITONE; *alter <= 3 * MUTA_SEMITONE; *alter += MUTA_SEMITONE / 2)
        if (muta_sign_of(*alter) == sign && sign != MUTA_SIGN_OTHER)
            return true;
    return false;
}

muta_status muta_patch_neighbour_sign(muta_tree *tree, muta_node leaf, const muta_note *note,
                                      int32_t steps)
{
    muta_pitch neighbour = {note->old.place + steps, 0};

    if (!alter_of(muta_build_sign(tree, leaf), &neighbour.alter))
        return MUTA_OK;
    neighbour = muta_pitch_add(neighbour, muta_pitch_between(note->old, note->pitch));
    const char *const name = muta_sign_name(muta_sign_of(neighbour.alter));
    return name ? muta_tree_set_text(tree, leaf, name) : MUTA_OK;
}

bool muta_patch_says_same(const muta_tree *tree, muta_node a, muta_node b)
{
    const muta_tree_node *const one = muta_tree_at(tree, a);
    const muta_tree_node *const two = muta_tree_at(tree, b);
    muta_node left = one->child;
    muta_node right = two->child;

    if (one->name != two->name || one->text != two->text)
        return false;
    for (; left && right; left = muta_tree_next(tree, left), right = muta_tree_next(tree, right))
        if (!muta_patch_says_same(tree, left, right))
            return false;
    return !left && !right;
}
