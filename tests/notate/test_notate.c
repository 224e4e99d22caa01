/*
 * test_notate.c FILE...: how music is written, in the user's language. A file says in its first
 * line what of the page it shows; then come cases: comments with the source, where it is not the
 * music written anew a chain behind `>`, a line of music (support/notation.h), and how it is
 * written, note by note, a chord as one, `|` at bar lines, `&` before the second voice:
 *
 *     show values   4 a quarter, 8. a dotted eighth, ~ tied on, [ ] a beam, {3:2 } a tuplet, r a
 *                   rest, R a rest for the whole bar
 *     show beams    the same with every beam: [[16 16]] two of two, 8[ [>16 8.] a hook forward, <
 * back show stems    ^ up, _ down, - none show signs    F#4 a sharp before the note, F4 none, Fn4
 * natural, Fx4 Fbb4 double, F(#)4 as a courtesy; ~ tied on show clefs    <G2> before the note that
 * it comes with
 */
#include "musicxml/build.h"
#include "mutanza/mutanza.h"
#include "score/texture.h"
#include "support/corpus.h"
#include "support/notation.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* What a file shows of the page. */
typedef enum {
    SHOW_VALUES,
    SHOW_BEAMS,
    SHOW_STEMS,
    SHOW_SIGNS,
    SHOW_CLEFS
} show;

static const char *value_of(muta_text type)
{
    static const char *const names[][2] = {
        {"whole", "1"}, {"half", "2"},  {"quarter", "4"}, {"eighth", "8"},  {"16th", "16"},
        {"32nd", "32"}, {"64th", "64"}, {"128th", "128"}, {"256th", "256"}, {"breve", "0"}};

    for (size_t i = 0; i < MUTA_LENGTH(names); i++)
        if (muta_text_is(type, names[i][0]))
            return names[i][1];
    return "?";
}

/* The next child of this name from `child` on. */
static muta_node named(const muta_tree *tree, muta_node child, muta_name name)
{
    while (child && muta_tree_name(tree, child) != name)
        child = muta_tree_next(tree, child);
    return child;
}

static bool is_typed(const muta_tree *tree, muta_node node, const char *type)
{
    const char *const of = muta_tree_attribute(tree, node, N_TYPE);

    return of && strcmp(of, type) == 0;
}

static void put_tuplets(const muta_tree *tree, muta_node note, bool begins, FILE *to)
{
    const muta_node notations = muta_tree_child(tree, note, N_NOTATIONS);
    const muta_node ratio = muta_tree_child(tree, note, N_TIME_MODIFICATION);
    int32_t actual = 0;
    int32_t normal = 0;

    for (muta_node child = notations ? muta_tree_first(tree, notations) : 0;
         (child = named(tree, child, N_TUPLET)); child = muta_tree_next(tree, child)) {
        if (!is_typed(tree, child, begins ? "start" : "stop"))
            continue;
        if (!begins) {
            (void)fputs("}", to);
            continue;
        }
        (void)muta_build_integer(tree, ratio, N_ACTUAL_NOTES, &actual);
        (void)muta_build_integer(tree, ratio, N_NORMAL_NOTES, &normal);
        (void)fprintf(to, "{%d:%d ", actual, normal);
    }
}

/* The beams of this kind at a note, at most `levels`, each as a sign. */
static void put_beams(const muta_tree *tree, muta_node note, const char *kind, const char *sign,
                      int levels, FILE *to)
{
    muta_node child = muta_tree_first(tree, note);

    for (; levels > 0 && (child = named(tree, child, N_BEAM));
         child = muta_tree_next(tree, child), levels--)
        if (muta_names_leaf_is(tree, child, kind))
            (void)fputs(sign, to);
}

static void put_value(const muta_tree *tree, muta_node note, FILE *to)
{
    const muta_node rest = muta_tree_child(tree, note, N_REST);
    const muta_node type = muta_tree_child(tree, note, N_TYPE);

    if (rest && muta_tree_attribute(tree, rest, N_MEASURE)) {
        (void)fputs("R", to);
        return;
    }
    if (muta_tree_child(tree, note, N_GRACE))
        (void)fputs("g", to);
    (void)fprintf(to, "%s%s", rest ? "r" : "", type ? value_of(muta_tree_leaf(tree, type)) : "?");
    for (muta_node dot = muta_tree_first(tree, note); (dot = named(tree, dot, N_DOT));
         dot = muta_tree_next(tree, dot))
        (void)fputs(".", to);
}

static void put_tie(const muta_tree *tree, muta_node note, FILE *to)
{
    for (muta_node tie = muta_tree_first(tree, note); (tie = named(tree, tie, N_TIE));
         tie = muta_tree_next(tree, tie))
        if (is_typed(tree, tie, "start"))
            (void)fputs("~", to);
}

static void put_sign(const muta_tree *tree, const muta_note *note, FILE *to)
{
    static const char *const names[][2] = {{"natural", "n"},
                                           {"sharp", "#"},
                                           {"flat", "b"},
                                           {"double-sharp", "x"},
                                           {"flat-flat", "bb"}};
    const muta_node sign = muta_tree_child(tree, note->node, N_ACCIDENTAL);
    const char *said = sign ? "?" : "";

    if (note->flags & MUTA_NOTE_REST) {
        (void)fputs("r", to);
        return;
    }
    for (size_t i = 0; sign && i < MUTA_LENGTH(names); i++)
        if (muta_names_leaf_is(tree, sign, names[i][0]))
            said = names[i][1];
    const bool courtesy = sign && (muta_tree_attribute(tree, sign, N_CAUTIONARY) ||
                                   muta_tree_attribute(tree, sign, N_PARENTHESES));
    (void)fprintf(to, "%c%s%s%s%d", "CDEFGAB"[muta_pitch_step(note->pitch)], courtesy ? "(" : "",
                  said, courtesy ? ")" : "", muta_pitch_octave(note->pitch));
}

static void put_stem(const muta_tree *tree, muta_node note, FILE *to)
{
    const muta_node stem = muta_tree_child(tree, note, N_STEM);

    (void)fputs(!stem ? "-" : muta_names_leaf_is(tree, stem, "up") ? "^" : "_", to);
}

static void put_clef(const muta_part *part, const muta_note *note, FILE *to)
{
    for (size_t i = 0; i < part->clefs.count; i++) {
        const muta_clef_change *const clef = &part->clefs.at[i];
        const muta_clef_row *const row = muta_clef_of(clef->sign);
        if (clef->at.bar == note->bar && muta_fraction_compare(clef->at.onset, note->onset) == 0)
            (void)fprintf(to, "<%s%d> ", row->name, muta_clef_line(row, clef->middle));
    }
}

static void put_note(const muta_tree *tree, const muta_part *part, const muta_note *note,
                     show which, FILE *to)
{
    const bool in_chord = note->flags & MUTA_NOTE_CHORD;
    const int levels = which == SHOW_BEAMS ? 8 : 1;

    if (which == SHOW_SIGNS) {
        (void)fputs(in_chord ? "+" : " ", to);
        put_sign(tree, note, to);
        put_tie(tree, note->node, to);
        return;
    }
    if (in_chord)
        return;
    (void)fputs(" ", to);
    if (which == SHOW_CLEFS)
        put_clef(part, note, to);
    if (which == SHOW_STEMS)
        put_stem(tree, note->node, to);
    if (which == SHOW_CLEFS)
        put_sign(tree, note, to);
    if (which > SHOW_BEAMS)
        return;
    put_tuplets(tree, note->node, true, to);
    put_beams(tree, note->node, "begin", "[", levels, to);
    if (which == SHOW_BEAMS)
        put_beams(tree, note->node, "forward hook", ">", levels, to);
    put_value(tree, note->node, to);
    put_tie(tree, note->node, to);
    if (which == SHOW_BEAMS)
        put_beams(tree, note->node, "backward hook", "<", levels, to);
    put_beams(tree, note->node, "end", "]", levels, to);
    put_tuplets(tree, note->node, false, to);
}

static void put_part(const muta_score *score, show which, FILE *to)
{
    const muta_part *const part = &score->parts[0];

    for (uint32_t bar = 0; bar < part->bar_count; bar++) {
        const muta_part_bar *const of = &part->bars[bar];
        int32_t voice = of->count > 0 ? part->notes.at[of->first].voice : 0;
        (void)fputs(bar > 0 ? " |" : "", to);
        for (uint32_t i = of->first; i < of->first + of->count; i++) {
            if (part->notes.at[i].voice != voice)
                (void)fputs(" &", to);
            voice = part->notes.at[i].voice;
            put_note(&score->tree, part, &part->notes.at[i], which, to);
        }
    }
}

/* Writes the music anew, all of it. */
static muta_status write_anew(muta_score *score)
{
    muta_region *region = NULL;
    muta_passage *passage = NULL;

    muta_status status = muta_region_parse(score, NULL, &region, NULL);
    if (status == MUTA_OK)
        status = muta_passage_lift(score, region, &passage, NULL);
    if (status == MUTA_OK) {
        passage->is_forced = true;
        status = muta_passages_splice((const muta_passage *const[]){passage}, 1, score, NULL, NULL);
    }
    muta_passage_free(passage);
    muta_region_free(region);
    return status;
}

static muta_status vary(muta_score *score, const char *line)
{
    muta_chain *chain = NULL;

    muta_status status = muta_chain_parse(line, &chain, NULL);
    if (status == MUTA_OK)
        status = muta_chain_run(chain, score, 1, NULL, NULL);
    muta_chain_free(chain);
    return status;
}

static void run_case(const char *chain, const char *music, show which, char *text, size_t room)
{
    muta_score *const score = notation_read(music);
    const muta_status status = !score  ? MUTA_E_DATA
                               : chain ? vary(score, chain)
                                       : write_anew(score);
    FILE *const to = fmemopen(text, room, "w");

    if (status == MUTA_OK)
        put_part(score, which, to);
    else
        (void)fprintf(to, " status %d", (int)status);
    (void)fclose(to);
    muta_score_free(score);
}

/* What a file's first line says; false when it says nothing. */
static bool read_show(const char *line, show *which)
{
    static const char *const names[] = {"show values", "show beams", "show stems", "show signs",
                                        "show clefs"};

    for (size_t i = 0; line && i < MUTA_LENGTH(names); i++)
        if (strcmp(line, names[i]) == 0) {
            *which = (show)i;
            return true;
        }
    return false;
}

struct counts {
    size_t passed;
    size_t failed;
};

static void run_file(const char *path, struct counts *counts)
{
    char text[4096];
    size_t length;
    char *const cases = corpus_bytes(path, &length);
    char *rest = cases;
    const char *chain = NULL;
    const char *music = NULL;
    bool sourced = false;
    show which = SHOW_VALUES;

    if (!cases || !read_show(strtok_r(rest, "\n", &rest), &which)) {
        printf("%s: does not say what it shows\n", path);
        counts->failed++;
        rest = NULL;
    }
    for (char *line; rest && (line = strtok_r(rest, "\n", &rest));) {
        if (line[0] == '#') {
            sourced = true;
        } else if (line[0] == '>') {
            chain = line + 1 + strspn(line + 1, " ");
        } else if (!music) {
            music = line;
        } else {
            run_case(chain, music, which, text, sizeof text);
            const bool good = sourced && strcmp(text + 1, line) == 0;
            counts->passed += good;
            counts->failed += !good;
            if (!good)
                printf("%s: %s %s\n  is  %s\n  not %s\n", corpus_name(path), chain ? chain : "",
                       music, text + 1, line);
            music = chain = NULL;
        }
    }
    free(cases);
}

int main(int count, char **arguments)
{
    struct counts counts = {0, 0};

    for (int i = 1; i < count; i++)
        run_file(arguments[i], &counts);
    printf("%zu passed, %zu failed\n", counts.passed, counts.failed);
    return counts.failed > 0 || counts.passed == 0;
}
