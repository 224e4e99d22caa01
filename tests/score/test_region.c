/*
 * test_region.c: stretches of a score, and what else there is. Source: interface (addresses) and
 * architecture (edges do not cut tuplets).
 */
#include "score/region.h"
#include "support/notation.h"
#include "support/test.h"
#include <string.h>

static muta_region *region_of(const muta_score *score, const char *address)
{
    muta_region *region = NULL;

    assert_int_equal(muta_region_parse(score, address, &region, NULL), MUTA_OK);
    return region;
}

static muta_score *score_of(const char *line)
{
    muta_score *const score = notation_read(line);

    assert_non_null(score);
    return score;
}

static void is_moment(muta_moment at, uint32_t bar, int64_t top, int64_t bottom)
{
    assert_int_equal(at.bar, bar);
    assert_int_equal(muta_fraction_compare(at.onset, muta_fraction_of(top, bottom)), 0);
}

/* What an address comes to once its edges have moved off the groups that they cut. */
struct edges {
    const char *music;
    const char *address;
    bool moved;
    int64_t edges[6]; /* bar, top, bottom of its start; of its end */
};

static void edges_leave_groups_whole(void **state)
{
    static const struct edges cases[] = {
        /* the second beat begins inside a triplet; what begins on the third is heard out */
        {"(C 4/4) C5:2/3 D5:2/3 E5:2/3 F5:2 | C5:4", "1:1.2-1.3", true, {0, 0, 1, 1, 0, 1}},
        {"(C 4/4) C5:2/3 D5:2/3 E5:2/3 F5:2 | C5:4", "1:1.3-1.4", false, {0, 2, 1, 1, 0, 1}},
        {"(C 4/4) C5:2/3 D5:2/3 E5:2/3 F5:2 | C5:4", "1:1.1-1.1", true, {0, 0, 1, 0, 2, 1}},
        /* two triplets after each other are two */
        {"(C 2/4) C5:1/3 D5:1/3 E5:1/3 C5:1/3 D5:1/3 E5:1/3",
         "1:1.2-1.2",
         false,
         {0, 1, 1, 1, 0, 1}},
        /* a group up to the bar line ends where the next bar begins */
        {"(C 4/4) F5:2 C5:2/3 D5:2/3 E5:2/3 | C5:4", "1:1.3-1.3", true, {0, 2, 1, 1, 0, 1}},
        /* plain notes are no group */
        {"(C 4/4) C5:1/2 D5:1 E5:1/2 F5:2 | C5:4", "1:1.2-1.2", false, {0, 1, 1, 0, 2, 1}},
        /* another voice's group cuts too, another part's does not */
        {"(C 4/4) C5:1 D5:1 E5:2 & C4:2/3 D4:2/3 E4:2/3 F4:2",
         "1/1:1.2-1.2",
         true,
         {0, 0, 1, 0, 2, 1}},
        {"(C 4/4) C5:1 D5:1 E5:2 & C4:2/3 D4:2/3 E4:2/3 F4:2",
         "1/1/1:1.2-1.2",
         false,
         {0, 1, 1, 0, 2, 1}},
        {"(C 4/4) C5:1 D5:1 E5:2 ; C4:2/3 D4:2/3 E4:2/3 F4:2",
         "1:1.2-1.2",
         false,
         {0, 1, 1, 0, 2, 1}},
    };

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++) {
        const int64_t *const at = cases[i].edges;
        muta_score *const score = score_of(cases[i].music);
        muta_region *const region = region_of(score, cases[i].address);
        assert_int_equal(muta_region_take_groups(score, region), cases[i].moved);
        is_moment(region->from, (uint32_t)at[0], at[1], at[2]);
        is_moment(region->to, (uint32_t)at[3], at[4], at[5]);
        muta_region_free(region);
        muta_score_free(score);
    }
}

static void is_named(void **state)
{
    static const char *const cases[][2] = {
        {"1", "bars 0-4 of Tune"},
        {"*", "bars 0-4 of all parts"},
        {"1:2", "bar 2 of Tune"},
        {"1:2-3,2:2", "bars 2-3 of several parts"},
        {"2/1:2.2-3.1", "bars 2.2-3.1 of Other/1"},
        {"1:2.2-3", "bars 2.2-3 of Tune"},
    };
    muta_score *const score = score_of(
        "(C 3/4) G4:1 | C5:1 D5:1 E5:1 | C5:3 | G4:3 ; r:1 | C3:1 D3:1 E3:1 | C3:1 D3:2 | C3:3");
    char text[64];

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++) {
        muta_region *const region = region_of(score, cases[i][0]);
        assert_string_equal(muta_region_print(score, region, text, sizeof text), cases[i][1]);
        muta_region_free(region);
    }
    muta_score_free(score);
}

static void has_a_rest(void **state)
{
    muta_score *const score = score_of("(C 4/4) C5:4 & C4:4 | D5:4 & D4:4 ; C3:4 | G3:4");
    muta_region *const region = region_of(score, "1/1/1:2");
    muta_region *const all = region_of(score, "*");
    muta_region *rest;

    (void)state;
    assert_int_equal(muta_region_rest(score, region, &rest), MUTA_OK);
    assert_int_equal(rest->ranges.count, 2);
    assert_int_equal(rest->ranges.at[0].part, 0);
    assert_int_equal(rest->ranges.at[0].voice, 1);
    assert_int_equal(rest->ranges.at[1].part, 1);
    is_moment(rest->from, 1, 0, 1);
    is_moment(rest->to, 2, 0, 1);
    muta_region_free(rest);
    assert_int_equal(muta_region_complement(score, region, 0, &rest), MUTA_OK);
    assert_int_equal(rest->ranges.count, 2); /* the first voice's first bar, the second voice */
    is_moment(rest->ranges.at[0].from, 0, 0, 1);
    is_moment(rest->ranges.at[0].to, 1, 0, 1);
    is_moment(rest->ranges.at[1].to, 2, 0, 1);
    muta_region_free(rest);
    assert_int_equal(muta_region_rest(score, all, &rest), MUTA_OK);
    assert_null(rest);
    assert_int_equal(muta_region_complement(score, all, 0, &rest), MUTA_OK);
    assert_null(rest);
    muta_region_free(all);
    muta_region_free(region);
    muta_score_free(score);
}

/* Those that share a moment are one stretch, however they are said. */
static void has_stretches(void **state)
{
    muta_score *const score =
        score_of("(C 4/4) C5:4 | D5:4 | E5:4 | F5:4 | G5:4 ; C3:4 | G3:4 | C3:4 | F3:4 | G3:4");
    muta_region *const region = region_of(score, "1:2-3,2:1-2,1:5");
    muta_region *part;

    (void)state;
    assert_int_equal(muta_region_part(region, 0, &part), MUTA_OK);
    assert_int_equal(part->ranges.count, 2);
    is_moment(part->from, 0, 0, 1);
    is_moment(part->to, 3, 0, 1);
    muta_region_free(part);
    assert_int_equal(muta_region_part(region, 1, &part), MUTA_OK);
    assert_int_equal(part->ranges.count, 1);
    is_moment(part->from, 4, 0, 1);
    muta_region_free(part);
    assert_int_equal(muta_region_part(region, 2, &part), MUTA_OK);
    assert_null(part);
    muta_region_free(region);
    muta_score_free(score);
}

static void is_clipped(void **state)
{
    muta_score *const score =
        score_of("(C 4/4) C5:4 | D5:4 | E5:4 | F5:4 ; C3:4 | G3:4 | C3:4 | F3:4");
    muta_region *const region = region_of(score, "1:1-4,2:1");

    (void)state;
    muta_region_clip(region, 1, 3);
    assert_int_equal(region->ranges.count, 1); /* nothing of the other is left */
    is_moment(region->ranges.at[0].from, 1, 0, 1);
    is_moment(region->ranges.at[0].to, 3, 0, 1);
    is_moment(region->from, 1, 0, 1);
    is_moment(region->to, 3, 0, 1);
    muta_region_clip(region, 0, 4);
    is_moment(region->from, 1, 0, 1);
    is_moment(region->to, 3, 0, 1);
    muta_region_free(region);
    muta_score_free(score);
}

/* Without study the tune is the first line with pitches; its first full bar is not the pick-up. */
static void has_defaults(void **state)
{
    muta_score *const score =
        score_of("(C 3/4) r:1 | r:3 | r:3 ; G4:1 | C5:3 | D5:3 ; r:1 | C3:3 | C3:3");
    muta_region *region;

    (void)state;
    assert_int_equal(muta_region_default(score, MUTA_TUNE, &region), MUTA_OK);
    assert_int_equal(region->ranges.at[0].part, 1);
    assert_false(region->all_parts);
    is_moment(region->from, 0, 0, 1);
    is_moment(region->to, 3, 0, 1);
    muta_region_free(region);
    assert_int_equal(muta_region_default(score, MUTA_FIRST_BAR, &region), MUTA_OK);
    is_moment(region->from, 1, 0, 1);
    is_moment(region->to, 2, 0, 1);
    muta_region_free(region);
    assert_int_equal(muta_region_default(score, MUTA_EVERYTHING, &region), MUTA_OK);
    assert_true(region->all_parts);
    muta_region_free(region);
    muta_score_free(score);
}

static void says_all_there_is(void **state)
{
    muta_score *const score = score_of("(C 4/4) C5:4 | C5:4 ; C3:4 | C3:4");
    muta_diags *const diags = muta_diags_new();
    muta_region *region = NULL;

    (void)state;
    assert_int_equal(muta_region_parse(score, "Horn", &region, diags), MUTA_E_DATA);
    assert_string_equal(muta_diags_at(diags, 0)->message,
                        "there is no part \"Horn\"; there are 1 \"Tune\", 2 \"Other\", bars 1 to 2 "
                        "(#1 to #2)");
    muta_diags_free(diags);
    muta_score_free(score);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(edges_leave_groups_whole),
        cmocka_unit_test(is_named),
        cmocka_unit_test(has_a_rest),
        cmocka_unit_test(has_stretches),
        cmocka_unit_test(has_defaults),
        cmocka_unit_test(is_clipped),
        cmocka_unit_test(says_all_there_is),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
