/* ornament.h: ornaments, and the notes as which treatises have them played. */
#ifndef THEORY_ORNAMENT_H
#define THEORY_ORNAMENT_H

#include "base/text.h"
#include "mutanza/fraction.h"
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

/* Where a tone stands that is to bear an ornament. */
typedef struct muta_ornament_place {
    muta_fraction lasts; /* in quarters */
    int32_t on;          /* steps to the tone that follows at once, 0 without one */
    int32_t back;        /* steps to the tone just before it, the same way */
    bool has_next;
    bool has_before;
    bool repeats;       /* the next tone has its pitch */
    bool leads_to_end;  /* the next tone is the last of a phrase */
    bool is_sung;       /* by a voice, which shakes only when a person asks for it */
    bool is_asked;      /* a person wants this very figure */
    uint8_t level;      /* how strong its moment is: 0 the down-beat */
    uint8_t next_level; /* of the next tone */
} muta_ornament_place;

/* All that is to be known of an ornament: a new one is a constant above and a row. */
typedef struct muta_ornament_row {
    const char *name;     /* by which passes call it */
    const char *sign;     /* MusicXML's element for it; NULL when there is no sign */
    muta_ornament turned; /* what it is upside down; NONE: itself */
    int32_t liking;       /* how well it suits a tune, in thousandths; set by ear and eye */
    bool leads_on;        /* it takes the end of its tone and leads to the next */
    bool by_length;       /* the longer and the stronger the tone, the better */
    bool has_stroke;      /* as a small note it is short */
    bool uses_above;      /* its sign speaks of the upper neighbour, */
    bool uses_below;      /* of the lower one */
    bool begins_above;    /* behind the tone above it would stutter */
    bool is_of_cadences;  /* it belongs before the last tone of a phrase */
    int8_t suits;         /* the step to the next tone that it suits best, or MUTA_NO_STEP */
    bool (*fits)(const muta_ornament_place *place); /* where it can stand: common practice */
} muta_ornament_row;

enum {
    MUTA_NO_STEP = 99
};

/* The row of an ornament; that of NONE is empty. */
const muta_ornament_row *muta_ornament_row_of(muta_ornament ornament);
/* The ornament of this name, or with this sign; NONE when there is none. */
muta_ornament muta_ornament_named(muta_text name);
muta_ornament muta_ornament_of_sign(const char *sign);
/* How well it suits a place where it fits, in thousandths. */
int64_t muta_ornament_merit(muta_ornament ornament, const muta_ornament_place *place);

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
