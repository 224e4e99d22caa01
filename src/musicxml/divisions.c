/*
 * divisions.c: every number of a part that is counted in divisions: times one factor, or all of one
 * kind where they changed in what is written anew.
 */
#include "base/decimal.h"
#include "musicxml/patch.h"
#include "musicxml/rewrite.h"
#include "mutanza/limits.h"
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

/* Source: MusicXML 4.0, the users of the types divisions and positive-divisions. */
static const muta_name counted_leaves[] = {N_DIVISIONS, N_DURATION, N_OFFSET};
static const muta_name counted_attributes[] = {
    N_DIVISIONS, N_ATTACK, N_RELEASE, N_MAKE_TIME, N_BEZIER_OFFSET, N_BEZIER_OFFSET2, N_OFFSET};

/* The number, times the factor, as text. @param text  for 32 characters */
static bool multiplied(muta_text number, int64_t factor, char *text)
{
    muta_fraction value;

    if (!muta_text_number(number, &value))
        return false;
    value = muta_fraction_scale(value, factor);
    return muta_fraction_is_valid(value) && muta_text_print_number(value, text);
}

static bool is_among(muta_name name, const muta_name *names, size_t count)
{
    for (size_t i = 0; i < count; i++)
        if (names[i] == name)
            return true;
    return false;
}

static muta_status multiply_node(muta_tree *tree, muta_node node, int64_t factor)
{
    const muta_name name = muta_tree_name(tree, node);
    char text[64];

    if (is_among(name, counted_leaves, MUTA_LENGTH(counted_leaves))) {
        const muta_text leaf = muta_tree_leaf(tree, node);
        if (multiplied(leaf, factor, text))
            MUTA_TRY(muta_tree_set_text(tree, node, text));
    }
    for (uint32_t i = 0; i < muta_tree_at(tree, node)->attribute_count; i++) {
        const muta_attribute *const attribute =
            muta_tree_attribute_at(tree, muta_tree_at(tree, node)->attributes + i);
        const char *const value = muta_tree_string_at(tree, attribute->value);
        if (is_among(attribute->name, counted_attributes, MUTA_LENGTH(counted_attributes)) &&
            multiplied((muta_text){value, strlen(value)}, factor, text))
            MUTA_TRY(muta_tree_set_attribute(tree, node, attribute->name, text));
    }
    for (muta_node child = muta_tree_first(tree, node); child; child = muta_tree_next(tree, child))
        MUTA_TRY(multiply_node(tree, child, factor));
    return MUTA_OK;
}

/* Divisions that were never said are 1: they are said now, where the part begins. */
static muta_status say_divisions(muta_score *score, muta_part *part, int64_t factor)
{
    muta_node attributes;
    muta_node made;
    char text[24];
    muta_tree *const tree = &score->tree;
    static const muta_name before[] = {N_FOOTNOTE, N_LEVEL};
    const muta_moment start = {0, MUTA_ALL_STAVES, MUTA_ZERO};

    if (part->divisions.count > 0 && muta_moment_compare(part->divisions.at[0].at, start) <= 0)
        return MUTA_OK;
    if (part->bar_count == 0 || !part->bars[0].cell)
        return MUTA_OK;
    MUTA_TRY(muta_patch_attributes(tree, part->bars[0].cell, &attributes));
    (void)snprintf(text, sizeof text, "%" PRId64, factor);
    MUTA_TRY(muta_patch_insert(tree, attributes,
                               muta_patch_place(tree, attributes, before, MUTA_LENGTH(before)),
                               N_DIVISIONS, text, &made));
    muta_divisions *const said = MUTA_PUSH(&part->arena, &part->divisions);
    if (!said)
        return MUTA_E_MEMORY;
    *said = (muta_divisions){start, muta_fraction_of(1, 1)};
    muta_part_sort_tracks(part);
    return MUTA_OK;
}

muta_status muta_multiply_divisions(muta_score *score, uint32_t index, int64_t factor)
{
    muta_part *const part = &score->parts[index];

    if (factor == 1)
        return MUTA_OK;
    for (size_t bar = 0; bar < part->bar_count; bar++)
        if (part->bars[bar].cell)
            MUTA_TRY(multiply_node(&score->tree, part->bars[bar].cell, factor));
    MUTA_TRY(say_divisions(score, part, factor));
    for (size_t i = 0; i < part->divisions.count; i++)
        part->divisions.at[i].to_quarter =
            muta_fraction_scale(part->divisions.at[i].to_quarter, factor);
    return MUTA_OK;
}

/* ---- one kind for all ---- */

/* Divisions that all of the part's can be counted in; 0 when they are too many, or no numbers. */
static int64_t common_divisions(const muta_part *part)
{
    int64_t common = 1;

    for (size_t i = 0; i < part->divisions.count && common > 0; i++) {
        const muta_fraction of = part->divisions.at[i].to_quarter;
        common = of.bottom == 1 ? muta_common_multiple(common, of.top) : 0;
    }
    return common < MUTA_LIMIT_DIVISIONS ? common : 0;
}

/* Divisions are said once; what said nothing else goes. */
static muta_status restate(muta_tree *tree, muta_node cell, muta_node attributes, int64_t common,
                           bool is_first)
{
    const muta_node leaf = muta_tree_child(tree, attributes, N_DIVISIONS);
    char text[24];

    if (is_first) {
        (void)snprintf(text, sizeof text, "%" PRId64, common);
        return muta_tree_set_text(tree, leaf, text);
    }
    muta_tree_remove(tree, attributes, leaf);
    if (!muta_tree_first(tree, attributes))
        muta_tree_remove(tree, cell, attributes);
    return MUTA_OK;
}

/* In the order of the file, in which divisions hold. */
static muta_status unify_cell(muta_tree *tree, muta_node cell, int64_t common, int64_t *divisions,
                              bool *is_said)
{
    for (muta_node child = muta_tree_first(tree, cell), next; child; child = next) {
        int32_t said;
        next = muta_tree_next(tree, child);
        if (muta_tree_name(tree, child) != N_ATTRIBUTES ||
            !muta_tree_child(tree, child, N_DIVISIONS)) {
            MUTA_TRY(multiply_node(tree, child, common / *divisions));
            continue;
        }
        if (!muta_build_integer(tree, child, N_DIVISIONS, &said))
            return MUTA_E_DATA; /* never: they were read */
        *divisions = said;
        MUTA_TRY(restate(tree, cell, child, common, !*is_said));
        *is_said = true;
    }
    return MUTA_OK;
}

static muta_status unify(muta_score *score, muta_part *part, int64_t common)
{
    const muta_moment start = {0, MUTA_ALL_STAVES, MUTA_ZERO};
    int64_t divisions = 1;
    bool is_said = part->divisions.count == 0 ||
                   muta_moment_compare(part->divisions.at[0].at, start) > 0; /* below */

    for (size_t bar = 0; bar < part->bar_count; bar++)
        if (part->bars[bar].cell)
            MUTA_TRY(unify_cell(&score->tree, part->bars[bar].cell, common, &divisions, &is_said));
    return say_divisions(score, part, common);
}

/* Whether the nth statement of a part says something else than was in force. */
static bool is_change(const muta_part *part, size_t nth)
{
    const muta_divisions *const said = &part->divisions.at[nth];
    const muta_fraction before = nth > 0 ? part->divisions.at[nth - 1].to_quarter
                                         : muta_fraction_of(1, 1); /* when none are said */

    return (said->at.bar > 0 || said->at.onset.top != 0) &&
           muta_fraction_compare(said->to_quarter, before) != 0;
}

/* A change of divisions in the bars of a passage that reaches the part; NULL: none. */
static const muta_divisions *find_change(const muta_part *part, uint32_t index,
                                         const muta_passage *const *passages, size_t count)
{
    for (size_t i = 0; i < part->divisions.count; i++) {
        const uint32_t bar = part->divisions.at[i].at.bar;
        for (size_t j = 0; j < count && is_change(part, i); j++)
            if (passages[j]->from.bar <= bar && bar <= passages[j]->to.bar &&
                muta_passage_works_on(passages[j], index))
                return &part->divisions.at[i];
    }
    return NULL;
}

bool muta_divisions_change(const muta_score *score, const muta_passage *const *passages,
                           size_t count)
{
    for (uint32_t i = 0; i < score->part_count; i++)
        if (find_change(&score->parts[i], i, passages, count))
            return true;
    return false;
}

muta_status muta_divisions_settle(muta_score *score, const muta_passage *const *passages,
                                  size_t count, muta_diags *diags)
{
    bool any = false;

    for (uint32_t i = 0; i < score->part_count; i++) {
        muta_part *const part = &score->parts[i];
        const muta_divisions *const change = find_change(part, i, passages, count);
        const int64_t common = change ? common_divisions(part) : 1;
        if (common == 0) {
            muta_diag_add(
                diags, MUTA_ERROR, muta_score_place(score, part, change->at),
                "the divisions change here, and have no common multiple of a useful size; "
                "let the part have one kind of them");
            return MUTA_E_DATA;
        }
        if (change)
            MUTA_TRY(unify(score, part, common));
        any = any || change;
    }
    return any ? muta_build_again(score) : MUTA_OK;
}
