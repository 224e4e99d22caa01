/* sense.c: what a moment of a passage is to a musician. */
#include "score/sense.h"
#include "base/vec.h"

muta_sense muta_sense_at(const muta_passage *passage, const muta_tone *tone, muta_fraction time)
{
    const muta_passage_chord *const chord = muta_passage_chord_at(passage, time);
    muta_sense sense = {.chord = chord, .is_sure = chord && chord->is_sure};

    if (!sense.is_sure)
        sense.key = muta_passage_key_at(passage, tone, time);
    else
        sense.key = chord->is_minor ? (muta_key){chord->tonic - 3, MUTA_MINOR}
                                    : (muta_key){chord->tonic, MUTA_MAJOR};
    return sense;
}

/* ---- tones ---- */

muta_interval muta_key_above(muta_key key, muta_pitch pitch)
{
    muta_pitch tonic = muta_key_tonic(key);
    const int32_t octaves = pitch.place - tonic.place;

    tonic.place += 7 * (octaves >= 0 ? octaves / 7 : -((6 - octaves) / 7));
    return muta_pitch_between(tonic, pitch);
}

bool muta_passage_chord_has(const muta_passage_chord *chord, muta_pitch pitch)
{
    if (!chord)
        return true;
    return muta_chord_tone(chord->value.kind,
                           muta_pitch_semitones(pitch) - muta_fifths_class(chord->value.root)) >= 0;
}

/* ---- scale ---- */

/* The letter of a place on the line of fifths, and by how many semitones it is altered. */
static int letter_of(int32_t fifths)
{
    return ((fifths * 4) % 7 + 7) % 7;
}

static int32_t alteration_of(int32_t fifths)
{
    return (fifths + 1 >= 0 ? (fifths + 1) / 7 : -((5 - fifths) / 7)) * MUTA_SEMITONE;
}

/* The alteration that a chord gives a letter; false when it has no tone there. */
static bool chord_alters(const muta_passage_chord *chord, int step, int32_t *alter)
{
    const muta_chord_row *const row = chord ? muta_chord_row_of(chord->value.kind) : NULL;

    for (size_t i = 0; row && i < row->count; i++)
        if (letter_of(chord->value.root + row->fifths[i]) == step) {
            *alter = alteration_of(chord->value.root + row->fifths[i]);
            return true;
        }
    return false;
}

muta_pitch muta_sense_step(const muta_sense *sense, muta_pitch pitch, int32_t steps)
{
    muta_pitch there = {pitch.place + steps, 0};
    const int step = muta_pitch_step(there);

    if (!chord_alters(sense->chord, step, &there.alter))
        there.alter = muta_key_sharps(sense->key.fifths, step) * MUTA_SEMITONE;
    return there;
}

muta_pitch muta_sense_chord_step(const muta_sense *sense, muta_pitch pitch, int32_t steps)
{
    const int32_t direction = steps < 0 ? -1 : 1;
    muta_pitch there = pitch;
    int32_t alter = 0;

    if (!sense->chord) /* in thirds */
        return muta_sense_step(sense, pitch, 2 * steps);
    for (int32_t left = steps * direction; left > 0;) {
        there.place += direction;
        if (chord_alters(sense->chord, muta_pitch_step(there), &alter)) {
            there.alter = alter;
            left--;
        }
    }
    return there;
}

/* Whether the scale has its natural form on a degree of a minor key, where the raised one is as
 * much its own; what the chord says is not for the line to change. */
static bool may_raise(const muta_sense *sense, muta_pitch pitch, int degree)
{
    const muta_interval above = muta_key_above(sense->key, pitch);
    const int semitones = degree == 6 ? 10 : 8;

    return sense->key.mode == MUTA_MINOR && above.steps == degree &&
           above.size == semitones * MUTA_SEMITONE &&
           !(sense->chord && muta_passage_chord_has(sense->chord, pitch));
}

muta_pitch muta_sense_neighbour(const muta_sense *sense, muta_pitch pitch, int32_t side)
{
    muta_pitch there = muta_sense_step(sense, pitch, side);

    if (side < 0 && muta_key_above(sense->key, pitch).size == 0 && may_raise(sense, there, 6))
        there.alter += MUTA_SEMITONE;
    return there;
}

/* Whether a raised seventh would stand on a natural sixth that stays. */
static bool is_on_natural(const muta_sense *sense, const muta_pitch *pitches, size_t nth)
{
    const muta_pitch before = pitches[nth - 1];

    return before.place + 1 == pitches[nth].place &&
           muta_key_above(sense->key, before).size == 8 * MUTA_SEMITONE &&
           (nth == 1 || !may_raise(sense, before, 5));
}

static bool is_leading(const muta_sense *sense, muta_pitch pitch)
{
    const muta_interval above = muta_key_above(sense->key, pitch);

    return above.steps == 6 && above.size == 11 * MUTA_SEMITONE;
}

void muta_sense_smooth(const muta_sense *sense, muta_pitch *pitches, size_t count)
{
    for (size_t i = count; i > 2; i--) {
        muta_pitch *const here = &pitches[i - 2];
        const muta_pitch before = pitches[i - 3];
        const muta_pitch next = pitches[i - 1];
        const bool goes_up = next.place == here->place + 1;
        const bool to_tonic = goes_up && muta_key_above(sense->key, next).size == 0;
        const bool is_beside = (goes_up && is_leading(sense, next)) ||
                               (before.place == here->place + 1 && is_leading(sense, before));
        if ((to_tonic && may_raise(sense, *here, 6) && !is_on_natural(sense, pitches, i - 2)) ||
            (is_beside && may_raise(sense, *here, 5)))
            here->alter += MUTA_SEMITONE;
    }
}

/* ---- what comes back ---- */

enum {
    A_MOTIF = 3 /* events that a bar has, at least, which comes back at another pitch */
};

/* The events of a line that begin in one bar. */
struct bar {
    uint32_t first;
    uint32_t count;
    int32_t base; /* the place that its tones are told from */
    uint64_t hash;
    muta_fraction start;
};

static uint64_t stir(uint64_t hash, int64_t number)
{
    return (hash ^ (uint64_t)number) * 1099511628211U;
}

static bool is_same_event(const muta_texture *work, const struct bar *a, const struct bar *b,
                          uint32_t nth)
{
    const muta_event *const one = &work->events[a->first + nth];
    const muta_event *const two = &work->events[b->first + nth];
    bool same = one->tone_count == two->tone_count && one->is_grace == two->is_grace &&
                muta_fraction_compare(one->duration, two->duration) == 0 &&
                muta_fraction_compare(muta_fraction_subtract(one->onset, a->start),
                                      muta_fraction_subtract(two->onset, b->start)) == 0;

    for (uint32_t i = 0; same && i < one->tone_count; i++) {
        const muta_pitch here = work->tones[one->tone + i].pitch;
        const muta_pitch there = work->tones[two->tone + i].pitch;
        same = here.place - a->base == there.place - b->base &&
               (a->base != b->base || here.alter == there.alter);
    }
    return same;
}

static bool is_same_bar(const muta_texture *work, const struct bar *a, const struct bar *b)
{
    bool same = a->hash == b->hash && a->count == b->count;

    for (uint32_t i = 0; same && i < a->count; i++)
        same = is_same_event(work, a, b, i);
    return same;
}

static int by_hash(const void *a, const void *b)
{
    const struct bar *const one = a;
    const struct bar *const two = b;

    if (one->hash != two->hash)
        return one->hash < two->hash ? -1 : 1;
    return one->first < two->first ? -1 : one->first > two->first;
}

static void stir_bar(const muta_texture *work, struct bar *bar)
{
    for (uint32_t i = bar->first; i < bar->first + bar->count; i++) {
        const muta_event *const event = &work->events[i];
        const muta_fraction at = muta_fraction_subtract(event->onset, bar->start);
        bar->hash = stir(stir(bar->hash, at.top), at.bottom);
        for (uint32_t j = 0; j < event->tone_count; j++)
            bar->hash = stir(bar->hash, work->tones[event->tone + j].pitch.place - bar->base);
    }
}

/* The bars of a line; returns how many. */
static size_t find_bars(const muta_passage *passage, const muta_line *line, bool at_any_pitch,
                        struct bar *bars)
{
    const muta_texture work = muta_passage_work(passage);
    muta_beat beat = {.end = {0, 1}};
    size_t count = 0;

    for (uint32_t i = line->event; i < line->event + line->event_count; i++) {
        const muta_event *const event = &work.events[i];
        if (count == 0 || muta_fraction_compare(event->onset, beat.end) >= 0) {
            muta_passage_beat_at(passage, event->onset, &beat);
            bars[count++] = (struct bar){.first = i, .start = beat.bar};
        }
        bars[count - 1].count++;
    }
    for (size_t i = 0; i < count; i++) {
        const uint32_t tone = work.events[bars[i].first].tone;
        if (at_any_pitch && bars[i].count >= A_MOTIF)
            bars[i].base = work.tones[tone].pitch.place;
        stir_bar(&work, &bars[i]);
    }
    return count;
}

muta_status muta_sense_returns(const muta_passage *passage, const muta_line *line,
                               bool at_any_pitch, muta_arena *arena, uint32_t **first)
{
    const muta_texture work = muta_passage_work(passage);
    struct bar *const bars = muta_arena_take_array(arena, line->event_count + 1, sizeof *bars);

    *first = muta_arena_take_array(arena, line->event_count + 1, sizeof **first);
    if (!bars || !*first)
        return MUTA_E_MEMORY;
    const size_t count = find_bars(passage, line, at_any_pitch, bars);
    muta_sort(bars, count, sizeof *bars, by_hash);
    for (size_t i = 0; i < count; i++) {
        const struct bar *model = &bars[i];
        while (model > bars && is_same_bar(&work, model - 1, &bars[i]))
            model--;
        for (uint32_t j = 0; j < bars[i].count; j++)
            (*first)[bars[i].first - line->event + j] = model->first + j;
    }
    return MUTA_OK;
}
