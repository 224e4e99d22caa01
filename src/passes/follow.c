/* follow.c: lines that went with the tune in parallel go with it where a pass took it. */
#include "passes/pass.h"
#include "score/texture.h"

enum {
    AN_OCTAVE = 7 /* steps */
};

muta_tone *muta_counterpart(const muta_call *call, const muta_tone *tone)
{
    const muta_texture in = muta_passage_work(call->in);
    const muta_event *const event = &in.events[tone->event];
    const size_t nth = (size_t)(tone - in.tones) - event->tone;

    return &muta_passage_tones(
        call->out)[muta_passage_work(call->out).events[tone->event].tone + nth];
}

bool muta_goes_along(const muta_texture *work, const muta_event *event)
{
    bool goes = false;

    for (uint32_t i = event->tone; i < event->tone + event->tone_count; i++) {
        if (work->tones[i].is_tune)
            return false;
        goes = goes || work->tones[i].is_companion;
    }
    return goes;
}

bool muta_has_tune_on_top(const muta_texture *work, const muta_event *event)
{
    for (uint32_t i = event->tone; i + 1 < event->tone + event->tone_count; i++)
        if (work->tones[i].is_tune || work->tones[i].is_fixed)
            return false;
    return event->tone_count > 1 && work->tones[event->tone + event->tone_count - 1].is_tune;
}

bool muta_is_companion(const muta_texture *work, const muta_line *line)
{
    for (uint32_t i = line->event; i < line->event + line->event_count; i++)
        if (muta_goes_along(work, &work->events[i]))
            return true;
    return false;
}

const muta_tone *muta_tune_at(const muta_texture *work, muta_fraction time)
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

/* A grace note goes with what it stands at. */
static bool goes_along(const muta_texture *work, const muta_line *line, uint32_t event)
{
    const uint32_t end = line->event + line->event_count;

    while (event + 1 < end && work->events[event].is_grace && !work->events[event].is_after)
        event++;
    return muta_goes_along(work, &work->events[event]);
}

/* How far the tune was moved as an event of another line begins; as before where it does not. */
static int32_t steps_at(const muta_call *call, const muta_event *event, int32_t before)
{
    const muta_texture in = muta_passage_work(call->in);
    const muta_tone *const tune = muta_tune_at(&in, event->onset);

    return tune ? muta_counterpart(call, tune)->pitch.place - tune->pitch.place : before;
}

static muta_status move_event(const muta_call *call, const muta_event *event, int32_t steps)
{
    const muta_texture in = muta_passage_work(call->in);

    while (in.tones[event->tone].pitch.place + steps < AN_OCTAVE) /* lower than anybody goes */
        steps += AN_OCTAVE;
    for (uint32_t i = event->tone; i < event->tone + event->tone_count; i++)
        if (in.tones[i].is_companion || event->is_grace)
            MUTA_TRY(muta_passage_move(call->out, muta_counterpart(call, &in.tones[i]),
                                       (muta_interval){steps, 0}, 1, MUTA_TONAL));
    return MUTA_OK;
}

/* Moves a run of events that go along, in the octave that lies nearest to where they were. */
static muta_status move_run(const muta_call *call, uint32_t first, uint32_t end, int32_t before)
{
    const muta_texture in = muta_passage_work(call->in);
    int64_t all = 0;
    int32_t steps = before;

    for (uint32_t i = first; i < end; i++)
        all += steps = steps_at(call, &in.events[i], steps);
    const int32_t back = (int32_t)(all / (end - first) / AN_OCTAVE * AN_OCTAVE);
    steps = before;
    for (uint32_t i = first; i < end; i++) {
        steps = steps_at(call, &in.events[i], steps);
        MUTA_TRY(move_event(call, &in.events[i], steps - back));
    }
    return MUTA_OK;
}

static muta_status follow(const muta_call *call, const muta_line *line)
{
    const muta_texture in = muta_passage_work(call->in);
    const uint32_t end = line->event + line->event_count;
    int32_t steps = 0; /* as the tone before: a grace note has no partner of its own */
    uint32_t next;

    for (uint32_t first = line->event; first < end; first = next) {
        const bool goes = goes_along(&in, line, first);
        for (next = first + 1; next < end && goes_along(&in, line, next) == goes;)
            next++;
        if (goes)
            MUTA_TRY(move_run(call, first, next, steps));
        for (uint32_t i = first; i < next; i++)
            steps = steps_at(call, &in.events[i], steps);
    }
    return MUTA_OK;
}

muta_status muta_follow_all(const muta_call *call)
{
    const muta_texture in = muta_passage_work(call->in);

    for (size_t i = 0; i < in.line_count; i++)
        if (muta_is_companion(&in, &in.lines[i])) {
            MUTA_TRY(follow(call, &in.lines[i]));
            MUTA_TRY(muta_fold(call, i, 1));
        }
    return MUTA_OK;
}
