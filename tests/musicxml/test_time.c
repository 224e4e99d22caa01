/* test_time.c: exact onsets and durations from what real files write. */
#include "score/model.h"
#include "support/test.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define N(step, duration, more) "<note>" step "<duration>" duration "</duration>" more "</note>"
#define C "<pitch><step>C</step><octave>4</octave></pitch>"
#define E "<chord/><pitch><step>E</step><octave>4</octave></pitch>"
#define R "<rest/>"
#define DIVISIONS(n) "<attributes><divisions>" n "</divisions></attributes>"
#define SEVEN                                                                                      \
    N(C, "69",                                                                                     \
      "<type>eighth</type><time-modification><actual-notes>7</actual-notes><normal-notes>2"        \
      "</normal-notes></time-modification>")
#define THIRD(n)                                                                                   \
    N(C, n,                                                                                        \
      "<type>eighth</type><time-modification><actual-notes>3</actual-notes><normal-notes>2"        \
      "</normal-notes></time-modification>")
#define BACK(n) "<backup><duration>" n "</duration></backup>"
#define FORWARD(n) "<forward><duration>" n "</duration></forward>"

static const struct {
    const char *bar;
    const char *notes;  /* onset:duration of each */
    const char *length; /* of the bar */
    const char *source;
} cases[] = {
    {DIVISIONS("480") SEVEN SEVEN SEVEN SEVEN SEVEN SEVEN SEVEN BACK("3") N(C, "480", ""),
     "0:1/7 1/7:1/7 2/7:1/7 3/7:1/7 4/7:1/7 5/7:1/7 6/7:1/7 1:1", "2",
     "pitfalls 2.4: a septuplet rounded to 69 in 480, with the file's own backup"},
    {DIVISIONS("480") SEVEN SEVEN SEVEN SEVEN SEVEN SEVEN SEVEN N(C, "480", "") BACK("963")
         N(C, "960", ""),
     "0:1/7 1/7:1/7 2/7:1/7 3/7:1/7 4/7:1/7 5/7:1/7 6/7:1/7 1:1 0:2", "2",
     "pitfalls 2.4: the same without it, and a second voice"},
    {DIVISIONS("1024") THIRD("341") THIRD("342") THIRD("341") N(C, "1024", ""),
     "0:1/3 1/3:1/3 2/3:1/3 1:1", "2", "the issue: a triplet rounded to 1024ths"},
    {DIVISIONS("8") THIRD("3") THIRD("3") THIRD("2") N(C, "8", ""), "0:1/3 1/3:1/3 2/3:1/3 1:1",
     "2", "the issue: rounded coarsely, so that the group lasts as long as it should"},
    {DIVISIONS("8") THIRD("3") THIRD("3") THIRD("3") N(C, "8", ""), "0:3/8 3/8:3/8 3/4:3/8 9/8:1",
     "17/8", "the issue: no rounding, since the group does not"},
    {DIVISIONS("1") N(C, "1", "") DIVISIONS("24") N(C, "8", "") N(C, "16", "") DIVISIONS("10")
         N(C, "5", ""),
     "0:1 1:1/3 4/3:2/3 2:1/2", "5/2", "pitfalls 2.1: divisions change in the bar"},
    {DIVISIONS("2.5") N(C, "1.25", "") N(C, "2.5", ""), "0:1/2 1/2:1", "3/2",
     "pitfalls 2.6: decimal divisions"},
    {DIVISIONS("4") N(C, "8", "") N(E, "4", "") N(C, "4", ""), "0:2 0:1 2:1", "3",
     "pitfalls 2.12: a shorter member of a chord moves no time"},
    {DIVISIONS("4") N(C, "4", "") BACK("99") N(C, "2", ""), "0:1 0:1/2", "1",
     "pitfalls 2.7: a backup past the start stops there"},
    {DIVISIONS("4") N(C, "4", "") BACK("4") FORWARD("12") BACK("12"), "0:1", "1",
     "pitfalls 2.8: cursor games do not stretch the bar"},
    {DIVISIONS("4") FORWARD("8") N(C, "4", ""), "2:1", "3",
     "pitfalls 2.9: a voice that starts late"},
    {DIVISIONS("4") "<note><grace/>" C "<type>eighth</type></note>" N(C, "4", ""), "0:0 0:1", "1",
     "pitfalls 2.13: grace notes have no time"},
    {DIVISIONS("4") N(C, "3", "<type>quarter</type>") N(R, "1", ""), "0:3/4 3/4:1/4", "1",
     "pitfalls 2.5: a duration may lawfully differ from its type"},
    {N(C, "2", ""), "0:2", "2", "pitfalls 2.6: no divisions at all count as one"},
};

static muta_score *read_bar(const char *bar)
{
    char *const xml = malloc(strlen(bar) + 512);
    muta_score *score;

    (void)sprintf(xml,
                  "<score-partwise><part-list><score-part id=\"A\"><part-name>A</part-name>"
                  "</score-part></part-list><part id=\"A\"><measure number=\"1\">%s</measure>"
                  "</part></score-partwise>",
                  bar);
    assert_int_equal(muta_score_read_bytes(xml, strlen(xml), &score, NULL), MUTA_OK);
    free(xml);
    return score;
}

static void reads_exact_times(void **state)
{
    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++) {
        muta_score *const score = read_bar(cases[i].bar);
        const muta_part *const part = &score->parts[0];
        char notes[512] = "";
        char onset[MUTA_FRACTION_TEXT];
        char lasts[MUTA_FRACTION_TEXT];
        for (size_t j = 0; j < part->notes.count; j++) {
            const size_t used = strlen(notes);
            (void)snprintf(notes + used, sizeof notes - used, "%s%s:%s", j ? " " : "",
                           muta_fraction_print(part->notes.at[j].onset, onset),
                           muta_fraction_print(part->notes.at[j].duration, lasts));
        }
        if (strcmp(notes, cases[i].notes) != 0)
            print_message("%s\n", cases[i].source);
        assert_string_equal(notes, cases[i].notes);
        assert_string_equal(muta_fraction_print(score->bars[0].length, onset), cases[i].length);
        muta_score_free(score);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(reads_exact_times)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
