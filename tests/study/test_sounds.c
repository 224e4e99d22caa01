/* test_sounds.c: what the search for chords is given: sums, metres, shares, its table. */
#include "study/hearing.h"
#include "study/study.h"
#include "support/notation.h"
#include "support/test.h"
#include "theory/table.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static muta_hearing hearing;

struct fixture {
    muta_score *score;
    muta_study *study;
    muta_sounds sounds;
};

static void prepare(struct fixture *fixture, const char *line)
{
    *fixture = (struct fixture){.score = notation_read(line)};
    assert_non_null(fixture->score);
    assert_int_equal(muta_study_new(fixture->score, NULL, &fixture->study, NULL), MUTA_OK);
    assert_true(muta_hearing_read(muta_table_hearing, &hearing));
    fixture->sounds = (muta_sounds){.heard = &fixture->study->heard, .hearing = &hearing};
    assert_int_equal(muta_sounds_add_up(&fixture->sounds), MUTA_OK);
}

static void end(struct fixture *fixture)
{
    free(fixture->sounds.sums);
    free(fixture->sounds.slices);
    muta_study_free(fixture->study);
    muta_score_free(fixture->score);
}

/* A metre and how it is beaten. Source: common practice. */
static void tells_metres(void **state)
{
    static const struct {
        const char *line;
        uint8_t metre;
        uint8_t pulse;
    } cases[] = {
        {"(C 2/4) C4:1 D4:1 | C4:2", 0, 3},
        {"(C 3/4) C4:1 D4:1 E4:1 | C4:3", 1, 1},
        {"(C 4/4) C4:1 D4:1 E4:2 | C4:4", 2, 0},
        {"(C 6/8) C4:3/2 D4:3/2 | C4:3", 3, 2},
        {"(C 3/8) C4:1/2 D4:1 | C4:3/2", 4, 1},
        {"(C 2/2) C4:2 D4:2 | C4:4", 5, 0},
        {"(C 9/8) C4:3/2 D4:3/2 E4:3/2 | C4:9/2", 6, 2},
        {"(C 5/4) C4:2 D4:3 | C4:5", 7, 0},
    };

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++) {
        struct fixture fixture;
        prepare(&fixture, cases[i].line);
        assert_int_equal(fixture.sounds.slices[0].metre, cases[i].metre);
        assert_int_equal(fixture.sounds.slices[0].pulse, cases[i].pulse);
        end(&fixture);
    }
}

/* How long each class sounds, what is lowest, and what stands since the bar began. */
static void adds_up(void **state)
{
    struct fixture fixture;

    (void)state;
    prepare(&fixture, "(C 4/4) C3:1 E4:1 G4:1 E4:1 | D3:1 F4:3");
    const muta_sums *const all = &fixture.sounds.sums[fixture.sounds.count];
    assert_int_equal(fixture.sounds.count, 6);
    assert_int_equal(all->mass[0], 1100);
    assert_int_equal(all->mass[4], 2200);
    assert_int_equal(all->mass[5], 3100);
    assert_int_equal(all->mass[1], 0);
    assert_int_equal(all->low[0], 1000);
    assert_int_equal(all->low[4], 2000);
    /* As a waltz has it: the bass of the first beat is the bass of the bar. */
    assert_int_equal(fixture.sounds.slices[3].standing, fixture.sounds.slices[0].low);
    assert_int_equal(fixture.sounds.slices[5].standing, fixture.sounds.slices[4].low);
    assert_int_equal(fixture.sounds.slices[0].next[7], 2);
    assert_int_equal(fixture.sounds.slices[3].next[7], fixture.sounds.count);
    /* F comes from D by no step, E of the third from D by none: only what steps is counted. */
    assert_int_equal(all->steps[0][5][0] + all->steps[0][5][1], 0);
    end(&fixture);
    prepare(&fixture, "(C 4/4) C4:1 D4:1 E4:1 F4:1 | C4:4");
    assert_int_equal(fixture.sounds.sums[4].steps[0][2][0], 1100); /* D from C, two below */
    assert_int_equal(fixture.sounds.sums[4].steps[1][2][3], 1100); /* D to E, two above */
    assert_int_equal(fixture.sounds.sums[4].steps[0][5][1], 1100); /* F from E, one below */
    end(&fixture);
}

/* The mass of steps by whether both ends are the chord's. */
static void weighs_steps(void **state)
{
    struct fixture fixture;
    const muta_candidate c_major = {.root = 0, .kind = MUTA_CHORD_MAJOR};
    muta_span span = {.from = 0, .to = 4};
    int32_t masses[MUTA_STEPS * 2 * 2];

    (void)state;
    prepare(&fixture, "(C 4/4) C4:1 D4:1 E4:1 F4:1 | G4:4");
    muta_span_read(&fixture.sounds, &span);
    muta_span_steps(&span, &c_major, masses);
    /* Coming: D and F, outside, from C and E, inside; E, inside, from D, outside. */
    assert_int_equal(masses[(0 * 2 + 0) * 2 + 1], 220);
    assert_int_equal(masses[(0 * 2 + 1) * 2 + 0], 110);
    assert_int_equal(masses[(0 * 2 + 1) * 2 + 1], 0);
    /* Going: D to E and F to G, inside; C and E, inside, to D and F, outside. */
    assert_int_equal(masses[(1 * 2 + 0) * 2 + 1], 220);
    assert_int_equal(masses[(1 * 2 + 1) * 2 + 0], 220);
    end(&fixture);
}

/* Where each tone lies among what sounds as it begins. */
static void tells_seats(void **state)
{
    static const uint8_t seats[] = {MUTA_SEAT_LOWEST,  MUTA_SEAT_INNER,   MUTA_SEAT_HIGHEST,
                                    MUTA_SEAT_DOUBLED, MUTA_SEAT_DOUBLED, MUTA_SEAT_ALONE};
    struct fixture fixture;

    (void)state;
    prepare(&fixture, "(C 4/4) C4+E4+G4:2 C4+C5:1 D4:1");
    assert_int_equal(fixture.sounds.heard->tones.count, MUTA_LENGTH(seats));
    for (size_t i = 0; i < MUTA_LENGTH(seats); i++)
        assert_int_equal(fixture.sounds.heard->tones.at[i].seat, seats[i]);
    end(&fixture);
    /* What is held still counts, what has ended does not. */
    prepare(&fixture, "(C 4/4) C5:4 & E4:1 r:1 F4:1 r:1");
    assert_int_equal(fixture.sounds.heard->tones.at[2].seat, MUTA_SEAT_LOWEST);
    end(&fixture);
}

static void tells_shares(void **state)
{
    static const struct {
        int64_t part;
        uint8_t share;
    } cases[] = {{0, 0},   {1, 1},   {49, 1},  {50, 2},  {119, 2}, {120, 3},
                 {219, 3}, {220, 4}, {349, 4}, {350, 5}, {1000, 5}};

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++)
        assert_int_equal(muta_span_share(cases[i].part, 1000), cases[i].share);
    assert_int_equal(muta_span_share(1, 0), 0);
    assert_int_equal(muta_way_of(-2), 0);
    assert_int_equal(muta_way_of(-1), 1);
    assert_int_equal(muta_way_of(1), 2);
    assert_int_equal(muta_way_of(2), 3);
    assert_int_equal(muta_way_of(0), MUTA_WAYS);
}

/* A table that lacks a block, or a number, or has one too many, is none. */
static void reads_its_table(void **state)
{
    static const char *const broken[] = {"", "change | 1 2\n", "no_such | 1\n", "change | x\n",
                                         "change | 50\n"};
    char *text;

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(broken); i++)
        assert_false(muta_hearing_read(broken[i], &hearing));
    assert_true(muta_hearing_read(muta_table_hearing, &hearing));
    const size_t room = strlen(muta_table_hearing) + 32;
    text = calloc(1, room);
    assert_non_null(text);
    (void)snprintf(text, room, "%s\nchange | 1\n", muta_table_hearing);
    assert_false(muta_hearing_read(text, &hearing));
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(tells_metres), cmocka_unit_test(adds_up),
        cmocka_unit_test(weighs_steps), cmocka_unit_test(tells_seats),
        cmocka_unit_test(tells_shares), cmocka_unit_test(reads_its_table),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
