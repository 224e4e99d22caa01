/* sign.c: the line in `identification` that says what made a document. */
#include "musicxml/patch.h"
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

static const char program[] = "mutanza";

const char *muta_version(void)
{
    return MUTA_VERSION;
}

const char *muta_score_title(const muta_score *score)
{
    const muta_tree *const tree = &score->tree;
    const muta_node work = muta_tree_child(tree, tree->root, N_WORK);
    muta_node title = work ? muta_tree_child(tree, work, N_WORK_TITLE) : 0;

    if (!title)
        title = muta_tree_child(tree, tree->root, N_MOVEMENT_TITLE);
    return title ? muta_tree_string_at(tree, muta_tree_at(tree, title)->text) : "";
}

/* The child of this name, put in behind what the schema puts before it. */
static muta_status open_child(muta_tree *tree, muta_node parent, muta_name name,
                              const muta_name *before, size_t count, muta_node *child)
{
    *child = muta_tree_child(tree, parent, name);
    if (*child)
        return MUTA_OK;
    return muta_patch_insert(tree, parent, muta_patch_place(tree, parent, before, count), name,
                             NULL, child);
}

/* Whether a leaf begins with this program's name. */
static bool is_ours(const muta_tree *tree, muta_node leaf)
{
    const muta_text text = muta_tree_leaf(tree, leaf);

    return text.length >= sizeof program - 1 && !memcmp(text.at, program, sizeof program - 1);
}

static muta_status sign_software(muta_tree *tree, muta_node encoding)
{
    static const muta_name before[] = {N_SOFTWARE};
    char text[64];
    muta_node made;

    (void)snprintf(text, sizeof text, "%s %s", program, muta_version());
    for (muta_node child = muta_tree_first(tree, encoding); child;
         child = muta_tree_next(tree, child))
        if (muta_tree_name(tree, child) == N_SOFTWARE && is_ours(tree, child))
            return muta_tree_set_text(tree, child, text);
    return muta_patch_insert(tree, encoding,
                             muta_patch_place(tree, encoding, before, MUTA_LENGTH(before)),
                             N_SOFTWARE, text, &made);
}

static muta_status sign_passes(muta_tree *tree, muta_node miscellaneous, const char *passes,
                               uint64_t seed)
{
    static const muta_name before[] = {N_MISCELLANEOUS_FIELD};
    char text[2048];
    muta_node field = muta_tree_first(tree, miscellaneous);

    (void)snprintf(text, sizeof text, "%s (seed %" PRIu64 ")", passes, seed);
    for (; field; field = muta_tree_next(tree, field)) {
        const char *const name = muta_tree_attribute(tree, field, N_NAME);
        if (name && strcmp(name, program) == 0)
            return muta_tree_set_text(tree, field, text);
    }
    MUTA_TRY(muta_patch_insert(tree, miscellaneous,
                               muta_patch_place(tree, miscellaneous, before, MUTA_LENGTH(before)),
                               N_MISCELLANEOUS_FIELD, text, &field));
    return muta_tree_set_attribute(tree, field, N_NAME, program);
}

/* Whether a note ought to have a stem and has none. */
static bool lacks_stem(const muta_tree *tree, const muta_note *note)
{
    static const char *const stemless[] = {"whole", "breve", "long", "maxima"};
    const muta_node type = muta_tree_child(tree, note->node, N_TYPE);
    bool lacks =
        type && !(note->flags & MUTA_NOTE_REST) && !muta_tree_child(tree, note->node, N_STEM);

    for (size_t i = 0; i < MUTA_LENGTH(stemless) && lacks; i++)
        lacks = !muta_names_leaf_is(tree, type, stemless[i]);
    return lacks;
}

static bool lacks_stems(const muta_score *score)
{
    for (size_t i = 0; i < score->part_count; i++) {
        const muta_part *const part = &score->parts[i];
        for (size_t j = 0; j < part->notes.count; j++)
            if (part->bars[part->notes.at[j].bar].is_touched &&
                lacks_stem(&score->tree, &part->notes.at[j]))
                return true;
    }
    return false;
}

/* A file that claims to write every stem does so no more where notes were made that have none;
 * signs and beams are always written. */
static muta_status disclaim(muta_score *score, muta_node encoding)
{
    muta_tree *const tree = &score->tree;

    for (muta_node child = muta_tree_first(tree, encoding); child;
         child = muta_tree_next(tree, child)) {
        const char *const element = muta_tree_attribute(tree, child, N_ELEMENT);
        const char *const type = muta_tree_attribute(tree, child, N_TYPE);
        if (muta_tree_name(tree, child) == N_SUPPORTS && element && type &&
            strcmp(element, "stem") == 0 && strcmp(type, "yes") == 0 && lacks_stems(score))
            MUTA_TRY(muta_tree_set_attribute(tree, child, N_TYPE, "no"));
    }
    return MUTA_OK;
}

muta_status muta_score_sign(muta_score *score, const char *passes, uint64_t seed)
{
    static const muta_name before_identification[] = {N_WORK, N_MOVEMENT_NUMBER, N_MOVEMENT_TITLE};
    static const muta_name before_encoding[] = {N_CREATOR, N_RIGHTS};
    static const muta_name before_miscellaneous[] = {N_CREATOR, N_RIGHTS, N_ENCODING, N_SOURCE,
                                                     N_RELATION};
    muta_tree *const tree = &score->tree;
    muta_node identification;
    muta_node encoding;
    muta_node miscellaneous;

    MUTA_TRY(open_child(tree, tree->root, N_IDENTIFICATION, before_identification,
                        MUTA_LENGTH(before_identification), &identification));
    MUTA_TRY(open_child(tree, identification, N_ENCODING, before_encoding,
                        MUTA_LENGTH(before_encoding), &encoding));
    MUTA_TRY(sign_software(tree, encoding));
    MUTA_TRY(disclaim(score, encoding));
    MUTA_TRY(open_child(tree, identification, N_MISCELLANEOUS, before_miscellaneous,
                        MUTA_LENGTH(before_miscellaneous), &miscellaneous));
    return sign_passes(tree, miscellaneous, passes, seed);
}
