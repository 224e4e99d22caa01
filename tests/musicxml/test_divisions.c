/*
 * test_divisions.c FILE...: bars in which the divisions change are written in one kind of them, and
 * music is varied alike however its time is counted. Source: MusicXML 4.0, divisions: they hold in
 * the order of the file until others are said, so for a voice behind a backup too.
 */
#include "musicxml/build.h"
#include "musicxml/patch.h"
#include "mutanza/mutanza.h"
#include "support/corpus.h"
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

/* ---- other divisions, the same music ---- */

enum {
    EVERY = 7 /* notes */
};

static char **paths;
static int path_count;

/* How a part is counted while other divisions are put into it. */
struct scatter {
    muta_tree *tree;
    int32_t divisions; /* of the composer's */
    int32_t factor;    /* by which they are finer */
    size_t notes;
};

static void say(const struct scatter *scatter, muta_node cell, muta_node after)
{
    char text[16];
    muta_node attributes;
    muta_node made;

    (void)snprintf(text, sizeof text, "%d", (int)(scatter->divisions * scatter->factor));
    assert_int_equal(muta_tree_add(scatter->tree, MUTA_ELEMENT, N_ATTRIBUTES, &attributes),
                     MUTA_OK);
    assert_int_equal(muta_patch_insert(scatter->tree, attributes, 0, N_DIVISIONS, text, &made),
                     MUTA_OK);
    muta_tree_insert(scatter->tree, cell, after, attributes);
}

static void count_anew(const struct scatter *scatter, muta_node child)
{
    const muta_node leaf = muta_tree_child(scatter->tree, child, N_DURATION);
    char text[16];
    int32_t duration;

    if (!leaf || !muta_build_integer(scatter->tree, child, N_DURATION, &duration))
        return;
    (void)snprintf(text, sizeof text, "%d", (int)(duration * scatter->factor));
    assert_int_equal(muta_tree_set_text(scatter->tree, leaf, text), MUTA_OK);
}

static void scatter_cell(struct scatter *scatter, muta_node cell)
{
    const muta_tree *const tree = scatter->tree;
    muta_node last = 0;

    for (muta_node child = muta_tree_first(tree, cell); child;
         last = child, child = muta_tree_next(tree, child)) {
        if (muta_tree_name(tree, child) == N_ATTRIBUTES &&
            muta_build_integer(tree, child, N_DIVISIONS, &scatter->divisions))
            scatter->factor = 1;
        if (muta_tree_name(tree, child) == N_NOTE && !muta_tree_child(tree, child, N_CHORD) &&
            !muta_tree_child(tree, child, N_GRACE) && scatter->notes++ % EVERY == EVERY - 1) {
            scatter->factor = 1 + (int32_t)(scatter->notes / EVERY % 3);
            say(scatter, cell, last);
        }
        count_anew(scatter, child);
    }
}

/* The same music with other divisions every few notes. Ended with free(). */
static char *scattered(const char *xml)
{
    muta_score *score = NULL;
    char *out = NULL;
    size_t length;

    assert_int_equal(muta_score_read_bytes(xml, strlen(xml), &score, NULL), MUTA_OK);
    for (size_t i = 0; i < score->part_count; i++) {
        struct scatter scatter = {.tree = &score->tree, .divisions = 1, .factor = 1};
        for (size_t bar = 0; bar < score->parts[i].bar_count; bar++)
            scatter_cell(&scatter, score->parts[i].bars[bar].cell);
    }
    assert_int_equal(muta_score_write_bytes(score, &out, &length), MUTA_OK);
    muta_score_free(score);
    return out;
}

static void assert_same_notes(const muta_part *a, const muta_part *b)
{
    assert_int_equal(a->notes.count, b->notes.count);
    for (size_t i = 0; i < a->notes.count; i++) {
        const muta_note *const one = &a->notes.at[i];
        const muta_note *const two = &b->notes.at[i];
        assert_int_equal(one->bar, two->bar);
        assert_int_equal(one->voice, two->voice);
        assert_int_equal(one->flags, two->flags);
        assert_true(muta_pitch_is_equal(one->pitch, two->pitch));
        assert_int_equal(muta_fraction_compare(one->onset, two->onset), 0);
        assert_int_equal(muta_fraction_compare(one->duration, two->duration), 0);
    }
}

static void assert_same_music(const char *a, const char *b)
{
    muta_score *one = NULL;
    muta_score *two = NULL;

    assert_int_equal(muta_score_read_bytes(a, strlen(a), &one, NULL), MUTA_OK);
    assert_int_equal(muta_score_read_bytes(b, strlen(b), &two, NULL), MUTA_OK);
    assert_int_equal(one->bar_count, two->bar_count);
    assert_int_equal(one->part_count, two->part_count);
    for (size_t i = 0; i < one->part_count; i++)
        assert_same_notes(&one->parts[i], &two->parts[i]);
    muta_score_free(one);
    muta_score_free(two);
}

static void music_is_varied_however_it_is_counted(void **state)
{
    static const char *const chains[] = {
        "retrograde",       "augment by=3/2",         "diminish",           "rotate of=rhythm",
        "sequence times=2", "retrograde where=#2-#3", "fragment bars=1",    "transpose by=m3",
        "divide",           "embellish where=*:#2",   "simplify | augment", "remetre to=3/4",
    };

    (void)state;
    for (int i = 0; i < path_count; i++) {
        size_t length;
        char *const xml = corpus_xml(paths[i], &length);
        char *const other = scattered(xml);
        for (size_t j = 0; j < sizeof chains / sizeof chains[0]; j++) {
            char *const one = notation_vary(xml, chains[j]);
            char *const two = notation_vary(other, chains[j]);
            assert_non_null(one);
            assert_non_null(two);
            assert_same_music(one, two);
            free(one);
            free(two);
        }
        free(other);
        free(xml);
    }
}

int main(int count, char **arguments)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(bars_are_written_in_one_kind),
        cmocka_unit_test(music_is_varied_however_it_is_counted),
    };

    paths = arguments + 1;
    path_count = count - 1;
    return cmocka_run_group_tests(tests, NULL, NULL);
}
