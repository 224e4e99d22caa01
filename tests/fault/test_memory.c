/*
 * test_memory.c: the first, second, third ... allocation fails, until a whole run meets none. Each
 * time the status is right and nothing leaks (which ASan tells).
 */
#include "base/arena.h"
#include "mutanza/mutanza.h"
#include <stdio.h>
#include <stdlib.h>

static muta_status vary(const char *path)
{
    muta_score *score = NULL;
    muta_chain *chain = NULL;
    muta_outcome outcome;
    char *out = NULL;
    size_t length;
    muta_status status = muta_score_read(path, &score, NULL);

    if (status == MUTA_OK)
        status = muta_chain_parse("transpose by=M2 where=*:3-5 | augment by=3/2 | sequence times=2",
                                  &chain, NULL);
    if (status == MUTA_OK)
        status = muta_chain_run(chain, score, 1, &outcome, NULL);
    if (status == MUTA_OK)
        status = muta_score_write_bytes(score, &out, &length);
    free(out);
    muta_chain_free(chain);
    muta_score_free(score);
    return status;
}

int main(int count, char **arguments)
{
    long failing = 0;
    muta_status status = MUTA_E_MEMORY;

    if (count < 2)
        return 1;
    while (status == MUTA_E_MEMORY) {
        muta_arena_fail_after(failing++);
        status = vary(arguments[1]);
    }
    muta_arena_fail_after(-1);
    printf("%ld allocations failed one after another, then the run ends with status %d\n",
           failing - 1, (int)status);
    return status == MUTA_OK && failing > 100 ? 0 : 1;
}
