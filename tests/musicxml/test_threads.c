/*
 * test_threads.c FILE...: two threads say and write what one does, byte for byte. The fixtures are
 * said again until a second thread pays.
 */
#include "musicxml/build.h"
#include "mutanza/mutanza.h"
#include "score/each_part.h"
#include "support/corpus.h"
#include "support/test.h"
#include <stdlib.h>
#include <string.h>

enum {
    TIMES = 8
};

static char **paths;
static int path_count;

static const char *const chains[] = {
    "transpose by=m3",
    "retrograde",
    "augment by=2",
    "mode to=dorian",
    "diminish | sequence times=2",
    /* some parts are written anew, others lose their bars */
    "fragment bars=1 times=2",
    "rotate by=1 where=#3-#9",
};

/* What comes of a chain, and what is said of it: a line for each message, then the score. */
struct outcome {
    muta_status status;
    muta_diags *diags;
    char *bytes;
    size_t length;
};

static struct outcome run(const char *xml, const char *line, bool alone)
{
    struct outcome outcome = {.diags = muta_diags_new()};
    muta_score *score = NULL;
    muta_chain *chain = NULL;

    assert_int_equal(muta_score_read_bytes(xml, strlen(xml), &score, outcome.diags), MUTA_OK);
    assert_non_null(score->tree.crew);
    if (alone) {
        muta_crew_free(score->tree.crew);
        score->tree.crew = NULL;
    }
    assert_int_equal(muta_chain_parse(line, &chain, NULL), MUTA_OK);
    outcome.status = muta_chain_run(chain, score, 1, NULL, outcome.diags);
    if (outcome.status == MUTA_OK)
        assert_int_equal(muta_score_write_bytes(score, &outcome.bytes, &outcome.length), MUTA_OK);
    muta_chain_free(chain);
    muta_score_free(score);
    return outcome;
}

static void assert_same(const struct outcome *a, const struct outcome *b)
{
    const size_t count = muta_diags_count(a->diags, MUTA_WARNING);

    assert_int_equal(a->status, b->status);
    assert_int_equal(a->length, b->length);
    if (a->length > 0)
        assert_memory_equal(a->bytes, b->bytes, a->length);
    assert_int_equal(count, muta_diags_count(b->diags, MUTA_WARNING));
    for (size_t i = 0; muta_diags_at(a->diags, i); i++)
        assert_string_equal(muta_diags_at(a->diags, i)->message,
                            muta_diags_at(b->diags, i)->message);
}

static void free_outcome(struct outcome *outcome)
{
    free(outcome->bytes);
    muta_diags_free(outcome->diags);
}

static void two_threads_write_what_one_does(void **state)
{
    size_t written = 0;

    (void)state;
    for (int i = 0; i < path_count; i++) {
        size_t length;
        char *const xml = corpus_xml(paths[i], &length);
        assert_non_null(xml);
        char *const large = corpus_grown(xml, length, TIMES);
        for (size_t j = 0; j < sizeof chains / sizeof chains[0]; j++) {
            struct outcome two = run(large, chains[j], false);
            struct outcome one = run(large, chains[j], true);
            assert_same(&two, &one);
            written += one.length > 0;
            free_outcome(&two);
            free_outcome(&one);
        }
        free(large);
        free(xml);
    }
    assert_int_equal(written, (size_t)path_count * (sizeof chains / sizeof chains[0]));
}

/* What one part's work refuses is refused once, by the first part in the order of the score. */
static muta_status refuse_some(muta_score *score, uint32_t part, void *context, muta_diags *diags)
{
    const uint32_t *const first = context;

    (void)score;
    muta_diag_add(diags, MUTA_WARNING, MUTA_NOWHERE, "%u", (unsigned)part);
    return part == *first ? MUTA_E_DATA : part > *first ? MUTA_E_RANGE : MUTA_OK;
}

static void the_first_refusal_counts(void **state)
{
    size_t length;
    char *const xml = corpus_xml(paths[0], &length);
    char *const large = corpus_grown(xml, length, TIMES);

    (void)state;
    for (uint32_t first = 0; first < 3; first++) {
        muta_score *score = NULL;
        muta_diags *const diags = muta_diags_new();
        assert_int_equal(muta_score_read_bytes(large, strlen(large), &score, NULL), MUTA_OK);
        assert_true(first < score->part_count);
        assert_int_equal(muta_each_part(score, refuse_some, &first, diags), MUTA_E_DATA);
        assert_int_equal(muta_diags_count(diags, MUTA_WARNING), first + 1);
        for (uint32_t part = 0; part <= first; part++) {
            const char said[] = {(char)('0' + part), '\0'};
            assert_string_equal(muta_diags_at(diags, part)->message, said);
        }
        muta_diags_free(diags);
        muta_score_free(score);
    }
    free(large);
    free(xml);
}

int main(int count, char **arguments)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(two_threads_write_what_one_does),
        cmocka_unit_test(the_first_refusal_counts),
    };

    paths = arguments + 1;
    path_count = count - 1;
    return cmocka_run_group_tests(tests, NULL, NULL);
}
