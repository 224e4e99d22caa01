/* widen.c: scales each interval, about the first tone of each line. */
#include "passes/pass.h"

struct args {
    muta_fraction by;
    int kind;
};

static const muta_param params[] = {
    MUTA_ARG_RATIO(struct args, by, "2", "2 doubles each interval, 1/2 halves it"),
    MUTA_ARG_CHOICE(struct args, kind, "tonal", muta_kinds, "scale semitones, or steps in the key"),
};

/* The product, to the nearest whole number; a half goes away from 0. */
static int64_t scaled(int64_t number, muta_fraction by)
{
    const muta_fraction product = muta_fraction_scale(by, number);
    const int64_t half = product.top < 0 ? -product.bottom / 2 : product.bottom / 2;

    return muta_fraction_is_valid(product) ? (product.top + half) / product.bottom : number;
}

/* In semitones: the alteration that is finer than that goes along. */
static muta_pitch widened(const muta_passage *passage, const muta_tone *tone, muta_pitch from,
                          muta_fraction by)
{
    const int32_t size = muta_pitch_sound(tone->pitch) - muta_pitch_sound(from);
    const int32_t fine = size % MUTA_SEMITONE;
    const int64_t wide = scaled(size / MUTA_SEMITONE, by) * MUTA_SEMITONE + fine;

    return muta_pitch_of_sound(muta_pitch_sound(from) + (int32_t)wide,
                               muta_passage_fifths(passage, tone));
}

/* Moves a tone to where its interval from the first one, so many times as wide, leads. */
static muta_status widen_tone(const muta_call *call, muta_tone *tone, muta_pitch from)
{
    const struct args *args = call->args;
    const int64_t places = scaled(tone->pitch.place - from.place, args->by);

    if (places > 1000 || places < -1000)
        return MUTA_E_RANGE;
    if (args->kind == MUTA_TONAL)
        return muta_passage_move(
            call->out, tone, (muta_interval){from.place + (int32_t)places - tone->pitch.place, 0},
            1, MUTA_TONAL);
    muta_passage_set_pitch(call->out, tone, widened(call->out, tone, from, args->by));
    return MUTA_OK;
}

/* A chord under the tune keeps its shape and goes with it; another is widened tone by tone. */
static muta_status widen_event(const muta_call *call, const muta_event *event, bool *found,
                               muta_pitch *from)
{
    const struct args *args = call->args;
    const muta_texture work = muta_passage_work(call->out);
    const bool is_carried = muta_has_tune_on_top(&work, event);
    const uint32_t top = event->tone + event->tone_count - 1;
    const muta_pitch was = work.tones[top].pitch;

    for (uint32_t i = is_carried ? top : event->tone; i <= top; i++) {
        muta_tone *const tone = &muta_passage_tones(call->out)[i];
        if (tone->is_fixed)
            continue;
        if (!*found)
            *from = tone->pitch;
        *found = true;
        MUTA_TRY(widen_tone(call, tone, *from));
    }
    const muta_pitch is = work.tones[top].pitch;
    const muta_interval by = {is.place - was.place, muta_pitch_sound(is) - muta_pitch_sound(was)};
    for (uint32_t i = event->tone; is_carried && i < top; i++)
        MUTA_TRY(muta_passage_move(call->out, &muta_passage_tones(call->out)[i], by, 1,
                                   (muta_kind)args->kind));
    return MUTA_OK;
}

static muta_status widen_line(const muta_call *call, const muta_line *line)
{
    const muta_texture work = muta_passage_work(call->out);
    muta_pitch from = {0, 0};
    bool found = false;

    for (uint32_t i = line->event; i < line->event + line->event_count; i++)
        if (!muta_goes_along(&work, &work.events[i]) && work.events[i].tone_count > 0)
            MUTA_TRY(widen_event(call, &work.events[i], &found, &from));
    return MUTA_OK;
}

static muta_status run(const muta_call *call)
{
    MUTA_TRY(muta_passage_append(call->out, call->in, MUTA_ZERO, NULL));
    const muta_texture out = muta_passage_work(call->out);
    for (size_t i = 0; i < out.line_count; i++) {
        MUTA_TRY(widen_line(call, &out.lines[i]));
        MUTA_TRY(muta_fold(call, i, 1));
    }
    return muta_follow_all(call);
}

const muta_pass muta_pass_widen = {
    .name = "widen",
    .group = "pitch",
    .summary = "scales each interval about the first tone",
    .keeps = "rhythm, the first tone (up to octaves), and the direction of each interval",
    MUTA_PARAMS(params, struct args),
    .where = MUTA_TUNE_IN_PARALLEL,
    .effect = MUTA_BENDS_TUNE,
    .needs = MUTA_NEEDS_PITCH | MUTA_NEEDS_SHAPE | MUTA_NEEDS_STUDY,
    .run = run,
};
