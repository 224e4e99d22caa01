/*
 * test_signs.c: signs that speak of a neighbour, above ornaments and in figured bass, after a
 * transposition. Source: common practice: they say how the neighbour is altered in the new key.
 */
#include "support/notation.h"
#include "support/test.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define NOTE(step, more)                                                                           \
    "<note><pitch><step>" step "</step><octave>4</octave></pitch><duration>4</duration><type>"     \
    "whole</type>" more "</note>"
#define TRILL(mark) "<notations><ornaments><trill-mark/>" mark "</ornaments></notations>"
#define MARK(sign) "<accidental-mark>" sign "</accidental-mark>"
#define BELOW(sign) "<accidental-mark placement=\"below\">" sign "</accidental-mark>"
#define FIGURE(prefix, number, suffix)                                                             \
    "<figured-bass><figure>" prefix number suffix "</figure></figured-bass>"
#define NUMBER(n) "<figure-number>" n "</figure-number>"
#define PREFIX(sign) "<prefix>" sign "</prefix>"
#define SUFFIX(sign) "<suffix>" sign "</suffix>"

static const struct {
    const char *bar;
    const char *pass;
    const char *holds;
    const char *why;
} cases[] = {
    {NOTE("D", TRILL(MARK("flat"))), "transpose by=M2", MARK("natural"), "E flat becomes F"},
    {NOTE("D", TRILL(MARK("flat"))), "transpose by=m3", MARK("flat"), "E flat becomes G flat"},
    {NOTE("F", TRILL(BELOW("natural"))), "transpose by=M2", BELOW("sharp"), "E becomes F sharp"},
    {NOTE("D", TRILL(MARK("slash-flat"))), "transpose by=M2", MARK("slash-flat"), "left alone"},
    {FIGURE(PREFIX("flat"), NUMBER("3"), "") NOTE("C", ""), "transpose by=M2", PREFIX("natural"),
     "E flat above C becomes F above D"},
    {FIGURE(PREFIX("sharp"), "", "") NOTE("A", ""), "transpose by=m3", PREFIX("natural"),
     "a sign alone is the third's: C sharp above A becomes E above C"},
    {FIGURE("", NUMBER("6"), SUFFIX("sharp")) NOTE("D", ""), "transpose by=P5",
     SUFFIX("double-sharp"), "B sharp above D becomes F double sharp above A"},
    {FIGURE("", NUMBER("5"), SUFFIX("slash")) NOTE("B", ""), "transpose by=M2", SUFFIX("slash"),
     "left alone"},
};

static void follow_the_neighbour(void **state)
{
    (void)state;
    for (size_t i = 0; i < MUTA_LENGTH(cases); i++) {
        char xml[2048];
        (void)snprintf(xml, sizeof xml,
                       "<score-partwise><part-list><score-part id=\"A\"><part-name>A</part-name>"
                       "</score-part></part-list><part id=\"A\"><measure number=\"1\"><attributes>"
                       "<divisions>1</divisions><key><fifths>0</fifths></key></attributes>%s"
                       "</measure></part></score-partwise>",
                       cases[i].bar);
        char *const out = notation_vary(xml, cases[i].pass);
        assert_non_null(out);
        if (!strstr(out, cases[i].holds))
            print_message("%s: %s\n", cases[i].why, out);
        assert_non_null(strstr(out, cases[i].holds));
        free(out);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(follow_the_neighbour)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
