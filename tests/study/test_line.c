/*
 * test_line.c: what study says of each tone of a line over chords that are written: why it is
 * foreign, how far the reduction keeps it; and how phrases end. Source, where no other is named:
 * common practice, as the textbooks of harmony define them.
 */
#include "study/study.h"
#include "support/notation.h"
#include "support/test.h"
#include <stdio.h>
#include <string.h>

static muta_study *study_of(const char *line, muta_score **score)
{
    muta_study *study = NULL;

    *score = notation_read(line);
    assert_non_null(*score);
    assert_int_equal(muta_study_new(*score, NULL, &study, NULL), MUTA_OK);
    return study;
}

static void says_why_tones_are_foreign(void **state)
{
    static const struct {
        const char *line;
        const char *why;
        const char *source;
    } cases[] = {
        {"(C 4/4) [C:major] C4:1 D4:1 E4:2", "chord passing chord", "between, the same way"},
        {"(C 4/4) [C:major] C4:1 D4:1 C4:2", "chord neighbour chord", "and back again"},
        {"(C 4/4) [C:major] E4:1 D4:1 C4:2", "chord passing chord", "downwards"},
        {"(C 4/4) [C:major] C5:1 B4:1 C5:2", "chord neighbour chord", "below"},
        {"(C 4/4) [F:major] F4:4~ | [C:major] F4:2 E4:2", "suspension chord",
         "held over the change, it falls by step"},
        {"(C 4/4) [F:major] A4:2 F4:2 | [C:major] F4:2 E4:2", "chord chord suspension chord",
         "struck again, it is one all the same"},
        {"(C 4/4) [C:major] C5:2 G4:2 | [C:major] A4:2 G4:2", "chord chord neighbour chord",
         "from below and back"},
        {"(C 4/4) [C:major] G4:2 C5:2 | [C:major] A4:2 G4:2", "chord chord appoggiatura chord",
         "leapt to, left by step"},
        {"(C 4/4) [G:dominant] D5:3 C5:1 | [C:major] C5:4", "chord anticipation chord",
         "a tone of the next chord, early"},
        {"(C 4/4) [C:major] E4:1 F4:1 C4:2", "chord escape chord",
         "reached by step, left by leap the other way"},
        {"(C 4/4) [C:major] C4:1 F4:1 C4:2", "chord free chord", "leapt to and from"},
        {"(C 4/4) [C:major] G4:1 E4:1 C4:2", "chord chord chord", "all are of the chord"},
        {"(C 4/4) [C:major] C5:4~ | [D:minor] C5:4~ | [C:major] C5:4", "pedal",
         "held through a change and back"},
        {"(C 4/4) [C:major] C5:4~ | [F:major] C5:4", "chord", "it is of both chords"},
    };

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++) {
        muta_score *score;
        muta_study *const study = study_of(cases[i].line, &score);
        char text[256] = "";
        for (size_t j = 0; j < study->tune.count; j++)
            (void)snprintf(text + strlen(text), sizeof text - strlen(text), "%s%s", j ? " " : "",
                           muta_nonchord_names[study->nonchords[study->tune.at[j]]]);
        if (strcmp(text, cases[i].why) != 0)
            print_message("%s: %s\n", cases[i].line, cases[i].source);
        assert_string_equal(text, cases[i].why);
        muta_study_free(study);
        muta_score_free(score);
    }
}

static void hears_how_phrases_end(void **state)
{
    static const struct {
        const char *line;
        const char *cadence;
        const char *source;
    } cases[] = {
        {"(C 4/4) [C:major] E4:2 G4:2 | [F:major] A4:2 F4:2 | [G:dominant] D4:2 B3:2 | [C:major] "
         "C4:4",
         "authentic", "the dominant to the tonic"},
        {"(C 4/4) [C:major] E4:2 G4:2 | [A:minor] A4:2 C5:2 | [D:minor] A4:2 F4:2 | [G:major] G4:4",
         "half", "on the dominant"},
        {"(C 4/4) [C:major] E4:2 G4:2 | [G:major] B4:2 D5:2 | [F:major] C5:2 A4:2 | [C:major] G4:4",
         "plagal", "the subdominant to the tonic"},
        {"(C 4/4) [C:major] E4:2 G4:2 | [F:major] A4:2 F4:2 | [G:dominant] D4:2 B3:2 | [A:minor] "
         "C4:4",
         "deceptive", "the dominant to the sixth"},
        {"(Eb 4/4) [C:minor] G4:2 Eb4:2 | [F:minor] F4:2 Ab4:2 | [G:dominant] G4:2 B3:2 | "
         "[C:minor] C4:4",
         "authentic", "in minor"},
        {"(Eb 4/4) [C:minor] G4:2 Eb4:2 | [F:minor] F4:2 Ab4:2 | [G:dominant] G4:2 B3:2 | "
         "[C:major] C4:4",
         "authentic", "in minor with the major third at its end"},
        {"(C 4/4) E5:4 | F5:4 | D5:4 | C5:4 ; C3+G3+C4:4 | F3+A3+C4:4 | B2+G3+D4:4 | C3+G3+C4:4",
         "none", "from a dominant on its third"},
        {"(C 4/4) E5:4 | F5:4 | D5:4 | C5:4 ; C3+G3+C4:4 | F3+A3+C4:4 | G2+G3+B3:4 | C3+G3+E4:4",
         "authentic", "the same on its root"},
        {"(C 4/4) E5:4 | F5:4 | D5:4 | C5:4 ; C3+G3+C4:4 | F3+A3+C4:4 | G2+G3+B3:4 | G2+G3+E4:4",
         "none", "to a six-four"},
    };

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++) {
        muta_score *score;
        muta_study *const study = study_of(cases[i].line, &score);
        const muta_phrase *const last = &study->phrases.at[study->phrases.count - 1];
        if (strcmp(muta_cadence_names[last->cadence], cases[i].cadence) != 0)
            print_message("%s: %s\n", cases[i].line, cases[i].source);
        assert_string_equal(muta_cadence_names[last->cadence], cases[i].cadence);
        muta_study_free(study);
        muta_score_free(score);
    }
}

/* Without the foreign tones 1, on beats 2, one a bar 3, the ends 4. */
static void reduces_step_by_step(void **state)
{
    static const struct {
        const char *line;
        const char *depths;
    } cases[] = {
        {"(C 4/4) [C:major] C4:1 D4:1 E4:1 C4:1 | [C:major] G4:4", "4 0 2 2 4"},
        {"(C 4/4) [C:major] C4:1/2 E4:1/2 G4:1 E4:2 | [F:major] F4:2 A4:1 G4:1 | [C:major] E4:4",
         "4 1 2 2 3 2 0 4"},
    };

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++) {
        muta_score *score;
        muta_study *const study = study_of(cases[i].line, &score);
        char text[128] = "";
        for (size_t j = 0; j < study->tune.count; j++)
            (void)snprintf(text + strlen(text), sizeof text - strlen(text), "%s%u", j ? " " : "",
                           study->depths[j]);
        assert_string_equal(text, cases[i].depths);
        muta_study_free(study);
        muta_score_free(score);
    }
}

/* A motif planted into a line that says nothing else twice. */
static void finds_what_was_planted(void **state)
{
    static const struct {
        const char *line;
        const char *places;
    } cases[] = {
        {"(C 4/4) C5:1/2 A4:1/2 B4:1 C5:2 | D5:3 E5:1 | C5:1/2 A4:1/2 B4:1 C5:2 | G4:4",
         "4: 0 same, 6 same"},
        {"(C 4/4) C5:1/2 A4:1/2 B4:1 C5:2 | D5:3 E5:1 | F5:1/2 D5:1/2 E5:1 F5:2 | G4:4",
         "4: 0 same, 6 transposed"},
        {"(C 4/4) C5:1/2 A4:1/2 B4:1 C5:2 | F5:3 E5:1 | D5:1/2 F5:1/2 E5:1 D5:2 | G4:4",
         "4: 0 same, 6 inverted"},
        {"(C 4/4) C5:1/2 A4:1/2 B4:1 E5:2 | F5:3 E5:1 | C5:1 A4:1 B4:2 | E5:4",
         "4: 0 same, 6 augmented"},
        {"(C 4/4) C5:1 A4:1 B4:2 | E5:2 F5:2 | C5:1/2 A4:1/2 B4:1 E5:2 | F4:4",
         "4: 0 same, 5 diminished"},
        /* The head of the subject of contrapunctus 1 and its real answer a fifth higher: facts 5a.
         */
        {"(F 4/4) D4:2 A4:2 | F4:2 D4:2 | C#4:2 D4:1 E4:1 | F4:4 | A4:2 E5:2 | C5:2 A4:2 | G#4:2 "
         "A4:1 "
         "B4:1 | C5:4",
         "5: 2 same, 10 transposed"},
        {"(C 4/4) C4:1 D4:1 E4:1 F4:1 | G4:4 | E4:3 C4:1 | D4:4", ""},
    };

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++) {
        muta_score *score;
        muta_study *const study = study_of(cases[i].line, &score);
        char text[256] = "";
        if (study->motifs.count > 0) {
            const muta_motif *const motif = &study->motifs.at[0];
            (void)snprintf(text, sizeof text, "%u:", motif->count);
            for (size_t j = 0; j < motif->places.count; j++)
                (void)snprintf(text + strlen(text), sizeof text - strlen(text), "%s %u %s",
                               j ? "," : "", motif->places.at[j].first,
                               muta_motif_names[motif->places.at[j].form]);
        }
        assert_string_equal(text, cases[i].places);
        muta_study_free(study);
        muta_score_free(score);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(says_why_tones_are_foreign), cmocka_unit_test(hears_how_phrases_end),
        cmocka_unit_test(reduces_step_by_step), cmocka_unit_test(finds_what_was_planted)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
