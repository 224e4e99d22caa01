/* model.c: what is in force where. */
#include "score/model.h"
#include <assert.h>
#include <string.h>

int muta_moment_compare(muta_moment a, muta_moment b)
{
    if (a.bar != b.bar)
        return a.bar < b.bar ? -1 : 1;
    return muta_fraction_compare(a.onset, b.onset);
}

/* The tracks' entries all begin with their moment. */
static muta_moment moment_of(const void *entries, size_t stride, size_t i)
{
    return *(const muta_moment *)(const void *)((const char *)entries + i * stride);
}

/*
 * One more than the index of the last entry at or before `at` that speaks for its staff; 0 when
 * there is none. The tracks are in order of time: a binary search finds the end, a few steps back
 * the staff.
 */
static size_t in_force(const void *entries, size_t stride, size_t count, muta_moment at)
{
    size_t low = 0;
    size_t high = count;

    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        if (muta_moment_compare(moment_of(entries, stride, middle), at) <= 0)
            low = middle + 1;
        else
            high = middle;
    }
    for (; low > 0; low--) {
        const uint8_t staff = moment_of(entries, stride, low - 1).staff;
        if (staff == MUTA_ALL_STAVES || staff == at.staff || at.staff == MUTA_ALL_STAVES)
            break;
    }
    return low;
}

muta_key_change *muta_part_key_at(const muta_part *part, muta_moment at)
{
    const size_t found = in_force(part->keys.at, sizeof *part->keys.at, part->keys.count, at);

    return found ? &part->keys.at[found - 1] : NULL;
}

const muta_clef_change *muta_part_clef_at(const muta_part *part, muta_moment at)
{
    const size_t found = in_force(part->clefs.at, sizeof *part->clefs.at, part->clefs.count, at);

    return found ? &part->clefs.at[found - 1] : NULL;
}

muta_interval muta_part_transposition_at(const muta_part *part, muta_moment at)
{
    const size_t found = in_force(part->transpositions.at, sizeof *part->transpositions.at,
                                  part->transpositions.count, at);

    return found ? part->transpositions.at[found - 1].by : (muta_interval){0, 0};
}

muta_fraction muta_part_bar_start(const muta_score *score, const muta_part *part, size_t bar)
{
    return score->own_grids ? part->bars[bar].start : score->bars[bar].start;
}

bool muta_part_instrument(const muta_part *part, muta_instrument *instrument)
{
    if (part->has_instrument)
        *instrument = part->instrument;
    return part->has_instrument;
}

void muta_model_clear(muta_score *score)
{
    for (size_t i = 0; i < score->part_count; i++)
        muta_arena_clear(&score->parts[i].arena);
    muta_arena_clear(&score->arena);
}

muta_fraction muta_metre_beat(const muta_metre *metre, muta_fraction onset)
{
    return muta_fraction_add(muta_fraction_multiply(onset, muta_fraction_of(metre->beat_type, 4)),
                             muta_fraction_of(1, 1));
}

muta_place muta_score_place(const muta_score *score, const muta_part *part, muta_moment at)
{
    const muta_bar *const bar = &score->bars[at.bar];

    return (muta_place){.part = part ? part->name : NULL,
                        .bar = bar->number,
                        .beat = muta_metre_beat(&bar->metre, at.onset)};
}

muta_sign muta_sign_of(int32_t alter)
{
    static const struct {
        int32_t alter;
        muta_sign sign;
    } rows[] = {
        {0, MUTA_SIGN_NATURAL},
        {MUTA_SEMITONE, MUTA_SIGN_SHARP},
        {-MUTA_SEMITONE, MUTA_SIGN_FLAT},
        {2 * MUTA_SEMITONE, MUTA_SIGN_DOUBLE_SHARP},
        {-2 * MUTA_SEMITONE, MUTA_SIGN_FLAT_FLAT},
        {3 * MUTA_SEMITONE, MUTA_SIGN_TRIPLE_SHARP},
        {-3 * MUTA_SEMITONE, MUTA_SIGN_TRIPLE_FLAT},
        {MUTA_SEMITONE / 2, MUTA_SIGN_QUARTER_SHARP},
        {-MUTA_SEMITONE / 2, MUTA_SIGN_QUARTER_FLAT},
        {3 * MUTA_SEMITONE / 2, MUTA_SIGN_THREE_QUARTERS_SHARP},
        {-3 * MUTA_SEMITONE / 2, MUTA_SIGN_THREE_QUARTERS_FLAT},
    };

    for (size_t i = 0; i < MUTA_LENGTH(rows); i++)
        if (rows[i].alter == alter)
            return rows[i].sign;
    const int32_t whole = muta_pitch_sharps((muta_pitch){0, alter}) * MUTA_SEMITONE;
    return whole == alter ? MUTA_SIGN_OTHER : muta_sign_of(whole);
}

muta_fraction muta_part_divisions_at(const muta_part *part, muta_moment at)
{
    const size_t found =
        in_force(part->divisions.at, sizeof *part->divisions.at, part->divisions.count, at);

    return found ? part->divisions.at[found - 1].to_quarter : muta_fraction_of(1, 1);
}

size_t muta_score_part_count(const muta_score *score)
{
    return score->part_count;
}

size_t muta_score_bar_count(const muta_score *score)
{
    return score->bar_count;
}

const char *muta_score_bar_number(const muta_score *score, size_t bar_index)
{
    assert(bar_index < score->bar_count);
    return score->bars[bar_index].number;
}

const char *muta_score_part_name(const muta_score *score, size_t part)
{
    assert(part < score->part_count);
    return score->parts[part].name;
}

size_t muta_score_staff_count(const muta_score *score, size_t part)
{
    assert(part < score->part_count);
    return score->parts[part].staves;
}

size_t muta_score_voice_count(const muta_score *score, size_t part, size_t staff)
{
    assert(part < score->part_count);
    const muta_part *const of = &score->parts[part];
    size_t count = 0;

    for (size_t i = 0; i < of->voices.count; i++)
        count += of->voices.at[i].home == staff;
    return count;
}

bool muta_score_has_pickup(const muta_score *score)
{
    const muta_bar *const first = score->bars;

    return first->implicit || muta_fraction_compare(first->length, first->metre.length) < 0;
}

size_t muta_part_voice_number(const muta_part *part, uint32_t voice)
{
    size_t number = 1;

    for (uint32_t i = 0; i < voice; i++)
        number += part->voices.at[i].home == part->voices.at[voice].home;
    return number;
}

uint32_t muta_part_voice_at(const muta_part *part, uint8_t staff, size_t number)
{
    for (uint32_t i = 0; i < part->voices.count; i++)
        if (part->voices.at[i].home == staff && --number == 0)
            return i;
    return MUTA_NO_NOTE;
}

muta_status muta_part_free_label(muta_score *score, const muta_part *part, int64_t nth,
                                 muta_string *label)
{
    static const int64_t most = 1000000; /* a larger one is no number of a voice */
    int64_t highest = 0;
    char text[24];

    for (size_t i = 0; i < part->voices.count; i++) {
        int64_t number;
        const char *const end =
            muta_text_count(muta_tree_string_at(&score->tree, part->voices.at[i].label), &number);
        if (end && !*end && number > highest && number < most)
            highest = number;
    }
    (void)muta_text_print(highest + nth, text);
    return muta_tree_intern(&score->tree, text, strlen(text), label);
}

/* Insertion keeps what stands at one moment in its order; the tracks are nearly sorted already. */
static void sort_track(void *entries, size_t stride, size_t count)
{
    char *const bytes = entries;
    char held[64];

    for (size_t i = 1; i < count; i++) {
        size_t to = i;
        const muta_moment at = moment_of(entries, stride, i);
        while (to > 0 && muta_moment_compare(moment_of(entries, stride, to - 1), at) > 0)
            to--;
        if (to == i)
            continue;
        memcpy(held, bytes + i * stride, stride);
        memmove(bytes + (to + 1) * stride, bytes + to * stride, (i - to) * stride);
        memcpy(bytes + to * stride, held, stride);
    }
}

static_assert(sizeof(muta_key_change) <= 64 && sizeof(muta_clef_change) <= 64 &&
                  sizeof(muta_transposition) <= 64 && sizeof(muta_harmony) <= 64,
              "an entry must fit the place where the sort holds it");

void muta_part_sort_tracks(muta_part *part)
{
    sort_track(part->keys.at, sizeof *part->keys.at, part->keys.count);
    sort_track(part->clefs.at, sizeof *part->clefs.at, part->clefs.count);
    sort_track(part->transpositions.at, sizeof *part->transpositions.at,
               part->transpositions.count);
    sort_track(part->harmonies.at, sizeof *part->harmonies.at, part->harmonies.count);
    sort_track(part->divisions.at, sizeof *part->divisions.at, part->divisions.count);
}

void muta_metre_group(muta_metre *metre, int64_t beats)
{
    static const uint8_t odd[][4] = {[5] = {3, 2}, [7] = {2, 2, 3}};
    const bool in_threes = beats % 3 == 0 && (beats > 3 || metre->beat_type >= 8);

    if (metre->group_count != 1)
        return;
    metre->group_count = 0;
    if (beats == 5 || beats == 7) {
        for (size_t i = 0; odd[beats][i]; i++)
            metre->groups[metre->group_count++] = odd[beats][i];
        return;
    }
    for (int64_t left = beats; left > 0; left -= in_threes ? 3 : 1) {
        if (metre->group_count == MUTA_GROUPS) {
            metre->group_count = 0;
            return;
        }
        metre->groups[metre->group_count++] = in_threes ? 3 : 1;
    }
}
