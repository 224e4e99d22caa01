/* heard.c: from a passage to tones in time. */
#include "study/heard.h"
#include "theory/chord.h"
#include <stdlib.h>
#include <string.h>

enum {
    MOST_TICKS = 1 << 20 /* a quarter; finer times are rounded */
};

/* ---- time ---- */

static int64_t ticks_of(const muta_heard *heard, muta_fraction time)
{
    const muta_fraction ticks = muta_fraction_scale(time, heard->quarter);

    return ticks.bottom > 0 ? (ticks.top + ticks.bottom / 2) / ticks.bottom : 0;
}

static void consider(int64_t *quarter, muta_fraction time)
{
    const int64_t common = muta_common_multiple(*quarter, time.bottom);

    if (common > 0 && common <= MOST_TICKS)
        *quarter = common;
}

static int64_t find_quarter(const muta_passage *passage)
{
    const muta_score *const score = passage->score;
    int64_t quarter = 8;

    for (size_t i = 0; i < passage->work.events.count; i++) {
        consider(&quarter, passage->work.events.at[i].onset);
        consider(&quarter, passage->work.events.at[i].duration);
    }
    for (size_t i = 0; i < score->bar_count; i++)
        consider(&quarter, score->bars[i].start);
    return quarter;
}

muta_fraction muta_heard_time(const muta_heard *heard, int64_t at)
{
    return muta_fraction_of(at, heard->quarter);
}

/* ---- bars ---- */

/* Beats as they are conducted: dotted in compound metre, and never longer than a quarter in two
 * halves. */
static void find_beats(muta_heard_bar *bar, const muta_heard *heard, const muta_metre *metre)
{
    const muta_fraction unit = muta_fraction_of(4, metre->beat_type > 0 ? metre->beat_type : 4);
    const muta_fraction count = muta_fraction_divide(metre->length, unit);

    if (!muta_fraction_is_valid(count) || count.bottom != 1 || count.top <= 0)
        return;
    bar->is_compound = count.top > 3 && count.top % 3 == 0 && metre->beat_type >= 8;
    bar->beat = ticks_of(heard, unit) * (bar->is_compound ? 3 : 1);
    if (metre->beat_type == 2)
        bar->beat /= 2;
    bar->beats = ticks_of(heard, metre->length) / (bar->beat > 0 ? bar->beat : 1);
}

static muta_status read_bars(muta_heard *heard)
{
    const muta_passage *const passage = heard->passage;
    const muta_score *const score = passage->score;
    const muta_fraction start =
        muta_fraction_add(score->bars[passage->from.bar].start, passage->from.onset);

    for (uint32_t i = passage->from.bar; i < score->bar_count && i <= passage->to.bar; i++) {
        const muta_bar *const of = &score->bars[i];
        muta_heard_bar *bar;
        if (i == passage->to.bar && passage->to.onset.top == 0)
            break;
        bar = MUTA_PUSH(&heard->arena, &heard->bars);
        if (!bar)
            return MUTA_E_MEMORY;
        *bar = (muta_heard_bar){.index = i};
        bar->from = ticks_of(heard, muta_fraction_subtract(of->start, start));
        bar->to = bar->from + ticks_of(heard, of->length);
        find_beats(bar, heard, &of->metre);
        /* A short first bar is the end of one; what follows a bar cut in two too. */
        const bool completes =
            i > 0 && muta_fraction_compare(muta_fraction_add(score->bars[i - 1].length, of->length),
                                           of->metre.length) == 0;
        if ((i == 0 || completes) && muta_fraction_compare(of->length, of->metre.length) < 0)
            bar->offset = ticks_of(heard, muta_fraction_subtract(of->metre.length, of->length));
    }
    return MUTA_OK;
}

size_t muta_heard_find(const void *items, size_t count, size_t size, int64_t at)
{
    size_t low = 0;
    size_t high = count;

    while (high - low > 1) {
        const size_t middle = low + (high - low) / 2;
        int64_t from;
        memcpy(&from, (const char *)items + middle * size, sizeof from);
        if (from <= at)
            low = middle;
        else
            high = middle;
    }
    return low;
}

size_t muta_heard_tone_from(const muta_heard *heard, int64_t at)
{
    size_t low = 0;
    size_t high = heard->tones.count;

    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        if (heard->tones.at[middle].from < at)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

const muta_heard_bar *muta_heard_bar_at(const muta_heard *heard, int64_t at)
{
    return &heard->bars
                .at[muta_heard_find(heard->bars.at, heard->bars.count, sizeof *heard->bars.at, at)];
}

muta_level muta_heard_level(const muta_heard *heard, int64_t at)
{
    const muta_heard_bar *const bar = muta_heard_bar_at(heard, at);
    const int64_t in_bar = at - bar->from + bar->offset;
    int64_t unit = bar->beat;

    if (in_bar == 0)
        return MUTA_LEVEL_BAR;
    if (unit <= 0)
        return MUTA_LEVEL_BEAT;
    if (bar->beats % 2 == 0 && bar->beats >= 2 && in_bar % (unit * (bar->beats / 2)) == 0)
        return MUTA_LEVEL_HALF;
    if (in_bar % unit == 0)
        return MUTA_LEVEL_BEAT;
    unit = bar->is_compound ? unit / 3 : unit / 2;
    /* In two quarters a bar the eighths are beaten. */
    const bool is_short = bar->beats == 2 && !bar->is_compound && bar->beat == heard->quarter;
    if (unit > 0 && in_bar % unit == 0)
        return is_short ? MUTA_LEVEL_BEAT : MUTA_LEVEL_PART;
    if (unit > 1 && in_bar % (unit / 2) == 0)
        return is_short ? MUTA_LEVEL_PART : MUTA_LEVEL_FINE;
    return MUTA_LEVEL_FINER;
}

muta_place muta_heard_place(const muta_heard *heard, int64_t at)
{
    const muta_heard_bar *const bar = muta_heard_bar_at(heard, at);
    const muta_moment moment = {bar->index, MUTA_ALL_STAVES,
                                muta_heard_time(heard, at - bar->from)};

    return muta_score_place(heard->passage->score, NULL, moment);
}

/* ---- tones ---- */

static int32_t fifths_of(muta_pitch pitch)
{
    static const int8_t steps[] = {0, 2, 4, -1, 1, 3, 5};

    return steps[muta_pitch_step(pitch)] + 7 * muta_pitch_sharps(pitch);
}

static muta_status add_tone(muta_heard *heard, uint32_t line, uint32_t event, uint32_t index)
{
    const muta_event *const of = &heard->passage->work.events.at[event];
    const muta_tone *const tone = &heard->passage->work.tones.at[index];
    const int32_t fifths = fifths_of(tone->pitch);
    muta_heard_tone *const added = MUTA_PUSH(&heard->arena, &heard->tones);

    if (!added)
        return MUTA_E_MEMORY;
    *added = (muta_heard_tone){
        .from = ticks_of(heard, of->onset),
        .to = ticks_of(heard, muta_fraction_add(of->onset, tone->duration)),
        .midi = (muta_pitch_sound(tone->pitch) + 50000) / 100000 + 12,
        .place = tone->pitch.place,
        .fifths = fifths,
        .line = line,
        .event = event,
        .tone = index,
        .pitch_class = (uint8_t)muta_fifths_class(fifths),
    };
    added->level = (uint8_t)muta_heard_level(heard, added->from);
    heard->end = added->to > heard->end ? added->to : heard->end;
    return MUTA_OK;
}

/* A chromatic semitone is a step too: it leads on as well as a diatonic one. */
static muta_motion motion_between(muta_pitch from, muta_pitch to)
{
    const int32_t steps = to.place - from.place;
    const int32_t up = steps != 0 ? steps : muta_pitch_sharps(to) - muta_pitch_sharps(from);

    return up == 0    ? MUTA_MOTION_SAME
           : up == 1  ? MUTA_MOTION_UP
           : up == -1 ? MUTA_MOTION_DOWN
                      : MUTA_MOTION_LEAP;
}

/* The tone of another event of its line that lies nearest, and how it moves there or from there. */
static muta_motion motion_to(const muta_heard *heard, const muta_heard_tone *tone, int64_t nth,
                             bool before, int8_t *above)
{
    const muta_weave *const work = &heard->passage->work;
    const muta_line *const line = &work->lines.at[tone->line];
    const muta_pitch own = work->tones.at[tone->tone].pitch;
    muta_motion best = MUTA_MOTION_NONE;
    int32_t nearest = INT32_MAX;

    while (nth >= line->event && nth < (int64_t)line->event + line->event_count &&
           work->events.at[nth].is_grace)
        nth += before ? -1 : 1;
    if (nth < line->event || nth >= (int64_t)line->event + line->event_count)
        return MUTA_MOTION_NONE;
    const muta_event *const event = &work->events.at[nth];
    const int64_t gap =
        before ? tone->from - ticks_of(heard, muta_fraction_add(event->onset, event->duration))
               : ticks_of(heard, event->onset) - tone->to;
    if (gap > heard->quarter)
        return MUTA_MOTION_NONE;
    for (uint32_t i = event->tone; i < event->tone + event->tone_count; i++) {
        const muta_pitch other = work->tones.at[i].pitch;
        const int32_t away = abs(other.place - tone->place);
        if (work->tones.at[i].is_fixed || away >= nearest)
            continue;
        nearest = away;
        best = before ? motion_between(other, own) : motion_between(own, other);
        *above = 0;
        if (muta_motion_is_step((uint8_t)best))
            *above = (int8_t)(muta_pitch_semitones(other) - muta_pitch_semitones(own));
    }
    return best;
}

/* The same tone in the next event of its line that has tones; NULL when it has none such. */
static muta_heard_tone *find_again(const muta_heard *heard, size_t index)
{
    const muta_heard_tone *const tone = &heard->tones.at[index];
    uint32_t next = tone->event;

    for (size_t i = index + 1; i < heard->tones.count; i++) {
        muta_heard_tone *const other = &heard->tones.at[i];
        if (other->line != tone->line || (next != tone->event && other->event != next))
            break;
        next = other->event;
        if (next != tone->event && other->place == tone->place && other->fifths == tone->fifths)
            return other;
    }
    return NULL;
}

/* The rows of one tone struck again and again; the tones are still in the order of their lines. */
static void join_rows(muta_heard *heard)
{
    for (size_t i = 0; i < heard->tones.count; i++) {
        muta_heard_tone *const tone = &heard->tones.at[i];
        tone->first = tone->last = tone->from;
        tone->row_reached = tone->reached;
        tone->row_left = tone->left;
    }
    for (size_t i = 0; i < heard->tones.count; i++) {
        const muta_heard_tone *const tone = &heard->tones.at[i];
        muta_heard_tone *const again = tone->left == MUTA_MOTION_SAME ? find_again(heard, i) : NULL;
        if (!again || again->reached != MUTA_MOTION_SAME)
            continue;
        again->first = tone->first;
        again->row_reached = tone->row_reached;
    }
    for (size_t i = heard->tones.count; i-- > 0;) {
        muta_heard_tone *const tone = &heard->tones.at[i];
        const muta_heard_tone *const again =
            tone->left == MUTA_MOTION_SAME ? find_again(heard, i) : NULL;
        if (!again)
            continue;
        tone->last = again->last;
        tone->row_left = again->row_left;
    }
}

static int in_time(const void *a, const void *b)
{
    const muta_heard_tone *const one = a;
    const muta_heard_tone *const two = b;

    if (one->from != two->from)
        return one->from < two->from ? -1 : 1;
    if (one->midi != two->midi)
        return one->midi < two->midi ? -1 : 1;
    if (one->to != two->to)
        return one->to < two->to ? -1 : 1;
    return one->tone < two->tone ? -1 : one->tone > two->tone;
}

static muta_status read_tones(muta_heard *heard)
{
    const muta_weave *const work = &heard->passage->work;

    for (uint32_t line = 0; line < work->lines.count; line++)
        for (uint32_t i = work->lines.at[line].event;
             i < work->lines.at[line].event + work->lines.at[line].event_count; i++)
            for (uint32_t j = work->events.at[i].tone;
                 j < work->events.at[i].tone + work->events.at[i].tone_count; j++)
                if (!work->tones.at[j].is_fixed && !work->events.at[i].is_grace &&
                    !work->events.at[i].is_cue)
                    MUTA_TRY(add_tone(heard, line, i, j));
    for (size_t i = 0; i < heard->tones.count; i++) {
        muta_heard_tone *const tone = &heard->tones.at[i];
        tone->reached =
            (uint8_t)motion_to(heard, tone, (int64_t)tone->event - 1, true, &tone->came);
        tone->left = (uint8_t)motion_to(heard, tone, (int64_t)tone->event + 1, false, &tone->went);
    }
    join_rows(heard);
    muta_sort(heard->tones.at, heard->tones.count, sizeof *heard->tones.at, in_time);
    return MUTA_OK;
}

/* Where a tone lies among those that sound with it. */
static muta_seat seat_among(const muta_heard *heard, const muta_heard_tone *tone,
                            const uint32_t *sounding, size_t count)
{
    bool is_lowest = true;
    bool is_highest = true;

    for (size_t i = 0; i < count; i++) {
        const muta_heard_tone *const other = &heard->tones.at[sounding[i]];
        if (other == tone)
            continue;
        if (other->pitch_class == tone->pitch_class)
            return MUTA_SEAT_DOUBLED;
        is_lowest = is_lowest && tone->midi < other->midi;
        is_highest = is_highest && tone->midi > other->midi;
    }
    return is_lowest && is_highest ? MUTA_SEAT_ALONE
           : is_lowest             ? MUTA_SEAT_LOWEST
           : is_highest            ? MUTA_SEAT_HIGHEST
                                   : MUTA_SEAT_INNER;
}

/* Of all tones, which are in order of time. */
static muta_status read_seats(muta_heard *heard)
{
    uint32_t *const sounding = calloc(heard->tones.count + 1, sizeof *sounding);
    size_t count = 0;

    if (!sounding)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < heard->tones.count;) {
        const int64_t at = heard->tones.at[i].from;
        const size_t first = i;
        size_t kept = 0;
        for (size_t j = 0; j < count; j++)
            if (heard->tones.at[sounding[j]].to > at)
                sounding[kept++] = sounding[j];
        for (; i < heard->tones.count && heard->tones.at[i].from == at; i++)
            sounding[kept++] = (uint32_t)i;
        count = kept;
        for (size_t j = first; j < i; j++)
            heard->tones.at[j].seat =
                (uint8_t)seat_among(heard, &heard->tones.at[j], sounding, count);
    }
    free(sounding);
    return MUTA_OK;
}

static muta_status read_onsets(muta_heard *heard)
{
    for (size_t i = 0; i <= heard->tones.count && heard->tones.count > 0; i++) {
        const int64_t at = i < heard->tones.count ? heard->tones.at[i].from : heard->end;
        if (heard->onsets.count > 0 && heard->onsets.at[heard->onsets.count - 1] == at)
            continue;
        int64_t *const onset = MUTA_PUSH(&heard->arena, &heard->onsets);
        if (!onset)
            return MUTA_E_MEMORY;
        *onset = at;
    }
    return MUTA_OK;
}

muta_status muta_heard_init(muta_heard *heard, const muta_passage *passage)
{
    *heard = (muta_heard){.passage = passage, .quarter = find_quarter(passage)};
    MUTA_TRY(read_bars(heard));
    MUTA_TRY(read_tones(heard));
    MUTA_TRY(read_seats(heard));
    return read_onsets(heard);
}

void muta_heard_clear(muta_heard *heard)
{
    muta_arena_clear(&heard->arena);
}
