/* cli.h: verbs, options, and what they say to a person. */
#ifndef CLI_CLI_H
#define CLI_CLI_H

#include "mutanza/mutanza.h"

typedef struct muta_options {
    const char *output; /* -o; NULL for standard output */
    const char *schema;
    const char *chords; /* a person's own reading, a file */
    const char *where;  /* addresses, for study */
    const char *tune;
    const char *bass;
    uint64_t seed;
    bool json;
    bool append; /* where the result goes */
    bool beside;
    bool only;
    bool no_heading;
    uint64_t takes; /* 0 when not given */
    bool verbose;
    bool quiet;
    bool help;
    bool version;
} muta_options;

typedef struct muta_verb_call {
    muta_options options;
    const char *const *words; /* behind the verb, without options */
    size_t word_count;
    muta_diags *diags;
} muta_verb_call;

typedef struct muta_verb {
    const char *name;
    const char *synopsis;
    const char *summary;
    muta_status (*run)(const muta_verb_call *call);
} muta_verb;

extern const muta_verb muta_verb_study;
extern const muta_verb muta_verb_vary;
extern const muta_verb muta_verb_passes;

/*
 * Sorts the words behind the verb (NULL: there is none) into options that it takes and others;
 * `arguments` begins with the verb, and `words` has room for all.
 */
muta_status muta_options_parse(const muta_verb *verb, int count, char **arguments,
                               muta_options *options, const char **words, size_t *word_count,
                               muta_diags *diags) MUTA_CHECK;
/* Prints the options that a verb takes, or all, a line each. */
void muta_options_print(const muta_verb *verb);
/* Reads a small text file. @param text  [out] the caller's, free() it */
muta_status muta_read_file(const char *path, char **text, muta_diags *diags) MUTA_CHECK;
/* Takes the reading of --chords, if there is one. */
muta_status muta_read_chords(const muta_verb_call *call, muta_score *score) MUTA_CHECK;
/* Prints what was said: errors, and warnings, alike ones together unless --verbose. */
void muta_say(const muta_diags *diags, const char *file, const muta_options *options);
/* The exit status that stands for a status (interface: 0, 64, 65, 66, 70, 73, 74). */
int muta_exit_status(muta_status status);

#endif
