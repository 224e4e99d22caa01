/* palette.c: the rows of shared/palettes.txt. */
#include "theory/palette.h"
#include "theory/table.h"
#include <string.h>

static bool is_for(muta_text key, bool is_minor)
{
    return muta_text_is(key, "both") || muta_text_is(key, is_minor ? "minor" : "major");
}

static bool read_kind(muta_text cell, muta_chord_kind *kind)
{
    char name[MUTA_TABLE_NAME] = "";

    if (cell.length >= sizeof name)
        return false;
    memcpy(name, cell.at, cell.length);
    return muta_chord_find(name, kind);
}

bool muta_palette_next(const char **at, const char *palette, bool is_minor,
                       muta_palette_chord *chord)
{
    muta_row row;

    while (muta_table_next(at, &row)) {
        if (!muta_text_is(row.cells[0], palette) || !is_for(row.cells[1], is_minor) ||
            !read_kind(row.cells[3], &chord->value.kind))
            continue;
        chord->value.root = muta_degree_fifths(row.cells[2]);
        chord->function = muta_text_is(row.cells[4], "T")   ? MUTA_FUNCTION_TONIC
                          : muta_text_is(row.cells[4], "S") ? MUTA_FUNCTION_SUBDOMINANT
                                                            : MUTA_FUNCTION_DOMINANT;
        chord->goal = row.cells[5].length ? muta_degree_fifths(row.cells[5]) : MUTA_NO_GOAL;
        (void)muta_text_count(row.cells[6].at, &chord->cost);
        return true;
    }
    return false;
}
