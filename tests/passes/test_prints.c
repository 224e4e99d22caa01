/*
 * test_prints.c FOLDER [write]: what is tried on real scores, as fingerprints. FOLDER/prints.txt
 * names the scores, then holds a line for study and for each chain of FOLDER/chains.txt with four
 * digits for each score: the hash of what comes out and of what is said.
 *
 * The scores are not ours to keep, so the music cannot stand here as in told/. But a change that is
 * to change one thing shows here how many it changed, and where one can look; a change that is to
 * change nothing must change nothing. `prints FOLDER write` takes the new ones over.
 */
#include "support/corpus.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    SCORES = 64,
    SKIPPED = 77 /* what ctest takes for skipped */
};

/* The path of a score below the folders in MUTA_CORPUS; NULL when none has it. Ended with free().
 */
static char *find(const char *name)
{
    char path[4096];
    const char *const folders = getenv("MUTA_CORPUS");
    char *const copy = strdup(folders ? folders : "");
    char *rest = copy;
    char *found = NULL;

    for (char *folder; !found && (folder = strtok_r(rest, ":", &rest));) {
        (void)snprintf(path, sizeof path, "%s/%s", folder, name);
        FILE *const file = fopen(path, "r");
        if (file) {
            (void)fclose(file);
            found = strdup(path);
        }
    }
    free(copy);
    return found;
}

static void print_study(uint64_t *into, const muta_score *score)
{
    muta_study *study = NULL;
    char *text = NULL;

    if (muta_study_new(score, NULL, &study, NULL) == MUTA_OK) {
        if (muta_study_print_json(study, &text) == MUTA_OK)
            *into = corpus_hash(*into, text);
        free(text);
        text = NULL;
        if (muta_study_print(study, &text) == MUTA_OK)
            *into = corpus_hash(*into, text);
        free(text);
    }
    muta_study_free(study);
}

static void print_chain(uint64_t *into, muta_score *score, const char *line)
{
    muta_diags *const diags = muta_diags_new();
    muta_chain *chain = NULL;
    char *bytes = NULL;
    size_t length = 0;
    muta_status status = muta_chain_parse(line, &chain, diags);

    if (status == MUTA_OK)
        status = muta_chain_run(chain, score, 1, NULL, diags);
    if (status == MUTA_OK && muta_score_write_bytes(score, &bytes, &length) == MUTA_OK)
        *into = corpus_hash(*into, bytes);
    for (size_t i = 0; muta_diags_at(diags, i); i++)
        *into = corpus_hash(*into, muta_diags_at(diags, i)->message);
    free(bytes);
    muta_chain_free(chain);
    muta_diags_free(diags);
}

/* Four digits of what comes of a line, "study" or a chain, over a score. */
static void put_print(FILE *to, const char *path, const char *line)
{
    uint64_t made = CORPUS_HASH;
    muta_score *score = NULL;

    if (muta_score_read(path, &score, NULL) == MUTA_OK) {
        if (strcmp(line, "study") == 0)
            print_study(&made, score);
        else
            print_chain(&made, score, line);
    }
    muta_score_free(score);
    (void)fprintf(to, " %04x", (unsigned)((made ^ made >> 32) & 0xffff));
}

/* What stands behind a line's name on the page that was; "" when it is new. */
static const char *old_row(const char *page, const char *line)
{
    const size_t length = strlen(line);

    for (const char *at = page; at; at = strchr(at, '\n'), at += at != NULL)
        if (strncmp(at, line, length) == 0 && at[length] == ':')
            return at + length + 1;
    return "";
}

/* Names the scores whose digits differ. */
static size_t tell(const char *line, const char *now, const char *was, char *const *names,
                   size_t count)
{
    size_t changed = 0;

    for (size_t i = 0; i < count; i++)
        if (strncmp(now + 5 * i, was, 5) == 0) {
            was += 5;
        } else {
            printf("%s: another result over %s\n", line, names[i]);
            was += strlen(was) >= 5 ? 5 : 0;
            changed++;
        }
    return changed;
}

/* A line of the page, and how many of its prints are others than they were. */
static size_t one_line(FILE *to, const char *line, const char *page, char *const *names,
                       char *const *paths, size_t count)
{
    char *row = NULL;
    size_t length;
    FILE *const out = open_memstream(&row, &length);

    for (size_t i = 0; i < count; i++)
        put_print(out, paths[i], line);
    (void)fclose(out);
    (void)fprintf(to, "%s:%s\n", line, row);
    const size_t changed = tell(line, row, old_row(page, line), names, count);
    free(row);
    return changed;
}

/* The scores that the page names, and where they are; how many are not there. */
static size_t find_scores(const char *page, FILE *to, char **names, char **paths, size_t *count)
{
    char *const copy = strdup(page);
    size_t missing = 0;
    char *rest = copy;

    for (char *line; *count < SCORES && (line = strtok_r(rest, "\n", &rest));) {
        if (line[0] == '#')
            (void)fprintf(to, "%s\n", line);
        if (line[0] != '=')
            continue;
        (void)fprintf(to, "%s\n", line);
        names[*count] = strdup(line + 2);
        paths[*count] = find(line + 2);
        missing += !paths[*count];
        *count += 1;
    }
    free(copy);
    return missing;
}

static void write_page(const char *folder, const char *page)
{
    char path[4096];

    (void)snprintf(path, sizeof path, "%s/prints.txt", folder);
    FILE *const to = fopen(path, "w");
    if (to) {
        (void)fputs(page, to);
        (void)fclose(to);
    }
}

int main(int arguments, char **argument)
{
    char *const page = arguments > 1 ? corpus_file(argument[1], "prints.txt") : NULL;
    char *const chains = arguments > 1 ? corpus_file(argument[1], "chains.txt") : NULL;
    char *names[SCORES] = {0};
    char *paths[SCORES] = {0};
    size_t count = 0;
    size_t lines = 1;
    size_t changed = 0;
    char *made = NULL;
    size_t length;

    if (!page || !chains)
        return 1;
    FILE *const to = open_memstream(&made, &length);
    const size_t missing = find_scores(page, to, names, paths, &count);
    if (missing == 0) {
        changed = one_line(to, "study", page, names, paths, count);
        for (char *rest = chains, *line; (line = strtok_r(rest, "\n", &rest));)
            if (line[0] != '#') {
                changed += one_line(to, line, page, names, paths, count);
                lines++;
            }
    }
    (void)fclose(to);
    if (missing == 0 && arguments > 2 && strcmp(argument[2], "write") == 0)
        write_page(argument[1], made);
    for (size_t i = 0; i < count; i++) {
        free(names[i]);
        free(paths[i]);
    }
    free(made);
    free(page);
    free(chains);
    if (missing > 0) {
        printf("skipped: %zu scores are not there\n", missing);
        return SKIPPED;
    }
    printf("%zu results over %zu scores, %zu others than they were\n", lines * count, count,
           changed);
    return changed > 0;
}
