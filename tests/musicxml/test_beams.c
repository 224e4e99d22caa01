/*
 * test_beams.c: beams over a bar line of which one side is written anew. Source: common practice:
 * a beam joins two notes at least; what is left of one on a note is a hook or a flag.
 */
#include "support/notation.h"
#include "support/test.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define NOTE(step, type, duration, beams)                                                          \
    "<note><pitch><step>" step "</step><octave>5</octave></pitch><duration>" duration              \
    "</duration><voice>1</voice><type>" type "</type>" beams "</note>"
#define BEAM(number, text) "<beam number=\"" number "\">" text "</beam>"
#define QUARTER(step) NOTE(step, "quarter", "4", "")
#define EIGHTH(step, beams) NOTE(step, "eighth", "2", beams)
#define SHORT(step, beams) NOTE(step, "16th", "1", beams)
#define BAR(number, attributes, notes)                                                             \
    "<measure number=\"" number "\">" attributes notes "</measure>"

static const struct {
    const char *first; /* what stands in the two bars of 2/4 */
    const char *second;
    const char *chain;
    const char *stays; /* what the output holds of the bar that is not written anew */
    const char *why;
} cases[] = {
    {QUARTER("C") EIGHTH("D", "") EIGHTH("E", BEAM("1", "begin")),
     EIGHTH("F", BEAM("1", "end")) EIGHTH("G", "") QUARTER("A"), "rotate of=rhythm where=#1",
     EIGHTH("F", "") EIGHTH("G", "") QUARTER("A"), "alone it has a flag"},
    {QUARTER("C") EIGHTH("D", "") EIGHTH("E", BEAM("1", "begin")),
     EIGHTH("F", BEAM("1", "end")) EIGHTH("G", "") QUARTER("A"), "retrograde where=#2",
     QUARTER("C") EIGHTH("D", "") EIGHTH("E", ""), "the same on the other side"},
    {QUARTER("C") EIGHTH("D", BEAM("1", "begin")) EIGHTH("E", BEAM("1", "continue")),
     EIGHTH("F", BEAM("1", "end")) EIGHTH("G", "") QUARTER("A"), "retrograde where=#2",
     EIGHTH("D", BEAM("1", "begin")) EIGHTH("E", BEAM("1", "end")), "two are left"},
    {QUARTER("C") EIGHTH("D", "") EIGHTH("E", BEAM("1", "begin")),
     EIGHTH("F", BEAM("1", "continue")) EIGHTH("G", BEAM("1", "end")) QUARTER("A"),
     "rotate of=rhythm where=#1",
     EIGHTH("F", BEAM("1", "begin")) EIGHTH("G", BEAM("1", "end")) QUARTER("A"), "two are left"},
    {QUARTER("C") EIGHTH("D", BEAM("1", "begin"))
         SHORT("E", BEAM("1", "continue") BEAM("2", "begin"))
             SHORT("F", BEAM("1", "continue") BEAM("2", "end")),
     EIGHTH("F", BEAM("1", "end")) EIGHTH("G", "") QUARTER("A"), "retrograde where=#2",
     SHORT("F", BEAM("1", "end") BEAM("2", "end")), "its second beam ended before"},
    {QUARTER("C") EIGHTH("D", "") SHORT("E", BEAM("1", "begin"))
         SHORT("F", BEAM("1", "continue") BEAM("2", "begin")),
     SHORT("F", BEAM("1", "continue") BEAM("2", "end")) SHORT("G", BEAM("1", "end")) EIGHTH("G", "")
         QUARTER("A"),
     "retrograde where=#2", SHORT("F", BEAM("1", "end") BEAM("2", "backward hook")),
     "a second beam becomes a hook"},
    {QUARTER("C") EIGHTH("D", "") EIGHTH("E", BEAM("1", "begin")),
     EIGHTH("F", BEAM("1", "end")) EIGHTH("G", "") QUARTER("A"), "rotate of=rhythm where=#2",
     EIGHTH("F", BEAM("1", "end")), "both stay, and so does their beam"},
    {QUARTER("C") EIGHTH("D", "") EIGHTH("E", BEAM("1", "begin")),
     EIGHTH("F", BEAM("1", "end")) EIGHTH("G", "") QUARTER("A"), "transpose by=M2 where=#1",
     EIGHTH("F", BEAM("1", "end")), "a new pitch leaves the beam"},
};

static void none_is_half_open(void **state)
{
    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++) {
        char xml[4096];
        (void)snprintf(xml, sizeof xml,
                       "<score-partwise><part-list><score-part id=\"A\"><part-name>A</part-name>"
                       "</score-part></part-list><part id=\"A\">" BAR(
                           "1",
                           "<attributes><divisions>4</divisions><time><beats>2</beats><beat-type>"
                           "4</beat-type></time></attributes>",
                           "%s") BAR("2", "", "%s") "</part></score-partwise>",
                       cases[i].first, cases[i].second);
        char *const out = notation_vary(xml, cases[i].chain);
        assert_non_null(out);
        if (!strstr(out, cases[i].stays))
            print_message("%s: %s\n", cases[i].why, out);
        assert_non_null(strstr(out, cases[i].stays));
        free(out);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(none_is_half_open)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
