/* new_cell.c: what reading, filling and writing a new cell share. */
#include "musicxml/new_cell.h"
#include "musicxml/build.h"

const muta_part *muta_cell_part(const muta_new_cell *cell)
{
    return &cell->rewriting->score->parts[cell->rewriting->part];
}

muta_tree *muta_cell_tree(const muta_new_cell *cell)
{
    return &cell->rewriting->score->tree;
}

muta_status muta_cell_add_entry(muta_new_cell *cell, muta_entries *to, const muta_entry *entry)
{
    muta_entry *const added = MUTA_PUSH(&cell->rewriting->arena, to);

    if (!added)
        return MUTA_E_MEMORY;
    *added = *entry;
    added->order = (uint32_t)to->count;
    return MUTA_OK;
}

muta_status muta_cell_find_run(muta_new_cell *cell, uint32_t voice, uint8_t layer, bool is_anew,
                               uint32_t *run)
{
    for (size_t i = 0; i < cell->run_count; i++)
        if (cell->runs[i].voice == voice && cell->runs[i].layer == layer &&
            cell->runs[i].is_anew == is_anew) {
            *run = (uint32_t)i;
            return MUTA_OK;
        }
    if (cell->run_count == MUTA_RUNS) {
        muta_diag_add(cell->rewriting->diags, MUTA_ERROR,
                      (muta_place){.part = muta_cell_part(cell)->name, .beat = {0, 0}},
                      "a bar has more than %d voices; write some of them into other parts",
                      MUTA_RUNS);
        return MUTA_E_DATA;
    }
    cell->runs[cell->run_count] = (muta_voice_run){voice, layer, is_anew};
    *run = (uint32_t)cell->run_count++;
    return MUTA_OK;
}

/* A voice that overlaps itself is written under labels of its own. */
muta_status muta_cell_label(muta_new_cell *cell, uint32_t voice, uint8_t layer, muta_string *label)
{
    const muta_part *const part = muta_cell_part(cell);

    *label = part->voices.at[voice].label;
    return layer == 0 ? MUTA_OK
                      : muta_part_free_label(cell->rewriting->score, part,
                                             (int64_t)voice * 8 + layer, label);
}

/* A staff is named where the part has several, or the note named one before. */
uint8_t muta_cell_staff(const muta_new_cell *cell, muta_node source, uint8_t staff)
{
    return muta_cell_part(cell)->staves > 1 ||
                   (source && muta_tree_child(muta_cell_tree(cell), source, N_STAFF))
               ? staff
               : (uint8_t)0;
}
