/*
 * vary.c: a target for libFuzzer. The first three bytes pick one or two passes and the place of the
 * result, the rest is a score. Whatever comes in, the program ends in time with a status that a
 * person could be told, and what it writes it can read.
 */
#include "mutanza/mutanza.h"
#include <stdio.h>
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

enum {
    HEAD = 3
};

static void write_and_read(const muta_score *score)
{
    muta_score *again = NULL;
    char *out;
    size_t length;

    if (muta_score_write_bytes(score, &out, &length) != MUTA_OK)
        abort();
    if (muta_score_read_bytes(out, length, &again, NULL) != MUTA_OK)
        abort();
    muta_score_free(again);
    free(out);
}

static muta_status vary(muta_score *score, const uint8_t *head)
{
    static const muta_place_of_result places[] = {MUTA_IN_PLACE, MUTA_APPEND, MUTA_ONLY,
                                                  MUTA_BESIDE};
    const size_t passes = muta_pass_count();
    const muta_setting setting = {.seed = 1, .takes = 1, .to = places[head[2] % 4]};
    const size_t second = head[1] % (2 * passes);
    muta_chain *chain;
    char line[96];

    if (second < passes)
        (void)snprintf(line, sizeof line, "%s | %s", muta_pass_at(head[0] % passes)->name,
                       muta_pass_at(second)->name);
    else
        (void)snprintf(line, sizeof line, "%s", muta_pass_at(head[0] % passes)->name);
    if (muta_chain_parse(line, &chain, NULL) != MUTA_OK)
        abort();
    const muta_status status = muta_chain_run_as(chain, score, &setting, NULL, NULL);
    muta_chain_free(chain);
    if (status != MUTA_OK && status != MUTA_E_DATA && status != MUTA_E_RANGE)
        abort();
    return status;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    muta_score *score = NULL;

    if (size < HEAD ||
        muta_score_read_bytes((const char *)data + HEAD, size - HEAD, &score, NULL) != MUTA_OK)
        return 0;
    if (vary(score, data) == MUTA_OK)
        write_and_read(score);
    muta_score_free(score);
    return 0;
}
