/* test_voicing.c: the search keeps the rules of part-writing where it can; what is taste has its
 * price. */
#include "support/test.h"
#include "support/voices.h"
#include "theory/voicing.c" /* NOLINT(bugprone-suspicious-include) */
#include <string.h>

static int64_t motion(const char *const *from, const char *const *to)
{
    const muta_voiced one = chord(&tonic, from);
    const muta_voiced two = chord(&tonic, to);

    return price_motion(&one, &two, false);
}

/* So has the way: far, leaping, all together. Source: common practice. */
static void prices_the_way(void **state)
{
    static const char *const from[] = {"C3", "G3", "E4", "C5"};

    (void)state;
    assert_int_equal(motion(from, from), 0);
    assert_int_equal(motion(from, (const char *[]){"C3", "G3", "E4", "D5"}), 2 * A_SEMITONE);
    assert_int_equal(motion(from, (const char *[]){"C3", "G3", "E4", "F5"}), 5 * A_SEMITONE);
    assert_int_equal(motion(from, (const char *[]){"C3", "G3", "E4", "F#5"}),
                     6 * A_SEMITONE + A_LEAP);
    assert_int_equal(motion(from, (const char *[]){"C4", "G3", "E4", "C5"}), 12 * BASS_SEMITONE);
    assert_int_equal(motion(from, (const char *[]){"B1", "G3", "E4", "C5"}), 13 * BASS_SEMITONE);
    assert_int_equal(motion(from, (const char *[]){"D3", "A3", "F#4", "D5"}),
                     2 * BASS_SEMITONE + 6 * A_SEMITONE + TOGETHER);
    assert_int_equal(motion(from, (const char *[]){"B2", "A3", "F#4", "D5"}),
                     BASS_SEMITONE + 6 * A_SEMITONE);
}

/* A row of chords in four voices by the search, clean as it comes. */
static void realise(muta_voiced *voiced, const muta_harmony_slot *slots, size_t count)
{
    assert_int_equal(muta_voicing_find(&choir, slots, count, 1, voiced), MUTA_OK);
}

/* A chord that is given stands; what is held into the next stays if that has it, else falls by step
 * as a suspension does, where it may. Source: common practice. */
static void leads_what_is_held(void **state)
{
    enum {
        TENOR = 1,
        ALTO = 2
    };
    const muta_voiced stands = chord(&tonic, (const char *[]){"C3", "G3", "C4", "E4"});
    muta_harmony_slot slots[] = {tonic, dominant};
    muta_voiced voiced[2] = {{.count = 0}, {.count = 0}};

    (void)state;
    slots[0].is_given = true;
    memcpy(slots[0].given, stands.at, sizeof stands.at);
    slots[1].held = 1U << TENOR | 1U << ALTO;
    slots[1].falls = 1U << ALTO;
    realise(voiced, slots, 2);
    assert_memory_equal(voiced[0].at, stands.at, FOUR * sizeof *stands.at);
    assert_int_equal(voiced[1].semitones[TENOR], voiced[0].semitones[TENOR]);
    assert_int_equal(voiced[1].semitones[ALTO], voiced[0].semitones[ALTO] - 1);
}

/* Where the top voice has gone on before a chord ends, it is from there that it goes. */
static void goes_from_where_it_is(void **state)
{
    muta_harmony_slot slot = tonic;
    muta_voiced voiced = chord(&slot, (const char *[]){"C3", "G3", "C4", "E4"});

    (void)state;
    leave(&voiced);
    assert_int_equal(voiced.semitones[3], 52);
    slot.has_left = true;
    slot.left = (muta_pitch){32, 0};
    leave(&voiced);
    assert_int_equal(voiced.semitones[3], 55);
    assert_int_equal(voiced.tones[3], 2);
}

/* Cadences of the textbooks come out without a fault, in every key. */
static void keeps_rules(void **state)
{
    static const int8_t roots[] = {0, -1, 2, 1, 0, 3, 2, 1, 0};
    muta_harmony_slot slots[MUTA_LENGTH(roots)];
    muta_voiced voiced[MUTA_LENGTH(roots)];

    (void)state;
    for (int32_t key = -6; key <= 6; key++) {
        for (size_t i = 0; i < MUTA_LENGTH(roots); i++) {
            slots[i] = (muta_harmony_slot){.value = {.root = key + roots[i],
                                                     .kind = roots[i] == 1   ? MUTA_CHORD_DOMINANT
                                                             : roots[i] >= 2 ? MUTA_CHORD_MINOR
                                                                             : MUTA_CHORD_MAJOR}};
            slots[i].leading = muta_chord_leading(slots[i].value.kind, slots[i].value.root, key);
        }
        realise(voiced, slots, MUTA_LENGTH(roots));
        assert_int_equal(faults(voiced, MUTA_LENGTH(roots)), 0);
    }
}

/* Under a tune that lies low the voices below keep their order: only the given one may cross. */
static void keeps_order_under_a_tune(void **state)
{
    const muta_ensemble under = {.count = FOUR,
                                 .low = {{21, 0}, {21, 0}, {21, 0}, {14, 0}},
                                 .high = {{36, 0}, {36, 0}, {36, 0}, {40, 0}},
                                 .is_top_apart = true,
                                 .lean = 80};
    muta_harmony_slot slots[] = {tonic, dominant, tonic, second, dominant, tonic};
    muta_voiced voiced[MUTA_LENGTH(slots)];

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(slots); i++) {
        slots[i].has_top = true;
        slots[i].top = pitch_of(i % 3 == 1 ? "D3" : i == 3 ? "F3" : "E3");
    }
    assert_int_equal(muta_voicing_find(&under, slots, MUTA_LENGTH(slots), 1, voiced), MUTA_OK);
    for (size_t i = 0; i < MUTA_LENGTH(slots); i++)
        for (uint8_t voice = 1; voice + 1 < voiced[i].count; voice++)
            assert_true(voiced[i].semitones[voice] >= voiced[i].semitones[voice - 1]);
}

/* Each semitone from the middle of its range; the same key twice in an accompaniment. */
static void prices_how_a_chord_stands(void **state)
{
    muta_ensemble ensemble = choir;
    const struct voicing voicing = {.ensemble = &ensemble};
    const muta_voiced one = chord(&tonic, (const char *[]){"C3", "C4", "E4", "C5"});
    const muta_voiced higher = chord(&tonic, (const char *[]){"C3", "C4", "E4", "E5"});
    const muta_voiced twice = chord(&tonic, (const char *[]){"C3", "E4", "E4", "C5"});

    (void)state;
    assert_int_equal(price_standing(&voicing, &higher) - price_standing(&voicing, &one),
                     (int64_t)4 * OFF_CENTRE + muta_rule_price(MUTA_RULE_THIRD_DOUBLED, 1000));
    const int64_t apart = price_standing(&voicing, &twice);
    ensemble.is_top_apart = true;
    assert_true(price_standing(&voicing, &twice) > apart);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(prices_the_way),     cmocka_unit_test(prices_how_a_chord_stands),
        cmocka_unit_test(keeps_rules),        cmocka_unit_test(keeps_order_under_a_tune),
        cmocka_unit_test(leads_what_is_held), cmocka_unit_test(goes_from_where_it_is),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
