/* transpose.c: moves everything by an interval, or to a key. */
#include "passes/pass.h"

struct args {
    muta_interval by;
    muta_given_key to;
    int kind;
};

static const muta_param params[] = {
    MUTA_ARG_INTERVAL(struct args, by, "P4", "how far, and down with a minus before it"),
    MUTA_ARG_KEY_INSTEAD(struct args, to, by,
                         "the key to go to, tonic to tonic the nearest way; the mode stays"),
    MUTA_ARG_CHOICE(struct args, kind, "real", muta_kinds,
                    "keep the intervals (real), or stay in the key (tonal: the number counts)"),
};

/* Without a signature the passage counts as C major. */
static muta_interval interval(const muta_call *call)
{
    const struct args *args = call->args;
    muta_key from = {0, MUTA_MAJOR};

    if (!args->to.is_given)
        return args->by;
    (void)muta_passage_key(call->in, &from);
    return muta_key_between(from, args->to.key);
}

/* To a key: from the tonic that is heard. */
static bool needs_mode(const void *args)
{
    return ((const struct args *)args)->to.is_given;
}

static muta_status run(const muta_call *call)
{
    const struct args *args = call->args;
    const muta_interval by = interval(call);
    muta_tones moved;

    if (args->kind == MUTA_TONAL && args->to.is_given) {
        muta_diag_add(call->diags, MUTA_ERROR, MUTA_NOWHERE,
                      "the tonal kind stays in its key; to= takes kind=real");
        return MUTA_E_USAGE;
    }
    MUTA_TRY(muta_passage_append(call->out, call->in, MUTA_ZERO, &moved));
    for (size_t i = 0; i < moved.count; i++)
        MUTA_TRY(muta_passage_move(call->out, &moved.at[i], by, 1, (muta_kind)args->kind));
    return args->kind == MUTA_TONAL
               ? MUTA_OK
               : muta_passage_move_keys(call->out, by, call->keys, call->diags);
}

const muta_pass muta_pass_transpose = {
    .name = "transpose",
    .group = "pitch",
    .summary = "moves by an interval or to a key",
    .keeps = "rhythm, contour, layout; percussion stays where it is",
    MUTA_PARAMS(params, struct args),
    .needs = MUTA_NEEDS_PITCH,
    .effect = MUTA_MOVES_KEYS,
    .needs_mode = needs_mode,
    .run = run,
};
