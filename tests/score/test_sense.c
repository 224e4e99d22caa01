/* test_sense.c: the scale of a moment. Source: common practice. */
#include "score/sense.h"
#include "support/notation.h"
#include "support/test.h"

static const muta_key c_minor = {-3, MUTA_MINOR};
static const muta_key c_major = {0, MUTA_MAJOR};

static muta_passage_chord chord_of(int32_t root, muta_chord_kind kind)
{
    return (muta_passage_chord){.value = {.root = root, .kind = kind}};
}

static muta_pitch pitch_of(const char *text)
{
    muta_pitch pitch = {0, 0};

    assert_int_equal(muta_pitch_parse(text, &pitch), MUTA_OK);
    return pitch;
}

static void expect(muta_pitch pitch, const char *expected)
{
    char text[MUTA_PITCH_TEXT];

    assert_string_equal(muta_pitch_print(pitch, text), expected);
}

/* The key's, but where the chord alters a letter. */
static void steps_in_the_scale(void **state)
{
    const muta_passage_chord dominant = chord_of(1, MUTA_CHORD_DOMINANT);
    const muta_passage_chord applied = chord_of(2, MUTA_CHORD_DOMINANT);
    const muta_sense minor = {.key = c_minor};
    const muta_sense over_g = {.key = c_minor, .chord = &dominant};
    const muta_sense over_d = {.key = c_major, .chord = &applied};

    (void)state;
    expect(muta_sense_step(&minor, pitch_of("C5"), -1), "Bb4");
    expect(muta_sense_step(&minor, pitch_of("C5"), -2), "Ab4");
    expect(muta_sense_step(&over_g, pitch_of("C5"), -1), "B4");
    expect(muta_sense_step(&over_d, pitch_of("E4"), 1), "F#4");
    expect(muta_sense_step(&over_d, pitch_of("G4"), 7), "G5");
}

static void steps_along_the_chord(void **state)
{
    const muta_passage_chord dominant = chord_of(1, MUTA_CHORD_DOMINANT);
    const muta_sense over_g = {.key = c_minor, .chord = &dominant};
    const muta_sense none = {.key = c_minor};

    (void)state;
    expect(muta_sense_chord_step(&over_g, pitch_of("G4"), 1), "B4");
    expect(muta_sense_chord_step(&over_g, pitch_of("G4"), 3), "F5");
    expect(muta_sense_chord_step(&over_g, pitch_of("A4"), -1), "G4");
    expect(muta_sense_chord_step(&over_g, pitch_of("C5"), -2), "G4");
    expect(muta_sense_chord_step(&none, pitch_of("C4"), 1), "Eb4");
    assert_true(muta_passage_chord_has(NULL, pitch_of("C4")));
    assert_true(muta_passage_chord_has(&dominant, pitch_of("F3")));
    assert_false(muta_passage_chord_has(&dominant, pitch_of("C4")));
}

/* Below the tonic of a minor key stands its leading tone, unless the chord has the seventh. */
static void finds_neighbours(void **state)
{
    const muta_passage_chord tonic = chord_of(0, MUTA_CHORD_MINOR);
    const muta_passage_chord seventh = chord_of(0, MUTA_CHORD_MINOR_SEVENTH);
    const muta_sense over_c = {.key = c_minor, .chord = &tonic};
    const muta_sense over_c7 = {.key = c_minor, .chord = &seventh};
    const muta_sense major = {.key = c_major};

    (void)state;
    expect(muta_sense_neighbour(&over_c, pitch_of("C5"), -1), "B4");
    expect(muta_sense_neighbour(&over_c, pitch_of("C5"), 1), "D5");
    expect(muta_sense_neighbour(&over_c, pitch_of("G4"), 1), "Ab4");
    expect(muta_sense_neighbour(&over_c, pitch_of("G4"), -1), "F4");
    expect(muta_sense_neighbour(&over_c7, pitch_of("C5"), -1), "Bb4");
    expect(muta_sense_neighbour(&major, pitch_of("C5"), -1), "B4");
    expect(muta_sense_neighbour(&major, pitch_of("C5"), 1), "D5");
}

/* Up to the tonic the sixth and the seventh are raised; what is given, and what goes elsewhere, is
 * not; no augmented second comes of it. */
static void rises_to_the_tonic(void **state)
{
    static const struct {
        const char *before[5];
        const char *after[5];
        size_t count;
    } cases[] = {
        {{"G4", "Ab4", "Bb4", "C5"}, {"G4", "A4", "B4", "C5"}, 4},
        {{"C5", "Bb4", "Ab4", "G4"}, {"C5", "Bb4", "Ab4", "G4"}, 4},
        {{"G4", "Ab4", "Bb4"}, {"G4", "Ab4", "Bb4"}, 3},
        {{"F4", "G4", "Ab4", "Bb4", "C5"}, {"F4", "G4", "A4", "B4", "C5"}, 5},
        {{"Ab4", "Bb4", "C5"}, {"Ab4", "Bb4", "C5"}, 3},
        {{"D5", "Bb4", "C5"}, {"D5", "B4", "C5"}, 3},
        {{"Bb4", "C5"}, {"Bb4", "C5"}, 2},
        {{"B4", "Ab4", "G4"}, {"B4", "A4", "G4"}, 3},
    };
    const muta_passage_chord tonic = chord_of(0, MUTA_CHORD_MINOR);
    const muta_passage_chord third = chord_of(-3, MUTA_CHORD_MAJOR);
    const muta_sense over_c = {.key = c_minor, .chord = &tonic};
    const muta_sense over_e = {.key = c_minor, .chord = &third};
    muta_pitch way[5];

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++) {
        for (size_t j = 0; j < cases[i].count; j++)
            way[j] = pitch_of(cases[i].before[j]);
        muta_sense_smooth(&over_c, way, cases[i].count);
        for (size_t j = 0; j < cases[i].count; j++)
            expect(way[j], cases[i].after[j]);
    }
    /* Over E flat, B flat is the chord's. */
    way[0] = pitch_of("Ab4");
    way[1] = pitch_of("Bb4");
    way[2] = pitch_of("C5");
    muta_sense_smooth(&over_e, way, 3);
    expect(way[1], "Bb4");
}

static void tells_degrees(void **state)
{
    (void)state;
    assert_int_equal(muta_key_above(c_minor, pitch_of("C4")).steps, 0);
    assert_int_equal(muta_key_above(c_minor, pitch_of("B3")).steps, 6);
    assert_int_equal(muta_key_above(c_minor, pitch_of("B3")).size, 11 * MUTA_SEMITONE);
    assert_int_equal(muta_key_above(c_minor, pitch_of("Bb5")).size, 10 * MUTA_SEMITONE);
    assert_int_equal(muta_key_above(c_minor, pitch_of("Ab2")).steps, 5);
}

/* A part is whole in a passage that leaves no tone of it out. */
static void knows_whole_parts(void **state)
{
    static const struct {
        const char *line;
        const char *where;
        bool is_whole;
    } cases[] = {
        {"(C 4/4) C5:4 & E4:4", "1", true},
        {"(C 4/4) C5:4 & E4:4", "1/1/1", false},
        {"(C 4/4) C5:4 & E4:4", "1/1/2", false},
        {"(C 4/4) C5:4 ; E4:4", "2", true},
    };

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++) {
        muta_score *const score = notation_read(cases[i].line);
        muta_region *region = NULL;
        muta_passage *passage = NULL;
        assert_non_null(score);
        assert_int_equal(muta_region_parse(score, cases[i].where, &region, NULL), MUTA_OK);
        assert_int_equal(muta_passage_lift(score, region, &passage, NULL), MUTA_OK);
        assert_int_equal(passage->is_whole_parts, cases[i].is_whole);
        muta_passage_free(passage);
        muta_region_free(region);
        muta_score_free(score);
    }
}

/* A bar that comes back is the first of its kind; a shift of the beat, another pitch, another
 * length make it another. */
static void check_returns(const char *text, bool at_any_pitch, const uint32_t *expected,
                          size_t count)
{
    muta_score *const score = notation_read(text);
    muta_region *region = NULL;
    muta_passage *passage = NULL;
    muta_arena arena = {0};
    uint32_t *first = NULL;

    assert_non_null(score);
    assert_int_equal(muta_region_parse(score, NULL, &region, NULL), MUTA_OK);
    assert_int_equal(muta_passage_lift(score, region, &passage, NULL), MUTA_OK);
    const muta_line *const line = &muta_passage_work(passage).lines[0];
    assert_int_equal(line->event_count, count);
    assert_int_equal(muta_sense_returns(passage, line, at_any_pitch, &arena, &first), MUTA_OK);
    for (size_t i = 0; i < count; i++)
        assert_int_equal(first[i], expected[i]);
    muta_arena_clear(&arena);
    muta_passage_free(passage);
    muta_region_free(region);
    muta_score_free(score);
}

static void finds_returns(void **state)
{
    static const uint32_t same[] = {0, 1, 2, 3, 0, 1, 2, 7, 8, 9, 0, 1, 2, 13, 14, 15};
    static const uint32_t sequence[] = {0, 1, 2, 3, 0, 1, 2, 7, 8, 9, 10};
    static const uint32_t none[] = {0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10};
    static const char *const text =
        "(C 4/4) C5:1 D5:1 E5:2 | G5:4 | D5:1 E5:1 F#5:2 | A5:4 | D5:1 F5:1 E5:2";

    (void)state;
    check_returns("(C 4/4) C5:1 D5:1 E5:2 | G5:4 | C5:1 D5:1 E5:2 | C5:1 D5:1 F5:2 | "
                  "C5:1 D5:1 E5:2 | C5:1 D5:2 E5:1",
                  false, same, MUTA_LENGTH(same));
    check_returns(text, true, sequence, MUTA_LENGTH(sequence));
    check_returns(text, false, none, MUTA_LENGTH(none));
}

/* What a tone added to the upper line stands against. Source: common practice of figures. */
static void hears_the_other_lines(void **state)
{
    static const struct {
        const char *pitch;
        int64_t from;
        bool rubs;
    } cases[] = {
        {"D5", 0, false}, {"F5", 0, true},  /* over E4 */
        {"E4", 0, true},  {"E5", 0, false}, /* its very tone, and an octave */
        {"D#5", 0, true}, {"D#5", 2, false}, {"G#4", 2, true}, {"F#4", 2, true},
    };
    muta_score *const score = notation_read("(C 4/4) C5:4 & E4:2 G4:2");
    muta_region *region = NULL;
    muta_passage *passage = NULL;
    int32_t alter = 1;
    int32_t sound = 0;

    (void)state;
    assert_non_null(score);
    assert_int_equal(muta_region_parse(score, "1/1/1", &region, NULL), MUTA_OK);
    assert_int_equal(muta_passage_lift(score, region, &passage, NULL), MUTA_OK);
    const muta_line *const own = &muta_passage_work(passage).lines[0];
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++)
        assert_int_equal(muta_passage_rubs(passage, own, muta_fraction_of(cases[i].from, 1),
                                           muta_fraction_of(cases[i].from + 1, 1),
                                           pitch_of(cases[i].pitch)),
                         cases[i].rubs);
    /* Its own letters, those of the others, and none. */
    assert_true(muta_passage_letter_at(passage, 0, 0, &alter));
    assert_true(muta_passage_letter_at(passage, 0, 4, &alter));
    assert_int_equal(alter, 0);
    assert_false(muta_passage_letter_at(passage, 0, 1, &alter));
    const muta_texture context = muta_passage_context(passage);
    assert_true(muta_line_sounding(&context, context.lines, muta_fraction_of(1, 1), &sound));
    assert_int_equal(sound, muta_pitch_sound(pitch_of("E4")) / MUTA_SEMITONE);
    assert_true(muta_line_sounding(&context, context.lines, muta_fraction_of(2, 1), &sound));
    assert_int_equal(sound, muta_pitch_sound(pitch_of("G4")) / MUTA_SEMITONE);
    assert_false(muta_line_sounding(&context, context.lines, muta_fraction_of(4, 1), &sound));
    muta_passage_free(passage);
    muta_region_free(region);
    muta_score_free(score);
}

static void expect_readings(const muta_score *score, const uint32_t *bars, size_t count)
{
    assert_int_equal(score->own_chords.rows.count, count);
    for (size_t i = 0; i < count; i++)
        assert_int_equal(score->own_chords.rows.at[i].at.bar, bars[i]);
}

/* A person's chords go with the bars that are said again, and with those that are left. */
static void moves_readings(void **state)
{
    static const uint32_t first_two[] = {0, 1, 2, 4, 5};
    static const uint32_t twice[] = {0, 1, 2, 4, 5, 6, 7};
    static const uint32_t left[] = {0, 2, 3, 4, 5};

    (void)state;
    for (int i = 0; i < 2; i++) {
        muta_score *const score = notation_read("(C 4/4) C5:4 | D5:4 | E5:4 | F5:4");
        assert_non_null(score);
        assert_int_equal(muta_score_read_chords(score, "1 C\n2 G\n3 Am\n", NULL), MUTA_OK);
        if (i == 0) {
            assert_int_equal(muta_own_chords_repeat(score, 0, 2, 1), MUTA_OK);
            expect_readings(score, first_two, MUTA_LENGTH(first_two));
        } else {
            assert_int_equal(muta_own_chords_repeat(score, 1, 3, 2), MUTA_OK);
            expect_readings(score, twice, MUTA_LENGTH(twice));
            muta_own_chords_drop(score, 2);
            expect_readings(score, left, MUTA_LENGTH(left));
        }
        muta_score_free(score);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(steps_in_the_scale), cmocka_unit_test(steps_along_the_chord),
        cmocka_unit_test(finds_neighbours),   cmocka_unit_test(rises_to_the_tonic),
        cmocka_unit_test(tells_degrees),      cmocka_unit_test(knows_whole_parts),
        cmocka_unit_test(finds_returns),      cmocka_unit_test(hears_the_other_lines),
        cmocka_unit_test(moves_readings),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
