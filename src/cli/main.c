/* main.c: finds the verb, runs it, says what it had to say. */
#include "cli.h"
#ifdef __GLIBC__
#include <malloc.h>
#endif
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const muta_verb *const verbs[] = {&muta_verb_study, &muta_verb_vary, &muta_verb_passes};

static void print_help(const muta_verb *only)
{
    for (size_t i = 0; i < MUTA_LENGTH(verbs); i++)
        if (!only || verbs[i] == only)
            printf("mutanza %s\n    %s\n", verbs[i]->synopsis, verbs[i]->summary);
    printf("\nOptions:\n");
    muta_options_print(only);
    if (!only || only == &muta_verb_vary)
        printf("\nExample: mutanza vary tune.musicxml transpose by=M2 where=Clarinet:5-8 -o "
               "new.musicxml\n");
}

static const muta_verb *find(const char *name)
{
    for (size_t i = 0; i < MUTA_LENGTH(verbs); i++)
        if (strcmp(verbs[i]->name, name) == 0)
            return verbs[i];
    return NULL;
}

static muta_status run_verb(const muta_verb *verb, muta_verb_call *call)
{
    if (call->options.help) {
        print_help(verb);
        return MUTA_OK;
    }
    if (call->options.version) {
        printf("mutanza %s\n", muta_version());
        return MUTA_OK;
    }
    if (verb)
        return verb->run(call);
    print_help(NULL);
    return MUTA_E_USAGE;
}

/* `help VERB` is `VERB --help`, `help` alone is `--help`. */
static void turn_help(int count, char **arguments)
{
    static char asks[] = "--help";

    if (count < 2 || count > 3 || strcmp(arguments[1], "help") != 0)
        return;
    arguments[1] = count == 3 ? arguments[2] : asks;
    if (count == 3)
        arguments[2] = asks;
}

static muta_status run(int count, char **arguments, const char **words, muta_verb_call *call,
                       const muta_verb **verb)
{
    turn_help(count, arguments);
    const bool named = count > 1 && arguments[1][0] != '-';

    *verb = named ? find(arguments[1]) : NULL;
    if (named && !*verb) {
        muta_diag_add(call->diags, MUTA_ERROR, MUTA_NOWHERE,
                      "there is no verb \"%.60s\"; there are study, vary and passes", arguments[1]);
        return MUTA_E_USAGE;
    }
    call->words = words;
    MUTA_TRY(muta_options_parse(*verb, count - named, arguments + named, &call->options, words,
                                &call->word_count, call->diags));
    return run_verb(*verb, call);
}

/* Which file the messages speak of: the input of the verbs that have one. */
static const char *file_of(const muta_verb *verb, const muta_verb_call *call)
{
    if (verb != &muta_verb_vary || call->word_count == 0)
        return NULL;
    return strcmp(call->words[0], "-") == 0 ? "standard input" : call->words[0];
}

/* What was given back is soon asked for again; the system would have to clear it once more. */
static void keep_memory(void)
{
#ifdef __GLIBC__
    enum {
        KEPT = 256 * 1024 * 1024
    };
    (void)mallopt(M_MMAP_THRESHOLD, KEPT / 8); /* without these it only takes longer */
    (void)mallopt(M_TRIM_THRESHOLD, KEPT);
#endif
}

int main(int count, char **arguments)
{
    muta_verb_call call = {.diags = muta_diags_new()};
    const char **const words = calloc((size_t)count + 1, sizeof *words);
    const muta_verb *verb = NULL;
    muta_status status = MUTA_E_MEMORY;

    keep_memory();
    if (call.diags && words)
        status = run(count, arguments, words, &call, &verb);
    if (fflush(stdout) != 0 && status == MUTA_OK)
        status = MUTA_E_IO;
    if (call.diags) {
        muta_say(call.diags, file_of(verb, &call), &call.options);
        if (status != MUTA_OK && status != MUTA_E_USAGE &&
            muta_diags_count(call.diags, MUTA_ERROR) == 0)
            (void)fprintf(stderr, "mutanza: %s\n",
                          status == MUTA_E_MEMORY  ? "memory ran out"
                          : status == MUTA_E_RANGE ? "a number goes beyond what can be written"
                                                   : "it failed");
    }
    free(words);
    muta_diags_free(call.diags);
    return muta_exit_status(status);
}
