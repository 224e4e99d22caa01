/* reorder.c: tones and lengths that change places, octaves that bring a line into its range. */
#include "mutanza/limits.h"
#include "score/texture.h"
#include "theory/instrument.h"
#include <stdlib.h>
#include <string.h>

/* The places of a line: its events that are no grace notes, by index. */
struct places {
    uint32_t *at;
    size_t count;
};

static muta_status find_places(const muta_passage *passage, size_t line, struct places *places)
{
    const muta_line *const of = &passage->work.lines.at[line];

    places->count = 0;
    places->at = malloc((of->event_count + 1) * sizeof *places->at);
    if (!places->at)
        return MUTA_E_MEMORY;
    for (uint32_t i = of->event; i < of->event + of->event_count; i++)
        if (!passage->work.events.at[i].is_grace)
            places->at[places->count++] = i;
    return MUTA_OK;
}

/* Which place the nth one takes from. */
static size_t source_of(const struct places *places, size_t nth, int64_t by, bool reverse)
{
    const int64_t count = (int64_t)places->count;

    if (reverse)
        return places->count - 1 - nth;
    return (size_t)((((int64_t)nth + by) % count + count) % count);
}

/* ---- tones ---- */

static bool are_single(const muta_passage *passage, const struct places *places)
{
    for (size_t i = 0; i < places->count; i++)
        if (passage->work.events.at[places->at[i]].tone_count != 1)
            return false;
    return true;
}

/* Moves a grace note by so many steps of the scale. */
static muta_status move_grace(muta_passage *passage, uint32_t index, int32_t steps)
{
    const muta_event *const event = &passage->work.events.at[index];

    for (uint32_t i = event->tone; i < event->tone + event->tone_count; i++)
        MUTA_TRY(muta_passage_move(passage, &passage->work.tones.at[i], (muta_interval){steps, 0},
                                   1, MUTA_TONAL));
    return MUTA_OK;
}

/* The grace notes that stand with a tone lie about its new pitch as they lay about the old one. */
static muta_status move_graces_with(muta_passage *passage, uint32_t event, int32_t steps)
{
    const muta_weave *const work = &passage->work;
    const muta_line *const line = &work->lines.at[work->tones.at[work->events.at[event].tone].line];
    const uint32_t end = line->event + line->event_count;

    for (uint32_t i = event;
         i > line->event && work->events.at[i - 1].is_grace && !work->events.at[i - 1].is_after;
         i--)
        MUTA_TRY(move_grace(passage, i - 1, steps));
    for (uint32_t i = event + 1;
         i < end && work->events.at[i].is_grace && work->events.at[i].is_after; i++)
        MUTA_TRY(move_grace(passage, i, steps));
    return MUTA_OK;
}

/* Single tones change only their pitches: marks and words stay with the rhythm. */
static muta_status permute_pitches(muta_passage *passage, const struct places *places, int64_t by,
                                   bool reverse, muta_pitch *pitches)
{
    muta_weave *const work = &passage->work;

    for (size_t i = 0; i < places->count; i++)
        pitches[i] = work->tones.at[work->events.at[places->at[i]].tone].pitch;
    for (size_t i = 0; i < places->count; i++) {
        const muta_pitch to = pitches[source_of(places, i, by, reverse)];
        muta_passage_set_pitch(passage, &work->tones.at[work->events.at[places->at[i]].tone], to);
        MUTA_TRY(move_graces_with(passage, places->at[i], to.place - pitches[i].place));
    }
    return MUTA_OK;
}

/* Chords move as wholes, with their marks; each takes the length of its new place. */
static muta_status permute_chords(muta_passage *passage, const struct places *places, int64_t by,
                                  bool reverse, muta_event *events)
{
    muta_weave *const work = &passage->work;

    for (size_t i = 0; i < places->count; i++)
        events[i] = work->events.at[places->at[i]];
    for (size_t i = 0; i < places->count; i++) {
        const muta_event *const from = &events[source_of(places, i, by, reverse)];
        muta_event *const to = &work->events.at[places->at[i]];
        to->tone = from->tone;
        to->tone_count = from->tone_count;
        to->written.source = from->written.source;
        to->staff = from->staff;
        to->written.statement = from->written.statement;
        to->duration = from->duration;
        for (uint32_t j = 0; j < to->tone_count; j++)
            work->tones.at[to->tone + j].event = places->at[i];
        MUTA_TRY(muta_passage_set_time(passage, places->at[i], to->onset, events[i].duration));
    }
    return MUTA_OK;
}

muta_status muta_passage_permute(muta_passage *passage, size_t line, int64_t by, bool reverse)
{
    struct places places;

    MUTA_TRY(find_places(passage, line, &places));
    void *const held = calloc(places.count + 1, sizeof(muta_event));
    muta_status status = held ? MUTA_OK : MUTA_E_MEMORY;
    if (held && places.count > 0) {
        if (are_single(passage, &places))
            status = permute_pitches(passage, &places, by, reverse, held);
        else
            status = permute_chords(passage, &places, by, reverse, held);
    }
    free(held);
    free(places.at);
    return status;
}

/* ---- lengths ---- */

/* A length with the rest behind it. */
struct length {
    muta_fraction sounds;
    muta_fraction until_next;
};

/* Grace notes go along with what they belong to. */
static void move_graces(muta_passage *passage, const muta_line *line)
{
    muta_weave *const work = &passage->work;

    for (uint32_t i = line->event; i < line->event + line->event_count; i++) {
        muta_event *const event = &work->events.at[i];
        uint32_t main = i;
        if (!event->is_grace)
            continue;
        if (event->is_after) {
            while (main > line->event && work->events.at[main].is_grace)
                main--;
            event->onset =
                muta_fraction_add(work->events.at[main].onset, work->events.at[main].duration);
        } else {
            while (main + 1 < line->event + line->event_count && work->events.at[main].is_grace)
                main++;
            event->onset = work->events.at[main].onset;
        }
    }
}

static muta_status permute_lengths(muta_passage *passage, const struct places *places, int64_t by,
                                   bool reverse, struct length *lengths)
{
    const muta_weave *const work = &passage->work;
    muta_fraction at = work->events.at[places->at[0]].onset;

    for (size_t i = 0; i < places->count; i++) {
        const muta_event *const event = &work->events.at[places->at[i]];
        const muta_fraction next =
            i + 1 < places->count ? work->events.at[places->at[i + 1]].onset : passage->length;
        lengths[i] = (struct length){event->duration, muta_fraction_subtract(next, event->onset)};
    }
    /* Backwards the silence at the end comes first, and that behind each tone before it. */
    if (reverse)
        at = muta_fraction_subtract(
            passage->length, muta_fraction_add(work->events.at[places->at[places->count - 1]].onset,
                                               lengths[places->count - 1].sounds));
    for (size_t i = 0; i < places->count; i++) {
        const size_t from = source_of(places, i, by, reverse);
        MUTA_TRY(muta_passage_set_time(passage, places->at[i], at, lengths[from].sounds));
        if (reverse && from > 0) {
            const muta_fraction rest =
                muta_fraction_subtract(lengths[from - 1].until_next, lengths[from - 1].sounds);
            at = muta_fraction_add(at, muta_fraction_add(lengths[from].sounds, rest));
        } else {
            at = muta_fraction_add(at, lengths[from].until_next);
        }
    }
    return MUTA_OK;
}

muta_status muta_passage_permute_rhythm(muta_passage *passage, size_t line, int64_t by,
                                        bool reverse)
{
    struct places places;

    MUTA_TRY(find_places(passage, line, &places));
    struct length *const lengths = malloc((places.count + 1) * sizeof *lengths);
    muta_status status = lengths ? MUTA_OK : MUTA_E_MEMORY;
    if (lengths && places.count > 0)
        status = permute_lengths(passage, &places, by, reverse, lengths);
    if (status == MUTA_OK)
        move_graces(passage, &passage->work.lines.at[line]);
    free(lengths);
    free(places.at);
    return status;
}

muta_status muta_passage_add_tone(muta_passage *passage, size_t event, int32_t steps)
{
    muta_weave *const work = &passage->work;
    const uint32_t count = work->events.at[event].tone_count;
    const uint32_t first = (uint32_t)work->tones.count;
    const muta_interval by = {steps, 0};

    if (!MUTA_RESERVE(&passage->arena, &work->tones, count + 1))
        return MUTA_E_MEMORY;
    muta_event *const of = &work->events.at[event];
    /* The run of an event's tones lies together: it moves to the end to grow. */
    memcpy(&work->tones.at[first + 1], &work->tones.at[of->tone], count * sizeof *work->tones.at);
    const muta_tone lowest = work->tones.at[first + 1];
    if (lowest.is_fixed)
        return MUTA_OK;
    work->tones.at[first] = lowest;
    work->tones.at[first].id = ++passage->next_id;
    of->tone = first;
    of->tone_count = count + 1;
    work->tones.count += count + 1;
    return muta_passage_move(passage, &work->tones.at[first], by, 1, MUTA_TONAL);
}

/* ---- ranges ---- */

/* The lowest and the highest sound of a part; low above high when it has none. */
struct range {
    int32_t low;
    int32_t high;
};

/* What the part shows in this score, widened: what a player has shown is not all there is. */
static struct range shown_range(const muta_part *part, int32_t margin)
{
    struct range range = {INT32_MAX, INT32_MIN};

    for (size_t i = 0; i < part->notes.count; i++) {
        const muta_note *const note = &part->notes.at[i];
        const muta_moment at = {note->bar, note->staff, note->onset};
        if (note->flags & (MUTA_NOTE_REST | MUTA_NOTE_FIXED))
            continue;
        const int32_t sound =
            muta_pitch_sound(muta_pitch_add(note->pitch, muta_part_transposition_at(part, at)));
        range.low = sound < range.low ? sound : range.low;
        range.high = sound > range.high ? sound : range.high;
    }
    if (range.low <= range.high) {
        range.low -= margin;
        range.high += margin;
    }
    return range;
}

/* The instrument's own range; what the part goes beyond it already counts too. */
static struct range range_of(const muta_passage *passage, uint32_t index)
{
    enum {
        MARGIN = 12 * MUTA_SEMITONE
    };
    const muta_part *const part = &passage->score->parts[index];
    struct range range = shown_range(part, MARGIN);
    muta_instrument instrument;

    if (range.low > range.high || !muta_part_instrument(part, &instrument))
        return range;
    const int32_t low = muta_pitch_sound(instrument.low);
    const int32_t high = muta_pitch_sound(instrument.high);
    range.low = low < range.low + MARGIN ? low : range.low + MARGIN;
    range.high = high > range.high - MARGIN ? high : range.high - MARGIN;
    return range;
}

static size_t count_outside(const muta_passage *passage, size_t line, const struct range *range,
                            int32_t moved)
{
    const muta_weave *const work = &passage->work;
    const muta_line *const of = &work->lines.at[line];
    size_t count = 0;

    for (uint32_t i = of->event; i < of->event + of->event_count; i++)
        for (uint32_t j = 0; j < work->events.at[i].tone_count; j++) {
            const muta_tone *const tone = &work->tones.at[work->events.at[i].tone + j];
            const int32_t sound = muta_pitch_sound(tone->pitch) + moved;
            count += !tone->is_fixed && (sound < range->low || sound > range->high);
        }
    return count;
}

enum {
    OCTAVES = 7
};
static const int32_t octaves[OCTAVES] = {0, 1, -1, 2, -2, 3, -3};
static const muta_interval octave = {7, 12 * MUTA_SEMITONE};

/* Where a tone stood, and what it sounded, before anything was changed; false for one that is new.
 */
static bool stood(const muta_passage *passage, const muta_tone *tone, uint32_t part,
                  muta_fraction *onset, int32_t *sound)
{
    const muta_score *const score = passage->score;
    const muta_part *const of = &score->parts[part];

    if (tone->source == MUTA_NO_SOURCE)
        return false;
    const muta_note *const note = &of->notes.at[tone->source];
    const muta_moment at = {note->bar, note->staff, note->onset};
    const muta_fraction start =
        muta_fraction_add(score->bars[passage->from.bar].start, passage->from.onset);
    *onset =
        muta_fraction_subtract(muta_fraction_add(score->bars[note->bar].start, note->onset), start);
    *sound = muta_pitch_sound(muta_pitch_add(note->pitch, muta_part_transposition_at(of, at)));
    return true;
}

/* The highest of the lowest tones of the part's other lines that lay below one; INT32_MIN for none.
 */
static int32_t highest_below(const muta_passage *passage, uint32_t part, muta_fraction onset,
                             int32_t sound)
{
    const muta_texture context = muta_passage_context(passage);
    int32_t highest = INT32_MIN;
    int32_t other;

    for (size_t i = 0; i < context.line_count; i++)
        if (context.lines[i].part == part &&
            muta_line_sounding(&context, &context.lines[i], onset, &other) &&
            other * MUTA_SEMITONE < sound && other * MUTA_SEMITONE > highest)
            highest = other * MUTA_SEMITONE;
    return highest;
}

/* How often a line lies under what the same player has, and it lay above. */
static void count_buried(const muta_passage *passage, size_t line, size_t *buried)
{
    const muta_weave *const work = &passage->work;
    const muta_line *const of = &work->lines.at[line];

    for (uint32_t i = of->event; i < of->event + of->event_count; i++) {
        const muta_event *const event = &work->events.at[i];
        muta_fraction onset;
        int32_t sound;
        if (event->tone_count == 0 || event->is_grace)
            continue;
        const muta_tone *const top = &work->tones.at[event->tone + event->tone_count - 1];
        if (top->is_fixed || !stood(passage, top, of->part, &onset, &sound))
            continue;
        const int32_t below = highest_below(passage, of->part, onset, sound);
        for (size_t j = 0; j < OCTAVES; j++)
            buried[j] += muta_pitch_sound(top->pitch) + octaves[j] * octave.size <= below;
    }
}

/*
 * What lies outside the instrument's range counts most, then what lies far from the part's own,
 * then what lies under others that it lay above.
 */
static void count_strained(const muta_passage *passage, size_t line, size_t *strained)
{
    enum {
        A_THIRD = 4 * MUTA_SEMITONE,
        MUCH = 1000,
        MORE = 3
    };
    size_t buried[OCTAVES] = {0};
    const uint32_t part = passage->work.lines.at[line].part;
    const struct range range = range_of(passage, part);
    const struct range own = shown_range(&passage->score->parts[part], A_THIRD);

    count_buried(passage, line, buried);
    for (size_t i = 0; i < OCTAVES; i++)
        strained[i] += count_outside(passage, line, &range, octaves[i] * octave.size) * MUCH +
                       count_outside(passage, line, &own, octaves[i] * octave.size) * MORE +
                       buried[i];
}

muta_status muta_passage_fold(muta_passage *passage, size_t first, size_t count, int64_t *moved)
{
    size_t strained[OCTAVES] = {0};
    size_t fewest = 0;

    for (size_t line = first; line < first + count; line++)
        count_strained(passage, line, strained);
    for (size_t i = 1; i < OCTAVES; i++)
        if (strained[i] < strained[fewest])
            fewest = i;
    const int32_t best = octaves[fewest];
    for (size_t line = first; best != 0 && line < first + count; line++) {
        const muta_line *const of = &passage->work.lines.at[line];
        for (uint32_t i = of->event; i < of->event + of->event_count; i++)
            for (uint32_t j = 0; j < passage->work.events.at[i].tone_count; j++)
                MUTA_TRY(muta_passage_move(
                    passage, &passage->work.tones.at[passage->work.events.at[i].tone + j], octave,
                    best, MUTA_REAL));
    }
    *moved = best;
    return MUTA_OK;
}

/* The tones of a line that a pass moved out of an instrument's range. */
static size_t count_changed_outside(const muta_weave *work, const muta_line *line,
                                    const muta_instrument *instrument)
{
    const int32_t low = muta_pitch_sound(instrument->low);
    const int32_t high = muta_pitch_sound(instrument->high);
    size_t count = 0;

    for (uint32_t i = line->event; i < line->event + line->event_count; i++)
        for (uint32_t j = 0; j < work->events.at[i].tone_count; j++) {
            const muta_tone *const tone = &work->tones.at[work->events.at[i].tone + j];
            const int32_t sound = muta_pitch_sound(tone->pitch);
            count += tone->is_pitch_changed && !tone->is_fixed && (sound < low || sound > high);
        }
    return count;
}

size_t muta_passage_outside(const muta_passage *passage, uint32_t part, muta_instrument *instrument)
{
    const muta_weave *const work = &passage->work;
    size_t count = 0;

    if (!muta_part_instrument(&passage->score->parts[part], instrument))
        return 0;
    for (size_t i = 0; i < work->lines.count; i++)
        if (work->lines.at[i].part == part)
            count += count_changed_outside(work, &work->lines.at[i], instrument);
    return count;
}

/* Whether all tones stay in the octaves that can be written. */
static bool stays_in_octaves(const muta_passage *passage, int64_t steps)
{
    for (size_t i = 0; i < passage->work.tones.count; i++) {
        const muta_tone *const tone = &passage->work.tones.at[i];
        const int64_t place = tone->pitch.place + steps;
        if (!tone->is_fixed && (place < 0 || place >= INT64_C(7) * (MUTA_LIMIT_OCTAVE + 1)))
            return false;
    }
    return true;
}

bool muta_passage_reaches(const muta_passage *passage, muta_interval by, int64_t times)
{
    if (!stays_in_octaves(passage, by.steps * times))
        return false;
    for (size_t line = 0; line < passage->work.lines.count; line++) {
        const struct range range = range_of(passage, passage->work.lines.at[line].part);
        const size_t before = count_outside(passage, line, &range, 0);
        if (by.size * times > INT32_MAX / 2 || by.size * times < INT32_MIN / 2 ||
            count_outside(passage, line, &range, (int32_t)(by.size * times)) > before)
            return false;
    }
    return true;
}

muta_fraction muta_passage_bar(const muta_passage *passage, int64_t nth)
{
    const muta_score *const score = passage->score;
    const int64_t bar = passage->from.bar + nth - 1;
    const muta_fraction start =
        muta_fraction_add(score->bars[passage->from.bar].start, passage->from.onset);

    if (nth <= 1)
        return MUTA_ZERO;
    if (bar >= (int64_t)score->bar_count)
        return passage->length;
    const muta_fraction at = muta_fraction_subtract(score->bars[bar].start, start);
    return muta_fraction_compare(at, passage->length) < 0 ? at : passage->length;
}
