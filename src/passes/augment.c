/* augment.c: longer time values. */
#include "passes/pass.h"
#include "score/texture.h"

struct args {
    muta_fraction by;
    int tempo;
};

static const muta_param params[] = {
    MUTA_ARG_RATIO(struct args, by, "2", "how many times as long"),
    MUTA_ARG_TEMPO(struct args),
};

static muta_status run(const muta_call *call)
{
    const struct args *args = call->args;

    MUTA_TRY(muta_passage_append(call->out, call->in, MUTA_ZERO, NULL));
    muta_passage_slow(call->out, args->by, args->tempo);
    return muta_passage_scale(call->out, args->by);
}

const muta_pass muta_pass_augment = {
    .name = "augment",
    .group = "rhythm",
    .summary = "makes all time values longer",
    .keeps = "pitches, and the proportions of the rhythm",
    MUTA_PARAMS(params, struct args),
    .where = MUTA_EVERYTHING,
    .effect = MUTA_MOVES_TIME | MUTA_CHANGES_LENGTH,
    .run = run,
};
