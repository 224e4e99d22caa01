/* chords.c: writes the chords that study hears as chord symbols. */
#include "passes/alone.h"
#include "passes/pass.h"
#include "score/texture.h"
#include "study/study.h"

struct args {
    int numerals;
};

static const muta_param params[] = {
    MUTA_ARG_CHOICE(struct args, numerals, "no", muta_yes_or_no,
                    "roman numerals under the staff too"),
};

/* Whether anything but the tune begins before a moment. */
static bool is_accompanied(const muta_texture *work, muta_fraction until)
{
    for (size_t i = 0; i < work->tone_count; i++)
        if (!work->tones[i].is_tune && !work->tones[i].is_fixed &&
            muta_fraction_compare(work->events[work->tones[i].event].onset, until) < 0)
            return true;
    return false;
}

/* A pick-up that the tune sings alone has no chord of its own, where there is an accompaniment. */
static bool is_of_pickup(const muta_call *call, const muta_passage_chord *chord)
{
    const muta_texture work = muta_passage_work(call->in);
    muta_beat beat;

    muta_passage_beat_at(call->in, MUTA_ZERO, &beat);
    return beat.is_pickup && !chord->is_written &&
           muta_fraction_compare(chord->to, beat.end) <= 0 && !is_accompanied(&work, beat.end) &&
           is_accompanied(&work, muta_passage_length(call->in));
}

/* The chords as they are said: their degrees are those of the keys that they are in now. */
static muta_status take_chords(const muta_call *call)
{
    muta_passage_chord *chords;
    size_t count;
    size_t first = 0;

    MUTA_TRY(muta_list_or_set_chords(call, &call->out->arena, &chords, &count));
    while (first < count && is_of_pickup(call, &chords[first]))
        first++;
    for (size_t i = first; i < count; i++)
        muta_numeral_set(&chords[i]);
    return muta_passage_set_chords(call->out, chords + first, count - first);
}

static muta_status run(const muta_call *call)
{
    const struct args *args = call->args;

    MUTA_TRY(muta_passage_append(call->out, call->in, MUTA_ZERO, NULL));
    MUTA_TRY(take_chords(call));
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
    .needs = MUTA_NEEDS_PITCH | MUTA_NEEDS_STUDY,
    .effect = MUTA_KEEPS_CHORDS,
    .answer = MUTA_MAY_FIND_NOTHING,
    .run = run,
};
