/* rotate.c: starts the row of tones, or of durations, from another one. */
#include "passes/pass.h"

struct args {
    int64_t by;
    int of;
};

static const muta_param params[] = {
    MUTA_ARG_COUNT(struct args, by, "1", -100000, 100000, "tones",
                   "how many tones on; less than 0 is back"),
    MUTA_ARG_CHOICE(struct args, of, "pitch", muta_ofs, "what is rotated"),
};

static muta_status run(const muta_call *call)
{
    const struct args *args = call->args;

    MUTA_TRY(muta_passage_append(call->out, call->in, MUTA_ZERO, NULL));
    const size_t count = muta_passage_work(call->out).line_count;
    for (size_t i = 0; i < count; i++) {
        if (args->of != MUTA_OF_RHYTHM)
            MUTA_TRY(muta_passage_permute(call->out, i, args->by, false));
        if (args->of != MUTA_OF_PITCH)
            MUTA_TRY(muta_passage_permute_rhythm(call->out, i, args->by, false));
    }
    return MUTA_OK;
}

const muta_pass muta_pass_rotate = {
    .name = "rotate",
    .group = "pitch",
    .summary = "starts the row of tones or durations from another one",
    .keeps = "which tones there are; the rhythm (of=pitch) or the pitches (of=rhythm)",
    MUTA_PARAMS(params, struct args),
    .where = MUTA_TUNE_TOGETHER,
    .needs = MUTA_NEEDS_PITCH | MUTA_NEEDS_SHAPE,
    .effect = MUTA_BENDS_TUNE | MUTA_MOVES_TIME,
    .run = run,
};
