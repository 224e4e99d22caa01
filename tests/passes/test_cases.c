/*
 * test_cases.c: music in the user's language. tests/cases holds one file a pass: a comment with the
 * source, then pass, passage and result, a line each.
 */
#include "support/corpus.h"
#include "support/notation.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static size_t passed;
static size_t failed;

static void run_case(const char *file, const char *pass, const char *from, const char *to)
{
    char got[1024] = "no music";
    muta_chain *chain = NULL;
    muta_diags *const diags = muta_diags_new();
    muta_score *const score = notation_read(from);
    muta_status status = score ? muta_chain_parse(pass, &chain, diags) : MUTA_E_DATA;

    if (status == MUTA_OK)
        status = muta_chain_run(chain, score, 1, NULL, diags);
    /* A result with bar lines, parts or voices says how it is written. */
    if (status == MUTA_OK)
        (strpbrk(to, "|;&") ? notation_print_written : notation_print)(score, got, sizeof got);
    else if (score)
        (void)snprintf(got, sizeof got, "status %d", (int)status);
    const bool good = strcmp(got, to) == 0;
    passed += good;
    failed += !good;
    if (!good)
        printf("%s: %s\n  of  %s\n  is  %s\n  not %s\n", file, pass, from, got, to);
    muta_chain_free(chain);
    muta_score_free(score);
    muta_diags_free(diags);
}

/* Three lines a case; blank lines and comments between. A case without a source is none. */
static void run_file(const char *path)
{
    size_t length;
    char *const text = corpus_bytes(path, &length);
    char *lines[3];
    size_t count = 0;
    bool sourced = false;

    for (char *rest = text, *line; rest && (line = strtok_r(rest, "\n", &rest));) {
        if (line[0] == '#') {
            sourced = true;
            continue;
        }
        lines[count++] = line;
        if (count < 3)
            continue;
        count = 0;
        failed += !sourced;
        if (!sourced)
            printf("%s: %s has no source\n", corpus_name(path), lines[0]);
        sourced = false;
        run_case(corpus_name(path), lines[0], lines[1], lines[2]);
    }
    free(text);
}

int main(int argument_count, char **arguments)
{
    if (argument_count > 1)
        corpus_each(arguments[1], run_file);
    printf("%zu passed, %zu failed\n", passed, failed);
    return failed || passed == 0;
}
