/* test_address.c: addresses against the demo score, whose bars are known. */
#include "mutanza/mutanza.h"
#include "support/test.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static muta_score *score;

/* How many tones an address holds; -1 and the reason when it is refused. */
static long tones(const char *address, muta_status *status, char *why)
{
    muta_diags *const diags = muta_diags_new();
    muta_region *region = NULL;
    muta_passage *passage = NULL;
    long count = -1;

    *status = muta_region_parse(score, address, &region, diags);
    if (*status == MUTA_OK)
        *status = muta_passage_lift(score, region, &passage, diags);
    if (*status == MUTA_OK)
        count = (long)muta_passage_work(passage).tone_count;
    else
        strncpy(why, muta_diags_at(diags, 0)->message, 500);
    muta_passage_free(passage);
    muta_region_free(region);
    muta_diags_free(diags);
    return count;
}

/* Source: fixtures/lanterns.musicxml, counted by hand. */
static void finds_what_is_meant(void **state)
{
    static const struct {
        const char *address;
        long tones;
    } cases[] = {
        {"Voice", 19},          {"1", 19},
        {"voice", 19},          {"V", 19},
        {"\"P1\"", 19},         {"Voice:0", 1},
        {"Voice:1", 2},         {"Voice:2.1-2.1", 1},
        {"Voice:2.2", 2},       {"Voice:2.2+1/2", 1},
        {"Voice:2.3-3", 3},     {"Voice:5-", 9},
        {"Voice:#1-#2", 3},     {"#2", 2 + 1 + 4 + 1},
        {"Clarinet", 14},       {"Clarinet in Bb:5-6", 4},
        {"Piano/2", 7},         {"Piano/2:3-4", 1},
        {"Piano/2:4", 1},       {"Piano/1/1:1", 4},
        {"3/1:8", 2},           {"Voice:1,Piano/2:1", 3},
        {"*:8", 1 + 1 + 2 + 1},
    };
    muta_status status;
    char why[512];

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++) {
        const long found = tones(cases[i].address, &status, why);
        if (found != cases[i].tones)
            print_message("%s: %ld\n", cases[i].address, found);
        assert_int_equal(found, cases[i].tones);
    }
}

static void says_what_there_is(void **state)
{
    static const struct {
        const char *address;
        muta_status status;
        const char *says;
    } cases[] = {
        {"Trumpet", MUTA_E_DATA, "Clarinet in Bb"},
        {"4", MUTA_E_DATA, "\"Piano\"/1-2"},
        {"Voice:99", MUTA_E_DATA, "bars 0 to 8"},
        {"Voice:#10", MUTA_E_DATA, "#1 to #9"},
        {"Piano/3", MUTA_E_DATA, "/1-2"},
        {"Piano/1/2", MUTA_E_DATA, "voice"},
        {"Voice:2.4", MUTA_E_DATA, "3 beats"},
        {"Voice:5-4", MUTA_E_USAGE, "ends before it begins"},
        {"Voice:2.x", MUTA_E_USAGE, "beat"},
        {"Voice:", MUTA_E_USAGE, "missing"},
        {"\"P1", MUTA_E_USAGE, "not closed"},
        {"Voice:1 x", MUTA_E_USAGE, "left over"},
        {"Piano/", MUTA_E_USAGE, "staff number"},
        {"5-8", MUTA_E_USAGE, "*:5-8"},
    };
    muta_status status;
    char why[512];

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++) {
        assert_int_equal(tones(cases[i].address, &status, why), -1);
        assert_int_equal(status, cases[i].status);
        if (!strstr(why, cases[i].says))
            print_message("%s: %s\n", cases[i].address, why);
        assert_non_null(strstr(why, cases[i].says));
    }
}

static muta_score *read_bars(const char *bars)
{
    muta_score *read = NULL;
    char xml[4096];

    (void)snprintf(xml, sizeof xml,
                   "<score-partwise><part-list><score-part id=\"A\"><part-name>A</part-name>"
                   "</score-part></part-list><part id=\"A\">%s</part></score-partwise>",
                   bars);
    assert_int_equal(muta_score_read_bytes(xml, strlen(xml), &read, NULL), MUTA_OK);
    return read;
}

#define NOTE "<note><pitch><step>C</step><octave>4</octave></pitch><duration>4</duration></note>"

/* Source: interface: a number that occurs twice lists the # forms; 12a and X1 may be written. */
static void meets_odd_numbers(void **state)
{
    muta_status status;
    char why[512];
    muta_score *const demo = score;

    (void)state;
    score = read_bars("<measure number=\"1\">" NOTE "</measure><measure number=\"X1\">" NOTE
                      "</measure><measure number=\"1\">" NOTE
                      "</measure><measure number=\"12a\">" NOTE "</measure>");
    assert_int_equal(tones("1:X1-12a", &status, why), 3);
    assert_int_equal(tones("1:1", &status, why), -1);
    assert_non_null(strstr(why, "#1, #3"));
    muta_score_free(score);
    score = demo;
}

int main(int count, char **arguments)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(finds_what_is_meant),
        cmocka_unit_test(says_what_there_is),
        cmocka_unit_test(meets_odd_numbers),
    };

    if (count < 2 || muta_score_read(arguments[1], &score, NULL) != MUTA_OK)
        return 1;
    const int failed = cmocka_run_group_tests(tests, NULL, NULL);
    muta_score_free(score);
    return failed;
}
