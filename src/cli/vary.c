/* vary.c: applies passes to a passage and writes the score. */
#include "cli.h"
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* Joins the words; a KEY=VALUE that the shell had unquoted gets its quotes back. */
static muta_status join(const muta_verb_call *call, char **line)
{
    size_t room = 1;

    for (size_t i = 1; i < call->word_count; i++)
        room += strlen(call->words[i]) + 3;
    char *to = calloc(1, room);
    if (!to)
        return MUTA_E_MEMORY;
    *line = to;
    for (size_t i = 1; i < call->word_count; i++) {
        const char *const word = call->words[i];
        const size_t key = strcspn(word, "= \t\n|\"");
        const bool bare =
            word[key] == '=' && strpbrk(word + key, " \t\n|") && !strchr(word + key, '"');
        const int head = bare ? (int)key + 1 : 0;
        to += sprintf(to, "%s%.*s%s%s%s", i > 1 ? " " : "", head, word, bare ? "\"" : "",
                      word + head, bare ? "\"" : "");
    }
    return MUTA_OK;
}

static muta_status get_line(const muta_verb_call *call, char **line)
{
    *line = NULL;
    if (call->word_count < 2)
        return MUTA_OK;
    if (call->word_count == 2 && call->words[1][0] == '@')
        return muta_read_file(call->words[1] + 1, line, call->diags);
    return join(call, line);
}

static void list_parts(const muta_score *score)
{
    const size_t bars = muta_score_bar_count(score);

    for (size_t part = 0; part < muta_score_part_count(score); part++) {
        for (size_t staff = 1; staff <= muta_score_staff_count(score, part); staff++) {
            const size_t voices = muta_score_voice_count(score, part, staff);
            printf("%zu/%zu:%s-%s  %s, %zu voice%s\n", part + 1, staff,
                   muta_score_bar_number(score, 0), muta_score_bar_number(score, bars - 1),
                   muta_score_part_name(score, part), voices, voices == 1 ? "" : "s");
        }
    }
}

static bool ends_in_mxl(const char *path)
{
    const size_t length = strlen(path);

    return length >= 4 && strcmp(path + length - 4, ".mxl") == 0;
}

static muta_status write_score(const muta_verb_call *call, const muta_score *score)
{
    const char *const path = call->options.output ? call->options.output : "-";
    const bool compress =
        strcmp(path, "-") == 0 ? muta_score_is_compressed(score) : ends_in_mxl(path);
    const size_t extra = muta_score_extra_count(score);
    muta_schema *schema = NULL;

    if (!compress && extra > 0)
        muta_diag_add(call->diags, MUTA_WARNING, MUTA_NOWHERE,
                      "plain XML has no room for the %zu other entries of the archive; they are "
                      "left out",
                      extra);
    if (call->options.schema)
        MUTA_TRY(muta_schema_read(call->options.schema, &schema, call->diags));
    const muta_status status = muta_score_write(score, path, compress, schema, call->diags);
    muta_schema_free(schema);
    return status;
}

static muta_status vary(const muta_verb_call *call, const muta_chain *chain, muta_score *score)
{
    muta_outcome outcome;

    if (!chain && !call->options.output && isatty(STDOUT_FILENO)) {
        list_parts(score);
        return MUTA_OK;
    }
    if (chain) {
        const muta_setting setting = {
            .seed = call->options.seed,
            .takes = call->options.takes ? (size_t)call->options.takes : 1,
            .to = call->options.only                            ? MUTA_ONLY
                  : call->options.beside                        ? MUTA_BESIDE
                  : call->options.append || call->options.takes ? MUTA_APPEND
                                                                : MUTA_IN_PLACE,
            .no_heading = call->options.no_heading,
        };
        MUTA_TRY(muta_chain_run_as(chain, score, &setting, &outcome, call->diags));
    }
    MUTA_TRY(write_score(call, score));
    const size_t warnings = muta_diags_count(call->diags, MUTA_WARNING);
    if (chain && !call->options.quiet && warnings == 0)
        (void)fprintf(stderr, "%s\n", outcome.summary);
    else if (chain && !call->options.quiet)
        (void)fprintf(stderr, "%s; %zu warning%s\n", outcome.summary, warnings,
                      warnings == 1 ? "" : "s");
    return MUTA_OK;
}

/* The places for a result exclude each other. */
static muta_status check_options(const muta_verb_call *call)
{
    const muta_options *const options = &call->options;
    const int places = options->append + options->beside + options->only;

    if (places > 1 || (options->takes > 1 && options->beside) ||
        options->takes > MUTA_LIMIT_TAKES) {
        muta_diag_add(call->diags, MUTA_ERROR, MUTA_NOWHERE,
                      options->takes > MUTA_LIMIT_TAKES
                          ? "at most 100 takes"
                          : "--append, --beside and --only exclude each other, "
                            "and several --takes cannot sound beside");
        return MUTA_E_USAGE;
    }
    return MUTA_OK;
}

static muta_status run(const muta_verb_call *call)
{
    char *line;
    muta_chain *chain = NULL;
    muta_score *score = NULL;

    if (call->options.json) {
        muta_diag_add(call->diags, MUTA_ERROR, MUTA_NOWHERE,
                      "vary writes a score; --json is for study and passes");
        return MUTA_E_USAGE;
    }
    MUTA_TRY(check_options(call));
    MUTA_TRY(get_line(call, &line));
    muta_status status = line ? muta_chain_parse(line, &chain, call->diags) : MUTA_OK;
    free(line);
    if (status == MUTA_OK && chain && !call->options.output && isatty(STDOUT_FILENO)) {
        muta_diag_add(call->diags, MUTA_ERROR, MUTA_NOWHERE,
                      "a score is nothing for a terminal; say where it goes with -o FILE");
        status = MUTA_E_USAGE;
    }
    if (status == MUTA_OK)
        status = muta_score_read(call->word_count ? call->words[0] : "-", &score, call->diags);
    if (status == MUTA_OK)
        status = muta_read_chords(call, score);
    if (status == MUTA_OK)
        status = vary(call, chain, score);
    muta_score_free(score);
    muta_chain_free(chain);
    return status;
}

const muta_verb muta_verb_vary = {
    .name = "vary",
    .synopsis = "vary [options] [INPUT] [PASSES]",
    .summary = "applies passes to a passage and writes the score",
    .run = run,
};
