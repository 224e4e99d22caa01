/* chords.c: writes the chords that study hears as chord symbols. */
#include "passes/pass.h"
#include "score/texture.h"

struct args {
    int numerals;
};

static const muta_param params[] = {
    MUTA_ARG_CHOICE(struct args, numerals, "no", muta_yes_or_no,
                    "roman numerals under the staff too"),
};

static muta_status run(const muta_call *call)
{
    const struct args *args = call->args;

    MUTA_TRY(muta_passage_append(call->out, call->in, MUTA_ZERO, NULL));
    call->out->says |= MUTA_SAYS_SYMBOLS;
    if (args->numerals)
        call->out->says |= MUTA_SAYS_NUMERALS;
    return MUTA_OK;
}

const muta_pass muta_pass_chords = {
    .name = "chords",
    .group = "harmony",
    .summary = "writes the chords that study hears as chord symbols",
    .keeps = "every tone, and the symbols that stand there",
    MUTA_PARAMS(params, struct args),
    .where = MUTA_EVERYTHING,
    .finds_work = true,
    .needs_study = true,
    .keeps_chords = true,
    .run = run,
};
