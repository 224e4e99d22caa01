/* options.c: the common options, one row each. */
#include "cli.h"
#include <errno.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct row {
    const char *name;
    const char *value; /* what it takes, or NULL */
    const char *help;
    size_t offset;
};

#define OPTION(name, value, field, help)                                                           \
    {                                                                                              \
        name, value, help, offsetof(muta_options, field)                                           \
    }

static const struct row rows[] = {
    OPTION("-o", "FILE", output, "write there; .mxl compresses, anything else is plain XML"),
    OPTION("--seed", "N", seed, "the seed of whatever is left to chance (1)"),
    OPTION("--append", NULL, append, "the result as a new section behind the last bar (vary)"),
    OPTION("--beside", NULL, beside, "the result as a part under the one it comes from (vary)"),
    OPTION("--only", NULL, only, "the result alone (vary)"),
    OPTION("--takes", "N", takes, "so many answers, one after another (vary)"),
    OPTION("--no-heading", NULL, no_heading, "a new section gets no heading (vary)"),
    OPTION("--where", "ADDRESS", where, "the passage to study (study)"),
    OPTION("--tune", "ADDRESS", tune, "which line is the tune (study)"),
    OPTION("--bass", "ADDRESS", bass, "which line is the bass (study)"),
    OPTION("--json", NULL, json, "as JSON (study, passes)"),
    OPTION("--schema", "XSD", schema, "refuse to write what does not validate"),
    OPTION("--verbose", NULL, verbose, "tell each warning"),
    OPTION("--quiet", NULL, quiet, "tell only errors"),
    OPTION("--version", NULL, version, "print the version"),
    OPTION("--help", NULL, help, "print how it is used"),
};

static muta_status refuse(muta_diags *diags, const char *what, const char *word)
{
    muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE, "%s %.60s; --help lists the options", what,
                  word);
    return MUTA_E_USAGE;
}

static muta_status set(const struct row *row, const char *value, muta_options *options,
                       muta_diags *diags)
{
    void *const field = (char *)options + row->offset;
    char *end;

    if (!row->value) {
        *(bool *)field = true;
        return MUTA_OK;
    }
    if (strcmp(row->value, "N") != 0) {
        *(const char **)field = value;
        return MUTA_OK;
    }
    errno = 0;
    *(uint64_t *)field = strtoull(value, &end, 10);
    return errno || *end || end == value || *value == '-'
               ? refuse(diags, "a whole number is needed, not", value)
               : MUTA_OK;
}

static const struct row *find(const char *word)
{
    for (size_t i = 0; i < MUTA_LENGTH(rows); i++)
        if (strcmp(rows[i].name, word) == 0)
            return &rows[i];
    return NULL;
}

muta_status muta_options_parse(int count, char *const *arguments, muta_options *options,
                               const char **words, size_t *word_count, muta_diags *diags)
{
    bool only_words = false;

    *options = (muta_options){.seed = 1};
    *word_count = 0;
    for (int i = 0; i < count; i++) {
        const char *const word = arguments[i];
        if (only_words || word[0] != '-' || word[1] == '\0') {
            words[(*word_count)++] = word;
            continue;
        }
        only_words = strcmp(word, "--") == 0;
        if (only_words)
            continue;
        const struct row *const row = find(word);
        if (!row)
            return refuse(diags, "there is no option", word);
        if (row->value && i + 1 == count)
            return refuse(diags, "a value is missing behind", word);
        MUTA_TRY(set(row, row->value ? arguments[++i] : NULL, options, diags));
    }
    return MUTA_OK;
}

void muta_options_print(void)
{
    for (size_t i = 0; i < MUTA_LENGTH(rows); i++)
        printf("  %-12s %-7s %s\n", rows[i].name, rows[i].value ? rows[i].value : "", rows[i].help);
}
