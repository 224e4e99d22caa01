/* test_voicing.c: the rules of part-writing find what was planted, and nothing in what is clean;
 * the search keeps them where it can. */
#include "base/random.h"
#include "support/test.h"
#include "theory/voicing.c" /* NOLINT(bugprone-suspicious-include) */
#include <string.h>

enum {
    FOUR = 4,
    PLANTED = 100
};

static muta_pitch pitch_of(const char *text)
{
    muta_pitch pitch = {0, 0};

    assert_int_equal(muta_pitch_parse(text, &pitch), MUTA_OK);
    return pitch;
}

static muta_voiced chord(const muta_harmony_slot *slot, const char *const *names)
{
    muta_voiced voiced = {.slot = slot, .count = FOUR};

    for (size_t i = 0; i < FOUR; i++)
        voiced.at[i] = pitch_of(names[i]);
    muta_voiced_read(&voiced);
    return voiced;
}

static const muta_voice_rule *rule(const char *name)
{
    const muta_voice_rule *found = muta_voice_rules;

    while (found->name && strcmp(found->name, name) != 0)
        found++;
    assert_non_null(found->name);
    return found;
}

static const muta_harmony_slot tonic = {.value = {.root = 0, .kind = MUTA_CHORD_MAJOR},
                                        .leading = MUTA_NO_LEADING};
static const muta_harmony_slot dominant = {.value = {.root = 1, .kind = MUTA_CHORD_DOMINANT},
                                           .leading = 5};
static const muta_harmony_slot second = {.value = {.root = 2, .kind = MUTA_CHORD_MINOR},
                                         .leading = MUTA_NO_LEADING};

/* Each rule on one example that breaks it and one that keeps it. */
static void judges_examples(void **state)
{
    static const struct {
        const char *rule;
        const muta_harmony_slot *from;
        const char *one[FOUR];
        const muta_harmony_slot *to;
        const char *two[FOUR];
        size_t count;
        const char *source;
    } cases[] = {
        {"parallel fifths",
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &second,
         {"D3", "A3", "F4", "D5"},
         1,
         "Prout 1889: I to ii side by side"},
        {"parallel octaves",
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &second,
         {"D3", "A3", "F4", "D5"},
         1,
         "the same: bass and soprano"},
        {"parallel fifths",
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &dominant,
         {"G2", "G3", "F4", "B4"},
         0,
         "common practice: I to V7 by contrary motion"},
        {"leading tone not resolved",
         &dominant,
         {"G2", "G3", "F4", "B4"},
         &tonic,
         {"C3", "G3", "E4", "G4"},
         1,
         "common practice: ti in the soprano rises"},
        {"leading tone not resolved",
         &dominant,
         {"G2", "G3", "F4", "B4"},
         &tonic,
         {"C3", "G3", "E4", "C5"},
         0,
         "common practice"},
        {"seventh not resolved",
         &dominant,
         {"G2", "G3", "F4", "B4"},
         &tonic,
         {"C3", "E3", "G4", "C5"},
         1,
         "common practice: the seventh falls"},
        {"seventh not resolved",
         &dominant,
         {"G2", "G3", "F4", "B4"},
         &tonic,
         {"C3", "G3", "E4", "C5"},
         0,
         "common practice"},
        {"voices too far apart",
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &tonic,
         {"C3", "E3", "G4", "C5"},
         1,
         "common practice: tenor and alto at most an octave"},
        {"voices too far apart",
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &tonic,
         {"C3", "E3", "E4", "C5"},
         0,
         "the same: an octave is not too far"},
        {"voices too far apart",
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &tonic,
         {"C3", "E3", "F4", "C5"},
         1,
         "the same: a semitone more is"},
        {"voices too far apart",
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &tonic,
         {"C2", "E3", "G3", "C4"},
         0,
         "common practice: the bass may lie as low as it likes"},
        {"seventh not resolved",
         &dominant,
         {"G2", "G3", "F4", "B4"},
         &tonic,
         {"C3", "G3", "F4", "C5"},
         1,
         "common practice: a seventh that stays while the chord changes"},
        {"seventh not resolved",
         &dominant,
         {"G2", "G3", "F4", "B4"},
         &second,
         {"D3", "A3", "F4", "A4"},
         0,
         "common practice: it may stay where it is a tone of the next chord"},
        {"seventh not resolved",
         &dominant,
         {"G2", "G3", "F4", "B4"},
         &tonic,
         {"C3", "G3", "D4", "C5"},
         1,
         "common practice: a fall by more than a step"},
        {"leading tone not resolved",
         &dominant,
         {"G2", "G3", "F4", "B4"},
         &second,
         {"D3", "A3", "F4", "A4"},
         0,
         "common practice: only the tonic asks for it"},
        {"voices crossing",
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &tonic,
         {"C3", "E4", "E4", "C5"},
         0,
         "common practice: a unison is none"},
        {"voices overlapping",
         &tonic,
         {"C3", "G3", "C4", "E4"},
         &tonic,
         {"C3", "C4", "E4", "G4"},
         0,
         "common practice: it may go where its neighbour was, not past it"},
        {"augmented step",
         &second,
         {"D3", "A3", "F4", "D5"},
         &dominant,
         {"G2", "G3", "D4", "B4"},
         0,
         "common practice: F to D is a minor third"},
        {"hidden fifths or octaves",
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &second,
         {"D3", "A3", "F4", "D5"},
         0,
         "Prout 1889: an upper voice that steps hides none"},
        {"seventh doubled",
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &dominant,
         {"G2", "F3", "F4", "B4"},
         1,
         "common practice"},
        {"seventh doubled",
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &dominant,
         {"G2", "G3", "F4", "B4"},
         0,
         "common practice"},
        {"leading tone doubled",
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &dominant,
         {"G2", "G3", "F4", "B4"},
         0,
         "common practice"},
        {"voices crossing",
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &tonic,
         {"C3", "G4", "E4", "C5"},
         1,
         "common practice"},
        {"voices overlapping",
         &tonic,
         {"C3", "G3", "C4", "E4"},
         &second,
         {"D3", "D4", "F4", "A4"},
         2,
         "common practice: the tenor goes above where the alto was, the alto above the soprano"},
        {"augmented step",
         &second,
         {"D3", "A3", "F4", "D5"},
         &dominant,
         {"G2", "G3", "B4", "D5"},
         1,
         "common practice: F to B is a tritone"},
        {"leading tone doubled",
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &dominant,
         {"G2", "B3", "F4", "B4"},
         1,
         "common practice"},
        {"hidden fifths or octaves",
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &second,
         {"D3", "A3", "F4", "A5"},
         1,
         "Prout 1889: outer voices the same way, the upper one leaps"},
    };
    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++) {
        const muta_voiced one = chord(cases[i].from, cases[i].one);
        const muta_voiced two = chord(cases[i].to, cases[i].two);
        if (rule(cases[i].rule)->count(&one, &two) != cases[i].count)
            fail_msg("%s: %s", cases[i].rule, cases[i].source);
    }
}

static int64_t tones_of(const muta_harmony_slot *slot, const char *const *names)
{
    const muta_voiced voiced = chord(slot, names);

    return price_tones(&voiced, false);
}

/* What a chord holds has its price. Source: common practice: the third, then the seventh, then the
 * root may not be missing, the fifth may; the third of a major chord is not doubled. */
static void prices_what_a_chord_holds(void **state)
{
    (void)state;
    assert_int_equal(tones_of(&tonic, (const char *[]){"C3", "G3", "E4", "C5"}), 0);
    assert_int_equal(tones_of(&tonic, (const char *[]){"C3", "G3", "E4", "E5"}), DOUBLES_THIRD);
    assert_int_equal(tones_of(&second, (const char *[]){"D3", "A3", "F4", "F5"}), 0);
    assert_int_equal(tones_of(&tonic, (const char *[]){"C3", "C4", "E4", "C5"}), LACKS_FIFTH);
    assert_int_equal(tones_of(&tonic, (const char *[]){"C3", "G3", "G4", "C5"}), LACKS_THIRD);
    assert_int_equal(tones_of(&tonic, (const char *[]){"E3", "G3", "G4", "G4"}), LACKS_ROOT);
    assert_int_equal(tones_of(&dominant, (const char *[]){"G2", "G3", "D4", "B4"}), LACKS_SEVENTH);
    assert_int_equal(tones_of(&dominant, (const char *[]){"G2", "G3", "F4", "B4"}), LACKS_FIFTH);
}

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
    assert_int_equal(motion(from, (const char *[]){"B1", "G3", "E4", "C5"}),
                     13 * BASS_SEMITONE + BASS_LEAP);
    assert_int_equal(motion(from, (const char *[]){"D3", "A3", "F#4", "D5"}),
                     2 * BASS_SEMITONE + 6 * A_SEMITONE + TOGETHER);
    assert_int_equal(motion(from, (const char *[]){"B2", "A3", "F#4", "D5"}),
                     BASS_SEMITONE + 6 * A_SEMITONE);
}

/* A row of chords in four voices by the search, clean as it comes. */
static void realise(muta_voiced *voiced, const muta_harmony_slot *slots, size_t count)
{
    const muta_ensemble choir = {.count = FOUR,
                                 .low = {{16, 0}, {21, 0}, {25, 0}, {28, 0}},
                                 .high = {{29, 0}, {32, 0}, {36, 0}, {40, 0}},
                                 .lean = 80};

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
    assert_int_equal(price_held(&voiced[0], &voiced[1]), SUSPENDED);
    slots[1].falls = 0;
    assert_int_equal(price_held(&voiced[0], &voiced[1]), HELD_ASTRAY);
    slots[1].held = 1U << TENOR;
    assert_int_equal(price_held(&voiced[0], &voiced[1]), 0);
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

static size_t faults(const muta_voiced *voiced, size_t count)
{
    size_t sum = 0;

    for (const muta_voice_rule *of = muta_voice_rules; of->name; of++)
        for (size_t i = 0; i < count; i++)
            sum += of->count(i > 0 ? &voiced[i - 1] : NULL, &voiced[i]);
    return sum;
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

static void raise(muta_voiced *voiced, uint8_t voice, int semitones)
{
    const int32_t sound = muta_pitch_sound(voiced->at[voice]) + semitones * MUTA_SEMITONE;

    voiced->at[voice] = muta_pitch_of_sound(sound, 0);
    muta_voiced_read(voiced);
}

/* Lets two voices move by a step side by side at an interval, in a clean pair of chords. */
static void plant_parallel(muta_voiced *one, muta_voiced *two, int interval, uint64_t *place)
{
    const uint8_t low = (uint8_t)(muta_random(7, (*place)++) % 3);
    const uint8_t high = (uint8_t)(low + 1 + muta_random(7, (*place)++) % (3U - low));
    const int step = muta_random(7, (*place)++) % 2 ? 2 : -2;

    raise(one, high, one->semitones[low] + interval - one->semitones[high]);
    raise(two, low, one->semitones[low] + step - two->semitones[low]);
    raise(two, high, one->semitones[high] + step - two->semitones[high]);
}

static void finds_planted_parallels(void **state)
{
    static const struct {
        const char *rule;
        int interval;
    } kinds[] = {{"parallel fifths", 7}, {"parallel octaves", 12}, {"parallel fifths", 19}};
    muta_harmony_slot slots[] = {tonic, second};
    muta_voiced voiced[2] = {{.count = 0}, {.count = 0}};
    uint64_t place = 0;

    (void)state;
    realise(voiced, slots, 2);
    for (size_t kind = 0; kind < MUTA_LENGTH(kinds); kind++)
        for (size_t i = 0; i < PLANTED; i++) {
            muta_voiced one = voiced[0];
            muta_voiced two = voiced[1];
            plant_parallel(&one, &two, kinds[kind].interval, &place);
            assert_true(rule(kinds[kind].rule)->count(&one, &two) > 0);
        }
}

/* The dominant seventh goes to the tonic, but one voice goes another way. */
static void finds_planted_resolutions(void **state)
{
    muta_harmony_slot slots[] = {dominant, tonic};
    muta_voiced voiced[2] = {{.count = 0}, {.count = 0}};
    uint64_t place = 0;

    (void)state;
    realise(voiced, slots, 2);
    for (size_t i = 0; i < PLANTED; i++) {
        muta_voiced two = voiced[1];
        const int away = 3 + (int)(muta_random(7, place++) % 4);
        for (uint8_t voice = 0; voice < (uint8_t)FOUR; voice++)
            if (voiced[0].tones[voice] == 3)
                raise(&two, voice, away);
        assert_true(rule("seventh not resolved")->count(&voiced[0], &two) > 0);
        two = voiced[0];
        const uint8_t doubled = (uint8_t)(muta_random(7, place++) % FOUR);
        size_t leading = 0;
        for (uint8_t voice = 0; voice < (uint8_t)FOUR; voice++)
            leading += two.tones[voice] == 1;
        if (two.tones[doubled] == 1)
            continue;
        raise(&two, doubled, ((11 - two.semitones[doubled]) % 12 + 12) % 12);
        assert_true(leading > 0 && rule("leading tone doubled")->count(NULL, &two) > 0);
    }
}

static int64_t standing(const char *const *names)
{
    static const muta_ensemble choir = {.count = FOUR,
                                        .low = {{16, 0}, {21, 0}, {25, 0}, {28, 0}},
                                        .high = {{29, 0}, {32, 0}, {36, 0}, {40, 0}}};
    const struct voicing voicing = {.ensemble = &choir};
    const muta_voiced voiced = chord(&tonic, names);
    int64_t price = price_standing(&voicing, &voiced) - price_tones(&voiced, false);

    for (uint8_t i = 0; i < voiced.count; i++)
        price -= (int64_t)abs(voiced.semitones[i] - (muta_pitch_semitones(choir.low[i]) +
                                                     muta_pitch_semitones(choir.high[i])) /
                                                        2) *
                 OFF_CENTRE;
    return price;
}

/* How a chord stands: unisons, and thirds down low. Source: common practice. */
static void prices_how_a_chord_stands(void **state)
{
    (void)state;
    assert_int_equal(standing((const char *[]){"C3", "G3", "E4", "C5"}), 0);
    assert_int_equal(standing((const char *[]){"C3", "G3", "G3", "C5"}), UNISON);
    assert_int_equal(standing((const char *[]){"C3", "E3", "G3", "C5"}), 3 * LOW_CLUSTER);
    assert_int_equal(standing((const char *[]){"C3", "F#3", "G3", "C5"}), LOW_CLUSTER);
    assert_int_equal(standing((const char *[]){"C4", "E4", "G4", "C5"}), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(judges_examples),
        cmocka_unit_test(prices_what_a_chord_holds),
        cmocka_unit_test(prices_the_way),
        cmocka_unit_test(prices_how_a_chord_stands),
        cmocka_unit_test(keeps_rules),
        cmocka_unit_test(keeps_order_under_a_tune),
        cmocka_unit_test(leads_what_is_held),
        cmocka_unit_test(goes_from_where_it_is),
        cmocka_unit_test(finds_planted_parallels),
        cmocka_unit_test(finds_planted_resolutions),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
