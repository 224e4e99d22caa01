/*
 * test_threads.c FILE FILE: two callers, each in a thread of its own with a score of its own, read,
 * vary, study and write it at one time; what comes out is what came out one after the other.
 */
#include "mutanza/mutanza.h"
#include "support/corpus.h"
#include "support/test.h"
#include <pthread.h>
#include <stdlib.h>
#include <string.h>

static char **paths;
static int path_count;

static const char *const chains[] = {
    "transpose by=m3", "augment by=2 | retrograde",        "mode to=dorian",
    "embellish",       "diminish | sequence times=2",      "reharmonise",
    "divide",          "fragment bars=1 times=2 | invert",
};

/* What a caller has, and what comes of it: the bytes written behind one another. */
struct caller {
    char *xml;
    size_t length;
    char *bytes[MUTA_LENGTH(chains)];
    size_t lengths[MUTA_LENGTH(chains)];
    muta_status status;
};

static muta_status vary(struct caller *caller, size_t nth)
{
    muta_score *score = NULL;
    muta_chain *chain = NULL;

    muta_status status = muta_score_read_bytes(caller->xml, caller->length, &score, NULL);
    if (status == MUTA_OK)
        status = muta_chain_parse(chains[nth], &chain, NULL);
    if (status == MUTA_OK)
        status = muta_chain_run(chain, score, 1, NULL, NULL);
    if (status == MUTA_OK)
        status = muta_score_write_bytes(score, &caller->bytes[nth], &caller->lengths[nth]);
    muta_chain_free(chain);
    muta_score_free(score);
    return status;
}

static void *work(void *of)
{
    struct caller *const caller = of;

    for (size_t i = 0; i < MUTA_LENGTH(chains) && caller->status == MUTA_OK; i++)
        caller->status = vary(caller, i);
    return NULL;
}

static void assert_same(const struct caller *one, const struct caller *other)
{
    assert_int_equal(one->status, MUTA_OK);
    assert_int_equal(other->status, MUTA_OK);
    for (size_t i = 0; i < MUTA_LENGTH(chains); i++) {
        assert_int_equal(one->lengths[i], other->lengths[i]);
        assert_memory_equal(one->bytes[i], other->bytes[i], one->lengths[i]);
    }
}

static void free_outcome(struct caller *caller)
{
    for (size_t i = 0; i < MUTA_LENGTH(chains); i++)
        free(caller->bytes[i]);
}

/* The two together come first: what is made once in a program is then made by both. */
static void two_callers_do_not_meet(void **state)
{
    struct caller together[2] = {{.status = MUTA_OK}};
    struct caller alone[2];
    pthread_t threads[2];

    (void)state;
    assert_int_equal(path_count, 2);
    for (size_t i = 0; i < 2; i++) {
        together[i].xml = corpus_xml(paths[i], &together[i].length);
        assert_non_null(together[i].xml);
        alone[i] = together[i];
    }
    for (size_t i = 0; i < 2; i++)
        assert_int_equal(pthread_create(&threads[i], NULL, work, &together[i]), 0);
    for (size_t i = 0; i < 2; i++)
        assert_int_equal(pthread_join(threads[i], NULL), 0);
    for (size_t i = 0; i < 2; i++) {
        (void)work(&alone[i]);
        assert_same(&together[i], &alone[i]);
        free_outcome(&together[i]);
        free_outcome(&alone[i]);
        free(alone[i].xml);
    }
}

int main(int count, char **arguments)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(two_callers_do_not_meet),
    };

    paths = arguments + 1;
    path_count = count - 1;
    return cmocka_run_group_tests(tests, NULL, NULL);
}
