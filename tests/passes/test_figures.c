/*
 * test_figures.c: each price of a figure on both sides of its edge: what breaks the rule costs more
 * than what keeps it. Source of the rules: common practice of melodic writing (a leap turns back by
 * step, no tone is said twice, no augmented step, chord tones on the beat, no parallel octaves or
 * fifths with another line).
 */
#include "passes/figures.c" /* NOLINT(bugprone-suspicious-include) */
#include "support/test.h"
#include <stdio.h>
#include <string.h>

static const muta_passage_chord c_major = {
    .value = {0, MUTA_CHORD_MAJOR, 0}, .from = {0, 1}, .to = {4, 1}};

/* `C4 D4 E4` as a candidate. */
static struct candidate made(const char *names, muta_figure figure, int16_t shape)
{
    struct candidate candidate = {.figure = figure, .shape = shape};
    char text[64];
    char *rest = text;

    (void)snprintf(text, sizeof text, "%s", names);
    for (char *name; (name = strtok_r(rest, " ", &rest));) {
        muta_pitch *const note = &candidate.notes[candidate.count];
        assert_int_equal(muta_pitch_parse(name, note), MUTA_OK);
        candidate.sounds[candidate.count++] = semitones(*note);
    }
    return candidate;
}

static struct filling filling_of(muta_cells *cells)
{
    struct filling filling = {
        .cells = cells, .low = 60 - 12, .high = 84 - 12, .lowest = INT32_MIN, .highest = INT32_MAX};

    for (size_t i = 0; i < MUTA_CELL_NOTES; i++)
        filling.chords[i] = &c_major;
    return filling;
}

static int64_t own(const char *names, muta_figure figure, bool is_goal)
{
    const muta_cell cell = {.is_goal = is_goal};
    const struct candidate candidate = made(names, figure, 0);
    const struct filling filling = filling_of(NULL);

    return price_own(&filling, &cell, &candidate);
}

static void prices_a_figure(void **state)
{
    (void)state;
    /* Said twice: never. */
    assert_true(own("C4 C4", MUTA_FIGURE_RUN, true) == MUTA_FORBIDDEN);
    assert_true(own("C4 D4", MUTA_FIGURE_RUN, true) == FOREIGN);
    /* A foreign tone on the beat, unless the tune's own tone stands there. */
    assert_true(own("D4 C4", MUTA_FIGURE_RUN, false) == FOREIGN_ON_BEAT);
    assert_true(own("D4 C4", MUTA_FIGURE_RUN, true) == 0);
    /* A leap to a foreign tone, and to one of the chord; a step is no leap. */
    assert_true(own("C4 F4", MUTA_FIGURE_RUN, true) == INSIDE + FOREIGN_LEAPT);
    assert_true(own("C4 E4", MUTA_FIGURE_RUN, true) == INSIDE);
    assert_true(own("E4 D4", MUTA_FIGURE_RUN, true) == FOREIGN);
    /* An augmented second, and a minor third of the same size. */
    assert_true(own("Ab4 B4", MUTA_FIGURE_RUN, true) ==
                INSIDE + muta_rule_price(MUTA_RULE_AUGMENTED, SHARE) + FOREIGN_LEAPT);
    assert_true(own("G#4 B4", MUTA_FIGURE_RUN, true) == INSIDE + FOREIGN_LEAPT);
    /* A turn costs in a run, and so does its first tone again; not in a broken chord. */
    assert_true(own("C4 D4 C4", MUTA_FIGURE_RUN, true) == FOREIGN + TURNED + RETURNS);
    assert_true(own("C4 E4 C4", MUTA_FIGURE_BROKEN, true) == (int64_t)2 * INSIDE);
    assert_true(own("C4 D4 E4", MUTA_FIGURE_RUN, true) == FOREIGN);
}

static void prices_the_range(void **state)
{
    struct filling filling = filling_of(NULL);

    (void)state;
    assert_true(price_outside(&filling, filling.high) == 0);
    assert_true(price_outside(&filling, filling.low) == 0);
    assert_true(price_outside(&filling, filling.high + 1) == OUTSIDE);
    assert_true(price_outside(&filling, filling.low - 2) == (int64_t)2 * OUTSIDE);
    assert_true(price_outside(&filling, filling.high + BEYOND) == (int64_t)BEYOND * OUTSIDE);
    assert_true(price_outside(&filling, filling.high + BEYOND + 1) == MUTA_FORBIDDEN);
    filling.highest = filling.high;
    assert_true(price_outside(&filling, filling.high) == 0);
    assert_true(price_outside(&filling, filling.high + 1) == MUTA_FORBIDDEN);
    filling.lowest = filling.low;
    assert_true(price_outside(&filling, filling.low) == 0);
    assert_true(price_outside(&filling, filling.low - 1) == MUTA_FORBIDDEN);
}

static int64_t join(const char *one, const char *two, muta_figure figure, int32_t bass,
                    int32_t next_bass)
{
    muta_cell at[] = {{.phrase = 0}, {.phrase = 0}};
    muta_cells cells = {at, 2, 2};
    struct motion motion = {bass, next_bass};
    struct motion *motions[] = {NULL, &motion};
    size_t counts[] = {0, bass != INT32_MIN && next_bass != INT32_MIN};
    struct filling filling = filling_of(&cells);
    const struct candidate from = made(one, figure, 0);
    const struct candidate to = made(two, figure, 0);

    filling.motions = motions;
    filling.motion_counts = counts;
    return price_join(&filling, 1, &from, &to);
}

static void prices_the_way_on(void **state)
{
    const muta_figure run = MUTA_FIGURE_RUN;

    (void)state;
    assert_true(join("C4 D4", "E4 F4", run, INT32_MIN, INT32_MIN) == 0);
    assert_true(join("C4 D4", "D4 E4", run, INT32_MIN, INT32_MIN) == STUTTER);
    /* A third, a fourth and a fifth from the last tone on. */
    assert_true(join("E4 D4", "F4 E4", run, INT32_MIN, INT32_MIN) == A_SKIP);
    assert_true(join("E4 D4", "F#4 E4", run, INT32_MIN, INT32_MIN) == A_SKIP);
    assert_true(join("E4 D4", "G4 F4", run, INT32_MIN, INT32_MIN) == A_SKIP + LEAP);
    /* The leap that does not turn back, and an octave and more. */
    assert_true(join("E4 D4", "G4 A4", run, INT32_MIN, INT32_MIN) == A_SKIP + LEAP + UNRESOLVED);
    assert_true(join("E4 D4", "D5 C5", run, INT32_MIN, INT32_MIN) == 8 * LEAP + A_SKIP);
    assert_true(join("E4 D4", "D#5 D5", run, INT32_MIN, INT32_MIN) == STUTTER + 9 * LEAP + A_SKIP);
    /* Inside a broken chord leaps are cheaper. */
    assert_true(join("C4 E4", "G4 E4", MUTA_FIGURE_BROKEN, INT32_MIN, INT32_MIN) == A_SKIP / 3);
    assert_true(join("D4 F4", "G#4 A4", run, INT32_MIN, INT32_MIN) ==
                A_SKIP + muta_rule_price(MUTA_RULE_AUGMENTED, SHARE));
}

static void prices_parallels(void **state)
{
    const muta_figure run = MUTA_FIGURE_RUN;
    const int32_t c3 = 36;
    const int32_t d3 = 38;

    (void)state;
    /* Octaves and fifths with a line that moves the same way; not the other way, not a third. */
    assert_true(join("D4 C4", "D4 E4", run, c3, d3) == muta_rule_price(MUTA_RULE_OCTAVES, SHARE));
    assert_true(join("A4 G4", "A4 B4", run, c3, d3) == muta_rule_price(MUTA_RULE_FIFTHS, SHARE));
    assert_true(join("F4 E4", "F#4 G4", run, c3, d3) == 0);
    assert_true(join("D4 C4", "D4 E4", run, d3 + 10, c3 - 10) == 0);
    assert_true(join("D4 C4", "D4 E4", run, c3, c3) == 0);
    assert_true(join("D4 C4", "D4 E4", run, INT32_MIN, d3) == 0);
}

/* The way into the end of a phrase counts more. */
static void prices_the_close(void **state)
{
    muta_cell at[] = {{.phrase = 0}, {.closes = true}};
    muta_cells cells = {at, 2, 2};
    size_t counts[] = {0, 0};
    struct motion *motions[] = {NULL, NULL};
    struct filling filling = filling_of(&cells);
    const struct candidate from = made("E4 D4", MUTA_FIGURE_RUN, 0);
    const struct candidate to = made("F4 E4", MUTA_FIGURE_RUN, 0);

    (void)state;
    filling.motions = motions;
    filling.motion_counts = counts;
    assert_true(price_join(&filling, 1, &from, &to) == (int64_t)CLOSES * A_SKIP);
    at[1].closes = false;
    assert_true(price_join(&filling, 1, &from, &to) == A_SKIP);
}

/* A broken chord buries a tune that goes by step, not one that leaps; who asks for it gets it. */
static void keeps_to_the_tune(void **state)
{
    muta_cell at[] = {{.is_goal = true}, {.is_goal = true}};
    muta_cells cells = {at, 2, 2};
    struct filling filling = filling_of(&cells);

    (void)state;
    filling.figure = MUTA_FIGURE_MIXED;
    at[1].goal.place = 1;
    assert_true(wanders(&filling, 0, MUTA_FIGURE_BROKEN));
    assert_false(wanders(&filling, 0, MUTA_FIGURE_RUN));
    assert_false(wanders(&filling, 1, MUTA_FIGURE_BROKEN));
    at[1].goal.place = 2;
    assert_false(wanders(&filling, 0, MUTA_FIGURE_BROKEN));
    at[1].goal.place = -1;
    assert_true(wanders(&filling, 0, MUTA_FIGURE_BROKEN));
    filling.figure = MUTA_FIGURE_BROKEN;
    assert_false(wanders(&filling, 0, MUTA_FIGURE_BROKEN));
}

static int64_t figures(const muta_cell *before, const muta_cell *cell, const struct candidate *from,
                       const struct candidate *to, muta_figure wanted)
{
    struct filling filling = {.figure = wanted};

    read_shapes(&filling);
    return price_figures(&filling, cell, before, from, to);
}

static void prices_the_change_of_figure(void **state)
{
    const muta_cell same = {.phrase = 1};
    const muta_cell other = {.phrase = 2};
    struct filling known = {.shape_count = 0};
    struct candidate one = made("C4 D4", MUTA_FIGURE_RUN, 0);
    struct candidate two = made("E4 F4", MUTA_FIGURE_RUN, 0);

    (void)state;
    read_shapes(&known);
    /* The same shape, from another tone and from the same one. */
    assert_true(figures(&same, &same, &one, &two, MUTA_FIGURE_RUN) == 0);
    assert_true(figures(&same, &same, &one, &one, MUTA_FIGURE_RUN) == AGAIN);
    /* Its mirror, and a third shape of as many notes. */
    int16_t mirror = -1;
    int16_t third = -1;
    for (int16_t i = 0; i < (int16_t)known.shape_count; i++)
        for (int16_t j = (int16_t)(i + 1); j < (int16_t)known.shape_count; j++)
            if (known.shapes[j].twin == i && known.shapes[i].figure == MUTA_FIGURE_RUN) {
                one.shape = i;
                mirror = j;
                for (int16_t k = 0; k < (int16_t)known.shape_count; k++)
                    if (known.shapes[k].count == known.shapes[i].count &&
                        known.shapes[k].twin != i && k != i)
                        third = k;
            }
    assert_true(mirror >= 0 && third >= 0);
    two.shape = mirror;
    assert_true(figures(&same, &same, &one, &two, MUTA_FIGURE_RUN) == OTHER_WAY);
    two.shape = third;
    assert_true(figures(&same, &same, &one, &two, MUTA_FIGURE_RUN) == OTHER_SHAPE);
    /* Another figure: inside a phrase dear, between phrases free, and so is the same one. */
    two.figure = MUTA_FIGURE_NEIGHBOUR;
    assert_true(figures(&same, &same, &one, &two, MUTA_FIGURE_MIXED) == OTHER_FIGURE);
    assert_true(figures(&same, &other, &one, &two, MUTA_FIGURE_MIXED) == 0);
    two.figure = one.figure;
    assert_true(figures(&same, &other, &one, &two, MUTA_FIGURE_MIXED) == OTHER_SHAPE);
    assert_true(figures(&same, &other, &one, &one, MUTA_FIGURE_RUN) == AGAIN);
    /* Single tones have no figure. */
    two.shape = -1;
    assert_true(figures(&same, &other, &one, &two, MUTA_FIGURE_MIXED) == 0);
}

/* In minor no step between the sixth and the seventh is augmented. */
static void smooths_the_minor(void **state)
{
    const muta_passage_chord e_major = {.value = {4, MUTA_CHORD_MAJOR, 0}};
    const muta_passage_chord d_minor = {.value = {2, MUTA_CHORD_MINOR, 0}};
    struct candidate up = made("E4 F4 G#4", MUTA_FIGURE_RUN, 0);
    struct candidate down = made("F4 G#4", MUTA_FIGURE_RUN, 0);

    (void)state;
    smooth(&up, &e_major);
    assert_int_equal(up.notes[1].alter, MUTA_SEMITONE);
    assert_int_equal(up.notes[2].alter, MUTA_SEMITONE);
    smooth(&down, &d_minor);
    assert_int_equal(down.notes[0].alter, 0);
    assert_int_equal(down.notes[1].alter, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(prices_a_figure),
        cmocka_unit_test(prices_the_range),
        cmocka_unit_test(prices_the_way_on),
        cmocka_unit_test(prices_parallels),
        cmocka_unit_test(prices_the_close),
        cmocka_unit_test(keeps_to_the_tune),
        cmocka_unit_test(prices_the_change_of_figure),
        cmocka_unit_test(smooths_the_minor),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
