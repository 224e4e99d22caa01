/* invert.c: turns the passage over: what rose falls as far. */
#include "passes/pass.h"
#include "score/sense.h"
#include <stdlib.h>

enum {
    FITTING,
    FIRST,
    LAST,
    MIDDLE,
    MEDIANT,
    COMMON
};

static const char *const axes[] = {"fitting", "first", "last", "middle", "mediant", "common", NULL};

struct args {
    muta_axis axis;
    int kind;
};

static const muta_param params[] = {
    MUTA_ARG_AXIS(struct args, axis, "fitting", axes,
                  "the tone that stays: fitting (so that phrases end in their chords), first, "
                  "last, middle, mediant (tonic and dominant change "
                  "places), common (one for all lines), or a pitch"),
    MUTA_ARG_CHOICE(struct args, kind, "tonal", muta_kinds, "keep the intervals, or the key"),
};

/* Of a chord the top; where that was turned over already, what was the top. */
static const muta_tone *top_of(const muta_texture *work, const muta_event *event)
{
    const muta_tone *top = &work->tones[event->tone];

    for (uint32_t i = 1; i < event->tone_count; i++) {
        const muta_tone *const tone = &work->tones[event->tone + i];
        if (event->written.is_inverted ? tone->pitch.place < top->pitch.place
                                       : tone->pitch.place >= top->pitch.place)
            top = tone;
    }
    return top;
}

/* The first or last tone that moves, of some lines; NULL when there is none. */
static const muta_tone *find_tone(const muta_passage *in, const muta_line *lines, size_t count,
                                  bool last)
{
    const muta_texture work = muta_passage_work(in);
    const muta_tone *found = NULL;
    muta_fraction best = MUTA_ZERO;

    for (size_t i = 0; i < count; i++)
        for (uint32_t j = 0; j < lines[i].event_count; j++) {
            const muta_event *const event = &work.events[lines[i].event + j];
            const muta_tone *const top = top_of(&work, event);
            const int order = muta_fraction_compare(event->onset, best);
            if (top->is_fixed || event->is_grace || (found && (last ? order < 0 : order >= 0)))
                continue;
            found = top;
            best = event->onset;
        }
    return found;
}

/* Half-way between the highest and the lowest tone, on the diatonic line. */
static bool find_middle(const muta_passage *in, const muta_line *lines, size_t count,
                        muta_pitch *pitch)
{
    const muta_texture work = muta_passage_work(in);
    muta_pitch low = {INT32_MAX, 0};
    muta_pitch high = {INT32_MIN, 0};

    for (size_t i = 0; i < count; i++)
        for (uint32_t j = 0; j < lines[i].event_count; j++) {
            const muta_event *const event = &work.events[lines[i].event + j];
            for (uint32_t k = 0; k < event->tone_count; k++) {
                const muta_tone *const tone = &work.tones[event->tone + k];
                if (tone->is_fixed)
                    continue;
                low = tone->pitch.place < low.place ? tone->pitch : low;
                high = tone->pitch.place > high.place ? tone->pitch : high;
            }
        }
    if (high.place == INT32_MIN)
        return false;
    *pitch = low;
    while (pitch->place + 1 <= high.place - (pitch->place + 1 - low.place) &&
           pitch->place * 2 < low.place + high.place - 1)
        pitch->place++;
    pitch->alter = 0;
    return true;
}

/* The mediant next to a pitch, in the key that is heard at a tone: about it tonic and dominant
 * change places. */
static muta_pitch find_mediant(const muta_passage *in, const muta_tone *tone, muta_pitch near)
{
    const muta_event *const event = &muta_passage_work(in).events[tone->event];
    const muta_key key = muta_sense_at(in, tone, event->onset).key;
    muta_pitch mediant = muta_key_tonic(key);

    mediant.place += 2;
    mediant.alter = muta_key_sharps(key.fifths, muta_pitch_step(mediant)) * MUTA_SEMITONE;
    while (mediant.place - near.place > 3)
        mediant.place -= 7;
    while (near.place - mediant.place > 3)
        mediant.place += 7;
    return mediant;
}

/* Whether a line or space is that of a tone of the chord; what it was before counts more. */
static int64_t fit_chord(const muta_passage_chord *chord, int32_t place, int32_t was)
{
    const muta_chord_row *const row = muta_chord_row_of(chord->value.kind);
    const int32_t step = muta_pitch_step((muta_pitch){place, 0});

    for (uint8_t i = 0; i < row->count; i++)
        if (muta_pitch_step(muta_fifths_pitch(chord->value.root + row->fifths[i], 4)) == step)
            return step == muta_pitch_step((muta_pitch){was, 0}) ? 3 : 2;
    return 0;
}

/* How well the tones of a line that a listener holds on to go with the chords that stand there,
 * once it is turned: the last above all, those that
 * end phrases, the first, those on down-beats. */
static int64_t fit_line(const muta_passage *in, const muta_line *line, int32_t axis)
{
    enum {
        THE_LAST = 12,
        AN_END = 4,
        THE_FIRST = 4,
        A_BAR = 1
    };
    const muta_texture work = muta_passage_work(in);
    int64_t fit = 0;

    for (uint32_t i = line->event; i < line->event + line->event_count; i++) {
        const muta_event *const event = &work.events[i];
        const muta_tone *const top = top_of(&work, event);
        const int64_t weight = i + 1 == line->event + line->event_count ? THE_LAST
                               : event->closes                          ? AN_END
                               : i == line->event                       ? THE_FIRST
                               : event->level == 0                      ? A_BAR
                                                                        : 0;
        if (weight == 0 || top->is_fixed || event->is_grace)
            continue;
        const muta_sense sense = muta_sense_at(in, top, event->onset);
        if (sense.chord)
            fit += weight * fit_chord(sense.chord, 2 * axis - top->pitch.place, top->pitch.place);
    }
    return fit;
}

/* The axis, nearest to a tone, with which the ends go best with their chords. */
static muta_pitch find_best(const muta_passage *in, const muta_line *lines, size_t count,
                            const muta_tone *tone)
{
    static const int32_t away[] = {0, 1, -1, 2, -2, 3, -3};
    muta_pitch best = tone->pitch;
    int64_t most = -1;

    for (size_t i = 0; i < MUTA_LENGTH(away); i++) {
        const muta_pitch axis = muta_sense_step(
            &(muta_sense){.key = muta_sense_at(in, tone, MUTA_ZERO).key}, tone->pitch, away[i]);
        int64_t fit = 0;
        for (size_t j = 0; j < count; j++)
            fit += fit_line(in, &lines[j], axis.place);
        if (fit > most) {
            most = fit;
            best = axis;
        }
    }
    return best;
}

/* The mediant, about which the tonic's chord stays what it is; where the last tone does not go with
 * its chord then, another. */
static muta_pitch find_fitting(const muta_passage *in, const muta_line *lines, size_t count,
                               const muta_tone *first, const muta_tone *last)
{
    const muta_pitch mediant = find_mediant(in, last, first->pitch);
    const muta_sense end = muta_sense_at(in, last, muta_passage_work(in).events[last->event].onset);
    const bool fits = end.chord && fit_chord(end.chord, 2 * mediant.place - last->pitch.place,
                                             last->pitch.place) > 0;

    return fits ? mediant : find_best(in, lines, count, first);
}

static bool find_axis(const muta_call *call, const muta_line *lines, size_t count, muta_pitch *axis)
{
    const struct args *args = call->args;

    if (args->axis.is_pitch) {
        *axis = args->axis.pitch;
        return true;
    }
    if (args->axis.choice == MIDDLE)
        return find_middle(call->in, lines, count, axis);
    const muta_tone *const tone = find_tone(call->in, lines, count, args->axis.choice == LAST);
    if (!tone)
        return false;
    if (args->axis.choice == MEDIANT)
        *axis = find_mediant(call->in, tone, tone->pitch);
    else if (args->axis.choice == FITTING && args->kind == MUTA_TONAL)
        *axis = find_fitting(call->in, lines, count, tone, find_tone(call->in, lines, count, true));
    else
        *axis = tone->pitch;
    return true;
}

/* Turns the top of a chord, and moves what lies under it as far. */
static muta_status turn_top(const muta_call *call, const muta_event *event, muta_pitch axis)
{
    const struct args *args = call->args;
    muta_tone *const tones = &muta_passage_tones(call->out)[event->tone];
    muta_tone *const top = &tones[event->tone_count - 1];
    const muta_pitch was = top->pitch;

    muta_passage_reflect(call->out, top, axis, (muta_kind)args->kind);
    const muta_interval by = {top->pitch.place - was.place,
                              muta_pitch_sound(top->pitch) - muta_pitch_sound(was)};
    for (uint32_t i = 0; i + 1 < event->tone_count; i++)
        MUTA_TRY(muta_passage_move(call->out, &tones[i], by, 1, (muta_kind)args->kind));
    return MUTA_OK;
}

/* The top of an event, before it was turned and behind; NULL for a grace note, or what has no
 * pitch. */
static const muta_tone *plain_top(const muta_texture *work, uint32_t event)
{
    const muta_tone *const top = top_of(work, &work->events[event]);

    return top->is_fixed || work->events[event].is_grace ? NULL : top;
}

/* The raised sixth and seventh of minor are its own. */
static bool is_foreign(const muta_passage *in, const muta_tone *tone)
{
    const muta_fraction onset = muta_passage_work(in).events[tone->event].onset;
    const muta_key key = muta_sense_at(in, tone, onset).key;
    const int32_t own = muta_key_sharps(key.fifths, muta_pitch_step(tone->pitch)) * MUTA_SEMITONE;
    const bool can_rise = key.mode == MUTA_MINOR && muta_key_above(key, tone->pitch).steps >= 5;

    return tone->pitch.alter != own && !(can_rise && tone->pitch.alter == own + MUTA_SEMITONE);
}

/* Whether a pitch is written as players expect it in the key of a tone: C flat in C is not. */
static bool is_usual(const muta_passage *in, const muta_tone *tone, muta_pitch pitch)
{
    const muta_fraction onset = muta_passage_work(in).events[tone->event].onset;
    const int32_t away = muta_pitch_fifths(pitch) - muta_sense_at(in, tone, onset).key.fifths;

    return away >= -6 && away <= 9;
}

/* Whether a tone is on a strong beat and lasts for a quarter, so that it is heard as more than a
 * neighbour. */
static bool is_stressed(const muta_event *event)
{
    enum {
        ON_A_STRONG_BEAT = 1
    };
    return event->level <= ON_A_STRONG_BEAT && event->duration.top >= event->duration.bottom;
}

/*
 * What becomes of a tone that is foreign to its key: stressed, it is the scale's; else it lies on
 * the other side of the one that it goes to, by as much: what led by a semitone still does.
 */
static void turn_foreign_tone(const muta_call *call, const muta_tone *tone, const muta_tone *next)
{
    const muta_event *const event = &muta_passage_work(call->in).events[tone->event];
    muta_tone *const turned = muta_counterpart(call, tone);
    const muta_sense scale = {.key = muta_sense_at(call->in, tone, event->onset).key};

    if (is_stressed(event)) {
        muta_passage_set_pitch(call->out, turned, muta_sense_step(&scale, turned->pitch, 0));
        return;
    }
    if (!next || is_foreign(call->in, next))
        return;
    const muta_interval by = muta_pitch_between(next->pitch, tone->pitch);
    const muta_pitch to =
        muta_pitch_add(muta_counterpart(call, next)->pitch, (muta_interval){-by.steps, -by.size});
    if (abs(by.size) <= 2 * MUTA_SEMITONE && abs(by.steps) <= 1 && is_usual(call->in, tone, to))
        muta_passage_set_pitch(call->out, turned, to);
}

static void turn_foreign(const muta_call *call, const muta_line *line)
{
    const muta_texture in = muta_passage_work(call->in);
    const uint32_t end = line->event + line->event_count;

    for (uint32_t i = line->event; i < end; i++) {
        const muta_tone *const tone = plain_top(&in, i);
        const muta_tone *next = i + 1 < end ? plain_top(&in, i + 1) : NULL;
        if (!tone || in.events[i].tone_count > 1 || muta_goes_along(&in, &in.events[i]) ||
            !is_foreign(call->in, tone))
            continue;
        if (next && in.events[i + 1].tone_count > 1)
            next = NULL;
        turn_foreign_tone(call, tone, next);
    }
}

/* Turns some lines about one axis. */
static muta_status turn(const muta_call *call, const muta_texture *out, size_t first, size_t count)
{
    const struct args *args = call->args;
    muta_pitch axis;

    if (!find_axis(call, &out->lines[first], count, &axis))
        return MUTA_OK;
    for (size_t i = first; i < first + count; i++)
        for (uint32_t j = 0; j < out->lines[i].event_count; j++) {
            const uint32_t at = out->lines[i].event + j;
            muta_event *const event = &muta_passage_events(call->out)[at];
            if (args->axis.choice != COMMON && muta_goes_along(out, event))
                continue; /* it follows what it goes with */
            event->written.is_inverted =
                event->written.is_inverted != !muta_has_tune_on_top(out, event);
            if (args->axis.choice != COMMON && muta_has_tune_on_top(out, event))
                MUTA_TRY(turn_top(call, event, axis));
            else
                for (uint32_t k = 0; k < event->tone_count; k++)
                    muta_passage_reflect(call->out, &muta_passage_tones(call->out)[event->tone + k],
                                         axis, (muta_kind)args->kind);
        }
    return MUTA_OK;
}

/* Lines turned about one tone stay together as far as one instrument plays them. */
static size_t count_together(const muta_texture *out, size_t first, bool is_common)
{
    size_t next = first + 1;

    while (is_common && next < out->line_count && out->lines[next].part == out->lines[first].part)
        next++;
    return next - first;
}

/* The mediant is that of the key that is heard. */
static bool needs_mode(const void *args)
{
    const struct args *const of = args;

    return !of->axis.is_pitch && of->axis.choice == MEDIANT;
}

static muta_status run(const muta_call *call)
{
    const struct args *args = call->args;
    const bool is_common = args->axis.is_pitch || args->axis.choice == COMMON;

    MUTA_TRY(muta_passage_append(call->out, call->in, MUTA_ZERO, NULL));
    const muta_texture out = muta_passage_work(call->out);
    if (is_common)
        MUTA_TRY(turn(call, &out, 0, out.line_count));
    for (size_t i = 0; i < out.line_count && !is_common; i++) {
        MUTA_TRY(turn(call, &out, i, 1));
        if (args->kind == MUTA_TONAL)
            turn_foreign(call, &out.lines[i]);
    }
    for (size_t i = 0; i < out.line_count;) {
        const size_t count = count_together(&out, i, is_common);
        MUTA_TRY(muta_fold(call, i, count));
        i += count;
    }
    return is_common ? MUTA_OK : muta_follow_all(call);
}

const muta_pass muta_pass_invert = {
    .name = "invert",
    .group = "pitch",
    .summary = "turns the tune over: what rose falls",
    .keeps = "rhythm, and the size of each interval (real) or its steps in the key (tonal)",
    MUTA_PARAMS(params, struct args),
    .where = MUTA_TUNE_IN_PARALLEL,
    .effect = MUTA_BENDS_TUNE,
    .needs = MUTA_NEEDS_PITCH | MUTA_NEEDS_SHAPE | MUTA_NEEDS_STUDY,
    .needs_mode = needs_mode,
    .run = run,
};
