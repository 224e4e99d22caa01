/* study.c: says what an idea holds. */
#include "cli.h"
#include <stdlib.h>

static muta_status print(const muta_verb_call *call, const muta_score *score,
                         const muta_study *study)
{
    char *text;

    MUTA_TRY((call->options.json ? muta_study_print_json : muta_study_print)(study, &text));
    const muta_status status = muta_score_write_text(
        score, call->options.output ? call->options.output : "-", text, call->diags);
    free(text);
    return status;
}

static muta_status run(const muta_verb_call *call)
{
    muta_study_request request = {NULL, call->options.tune, call->options.bass};
    muta_region *where = NULL;
    muta_score *score = NULL;
    muta_study *study = NULL;

    if (call->word_count > 1) {
        muta_diag_add(call->diags, MUTA_ERROR, MUTA_NOWHERE,
                      "study reads one score; \"%.60s\" is one word too many", call->words[1]);
        return MUTA_E_USAGE;
    }
    muta_status status =
        muta_score_read(call->word_count ? call->words[0] : "-", &score, call->diags);
    if (status == MUTA_OK)
        status = muta_read_chords(call, score);
    if (status == MUTA_OK && call->options.where)
        status = muta_study_region(score, call->options.where, &where, call->diags);
    request.where = where;
    if (status == MUTA_OK)
        status = muta_study_new(score, &request, &study, call->diags);
    if (status == MUTA_OK)
        status = print(call, score, study);
    muta_study_free(study);
    muta_region_free(where);
    muta_score_free(score);
    return status;
}

const muta_verb muta_verb_study = {
    .name = "study",
    .synopsis = "study [options] [INPUT]",
    .summary = "says what the idea holds: key, metre, phrases, chords, and its skeleton",
    .run = run,
};
