/* test_search.c: the k best ways against every way there is, on all kinds of small rows. */
#include "base/search.h"
#include "support/test.h"
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

enum {
    STEPS = 5,
    CANDIDATES = 4,
    WAYS = 1024 /* CANDIDATES to the power of STEPS */
};

/* Prices without a pattern; some ways may not be. */
struct row {
    size_t steps;
    uint32_t counts[STEPS];
    int64_t prices[STEPS][CANDIDATES + 1][CANDIDATES];
};

static uint32_t count(void *context, size_t step)
{
    return ((struct row *)context)->counts[step];
}

static int64_t price(void *context, size_t step, uint32_t from, uint32_t to)
{
    return ((struct row *)context)->prices[step][from == MUTA_NO_CANDIDATE ? CANDIDATES : from][to];
}

static struct row row_of(uint32_t seed)
{
    struct row row = {.steps = 1 + seed % STEPS};
    uint32_t state = seed * 2654435761U + 1;

    for (size_t i = 0; i < STEPS; i++) {
        row.counts[i] = 1 + (state >> 20) % CANDIDATES;
        for (size_t from = 0; from <= CANDIDATES; from++)
            for (size_t to = 0; to < CANDIDATES; to++) {
                state = state * 1664525U + 1013904223U;
                /* Few prices, so that many ways cost the same. */
                row.prices[i][from][to] =
                    (state >> 24) % 5 == 0 ? MUTA_FORBIDDEN : (int64_t)((state >> 16) % 4);
            }
    }
    return row;
}

struct way {
    int64_t cost;
    uint32_t taken[STEPS];
};

static int by_cost(const void *a, const void *b)
{
    const struct way *const one = a;
    const struct way *const two = b;

    if (one->cost != two->cost)
        return one->cost < two->cost ? -1 : 1;
    for (size_t i = 0; i < STEPS; i++)
        if (one->taken[i] != two->taken[i])
            return one->taken[i] < two->taken[i] ? -1 : 1;
    return 0;
}

/* Every way, in order. */
static size_t all_ways(struct row *row, struct way *ways)
{
    size_t found = 0;

    for (uint32_t number = 0; number < WAYS; number++) {
        struct way way = {0};
        uint32_t rest = number;
        bool may_be = true;
        for (size_t i = 0; i < STEPS; i++, rest /= CANDIDATES) {
            way.taken[i] = rest % CANDIDATES;
            if (i >= row->steps) {
                may_be = may_be && way.taken[i] == 0;
                continue;
            }
            const int64_t cost =
                price(row, i, i ? way.taken[i - 1] : MUTA_NO_CANDIDATE, way.taken[i]);
            may_be = may_be && way.taken[i] < row->counts[i] && cost != MUTA_FORBIDDEN;
            way.cost += may_be ? cost : 0;
        }
        if (may_be)
            ways[found++] = way;
    }
    qsort(ways, found, sizeof *ways, by_cost);
    return found;
}

static void is_the_best_there_is(void **state)
{
    static struct way ways[WAYS];
    size_t answered = 0;

    (void)state;
    for (uint32_t seed = 0; seed < 2000; seed++) {
        struct row row = row_of(seed);
        const muta_search search = {&row, row.steps, count, price};
        const size_t wanted = 1 + seed % 9;
        muta_answer answers[9];
        muta_arena arena;
        size_t found;
        muta_arena_init(&arena);
        assert_int_equal(muta_search_best(&arena, &search, wanted, answers, &found), MUTA_OK);
        const size_t all = all_ways(&row, ways);
        assert_int_equal(found, all < wanted ? all : wanted);
        for (size_t i = 0; i < found; i++) {
            assert_int_equal(answers[i].cost, ways[i].cost);
            assert_memory_equal(answers[i].taken, ways[i].taken, row.steps * sizeof *ways[i].taken);
        }
        answered += found;
        muta_arena_clear(&arena);
    }
    assert_true(answered > 4000);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(is_the_best_there_is)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
