/* test_pitch.c: spelled pitch, intervals and keys against what the trade takes for granted. */
#include "mutanza/pitch.h"
#include "support/test.h"
#include "theory/recast.h"

static const char *added(const char *from, const char *by, char *text)
{
    muta_pitch pitch;
    muta_interval interval;

    assert_int_equal(muta_pitch_parse(from, &pitch), MUTA_OK);
    assert_int_equal(muta_interval_parse(by, &interval), MUTA_OK);
    return muta_pitch_print(muta_pitch_add(pitch, interval), text);
}

static void adds_intervals(void **state)
{
    static const struct {
        const char *from, *by, *to, *source;
    } cases[] = {
        {"B3", "m2", "C4", "common practice: the octave number turns at C"},
        {"F#4", "A4", "B#4", "common practice: F to B is augmented, the sharp comes along"},
        {"C4", "-m2", "B3", "common practice"},
        {"Cb4", "-m2", "Bb3", "common practice: the octave number follows the step"},
        {"B#3", "P8", "B#4", "common practice: an octave changes the octave alone"},
        {"Eb4", "P8", "Eb5", "common practice: an octave changes the octave alone"},
        {"E4", "d5", "Bb4", "common practice"},
        {"Bb3", "M3", "D4", "common practice"},
        {"C4", "A1", "C#4", "common practice: an augmented prime"},
        {"G4", "-P5", "C4", "common practice"},
    };
    char text[MUTA_PITCH_TEXT];

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++)
        assert_string_equal(added(cases[i].from, cases[i].by, text), cases[i].to);
}

static void finds_tonics(void **state)
{
    static const struct {
        int32_t fifths;
        muta_mode mode;
        const char *name; /* source: common practice, the circle of fifths */
    } cases[] = {
        {0, MUTA_MAJOR, "C major"},           {0, MUTA_MINOR, "A minor"},
        {1, MUTA_MAJOR, "G major"},           {-3, MUTA_MAJOR, "Eb major"},
        {-3, MUTA_MINOR, "C minor"},          {7, MUTA_MAJOR, "C# major"},
        {-7, MUTA_MAJOR, "Cb major"},         {-7, MUTA_MINOR, "Ab minor"},
        {6, MUTA_MINOR, "D# minor"},          {0, MUTA_DORIAN, "D dorian"},
        {0, MUTA_PHRYGIAN, "E phrygian"},     {0, MUTA_LYDIAN, "F lydian"},
        {0, MUTA_MIXOLYDIAN, "G mixolydian"}, {0, MUTA_LOCRIAN, "B locrian"},
        {-2, MUTA_AEOLIAN, "G aeolian"},
    };
    char text[MUTA_KEY_TEXT];

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++)
        assert_string_equal(muta_key_print((muta_key){cases[i].fifths, cases[i].mode}, text),
                            cases[i].name);
}

static void signs_the_steps(void **state)
{
    static const struct {
        int32_t fifths;
        int sharps[7]; /* C D E F G A B; source: common practice, the order of sharps and flats */
    } cases[] = {
        {0, {0, 0, 0, 0, 0, 0, 0}},         {1, {0, 0, 0, 1, 0, 0, 0}},
        {2, {1, 0, 0, 1, 0, 0, 0}},         {7, {1, 1, 1, 1, 1, 1, 1}},
        {-1, {0, 0, 0, 0, 0, 0, -1}},       {-4, {0, -1, -1, 0, 0, -1, -1}},
        {-7, {-1, -1, -1, -1, -1, -1, -1}}, {8, {1, 1, 1, 2, 1, 1, 1}},
    };

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++)
        for (int step = 0; step < 7; step++)
            assert_int_equal(muta_key_sharps(cases[i].fifths, step), cases[i].sharps[step]);
}

static void goes_the_nearest_way(void **state)
{
    static const struct {
        const char *from, *to, *by; /* source: interface: nearest, up when equal */
    } cases[] = {
        {"C", "G", "-P4"}, {"C", "F", "P4"},  {"C", "F#", "A4"}, {"C", "Gb", "d5"},
        {"C", "C", "P1"},  {"C", "B", "-m2"}, {"G", "A", "M2"},  {"a", "e", "-P4"},
        {"C", "e", "M3"},  {"Bb", "D", "M3"},
    };
    char text[MUTA_PITCH_TEXT];

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++) {
        muta_key from;
        muta_key to;
        assert_int_equal(muta_key_parse(cases[i].from, &from), MUTA_OK);
        assert_int_equal(muta_key_parse(cases[i].to, &to), MUTA_OK);
        assert_string_equal(muta_interval_print(muta_key_between(from, to), text), cases[i].by);
    }
}

static void moves_signatures(void **state)
{
    static const struct {
        const char *by;
        int32_t fifths; /* source: common practice, the circle of fifths */
    } cases[] = {
        {"P5", 1}, {"-P4", 1}, {"M2", 2}, {"m2", -5}, {"m3", -3}, {"P8", 0}, {"A1", 7}, {"-M2", -2},
    };

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++) {
        muta_interval by;
        assert_int_equal(muta_interval_parse(cases[i].by, &by), MUTA_OK);
        assert_int_equal(muta_interval_fifths(by), cases[i].fifths);
    }
}

static void refuses_what_is_none(void **state)
{
    static const char *const intervals[] = {"",  "P3", "M5", "m4",  "X2",
                                            "M", "2",  "M0", "PP5", "M2x"};
    static const char *const pitches[] = {"", "H4", "C", "C10", "C-1", "C4x", "Cbbbb4"};
    static const char *const keys[] = {"", "H", "G:funky", "G#", "Fb", "C4"};
    muta_interval interval;
    muta_pitch pitch;
    muta_key key;

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(intervals); i++)
        assert_int_equal(muta_interval_parse(intervals[i], &interval), MUTA_E_RANGE);
    for (size_t i = 0; i < MUTA_LENGTH(pitches); i++)
        assert_int_equal(muta_pitch_parse(pitches[i], &pitch), MUTA_E_RANGE);
    for (size_t i = 0; i < MUTA_LENGTH(keys); i++)
        assert_int_equal(muta_key_parse(keys[i], &key), MUTA_E_RANGE);
}

static void spells_by_the_nearest_semitone(void **state)
{
    static const struct {
        int32_t alter;
        int sharps; /* source: architecture: an exact half goes toward natural */
    } cases[] = {
        {0, 0},     {100000, 1}, {-100000, -1}, {50000, 0},    {-50000, 0},
        {50001, 1}, {-13686, 0}, {150000, 1},   {-150000, -1}, {86314, 1},
    };

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++)
        assert_int_equal(muta_pitch_sharps((muta_pitch){28, cases[i].alter}), cases[i].sharps);
}

/* The dominant and the chord on the seventh degree have the leading tone. Source: common practice.
 */
static void knows_leading_chords(void **state)
{
    (void)state;
    for (int32_t tonic = -3; tonic <= 3; tonic++)
        for (int32_t degree = -6; degree <= 6; degree++) {
            muta_recast recast = {.tonic = tonic};
            muta_recast_for(&recast, tonic + degree);
            assert_int_equal(recast.has_leading, degree == 1 || degree == 5);
        }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(knows_leading_chords), cmocka_unit_test(adds_intervals),
        cmocka_unit_test(finds_tonics),         cmocka_unit_test(signs_the_steps),
        cmocka_unit_test(goes_the_nearest_way), cmocka_unit_test(moves_signatures),
        cmocka_unit_test(refuses_what_is_none), cmocka_unit_test(spells_by_the_nearest_semitone),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
