/* names.c: the names, in the order of their constants. */
#include "musicxml/names.h"
#include <string.h>

static const char *const names[] = {
#define X(constant, text) text,
    MUTA_NAMES(X)
#undef X
};

muta_status muta_names_init(muta_tree *tree)
{
    return muta_tree_init(tree, names, MUTA_LENGTH(names));
}

bool muta_names_leaf_is(const muta_tree *tree, muta_node node, const char *text)
{
    const muta_text leaf = muta_tree_leaf(tree, node);

    return leaf.length == strlen(text) && memcmp(leaf.at, text, leaf.length) == 0;
}
