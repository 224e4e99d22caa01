/* grace.c: a grace note before chosen tones. */
#include "passes/pass.h"
#include "score/sense.h"
#include "score/texture.h"
#include <stdlib.h>

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
    MUTA_ARG_INTERVAL(
        struct args, by, NULL,
        "where it lies from the tone, below with a minus; without it the neighbour in "
        "the scale of the moment, on the side from which the tune comes"),
    MUTA_ARG_CHOICE(struct args, on, "accented", ons,
                    "accented tones, or where none are marked tops on a beat and leaps into a bar; "
                    "staccato ones; the first of a phrase; all"),
};

/* What has a grace note already gets no other; what ends a phrase gets none. */
static bool has_grace(const muta_texture *work, const muta_line *line, uint32_t event)
{
    return event > line->event && work->events[event - 1].is_grace &&
           !work->events[event - 1].is_after;
}

/* How far a tone lies above the one that it comes from, in semitones; 0 where it comes from none.
 */
static int32_t leap_to(const muta_texture *work, const muta_line *line, uint32_t index)
{
    uint32_t before = index;

    while (before > line->event && work->events[before - 1].is_grace)
        before--;
    if (before == line->event || work->events[before - 1].closes)
        return 0;
    return (muta_pitch_sound(muta_texture_top(work, index)->pitch) -
            muta_pitch_sound(muta_texture_top(work, before - 1)->pitch)) /
           MUTA_SEMITONE;
}

/* Whether nothing in a line is marked, so that what it does has to tell. */
static bool is_unmarked(const muta_call *call, const muta_line *line)
{
    for (uint32_t i = line->event; i < line->event + line->event_count; i++)
        if (muta_passage_note(call->in, i)->flags & MUTA_NOTE_ACCENTED)
            return false;
    return true;
}

static bool is_short(const muta_event *event)
{
    return muta_fraction_compare(event->duration, muta_fraction_of(1, 2)) < 0;
}

/* A top on a beat, or a tone to which the tune leaps into a bar. Source: common practice, a
 * grace note sharpens what stands out already. */
static bool stands_out(const muta_call *call, const muta_line *line, uint32_t index)
{
    enum {
        A_THIRD = 3,
        ON_A_BEAT = 2
    };
    const muta_texture work = muta_passage_work(call->in);
    const muta_event *const event = &work.events[index];
    const int32_t leap = leap_to(&work, line, index);
    const bool has_next = index + 1 < line->event + line->event_count;
    const int32_t next = has_next ? leap_to(&work, line, index + 1) : 0;

    /* A short tone of a figure is sharp enough. */
    return event->level <= ON_A_BEAT && !is_short(event) &&
           ((leap > 0 && next < 0) ||
            (abs(leap) >= A_THIRD && muta_passage_is_downbeat(call->in, event->onset)));
}

/* Whether a tone can have one at all. */
static bool can_have(const muta_call *call, const muta_line *line, uint32_t index)
{
    const muta_texture work = muta_passage_work(call->in);
    const muta_event *const event = &work.events[index];

    return muta_texture_is_plain(&work, index) && !has_grace(&work, line, index) &&
           !muta_passage_note(call->in, index)->ornament && !event->written.ornament &&
           !(call->kept && call->kept[index]);
}

static bool is_chosen(const muta_call *call, const muta_line *line, uint32_t index)
{
    const muta_texture work = muta_passage_work(call->in);
    const muta_event *const event = &work.events[index];
    const struct args *args = call->args;
    const uint32_t flags = muta_passage_note(call->in, index)->flags;

    if (!can_have(call, line, index) || (event->closes && args->on != ON_ALL))
        return false;
    switch (args->on) {
    case ON_ACCENTED:
        return (flags & MUTA_NOTE_ACCENTED) ||
               (stands_out(call, line, index) && is_unmarked(call, line));
    case ON_STACCATO:
        return flags & MUTA_NOTE_STACCATO;
    case ON_FIRST:
        return index == line->event || work.events[index - 1].closes;
    default:
        return true;
    }
}

/* In a line in which nothing stands out, its top; MUTA_NO_NOTE where that can have none. */
static uint32_t find_top(const muta_call *call, const muta_line *line)
{
    const muta_texture work = muta_passage_work(call->in);
    const struct args *args = call->args;
    uint32_t top = MUTA_NO_NOTE;

    for (uint32_t i = line->event; i < line->event + line->event_count; i++) {
        if (args->on != ON_ACCENTED || is_chosen(call, line, i))
            return MUTA_NO_NOTE;
        if (can_have(call, line, i) &&
            (top == MUTA_NO_NOTE || muta_pitch_sound(muta_texture_top(&work, i)->pitch) >
                                        muta_pitch_sound(muta_texture_top(&work, top)->pitch)))
            top = i;
    }
    return top;
}

/* No player wants a double sharp for a grace note that has a plainer name. */
static muta_pitch plain(muta_pitch pitch)
{
    if (muta_pitch_sharps(pitch) > 1)
        return muta_pitch_respelled(pitch, 1);
    return muta_pitch_sharps(pitch) < -1 ? muta_pitch_respelled(pitch, -1) : pitch;
}

/* The pitch of the grace note. */
static muta_pitch pitch_before(const muta_call *call, const muta_line *line, uint32_t index)
{
    const muta_texture work = muta_passage_work(call->in);
    const muta_tone *const tone = muta_texture_top(&work, index);
    const struct args *args = call->args;
    const muta_sense sense = muta_sense_at(call->in, tone, work.events[index].onset);

    if (args->by.steps != 0 || args->by.size != 0)
        return plain(muta_pitch_add(tone->pitch, args->by));
    /* What is only said again sharpens nothing. */
    const int32_t leap = leap_to(&work, line, index);
    const int32_t side = leap < 0 ? 1 : -1;
    const muta_pitch near = muta_sense_neighbour(&sense, tone->pitch, side);
    const int32_t away = (muta_pitch_sound(near) - muta_pitch_sound(tone->pitch)) / MUTA_SEMITONE;
    return leap == 0 || away != -leap ? near : muta_sense_neighbour(&sense, tone->pitch, -side);
}

static muta_status put(const muta_call *call, const muta_line *line, uint32_t index, bool sharpens)
{
    const muta_texture work = muta_passage_work(call->in);
    const muta_event *const event = &work.events[index];

    if (sharpens) {
        const muta_piece grace = {
            .onset = event->onset,
            .duration = MUTA_ZERO,
            .pitch = pitch_before(call, line, index),
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
        const uint32_t top = find_top(call, line);
        for (uint32_t j = line->event; j < line->event + line->event_count; j++)
            MUTA_TRY(put(call, line, j, j == top || is_chosen(call, line, j)));
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
