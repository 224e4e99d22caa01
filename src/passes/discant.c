/* discant.c: the rhythm of a tune over other chords, and its tones as near as these let them. */
#include "passes/discant.h"
#include "base/search.h"
#include "base/vec.h"
#include "score/sense.h"
#include "study/heard.h"
#include "theory/part_writing.h"
#include <stdlib.h>

enum {
    WAYS = 17,   /* pitches that a tone may have: so many steps about the tune's own */
    SHARE = 400, /* of what rules of part-writing weigh, in thousandths */
    /* Costs in thousandths, set by hand: of a tone by itself, */
    MOVED = 300,           /* each step away from the tune's own */
    FOREIGN_STRONG = 6000, /* in the middle of the bar or on the down-beat, or with the chord */
    FOREIGN_ON_BEAT = 500, /* on another beat */
    FOREIGN = 150,         /* off it */
    HELD_ASTRAY = 3000,    /* held into a chord that does not have it */
    BASS_AGAIN = 1000,     /* on a down-beat, the bass has it too */
    OPEN_END = 4000,       /* the last tone is neither the root nor the third */
    /* and of the way from one to the next. */
    OTHERWISE = 300,      /* each step by which the tune went in another way */
    SAID_AGAIN = 600,     /* the tune did not */
    OTHER_WAY = 400,      /* it goes up where that went down */
    FOREIGN_LEAPT = 5000, /* a foreign tone left or reached by leap */
    WIDE = 1500,          /* beyond an octave */
};

struct note {
    muta_fraction onset; /* in the result */
    muta_fraction end;
    muta_pitch was;  /* in the tune */
    muta_pitch like; /* the same in the key of the chords */
    const muta_passage_chord *chord;
    const muta_passage_chord *last; /* that sounds as it ends */
    muta_level level;
    bool is_strong;
};

struct leading {
    const muta_discant *discant;
    muta_arena arena;
    MUTA_VEC(struct note) notes;
};

/* ---- the rhythm ---- */

static const muta_passage_chord *chord_at(const muta_discant *discant, muta_fraction time)
{
    const muta_passage_chord *found = &discant->chords[0];

    for (size_t i = 0; i < discant->chord_count; i++)
        if (muta_fraction_compare(discant->chords[i].from, time) <= 0)
            found = &discant->chords[i];
    return found;
}

/* The key of a chord, as a signature. */
static muta_key key_of(const muta_passage_chord *chord)
{
    return (muta_key){chord->tonic - (chord->is_minor ? 3 : 0),
                      chord->is_minor ? MUTA_MINOR : MUTA_MAJOR};
}

/* A pitch on its place, as the key has it. */
static muta_pitch in_key(muta_pitch pitch, muta_key key)
{
    const int step = (int)(((pitch.place % 7) + 7) % 7);

    return (muta_pitch){pitch.place, muta_key_sharps(key.fifths, step)};
}

static muta_status add_note(struct leading *leading, const muta_discant_bar *bar, uint32_t event)
{
    const muta_discant *const discant = leading->discant;
    const muta_texture work = muta_passage_work(discant->in);
    const muta_event *const of = &work.events[event];
    const muta_fraction onset =
        muta_fraction_add(bar->from, muta_fraction_subtract(of->onset, bar->like));
    struct note *note;
    muta_beat beat;

    if (muta_fraction_compare(onset, bar->to) >= 0)
        return MUTA_OK;
    note = MUTA_PUSH(&leading->arena, &leading->notes);
    if (!note)
        return MUTA_E_MEMORY;
    muta_passage_beat_at(discant->in, of->onset, &beat);
    *note = (struct note){.onset = onset,
                          .end = muta_fraction_min(muta_fraction_add(onset, of->duration),
                                                   discant->bars[discant->bar_count - 1].to),
                          .was = muta_texture_top(&work, event)->pitch,
                          .chord = chord_at(discant, onset)};
    if (leading->notes.count > 1)
        note[-1].end = muta_fraction_min(note[-1].end, onset);
    note->like = in_key(note->was, key_of(note->chord));
    note->level = muta_fraction_compare(onset, bar->from) == 0 ? MUTA_LEVEL_BAR
                  : of->level < MUTA_LEVEL_HALF                ? MUTA_LEVEL_HALF
                                                               : (muta_level)of->level;
    note->is_strong =
        note->level <= MUTA_LEVEL_HALF || muta_fraction_compare(note->chord->from, onset) == 0;
    return MUTA_OK;
}

/* The last tone, if it is in the last bar, fills that. */
static void rest_at_end(struct leading *leading)
{
    const muta_discant_bar *const bar = &leading->discant->bars[leading->discant->bar_count - 1];
    struct note *const last = &leading->notes.at[leading->notes.count - 1];

    if (muta_fraction_compare(last->onset, bar->from) < 0)
        return;
    last->onset = bar->from;
    last->end = bar->to;
    if (leading->notes.count > 1)
        last[-1].end = muta_fraction_min(last[-1].end, bar->from);
    last->level = MUTA_LEVEL_BAR;
    last->is_strong = true;
    last->chord = chord_at(leading->discant, bar->from);
}

static muta_status find_notes(struct leading *leading)
{
    const muta_discant *const discant = leading->discant;
    const muta_texture work = muta_passage_work(discant->in);
    const uint32_t end = discant->tune->event + discant->tune->event_count;

    for (size_t i = 0; i < discant->bar_count; i++) {
        const muta_discant_bar *const bar = &discant->bars[i];
        const muta_fraction to =
            muta_fraction_add(bar->like, muta_fraction_subtract(bar->to, bar->from));
        for (uint32_t event = muta_line_first_from(work.events, discant->tune, bar->like);
             event < end && muta_fraction_compare(work.events[event].onset, to) < 0; event++)
            if (muta_texture_is_plain(&work, event) &&
                !(discant->ends && i + 1 == discant->bar_count && leading->notes.count > 0 &&
                  muta_fraction_compare(leading->notes.at[leading->notes.count - 1].onset,
                                        bar->from) >= 0))
                MUTA_TRY(add_note(leading, bar, event));
    }
    if (discant->ends && leading->notes.count > 0)
        rest_at_end(leading);
    for (size_t i = 0; i < leading->notes.count; i++) {
        struct note *const note = &leading->notes.at[i];
        note->last = chord_at(discant, muta_fraction_subtract(note->end, muta_fraction_of(1, 64)));
    }
    return MUTA_OK;
}

/* ---- the tones ---- */

static muta_pitch candidate(const struct note *note, uint32_t nth)
{
    const muta_sense sense = {note->chord, key_of(note->chord), true};

    return muta_sense_step(&sense, note->like, (int32_t)nth - WAYS / 2);
}

static int bass_class(const muta_passage_chord *chord)
{
    return muta_fifths_class(chord->value.root +
                             muta_chord_row_of(chord->value.kind)->fifths[chord->value.bass]);
}

static bool is_foreign(const struct note *note, muta_pitch pitch)
{
    return !muta_passage_chord_has(note->chord, pitch);
}

static int64_t price_tone(const struct leading *leading, size_t nth, uint32_t way, muta_pitch pitch)
{
    const struct note *const note = &leading->notes.at[nth];
    const int class = muta_semitones_class(muta_pitch_semitones(pitch));
    const int root = muta_fifths_class(note->chord->value.root);
    int64_t price = (int64_t)abs((int)way - WAYS / 2) * MOVED;

    if (is_foreign(note, pitch))
        price += note->is_strong                  ? FOREIGN_STRONG
                 : note->level <= MUTA_LEVEL_BEAT ? FOREIGN_ON_BEAT
                                                  : FOREIGN;
    if (note->last != note->chord && !muta_passage_chord_has(note->last, pitch))
        price += HELD_ASTRAY;
    if (note->level == MUTA_LEVEL_BAR && class == bass_class(note->chord) &&
        nth + 1 < leading->notes.count)
        price += BASS_AGAIN;
    if (nth + 1 == leading->notes.count && class != root &&
        muta_chord_tone(note->chord->value.kind, class - root) != 1)
        price += OPEN_END;
    return price;
}

static int32_t leading_of(const struct note *note)
{
    return muta_chord_leading(note->chord->value.kind, note->chord->value.root, note->chord->tonic);
}

static bool is_leading(const struct note *note, muta_pitch pitch)
{
    return leading_of(note) != MUTA_NO_LEADING && muta_pitch_fifths(pitch) == leading_of(note);
}

/* Whether the chord changes to one on the tone above its leading tone. */
static bool goes_home(const struct note *note, const struct note *next)
{
    return note->chord != next->chord && next->chord->value.root == leading_of(note) - 5;
}

static int64_t price_step(const struct note *before, const struct note *note, muta_pitch from,
                          muta_pitch to)
{
    const int32_t by = to.place - from.place;
    const int32_t was = note->was.place - before->was.place;
    int64_t price = (int64_t)abs((int)(by - was)) * OTHERWISE;

    if (by == 0 && was != 0)
        price += SAID_AGAIN;
    if ((by > 0 && was < 0) || (by < 0 && was > 0))
        price += OTHER_WAY;
    if (abs((int)by) > 1 && (is_foreign(before, from) || is_foreign(note, to)))
        price += FOREIGN_LEAPT;
    if (abs((int)by) > 7)
        price += WIDE;
    if (muta_pitch_is_augmented(from, to))
        price += muta_rule_price(MUTA_RULE_AUGMENTED, SHARE);
    if (is_leading(before, from) && goes_home(before, note) && by != 1)
        price += muta_rule_price(MUTA_RULE_LEADING, SHARE);
    return price + muta_parallel_price(muta_semitones_class(muta_pitch_semitones(from)),
                                       muta_semitones_class(muta_pitch_semitones(to)),
                                       bass_class(before->last), bass_class(note->chord), SHARE);
}

static uint32_t count_ways(void *context, size_t step)
{
    (void)context;
    (void)step;
    return WAYS;
}

static int64_t price_way(void *context, size_t step, uint32_t from, uint32_t to)
{
    const struct leading *const leading = context;
    const struct note *const note = &leading->notes.at[step];
    const muta_pitch pitch = candidate(note, to);
    const int64_t price = price_tone(leading, step, to, pitch);

    return from == MUTA_NO_CANDIDATE
               ? price
               : price + price_step(&note[-1], note, candidate(&note[-1], from), pitch);
}

/* ---- all of it ---- */

static muta_status lead(struct leading *leading, muta_passage *to, size_t *stayed)
{
    const muta_search search = {leading, leading->notes.count, count_ways, price_way};
    muta_answer answer;
    size_t found;

    MUTA_TRY(muta_search_best(&leading->arena, &search, 1, &answer, &found));
    for (size_t i = 0; found > 0 && i < leading->notes.count; i++) {
        const struct note *const note = &leading->notes.at[i];
        const muta_pitch pitch = candidate(note, answer.taken[i]);
        MUTA_TRY(muta_passage_put_new(to,
                                      muta_fraction_subtract(note->onset, leading->discant->from),
                                      muta_fraction_subtract(note->end, note->onset), &pitch, 1));
        muta_event *const event = &muta_passage_events(to)[to->work.events.count - 1];
        event->level = note->level;
        event->depth = 1;
        event->closes = i + 1 == leading->notes.count;
        *stayed += muta_pitch_is_equal(pitch, note->was);
    }
    return MUTA_OK;
}

muta_status muta_discant_put(const muta_discant *discant, muta_passage *to, size_t *stayed,
                             size_t *count)
{
    struct leading leading = {.discant = discant};

    *stayed = 0;
    muta_status status = find_notes(&leading);
    if (status == MUTA_OK && leading.notes.count > 0)
        status = lead(&leading, to, stayed);
    *count = leading.notes.count;
    muta_arena_clear(&leading.arena);
    return status;
}
