/*
 * test_values.c: how time is written, in the user's language. Each case of values.txt is a comment
 * with the source, a bar of music and how it is written: 4 a quarter, 8. a dotted eighth, ~ tied
 * on, [ ] a beam, {3:2 } a tuplet, r a rest, R a rest for the whole bar.
 */
#include "musicxml/build.h"
#include "mutanza/mutanza.h"
#include "score/texture.h"
#include "support/corpus.h"
#include "support/notation.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void put(char *text, size_t room, const char *more)
{
    const size_t used = strlen(text);

    (void)snprintf(text + used, room - used, "%s", more);
}

static const char *value_of(muta_text type)
{
    static const char *const names[][2] = {{"whole", "1"},  {"half", "2"},  {"quarter", "4"},
                                           {"eighth", "8"}, {"16th", "16"}, {"32nd", "32"},
                                           {"64th", "64"},  {"breve", "0"}};

    for (size_t i = 0; i < MUTA_LENGTH(names); i++)
        if (type.length == strlen(names[i][0]) && memcmp(type.at, names[i][0], type.length) == 0)
            return names[i][1];
    return "?";
}

/* The first child of this name whose attribute has this value. */
static muta_node typed(const muta_tree *tree, muta_node parent, muta_name name, const char *type)
{
    for (muta_node child = parent ? muta_tree_first(tree, parent) : 0; child;
         child = muta_tree_next(tree, child)) {
        const char *const of = muta_tree_attribute(tree, child, N_TYPE);
        if (muta_tree_name(tree, child) == name && of && strcmp(of, type) == 0)
            return child;
    }
    return 0;
}

static void put_tuplets(const muta_tree *tree, muta_node node, bool begins, char *text, size_t room)
{
    const muta_node notations = muta_tree_child(tree, node, N_NOTATIONS);
    const muta_node ratio = muta_tree_child(tree, node, N_TIME_MODIFICATION);
    char more[32];
    int32_t actual = 0;
    int32_t normal = 0;

    for (muta_node child = notations ? muta_tree_first(tree, notations) : 0; child;
         child = muta_tree_next(tree, child)) {
        const char *const type = muta_tree_attribute(tree, child, N_TYPE);
        if (muta_tree_name(tree, child) != N_TUPLET || !type ||
            strcmp(type, begins ? "start" : "stop") != 0)
            continue;
        if (!begins) {
            put(text, room, "}");
            continue;
        }
        (void)muta_build_integer(tree, ratio, N_ACTUAL_NOTES, &actual);
        (void)muta_build_integer(tree, ratio, N_NORMAL_NOTES, &normal);
        (void)snprintf(more, sizeof more, "{%d:%d ", actual, normal);
        put(text, room, more);
    }
}

static void put_note(const muta_tree *tree, const muta_note *note, char *text, size_t room)
{
    const muta_node rest = muta_tree_child(tree, note->node, N_REST);
    const muta_node beam = muta_tree_child(tree, note->node, N_BEAM);
    const muta_node type = muta_tree_child(tree, note->node, N_TYPE);

    put(text, room, *text ? " " : "");
    put_tuplets(tree, note->node, true, text, room);
    if (beam && muta_names_leaf_is(tree, beam, "begin"))
        put(text, room, "[");
    if (rest && muta_tree_attribute(tree, rest, N_MEASURE)) {
        put(text, room, "R");
        return;
    }
    put(text, room, rest ? "r" : "");
    put(text, room, type ? value_of(muta_tree_leaf(tree, type)) : "?");
    for (muta_node child = muta_tree_first(tree, note->node); child;
         child = muta_tree_next(tree, child))
        if (muta_tree_name(tree, child) == N_DOT)
            put(text, room, ".");
    if (typed(tree, note->node, N_TIE, "start"))
        put(text, room, "~");
    if (beam && muta_names_leaf_is(tree, beam, "end"))
        put(text, room, "]");
    put_tuplets(tree, note->node, false, text, room);
}

/* Writes the music anew, all of it, and says how. */
static const char *written(const char *music, char *text, size_t room)
{
    muta_score *const score = notation_read(music);
    muta_region *region;
    muta_passage *passage;

    text[0] = '\0';
    if (!score || muta_region_parse(score, NULL, &region, NULL) != MUTA_OK)
        return "no music";
    if (muta_passage_lift(score, region, &passage, NULL) != MUTA_OK)
        return "no passage";
    passage->is_forced = true;
    const muta_status status =
        muta_passages_splice((const muta_passage *const[]){passage}, 1, score, NULL, NULL);
    for (size_t i = 0; status == MUTA_OK && i < score->parts[0].notes.count; i++)
        if (!(score->parts[0].notes.at[i].flags & MUTA_NOTE_CHORD))
            put_note(&score->tree, &score->parts[0].notes.at[i], text, room);
    muta_passage_free(passage);
    muta_region_free(region);
    muta_score_free(score);
    return status == MUTA_OK ? text : "refused";
}

int main(int count, char **arguments)
{
    char text[4096];
    size_t length;
    size_t passed = 0;
    size_t failed = 0;
    char *const cases = count > 1 ? corpus_bytes(arguments[1], &length) : NULL;
    const char *music = NULL;
    bool sourced = false;

    for (char *rest = cases, *line; rest && (line = strtok_r(rest, "\n", &rest));) {
        if (line[0] == '#') {
            sourced = true;
            continue;
        }
        if (!music) {
            music = line;
            continue;
        }
        const char *const got = written(music, text, sizeof text);
        const bool good = sourced && strcmp(got, line) == 0;
        passed += good;
        failed += !good;
        if (!good)
            printf("%s\n  is  %s\n  not %s\n", music, got, line);
        music = NULL;
    }
    free(cases);
    printf("%zu passed, %zu failed\n", passed, failed);
    return failed || passed == 0;
}
