/* follow.c: lines that went with the tune in parallel go with it where a pass took it. */
#include "passes/pass.h"
#include "score/texture.h"

muta_tone *muta_counterpart(const muta_call *call, const muta_tone *tone)
{
    const muta_texture in = muta_passage_work(call->in);
    const muta_event *const event = &in.events[tone->event];
    const size_t nth = (size_t)(tone - in.tones) - event->tone;

    return &muta_passage_tones(
        call->out)[muta_passage_work(call->out).events[tone->event].tone + nth];
}

bool muta_is_companion(const muta_passage *in, const muta_line *line)
{
    const muta_texture work = muta_passage_work(in);

    for (uint32_t i = line->event; i < line->event + line->event_count; i++)
        for (uint32_t j = 0; j < work.events[i].tone_count; j++)
            if (!work.tones[work.events[i].tone + j].is_companion && !work.events[i].is_grace)
                return false;
    return line->event_count > 0;
}

/* The tune's tone that is struck at a moment; NULL when none is. */
static const muta_tone *tune_at(const muta_texture *work, muta_fraction time)
{
    for (size_t i = 0; i < work->line_count; i++) {
        const muta_line *const line = &work->lines[i];
        const uint32_t end = line->event + line->event_count;
        for (uint32_t j = muta_line_first_from(work->events, line, time);
             j < end && muta_fraction_compare(work->events[j].onset, time) == 0; j++) {
            const muta_tone *const top = muta_texture_top(work, j);
            if (top->is_tune && !work->events[j].is_grace)
                return top;
        }
    }
    return NULL;
}

static muta_status follow(const muta_call *call, const muta_line *line)
{
    const muta_texture in = muta_passage_work(call->in);
    int32_t steps = 0; /* as the tone before: a grace note has no partner of its own */

    for (uint32_t i = line->event; i < line->event + line->event_count; i++) {
        const muta_tone *const tune = tune_at(&in, in.events[i].onset);
        if (tune)
            steps = muta_counterpart(call, tune)->pitch.place - tune->pitch.place;
        for (uint32_t j = 0; j < in.events[i].tone_count; j++)
            MUTA_TRY(muta_passage_move(call->out,
                                       muta_counterpart(call, &in.tones[in.events[i].tone + j]),
                                       (muta_interval){steps, 0}, 1, MUTA_TONAL));
    }
    return MUTA_OK;
}

muta_status muta_follow_all(const muta_call *call)
{
    const muta_texture in = muta_passage_work(call->in);

    for (size_t i = 0; i < in.line_count; i++)
        if (muta_is_companion(call->in, &in.lines[i])) {
            MUTA_TRY(follow(call, &in.lines[i]));
            MUTA_TRY(muta_fold(call, i, 1));
        }
    return MUTA_OK;
}
