/* ornament.h: ornaments, and the notes as which treatises have them played. */
#ifndef THEORY_ORNAMENT_H
#define THEORY_ORNAMENT_H

#include "base/text.h"
#include "mutanza/pitch.h"

/* By what sounds. Those up to the slide have signs. */
typedef enum {
    MUTA_ORNAMENT_NONE,
    MUTA_ORNAMENT_MORDENT,       /* main, lower, main */
    MUTA_ORNAMENT_UPPER_MORDENT, /* main, upper, main */
    MUTA_ORNAMENT_TURN,          /* from above */
    MUTA_ORNAMENT_TURN_BELOW,
    MUTA_ORNAMENT_TURN_AFTER, /* the main note first */
    MUTA_ORNAMENT_TRILL,
    MUTA_ORNAMENT_SLIDE,
    MUTA_ORNAMENT_APPOGGIATURA,
    MUTA_ORNAMENT_ACCIACCATURA,
    MUTA_ORNAMENT_NEIGHBOUR,
    MUTA_ORNAMENT_PASSING,
    MUTA_ORNAMENT_ESCAPE,
    MUTA_ORNAMENT_ANTICIPATION,
    MUTA_ORNAMENT_COUNT,
} muta_ornament;

/* The names by which passes call them, in their order; NULL for none. */
extern const char *const muta_ornament_names[MUTA_ORNAMENT_COUNT];

/* A note of an ornament. */
typedef struct muta_stroke {
    int8_t steps; /* from the main note */
    muta_fraction duration;
} muta_stroke;

enum {
    MUTA_STROKES = 256
};

/* Whether the table knows a treatise of this name. */
bool muta_treatise_is_known(const char *name);
/*
 * The notes of an ornament that lasts so long, which they fill. `name` is a row of
 * shared/ornaments.txt, where the sources stand.
 * @param treatise  NULL for the default; one that does not have the ornament leaves it to that
 * @return how many; 0 when there is no such row, or no time for it
 */
size_t muta_ornament_realise(const char *name, const char *treatise, muta_fraction duration,
                             muta_stroke strokes[MUTA_STROKES]);

#endif
