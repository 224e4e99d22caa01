/* symbol.h: chord symbols, read. */
#ifndef MUSICXML_SYMBOL_H
#define MUSICXML_SYMBOL_H

#include "score/model.h"

typedef struct muta_symbol {
    int32_t root;     /* its place on the line of fifths, as written; C is 0 */
    int32_t bass;     /* the same; the root where none is said */
    const char *kind; /* MusicXML's word. Borrows: score */
} muta_symbol;

/* Reads one; false for `none`, or what has no root of its own. */
bool muta_symbol_read(const muta_score *score, const muta_harmony *harmony, muta_symbol *symbol);
/* Whether one says that there is no chord from here on: of the kind `none`, which is written N.C.
 */
bool muta_symbol_is_none(const muta_score *score, const muta_harmony *harmony);
/* Moves one as its `moved` says; in the tonal kind by as many steps in the key at its moment, so
 * that its kind may change: up a step C becomes Dm. */
muta_status muta_symbol_move(muta_score *score, const muta_part *part, const muta_harmony *symbol,
                             bool is_tonal, muta_diags *diags) MUTA_CHECK;

#endif
