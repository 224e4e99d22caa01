/* choir.c: voices with a line each, set anew under their tune. */
#include "passes/choir.h"
#include "base/search.h"
#include "base/vec.h"
#include "score/sense.h"
#include "study/study.h"
#include "theory/voicing.h"
#include <stdlib.h>

enum {
    FEWEST = 3,     /* voices, the tune's with them */
    NEARLY_ALL = 5, /* one chord in so many may lack a voice */
    REACH = 2,      /* steps beyond what a voice had */
    AN_OCTAVE = 7,  /* steps: the least range of a voice */
    LEAN = 64,      /* voicings of a chord that are looked at */
    WAYS = 15,      /* pitches that a tone between may have: so many steps about the chord's tone */
    SHARE = 600,    /* of what rules of part-writing weigh for the tones between, in thousandths */
    /* Costs of these, in thousandths; set by hand. */
    FOREIGN_ON_BEAT = 3000,
    FOREIGN = 250,
    FOREIGN_LEAPT = 6000, /* a foreign tone that is not reached and left by step */
    SAID_AGAIN = 700,     /* a tone that the voice did not say twice before */
    BY_THIRD = 150,
    BY_LEAP = 350,   /* each step beyond a third */
    OTHER_WAY = 250, /* it goes up where it went down */
    OUT_OF_RANGE = 3000,
    ROUNDS = 3,  /* of leading, all but the first when each voice knows what the others do */
    RUBS = 1500, /* a foreign tone against a foreign tone of another voice, or on its very tone */
};

/* One voice; the highest has the tune. */
struct voice {
    const muta_line *line;
    int64_t height; /* of its tones together, in semitones, over their number */
};

/* Where a row of voicings stands in time. */
struct place {
    size_t chord;    /* of `out` */
    bool is_changed; /* else it stands as it did, as it begins or as it ends */
};

struct choir {
    const muta_passage *in;
    muta_passage *out;
    muta_texture work; /* of `out` */
    muta_arena arena;
    struct voice voices[MUTA_VOICES];
    muta_ensemble ensemble;
    MUTA_VEC(muta_harmony_slot) slots;
    MUTA_VEC(struct place) places; /* of the slots */
    muta_voiced *voiced;           /* by slot */
};

/* ---- the voices ---- */

static muta_fraction end_of(const muta_event *event)
{
    return muta_fraction_add(event->onset, event->duration);
}

/* Whether a line is a voice: one tone at a time; all of the tune's, or none. */
static bool is_voice(const muta_texture *work, const muta_line *line, bool *is_tune)
{
    *is_tune = work->tones[work->events[line->event].tone].is_tune;
    for (uint32_t i = line->event; i < line->event + line->event_count; i++) {
        const muta_event *const event = &work->events[i];
        const muta_tone *const tone = &work->tones[event->tone];
        if (event->tone_count != 1 || tone->is_fixed || tone->is_tune != *is_tune)
            return false;
    }
    return true;
}

static int64_t height_of(const muta_texture *work, const muta_line *line)
{
    int64_t semitones = 0;

    for (uint32_t i = line->event; i < line->event + line->event_count; i++)
        semitones += muta_pitch_semitones(work->tones[work->events[i].tone].pitch);
    return semitones / line->event_count;
}

static void add_voice(struct choir *choir, const muta_line *line)
{
    const int64_t height = height_of(&choir->work, line);
    uint8_t at = choir->ensemble.count++;

    for (; at > 0 && choir->voices[at - 1].height > height; at--)
        choir->voices[at] = choir->voices[at - 1];
    choir->voices[at] = (struct voice){line, height};
}

/* The tone that a voice has at a moment, or had last, or has first. */
static const muta_tone *tone_at(const struct choir *choir, uint8_t voice, muta_fraction time)
{
    const muta_texture *const work = &choir->work;
    const muta_line *const line = choir->voices[voice].line;
    uint32_t at = muta_line_first_from(work->events, line, time);

    while (at < line->event + line->event_count &&
           muta_fraction_compare(work->events[at].onset, time) == 0)
        at++;
    while (at > line->event + 1 && work->events[at - 1].is_grace)
        at--;
    return &work->tones[work->events[at > line->event ? at - 1 : at].tone];
}

static bool sounds(const struct choir *choir, const muta_tone *tone, muta_fraction time)
{
    const muta_event *const event = &choir->work.events[tone->event];

    return muta_fraction_compare(event->onset, time) <= 0 &&
           muta_fraction_compare(end_of(event), time) > 0;
}

/* Whether the voices sing together nearly all the time. */
static bool are_together(const struct choir *choir)
{
    size_t lacking = 0;

    for (size_t i = 0; i < choir->out->chord_count; i++) {
        const muta_fraction from = choir->out->chords[i].from;
        bool all = true;
        for (uint8_t voice = 0; voice < choir->ensemble.count; voice++)
            all = all && sounds(choir, tone_at(choir, voice, from), from);
        lacking += !all;
    }
    return lacking * NEARLY_ALL <= choir->out->chord_count;
}

static bool find_voices(struct choir *choir)
{
    const muta_line *tune = NULL;

    for (size_t i = 0; i < choir->work.line_count; i++) {
        const muta_line *const line = &choir->work.lines[i];
        bool is_tune;
        if (line->event_count == 0)
            continue;
        if (choir->ensemble.count == MUTA_VOICES || !is_voice(&choir->work, line, &is_tune) ||
            (is_tune && tune))
            return false;
        tune = is_tune ? line : tune;
        add_voice(choir, line);
    }
    return choir->ensemble.count >= FEWEST && tune &&
           choir->voices[choir->ensemble.count - 1].line == tune && are_together(choir);
}

/* It does not leave the range of its instrument for that. */
static void stay_playable(struct choir *choir, uint8_t voice)
{
    const uint32_t part = choir->voices[voice].line->part;
    muta_ensemble *const ensemble = &choir->ensemble;
    muta_instrument instrument;

    if (!muta_part_instrument(&muta_passage_score(choir->in)->parts[part], &instrument))
        return;
    if (muta_pitch_semitones(ensemble->low[voice]) < muta_pitch_semitones(instrument.low))
        ensemble->low[voice] = instrument.low;
    if (muta_pitch_semitones(ensemble->high[voice]) > muta_pitch_semitones(instrument.high))
        ensemble->high[voice] = instrument.high;
}

/* A voice goes little beyond what it had. */
static void find_ranges(struct choir *choir)
{
    choir->ensemble.lean = LEAN;
    for (uint8_t voice = 0; voice < choir->ensemble.count; voice++) {
        const muta_line *const line = choir->voices[voice].line;
        muta_pitch low = {INT32_MAX, 0};
        muta_pitch high = {INT32_MIN, 0};
        for (uint32_t i = line->event; i < line->event + line->event_count; i++) {
            const int32_t place = choir->work.tones[choir->work.events[i].tone].pitch.place;
            low.place = place < low.place ? place : low.place;
            high.place = place > high.place ? place : high.place;
        }
        const int32_t lacks = AN_OCTAVE - (high.place - low.place);
        low.place -= lacks > 2 * REACH ? lacks / 2 : REACH;
        high.place += lacks > 2 * REACH ? lacks / 2 : REACH;
        choir->ensemble.low[voice] = low;
        choir->ensemble.high[voice] = high;
        stay_playable(choir, voice);
    }
}

/* ---- the chords ---- */

/* The first event of a voice behind the beginning of a chord, in it; the line's end for none. */
static uint32_t strikes_in(const struct choir *choir, uint8_t voice,
                           const muta_passage_chord *chord)
{
    const muta_line *const line = choir->voices[voice].line;
    const uint32_t end = line->event + line->event_count;
    uint32_t at = muta_line_first_from(choir->work.events, line, chord->from);

    while (at < end && (choir->work.events[at].is_grace ||
                        muta_fraction_compare(choir->work.events[at].onset, chord->from) <= 0))
        at++;
    return at < end && muta_fraction_compare(choir->work.events[at].onset, chord->to) < 0 ? at
                                                                                          : end;
}

static bool is_held(const struct choir *choir, uint8_t voice, const muta_passage_chord *chord)
{
    const muta_tone *const tone = tone_at(choir, voice, chord->from);

    return sounds(choir, tone, chord->from) &&
           muta_fraction_compare(choir->work.events[tone->event].onset, chord->from) < 0;
}

static muta_status add_slot(struct choir *choir, size_t nth, const muta_harmony_slot *made,
                            bool is_changed)
{
    muta_harmony_slot *const slot = MUTA_PUSH(&choir->arena, &choir->slots);
    struct place *const added = MUTA_PUSH(&choir->arena, &choir->places);

    if (!slot || !added)
        return MUTA_E_MEMORY;
    *slot = *made;
    *added = (struct place){nth, is_changed};
    return MUTA_OK;
}

/* How all voices stand at a moment. */
static void give(const struct choir *choir, muta_fraction time, muta_harmony_slot *slot)
{
    slot->is_given = true;
    for (uint8_t voice = 0; voice < choir->ensemble.count; voice++)
        slot->given[voice] = tone_at(choir, voice, time)->pitch;
}

/* Just before a moment. */
static muta_fraction before(muta_fraction time)
{
    return muta_fraction_subtract(time, muta_fraction_of(1, 64));
}

/* A chord that stays, as it begins and, where it is another then, as it ends. */
static muta_status add_given(struct choir *choir, size_t nth, muta_harmony_slot slot)
{
    const muta_passage_chord *const chord = &choir->out->chords[nth];
    muta_harmony_slot end = slot;

    give(choir, chord->from, &slot);
    MUTA_TRY(add_slot(choir, nth, &slot, false));
    give(choir, before(chord->to), &end);
    end.held = 0;
    for (uint8_t voice = 0; voice < choir->ensemble.count; voice++)
        if (!muta_pitch_is_equal(end.given[voice], slot.given[voice]))
            return add_slot(choir, nth, &end, false);
    return MUTA_OK;
}

static muta_status add_chord(struct choir *choir, size_t nth)
{
    const muta_passage_chord *const now = &choir->out->chords[nth];
    const muta_passage_chord *const old = muta_passage_chord_at(choir->in, now->from);
    const uint8_t top = (uint8_t)(choir->ensemble.count - 1);
    muta_harmony_slot slot = {.value = now->value,
                              .leading =
                                  muta_chord_leading(now->value.kind, now->value.root, now->tonic)};

    for (uint8_t voice = 0; voice < top; voice++) {
        if (!is_held(choir, voice, now))
            continue;
        const muta_line *const line = choir->voices[voice].line;
        slot.held |= (uint8_t)(1U << voice);
        if (strikes_in(choir, voice, now) < line->event + line->event_count)
            slot.falls |= (uint8_t)(1U << voice);
    }
    if (old && muta_chord_is_equal(old->value, now->value))
        return add_given(choir, nth, slot);
    slot.has_top = true;
    slot.top = tone_at(choir, top, now->from)->pitch;
    slot.left = tone_at(choir, top, before(now->to))->pitch;
    slot.has_left = !muta_pitch_is_equal(slot.left, slot.top);
    return add_slot(choir, nth, &slot, true);
}

/* ---- the tones between ---- */

/* What lies between two chords in one voice: its tones behind the first, which is set. */
struct way {
    struct choir *choir;
    uint8_t voice;
    const muta_passage_chord *chord;
    muta_sense sense;
    uint32_t first; /* its events */
    size_t count;
    muta_pitch from;        /* what the voice has before them */
    muta_pitch to;          /* and behind them, */
    bool has_to;            /* if anything */
    const muta_pitch *were; /* by tone of the passage */
};

static muta_pitch candidate(const struct way *way, uint32_t nth)
{
    return muta_sense_step(&way->sense, way->from, (int32_t)nth - WAYS / 2);
}

static bool is_foreign(const struct way *way, muta_pitch pitch)
{
    return !muta_passage_chord_has(way->chord, pitch);
}

static bool is_step(muta_pitch from, muta_pitch to)
{
    return abs(to.place - from.place) == 1;
}

/* What a step or leap costs by itself. */
static int64_t price_motion(const struct way *way, muta_pitch from, muta_pitch to, int32_t went)
{
    const int32_t by = to.place - from.place;
    int64_t price = 0;

    if (by == 0)
        price += went == 0 ? 0 : SAID_AGAIN;
    else if (abs(by) > 1)
        price += BY_THIRD + (int64_t)(abs(by) - 2) * BY_LEAP;
    if (by != 0 && went != 0 && (by > 0) != (went > 0))
        price += OTHER_WAY;
    if (muta_pitch_is_augmented(from, to))
        price += muta_rule_price(MUTA_RULE_AUGMENTED, SHARE);
    if (!is_step(from, to) && by != 0 && (is_foreign(way, from) || is_foreign(way, to)))
        price += FOREIGN_LEAPT;
    return price;
}

/* Fifths or octaves of two voices; whichever lies higher. */
static int64_t price_parallel(int from, int to, int other_from, int other_to)
{
    return other_to < to ? muta_parallel_price(from, to, other_from, other_to, SHARE)
                         : muta_parallel_price(other_from, other_to, from, to, SHARE);
}

/* How a pitch goes with the other voices at its moment, and from those just before. */
static int64_t price_with(const struct way *way, muta_pitch from, muta_fraction is, muta_pitch to)
{
    const struct choir *const choir = way->choir;
    const int low = muta_pitch_semitones(from);
    const int here = muta_pitch_semitones(to);
    int64_t price = 0;

    for (uint8_t i = 0; i < choir->ensemble.count; i++) {
        const muta_tone *const tone = tone_at(choir, i, is);
        if (i == way->voice || !sounds(choir, tone, is))
            continue;
        const int other = muta_pitch_semitones(tone->pitch);
        const int other_from = muta_pitch_semitones(tone_at(choir, i, before(is))->pitch);
        price += price_parallel(low, here, other_from, other);
        if (i < way->voice ? other > here : other < here)
            price += muta_rule_price(MUTA_RULE_CROSSING, SHARE);
        if (is_foreign(way, to) &&
            (other == here || (is_foreign(way, tone->pitch) && abs(other - here) % 12 <= 2)))
            price += RUBS;
    }
    return price;
}

static int64_t price_at(const struct way *way, size_t step, muta_pitch from, muta_pitch to)
{
    const struct choir *const choir = way->choir;
    const muta_event *const event = &choir->work.events[way->first + step];
    const muta_pitch was = way->were[event->tone];
    const int32_t went =
        was.place - way->were[choir->work.events[way->first + step - 1].tone].place;
    int64_t price = price_motion(way, from, to, went);

    if (is_foreign(way, to))
        price += event->level <= MUTA_LEVEL_BEAT ? FOREIGN_ON_BEAT : FOREIGN;
    if (to.place < choir->ensemble.low[way->voice].place ||
        to.place > choir->ensemble.high[way->voice].place)
        price += OUT_OF_RANGE;
    price += price_with(way, from, event->onset, to);
    if (step + 1 < way->count || !way->has_to)
        return price;
    const muta_event *const next = event + 1;
    return price + price_motion(way, to, way->to, 0) -
           (to.place == way->to.place ? SAID_AGAIN / 2 : 0) +
           price_with(way, to, next->onset, way->to);
}

static uint32_t count_ways(void *context, size_t step)
{
    (void)context;
    (void)step;
    return WAYS;
}

static int64_t price_way(void *context, size_t step, uint32_t from, uint32_t to)
{
    const struct way *const way = context;

    return price_at(way, step, from == MUTA_NO_CANDIDATE ? way->from : candidate(way, from),
                    candidate(way, to));
}

static void set(const struct choir *choir, uint32_t event, muta_pitch pitch)
{
    muta_passage_set_pitch(choir->out,
                           &muta_passage_tones(choir->out)[choir->work.events[event].tone], pitch);
}

/* Leads a voice from one tone to another through the events between. */
static muta_status lead(struct way *way)
{
    const muta_search search = {way, way->count, count_ways, price_way};
    muta_answer answer;
    size_t found;

    if (way->count == 0)
        return MUTA_OK;
    MUTA_TRY(muta_search_best(&way->choir->arena, &search, 1, &answer, &found));
    for (size_t i = 0; found > 0 && i < way->count; i++)
        set(way->choir, way->first + (uint32_t)i, candidate(way, answer.taken[i]));
    return MUTA_OK;
}

/* What a voice does in a chord that is another. */
static muta_status lead_in(struct choir *choir, size_t nth, uint8_t voice, const muta_pitch *were)
{
    const muta_passage_chord *const chord = &choir->out->chords[choir->places.at[nth].chord];
    const muta_line *const line = choir->voices[voice].line;
    const uint32_t end = line->event + line->event_count;
    const muta_pitch stands = choir->voiced[nth].at[voice];
    uint32_t first = muta_line_first_from(choir->work.events, line, chord->from);
    uint32_t last = first;
    muta_pitch from = stands;

    while (last < end && muta_fraction_compare(choir->work.events[last].onset, chord->to) < 0)
        last++;
    if (first == last)
        return MUTA_OK;
    /* A suspension falls into the chord; what is held in it already goes on. */
    const bool held = is_held(choir, voice, chord);
    if (held)
        from = tone_at(choir, voice, chord->from)->pitch;
    if (!held || !muta_pitch_is_equal(from, stands)) {
        set(choir, first, stands);
        from = stands;
        first++;
    }
    if (first == last || first == line->event)
        return MUTA_OK;
    struct way way = {.choir = choir,
                      .voice = voice,
                      .chord = chord,
                      .first = first,
                      .count = last - first,
                      .from = from,
                      .has_to = last < end && nth + 1 < choir->slots.count,
                      .were = were};
    way.sense =
        muta_sense_at(choir->out, &choir->work.tones[choir->work.events[first].tone], chord->from);
    way.sense.chord = chord;
    way.to = way.has_to ? choir->voiced[nth + 1].at[voice] : from;
    return lead(&way);
}

/* First every tone of a changed chord has its voice's, so that each knows where the others are. */
static void set_chord(struct choir *choir, size_t nth)
{
    const muta_passage_chord *const chord = &choir->out->chords[choir->places.at[nth].chord];

    for (uint8_t voice = 0; voice + 1U < choir->ensemble.count; voice++) {
        const muta_line *const line = choir->voices[voice].line;
        for (uint32_t i = muta_line_first_from(choir->work.events, line, chord->from);
             i < line->event + line->event_count &&
             muta_fraction_compare(choir->work.events[i].onset, chord->to) < 0;
             i++)
            set(choir, i, choir->voiced[nth].at[voice]);
    }
}

/* A tone at the end of a chord that stays leads on to another tone than it did: it does not where
 * it is foreign and no step away, or goes in fifths or octaves. */
static muta_status lead_out(struct choir *choir, size_t nth, uint8_t voice, const muta_pitch *were)
{
    const muta_passage_chord *const chord = &choir->out->chords[choir->places.at[nth].chord];
    const muta_line *const line = choir->voices[voice].line;
    const uint32_t next = muta_line_first_from(choir->work.events, line, chord->to);

    if (next == line->event + line->event_count || next < line->event + 2 ||
        nth + 1 == choir->slots.count || !choir->places.at[nth + 1].is_changed)
        return MUTA_OK;
    const muta_event *const last = &choir->work.events[next - 1];
    const muta_pitch to = choir->voiced[nth + 1].at[voice];
    const muta_pitch pitch = choir->work.tones[last->tone].pitch;
    struct way way = {.choir = choir,
                      .voice = voice,
                      .chord = chord,
                      .first = next - 1,
                      .count = 1,
                      .from = choir->work.tones[last[-1].tone].pitch,
                      .to = to,
                      .has_to = true,
                      .were = were};
    const bool leads = is_step(pitch, to) || muta_passage_chord_has(chord, pitch);
    if (muta_fraction_compare(last->onset, chord->from) <= 0 || last->is_grace ||
        (leads &&
         price_with(&way, pitch, chord->to, to) < muta_rule_price(MUTA_RULE_FIFTHS, SHARE)))
        return MUTA_OK;
    way.sense = muta_sense_at(choir->out, &choir->work.tones[last->tone], chord->from);
    way.sense.chord = chord;
    return lead(&way);
}

/* Leads a voice through all chords. */
static muta_status lead_voice(struct choir *choir, uint8_t voice, const muta_pitch *were)
{
    for (size_t i = 0; i < choir->slots.count; i++)
        MUTA_TRY(choir->places.at[i].is_changed ? lead_in(choir, i, voice, were)
                                                : lead_out(choir, i, voice, were));
    return MUTA_OK;
}

static muta_status write(struct choir *choir)
{
    const size_t count = choir->work.tone_count;
    muta_pitch *const were = muta_arena_take_array(&choir->arena, count + 1, sizeof *were);

    if (!were)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < count; i++)
        were[i] = choir->work.tones[i].pitch;
    for (size_t i = 0; i < choir->slots.count; i++)
        if (choir->places.at[i].is_changed)
            set_chord(choir, i);
    for (size_t round = 0; round < ROUNDS; round++)
        for (uint8_t voice = 0; voice + 1U < choir->ensemble.count; voice++)
            MUTA_TRY(lead_voice(choir, voice, were));
    return MUTA_OK;
}

/* ---- all of it ---- */

static muta_status set_voices(struct choir *choir)
{
    const size_t count = choir->out->chord_count;
    bool is_changed = false;

    find_ranges(choir);
    for (size_t i = 0; i < count; i++)
        MUTA_TRY(add_chord(choir, i));
    for (size_t i = 0; i < choir->places.count; i++)
        is_changed = is_changed || choir->places.at[i].is_changed;
    if (!is_changed)
        return MUTA_OK;
    choir->voiced =
        muta_arena_take_array(&choir->arena, choir->slots.count + 1, sizeof *choir->voiced);
    if (!choir->voiced)
        return MUTA_E_MEMORY;
    MUTA_TRY(
        muta_voicing_find(&choir->ensemble, choir->slots.at, choir->slots.count, 1, choir->voiced));
    return write(choir);
}

muta_status muta_choir_set(const muta_passage *in, muta_passage *out, bool *is_choir)
{
    struct choir choir = {.in = in, .out = out, .work = muta_passage_work(out)};
    muta_status status = MUTA_OK;

    *is_choir = find_voices(&choir);
    if (*is_choir)
        status = set_voices(&choir);
    /* A chord that fits into no such voices is the figures' to try. */
    if (status == MUTA_E_RANGE) {
        *is_choir = false;
        status = MUTA_OK;
    }
    muta_arena_clear(&choir.arena);
    return status;
}
