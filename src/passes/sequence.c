/* sequence.c: states the passage again on other steps, exactly (real) or within the key (tonal). */
#include "passes/restate.h"
#include "score/texture.h"

struct args {
    muta_interval by;
    int64_t times;
    int kind;
};

static const muta_param params[] = {
    MUTA_ARG_INTERVAL(struct args, by, "-M2", "how far each statement lies from the one before"),
    MUTA_ARG_COUNT(struct args, times, "3", 2, 64, "statements", "how many, the first included"),
    MUTA_ARG_CHOICE(struct args, kind, "tonal", muta_kinds, "keep the intervals, or the key"),
};

static muta_status run(const muta_call *call)
{
    const struct args *args = call->args;
    const muta_fraction length = muta_passage_length(call->in);
    const muta_fraction round = muta_passage_round(call->in, MUTA_ZERO, length);
    muta_way way;

    MUTA_TRY(muta_way_find(call, args->by, args->times, &way));
    for (int64_t nth = 0; nth < way.times; nth++) {
        const bool is_last = nth + 1 == way.times;
        muta_tones stated;

        MUTA_TRY(muta_passage_append_part(call->out, call->in, MUTA_ZERO,
                                          is_last ? length : muta_fraction_min(round, length),
                                          muta_fraction_scale(round, nth), &stated));
        /* Each is reckoned from the first, so that tones bent to the key do not drift. */
        MUTA_TRY(muta_way_move(call, &way, nth, (muta_kind)args->kind, &stated));
    }
    return MUTA_OK;
}

const muta_pass muta_pass_sequence = {
    .name = "sequence",
    .group = "motif",
    .summary = "states the passage again on other steps",
    .keeps = "rhythm, and the intervals (real) or their steps in the key (tonal)",
    MUTA_PARAMS(params, struct args),
    .where = MUTA_MOTIF,
    .needs = MUTA_NEEDS_PITCH | MUTA_NEEDS_STUDY,
    .effect = MUTA_BENDS_TUNE | MUTA_MOVES_TIME | MUTA_RESTATES | MUTA_CHANGES_LENGTH,
    .run = run,
};
