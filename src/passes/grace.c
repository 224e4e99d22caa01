/* grace.c: a grace note before chosen tones. */
#include "passes/pass.h"
#include "score/texture.h"

enum {
    ON_ACCENTED,
    ON_STACCATO,
    ON_FIRST,
    ON_ALL
};

static const char *const ons[] = {"accented", "staccato", "first", "all", NULL};

struct args {
    muta_interval by;
    int on;
};

static const muta_param params[] = {
    MUTA_ARG_INTERVAL(struct args, by, "-m2", "where it lies from the tone; below with a minus"),
    MUTA_ARG_CHOICE(struct args, on, "accented", ons,
                    "down-beats and accented tones; staccato ones; the first of a phrase; all"),
};

/* What has a grace note already gets no other; what ends a phrase gets none. */
static bool has_grace(const muta_texture *work, const muta_line *line, uint32_t event)
{
    return event > line->event && work->events[event - 1].is_grace &&
           !work->events[event - 1].is_after;
}

static bool is_chosen(const muta_call *call, const muta_line *line, uint32_t index)
{
    const muta_texture work = muta_passage_work(call->in);
    const muta_event *const event = &work.events[index];
    const struct args *args = call->args;
    const uint32_t flags = muta_passage_note(call->in, index)->flags;

    if (!muta_texture_is_plain(&work, index) || has_grace(&work, line, index) ||
        muta_passage_note(call->in, index)->ornament || event->written.ornament ||
        (event->closes && args->on != ON_ALL) || (call->kept && call->kept[index]))
        return false;
    switch (args->on) {
    case ON_ACCENTED:
        return (flags & MUTA_NOTE_ACCENTED) || muta_passage_is_downbeat(call->in, event->onset);
    case ON_STACCATO:
        return flags & MUTA_NOTE_STACCATO;
    case ON_FIRST:
        return index == line->event || work.events[index - 1].closes;
    default:
        return true;
    }
}

/* No player wants a double sharp for a grace note that has a plainer name. */
static muta_pitch plain(muta_pitch pitch)
{
    if (muta_pitch_sharps(pitch) > 1)
        return muta_pitch_respelled(pitch, 1);
    return muta_pitch_sharps(pitch) < -1 ? muta_pitch_respelled(pitch, -1) : pitch;
}

static muta_status put(const muta_call *call, const muta_line *line, uint32_t index)
{
    const muta_texture work = muta_passage_work(call->in);
    const muta_event *const event = &work.events[index];
    const struct args *args = call->args;
    const muta_tone *const tone = muta_texture_top(&work, index);

    if (is_chosen(call, line, index)) {
        const muta_piece grace = {
            .onset = event->onset,
            .duration = MUTA_ZERO,
            .pitch = plain(muta_pitch_add(tone->pitch, args->by)),
            .grace = MUTA_GRACE_SHORT,
        };
        MUTA_TRY(muta_passage_put_pieces(call->out, call->in, index, &grace, 1));
    }
    return muta_passage_put_event(call->out, call->in, index, event->onset, event->duration);
}

static muta_status run(const muta_call *call)
{
    const muta_texture work = muta_passage_work(call->in);

    MUTA_TRY(muta_passage_begin(call->out, call->in));
    for (size_t i = 0; i < work.line_count; i++) {
        const muta_line *const line = &work.lines[i];
        MUTA_TRY(muta_passage_begin_line(call->out, call->in, i));
        for (uint32_t j = line->event; j < line->event + line->event_count; j++)
            MUTA_TRY(put(call, line, j));
    }
    return MUTA_OK;
}

const muta_pass muta_pass_grace = {
    .name = "grace",
    .group = "melody",
    .summary = "grace notes before chosen tones",
    .keeps = "every tone where it was",
    MUTA_PARAMS(params, struct args),
    .where = MUTA_TUNE,
    .needs = MUTA_NEEDS_PITCH | MUTA_NEEDS_STUDY,
    .effect = MUTA_KEEPS_CHORDS | MUTA_DIVIDES_TONES,
    .answer = MUTA_MAY_FIND_NOTHING,
    .run = run,
};
