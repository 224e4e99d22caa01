/* symbol.c: chord symbols, read. */
#include "musicxml/symbol.h"
#include "musicxml/build.h"
#include <string.h>

/* The place on the line of fifths of a step and its alteration. */
static bool read_class(const muta_tree *tree, muta_node holder, muta_name step, muta_name alter,
                       int32_t *fifths)
{
    static const int8_t places[] = {0, 2, 4, -1, 1, 3, 5};
    muta_pitch pitch;

    if (!muta_build_pitch(tree, holder, step, alter, 0, &pitch))
        return false;
    *fifths = places[muta_pitch_step(pitch)] + 7 * muta_pitch_sharps(pitch);
    return true;
}

bool muta_symbol_read(const muta_score *score, const muta_harmony *harmony, muta_symbol *symbol)
{
    const muta_tree *const tree = &score->tree;
    const muta_node root = muta_tree_child(tree, harmony->node, N_ROOT);
    const muta_node kind = muta_tree_child(tree, harmony->node, N_KIND);
    const muta_node bass = muta_tree_child(tree, harmony->node, N_BASS);

    if (!root || !kind || muta_names_leaf_is(tree, kind, "none") ||
        !read_class(tree, root, N_ROOT_STEP, N_ROOT_ALTER, &symbol->root))
        return false;
    symbol->kind = muta_tree_string_at(tree, muta_tree_at(tree, kind)->text);
    symbol->bass = symbol->root;
    if (bass)
        (void)read_class(tree, bass, N_BASS_STEP, N_BASS_ALTER, &symbol->bass);
    return true;
}

bool muta_symbol_is_none(const muta_score *score, const muta_harmony *harmony)
{
    const muta_node kind = muta_tree_child(&score->tree, harmony->node, N_KIND);

    return kind && muta_names_leaf_is(&score->tree, kind, "none");
}
