/*
 * test_readings.c: what study reads in music that a person can read. tests/readings holds blocks: a
 * comment with the source, a line of music, the page that study makes of it.
 */
#include "support/corpus.h"
#include "support/notation.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static size_t passed;
static size_t failed;

/* The page of a score. Ended with free(). */
static char *page_of(const char *line)
{
    muta_score *const score = notation_read(line);
    muta_study *study = NULL;
    char *text = NULL;

    if (!score || muta_study_new(score, NULL, &study, NULL) != MUTA_OK ||
        muta_study_print(study, &text) != MUTA_OK)
        text = NULL;
    muta_study_free(study);
    muta_score_free(score);
    return text;
}

static void run_reading(const char *file, const char *line, const char *expected)
{
    char *const page = page_of(line);
    const bool good = page && strcmp(page, expected) == 0;

    passed += good;
    failed += !good;
    if (!good)
        printf("%s: %s\nis\n%snot\n%s", file, line, page ? page : "no page\n", expected);
    free(page);
}

/* A block is a comment, a line and all up to the next comment. */
static void run_file(const char *path)
{
    size_t length;
    char *const text = corpus_bytes(path, &length);

    for (char *block = text; block && *block == '#';) {
        char *const line = strchr(block, '\n') + 1;
        char *const page = strchr(line, '\n') + 1;
        char *const end = strstr(page, "\n#");
        page[-1] = '\0';
        if (end)
            *end = '\0'; /* the blank line's end; the page keeps its own */
        run_reading(corpus_name(path), line, page);
        block = end ? end + 1 : NULL;
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
