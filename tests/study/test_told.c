/* test_told.c: what a study tells its callers, of music whose answers stand in it. */
#include "mutanza/mutanza.h"
#include "study/study.h"
#include "support/notation.h"
#include "support/test.h"
#include <stdlib.h>

static muta_study *study_of(const char *line, muta_score **score)
{
    muta_study *study = NULL;

    *score = notation_read(line);
    assert_non_null(*score);
    assert_int_equal(muta_study_new(*score, NULL, &study, NULL), MUTA_OK);
    return study;
}

/* The chords that are written are told as they are written. */
static void tells_chords(void **state)
{
    static const muta_chord values[] = {{0, MUTA_CHORD_MAJOR, 0},
                                        {-1, MUTA_CHORD_MAJOR, 0},
                                        {1, MUTA_CHORD_DOMINANT, 0},
                                        {0, MUTA_CHORD_MAJOR, 0}};
    muta_score *score;
    muta_study *const study =
        study_of("(C 4/4) [C:major] C4:2 E4:2 | [F:major] F4:2 A4:2 | [G:dominant] G4:2 F4:1 D4:1 "
                 "| [C:major] C4:4",
                 &score);

    (void)state;
    assert_int_equal(muta_study_chord_count(study), MUTA_LENGTH(values));
    for (size_t i = 0; i < MUTA_LENGTH(values); i++) {
        const muta_told_chord chord = muta_study_chord(study, i);
        assert_true(muta_chord_is_equal(chord.value, values[i]));
        assert_true(chord.is_written);
        assert_int_equal(muta_fraction_compare(chord.from, muta_fraction_of((int64_t)i * 4, 1)), 0);
        assert_int_equal(muta_fraction_compare(chord.to, muta_fraction_of((int64_t)i * 4 + 4, 1)),
                         0);
        assert_int_equal(chord.tonic, 0);
        assert_false(chord.is_minor);
    }
    assert_string_equal(muta_chord_kind_name(muta_study_chord(study, 2).value.kind), "dominant");
    muta_study_free(study);
    muta_score_free(score);
}

/* A line in thirds with the tune goes with it, one in contrary motion strikes with it, one that
 * strikes otherwise does neither. Source: common practice. */
static void tells_companions(void **state)
{
    static const struct {
        const char *line;
        size_t count;
        bool is_parallel;
    } cases[] = {
        {"(C 4/4) E5:1 F5:1 G5:1 A5:1 | G5:1 F5:1 E5:2 | F5:1 E5:1 D5:1 F5:1 | E5:4 ; "
         "C5:1 D5:1 E5:1 F5:1 | E5:1 D5:1 C5:2 | D5:1 C5:1 B4:1 D5:1 | C5:4",
         1, true},
        {"(C 4/4) E5:1 F5:1 G5:1 A5:1 | G5:1 F5:1 E5:2 | F5:1 E5:1 D5:1 F5:1 | E5:4 ; "
         "C4:1 B3:1 A3:1 G3:1 | A3:1 B3:1 C4:2 | B3:1 C4:1 D4:1 B3:1 | C4:4",
         1, false},
        {"(C 4/4) E5:1 F5:1 G5:1 A5:1 | G5:1 F5:1 E5:2 | F5:1 E5:1 D5:1 F5:1 | E5:4 ; "
         "C4:4 | C4:4 | G3:4 | C4:4",
         0, false},
        /* In one bar only, and on chords: neither is enough. */
        {"(C 4/4) E5:1 F5:1 G5:1 A5:1 | G5:1 F5:1 E5:2 | F5:1 E5:1 D5:1 F5:1 | E5:4 ; "
         "C5:1 D5:1 E5:1 F5:1 | C4:4 | G3:4 | C4:4",
         0, false},
        {"(C 4/4) E5:1 F5:1 G5:1 A5:1 | G5:1 F5:1 E5:2 | F5:1 E5:1 D5:1 F5:1 | E5:4 ; "
         "A4+C5:1 B4+D5:1 C5+E5:1 D5+F5:1 | C5+E5:1 B4+D5:1 A4+C5:2 | "
         "B4+D5:1 A4+C5:1 G4+B4:1 B4+D5:1 | A4+C5:4",
         0, false},
    };

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++) {
        muta_score *score;
        muta_study *const study = study_of(cases[i].line, &score);
        assert_int_equal(study->companions.count, cases[i].count);
        if (cases[i].count > 0)
            assert_int_equal(study->companions.at[0].is_parallel, cases[i].is_parallel);
        muta_study_free(study);
        muta_score_free(score);
    }
}

static void expect_default(const char *line, const char *chain_text, const char *expected)
{
    muta_score *const score = notation_read(line);
    muta_chain *chain = NULL;
    muta_outcome outcome;
    char text[1024];

    assert_non_null(score);
    assert_int_equal(muta_chain_parse(chain_text, &chain, NULL), MUTA_OK);
    assert_int_equal(muta_chain_run(chain, score, 1, &outcome, NULL), MUTA_OK);
    assert_string_equal(notation_print_written(score, text, sizeof text), expected);
    muta_chain_free(chain);
    muta_score_free(score);
}

/* What went in thirds still does; what strikes with the tune is turned back with it; what does
 * neither stays; and the tune is all of its stretches. */
static void takes_companions_along(void **state)
{
    (void)state;
    expect_default("(C 4/4) E5:1 F5:1 G5:1 A5:1 | G5:1 F5:1 E5:2 ; "
                   "C5:1 D5:1 E5:1 F5:1 | E5:1 D5:1 C5:2",
                   "invert",
                   "(C 4/4) E5:1 D5:1 C5:1 B4:1 | C5:1 D5:1 E5:2 ; "
                   "C5:1 B4:1 A4:1 G4:1 | A4:1 B4:1 C5:2");
    expect_default("(C 4/4) E5:1 F5:1 G5:1 A5:1 | G5:1 F5:1 E5:2 ; "
                   "C4:1 B3:1 A3:1 G3:1 | A3:1 B3:1 C4:2",
                   "retrograde",
                   "(C 4/4) E5:2 F5:1 G5:1 | A5:1 G5:1 F5:1 E5:1 ; "
                   "C4:2 B3:1 A3:1 | G3:1 A3:1 B3:1 C4:1");
    expect_default("(C 4/4) E5:1 F5:1 G5:1 A5:1 | G5:1 F5:1 E5:2 ; C4:4 | C4:4", "retrograde",
                   "(C 4/4) E5:2 F5:1 G5:1 | A5:1 G5:1 F5:1 E5:1 ; C4:4 | C4:4");
}

/* What comes again as it was has the same name, what comes varied has a prime. */
static void names_phrases(void **state)
{
    static const char *const names[] = {"a", "b", "a"};
    muta_score *score;
    muta_study *const study =
        study_of("(C 4/4) C5:1 D5:1 E5:1 F5:1 | G5:2 r:2 | A5:1 F5:1 D5:1 B4:1 | G4:2 r:2 | "
                 "C5:1 D5:1 E5:1 F5:1 | G5:2 r:2",
                 &score);

    (void)state;
    assert_int_equal(study->phrases.count, MUTA_LENGTH(names));
    for (size_t i = 0; i < MUTA_LENGTH(names); i++) {
        assert_int_equal(study->phrases.at[i].letter, names[i][0]);
        assert_int_equal(study->phrases.at[i].primes, 0);
    }
    muta_study_free(study);
    muta_score_free(score);
}

/* What strikes chords of three tones is heard as the accompaniment of what moves by itself. */
static void hears_the_tune_under_chords(void **state)
{
    muta_score *score;
    muta_study *const study =
        study_of("(C 4/4) G4+C5+E5:1 G4+B4+D5:1 G4+C5+E5:1 A4+C5+F5:1 | G4+C5+E5:1 G4+B4+D5:1 "
                 "E4+G4+C5:2 ; C4:1 D4:1 E4:1 F4:1 | G4:1 F4:1 E4:2",
                 &score);

    (void)state;
    assert_int_equal(study->tune_leads.count, 1);
    assert_int_equal(study->tune_leads.at[0].line, 1);
    muta_study_free(study);
    muta_score_free(score);
}

/* The whole page, read and found right: an augmented sixth and its resolution; a tune under symbols
 * whose second phrase answers the first. */
static void prints_a_page(void **state)
{
    static const struct {
        const char *line;
        const char *page;
    } cases[] = {
        {"(C 4/4) E5:1 D#5:1 E5:2 | E5:4 ; C5:1 C5:1 B4:2 | C5:4 ; A4:1 A4:1 G#4:2 | A4:4 ; "
         "A3:1 F3:1 E3:2 | A3:4",
         "Length     2 bars in 4/4\n"
         "Key        A minor (77 % sure)\n"
         "Tune       Tune\n"
         "Its shape  4 tones from D#5 to E5; 66 % steps, 0 % leaps; 0.5 tones a quarter; its "
         "course is level\n"
         "Bass       Other\n"
         "Chords     4, 2.0 a bar\n\n"
         "Phrases\n"
         "  a    bars 1-2, authentic cadence\n"
         "       | Am i  F Ger6 Ger65  E V | Am i\n\n"
         "Skeleton    E5 E5\n"
         "Unusual    a tenth of the tune and more lies outside its key\n"
         "Unusual    1 augmented sixth chord\n"},
        {"(G 3/4) D4:1 | [G:major] G4:2 A4:1 | B4:2 G4:1 | [D:dominant] A4:2 F#4:1 | D4:2 D4:1 | "
         "[G:major] G4:2 A4:1 | B4:2 D5:1 | [D:dominant] C5:1 A4:1 F#4:1 | [G:major] G4:3",
         "Length     9 bars in 3/4, with an upbeat\n"
         "Key        G major (81 % sure)\n"
         "Tune       Tune\n"
         "Its shape  17 tones from D4 to D5; 43 % steps, 12 % leaps; 0.6 tones a quarter; its "
         "course is an arch\n"
         "Bass       Tune\n"
         "Chords     6, 0.6 a bar\n\n"
         "Phrases\n"
         "  a    bars 1-5, half cadence\n"
         "       | D V | G I | D7 V7\n"
         "  b    bars 5-9, authentic cadence, which answers the phrase before\n"
         "       | D7 V7 | G I | D7 V7 | G I\n\n"
         "Motifs\n"
         "  m1  D4 G4 A4 B4, bars 1, 5\n\n"
         "Skeleton    D4 G4 B4 A4 D4 D4 G4 B4 C5 G4\n"},
    };

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++) {
        muta_score *score;
        muta_study *const study = study_of(cases[i].line, &score);
        char *page = NULL;
        assert_int_equal(muta_study_print(study, &page), MUTA_OK);
        assert_string_equal(page, cases[i].page);
        free(page);
        muta_study_free(study);
        muta_score_free(score);
    }
}

static muta_passage *passage_of(const muta_score *score)
{
    muta_region *region = NULL;
    muta_passage *passage = NULL;

    assert_int_equal(muta_region_parse(score, NULL, &region, NULL), MUTA_OK);
    assert_int_equal(muta_passage_lift(score, region, &passage, NULL), MUTA_OK);
    muta_region_free(region);
    return passage;
}

/* The mode of a signature, by the chords with which the music begins and ends. Source: common
 * practice. */
static void tells_modes(void **state)
{
    static const struct {
        const char *line;
        muta_mode mode;
    } cases[] = {
        {"(C 4/4) [C:major] C5:2 E5:2 | [G:dominant] D5:2 B4:2 | [C:major] C5:4", MUTA_MAJOR},
        {"(Eb 4/4) [C:minor] C5:2 Eb5:2 | [G:dominant] D5:2 B4:2 | [C:minor] C5:4", MUTA_MINOR},
        /* A major third at the end says nothing. */
        {"(Eb 4/4) [C:minor] C5:2 Eb5:2 | [F:minor] F5:2 Ab4:2 | [G:dominant] D5:2 B4:2 | "
         "[C:major] C5:4",
         MUTA_MINOR},
        /* G minor under one flat, as it was written once. */
        {"(F 4/4) [G:minor] G4:2 Bb4:2 | [D:dominant] A4:2 F#4:2 | [C:minor] C5:2 Eb5:2 | "
         "[D:dominant] D5:2 F#4:2 | [G:minor] G4:4",
         MUTA_DORIAN},
        /* From the dominant to the dominant it is still major. */
        {"(A 4/4) [E:major] B4:2 G#4:2 | [A:major] A4:2 C#5:2 | [D:major] D5:2 F#5:2 | "
         "[A:major] E5:2 C#5:2 | [E:dominant] D5:2 G#4:2 | [A:major] A4:4 | [E:major] B4:4",
         MUTA_MAJOR},
        /* It begins elsewhere, and ends at home. */
        {"(C 4/4) [F:major] F5:2 A4:2 | [G:dominant] G4:2 B4:2 | [C:major] C5:4", MUTA_MAJOR},
        {"(C 4/4) [D:minor] F5:2 D5:2 | [E:dominant] G#4:2 B4:2 | [A:minor] A4:2 C5:2 | "
         "[E:dominant] B4:2 G#4:2 | [A:minor] A4:4",
         MUTA_MINOR},
    };

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++) {
        muta_score *const score = notation_read(cases[i].line);
        muta_key key = {0, MUTA_MAJOR};
        assert_non_null(score);
        muta_passage *const passage = passage_of(score);
        assert_int_equal(muta_study_modes(passage, NULL), MUTA_OK);
        assert_true(muta_passage_key(passage, &key));
        assert_int_equal(key.mode, cases[i].mode);
        muta_passage_free(passage);
        muta_score_free(score);
    }
}

/* Two lines tell a key surely, one only hints at it. */
static void lays_how_sure(void **state)
{
    static const struct {
        const char *line;
        bool is_sure;
    } cases[] = {
        {"(C 4/4) C5:1 B4:1 C5:1 G4:1 | F4:1 D5:1 C5:1 B4:1 | C5:1 E5:1 D5:1 B4:1 | C5:4 ; "
         "C4:1 G3:1 C4:1 E4:1 | A3:1 B3:1 C4:1 D4:1 | E3:1 C4:1 F3:1 G3:1 | C3:4",
         true},
        {"(C 4/4) C5:1 B4:1 C5:1 G4:1 | F4:1 D5:1 C5:1 B4:1 | C5:1 E5:1 D5:1 B4:1 | C5:4", false},
    };

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++) {
        muta_score *const score = notation_read(cases[i].line);
        assert_non_null(score);
        muta_passage *const passage = passage_of(score);
        assert_int_equal(muta_study_lay(passage, NULL), MUTA_OK);
        const muta_passage_chord *const chord =
            muta_passage_chord_at(passage, (muta_fraction){1, 1});
        assert_non_null(chord);
        assert_int_equal(chord->is_sure, cases[i].is_sure);
        muta_passage_free(passage);
        muta_score_free(score);
    }
}

/* A scale down to the tonic is in its key, and its tones are the tune's. */
static void tells_key_and_tune(void **state)
{
    static const char *const names[] = {"A4", "G4", "F4", "E4", "D4", "C#4", "D4"};
    muta_score *score;
    muta_study *const study = study_of("(F 4/4) A4:1 G4:1 F4:1 E4:1 | D4:1 C#4:1 D4:2", &score);
    muta_key home;
    char text[MUTA_PITCH_TEXT];

    (void)state;
    assert_true(muta_study_home(study, &home));
    assert_int_equal(home.fifths, -1);
    assert_int_equal(home.mode, MUTA_MINOR);
    assert_int_equal(muta_study_key_count(study), 1);
    assert_int_equal(muta_study_key(study, 0).key.fifths, -1);
    assert_true(muta_study_key(study, 0).confidence.top > 0);
    assert_int_equal(muta_study_tone_count(study), MUTA_LENGTH(names));
    for (size_t i = 0; i < MUTA_LENGTH(names); i++) {
        const muta_told_tone tone = muta_study_tone(study, i);
        assert_string_equal(muta_pitch_print(tone.pitch, text), names[i]);
        assert_int_equal(tone.part, 0);
        assert_true(tone.depth <= 4);
    }
    /* The last tone of a phrase stays to the end of the reduction. */
    assert_int_equal(muta_study_tone(study, MUTA_LENGTH(names) - 1).depth, 4);
    assert_int_equal(muta_study_phrase_count(study), 1);
    assert_int_equal(muta_fraction_compare(muta_study_phrase(study, 0).to, muta_fraction_of(8, 1)),
                     0);
    muta_study_free(study);
    muta_score_free(score);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(tells_chords),
                                       cmocka_unit_test(tells_companions),
                                       cmocka_unit_test(takes_companions_along),
                                       cmocka_unit_test(names_phrases),
                                       cmocka_unit_test(tells_modes),
                                       cmocka_unit_test(lays_how_sure),
                                       cmocka_unit_test(prints_a_page),
                                       cmocka_unit_test(hears_the_tune_under_chords),
                                       cmocka_unit_test(tells_key_and_tune)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
