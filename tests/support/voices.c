/* voices.c: chords in four voices by the names of their tones. */
#include "support/voices.h"
#include "support/test.h"

const muta_harmony_slot tonic = {.value = {.root = 0, .kind = MUTA_CHORD_MAJOR},
                                 .leading = MUTA_NO_LEADING};
const muta_harmony_slot dominant = {.value = {.root = 1, .kind = MUTA_CHORD_DOMINANT},
                                    .leading = 5};
const muta_harmony_slot second = {.value = {.root = 2, .kind = MUTA_CHORD_MINOR},
                                  .leading = MUTA_NO_LEADING};
const muta_ensemble choir = {.count = FOUR,
                             .low = {{16, 0}, {21, 0}, {25, 0}, {28, 0}},
                             .high = {{29, 0}, {32, 0}, {36, 0}, {40, 0}},
                             .lean = 80};

muta_pitch pitch_of(const char *text)
{
    muta_pitch pitch = {0, 0};

    assert_int_equal(muta_pitch_parse(text, &pitch), MUTA_OK);
    return pitch;
}

muta_voiced chord(const muta_harmony_slot *slot, const char *const *names)
{
    muta_voiced voiced = {.slot = slot, .count = FOUR};

    for (size_t i = 0; i < FOUR; i++)
        voiced.at[i] = pitch_of(names[i]);
    muta_voiced_read(&voiced);
    return voiced;
}

size_t faults(const muta_voiced *voiced, size_t count)
{
    size_t sum = 0;

    for (size_t rule = 0; rule < MUTA_RULES; rule++)
        for (size_t i = 0; muta_rule_rows[rule].is_fault && i < count; i++)
            sum += muta_rule_rows[rule].count(i > 0 ? &voiced[i - 1] : NULL, &voiced[i]);
    return sum;
}
