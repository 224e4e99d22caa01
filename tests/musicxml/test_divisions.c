/*
 * test_divisions.c: bars in which the divisions change are written in one kind of them. Source:
 * MusicXML 4.0, divisions: they hold in the order of the file until others are said, so for a voice
 * behind a backup too.
 */
#include "musicxml/build.h"
#include "mutanza/mutanza.h"
#include "support/notation.h"
#include "support/test.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define SCORE(bars)                                                                                \
    "<score-partwise version=\"4.0\"><part-list><score-part id=\"P1\"><part-name>Horn</part-name>" \
    "</score-part></part-list><part id=\"P1\">" bars "</part></score-partwise>"
#define NOTE(step, duration, voice, type)                                                          \
    "<note><pitch><step>" step "</step><octave>4</octave></pitch><duration>" duration              \
    "</duration><voice>" voice "</voice><type>" type "</type></note>"
#define DIVISIONS(count) "<attributes><divisions>" count "</divisions></attributes>"
#define REST_OF_BAR                                                                                \
    NOTE("E", "2", "1", "quarter")                                                                 \
    NOTE("F", "2", "1", "quarter")                                                                 \
    "<backup><duration>8</duration></backup>" NOTE("G", "4", "2", "half")                          \
        NOTE("A", "4", "2", "half")

static const struct {
    const char *xml;
    const char *chain;
    const char
        *notes; /* letter (r: a rest), onset and duration in quarters, in the order of the file */
    size_t statements; /* of divisions, in the output */
} cases[] = {
    {SCORE("<measure number=\"1\">" DIVISIONS("1") NOTE("C", "1", "1", "quarter")
               NOTE("D", "1", "1", "quarter") DIVISIONS("2") REST_OF_BAR "</measure>"),
     "retrograde where=*", "F 0 1, E 1 1, D 2 1, C 3 1, A 0 2, G 2 2, ", 1},
    {SCORE("<measure number=\"1\">" DIVISIONS("3") NOTE("C", "3", "1", "quarter")
               NOTE("D", "3", "1", "quarter") DIVISIONS("2") REST_OF_BAR
           "</measure><measure number=\"2\">" NOTE("B", "8", "1", "whole") "</measure>"),
     "diminish by=2 where=#1",
     "C 0 1/2, D 1/2 1/2, E 1 1/2, F 3/2 1/2, r 2 2, G 0 1, A 1 1, B 0 4, ", 1},
    /* none are said at first: 1 */
    {SCORE("<measure number=\"1\">" NOTE("C", "1", "1", "quarter") NOTE("D", "1", "1", "quarter")
               DIVISIONS("2") REST_OF_BAR "</measure>"),
     "retrograde where=*", "F 0 1, E 1 1, D 2 1, C 3 1, A 0 2, G 2 2, ", 1},
    /* where nothing is written anew they stay as they are */
    {SCORE("<measure number=\"1\">" DIVISIONS("1") NOTE("C", "1", "1", "quarter")
               NOTE("D", "1", "1", "quarter") DIVISIONS("2") REST_OF_BAR "</measure>"),
     "transpose by=P8", "C 0 1, D 1 1, E 2 1, F 3 1, G 0 2, A 2 2, ", 2},
};

static void print_notes(const char *xml, char *text, size_t room)
{
    muta_score *score = NULL;
    size_t used = 0;
    char onset[MUTA_FRACTION_TEXT];
    char duration[MUTA_FRACTION_TEXT];

    assert_int_equal(muta_score_read_bytes(xml, strlen(xml), &score, NULL), MUTA_OK);
    for (size_t i = 0; i < score->parts[0].notes.count; i++) {
        const muta_note *const note = &score->parts[0].notes.at[i];
        used += (size_t)snprintf(
            text + used, room - used, "%c %s %s, ",
            note->flags & MUTA_NOTE_REST ? 'r' : "CDEFGAB"[muta_pitch_step(note->pitch)],
            muta_fraction_print(note->onset, onset), muta_fraction_print(note->duration, duration));
        assert_true(used < room);
    }
    muta_score_free(score);
}

static size_t count(const char *text, const char *of)
{
    size_t found = 0;

    while ((text = strstr(text, of))) {
        found++;
        text += strlen(of);
    }
    return found;
}

static void bars_are_written_in_one_kind(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char text[512];
        char *const out = notation_vary(cases[i].xml, cases[i].chain);
        assert_non_null(out);
        print_notes(out, text, sizeof text);
        assert_string_equal(text, cases[i].notes);
        assert_int_equal(count(out, "<divisions>"), cases[i].statements);
        free(out);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(bars_are_written_in_one_kind),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
