/* palette.h: which chords may stand in a key. Source: shared/palettes.txt. */
#ifndef THEORY_PALETTE_H
#define THEORY_PALETTE_H

#include "theory/chord.h"

typedef enum {
    MUTA_FUNCTION_TONIC,
    MUTA_FUNCTION_SUBDOMINANT,
    MUTA_FUNCTION_DOMINANT,
} muta_function;

enum {
    MUTA_NO_GOAL = 99
};

typedef struct muta_palette_chord {
    muta_chord value; /* its root above the tonic */
    muta_function function;
    int32_t goal; /* the root that it leads to, the same way, or MUTA_NO_GOAL */
    int64_t cost; /* thousandths */
} muta_palette_chord;

/*
 * Reads the next chord of a palette for a key from `*at`, which begins at the table and moves on;
 * false when there is none.
 */
bool muta_palette_next(const char **at, const char *palette, bool is_minor,
                       muta_palette_chord *chord);

#endif
