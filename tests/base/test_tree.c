/* test_tree.c: a tree that two work on at once; what each makes is there when they have done. */
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

/* A leaf of a text that both sides make, and an attribute of one that only this side does. */
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
static void branches_that_two_made_are_joined(void **state)
{
    muta_tree tree;
    muta_tree twin;
    muta_node branches[2];

    (void)state;
    plant(&tree, branches);
    for (int round = 0; round < ROUNDS; round++) {
        assert_int_equal(muta_tree_fork(&tree, &twin), MUTA_OK);
        grow(&tree, branches[0], 'l', round);
        grow(&twin, branches[1], 'r', round);
        assert_int_equal(muta_tree_join(&tree, &twin), MUTA_OK);
        expect(&tree, branches[0], 'l', round);
        expect(&tree, branches[1], 'r', round);
        grow(&tree, branches[0], 'a', round);
        expect(&tree, branches[0], 'a', round);
        expect(&tree, branches[1], 'r', round);
    }
    muta_tree_clear(&tree);
}

static void a_text_of_both_is_one(void **state)
{
    muta_tree tree;
    muta_tree twin;
    muta_node branches[2];
    muta_string one;
    muta_string two;
    muta_string again;

    (void)state;
    plant(&tree, branches);
    assert_int_equal(muta_tree_fork(&tree, &twin), MUTA_OK);
    assert_int_equal(muta_tree_intern(&tree, "da capo", 7, &one), MUTA_OK);
    assert_int_equal(muta_tree_intern(&twin, "da capo", 7, &two), MUTA_OK);
    assert_int_equal(muta_tree_join(&tree, &twin), MUTA_OK);
    assert_int_equal(muta_tree_intern(&tree, "da capo", 7, &again), MUTA_OK);
    assert_true(muta_tree_is_same(&tree, one, two) && muta_tree_is_same(&tree, two, again));
    assert_int_equal(muta_tree_intern(&tree, "al fine", 7, &again), MUTA_OK);
    assert_false(muta_tree_is_same(&tree, one, again));
    muta_tree_clear(&tree);
}

/* What the two hand in, in the order of the pieces. */
struct line {
    muta_turns turns;
    size_t pieces[1000];
    size_t count;
};

static void hand_in(void *of, bool is_beside)
{
    struct line *const line = of;
    size_t piece;

    (void)is_beside;
    while ((piece = muta_turns_take(&line->turns)) < sizeof line->pieces / sizeof *line->pieces) {
        muta_turns_wait(&line->turns, piece);
        line->pieces[line->count++] = piece;
        muta_turns_pass(&line->turns);
    }
}

static void pieces_are_handed_in_in_order(void **state)
{
    muta_crew *const crew = muta_crew_new();

    (void)state;
    assert_non_null(crew);
    for (int with = 0; with < 2; with++) {
        struct line line = {.count = 0};
        assert_true(muta_turns_init(&line.turns));
        muta_crew_run(with ? crew : NULL, hand_in, &line);
        assert_int_equal(line.count, sizeof line.pieces / sizeof *line.pieces);
        for (size_t i = 0; i < line.count; i++)
            assert_int_equal(line.pieces[i], i);
        muta_turns_clear(&line.turns);
    }
    muta_crew_free(crew);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(branches_that_two_made_are_joined),
        cmocka_unit_test(a_text_of_both_is_one),
        cmocka_unit_test(pieces_are_handed_in_in_order),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
