/* test_part_writing.c: each rule of part-writing finds what was planted, and nothing in what is
 * clean. */
#include "base/random.h"
#include "support/test.h"
#include "support/voices.h"

enum {
    PLANTED = 100
};

/* Chords that want more than to be struck. */
static const muta_ensemble right_hand = {
    .count = FOUR, .hand_from = 1, .hand_to = FOUR, .span = 12};
static const muta_harmony_slot in_hand = {.value = {.root = 0, .kind = MUTA_CHORD_MAJOR},
                                          .leading = MUTA_NO_LEADING,
                                          .ensemble = &right_hand};
static const muta_harmony_slot ranged = {
    .value = {.root = 0, .kind = MUTA_CHORD_MAJOR}, .leading = MUTA_NO_LEADING, .ensemble = &choir};
static const muta_harmony_slot holding = {
    .value = {.root = 1, .kind = MUTA_CHORD_DOMINANT}, .leading = 5, .held = 1U << 1};
static const muta_harmony_slot falling = {.value = {.root = 1, .kind = MUTA_CHORD_DOMINANT},
                                          .leading = 5,
                                          .held = 1U << 1,
                                          .falls = 1U << 1};
static const muta_harmony_slot four_three = {
    .value = {.root = 1, .kind = MUTA_CHORD_DOMINANT, .bass = 2}, .leading = 5};
static const muta_harmony_slot first_sixth = {
    .value = {.root = 0, .kind = MUTA_CHORD_MAJOR, .bass = 1}, .leading = MUTA_NO_LEADING};
static const muta_harmony_slot seventh_degree = {
    .value = {.root = 5, .kind = MUTA_CHORD_DIMINISHED}, .leading = 5};

/* Each rule on one example that breaks it and one that keeps it. */
static void judges_examples(void **state)
{
    static const struct {
        muta_rule rule;
        const muta_harmony_slot *from;
        const char *one[FOUR];
        const muta_harmony_slot *to;
        const char *two[FOUR];
        size_t count;
        const char *source;
    } cases[] = {
        {MUTA_RULE_FIFTHS,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &second,
         {"D3", "A3", "F4", "D5"},
         1,
         "Prout 1889: I to ii side by side"},
        {MUTA_RULE_OCTAVES,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &second,
         {"D3", "A3", "F4", "D5"},
         1,
         "the same: bass and soprano"},
        {MUTA_RULE_FIFTHS,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &dominant,
         {"G2", "G3", "F4", "B4"},
         0,
         "common practice: I to V7 by contrary motion"},
        {MUTA_RULE_LEADING,
         &dominant,
         {"G2", "G3", "F4", "B4"},
         &tonic,
         {"C3", "G3", "E4", "G4"},
         1,
         "common practice: ti in the soprano rises"},
        {MUTA_RULE_LEADING,
         &dominant,
         {"G2", "G3", "F4", "B4"},
         &tonic,
         {"C3", "G3", "E4", "C5"},
         0,
         "common practice"},
        {MUTA_RULE_SEVENTH,
         &dominant,
         {"G2", "G3", "F4", "B4"},
         &tonic,
         {"C3", "E3", "G4", "C5"},
         1,
         "common practice: the seventh falls"},
        {MUTA_RULE_SEVENTH,
         &dominant,
         {"G2", "G3", "F4", "B4"},
         &tonic,
         {"C3", "G3", "E4", "C5"},
         0,
         "common practice"},
        {MUTA_RULE_SPACING,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &tonic,
         {"C3", "E3", "G4", "C5"},
         1,
         "common practice: tenor and alto at most an octave"},
        {MUTA_RULE_SPACING,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &tonic,
         {"C3", "E3", "E4", "C5"},
         0,
         "the same: an octave is not too far"},
        {MUTA_RULE_SPACING,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &tonic,
         {"C3", "E3", "F4", "C5"},
         1,
         "the same: a semitone more is"},
        {MUTA_RULE_SPACING,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &tonic,
         {"C2", "E3", "G3", "C4"},
         0,
         "common practice: the bass may lie as low as it likes"},
        {MUTA_RULE_SEVENTH,
         &dominant,
         {"G2", "G3", "F4", "B4"},
         &tonic,
         {"C3", "G3", "F4", "C5"},
         1,
         "common practice: a seventh that stays while the chord changes"},
        {MUTA_RULE_SEVENTH,
         &dominant,
         {"G2", "G3", "F4", "B4"},
         &second,
         {"D3", "A3", "F4", "A4"},
         0,
         "common practice: it may stay where it is a tone of the next chord"},
        {MUTA_RULE_SEVENTH,
         &dominant,
         {"G2", "G3", "F4", "B4"},
         &tonic,
         {"C3", "G3", "D4", "C5"},
         1,
         "common practice: a fall by more than a step"},
        {MUTA_RULE_LEADING,
         &dominant,
         {"G2", "G3", "F4", "B4"},
         &second,
         {"D3", "A3", "F4", "A4"},
         0,
         "common practice: only the tonic asks for it"},
        {MUTA_RULE_CROSSING,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &tonic,
         {"C3", "E4", "E4", "C5"},
         0,
         "common practice: a unison is none"},
        {MUTA_RULE_OVERLAP,
         &tonic,
         {"C3", "G3", "C4", "E4"},
         &tonic,
         {"C3", "C4", "E4", "G4"},
         0,
         "common practice: it may go where its neighbour was, not past it"},
        {MUTA_RULE_AUGMENTED,
         &second,
         {"D3", "A3", "F4", "D5"},
         &dominant,
         {"G2", "G3", "D4", "B4"},
         0,
         "common practice: F to D is a minor third"},
        {MUTA_RULE_HIDDEN,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &second,
         {"D3", "A3", "F4", "D5"},
         0,
         "Prout 1889: an upper voice that steps hides none"},
        {MUTA_RULE_SEVENTH_DOUBLED,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &dominant,
         {"G2", "F3", "F4", "B4"},
         1,
         "common practice"},
        {MUTA_RULE_SEVENTH_DOUBLED,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &dominant,
         {"G2", "G3", "F4", "B4"},
         0,
         "common practice"},
        {MUTA_RULE_LEADING_DOUBLED,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &dominant,
         {"G2", "G3", "F4", "B4"},
         0,
         "common practice"},
        {MUTA_RULE_CROSSING,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &tonic,
         {"C3", "G4", "E4", "C5"},
         1,
         "common practice"},
        {MUTA_RULE_OVERLAP,
         &tonic,
         {"C3", "G3", "C4", "E4"},
         &second,
         {"D3", "D4", "F4", "A4"},
         2,
         "common practice: the tenor goes above where the alto was, the alto above the soprano"},
        {MUTA_RULE_AUGMENTED,
         &second,
         {"D3", "A3", "F4", "D5"},
         &dominant,
         {"G2", "G3", "B4", "D5"},
         1,
         "common practice: F to B is a tritone"},
        {MUTA_RULE_LEADING_DOUBLED,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &dominant,
         {"G2", "B3", "F4", "B4"},
         1,
         "common practice"},
        {MUTA_RULE_HIDDEN,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &second,
         {"D3", "A3", "F4", "A5"},
         1,
         "Prout 1889: outer voices the same way, the upper one leaps"},
        {MUTA_RULE_LEADING_WITHIN,
         &dominant,
         {"G2", "B3", "F4", "D5"},
         &tonic,
         {"C3", "G3", "E4", "C5"},
         0,
         "common practice: within, it may fall to the fifth"},
        {MUTA_RULE_LEADING_WITHIN,
         &dominant,
         {"G2", "B3", "F4", "D5"},
         &tonic,
         {"C3", "E3", "E4", "C5"},
         1,
         "the same: nowhere else"},
        {MUTA_RULE_OCTAVES,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &tonic,
         {"C3", "G3", "E4", "C5"},
         0,
         "common practice: what stays goes nowhere"},
        {MUTA_RULE_SEVENTH,
         &four_three,
         {"D3", "G3", "F4", "B4"},
         &first_sixth,
         {"E3", "G3", "G4", "C5"},
         0,
         "common practice: V43 to I6, the seventh rises with the bass"},
        {MUTA_RULE_SEVENTH,
         &four_three,
         {"D3", "G3", "F4", "B4"},
         &tonic,
         {"C3", "G3", "G4", "C5"},
         1,
         "the same: with no other bass"},
        {MUTA_RULE_THIRD_DOUBLED,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &tonic,
         {"C3", "E3", "E4", "C5"},
         1,
         "common practice: of a major chord"},
        {MUTA_RULE_THIRD_DOUBLED,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &second,
         {"D3", "F3", "F4", "A4"},
         0,
         "the same: of a minor one it may be"},
        {MUTA_RULE_THIRD_DOUBLED,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &tonic,
         {"C3", "G3", "E4", "C5"},
         0,
         "the same"},
        {MUTA_RULE_NO_ROOT,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &tonic,
         {"E3", "G3", "G4", "E5"},
         1,
         "common practice"},
        {MUTA_RULE_NO_ROOT,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &tonic,
         {"E3", "G3", "C4", "E4"},
         0,
         "common practice: in whatever voice"},
        {MUTA_RULE_NO_THIRD,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &tonic,
         {"C3", "G3", "G4", "C5"},
         1,
         "common practice"},
        {MUTA_RULE_NO_THIRD,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &tonic,
         {"C3", "C4", "E4", "C5"},
         0,
         "common practice"},
        {MUTA_RULE_NO_FIFTH,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &tonic,
         {"C3", "C4", "E4", "C5"},
         1,
         "common practice: the first to be left out"},
        {MUTA_RULE_NO_FIFTH,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &tonic,
         {"C3", "G3", "E4", "C5"},
         0,
         "common practice"},
        {MUTA_RULE_NO_FIFTH,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &seventh_degree,
         {"B2", "D4", "D4", "B4"},
         0,
         "common practice: a diminished fifth is no such"},
        {MUTA_RULE_NO_COLOUR,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &seventh_degree,
         {"B2", "D4", "D4", "B4"},
         1,
         "the same: it makes the chord"},
        {MUTA_RULE_NO_COLOUR,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &dominant,
         {"G2", "G3", "D4", "B4"},
         1,
         "common practice: no seventh"},
        {MUTA_RULE_NO_COLOUR,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &dominant,
         {"G2", "G3", "F4", "B4"},
         0,
         "common practice"},
        {MUTA_RULE_UNISON,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &tonic,
         {"C3", "G3", "G3", "C5"},
         1,
         "common practice"},
        {MUTA_RULE_UNISON,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &tonic,
         {"C3", "G3", "E4", "E5"},
         0,
         "the same: an octave is none"},
        {MUTA_RULE_HELD,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &holding,
         {"D3", "F3", "F4", "D5"},
         1,
         "common practice: a tone that is held on stays"},
        {MUTA_RULE_HELD,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &holding,
         {"G2", "G3", "F4", "B4"},
         0,
         "the same"},
        {MUTA_RULE_HELD,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &falling,
         {"D3", "F3", "F4", "D5"},
         0,
         "common practice: a suspension falls by step"},
        {MUTA_RULE_HELD,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &falling,
         {"G2", "D3", "F4", "B4"},
         1,
         "the same: not by a fourth"},
        {MUTA_RULE_SUSPENSION,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &falling,
         {"D3", "F3", "F4", "D5"},
         1,
         "common practice"},
        {MUTA_RULE_SUSPENSION,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &falling,
         {"G2", "G3", "F4", "B4"},
         0,
         "the same: what stays is none"},
        {MUTA_RULE_HAND,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &in_hand,
         {"C3", "E4", "G4", "E5"},
         0,
         "common practice: the three upper ones within an octave"},
        {MUTA_RULE_HAND,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &in_hand,
         {"C3", "E4", "G4", "G5"},
         3,
         "the same: a tenth is three semitones more"},
        {MUTA_RULE_LOW,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &tonic,
         {"C4", "E4", "G4", "C5"},
         0,
         "common practice: thirds are clear from middle C on"},
        {MUTA_RULE_LOW,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &tonic,
         {"B3", "D4", "G4", "C5"},
         4,
         "the same: less so below"},
        {MUTA_RULE_LOW,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &tonic,
         {"C3", "G3", "E4", "C5"},
         0,
         "the same: a fifth is"},
        {MUTA_RULE_LOW,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &tonic,
         {"C3", "F#3", "E4", "C5"},
         1,
         "the same: a tritone is a semitone less"},
        {MUTA_RULE_BASS_LEAP,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &tonic,
         {"C2", "G3", "E4", "C5"},
         0,
         "common practice: an octave is the widest leap"},
        {MUTA_RULE_BASS_LEAP,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &tonic,
         {"B1", "G3", "E4", "C5"},
         1,
         "the same"},
        {MUTA_RULE_RANGE,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &ranged,
         {"E2", "G3", "E4", "C5"},
         0,
         "common practice: the bass to E"},
        {MUTA_RULE_RANGE,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &ranged,
         {"D2", "G3", "E4", "C5"},
         1,
         "the same: not to D"},
        {MUTA_RULE_RANGE,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &ranged,
         {"E2", "G3", "E4", "A5"},
         0,
         "common practice: the soprano to a''"},
        {MUTA_RULE_RANGE,
         &tonic,
         {"C3", "G3", "E4", "C5"},
         &ranged,
         {"D2", "G3", "E4", "B5"},
         2,
         "the same: not above"},
    };
    size_t kept[MUTA_RULES] = {0};
    size_t broken[MUTA_RULES] = {0};

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++) {
        const muta_voiced one = chord(cases[i].from, cases[i].one);
        const muta_voiced two = chord(cases[i].to, cases[i].two);
        const muta_rule_row *const row = &muta_rule_rows[cases[i].rule];
        if (row->count(&one, &two) != cases[i].count)
            fail_msg("%s: %s", row->name, cases[i].source);
        *(cases[i].count > 0 ? &broken[cases[i].rule] : &kept[cases[i].rule]) += 1;
    }
    for (size_t i = 0; i < MUTA_RULES; i++)
        if (!kept[i] || !broken[i])
            fail_msg("%s has no example on both sides of its edge", muta_rule_rows[i].name);
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
        muta_rule rule;
        int interval;
    } kinds[] = {{MUTA_RULE_FIFTHS, 7}, {MUTA_RULE_OCTAVES, 12}, {MUTA_RULE_FIFTHS, 19}};
    muta_harmony_slot slots[] = {tonic, second};
    muta_voiced voiced[2] = {{.count = 0}, {.count = 0}};
    uint64_t place = 0;

    (void)state;
    voiced[0] = chord(&slots[0], (const char *[]){"C3", "G3", "E4", "C5"});
    voiced[1] = chord(&slots[1], (const char *[]){"D3", "F3", "D4", "A4"});
    assert_int_equal(faults(voiced, 2), 0);
    for (size_t kind = 0; kind < MUTA_LENGTH(kinds); kind++)
        for (size_t i = 0; i < PLANTED; i++) {
            muta_voiced one = voiced[0];
            muta_voiced two = voiced[1];
            plant_parallel(&one, &two, kinds[kind].interval, &place);
            assert_true(muta_rule_rows[kinds[kind].rule].count(&one, &two) > 0);
        }
}

/* The dominant seventh goes to the tonic, but one voice goes another way. */
static void finds_planted_resolutions(void **state)
{
    muta_harmony_slot slots[] = {dominant, tonic};
    muta_voiced voiced[2] = {{.count = 0}, {.count = 0}};
    uint64_t place = 0;

    (void)state;
    voiced[0] = chord(&slots[0], (const char *[]){"G2", "G3", "F4", "B4"});
    voiced[1] = chord(&slots[1], (const char *[]){"C3", "G3", "E4", "C5"});
    assert_int_equal(faults(voiced, 2), 0);
    for (size_t i = 0; i < PLANTED; i++) {
        muta_voiced two = voiced[1];
        const int away = 3 + (int)(muta_random(7, place++) % 4);
        for (uint8_t voice = 0; voice < (uint8_t)FOUR; voice++)
            if (voiced[0].tones[voice] == 3)
                raise(&two, voice, away);
        assert_true(muta_rule_rows[MUTA_RULE_SEVENTH].count(&voiced[0], &two) > 0);
        two = voiced[0];
        const uint8_t doubled = (uint8_t)(muta_random(7, place++) % FOUR);
        size_t leading = 0;
        for (uint8_t voice = 0; voice < (uint8_t)FOUR; voice++)
            leading += two.tones[voice] == 1;
        if (two.tones[doubled] == 1)
            continue;
        raise(&two, doubled, ((11 - two.semitones[doubled]) % 12 + 12) % 12);
        assert_true(leading > 0 && muta_rule_rows[MUTA_RULE_LEADING_DOUBLED].count(NULL, &two) > 0);
    }
}

/* Moves of two voices and of one, whoever makes them. Source: common practice. */
static void judges_moves(void **state)
{
    (void)state;
    assert_true(muta_semitones_parallel(60, 62, 48, 50));
    assert_true(muta_semitones_parallel(67, 69, 48, 50));
    assert_false(muta_semitones_parallel(64, 65, 48, 50));
    assert_true(muta_semitones_parallel(67, 62, 48, 55));
    assert_false(muta_semitones_parallel(60, 60, 48, 48));
    assert_false(muta_semitones_parallel(60, 72, 48, 48));
    assert_false(muta_semitones_parallel(60, 67, 48, 50));
    assert_true(muta_semitones_hidden(64, 69, 60, 62));
    assert_false(muta_semitones_hidden(67, 69, 60, 62)); /* by step */
    assert_false(muta_semitones_hidden(64, 69, 64, 62)); /* the other way */
    assert_false(muta_semitones_hidden(64, 70, 60, 62)); /* to a sixth */
    assert_true(muta_semitones_overlap(64, 71, 60, 65));
    assert_false(muta_semitones_overlap(64, 71, 60, 64));
    assert_true(muta_semitones_overlap(64, 59, 60, 55));
    assert_true(muta_leading_is_left(5, 0, -4, false));
    assert_false(muta_leading_is_left(5, 0, -4, true));
    assert_false(muta_leading_is_left(5, 0, 1, false));
    assert_true(muta_leading_is_left(5, 0, 0, true));
    assert_false(muta_leading_is_left(5, 3, 0, false)); /* to A */
    assert_false(muta_leading_is_left(MUTA_NO_LEADING, 0, 3, false));
    assert_false(muta_seventh_is_left(-1));
    assert_false(muta_seventh_is_left(-2));
    assert_true(muta_seventh_is_left(-3));
    assert_true(muta_seventh_is_left(0));
    assert_true(muta_seventh_is_left(2));
}

/* Weights: a share of a row's, fifths and octaves told apart. */
static void takes_shares(void **state)
{
    (void)state;
    assert_int_equal(muta_rule_price(MUTA_RULE_FIFTHS, 1000),
                     muta_rule_rows[MUTA_RULE_FIFTHS].weight);
    assert_int_equal(muta_rule_price(MUTA_RULE_FIFTHS, 500),
                     muta_rule_rows[MUTA_RULE_FIFTHS].weight / 2);
    assert_int_equal(muta_parallel_price(67, 69, 60, 62, 1000),
                     muta_rule_rows[MUTA_RULE_FIFTHS].weight);
    assert_int_equal(muta_parallel_price(72, 74, 60, 62, 1000),
                     muta_rule_rows[MUTA_RULE_OCTAVES].weight);
    assert_int_equal(muta_parallel_price(64, 65, 60, 62, 1000), 0);
}

/* A tune above an accompaniment is a voice to some rules, and only as long as it sounds to others.
 */
static void knows_the_tune_above(void **state)
{
    muta_harmony_slot slot = tonic;
    const muta_voiced lacks = chord(&slot, (const char *[]){"C3", "G3", "C4", "E5"});
    const muta_rule_row *const third = &muta_rule_rows[MUTA_RULE_NO_THIRD];
    const muta_rule_row *const apart = &muta_rule_rows[MUTA_RULE_SPACING];

    (void)state;
    assert_int_equal(muta_rule_count(third, NULL, &lacks, true), 1);
    slot.top_lasts = true;
    assert_int_equal(muta_rule_count(third, NULL, &lacks, true), 0);
    assert_int_equal(muta_rule_count(apart, NULL, &lacks, true), 0);
    assert_int_equal(muta_rule_count(apart, NULL, &lacks, false), 1);
}

/* What it costs to stand, and to go, is the sum of the rows. */
static void sums_up(void **state)
{
    const muta_voiced one = chord(&tonic, (const char *[]){"C3", "G3", "E4", "C5"});
    const muta_voiced two = chord(&second, (const char *[]){"D3", "A3", "F4", "D5"});

    (void)state;
    assert_int_equal(muta_rules_price_standing(&one, false), 0);
    assert_int_equal(muta_rules_price_way(&one, &two, false),
                     muta_rule_price(MUTA_RULE_FIFTHS, 1000) +
                         muta_rule_price(MUTA_RULE_OCTAVES, 1000));
    assert_int_equal(muta_rules_faults(&one, &two), 2);
    assert_int_equal(muta_rules_price_standing(&(muta_voiced){.slot = &tonic}, false),
                     muta_rule_price(MUTA_RULE_NO_ROOT, 1000) +
                         muta_rule_price(MUTA_RULE_NO_THIRD, 1000) +
                         muta_rule_price(MUTA_RULE_NO_FIFTH, 1000));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(judges_examples),
        cmocka_unit_test(judges_moves),
        cmocka_unit_test(takes_shares),
        cmocka_unit_test(knows_the_tune_above),
        cmocka_unit_test(sums_up),
        cmocka_unit_test(finds_planted_parallels),
        cmocka_unit_test(finds_planted_resolutions),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
