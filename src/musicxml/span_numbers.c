/*
 * span_numbers.c: slurs that were hung anew may meet others under their number, in another voice or
 * hand. Readers pair ends by number in the order of the file, so those get another one.
 */
#include "musicxml/rewrite.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    NUMBERS = 17, /* MusicXML 4.0, number-level: from 1 to 16; */
    BEFORE_4 = 7  /* MusicXML 3.0: from 1 to 6 */
};

struct numbering {
    muta_tree *tree;
    muta_hung *pairs; /* by their starts */
    size_t count;
    muta_hung *open[NUMBERS];
};

static int by_start(const void *a, const void *b)
{
    const muta_hung *const one = a;
    const muta_hung *const two = b;

    return one->start < two->start ? -1 : one->start > two->start;
}

static muta_hung *find(const struct numbering *numbering, muta_node start)
{
    const muta_hung wanted = {.start = start};

    return bsearch(&wanted, numbering->pairs, numbering->count, sizeof wanted, by_start);
}

static size_t number_of(const struct numbering *numbering, muta_node slur)
{
    const char *const text = muta_tree_attribute(numbering->tree, slur, N_NUMBER);
    int64_t number = 1;

    if (text && !muta_text_count(text, &number))
        number = 1;
    return number > 0 && number < NUMBERS ? (size_t)number : 1;
}

static muta_status renumber(struct numbering *numbering, muta_hung *pair)
{
    size_t number = 1;
    char text[8];

    while (number < BEFORE_4 && numbering->open[number])
        number++;
    if (number == BEFORE_4)
        return MUTA_OK;
    (void)snprintf(text, sizeof text, "%zu", number);
    MUTA_TRY(muta_tree_set_attribute(numbering->tree, pair->start, N_NUMBER, text));
    MUTA_TRY(muta_tree_set_attribute(numbering->tree, pair->stop, N_NUMBER, text));
    numbering->open[number] = pair;
    return MUTA_OK;
}

static muta_status begin(struct numbering *numbering, muta_node slur)
{
    const size_t number = number_of(numbering, slur);
    muta_hung *const pair = find(numbering, slur);
    muta_hung *const other = numbering->open[number];

    if (!pair)
        return MUTA_OK;
    if (other && pair->is_new)
        return renumber(numbering, pair);
    numbering->open[number] = pair;
    /* What stands as the composer wrote it keeps its number. */
    return other && other->is_new ? renumber(numbering, other) : MUTA_OK;
}

static void end(struct numbering *numbering, muta_node slur)
{
    for (size_t number = 1; number < NUMBERS; number++)
        if (numbering->open[number] && numbering->open[number]->stop == slur)
            numbering->open[number] = NULL;
}

static muta_status read_notations(struct numbering *numbering, muta_node notations)
{
    const muta_tree *const tree = numbering->tree;

    for (muta_node slur = muta_tree_first(tree, notations); slur;
         slur = muta_tree_next(tree, slur)) {
        const char *const type = muta_tree_attribute(tree, slur, N_TYPE);
        if (muta_tree_name(tree, slur) != N_SLUR || !type)
            continue;
        if (strcmp(type, "start") == 0)
            MUTA_TRY(begin(numbering, slur));
        else if (strcmp(type, "stop") == 0)
            end(numbering, slur);
    }
    return MUTA_OK;
}

muta_status muta_spans_number(muta_rewriting *rewriting)
{
    muta_tree *const tree = &rewriting->score->tree;
    struct numbering numbering = {tree, rewriting->hung.at, rewriting->hung.count, {NULL}};

    if (numbering.count == 0)
        return MUTA_OK;
    qsort(numbering.pairs, numbering.count, sizeof *numbering.pairs, by_start);
    for (size_t bar = 0; bar < rewriting->plan->bars.count; bar++)
        for (muta_node note = rewriting->cells[bar] ? muta_tree_first(tree, rewriting->cells[bar])
                                                    : 0;
             note; note = muta_tree_next(tree, note))
            for (muta_node child =
                     muta_tree_name(tree, note) == N_NOTE ? muta_tree_first(tree, note) : 0;
                 child; child = muta_tree_next(tree, child))
                if (muta_tree_name(tree, child) == N_NOTATIONS)
                    MUTA_TRY(read_notations(&numbering, child));
    return MUTA_OK;
}
