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

#define THIRD(step, alter, sign, tuplet)                                                           \
    "<note><pitch><step>" step "</step><alter>" alter "</alter><octave>4</octave></pitch>"         \
    "<duration>1</duration><voice>1</voice><type>eighth</type><accidental>" sign                   \
    "</accidental><time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes>" \
    "</time-modification>" tuplet "</note>"
#define TUPLET(type) "<notations><tuplet type=\"" type "\"/></notations>"
#define QUARTER(step)                                                                              \
    "<note><pitch><step>" step "</step><octave>4</octave></pitch><duration>3</duration>"           \
    "<voice>1</voice><type>quarter</type></note>"

/* Where a bar is written anew, notes in a tuplet that stay keep the signs that they need. */
static void stay_in_tuplets(void **state)
{
    static const char *const signs[] = {"<accidental>sharp<", "<accidental>flat<"};
    char *const out = notation_vary(
        "<score-partwise><part-list><score-part id=\"A\"><part-name>A</part-name></score-part>"
        "</part-list><part id=\"A\"><measure number=\"1\"><attributes><divisions>3</divisions>"
        "<key><fifths>0</fifths></key><time><beats>4</beats><beat-type>4</beat-type></time>"
        "</attributes>" THIRD("D", "1", "sharp", TUPLET("start")) THIRD("F", "1", "sharp", "")
            THIRD("A", "-1", "flat", TUPLET("stop")) QUARTER("G") QUARTER("E")
                QUARTER("C") "</measure></part></score-partwise>",
        "embellish amount=1 figures=mordent");

    (void)state;
    assert_non_null(out);
    assert_non_null(strstr(out, "32nd")); /* it was written anew */
    for (size_t i = 0; i < MUTA_LENGTH(signs); i++)
        assert_non_null(strstr(out, signs[i]));
    free(out);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(follow_the_neighbour),
                                       cmocka_unit_test(stay_in_tuplets)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
