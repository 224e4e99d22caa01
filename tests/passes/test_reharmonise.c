/* test_reharmonise.c: the best answers of reharmonise against every answer there is, on short
 * tunes; those that pick= names differ in what sounds. */
/* Its slots, candidates and prices. */
#include "passes/alone.c"              /* NOLINT(bugprone-suspicious-include) */
#include "passes/harmonising_search.c" /* NOLINT(bugprone-suspicious-include) */
#include "support/notation.h"
#include "support/test.h"
#include <stdio.h>

enum {
    FEW = 7,    /* candidates a slot, of all that there are, */
    FEWER = 4,  /* and where there is a slot for each beat */
    WANTED = 12 /* answers */
};

static const char *const tunes[] = {
    "(C 4/4) C4:2 E4:2 | F4:2 D4:2 | E4:2 G4:2 | F4:1 E4:1 D4:2 | C4:4",
    "(G 3/4) D5:2 B4:1 | C5:2 A4:1 | B4:1 C5:1 D5:1 | A4:3 | G4:3",
    "(F 4/4) A4:2 C5:2 | Bb4:2 G4:2 | F4:1 G4:1 A4:2 | G4:4 | F4:4",
};

struct fixture {
    muta_score *score;
    muta_region *region;
    muta_passage *in;
    muta_call call;
    struct muta_harmonising work;
};

static void begin(struct fixture *fixture, const char *tune)
{
    *fixture = (struct fixture){.score = notation_read(tune)};
    assert_non_null(fixture->score);
    assert_int_equal(muta_region_parse(fixture->score, NULL, &fixture->region, NULL), MUTA_OK);
    assert_int_equal(muta_passage_lift(fixture->score, fixture->region, &fixture->in, NULL),
                     MUTA_OK);
    assert_int_equal(muta_study_lay(fixture->in, NULL), MUTA_OK);
    fixture->call = (muta_call){.in = fixture->in, .pick = 1};
    fixture->work = (struct muta_harmonising){.call = &fixture->call,
                                              .palette = "common-practice",
                                              .work = muta_passage_work(fixture->in),
                                              .stray = 500};
}

static void leave(struct fixture *fixture, size_t few)
{
    for (size_t i = 0; i < fixture->work.slots.count; i++)
        if (fixture->work.slots.at[i].count > few)
            fixture->work.slots.at[i].count = few;
}

static void prepare(struct fixture *fixture, const char *tune)
{
    muta_passage_chord *chords;
    size_t count;

    begin(fixture, tune);
    assert_int_equal(muta_harmonising_find_tune(&fixture->work), MUTA_OK);
    assert_int_equal(muta_passage_list_chords(fixture->in, &fixture->work.arena, &chords, &count),
                     MUTA_OK);
    assert_int_equal(muta_harmonising_find_slots(&fixture->work, chords, count), MUTA_OK);
    assert_int_equal(muta_harmonising_find_chords(&fixture->work), MUTA_OK);
    leave(fixture, FEW);
}

/* A line that stands alone, as a tune or as a bass. */
static void prepare_alone(struct fixture *fixture, const char *line, muta_alone alone)
{
    muta_passage_chord *chords;
    size_t count;

    begin(fixture, line);
    fixture->work.alone = alone;
    fixture->work.pace = MUTA_CHORD_A_BEAT;
    assert_int_equal(harmonise(&fixture->work, true, &chords, &count), MUTA_OK);
    leave(fixture, FEWER);
}

static void end(struct fixture *fixture)
{
    muta_arena_clear(&fixture->work.arena);
    muta_passage_free(fixture->in);
    muta_region_free(fixture->region);
    muta_score_free(fixture->score);
}

/* Every way through the slots, its cost put among the least. */
static void try_all(struct muta_harmonising *work, size_t step, uint32_t before, int64_t cost,
                    int64_t *least, size_t *ways)
{
    if (step == work->slots.count) {
        size_t at = WANTED;
        ++*ways;
        while (at > 0 && least[at - 1] > cost)
            at--;
        for (size_t i = WANTED - 1; at < WANTED && i > at; i--)
            least[i] = least[i - 1];
        if (at < WANTED)
            least[at] = cost;
        return;
    }
    for (uint32_t i = 0; i < work->slots.at[step].count; i++)
        try_all(work, step + 1, i, cost + price_option(work, step, before, i), least, ways);
}

/* The best answers of the search against the cheapest ways of all. */
static void check_best(struct fixture *fixture)
{
    int64_t least[WANTED];
    size_t ways = 0;
    muta_answer answers[WANTED];
    size_t found;
    const muta_search how = {&fixture->work, fixture->work.slots.count, count_options,
                             price_option};

    for (size_t i = 0; i < WANTED; i++)
        least[i] = INT64_MAX;
    try_all(&fixture->work, 0, MUTA_NO_CANDIDATE, 0, least, &ways);
    assert_int_equal(muta_search_best(&fixture->work.arena, &how, WANTED, answers, &found),
                     MUTA_OK);
    assert_true(ways > 40);
    assert_int_equal(found, WANTED);
    for (size_t i = 0; i < WANTED; i++)
        assert_int_equal(answers[i].cost, least[i]);
}

static void finds_the_best(void **state)
{
    (void)state;
    for (size_t tune = 0; tune < MUTA_LENGTH(tunes); tune++) {
        struct fixture fixture;
        prepare(&fixture, tunes[tune]);
        check_best(&fixture);
        end(&fixture);
    }
}

static void finds_the_best_alone(void **state)
{
    static const struct {
        const char *line;
        muta_alone alone;
    } lines[] = {
        {"(G 3/4) D5:2 B4:1 | C5:1 B4:1 A4:1 | G4:3", MUTA_ALONE_TUNE},
        {"(G 3/4) G3:2 E3:1 | C3:1 D3:2 | G2:3", MUTA_ALONE_BASS},
    };

    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(lines); i++) {
        struct fixture fixture;
        prepare_alone(&fixture, lines[i].line, lines[i].alone);
        check_best(&fixture);
        end(&fixture);
    }
}

/* Whether a third of the chords of the pick-th answer differ from those of the first, of those that
 * may be others. */
static bool differs(struct fixture *fixture, size_t pick)
{
    const muta_answer *first = NULL;
    const muta_answer *answer = NULL;
    size_t others = 0;
    size_t free = 0;

    fixture->call.pick = 1;
    assert_int_equal(muta_harmonising_search(&fixture->work, &first), MUTA_OK);
    fixture->call.pick = pick;
    assert_int_equal(muta_harmonising_search(&fixture->work, &answer), MUTA_OK);
    for (size_t i = 0; first && answer && i < fixture->work.slots.count; i++) {
        const struct muta_harmonised_option *const options =
            &fixture->work.options.at[fixture->work.slots.at[i].option];
        const struct muta_harmonised_option *const one = &options[first->taken[i]];
        const struct muta_harmonised_option *const other = &options[answer->taken[i]];
        free += fixture->work.slots.at[i].count > 1;
        others += one->root_class != other->root_class || one->value.kind != other->value.kind ||
                  one->bass_class != other->bass_class;
    }
    return others > 0 && others * 3 >= free;
}

/* The chords of the pick-th answer, as text. */
static void print_answer(struct fixture *fixture, size_t pick, char *text, size_t room)
{
    const muta_answer *answer = NULL;
    size_t used = 0;

    fixture->call.pick = pick;
    assert_int_equal(muta_harmonising_search(&fixture->work, &answer), MUTA_OK);
    assert_non_null(answer);
    for (size_t i = 0; i < fixture->work.slots.count; i++) {
        const uint32_t taken = answer ? answer->taken[i] : 0;
        const struct muta_harmonised_option *const option =
            &fixture->work.options.at[fixture->work.slots.at[i].option + taken];
        used += (size_t)snprintf(text + used, room - used, "%d:%d/%d ",
                                 muta_fifths_class(option->value.root), (int)option->value.kind,
                                 option->bass_class);
    }
}

static void picks_differ(void **state)
{
    (void)state;
    for (size_t tune = 0; tune < MUTA_LENGTH(tunes); tune++) {
        struct fixture fixture;
        char texts[4][512];
        prepare(&fixture, tunes[tune]);
        for (size_t pick = 0; pick < MUTA_LENGTH(texts); pick++)
            print_answer(&fixture, pick + 1, texts[pick], sizeof texts[pick]);
        for (size_t i = 0; i < MUTA_LENGTH(texts); i++)
            for (size_t j = 0; j < i; j++)
                assert_string_not_equal(texts[i], texts[j]);
        for (size_t pick = 2; pick <= MUTA_LENGTH(texts); pick++)
            assert_true(differs(&fixture, pick));
        end(&fixture);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(finds_the_best),
        cmocka_unit_test(finds_the_best_alone),
        cmocka_unit_test(picks_differ),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
