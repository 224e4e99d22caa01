/* clef.h: clefs: which tone each shows, and where. */
#ifndef THEORY_CLEF_H
#define THEORY_CLEF_H

#include "base/text.h"
#include <stdint.h>

typedef enum {
    MUTA_CLEF_G,
    MUTA_CLEF_F,
    MUTA_CLEF_C,
    MUTA_CLEF_FIXED, /* of percussion: places without pitch */
    MUTA_CLEF_TAB,
} muta_clef_sign;

/* A sign of MusicXML 4.0, clef-sign. */
typedef struct muta_clef_row {
    const char *name;
    muta_clef_sign sign;
    int32_t shows; /* the tone that it shows, as a place on the diatonic line */
    int32_t line;  /* where it stands when nothing is said, from the lowest */
} muta_clef_row;

/* The row of this name; the G clef when there is none. */
const muta_clef_row *muta_clef_named(muta_text name);
/* The row of a sign. */
const muta_clef_row *muta_clef_of(muta_clef_sign sign);
/* The place that the middle line shows when the clef stands on a line, and the line again. */
int32_t muta_clef_middle(const muta_clef_row *clef, int32_t line);
int32_t muta_clef_line(const muta_clef_row *clef, int32_t middle);

#endif
