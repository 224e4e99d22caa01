/* spans.c: what chords are worth over a span. */
#include "study/hearing.h"
#include <stdlib.h>

#ifndef LESSON_CHORD
#define LESSON_CHORD(sounds, span, chord) 0 /* a teacher's: tests/reference/fit.c */
#define LESSON_BASS(sounds, span, pitch_class) 0
#endif

enum {
    TRIED = 7, /* for which spelling is looked at */
    TOO_DEAR = 1 << 28,
    HUNDREDTHS = 10
};

uint8_t muta_span_share(int64_t part, int64_t all)
{
    static const int64_t edges[] = {0, 50, 120, 220, 350};
    uint8_t nth = 0;

    if (part <= 0 || all <= 0)
        return 0;
    while (nth < MUTA_LENGTH(edges) && part * 1000 >= edges[nth] * all)
        nth++;
    return nth;
}

const uint8_t muta_triads[MUTA_CHORD_KINDS] = {
    [MUTA_CHORD_MAJOR] = 0,           [MUTA_CHORD_MINOR] = 1,
    [MUTA_CHORD_DOMINANT] = 2,        [MUTA_CHORD_DIMINISHED] = 3,
    [MUTA_CHORD_MINOR_SEVENTH] = 1,   [MUTA_CHORD_DIMINISHED_SEVENTH] = 3,
    [MUTA_CHORD_HALF_DIMINISHED] = 3, [MUTA_CHORD_MAJOR_SEVENTH] = 0,
    [MUTA_CHORD_AUGMENTED] = 4,       [MUTA_CHORD_ITALIAN] = 4,
    [MUTA_CHORD_GERMAN] = 4,          [MUTA_CHORD_FRENCH] = 4};

static int class_above(int16_t tone)
{
    return tone == INT16_MAX ? -1 : tone % MUTA_CLASSES;
}

static void read_bass(const muta_sounds *sounds, muta_span *span)
{
    const int16_t *const weights = sounds->hearing->bass;
    const int32_t *const before = sounds->sums[span->from].low;
    const int32_t *const behind = sounds->sums[span->to].low;
    const int first = class_above(sounds->slices[span->from].low);
    const int lowest = class_above(span->lowest);
    const int standing = class_above(sounds->slices[span->from].standing);
    int64_t total = 0;

    for (int i = 0; i < MUTA_CLASSES; i++)
        total += behind[i] - before[i];
    for (int i = 0; i < MUTA_CLASSES; i++) {
        const int64_t time = behind[i] - before[i];
        span->bass[i] = ((i == first ? weights[0] : 0) + (i == lowest ? weights[1] : 0) +
                         (i == standing ? weights[3] : 0)) *
                            HUNDREDTHS +
                        (int32_t)(total > 0 ? time * weights[2] * HUNDREDTHS / total : 0) +
                        LESSON_BASS(sounds, span, i);
        span->bass[i + MUTA_CLASSES] = span->bass[i];
    }
}

/* How much of its bar a span takes: places among ten. */
static int32_t length_of(const muta_sounds *sounds, const muta_span *span, int64_t ticks)
{
    static const int64_t edges[] = {70, 130, 170, 260, 340, 510, 670, 760, 1010};
    const int64_t bar = sounds->slices[span->from].bar;
    int32_t nth = 0;

    while (nth < (int32_t)MUTA_LENGTH(edges) && ticks * 1000 > edges[nth] * bar)
        nth++;
    return nth;
}

static void read_steps(const muta_sums *before, const muta_sums *behind, muta_span *span)
{
    for (int i = 0; i < MUTA_CLASSES; i++)
        for (int step = 0; step < MUTA_STEPS; step++)
            for (int way = 0; way < MUTA_WAYS; way++) {
                const int32_t mass =
                    (behind->steps[step][i][way] - before->steps[step][i][way]) / 10;
                span->steps[i][step * MUTA_WAYS + way] =
                    span->steps[i + MUTA_CLASSES][step * MUTA_WAYS + way] =
                        (int16_t)(mass < INT16_MAX ? mass : INT16_MAX);
            }
}

void muta_span_read(const muta_sounds *sounds, muta_span *span)
{
    const muta_sums *const a = &sounds->sums[span->from];
    const muta_sums *const b = &sounds->sums[span->to];
    const int64_t *const onsets = sounds->heard->onsets.at;
    const int64_t ticks = onsets[span->to] - onsets[span->from];

    span->lasts = (int32_t)muta_sounds_thousandths(sounds, ticks);
    span->length = length_of(sounds, span, ticks);
    span->all = 0;
    span->lost_all = 0;
    for (int i = 0; i < MUTA_CLASSES; i++) {
        const uint32_t first = sounds->slices[span->from].next[i];
        span->mass[i] = span->mass[i + MUTA_CLASSES] = b->mass[i] - a->mass[i];
        span->lost[i] = span->lost[i + MUTA_CLASSES] = b->lost[i] - a->lost[i];
        const int64_t late = muta_sounds_thousandths(
            sounds, onsets[first < span->to ? first : span->to] - onsets[span->from]);
        span->late[i] = span->late[i + MUTA_CLASSES] =
            (int16_t)(late / 10 < INT16_MAX ? late / 10 : INT16_MAX);
        span->all += span->mass[i];
        span->lost_all += span->lost[i];
    }
    for (int i = 0; i < 2 * MUTA_CLASSES; i++)
        span->masses[i] =
            (int16_t)(span->mass[i] / 10 < INT16_MAX ? span->mass[i] / 10 : INT16_MAX);
    for (int i = 0; i < MUTA_CLASSES; i++)
        span->share[i] = span->share[i + MUTA_CLASSES] = muta_span_share(span->mass[i], span->all);
    read_bass(sounds, span);
    read_steps(a, b, span);
}

int32_t muta_span_misspelt(const muta_sounds *sounds, const muta_span *span, int32_t signature,
                           muta_candidate *chord)
{
    const muta_chord_row *const row = muta_chord_row_of((muta_chord_kind)chord->kind);
    const muta_sums *const a = &sounds->sums[span->from];
    const muta_sums *const b = &sounds->sums[span->to];
    int64_t all = 0;
    int64_t most = -1;

    for (int i = 0; i < row->count; i++)
        all += span->mass[chord->root + row->classes[i]];
    const int first = chord->root * 7 % MUTA_CLASSES;
    for (int fifths = first - MUTA_CLASSES; fifths <= first + MUTA_CLASSES;
         fifths += MUTA_CLASSES) {
        int64_t right = 0;
        for (int i = 0; i < row->count; i++) {
            const int place = fifths + row->fifths[i] - MUTA_FIFTHS_LOW;
            if (place >= 0 && place < MUTA_FIFTHS_COUNT)
                right += b->spelt[place] - a->spelt[place];
        }
        if (right > most ||
            (right == most && abs(fifths - signature - 2) < abs(chord->fifths - signature - 2))) {
            most = right;
            chord->fifths = (int8_t)fifths;
        }
    }
    return all > 0 ? (int32_t)((all - most) * 1000 / all) : 0;
}

int muta_span_tone(const muta_candidate *chord, int pitch_class)
{
    const muta_chord_row *const row = muta_chord_row_of((muta_chord_kind)chord->kind);
    int nth = 0;

    while (nth < row->count && (chord->root + row->classes[nth]) % MUTA_CLASSES != pitch_class)
        nth++;
    return nth < row->count ? nth : MUTA_CHORD_TONES;
}

/* What all chords of a kind cost, root by root, but for spelling, bass and what is foreign. */
static void weigh_kind(const muta_sounds *sounds, const muta_span *span, int kind, int32_t *costs)
{
    const muta_hearing *const hearing = sounds->hearing;
    const muta_chord_row *const row = muta_chord_row_of((muta_chord_kind)kind);
    const int32_t lasting = span->lasts < 4000 ? span->lasts : 4000;
    const int32_t base =
        span->lost_all + hearing->kind[kind] * HUNDREDTHS + hearing->lasting[kind] * lasting / 100;
    int32_t masses[MUTA_CLASSES] = {0};
    int32_t lates[MUTA_CLASSES] = {0};

    for (int i = 0; i < MUTA_CLASSES; i++) {
        const int16_t weight = hearing->tone[kind * MUTA_CLASSES + i];
        for (int root = 0; root < MUTA_CLASSES; root++)
            masses[root] += weight * span->masses[root + i];
    }
    for (int root = 0; root < MUTA_CLASSES; root++)
        costs[root] = base;
    for (int i = 0; i < row->count; i++) {
        const int16_t *const present =
            &hearing->present[((size_t)kind * MUTA_CHORD_TONES + (size_t)i) * MUTA_SHARES];
        const int16_t late = hearing->late[kind * MUTA_CHORD_TONES + i];
        const int up = row->classes[i];
        for (int root = 0; root < MUTA_CLASSES; root++)
            lates[root] += late * span->late[root + up];
        for (int root = 0; root < MUTA_CLASSES; root++)
            costs[root] += present[span->share[root + up]] * HUNDREDTHS - span->lost[root + up];
    }
    for (int root = 0; root < MUTA_CLASSES; root++)
        costs[root] += masses[root] / 10 + lates[root] / 10;
}

static size_t insert(muta_candidate *sorted, size_t count, size_t room,
                     const muta_candidate *candidate)
{
    size_t to = count < room ? count : room - 1;

    if (count == room && sorted[count - 1].cost <= candidate->cost)
        return count;
    for (; to > 0 && sorted[to - 1].cost > candidate->cost; to--)
        sorted[to] = sorted[to - 1];
    sorted[to] = *candidate;
    return count < room ? count + 1 : count;
}

/* The tones of a chord as bits, by pitch class. */
static uint32_t bits_of(const muta_candidate *chord)
{
    const muta_chord_row *const row = muta_chord_row_of((muta_chord_kind)chord->kind);
    uint32_t bits = 0;

    for (int i = 0; i < row->count; i++)
        bits |= 1U << (chord->root + row->classes[i]) % MUTA_CLASSES;
    return bits;
}

void muta_span_steps(const muta_span *span, const muta_candidate *chord,
                     int32_t masses[MUTA_STEPS * 2 * 2])
{
    const uint32_t bits = bits_of(chord);

    for (int i = 0; i < MUTA_STEPS * 2 * 2; i++)
        masses[i] = 0;
    for (int step = 0; step < MUTA_STEPS; step++)
        for (int i = 0; i < MUTA_CLASSES; i++)
            for (int way = 0; way < MUTA_WAYS; way++) {
                const int beside = (i + MUTA_CLASSES + muta_way_semitones[way]) % MUTA_CLASSES;
                const uint32_t other = bits >> beside & 1;
                masses[(step * 2 + (int)(bits >> i & 1)) * 2 + (int)other] +=
                    span->steps[i][step * MUTA_WAYS + way];
            }
}

/* How its tones, and what is foreign to it, come and go by step. */
static int32_t weigh_moves(const muta_sounds *sounds, const muta_span *span,
                           const muta_candidate *chord)
{
    enum {
        MOVES = MUTA_STEPS * MUTA_WAYS
    };
    const int16_t *weights = &sounds->hearing->goes[(size_t)chord->kind * MUTA_CLASSES * MOVES];
    int32_t cost = 0;

    for (int above = 0; above < MUTA_CLASSES; above++, weights += MOVES)
        for (int i = 0; i < MOVES; i++)
            cost += weights[i] * span->steps[chord->root + above][i];
    return cost / 10;
}

/* What is looked at of the best: spelling, what is foreign, and the bass. */
static void weigh_more(const muta_sounds *sounds, const muta_span *span, int32_t signature,
                       muta_candidate *chord)
{
    const muta_hearing *const hearing = sounds->hearing;
    const muta_chord_row *const row = muta_chord_row_of((muta_chord_kind)chord->kind);
    const int standing = class_above(sounds->slices[span->from].standing);
    int32_t masses[MUTA_STEPS * 2 * 2];
    int64_t within = 0;
    int32_t best = INT32_MAX;

    for (int i = 0; i < row->count; i++) {
        const int above = chord->root + row->classes[i];
        const int32_t bass =
            span->bass[above] + hearing->inversion[chord->kind * MUTA_CHORD_TONES + i] * HUNDREDTHS;
        within += span->mass[above];
        if (bass < best) {
            best = bass;
            chord->bass = (uint8_t)i;
            chord->low = (uint8_t)(above % MUTA_CLASSES);
        }
    }
    chord->cost +=
        best + hearing->foreign[muta_span_share(span->all - within, span->all)] * HUNDREDTHS;
    chord->cost +=
        hearing->misspelt[chord->kind] * muta_span_misspelt(sounds, span, signature, chord) / 100;
    muta_span_steps(span, chord, masses);
    for (int i = 0; i < MUTA_STEPS * 2 * 2; i++)
        chord->cost += hearing->step[i] * masses[i] / 10;
    chord->cost += weigh_moves(sounds, span, chord);
    if (standing >= 0)
        chord->cost += hearing->standing[muta_span_tone(chord, standing)] * HUNDREDTHS;
    if (chord->cost > TOO_DEAR)
        chord->cost = TOO_DEAR;
}

size_t muta_span_chords(const muta_sounds *sounds, const muta_span *span, int32_t signature,
                        muta_candidate *best, size_t room)
{
    muta_candidate tried[TRIED];
    size_t count = 0;
    size_t found = 0;

    for (int kind = 0; kind < MUTA_CHORD_KINDS; kind++) {
        int32_t costs[MUTA_CLASSES];
        weigh_kind(sounds, span, kind, costs);
        for (int root = 0; root < MUTA_CLASSES; root++) {
            muta_candidate chord = {
                .root = (uint8_t)root, .kind = (uint8_t)kind, .cost = costs[root]};
            chord.cost += LESSON_CHORD(sounds, span, &chord);
            count = insert(tried, count, TRIED, &chord);
        }
    }
    for (size_t i = 0; i < count; i++) {
        weigh_more(sounds, span, signature, &tried[i]);
        found = insert(best, found, room, &tried[i]);
    }
    return found;
}
