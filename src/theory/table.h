/*
 * table.h: the tables that the program ships: lines of cells parted by |, comments from #. They are
 * built in as text; the files are in shared/.
 */
#ifndef THEORY_TABLE_H
#define THEORY_TABLE_H

#include "base/text.h"
#include <stddef.h>

extern const char muta_table_figures[];
extern const char muta_table_grounds[];
extern const char muta_table_hearing[];
extern const char muta_table_instruments[];
extern const char muta_table_ornaments[];
extern const char muta_table_palettes[];
extern const char muta_table_patterns[];
extern const char muta_table_scales[];
extern const char muta_table_techniques[];

enum {
    MUTA_TABLE_CELLS = 8
};

/* A row of a table. Borrows: its text. */
typedef struct muta_row {
    muta_text cells[MUTA_TABLE_CELLS];
    size_t count;
} muta_row;

enum {
    MUTA_TABLE_NAME = 32 /* bytes of a row's name */
};

/* Whether a row has this name for its first cell. */
bool muta_table_has(const char *table, const char *name);
/* The first cell nearest to a wrong name; NULL when none is near. @param name  [out] that many */
const char *muta_table_nearest(const char *table, const char *wrong, char *name);
/* The next row whose first cell is not that of the row before; as muta_table_next. */
bool muta_table_next_name(const char **at, muta_row *row);
/* All first cells, as `block, sustained, chorale`. @param text  [out] cut at `room` bytes */
const char *muta_table_names(const char *table, char *text, size_t room);
/* Reads the next row from `*at`, which moves on; false when there is none. */
bool muta_table_next(const char **at, muta_row *row);
/* The next of a cell's entries, which commas part; false when there is none. */
bool muta_cell_next(muta_text *cell, muta_text *entry);
/* The next of its words, which blanks part. */
bool muta_word_next(muta_text *cell, muta_text *word);
/*
 * `0 -1 0*`: the small numbers of a cell, with blanks between them.
 * @param steps  [out] `room` of them at most; returns how many
 * @param held   [out] which of them a star marks, untouched without one; may be NULL
 */
size_t muta_cell_steps(muta_text cell, int8_t *steps, size_t room, size_t *held);
/* Whether a view is exactly this text. */
bool muta_text_is(muta_text view, const char *text);

#endif
