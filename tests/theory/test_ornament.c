/* test_ornament.c: ornaments against the notes as which treatises print them. */
#include "support/test.h"
#include "theory/ornament.h"
#include <stdio.h>
#include <string.h>

/* `1:1/8 0:7/8`: steps from the main note with their lengths in quarters. */
static void print(const char *name, const char *treatise, const char *duration, char *text,
                  size_t room)
{
    static muta_stroke strokes[MUTA_STROKES];
    muta_fraction lasts;
    size_t at = 0;

    assert_int_equal(muta_fraction_parse(duration, &lasts), MUTA_OK);
    const size_t count = muta_ornament_realise(name, treatise, lasts, strokes);
    text[0] = '\0';
    for (size_t i = 0; i < count; i++) {
        char number[MUTA_FRACTION_TEXT];
        at += (size_t)snprintf(text + at, room - at, "%s%d:%s", i ? " " : "", strokes[i].steps,
                               muta_fraction_print(strokes[i].duration, number));
    }
}

static void plays_as_printed(void **state)
{
    static const struct {
        const char *name, *treatise, *lasts, *notes, *source;
    } cases[] = {
        {"trill", "bach", "1", "1:1/8 0:1/8 1:1/8 0:1/8 1:1/8 0:1/8 1:1/8 0:1/8",
         "J. S. Bach, Explication (1720), no. 1, over a quarter"},
        {"mordent", "bach", "1", "0:1/8 -1:1/8 0:3/4", "the same, no. 2"},
        {"trill-ended", "bach", "1", "1:1/8 0:1/8 1:1/8 0:1/8 1:1/8 0:1/8 -1:1/8 0:1/8",
         "the same, no. 3"},
        {"turn", "bach", "1", "1:1/4 0:1/4 -1:1/4 0:1/4", "the same, no. 4"},
        {"trill-below", "bach", "1", "-1:1/8 0:1/8 1:1/8 0:1/8 1:1/8 0:1/8 1:1/8 0:1/8",
         "the same, no. 5"},
        {"trill-above", "bach", "1", "1:1/8 0:1/8 -1:1/8 0:1/8 1:1/8 0:1/8 1:1/8 0:1/8",
         "the same, no. 6"},
        {"appoggiatura", "bach", "1", "1:1/2 0:1/2", "the same, no. 10"},
        {"appoggiatura", "emanuel", "2", "1:1 0:1",
         "C. P. E. Bach (1753), ch. 2, 2, par. 11: half of a note in two, from memory"},
        {"appoggiatura", "emanuel", "3", "1:2 0:1",
         "the same: two thirds of a dotted note, from memory"},
        {"appoggiatura", "emanuel", "3/2", "1:1 0:1/2", "the same, from memory"},
        {"turn", "emanuel", "1", "1:1/8 0:1/8 -1:1/8 0:5/8",
         "the same, 4: three fast notes, the main note held, from memory"},
        {"turn-after", "emanuel", "1", "0:1/2 1:1/8 0:1/8 -1:1/8 0:1/8",
         "the same: the main note held, the turn before the next, from memory"},
        {"upper-mordent", "emanuel", "1", "0:1/8 1:1/8 0:3/4",
         "the same, 8: the exact inverse of the short mordent, from memory"},
        {"slide", "emanuel", "1", "-2:1/8 -1:1/8 0:3/4",
         "the same, 7: two steps up, on the beat, from memory"},
        {"compound", "emanuel", "1", "-1:1/8 1:1/8 0:3/4", "the same, 6, from memory"},
        {"mordent", "emanuel", "1/2", "0:1/8 -1:1/8 0:1/4",
         "common practice: what a treatise does not have is played as elsewhere"},
        {"turn", "bach", "1/2", "1:1/8 0:1/8 -1:1/8 0:1/8",
         "common practice: four of an eighth are thirty-seconds"},
        {"no-such-thing", NULL, "1", "", "no row"},
    };
    char text[256];

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++) {
        print(cases[i].name, cases[i].treatise, cases[i].lasts, text, sizeof text);
        assert_string_equal(text, cases[i].notes);
    }
}

/* Whatever is asked for, the notes fill the time: facts of common practice. */
static void fills_the_time(void **state)
{
    static const char *const names[] = {"trill",        "trill-ended", "mordent",
                                        "turn",         "turn-after",  "slide",
                                        "appoggiatura", "acciaccatura"};
    static muta_stroke strokes[MUTA_STROKES];

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(names); i++)
        for (int64_t top = 1; top <= 24; top++)
            for (int64_t bottom = 1; bottom <= 12; bottom++) {
                const muta_fraction lasts = muta_fraction_of(top, bottom);
                muta_fraction sum = MUTA_ZERO;
                const size_t count = muta_ornament_realise(names[i], NULL, lasts, strokes);
                for (size_t j = 0; j < count; j++) {
                    assert_true(strokes[j].duration.top > 0);
                    sum = muta_fraction_add(sum, strokes[j].duration);
                }
                assert_true(count == 0 || muta_fraction_compare(sum, lasts) == 0);
            }
    assert_int_equal(muta_ornament_realise("trill", NULL, muta_fraction_of(1, 1), strokes), 8);
}

/* Each constant has its row, and each row what is played of it. */
static void none_is_forgotten(void **state)
{
    muta_stroke strokes[MUTA_STROKES];

    (void)state;
    for (int i = 1; i < MUTA_ORNAMENT_COUNT; i++) {
        const muta_ornament_row *const row = muta_ornament_row_of((muta_ornament)i);
        assert_non_null(row->name);
        assert_non_null(row->fits);
        assert_true(row->liking > 0);
        assert_int_equal(muta_ornament_named((muta_text){row->name, strlen(row->name)}), i);
        if (row->sign)
            assert_int_equal(muta_ornament_of_sign(row->sign), i);
        if (row->turned)
            assert_int_equal(muta_ornament_row_of(row->turned)->turned, i);
        assert_int_equal(muta_ornament_realise(row->name, NULL, muta_fraction_of(1, 1), strokes) >
                             0,
                         !row->leads_on);
    }
}

/* On both sides of each edge. Source: common practice, as the rows say. */
static void stand_where_they_belong(void **state)
{
    static const struct {
        const char *name;
        muta_ornament_place fits;
        muta_ornament_place fails;
    } cases[] = {
        {"trill", {.lasts = {1, 1}}, {.lasts = {3, 4}}},
        {"trill", {.lasts = {7, 4}}, {.lasts = {2, 1}}},
        {"trill", {.lasts = {2, 1}, .leads_to_end = true}, {.lasts = {2, 1}}},
        {"trill",
         {.lasts = {1, 1}, .is_sung = true, .is_asked = true},
         {.lasts = {1, 1}, .is_sung = true}},
        {"turn", {.lasts = {1, 1}, .is_asked = true}, {.lasts = {3, 4}, .is_asked = true}},
        {"turn", {.lasts = {1, 1}, .has_before = true}, {.lasts = {1, 1}}},
        {"turn",
         {.lasts = {1, 1}, .has_before = true, .back = 0},
         {.lasts = {1, 1}, .has_before = true, .back = -1}},
        {"slide", {.lasts = {1, 1}}, {.lasts = {3, 4}}},
        {"slide",
         {.lasts = {1, 1}, .has_before = true, .back = 1},
         {.lasts = {1, 1}, .has_before = true, .back = -1}},
        {"neighbour",
         {.lasts = {1, 2}, .has_next = true, .repeats = true},
         {.lasts = {1, 2}, .has_next = true}},
        {"neighbour", {.lasts = {1, 1}, .has_next = true}, {.lasts = {1, 1}}},
        {"passing",
         {.lasts = {1, 2}, .has_next = true, .on = -2},
         {.lasts = {1, 2}, .has_next = true, .on = 3}},
        {"passing",
         {.lasts = {1, 1}, .has_next = true, .on = 3},
         {.lasts = {1, 1}, .has_next = true, .on = 4}},
        {"passing",
         {.lasts = {1, 1}, .has_next = true, .on = 2},
         {.lasts = {1, 1}, .has_next = true, .on = 1}},
        {"escape",
         {.lasts = {1, 1}, .has_next = true, .on = -1},
         {.lasts = {1, 1}, .has_next = true, .on = 2}},
        {"anticipation",
         {.lasts = {1, 1}, .has_next = true, .on = 2, .next_level = 2},
         {.lasts = {1, 1}, .has_next = true, .on = 3, .next_level = 2}},
        {"anticipation",
         {.lasts = {1, 1}, .has_next = true, .on = 1, .next_level = 2},
         {.lasts = {1, 1}, .has_next = true, .on = 1, .next_level = 3}},
    };

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++) {
        const muta_ornament ornament =
            muta_ornament_named((muta_text){cases[i].name, strlen(cases[i].name)});
        assert_true(muta_ornament_row_of(ornament)->fits(&cases[i].fits));
        assert_false(muta_ornament_row_of(ornament)->fits(&cases[i].fails));
    }
}

/* What a musician would rather have. Source: common practice. */
static void the_better_place_has_more_merit(void **state)
{
    const muta_ornament_place weak = {.lasts = {1, 1}, .level = 2};
    const muta_ornament_place strong = {.lasts = {1, 1}, .level = 0};
    const muta_ornament_place longer = {.lasts = {2, 1}, .level = 2};
    const muta_ornament_place closing = {.lasts = {1, 1}, .level = 2, .leads_to_end = true};
    const muta_ornament_place from_above = {
        .lasts = {1, 1}, .level = 2, .has_before = true, .back = 1};
    const muta_ornament_place falls = {.lasts = {1, 1}, .level = 2, .has_next = true, .on = -1};

    (void)state;
    assert_true(muta_ornament_merit(MUTA_ORNAMENT_TURN, &strong) >
                muta_ornament_merit(MUTA_ORNAMENT_TURN, &weak));
    assert_true(muta_ornament_merit(MUTA_ORNAMENT_TURN, &longer) >
                muta_ornament_merit(MUTA_ORNAMENT_TURN, &weak));
    assert_true(muta_ornament_merit(MUTA_ORNAMENT_PASSING, &strong) ==
                muta_ornament_merit(MUTA_ORNAMENT_PASSING, &weak));
    assert_true(muta_ornament_merit(MUTA_ORNAMENT_TRILL, &closing) >
                muta_ornament_merit(MUTA_ORNAMENT_TURN, &closing));
    assert_true(muta_ornament_merit(MUTA_ORNAMENT_TRILL, &from_above) <
                muta_ornament_merit(MUTA_ORNAMENT_TRILL, &weak));
    assert_true(muta_ornament_merit(MUTA_ORNAMENT_MORDENT, &from_above) ==
                muta_ornament_merit(MUTA_ORNAMENT_MORDENT, &weak));
    assert_true(muta_ornament_merit(MUTA_ORNAMENT_UPPER_MORDENT, &falls) >
                muta_ornament_merit(MUTA_ORNAMENT_UPPER_MORDENT, &weak));
}

/* Inside a phrase a trill is the last thing that comes to mind; what joins two tones comes first.
 */
static void likes_some_more(void **state)
{
    const int64_t trill = muta_ornament_row_of(MUTA_ORNAMENT_TRILL)->liking;
    const int64_t passing = muta_ornament_row_of(MUTA_ORNAMENT_PASSING)->liking;

    (void)state;
    for (int i = 0; i < MUTA_ORNAMENT_COUNT; i++) {
        const muta_ornament_row *const row = muta_ornament_row_of((muta_ornament)i);
        if (!row->name || row->liking == 0)
            continue;
        assert_true(i == (int)MUTA_ORNAMENT_TRILL || row->liking > trill);
        assert_true(i == (int)MUTA_ORNAMENT_PASSING || row->liking < passing);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(plays_as_printed),
                                       cmocka_unit_test(fills_the_time),
                                       cmocka_unit_test(none_is_forgotten),
                                       cmocka_unit_test(stand_where_they_belong),
                                       cmocka_unit_test(the_better_place_has_more_merit),
                                       cmocka_unit_test(likes_some_more)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
