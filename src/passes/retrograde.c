/* retrograde.c: backwards: all of it, or only its pitches, or only its rhythm. */
#include "passes/pass.h"

struct args {
    int of;
};

static const muta_param params[] = {
    MUTA_ARG_CHOICE(struct args, of, "all", muta_ofs, "what runs backwards"),
};

static muta_status run(const muta_call *call)
{
    const struct args *args = call->args;

    MUTA_TRY(muta_passage_append(call->out, call->in, MUTA_ZERO, NULL));
    if (args->of == MUTA_OF_ALL)
        return muta_passage_mirror(call->out);
    const size_t count = muta_passage_work(call->out).line_count;
    for (size_t i = 0; i < count; i++)
        MUTA_TRY(args->of == MUTA_OF_PITCH ? muta_passage_permute(call->out, i, 0, true)
                                           : muta_passage_permute_rhythm(call->out, i, 0, true));
    return MUTA_OK;
}

const muta_pass muta_pass_retrograde = {
    .name = "retrograde",
    .group = "pitch",
    .summary = "runs backwards, all or only pitches or rhythm",
    .keeps = "each tone's length (of=all), the rhythm (of=pitch), the pitches (of=rhythm)",
    MUTA_PARAMS(params, struct args),
    .where = MUTA_TUNE_TOGETHER,
    .effect = MUTA_BENDS_TUNE | MUTA_MOVES_TIME,
    .run = run,
};
