/*
 * test_memory.c FILE: the first, second, third ... allocation fails, until a whole run meets none.
 * Each time the status is right and nothing leaks (which ASan tells). Then the same where two
 * threads are at work, now and then one.
 */
#include "base/arena.h"
#include "mutanza/mutanza.h"
#include "support/corpus.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static muta_status vary(const char *xml)
{
    muta_score *score = NULL;
    muta_chain *chain = NULL;
    muta_outcome outcome;
    char *out = NULL;
    size_t length;
    muta_status status = muta_score_read_bytes(xml, strlen(xml), &score, NULL);

    if (status == MUTA_OK)
        status = muta_chain_parse(
            "transpose by=M2 where=*:#3-#5 | augment by=3/2 | sequence times=2", &chain, NULL);
    if (status == MUTA_OK)
        status = muta_chain_run(chain, score, 1, &outcome, NULL);
    if (status == MUTA_OK)
        status = muta_score_write_bytes(score, &out, &length);
    free(out);
    muta_chain_free(chain);
    muta_score_free(score);
    return status;
}

/* Whether a run that meets no failure comes in the end, and all before say what failed. */
static bool fails_well(const char *xml, long step)
{
    long failing = 0;
    long runs = 0;
    muta_status status = MUTA_E_MEMORY;

    for (; status == MUTA_E_MEMORY; failing += step, runs++) {
        muta_arena_fail_after(failing);
        status = vary(xml);
    }
    muta_arena_fail_after(-1);
    printf("%ld allocations failed in as many runs, the next ends with status %d\n", runs - 1,
           (int)status);
    return status == MUTA_OK && runs > 100;
}

int main(int count, char **arguments)
{
    enum {
        TIMES = 8,
        STEP = 7
    };
    size_t length;
    char *const xml = count < 2 ? NULL : corpus_xml(arguments[1], &length);

    if (!xml)
        return 1;
    char *const large = corpus_grown(xml, length, TIMES);
    const bool is_well = fails_well(xml, 1) && fails_well(large, STEP);
    free(large);
    free(xml);
    return is_well ? 0 : 1;
}
