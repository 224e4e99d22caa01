/*
 * new_cell.h: the cell of a bar written anew.
 *
 *     children that were there ── new_cell_read.c ──┐
 *     what sounds, voice by voice ─ new_cell_notes.c ┴─ entries by run and time ─ new_cell_write.c
 *
 * A cell is the element that holds one part's bar. A run is one way of the cursor through it: one
 * voice with what stands between its notes; a backup parts it from the next.
 */
#ifndef MUSICXML_NEW_CELL_H
#define MUSICXML_NEW_CELL_H

#include "musicxml/rewrite.h"

/* One node of a cell, and when. */
typedef struct muta_entry {
    muta_node node;
    muta_fraction at;    /* where the cursor must stand */
    muta_fraction raw;   /* by how many divisions it moves the cursor */
    muta_fraction lasts; /* the same in quarters, exactly */
    uint32_t run;        /* which way of the cursor through the bar */
    uint32_t order;
    bool is_note;
    bool is_chord;
} muta_entry;

typedef MUTA_VEC(muta_entry) muta_entries;

typedef struct muta_voice_run {
    uint32_t voice;
    uint8_t layer;
    bool is_anew;
} muta_voice_run;

enum {
    MUTA_RUNS = 64
};

typedef struct muta_new_cell {
    muta_rewriting *rewriting;
    uint32_t bar; /* of the plan */
    muta_node node;
    muta_node like;            /* a node as which new ones are laid out */
    const muta_node *children; /* that it had before any bar was written anew */
    size_t child_count;
    const muta_voice_bar *anew;
    size_t anew_count;
    size_t first_thing; /* of those that moved here */
    muta_fraction divisions;
    muta_entries head;
    muta_entries body;
    muta_entries tail;
    muta_voice_run runs[MUTA_RUNS];
    size_t run_count;
} muta_new_cell;

const muta_part *muta_cell_part(const muta_new_cell *cell);
muta_tree *muta_cell_tree(const muta_new_cell *cell);
muta_status muta_cell_add_entry(muta_new_cell *cell, muta_entries *to,
                                const muta_entry *entry) MUTA_CHECK;
muta_status muta_cell_find_run(muta_new_cell *cell, uint32_t voice, uint8_t layer, bool is_anew,
                               uint32_t *pass) MUTA_CHECK;
/* A voice that overlaps itself is written under labels of its own. */
muta_status muta_cell_label(muta_new_cell *cell, uint32_t voice, uint8_t layer,
                            muta_string *label) MUTA_CHECK;
/* A staff is named where the part has several, or the note named one before. */
uint8_t muta_cell_staff(const muta_new_cell *cell, muta_node source, uint8_t staff);
/* Whether a note that stays is tied to something that moved. */
bool muta_rewrite_waits(const muta_rewriting *rewriting, uint32_t index, bool before);
muta_status muta_cell_put_rest(muta_new_cell *cell, const muta_voice_bar *of, uint32_t pass,
                               const muta_item *item) MUTA_CHECK;
muta_status muta_cell_put_voice_bar(muta_new_cell *cell, const muta_voice_bar *of) MUTA_CHECK;
/* Sorts the children of the cell that was into head, body and tail; cursor moves are made anew. */
muta_status muta_cell_read(muta_new_cell *cell, uint32_t old) MUTA_CHECK;
muta_status muta_cell_put_moved_things(muta_new_cell *cell) MUTA_CHECK;
muta_status muta_cell_write(muta_new_cell *cell) MUTA_CHECK;

#endif
