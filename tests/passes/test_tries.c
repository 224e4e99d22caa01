/*
 * test_tries.c FOLDER [write]: what is tried on tunes of all textures, written down. FOLDER holds
 * tunes.txt, chains.txt, and in told/ a page for each tune: what study says of it, then each chain
 * with what comes of it and what is said.
 *
 * The pages hold what the program does, not what is right: the cases say that. A price that is
 * changed, a sign turned round, shows here in notes that can be read. Where the new ones are
 * better, `tries FOLDER write` takes them over, and the difference is read like any other change.
 */
#include "support/corpus.h"
#include "support/notation.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    ROOM = 1 << 14
};

static size_t passed;
static size_t failed;

static void put_study(FILE *to, const char *tune)
{
    muta_score *const score = notation_read(tune);
    muta_study *study = NULL;
    char *page = NULL;

    if (score && muta_study_new(score, NULL, &study, NULL) == MUTA_OK &&
        muta_study_print(study, &page) == MUTA_OK)
        (void)fputs(page, to);
    free(page);
    muta_study_free(study);
    muta_score_free(score);
}

static void put_try(FILE *to, const char *tune, const char *line)
{
    static char text[ROOM];
    muta_diags *const diags = muta_diags_new();
    muta_score *const score = notation_read(tune);
    muta_chain *chain = NULL;
    muta_status status = score ? muta_chain_parse(line, &chain, diags) : MUTA_E_DATA;

    if (status == MUTA_OK)
        status = muta_chain_run(chain, score, 1, NULL, diags);
    (void)fprintf(to, "\n%s\n", line);
    if (status == MUTA_OK)
        (void)fprintf(to, "%s\n", notation_print_written(score, text, sizeof text));
    for (size_t i = 0; muta_diags_at(diags, i); i++)
        (void)fprintf(to, "! %s\n", muta_diags_at(diags, i)->message);
    muta_chain_free(chain);
    muta_score_free(score);
    muta_diags_free(diags);
}

/* The page of a tune. Ended with free(). */
static char *make_page(const char *tune, const char *chains)
{
    char *page = NULL;
    size_t length;
    FILE *const to = open_memstream(&page, &length);
    char *const copy = strdup(chains);

    (void)fprintf(to, "%s\n\n", tune);
    put_study(to, tune);
    for (char *rest = copy, *line; (line = strtok_r(rest, "\n", &rest));)
        if (line[0] != '#')
            put_try(to, tune, line);
    (void)fclose(to);
    free(copy);
    return page;
}

/* Says where two pages part. */
static void tell(const char *name, const char *is, const char *was)
{
    size_t line = 1;

    while (*is && *is == *was) {
        line += *is == '\n';
        is++;
        was++;
    }
    printf("told/%s.txt:%zu: now %.60s\n  it was %.60s\n", name, line, is, was);
}

static void hold_against(const char *folder, const char *name, const char *page, bool writes)
{
    char file[256];
    char path[4096];

    (void)snprintf(file, sizeof file, "told/%s.txt", name);
    (void)snprintf(path, sizeof path, "%s/%s", folder, file);
    if (writes) {
        FILE *const to = fopen(path, "w");
        if (to) {
            (void)fputs(page, to);
            (void)fclose(to);
        }
    }
    char *const was = corpus_file(folder, file);
    const bool good = was && strcmp(page, was) == 0;
    passed += good;
    failed += !good;
    if (!good)
        tell(name, page, was ? was : "");
    free(was);
}

int main(int count, char **arguments)
{
    char *const tunes = count > 1 ? corpus_file(arguments[1], "tunes.txt") : NULL;
    char *const chains = count > 1 ? corpus_file(arguments[1], "chains.txt") : NULL;
    const bool writes = count > 2 && strcmp(arguments[2], "write") == 0;

    if (!tunes || !chains)
        return 1;
    for (char *rest = tunes, *name; (name = strtok_r(rest, "\n", &rest));) {
        char *const gap = strchr(name, ' ');
        if (name[0] == '#' || !gap)
            continue;
        *gap = '\0';
        char *const page = make_page(gap + 1, chains);
        hold_against(arguments[1], name, page, writes);
        free(page);
    }
    free(tunes);
    free(chains);
    printf("%zu passed, %zu failed\n", passed, failed);
    return failed || passed == 0;
}
