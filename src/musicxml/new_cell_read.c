/* new_cell_read.c: what of a bar stays when it is written anew, and where it then belongs. */
#include "musicxml/new_cell.h"
#include "musicxml/note_form.h"
#include "musicxml/patch.h"
#include "score/notes.h"
#include <stdlib.h>
#include <string.h>

static const muta_voice_bar *voice_bar_of(const muta_new_cell *cell, uint32_t voice)
{
    for (size_t i = 0; i < cell->anew_count; i++)
        if (cell->anew[i].voice == voice)
            return &cell->anew[i];
    return NULL;
}

bool muta_rewrite_is_end(const muta_tree *tree, muta_node node)
{
    const char *const location = muta_tree_attribute(tree, node, N_LOCATION);

    return muta_tree_name(tree, node) == N_BARLINE && (!location || strcmp(location, "right") == 0);
}

/* The state of reading a cell's children in the order of the file. */
struct reading {
    uint32_t note;
    uint32_t thing;
    uint32_t end_of_things;
    uint32_t run;
    uint32_t layer;   /* how often the cursor went back */
    muta_fraction at; /* where the last note ended */
    bool has_run;
    bool began; /* a note, backup or forward came */
};

static muta_status keep_note(muta_new_cell *cell, struct reading *reading, muta_node node)
{
    const muta_part *const part = muta_cell_part(cell);
    const muta_note *const note = &part->notes.at[reading->note++];
    const muta_voice_bar *const anew = voice_bar_of(cell, note->voice);
    muta_entry entry = {.node = node,
                        .at = note->onset,
                        .raw = MUTA_ZERO,
                        .lasts = MUTA_ZERO,
                        .is_note = true,
                        .is_chord = note->flags & MUTA_NOTE_CHORD};

    if (anew)
        MUTA_TRY(muta_cell_find_run(cell, note->voice, 0, true, &reading->run));
    else
        MUTA_TRY(
            muta_cell_find_run(cell, note->voice, (uint8_t)reading->layer, false, &reading->run));
    reading->has_run = true;
    reading->began = true;
    reading->at = muta_fraction_add(note->onset, note->duration);
    if (anew)
        return MUTA_OK;
    entry.run = reading->run;
    if (!entry.is_chord && !(note->flags & MUTA_NOTE_GRACE)) {
        entry.lasts = note->duration;
        if (!muta_build_number(muta_cell_tree(cell), node, N_DURATION, &entry.raw))
            entry.raw = MUTA_ZERO;
    }
    return muta_cell_add_entry(cell, &cell->body, &entry);
}

/* The thing of the bar that a node is, or MUTA_NO_SOURCE: a pass has just put it in, or it came
 * from a bar that goes. */
static uint32_t thing_of(const muta_new_cell *cell, const struct reading *reading, muta_node node)
{
    const muta_part *const part = muta_cell_part(cell);

    for (uint32_t i = reading->thing; i < reading->end_of_things; i++)
        if (part->things.at[i].node == node)
            return i;
    return MUTA_NO_SOURCE;
}

static muta_status keep_thing(muta_new_cell *cell, struct reading *reading, muta_node node)
{
    const uint32_t index = thing_of(cell, reading, node);
    const muta_thing *const thing =
        index == MUTA_NO_SOURCE ? NULL : &muta_cell_part(cell)->things.at[index];
    muta_entry entry = {.node = node, .raw = MUTA_ZERO, .lasts = MUTA_ZERO, .at = reading->at};

    if (thing) {
        entry.at = muta_fraction_subtract(thing->at.onset, thing->offset);
        reading->thing = index + 1;
    }
    /* In a bar that is shorter now it stands at the end. */
    entry.at = muta_fraction_min(entry.at, cell->rewriting->plan->bars.at[cell->bar].length);
    if (muta_rewrite_is_end(muta_cell_tree(cell), node))
        return muta_cell_add_entry(cell, &cell->tail, &entry);
    if (thing && cell->rewriting->thing_moves[index])
        return MUTA_OK;
    if (!reading->began)
        return muta_cell_add_entry(cell, &cell->head, &entry);
    if (!reading->has_run)
        MUTA_TRY(muta_cell_find_run(cell, 0, 0, true, &reading->run));
    reading->has_run = true;
    entry.run = reading->run;
    return muta_cell_add_entry(cell, &cell->body, &entry);
}

/* Sorts the children of the cell that was into head, body and tail; cursor moves are made anew. */
muta_status muta_cell_read(muta_new_cell *cell, uint32_t old)
{
    const muta_tree *const tree = muta_cell_tree(cell);
    const muta_part *const part = muta_cell_part(cell);
    struct reading reading = {
        .note = part->bars[old].first,
        .thing = part->bars[old].first_thing,
        .end_of_things = part->bars[old].first_thing + part->bars[old].thing_count,
        .at = MUTA_ZERO,
    };

    for (size_t i = 0; cell->children && i < cell->child_count; i++) {
        const muta_node child = cell->children[i];
        switch (muta_tree_name(tree, child)) {
        case N_NOTE:
            MUTA_TRY(keep_note(cell, &reading, child));
            break;
        case N_BACKUP:
            reading.layer += reading.layer < UINT8_MAX;
            reading.began = true;
            break;
        case N_FORWARD:
            reading.began = true;
            break;
        case MUTA_NAMES_NONE: { /* a comment, an instruction */
            const muta_entry entry = {
                .node = child, .at = MUTA_ZERO, .raw = MUTA_ZERO, .lasts = MUTA_ZERO};
            if (!reading.began)
                MUTA_TRY(muta_cell_add_entry(cell, &cell->head, &entry));
            break;
        }
        default:
            MUTA_TRY(keep_thing(cell, &reading, child));
            break;
        }
    }
    return MUTA_OK;
}

/* A run of the staff on which a thing stands, or any. */
static uint32_t run_of_staff(const muta_new_cell *cell, uint8_t staff)
{
    for (size_t i = 0; i < cell->run_count; i++)
        if (muta_cell_part(cell)->voices.at[cell->runs[i].voice].home == staff)
            return (uint32_t)i;
    return 0;
}

muta_status muta_cell_put_moved_things(muta_new_cell *cell)
{
    const muta_rewriting *const rewriting = cell->rewriting;

    for (size_t i = cell->first_thing; i < rewriting->things.count; i++) {
        const muta_moved_thing *const thing = &rewriting->things.at[i];
        muta_entry entry = {.node = thing->node,
                            .at = thing->onset,
                            .raw = MUTA_ZERO,
                            .lasts = MUTA_ZERO,
                            .run = run_of_staff(cell, thing->staff)};
        if (thing->bar != cell->bar)
            break;
        muta_tree_at(muta_cell_tree(cell), thing->node)->before =
            muta_tree_at(muta_cell_tree(cell), cell->like)->before;
        MUTA_TRY(muta_patch_leaf(muta_cell_tree(cell), thing->node, 0, N_OFFSET, NULL));
        MUTA_TRY(muta_cell_add_entry(cell, &cell->body, &entry));
    }
    return MUTA_OK;
}
