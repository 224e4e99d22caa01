/* sequence.c: states the passage again on other steps, exactly (real) or within the key (tonal). */
#include "passes/pass.h"

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

    for (int64_t nth = 0; nth < args->times; nth++) {
        const muta_fraction onset = muta_fraction_scale(length, nth);
        muta_tones stated;

        /* Each statement is reckoned from the first, so that tones bent to the key do not drift. */
        if (nth > 0 && !muta_passage_reaches(call->in, args->by, nth)) {
            muta_diag_add(call->diags, MUTA_WARNING, MUTA_NOWHERE,
                          "the sequence stops after %d statements, before it leaves the range",
                          (int)nth);
            return MUTA_OK;
        }
        MUTA_TRY(muta_passage_append(call->out, call->in, onset, &stated));
        for (size_t i = 0; i < stated.count; i++)
            MUTA_TRY(
                muta_passage_move(call->out, &stated.at[i], args->by, nth, (muta_kind)args->kind));
    }
    return MUTA_OK;
}

const muta_pass muta_pass_sequence = {
    .name = "sequence",
    .group = "motif",
    .summary = "states the passage again on other steps",
    .keeps = "rhythm, and the intervals (real) or their steps in the key (tonal)",
    MUTA_PARAMS(params, struct args),
    .where = MUTA_FIRST_BAR,
    .moves_time = true,
    .changes_length = true,
    .run = run,
};
