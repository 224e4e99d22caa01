/* test_tree.c: a tree that grows at several places keeps what each of them got. */
#include "base/tree.h"
#include "support/test.h"
#include <stdio.h>
#include <string.h>

enum {
    ROUNDS = 5,
    EACH = 3000 /* nodes a round and branch: more than a chunk */
};

static const char *const names[] = {"root", "left", "right", "leaf"};

enum {
    ROOT = 1,
    LEFT,
    RIGHT,
    LEAF
};

/* A leaf of a text that both sides have, and an attribute of one that only this side has. */
static void grow(muta_tree *tree, muta_node branch, char side, int round)
{
    muta_node last = 0;

    for (int i = 0; i < EACH; i++) {
        char text[32];
        muta_node leaf;
        assert_int_equal(muta_tree_add(tree, MUTA_ELEMENT, LEAF, &leaf), MUTA_OK);
        (void)snprintf(text, sizeof text, "%d.%d", round, i);
        assert_int_equal(muta_tree_set_text(tree, leaf, text), MUTA_OK);
        (void)snprintf(text, sizeof text, "%c%d.%d", side, round, i);
        assert_int_equal(muta_tree_set_attribute(tree, leaf, LEAF, text), MUTA_OK);
        muta_tree_insert(tree, branch, last, leaf);
        last = leaf;
    }
}

static void expect(const muta_tree *tree, muta_node branch, char side, int round)
{
    muta_node leaf = muta_tree_first(tree, branch);

    for (int i = 0; i < EACH; i++, leaf = muta_tree_next(tree, leaf)) {
        char text[32];
        assert_int_not_equal(leaf, 0);
        (void)snprintf(text, sizeof text, "%d.%d", round, i);
        assert_string_equal(muta_tree_string_at(tree, muta_tree_leaf_string(tree, leaf)), text);
        (void)snprintf(text, sizeof text, "%c%d.%d", side, round, i);
        assert_string_equal(muta_tree_attribute(tree, leaf, LEAF), text);
    }
}

static void plant(muta_tree *tree, muta_node branches[2])
{
    assert_int_equal(muta_tree_init(tree, names, 4), MUTA_OK);
    assert_int_equal(muta_tree_add(tree, MUTA_ELEMENT, ROOT, &tree->root), MUTA_OK);
    for (int side = 0; side < 2; side++) {
        assert_int_equal(
            muta_tree_add(tree, MUTA_ELEMENT, (muta_name)(LEFT + side), &branches[side]), MUTA_OK);
        muta_tree_insert(tree, tree->root, side ? branches[0] : 0, branches[side]);
    }
}

/* Each round puts its leaves before those of the rounds before. */
static void branches_keep_what_they_got(void **state)
{
    muta_tree tree;
    muta_node branches[2];

    (void)state;
    plant(&tree, branches);
    for (int round = 0; round < ROUNDS; round++) {
        grow(&tree, branches[0], 'l', round);
        grow(&tree, branches[1], 'r', round);
        expect(&tree, branches[0], 'l', round);
        expect(&tree, branches[1], 'r', round);
    }
    muta_tree_clear(&tree);
}

static void a_text_is_stored_once(void **state)
{
    muta_tree tree;
    muta_node branches[2];
    muta_string one;
    muta_string again;
    muta_string other;

    (void)state;
    plant(&tree, branches);
    assert_int_equal(muta_tree_intern(&tree, "da capo", 7, &one), MUTA_OK);
    grow(&tree, branches[0], 'l', 0); /* the table grows meanwhile */
    assert_int_equal(muta_tree_intern(&tree, "da capo al", 7, &again), MUTA_OK);
    assert_int_equal(muta_tree_intern(&tree, "al fine", 7, &other), MUTA_OK);
    assert_int_equal(one, again);
    assert_int_not_equal(one, other);
    muta_tree_clear(&tree);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(branches_keep_what_they_got),
        cmocka_unit_test(a_text_is_stored_once),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
