/* realise_voices.c: the chords that are realised, and the voices that they are given. */
#include "passes/alone.h"
#include "passes/realising.h"
#include "theory/voicing.h"
#include <string.h>

/* ---- chords ---- */

/* A chord, parted where a repeat has its edge. */
static muta_status add_span(struct muta_realising *realising, const muta_passage_chord *chord)
{
    for (muta_fraction at = chord->from; muta_fraction_compare(at, chord->to) < 0;) {
        const muta_fraction edge = muta_passage_stretch_end(realising->call->in, at);
        struct muta_realise_span *const span = MUTA_PUSH(&realising->arena, &realising->spans);
        if (!span)
            return MUTA_E_MEMORY;
        *span = (struct muta_realise_span){at, muta_fraction_min(chord->to, edge), chord};
        if (muta_fraction_compare(edge, at) <= 0)
            span->to = chord->to;
        at = span->to;
    }
    return MUTA_OK;
}

/* The chords of the passage; of a line alone those that a musician would set to it. */
static muta_status list_chords(struct muta_realising *realising, muta_passage_chord **chords,
                               size_t *count)
{
    const muta_call *const call = realising->call;
    const bool is_chorale = strcmp(realising->args->as, "chorale") == 0;

    if (realising->tune && muta_line_alone(call->in)) {
        MUTA_TRY(muta_harmonise_alone(call, is_chorale, realising->is_tune_bass, &realising->arena,
                                      chords, count));
        if (*chords)
            return MUTA_OK;
    }
    return muta_passage_list_chords(call->in, &realising->arena, chords, count);
}

/* Whether the same chord is struck again: behind the edge of a repeat, and on the down-beat behind
 * a pick-up. */
static bool is_struck_anew(const muta_passage *in, muta_fraction before, muta_fraction at)
{
    muta_beat beat;

    muta_passage_beat_at(in, before, &beat);
    return muta_fraction_compare(muta_passage_stretch_end(in, before), at) <= 0 ||
           (beat.is_pickup && muta_fraction_compare(beat.end, at) <= 0);
}

/* The chords of the passage, those that are alike and follow each other as one. */
static muta_status find_spans(struct muta_realising *realising)
{
    muta_passage_chord *chords;
    size_t count;

    MUTA_TRY(list_chords(realising, &chords, &count));
    for (size_t i = 0; i < count; i++) {
        const muta_passage_chord *const chord = &chords[i];
        struct muta_realise_span *const last =
            realising->spans.count ? &realising->spans.at[realising->spans.count - 1] : NULL;
        const bool is_edge = last && is_struck_anew(realising->call->in, last->from, chord->from);
        if (last && !is_edge && muta_chord_is_equal(last->chord->value, chord->value) &&
            muta_fraction_compare(last->to, chord->from) == 0)
            last->to = chord->to;
        else
            MUTA_TRY(add_span(realising, chord));
    }
    return MUTA_OK;
}

/* ---- the tune above ---- */

/* Whether the line that goes on is the bass too, and lies as basses do. */
static bool is_bass(const struct muta_realising *realising)
{
    const muta_line *const line = realising->tune;

    if (!line->is_bass || realising->args->given != MUTA_GIVEN_AUTO)
        return realising->args->given == MUTA_GIVEN_BASS;
    return muta_lies_low(&realising->work, line);
}

/* The first event of the tune that begins behind a moment. */
static uint32_t first_behind(const struct muta_realising *realising, muta_fraction time)
{
    const uint32_t end = realising->tune->event + realising->tune->event_count;
    uint32_t event = muta_line_first_from(realising->work.events, realising->tune, time);

    while (event < end && muta_fraction_compare(realising->work.events[event].onset, time) == 0)
        event++;
    return event;
}

/* What the tune sounds at a moment, or sounded last; NULL before it begins. */
static const muta_tone *tune_at(const struct muta_realising *realising, muta_fraction time)
{
    for (uint32_t i = first_behind(realising, time); i > realising->tune->event; i--)
        if (muta_texture_is_plain(&realising->work, i - 1))
            return muta_texture_top(&realising->work, i - 1);
    return NULL;
}

/* The lowest tone of the tune over a while, in semitones; 0 for none. */
static int16_t lowest_of_tune(const struct muta_realising *realising,
                              const struct muta_realise_span *span)
{
    const uint32_t end_of_line = realising->tune->event + realising->tune->event_count;
    uint32_t first = first_behind(realising, span->from);
    int32_t lowest = 0;

    /* What sounds as the span begins, grace notes before it aside. */
    while (first > realising->tune->event && realising->work.events[--first].is_grace)
        ;
    for (uint32_t i = first; i < end_of_line; i++) {
        const muta_event *const event = &realising->work.events[i];
        const muta_fraction end = muta_fraction_add(event->onset, event->duration);
        if (muta_fraction_compare(event->onset, span->to) >= 0)
            break;
        if (!muta_texture_is_plain(&realising->work, i) ||
            muta_fraction_compare(end, span->from) <= 0)
            continue;
        const int32_t semitones = muta_pitch_semitones(realising->work.tones[event->tone].pitch);
        lowest = lowest == 0 || semitones < lowest ? semitones : lowest;
    }
    return (int16_t)lowest;
}

/* Whether a tone of the tune sounds through a whole chord, so that its tone is there. */
static bool lasts_through(const struct muta_realising *realising, const muta_tone *tone,
                          const struct muta_realise_span *span)
{
    const muta_event *const event = &realising->work.events[tone->event];

    return muta_fraction_compare(event->onset, span->from) <= 0 &&
           muta_fraction_compare(muta_fraction_add(event->onset, event->duration), span->to) >= 0;
}

static void hear_tune(const struct muta_realising *realising, const struct muta_realise_span *span,
                      muta_harmony_slot *slot)
{
    const muta_tone *tone = tune_at(realising, span->from);
    const muta_tone *const later = tune_at(realising, span->to);

    tone = tone ? tone : later;
    if (!tone)
        return;
    if (realising->is_tune_bass) {
        slot->has_bottom = true;
        slot->bottom = tone->pitch;
        return;
    }
    slot->has_top = true;
    slot->top = tone->pitch;
    slot->top_lasts = lasts_through(realising, tone, span);
    slot->ceiling = lowest_of_tune(realising, span);
}

/* ---- who plays what ---- */

/* Natural tones by their place on the diatonic line. */
enum {
    C0 = 0,
    E2 = 16,
    F2 = 17,
    G2 = 18,
    C3 = 21,
    F3 = 24,
    G3 = 25,
    C4 = 28,
    D4 = 29,
    G4 = 32,
    A4 = 33,
    D5 = 36,
    G5 = 39,
    A5 = 40,
    C9 = 63
};

static void set_range(muta_ensemble *ensemble, uint8_t voice, int32_t low, int32_t high)
{
    ensemble->low[voice] = (muta_pitch){low, 0};
    ensemble->high[voice] = (muta_pitch){high, 0};
}

static uint8_t highest_voice(uint8_t voices)
{
    uint8_t count = 0;

    for (; voices; voices >>= 1)
        count++;
    return count;
}

/* Voices of a mixed choir. Source: the ranges of the textbooks of four-part writing. */
static void set_choir(muta_ensemble *ensemble)
{
    set_range(ensemble, 0, E2, D4);
    set_range(ensemble, 1, C3, G4);
    set_range(ensemble, 2, G3, D5);
    set_range(ensemble, 3, C4, A5);
    ensemble->count = 4;
}

/* The high hand lies below a tune that others have: where that lies low, lower than it would. */
static void stay_below(struct muta_realising *realising, uint8_t from)
{
    enum {
        ABOVE_MEAN = 2, /* steps that it may reach above the middle of the tune, */
        ROOM = 10       /* and down from there */
    };
    muta_ensemble *const ensemble = &realising->ensemble;
    int64_t places = 0;
    int64_t count = 0;

    for (uint32_t i = realising->tune->event;
         i < realising->tune->event + realising->tune->event_count; i++)
        if (muta_texture_is_plain(&realising->work, i)) {
            places += muta_texture_top(&realising->work, i)->pitch.place;
            count++;
        }
    const int32_t top = count > 0 ? (int32_t)(places / count) + ABOVE_MEAN : G5;
    for (uint8_t i = from; i < ensemble->count; i++) {
        ensemble->high[i].place = top < G5 ? top : G5;
        ensemble->low[i].place = top - ROOM < G3 ? top - ROOM : G3;
    }
}

static void set_two_hands(struct muta_realising *realising)
{
    muta_ensemble *const ensemble = &realising->ensemble;
    const uint8_t low = highest_voice(realising->pattern.low.voices);

    ensemble->count = highest_voice(realising->pattern.low.voices | realising->pattern.high.voices);
    for (uint8_t i = 0; i < ensemble->count; i++)
        set_range(ensemble, i, i == 0 ? E2 : i < low ? C3 : G3, i == 0 ? C4 : i < low ? G4 : G5);
    ensemble->hand_from = low;
    ensemble->hand_to = ensemble->count;
    if (realising->tune && !realising->is_tune_bass)
        stay_below(realising, low);
}

static void set_one_hand(struct muta_realising *realising)
{
    muta_ensemble *const ensemble = &realising->ensemble;
    bool leaps = false; /* the bass is struck alone, and the hand has time to move */

    for (uint8_t i = 0; i < realising->pattern.one.streams[0].count; i++)
        leaps = leaps || (realising->pattern.one.streams[0].at[i].voices == 1 &&
                          realising->pattern.step == MUTA_STEP_BEAT);
    ensemble->count = highest_voice(realising->pattern.one.voices);
    for (uint8_t i = 0; i < ensemble->count; i++)
        set_range(ensemble, i, i == 0 ? F2 : leaps ? F3 : G2, i == 0 ? C4 : A4);
    ensemble->hand_from = leaps ? 1 : 0;
    ensemble->hand_to = ensemble->count;
}

static void set_players(struct muta_realising *realising)
{
    muta_ensemble *const ensemble = &realising->ensemble;

    ensemble->count = realising->seats.count;
    for (uint8_t i = 0; i < ensemble->count; i++) {
        ensemble->low[i] = realising->seats.at[i].low;
        ensemble->high[i] = ensemble->low[i];
        ensemble->high[i].place += 2 * 7 + 2; /* two octaves and a third: where it is easy */
    }
    ensemble->span = 0;
}

static void set_voices(struct muta_realising *realising)
{
    muta_ensemble *const ensemble = &realising->ensemble;
    const bool is_choir = strcmp(realising->args->as, "chorale") == 0 &&
                          realising->seats.seating == MUTA_SEATS_TWO_HANDS;

    *ensemble = (muta_ensemble){.span = 12, .lean = 48};
    if (is_choir) {
        set_choir(ensemble);
        ensemble->span = 0;
        ensemble->lean = 80;
        return;
    }
    if (realising->seats.seating == MUTA_SEATS_TWO_HANDS)
        set_two_hands(realising);
    else if (realising->seats.seating == MUTA_SEATS_ONE_HAND)
        set_one_hand(realising);
    else
        set_players(realising);
    if (realising->tune && !realising->is_tune_bass) {
        set_range(ensemble, ensemble->count, C0, C9);
        ensemble->is_top_apart = true;
        ensemble->count++;
    }
}

/* Tune and bass do not both have the leading tone: then the root is the bass. */
static void spare_leading(muta_harmony_slot *slot)
{
    const int32_t bass =
        slot->value.root + muta_chord_row_of(slot->value.kind)->fifths[slot->value.bass];

    if (slot->has_top && bass == slot->leading && bass == muta_pitch_fifths(slot->top) &&
        slot->value.bass > 0)
        slot->value.bass = 0;
}

/* No hand is large enough: the chord will be broken. First upwards, where instruments have more. */
static void widen(muta_ensemble *ensemble, bool is_low)
{
    ensemble->span = 0;
    for (uint8_t i = 0; i < ensemble->count; i++) {
        ensemble->low[i].place -= is_low ? 7 : 0;
        ensemble->high[i].place += is_low ? 0 : 7;
    }
}

static muta_status voice_chords(struct muta_realising *realising)
{
    const size_t count = realising->spans.count;

    realising->slots =
        muta_arena_take_array(&realising->arena, count + 1, sizeof *realising->slots);
    realising->voiced =
        muta_arena_take_array(&realising->arena, count + 1, sizeof *realising->voiced);
    if (!realising->slots || !realising->voiced)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < count; i++) {
        const muta_passage_chord *const chord = realising->spans.at[i].chord;
        realising->slots[i] = (muta_harmony_slot){
            .value = chord->value,
            .leading = muta_chord_leading(chord->value.kind, chord->value.root, chord->tonic)};
        if (realising->tune)
            hear_tune(realising, &realising->spans.at[i], &realising->slots[i]);
        spare_leading(&realising->slots[i]);
    }
    muta_status status = muta_voicing_find(&realising->ensemble, realising->slots, count,
                                           realising->call->pick, realising->voiced);
    for (int widened = 0; status == MUTA_E_RANGE && widened < 2; widened++) {
        widen(&realising->ensemble, widened > 0);
        status = muta_voicing_find(&realising->ensemble, realising->slots, count,
                                   realising->call->pick, realising->voiced);
    }
    return status;
}

muta_status muta_realise_voice(struct muta_realising *realising)
{
    realising->is_tune_bass = realising->tune && is_bass(realising);
    set_voices(realising);
    MUTA_TRY(find_spans(realising));
    return voice_chords(realising);
}
