/* diminish.c: shorter time values. */
#include "passes/pass.h"
#include "score/texture.h"

struct args {
    muta_fraction by;
    int tempo;
};

static const muta_param params[] = {
    MUTA_ARG_RATIO(struct args, by, "2", "how many times as short"),
    MUTA_ARG_TEMPO(struct args),
};

static muta_status run(const muta_call *call)
{
    const struct args *args = call->args;

    const muta_fraction by = muta_fraction_divide(muta_fraction_of(1, 1), args->by);

    MUTA_TRY(muta_passage_append(call->out, call->in, MUTA_ZERO, NULL));
    muta_passage_slow(call->out, by, args->tempo);
    return muta_passage_scale(call->out, by);
}

const muta_pass muta_pass_diminish = {
    .name = "diminish",
    .group = "rhythm",
    .summary = "makes all time values shorter",
    .keeps = "pitches, and the proportions of the rhythm",
    MUTA_PARAMS(params, struct args),
    .where = MUTA_EVERYTHING,
    .effect = MUTA_MOVES_TIME | MUTA_CHANGES_LENGTH,
    .run = run,
};
