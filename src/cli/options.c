/* options.c: the options, one row each, and which verbs take them. */
#include "cli.h"
#include <errno.h>
#include <getopt.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* The verbs that take an option; 0 is all of them, and no verb at all. */
enum {
    STUDY = 1,
    VARY = 2,
    PASSES = 4
};

struct row {
    const char *name;
    const char *value; /* what it takes, or NULL */
    const char *help;
    size_t offset;
    unsigned verbs;
    int letter; /* a short form, or 0 */
};

#define OPTION(name, value, field, verbs, help)                                                    \
    {                                                                                              \
        name, value, help, offsetof(muta_options, field), verbs, 0                                 \
    }

static const struct row rows[] = {
    {"output", "FILE", "write there; .mxl compresses, anything else is plain XML",
     offsetof(muta_options, output), 0, 'o'},
    OPTION("seed", "N", seed, VARY, "the seed of whatever is left to chance (1)"),
    OPTION("append", NULL, append, VARY, "the result as a new section behind the last bar"),
    OPTION("beside", NULL, beside, VARY, "the result as a part under the one it comes from"),
    OPTION("only", NULL, only, VARY, "the result alone"),
    OPTION("takes", "N", takes, VARY, "so many answers, one after another"),
    OPTION("no-heading", NULL, no_heading, VARY, "a new section gets no heading"),
    OPTION("where", "ADDRESS", where, STUDY, "the passage to study"),
    OPTION("tune", "ADDRESS", tune, STUDY, "which line is the tune"),
    OPTION("bass", "ADDRESS", bass, STUDY, "which line is the bass"),
    OPTION("chords", "FILE", chords, STUDY | VARY,
           "your own reading of the chords, a line each: 5.3 D7/F#"),
    OPTION("json", NULL, json, STUDY | PASSES, "as JSON"),
    OPTION("schema", "XSD", schema, VARY, "refuse to write what does not validate"),
    OPTION("verbose", NULL, verbose, 0, "tell each warning"),
    OPTION("quiet", NULL, quiet, 0, "tell only errors"),
    OPTION("version", NULL, version, 0, "print the version"),
    {"help", NULL, "print how it is used", offsetof(muta_options, help), 0, 'h'},
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

static unsigned verb_bit(const muta_verb *verb)
{
    return verb == &muta_verb_study    ? STUDY
           : verb == &muta_verb_vary   ? VARY
           : verb == &muta_verb_passes ? PASSES
                                       : 0;
}

static bool takes(const muta_verb *verb, const struct row *row)
{
    return row->verbs == 0 || !verb || (row->verbs & verb_bit(verb));
}

/* The rows as getopt_long wants them; each is known by its index behind the letters. */
enum {
    BEHIND_LETTERS = 256
};

static void list(struct option *options, char *letters)
{
    size_t i = 0;

    letters += sprintf(letters, "-:"); /* words come in order, and what is wrong is ours to tell */
    for (; i < MUTA_LENGTH(rows); i++) {
        options[i] = (struct option){rows[i].name, rows[i].value ? required_argument : no_argument,
                                     NULL, BEHIND_LETTERS + (int)i};
        if (rows[i].letter)
            letters += sprintf(letters, "%c%s", rows[i].letter, rows[i].value ? ":" : "");
    }
    options[i] = (struct option){0};
}

static const struct row *row_of(int found)
{
    for (size_t i = 0; i < MUTA_LENGTH(rows); i++)
        if (found == BEHIND_LETTERS + (int)i || (found && found == rows[i].letter))
            return &rows[i];
    return NULL;
}

static muta_status apply(const muta_verb *verb, int found, const char *word, muta_options *options,
                         muta_diags *diags)
{
    const struct row *const row = row_of(found);

    if (found == ':')
        return refuse(diags, "a value is missing behind", word);
    if (!row)
        return refuse(diags, "there is no option", word);
    if (!takes(verb, row)) {
        muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE,
                      "%s does not take --%s; `mutanza %s --help` lists what it takes%s",
                      verb->name, row->name, verb->name,
                      strcmp(row->name, "where") == 0 ? ", and a pass takes where=ADDRESS" : "");
        return MUTA_E_USAGE;
    }
    return set(row, optarg, options, diags);
}

muta_status muta_options_parse(const muta_verb *verb, int count, char **arguments,
                               muta_options *options, const char **words, size_t *word_count,
                               muta_diags *diags)
{
    struct option known[MUTA_LENGTH(rows) + 1];
    char letters[64];
    int found;

    *options = (muta_options){.seed = 1};
    *word_count = 0;
    list(known, letters);
    opterr = 0;
    optind = 1;
    while ((found = getopt_long(count, arguments, letters, known, NULL)) != -1) {
        if (found == 1)
            words[(*word_count)++] = optarg;
        else
            MUTA_TRY(apply(verb, found, arguments[optind - 1], options, diags));
    }
    while (optind < count) /* behind a `--` all are words */
        words[(*word_count)++] = arguments[optind++];
    return MUTA_OK;
}

void muta_options_print(const muta_verb *verb)
{
    char name[32];

    for (size_t i = 0; i < MUTA_LENGTH(rows); i++) {
        if (!takes(verb, &rows[i]))
            continue;
        if (rows[i].letter == 'o')
            (void)snprintf(name, sizeof name, "-%c", rows[i].letter);
        else
            (void)snprintf(name, sizeof name, "--%s", rows[i].name);
        printf("  %-12s %-7s %s\n", name, rows[i].value ? rows[i].value : "", rows[i].help);
    }
}
