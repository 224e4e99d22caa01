/* patch_figures.c: the signs in a figured bass, which are those of tones above the bass. */
#include "musicxml/patch.h"

/* How many steps above the bass a figure lies; a sign without a number speaks of the third. */
static int32_t steps_above(const muta_tree *tree, muta_node figure)
{
    int32_t number;

    return muta_build_integer(tree, figure, N_FIGURE_NUMBER, &number) && number > 0 && number < 30
               ? number - 1
               : 2;
}

muta_status muta_patch_figures(muta_score *score, const muta_part *part,
                               const muta_figures *figures)
{
    muta_tree *const tree = &score->tree;

    if (figures->bass >= part->notes.count)
        return MUTA_OK;
    const muta_note *const bass = &part->notes.at[figures->bass];
    if (!(bass->changed & MUTA_CHANGED_PITCH) || muta_pitch_is_equal(bass->pitch, bass->old))
        return MUTA_OK;
    for (muta_node figure = muta_tree_first(tree, figures->node); figure;
         figure = muta_tree_next(tree, figure)) {
        const muta_node prefix = muta_tree_child(tree, figure, N_PREFIX);
        const muta_node suffix = muta_tree_child(tree, figure, N_SUFFIX);
        const int32_t steps = steps_above(tree, figure);
        if (prefix)
            MUTA_TRY(muta_patch_neighbour_sign(tree, prefix, bass, steps));
        if (suffix)
            MUTA_TRY(muta_patch_neighbour_sign(tree, suffix, bass, steps));
    }
    return MUTA_OK;
}
