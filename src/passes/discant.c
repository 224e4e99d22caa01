/* discant.c: a tune over other chords: its tones as near as these let them. */
#include "passes/discant.h"
#include "base/search.h"
#include "base/vec.h"
#include "score/sense.h"
#include "study/heard.h"
#include "theory/part_writing.h"
#include <stdlib.h>
#include <string.h>

enum {
    WAYS = 17,   /* pitches that a tone may have: so many steps about the tune's own */
    SHARE = 400, /* of what rules of part-writing weigh, in thousandths */
    /* Costs in thousandths, set by hand: of a tone by itself, */
    MOVED = 180,           /* each step away from the tune's own, */
    IDLE = 350,            /* where that is a tone of the chord */
    FOREIGN_STRONG = 6000, /* on the down-beat, in the middle of the bar, with the chord, or long */
    LEANING = 300,         /* the same where the tune leant too */
    FOREIGN_ON_BEAT = 500, /* on another beat */
    FOREIGN = 150,         /* off it */
    HELD_ASTRAY = 3000,    /* held into a chord that does not have it */
    BASS_AGAIN = 1400,     /* on a down-beat, the bass has it too, */
    OWN_AGAIN = 800,       /* and it is the tune's own */
    OPEN_END = 4000,       /* the last tone is neither the root nor the third, */
    THIRD_END = 1200,      /* or the third */
    /* and of the way from one to the next. */
    OTHERWISE = 400,      /* each step by which the tune went in another way */
    SAID_AGAIN = 600,     /* the tune did not, */
    NOT_AGAIN = 600,      /* or did, over the same chord, and it does not */
    PREPARED = 4500,      /* so much less a foreign tone on a beat is where it is held on */
    LEAPT_END = 900,      /* the last tone is not reached by step */
    OTHER_WAY = 400,      /* it goes up where that went down */
    FOREIGN_LEAPT = 5000, /* a foreign tone left or reached by leap */
    WIDE = 1500,          /* beyond an octave */
    OTHER_FORM = 2000,    /* the same letter with another sign */
};

struct note {
    muta_fraction onset;
    muta_fraction end;
    uint32_t tone;   /* of the passage */
    muta_pitch was;  /* before */
    muta_pitch like; /* the same in the key of the chords */
    const muta_passage_chord *chord;
    const muta_passage_chord *last; /* that sounds as it ends */
    muta_level level;
    bool is_strong;
    bool is_long; /* more than a beat */
    bool closes;  /* a phrase */
    bool leans;   /* on the next */
    bool leads;   /* by a semitone that is not of the key, up to the next */
};

struct leading {
    muta_passage *passage;
    muta_arena arena;
    MUTA_VEC(struct note) notes; /* in order of time */
};

/* ---- the tune ---- */

static const muta_passage_chord *chord_at(const muta_passage *passage, muta_fraction time)
{
    const muta_passage_chord *found = &passage->chords[0];

    for (size_t i = 0; i < passage->chord_count; i++)
        if (muta_fraction_compare(passage->chords[i].from, time) <= 0)
            found = &passage->chords[i];
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

static muta_status add_note(struct leading *leading, uint32_t tone)
{
    const muta_texture work = muta_passage_work(leading->passage);
    const muta_event *const event = &work.events[work.tones[tone].event];
    struct note *const note = MUTA_PUSH(&leading->arena, &leading->notes);
    muta_beat beat;

    if (!note)
        return MUTA_E_MEMORY;
    muta_passage_beat_at(leading->passage, event->onset, &beat);
    *note = (struct note){.onset = event->onset,
                          .end = muta_fraction_add(event->onset, work.tones[tone].duration),
                          .tone = tone,
                          .was = work.tones[tone].pitch,
                          .chord = chord_at(leading->passage, event->onset),
                          .level = (muta_level)event->level,
                          .closes = event->closes,
                          .leans = event->leans};
    note->last =
        chord_at(leading->passage, muta_fraction_subtract(note->end, muta_fraction_of(1, 64)));
    note->like = in_key(note->was, key_of(note->chord));
    note->is_long = muta_fraction_compare(work.tones[tone].duration, beat.beat) > 0;
    note->is_strong = note->level <= MUTA_LEVEL_HALF ||
                      muta_fraction_compare(note->chord->from, event->onset) == 0;
    return MUTA_OK;
}

static int in_order(const void *a, const void *b)
{
    const struct note *const one = a;
    const struct note *const two = b;
    const int by_time = muta_fraction_compare(one->onset, two->onset);

    return by_time != 0 ? by_time : (int)(two->was.place - one->was.place);
}

/* Whether a tone was sharpened towards the next. */
static bool leads(const struct leading *leading, const struct note *note)
{
    const int step = (int)(((note->was.place % 7) + 7) % 7);
    const muta_tone *const tone = &leading->passage->work.tones.at[note->tone];

    return note[1].was.place == note->was.place + 1 &&
           muta_pitch_semitones(note[1].was) - muta_pitch_semitones(note->was) == 1 &&
           note->was.alter > muta_key_sharps(muta_passage_fifths(leading->passage, tone), step);
}

/* Its tones in order of time, the highest of those that begin together. */
static muta_status find_notes(struct leading *leading)
{
    const muta_texture work = muta_passage_work(leading->passage);
    size_t kept = 0;

    for (uint32_t i = 0; i < work.tone_count; i++)
        if (work.tones[i].is_tune && muta_texture_is_plain(&work, work.tones[i].event))
            MUTA_TRY(add_note(leading, i));
    muta_sort(leading->notes.at, leading->notes.count, sizeof *leading->notes.at, in_order);
    for (size_t i = 0; i < leading->notes.count; i++)
        if (kept == 0 || muta_fraction_compare(leading->notes.at[kept - 1].onset,
                                               leading->notes.at[i].onset) != 0)
            leading->notes.at[kept++] = leading->notes.at[i];
    leading->notes.count = kept;
    for (size_t i = 0; i + 1 < kept; i++)
        leading->notes.at[i].leads = leads(leading, &leading->notes.at[i]);
    return MUTA_OK;
}

/* ---- the tones ---- */

static muta_pitch candidate(const struct note *note, uint32_t nth)
{
    enum {
        A_SHARP = 100000 /* millicents */
    };
    const muta_sense sense = {note->chord, key_of(note->chord), true};
    muta_pitch pitch = muta_sense_step(&sense, note->like, (int32_t)nth - WAYS / 2);

    if (note->leads)
        pitch.alter += A_SHARP * (muta_pitch_semitones(muta_sense_step(&sense, pitch, 1)) - 1 -
                                  muta_pitch_semitones(pitch));
    return pitch;
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

/* Whether a foreign tone would be heard as one that stands. */
static bool is_exposed(const struct note *note)
{
    return note->is_strong || note->is_long || note->closes;
}

static int64_t price_tone(const struct leading *leading, size_t nth, uint32_t way, muta_pitch pitch)
{
    const struct note *const note = &leading->notes.at[nth];
    const int class = muta_semitones_class(muta_pitch_semitones(pitch));
    const int root = muta_fifths_class(note->chord->value.root);
    int64_t price = (int64_t)abs((int)way - WAYS / 2) * MOVED;

    if (way != WAYS / 2 && !is_foreign(note, note->like))
        price += IDLE;
    if (is_foreign(note, pitch))
        price += is_exposed(note)                 ? (note->leans ? LEANING : FOREIGN_STRONG)
                 : note->level <= MUTA_LEVEL_BEAT ? FOREIGN_ON_BEAT
                                                  : FOREIGN;
    if (note->last != note->chord && !muta_passage_chord_has(note->last, pitch))
        price += HELD_ASTRAY;
    if (note->level == MUTA_LEVEL_BAR && class == bass_class(note->chord) &&
        nth + 1 < leading->notes.count)
        price += way == WAYS / 2 ? OWN_AGAIN : BASS_AGAIN;
    if (nth + 1 == leading->notes.count && class != root)
        price += muta_chord_tone(note->chord->value.kind, class - root) == 1 ? THIRD_END : OPEN_END;
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
    if (by != 0 && was == 0 && before->chord == note->chord)
        price += NOT_AGAIN;
    if ((by > 0 && was < 0) || (by < 0 && was > 0))
        price += OTHER_WAY;
    if (by == 0 && from.alter == to.alter && is_foreign(note, to) && is_exposed(note) &&
        !note->leans && !is_foreign(before, from))
        price -= PREPARED;
    if (is_foreign(before, from) && is_exposed(before) && by != -1 && by != 0)
        price += FOREIGN_LEAPT;
    if (abs((int)by) > 1 && (is_foreign(before, from) || is_foreign(note, to)))
        price += FOREIGN_LEAPT;
    if (abs((int)by) > 7)
        price += WIDE;
    if (by == 0 && from.alter != to.alter)
        price += OTHER_FORM;
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

    if (from == MUTA_NO_CANDIDATE)
        return price;
    const muta_pitch before = candidate(&note[-1], from);
    const bool ends = step + 1 == leading->notes.count;
    const bool leaps = abs((int)(pitch.place - before.place)) > 1;
    return price + price_step(&note[-1], note, before, pitch) + (ends && leaps ? LEAPT_END : 0);
}

/* ---- all of it ---- */

/* The note that goes with a tone of the tune: it begins with it, or is the first behind. */
static const struct note *note_with(const struct leading *leading, muta_fraction onset)
{
    for (size_t i = 0; i < leading->notes.count; i++)
        if (muta_fraction_compare(leading->notes.at[i].onset, onset) >= 0)
            return &leading->notes.at[i];
    return NULL;
}

/* Grace notes, and what has the tune with another line, go with it. */
static void lead_along(const struct leading *leading, const bool *is_led)
{
    const muta_texture work = muta_passage_work(leading->passage);

    for (uint32_t i = 0; i < work.tone_count; i++) {
        muta_tone *const tone = &muta_passage_tones(leading->passage)[i];
        const muta_event *const event = &work.events[tone->event];
        const struct note *const note =
            tone->is_tune && !is_led[i] ? note_with(leading, event->onset) : NULL;
        if (!note)
            continue;
        const muta_sense sense = {note->chord, key_of(note->chord), true};
        const int32_t steps = work.tones[note->tone].pitch.place - note->was.place;
        muta_passage_set_pitch(leading->passage, tone,
                               muta_sense_step(&sense, in_key(tone->pitch, sense.key), steps));
    }
}

static muta_status lead(struct leading *leading, size_t *stayed)
{
    const muta_search search = {leading, leading->notes.count, count_ways, price_way};
    const size_t tones = muta_passage_work(leading->passage).tone_count;
    bool *const is_led = muta_arena_take_array(&leading->arena, tones + 1, sizeof *is_led);
    muta_answer answer;
    size_t found;

    if (!is_led)
        return MUTA_E_MEMORY;
    memset(is_led, 0, (tones + 1) * sizeof *is_led);
    MUTA_TRY(muta_search_best(&leading->arena, &search, 1, &answer, &found));
    for (size_t i = 0; found > 0 && i < leading->notes.count; i++) {
        const struct note *const note = &leading->notes.at[i];
        const muta_pitch pitch = candidate(note, answer.taken[i]);
        muta_passage_set_pitch(leading->passage, &muta_passage_tones(leading->passage)[note->tone],
                               pitch);
        is_led[note->tone] = true;
        *stayed += muta_pitch_is_equal(pitch, note->was);
    }
    lead_along(leading, is_led);
    return MUTA_OK;
}

muta_status muta_discant_lead(muta_passage *passage, size_t *stayed, size_t *count)
{
    struct leading leading = {.passage = passage};

    *stayed = 0;
    muta_status status = passage->chord_count > 0 ? find_notes(&leading) : MUTA_OK;
    if (status == MUTA_OK && leading.notes.count > 0)
        status = lead(&leading, stayed);
    *count = leading.notes.count;
    muta_arena_clear(&leading.arena);
    return status;
}
