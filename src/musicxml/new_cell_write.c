/* new_cell_write.c: entries put into a cell in their order, the cursor moved between them. */
#include "musicxml/new_cell.h"
#include "musicxml/note_form.h"
#include "musicxml/patch.h"
#include "score/notes.h"
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static int in_order(const void *a, const void *b)
{
    const muta_entry *const one = a;
    const muta_entry *const two = b;

    if (one->run != two->run)
        return one->run < two->run ? -1 : 1;
    const int times = muta_fraction_compare(one->at, two->at);
    if (times != 0)
        return times;
    if (one->is_note != two->is_note)
        return one->is_note ? 1 : -1;
    return one->order < two->order ? -1 : one->order > two->order;
}

/* The cell as it grows: the last child, and where the cursor stands. */
struct writer {
    muta_new_cell *cell;
    muta_node last;
    muta_fraction at;  /* in quarters */
    muta_fraction raw; /* in divisions, as a reader counts them */
};

static void hang(struct writer *writer, muta_node node)
{
    muta_tree_insert(muta_cell_tree(writer->cell), writer->cell->node, writer->last, node);
    writer->last = node;
}

static muta_status move_to(struct writer *writer, muta_fraction to, uint32_t run)
{
    muta_new_cell *const cell = writer->cell;
    const muta_fraction target = muta_fraction_multiply(to, cell->divisions);
    const muta_fraction away = muta_fraction_subtract(to, writer->at);
    muta_fraction by = muta_fraction_multiply(away, cell->divisions);
    muta_string label = 0;
    uint8_t staff = 0;
    muta_node move;

    if (away.top == 0)
        return MUTA_OK;
    if (away.top < 0)
        by = muta_fraction_subtract(writer->raw, target);
    if (away.top > 0 && run != UINT32_MAX) {
        const muta_voice_run *const of = &cell->runs[run];
        MUTA_TRY(muta_cell_label(cell, of->voice, of->is_anew ? of->layer : 0, &label));
        staff = muta_cell_staff(cell, 0, muta_cell_part(cell)->voices.at[of->voice].home);
    }
    writer->at = to;
    writer->raw = away.top < 0 ? target : muta_fraction_add(writer->raw, by);
    if (by.top <= 0)
        return MUTA_OK;
    MUTA_TRY(muta_note_form_move(muta_cell_tree(cell), cell->like, away.top > 0, by, label, staff,
                                 &move));
    hang(writer, move);
    return MUTA_OK;
}

static bool takes_offset(const muta_tree *tree, muta_node node)
{
    const muta_name name = muta_tree_name(tree, node);

    return name == N_DIRECTION || name == N_HARMONY;
}

/* Lets a direction count later than where it stands. */
static muta_status set_offset(muta_new_cell *cell, muta_node node, muta_fraction by)
{
    static const muta_name before[] = {N_DIRECTION_TYPE, N_ROOT,  N_NUMERAL,   N_KIND,    N_BASS,
                                       N_DEGREE,         N_FRAME, N_INVERSION, N_FUNCTION};
    muta_tree *const tree = muta_cell_tree(cell);
    muta_fraction held = MUTA_ZERO;
    char text[24];

    (void)muta_build_number(tree, node, N_OFFSET, &held);
    held = muta_fraction_add(held, muta_fraction_multiply(by, cell->divisions));
    if (held.bottom != 1)
        return MUTA_OK;
    (void)snprintf(text, sizeof text, "%" PRId64, held.top);
    return muta_patch_leaf(tree, node, muta_patch_place(tree, node, before, MUTA_LENGTH(before)),
                           N_OFFSET, held.top ? text : NULL);
}

/* What counts while a note sounds stands before the note, or is gone back to. */
static muta_status put_thing(struct writer *writer, const muta_entry *entry)
{
    muta_new_cell *const cell = writer->cell;
    const muta_fraction cursor = writer->at;

    if (muta_fraction_compare(entry->at, cursor) == 0) {
        hang(writer, entry->node);
        return MUTA_OK;
    }
    if (takes_offset(muta_cell_tree(cell), entry->node)) {
        MUTA_TRY(set_offset(cell, entry->node, muta_fraction_subtract(entry->at, cursor)));
        hang(writer, entry->node);
        return MUTA_OK;
    }
    MUTA_TRY(move_to(writer, entry->at, entry->run));
    hang(writer, entry->node);
    return move_to(writer, cursor, entry->run);
}

/* Whether the next note begins behind the cursor, so that things come in a gap before it. */
static bool is_before_gap(const struct writer *writer, const muta_entry *run, size_t count)
{
    size_t next = 0;

    while (next < count && !run[next].is_note)
        next++;
    return next == count || muta_fraction_compare(run[next].at, writer->at) > 0;
}

static muta_status put_run(struct writer *writer, const muta_entry *run, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        const muta_entry *const entry = &run[i];
        if (!entry->is_note) {
            if (muta_fraction_compare(writer->at, entry->at) < 0 &&
                is_before_gap(writer, entry, count - i))
                MUTA_TRY(move_to(writer, entry->at, entry->run));
            MUTA_TRY(put_thing(writer, entry));
            continue;
        }
        if (!entry->is_chord)
            MUTA_TRY(move_to(writer, entry->at, entry->run));
        hang(writer, entry->node);
        writer->at = muta_fraction_add(writer->at, entry->lasts);
        writer->raw = muta_fraction_add(writer->raw, entry->raw);
    }
    return MUTA_OK;
}

/* The first note of the chord that ends before an entry; the entry itself where none does. */
static size_t chord_before(const muta_entry *run, size_t at)
{
    size_t first = at;

    while (first > 0 && run[first - 1].is_note && (first == at || run[first].is_chord))
        first--;
    return first;
}

/* A thing inside a note is put before the note, so that its offset says when. */
static void advance_things(muta_entry *run, size_t count)
{
    for (size_t i = 1; i < count; i++) {
        size_t to = i;
        if (run[i].is_note)
            continue;
        for (size_t first = chord_before(run, to);
             first < to && muta_fraction_compare(muta_fraction_add(run[first].at, run[first].lasts),
                                                 run[i].at) > 0;
             first = chord_before(run, to))
            to = first;
        if (to == i)
            continue;
        const muta_entry held = run[i];
        memmove(&run[to + 1], &run[to], (i - to) * sizeof *run);
        run[to] = held;
    }
}

muta_status muta_cell_write(muta_new_cell *cell)
{
    muta_tree *const tree = muta_cell_tree(cell);
    struct writer writer = {cell, 0, MUTA_ZERO, MUTA_ZERO};
    muta_fraction end = MUTA_ZERO;
    size_t next;

    muta_tree_at(tree, cell->node)->child = 0;
    for (size_t i = 0; i < cell->head.count; i++)
        hang(&writer, cell->head.at[i].node);
    muta_sort(cell->body.at, cell->body.count, sizeof *cell->body.at, in_order);
    for (size_t first = 0; first < cell->body.count; first = next) {
        for (next = first;
             next < cell->body.count && cell->body.at[next].run == cell->body.at[first].run;)
            next++;
        advance_things(&cell->body.at[first], next - first);
        if (muta_fraction_compare(writer.at, MUTA_ZERO) > 0)
            MUTA_TRY(move_to(&writer, MUTA_ZERO, UINT32_MAX));
        MUTA_TRY(put_run(&writer, &cell->body.at[first], next - first));
        end = muta_fraction_max(end, writer.at);
    }
    /* The bar ends where its longest voice does. */
    if (muta_fraction_compare(writer.at, end) < 0)
        MUTA_TRY(move_to(&writer, end, UINT32_MAX));
    for (size_t i = 0; i < cell->tail.count; i++)
        hang(&writer, cell->tail.at[i].node);
    return MUTA_OK;
}
