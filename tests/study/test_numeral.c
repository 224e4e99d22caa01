/* test_numeral.c: chords as degrees of their key. */
#include "study/study.h"
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

/* Places on the line of fifths. */
enum {
    DB = -5,
    AB = -4,
    BB = -2,
    F = -1,
    C = 0,
    G = 1,
    D = 2,
    A = 3,
    E = 4,
    B = 5,
    F_SHARP = 6,
    G_SHARP = 8
};

static void prints_degrees(void **state)
{
    static const struct {
        const char *degree;
        const char *source;
        int tonic;
        int root;
        muta_chord_kind kind;
        uint8_t bass;
        bool is_minor;
    } cases[] = {
        {"I", "common practice", C, C, MUTA_CHORD_MAJOR, 0, false},
        {"I64", "common practice", C, C, MUTA_CHORD_MAJOR, 2, false},
        {"ii6", "common practice", C, D, MUTA_CHORD_MINOR, 1, false},
        {"ii65", "common practice", C, D, MUTA_CHORD_MINOR_SEVENTH, 1, false},
        {"iii", "common practice", C, E, MUTA_CHORD_MINOR, 0, false},
        {"iv", "borrowed: common practice", C, F, MUTA_CHORD_MINOR, 0, false},
        {"V42", "common practice", C, G, MUTA_CHORD_DOMINANT, 3, false},
        {"viio6", "common practice", C, B, MUTA_CHORD_DIMINISHED, 1, false},
        {"vii\xc3\xb8"
         "7",
         "common practice", C, B, MUTA_CHORD_HALF_DIMINISHED, 0, false},
        {"V7/V", "applied: common practice", C, D, MUTA_CHORD_DOMINANT, 0, false},
        {"V6/ii", "applied: common practice", C, A, MUTA_CHORD_MAJOR, 1, false},
        {"V7/IV", "applied: common practice", C, C, MUTA_CHORD_DOMINANT, 0, false},
        {"viio7/V", "common practice", C, F_SHARP, MUTA_CHORD_DIMINISHED_SEVENTH, 0, false},
        {"bII6", "the Neapolitan sixth: common practice", C, DB, MUTA_CHORD_MAJOR, 1, false},
        {"bVI", "borrowed: common practice", C, AB, MUTA_CHORD_MAJOR, 0, false},
        {"Ger65", "common practice", C, AB, MUTA_CHORD_GERMAN, 0, false},
        {"Fr43", "common practice", C, AB, MUTA_CHORD_FRENCH, 0, false},
        {"i", "common practice", A, A, MUTA_CHORD_MINOR, 0, true},
        {"V7", "common practice", A, E, MUTA_CHORD_DOMINANT, 0, true},
        {"VI", "natural sixth degree: common practice", A, F, MUTA_CHORD_MAJOR, 0, true},
        {"III", "common practice", A, C, MUTA_CHORD_MAJOR, 0, true},
        {"VII", "the subtonic: common practice", A, G, MUTA_CHORD_MAJOR, 0, true},
        {"viio43", "common practice", A, G_SHARP, MUTA_CHORD_DIMINISHED_SEVENTH, 2, true},
        {"ii\xc3\xb8"
         "65",
         "common practice", A, B, MUTA_CHORD_HALF_DIMINISHED, 1, true},
        {"bII6", "the Neapolitan sixth: common practice", A, BB, MUTA_CHORD_MAJOR, 1, true},
        {"V7/iv", "applied: common practice", A, A, MUTA_CHORD_DOMINANT, 0, true},
        {"V7/V", "applied: common practice", A, B, MUTA_CHORD_DOMINANT, 0, true},
    };

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++) {
        const muta_chord chord = {cases[i].root, cases[i].kind, cases[i].bass};
        char text[32];
        assert_string_equal(
            muta_numeral_print(&chord, cases[i].tonic, cases[i].is_minor, text, sizeof text),
            cases[i].degree);
    }
}

/* What MusicXML says that a kind holds. Source: MusicXML 4.0, kind-value. */
static void kinds_hold_their_tones(void **state)
{
    (void)state;
    for (int kind = 0; kind < MUTA_CHORD_KINDS; kind++) {
        const muta_chord_row *const row = muta_chord_row_of((muta_chord_kind)kind);
        for (int i = 0; i < row->count; i++)
            assert_int_equal(muta_fifths_class(row->fifths[i]), row->classes[i]);
    }
    assert_int_equal(muta_chord_tone(MUTA_CHORD_DOMINANT, 10), 3);
    assert_int_equal(muta_chord_tone(MUTA_CHORD_MAJOR, 3), -1);
}

/* What a dominant may be, and what leads a fifth down or a step up. Source: common practice. */
static void knows_dominants(void **state)
{
    static const muta_chord_kind dominants[] = {
        MUTA_CHORD_MAJOR,          MUTA_CHORD_DOMINANT,
        MUTA_CHORD_AUGMENTED,      MUTA_CHORD_AUGMENTED_SEVENTH,
        MUTA_CHORD_DOMINANT_NINTH, MUTA_CHORD_DOMINANT_13TH,
    };

    (void)state;
    for (int kind = 0; kind < MUTA_CHORD_KNOWN; kind++) {
        bool is_one = false;
        for (size_t i = 0; i < MUTA_LENGTH(dominants); i++)
            is_one = is_one || dominants[i] == (muta_chord_kind)kind;
        assert_int_equal(muta_chord_is_dominant((muta_chord_kind)kind), is_one);
        assert_int_equal(muta_chord_leads((muta_chord_kind)kind, 5), is_one);
        assert_int_equal(muta_chord_leads((muta_chord_kind)kind, 1),
                         muta_chord_is_diminished((muta_chord_kind)kind));
        assert_false(muta_chord_leads((muta_chord_kind)kind, 2));
    }
}

/* Source of the signs: common practice. */
static void reads_symbols(void **state)
{
    static const struct {
        const char *text;
        const char *kind; /* NULL: it is no symbol */
        int32_t root;
        uint8_t bass;
    } cases[] = {
        {"C", "major", 0, 0},
        {"D7/F#", "dominant", 2, 1},
        {"F#m7b5", "half-diminished", 6, 0},
        {"Bbmaj7/D", "major-seventh", -2, 1},
        {"Am", "minor", 3, 0},
        {"Ebdim7", "diminished-seventh", -3, 0},
        {"G+", "augmented", 1, 0},
        {"Gsus4", "suspended-fourth", 1, 0},
        {"A9", "dominant-ninth", 3, 0},
        {"C/E", "major", 0, 1},
        {"C/D", "major", 0, 0},
        {"H", NULL, 0, 0},
        {"Cx", NULL, 0, 0},
        {"C/", NULL, 0, 0},
        {"C/H", NULL, 0, 0},
        {"", NULL, 0, 0},
        {"-", NULL, 0, 0},
        {"c", NULL, 0, 0},
    };

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++) {
        muta_chord chord = {0};
        const bool read =
            muta_chord_parse((muta_text){cases[i].text, strlen(cases[i].text)}, &chord);
        assert_int_equal(read, cases[i].kind != NULL);
        if (!read)
            continue;
        assert_int_equal(chord.root, cases[i].root);
        assert_string_equal(muta_chord_kind_name(chord.kind), cases[i].kind);
        assert_int_equal(chord.bass, cases[i].bass);
    }
}

static void spells_classes(void **state)
{
    char text[MUTA_CLASS_TEXT];

    (void)state;
    assert_string_equal(muta_fifths_print(0, text), "C");
    assert_string_equal(muta_fifths_print(-1, text), "F");
    assert_string_equal(muta_fifths_print(6, text), "F#");
    assert_string_equal(muta_fifths_print(-9, text), "Bbb");
    assert_string_equal(muta_fifths_print(12, text), "B#");
}

/* The tonic triad costs least in each of the 24 keys. */
static void tonics_are_cheapest(void **state)
{
    (void)state;
    for (int key = 0; key < MUTA_KEYS; key++) {
        const muta_chord_kind kind = key < MUTA_CLASSES ? MUTA_CHORD_MAJOR : MUTA_CHORD_MINOR;
        const int32_t own = muta_harmony_degree(key, key % MUTA_CLASSES, kind);
        for (int root = 0; root < MUTA_CLASSES; root++)
            for (int other = 0; other < MUTA_CHORD_KINDS; other++)
                if (root != key % MUTA_CLASSES || other != (int)kind)
                    assert_true(muta_harmony_degree(key, root, (muta_chord_kind)other) > own);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(prints_degrees), cmocka_unit_test(kinds_hold_their_tones),
        cmocka_unit_test(reads_symbols),  cmocka_unit_test(knows_dominants),
        cmocka_unit_test(spells_classes), cmocka_unit_test(tonics_are_cheapest),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
